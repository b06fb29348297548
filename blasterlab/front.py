"""The front of a room: its public names, each loaded from its module when it is first used.

What it is for: importing ``figures`` or ``panels`` stays quick.  What it leaves out: the kit's own front
door, which stands in its ``__init__``.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any

Front = tuple[Callable[[str], Any], Callable[[], list[str]], list[str]]


def front(room: str, modules: Mapping[str, str]) -> Front:
    """A room's ``__getattr__``, ``__dir__`` and ``__all__``, from modules and the names they hold, spaced.

    Another name raises an AttributeError, as Python wants it.
    """
    homes = {name: f"{room}.{module}" for module, names in modules.items() for name in names.split()}

    def load(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"{room} has no {name!r}")
        value = getattr(import_module(homes[name]), name)
        setattr(sys.modules[room], name, value)
        return value

    return load, lambda: sorted({*vars(sys.modules[room]), *homes}), sorted(homes)
