"""Doors up: how a lower room reaches the few names in a higher one that its own interface promises.

What it is for: ``build.check()``, ``build.share_page(...)`` and ``print(result)``, whose work is done on a
floor above.  A lower room imports only this module; the names that may be asked for stand in the table below,
so that nothing reaches up unseen.  What it leaves out: any work, any number, so any units.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

#: Name -> (room, function); the import test reads this table.
DOORS = {
    "check": ("checks.all", "check_build"),
    "html": ("report", "html"),
    "post": ("report.sheet", "post"),
    "power_train": ("figures.section", "power_train"),
    "share": ("page.share", "share_page"),
    "sheet": ("report.sheet", "build_sheet"),
    "words": ("report", "words"),
}


def through(name: str) -> Callable[..., Any]:
    """The function behind a door [-], loaded when it is first needed; a name without a door is a KeyError."""
    room, function = DOORS[name]
    found: Callable[..., Any] = getattr(import_module(f"blasterlab.{room}"), function)
    return found


class Spoken:
    """A result that can be printed: its sentences and its table are made in ``report``, units as chosen."""

    def __str__(self) -> str:
        return str(through("words")(self))

    def __init_subclass__(cls) -> None:
        """What a notebook asks for in plain text; on each class, where it goes before a dataclass's repr."""
        cls._repr_pretty_ = lambda self, printer, cycle: printer.text(str(self))  # type: ignore[attr-defined]

    def _repr_html_(self) -> str:
        return str(through("html")(self))
