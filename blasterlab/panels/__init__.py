"""Panels: one widget panel a bench task; state goes through a pure function into pictures and words.

Two lines in a notebook show one::

    from blasterlab import panels
    panels.barrel_panel(build)

Names are loaded when they are first used.  Leaves out: physics and plotting, which live in lower rooms.
"""

from __future__ import annotations

from importlib import import_module
from typing import Any

#: Public name -> the module of this room that holds it.
_MODULES: dict[str, str] = {
    "Choice": "controls",
    "Control": "controls",
    "Panel": "base",
    "Paste": "controls",
    "barrel_panel": "barrel_length",
    "build_panel": "build_text",
    "chronograph_panel": "chronograph",
    "group_panel": "group",
    "progress_bar": "progress",
    "scale_panel": "spring",
    "spring_panel": "spring",
    "trajectory_panel": "trajectory",
    "volume_ratio_panel": "volume_ratio",
    "wind_panel": "wind",
}

__all__ = sorted(_MODULES)


def __getattr__(name: str) -> Any:
    if name not in _MODULES:
        raise AttributeError(f"blasterlab.panels has no {name!r}")
    value = getattr(import_module(f"blasterlab.panels.{_MODULES[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted([*globals(), *_MODULES])
