"""What views share: limits and labels of one pair of axes, and a picture that is drawn anew each time.

What it is for: `Framed`, a base for views whose frame starts with the limits of x and y, and `Redrawn`, which
follows a panel with any chart that a notebook draws.  What it leaves out: what is drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes

from blasterlab.figures import style
from blasterlab.figures.style import Drawing, Frame


class Framed:
    """What views with limits on both axes share; `_labels` are name and kind of x and y."""

    ax: Axes
    _frame: Frame
    _labels: tuple[tuple[str, str], ...] = ()

    def draw_full(self, frame: Frame) -> None:
        """Limits, the first two of `frame`, and labels."""
        self._frame = frame
        self.ax.set(xlim=frame[0], ylim=frame[1])
        style.dress(self.ax, *(style.label(*each) for each in self._labels))


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
