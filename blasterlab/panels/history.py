"""Undo and redo: the states that a panel has left.

What it is for: `History`, a list to go back and forth in, where a drag counts as one step.  What it leaves
out: what a state is.
"""

from __future__ import annotations

import time
from typing import Generic, TypeVar

MOST = 200  # states that are kept
ONE_DRAG = 1.0  # s between two moves of the same slider that are still one step

State = TypeVar("State")


class History(Generic[State]):
    """States that were left, and those that were gone back from."""

    def __init__(self) -> None:
        self.past: list[State] = []
        self.future: list[State] = []
        self._slid, self._when = "", 0.0

    def leave(self, state: State, slider: str = "") -> None:
        """Note a state before it changes; moves of one slider that follow each other are one step."""
        now = time.monotonic()
        if not (slider and slider == self._slid and now - self._when < ONE_DRAG):
            self.past = [*self.past, state][-MOST:]
        self.future, self._slid, self._when = [], slider, now

    def back(self, now: State) -> State:
        """The state before this one; this one can be gone forward to.  An IndexError where there is none."""
        return self._move(now, self.past, self.future)

    def forward(self, now: State) -> State:
        """The state that was gone back from.  An IndexError where there is none."""
        return self._move(now, self.future, self.past)

    def _move(self, now: State, here: list[State], there: list[State]) -> State:
        found = here.pop()
        there.append(now)
        self._slid = ""
        return found
