"""What a button starts and a bar counts while a panel goes on: long work, once for the values asked then.

What it is for: `Behind`, with which a panel searches or learns at a press alone, and finds the answer again
when its values come back.  What it leaves out: the work, and what is said of it.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Mapping
from typing import Any, Generic, TypeVar

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.panels.base import Panel
from blasterlab.panels.progress import progress_bar

State = Mapping[str, Any]
Told = Callable[[int, int], None]
Found = TypeVar("Found")


class Behind(Generic[Found]):
    """What was found so far, and the work that finds more.

    Parameters
    ----------
    work : callable [-]
        Of a state and of what is told the number done and the number of all; returns what it found.
    key : callable [-]
        Of a state: all that the answer depends on.
    """

    def __init__(self, work: Callable[[State, Told], Found], key: Callable[[State], Hashable]) -> None:
        self._work, self._key = work, key
        self._found: dict[Hashable, Found | Exception] = {}
        self._stop, self._thread = threading.Event(), threading.Thread()
        self._bar = progress_bar(show=False)

    def found(self, state: State) -> Found | None:
        """What was found for these values; what went wrong then is raised again."""
        found = self._found.get(self._key(state))
        if isinstance(found, Exception):
            raise found
        return found

    def keep(self, state: State, found: Found) -> None:
        """These values have the same answer."""
        self._found[self._key(state)] = found

    def add_to(self, panel: Panel[Any], words: str, tip: str, stop: str = "", *more: W.Button) -> None:
        """Over the picture: a button that starts the work, one with the tip `stop` that ends it, the bar."""
        row = [panel._button(words, "90px", tip, lambda: self._start(panel))]
        row += [panel._button("Stop", "64px", stop, self._stop.set)] if stop else []
        panel._put_over(*row, self._bar.widget, *more)  # type: ignore[attr-defined]
        panel.wait = lambda: self._thread.join() if self._thread.is_alive() else None

    def _start(self, panel: Panel[Any]) -> None:
        panel._raise_fault()
        if self._thread.is_alive():
            raise units.UnitError("still running: wait for it, or press Stop where there is one")
        self._stop.clear()
        self._thread = threading.Thread(target=self._run, args=(panel, panel._asked()), daemon=True)
        self._thread.start()

    def _run(self, panel: Panel[Any], state: State) -> None:
        try:
            self._found[self._key(state)] = self._work(state, self._told)
        except Exception as error:  # said by the panel: what cannot be, or a bug
            self._found[self._key(state)] = error
        self._bar(1 - self._stop.is_set(), 1)
        panel.rest()

    def _told(self, done: int, everything: int) -> None:
        if self._stop.is_set():
            raise KeyboardInterrupt
        self._bar(min(done, everything - 1), everything)  # full when the work is, not its first part
