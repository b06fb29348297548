"""Panels: one widget panel a bench task; state goes through a pure function into pictures and words.

Two lines in a notebook show one::

    from blasterlab import panels
    panels.barrel_panel(build)

Names are loaded when they are first used.  Leaves out: physics and plotting, which live in lower rooms.
"""

from __future__ import annotations

from blasterlab.front import front

__getattr__, __dir__, __all__ = front(__name__, {
    "barrel_length": "barrel_panel",
    "base": "Panel",
    "build_text": "build_panel",
    "chronograph": "chronograph_panel",
    "controls": "Choice Control Paste",
    "group": "group_panel",
    "progress": "progress_bar",
    "spring": "scale_panel spring_panel",
    "trajectory": "trajectory_panel",
    "volume_ratio": "volume_ratio_panel",
    "wind": "wind_panel",
})  # fmt: skip
