"""Pictures: matplotlib figures that take results and draw them; nothing is computed here but the layout.

A figure made here shows itself in a notebook with alternative text, carries a `caption` line with its key
numbers, and uses neither pyplot nor any global state.  Names are loaded when they are first used.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

#: Public name -> the module of this room that holds it.
_MODULES: dict[str, str] = {
    "Drawing": "style",
    "aim_chart": "aim",
    "calibration_chart": "calibration",
    "cap_chart": "chronograph",
    "cut_chart": "spring",
    "energy_ledger": "shot",
    "full_chamber_chart": "volume_ratio",
    "grid_error_curves": "model_grid",
    "grid_error_map": "model_grid",
    "group_chart": "group",
    "hit_chart": "group",
    "hold_chart": "aim",
    "margin_chart": "group",
    "power_train": "section",
    "prediction_chart": "calibration",
    "pressure_field": "waves",
    "prime_curve": "spring",
    "ratio_chart": "volume_ratio",
    "scale_readings": "spring",
    "shot_history": "shot",
    "spring_diagram": "spring",
    "spring_error_map": "model_grid",
    "spring_wave": "waves",
    "string_chart": "chronograph",
    "trajectory_chart": "trajectory",
    "velocity_curve": "shot",
    "volume_chart": "volume_ratio",
}

__all__ = sorted(_MODULES)


def __getattr__(name: str) -> Any:
    if name not in _MODULES:
        raise AttributeError(f"blasterlab.figures has no {name!r}")
    value = getattr(import_module(f"blasterlab.figures.{_MODULES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_MODULES])
