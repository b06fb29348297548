"""Pictures: matplotlib figures that take results and draw them; nothing is computed here but the layout.

A figure made here shows itself in a notebook with alternative text, carries a `caption` line with its key
numbers, and uses neither pyplot nor any global state.  Names are loaded when they are first used.
"""

from __future__ import annotations

from blasterlab.front import front

__getattr__, __dir__, __all__ = front(__name__, {
    "aim": "aim_chart hold_chart",
    "calibration": "calibration_chart prediction_chart",
    "chronograph": "cap_chart string_chart",
    "group": "group_chart hit_chart margin_chart",
    "model_grid": "grid_error_curves grid_error_map spring_error_map",
    "section": "power_train",
    "shot": "energy_ledger shot_history velocity_curve",
    "spring": "cut_chart prime_curve scale_readings spring_diagram",
    "style": "Drawing",
    "trajectory": "trajectory_chart",
    "volume_ratio": "full_chamber_chart ratio_chart volume_chart",
    "waves": "pressure_field spring_wave",
})  # fmt: skip
