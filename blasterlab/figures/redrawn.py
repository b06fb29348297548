"""A view for a panel of any picture that is drawn anew each time.

What it is for: pictures without a background to keep.  What it leaves out: speed; live artists are several
times as quick.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from matplotlib.artist import Artist

from blasterlab.figures import style
from blasterlab.figures.style import Drawing, Frame


class Redrawn:
    """A view of a picture that is drawn anew for each result.

    Parameters
    ----------
    draw : callable [-]
        Result to a `Drawing`.
    """

    def __init__(self, draw: Callable[[Any], Drawing]) -> None:
        self._draw, self._count, self.figure = draw, 0, style.new_figure()[0]

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """A new picture, and the number of it."""
        self.figure, self._count = self._draw(result), self._count + 1
        return (self._count,)

    def draw_full(self, frame: Frame) -> None:
        """Nothing more: the picture is whole."""

    def draw_live(self, result: Any) -> list[Artist]:
        """None moves."""
        return []
