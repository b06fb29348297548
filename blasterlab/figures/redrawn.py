"""What views share: limits and labels of one pair of axes, and artists that move from drawing to drawing.

What it is for: `Framed`, a base for views whose frame starts with the limits of x and y, and `Pen`, by which
a picture that follows a slider is written down like one that is drawn once.  What it leaves out: what is
drawn.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text
from matplotlib.transforms import Transform

from blasterlab.figures import style
from blasterlab.figures.style import Frame


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


class Pen:
    """Draws on axes time and again: an artist of the same look is moved, and made only where none is left.

    Parameters
    ----------
    ax : Axes [-]
        The axes.
    words : Transform or None [-]
        Where texts are placed, such as ``ax.transAxes``; None takes data units.
    """

    def __init__(self, ax: Axes, words: Transform | None = None) -> None:
        self.ax, self._words = ax, words or ax.transData
        self._free: dict[str, list[Any]] = {}  # hidden or of the last drawing, the next one last
        self._drawn: list[tuple[str, Any]] = []

    def take(self, make: Callable[[], Artist], look: object) -> Any:
        """The next artist of a look, for the caller to move [data units]."""
        key = str(look)
        free = self._free.setdefault(key, [])
        self._drawn.append((key, free.pop() if free else make()))
        return self._drawn[-1][1]

    def box(self, x: float, y: float, wide: float, tall: float, **look: Any) -> None:
        """A rectangle [data units]."""
        box = self.take(lambda: self.ax.add_patch(Rectangle((0.0, 0.0), 0.0, 0.0, **look)), ("box", look))
        box.set_bounds(x, y, wide, tall)

    def area(self, outline: Any, **look: Any) -> None:
        """What an outline encloses, rows of x and y [data units]."""
        make = partial(self.ax.fill_between, [0.0, 1.0], [0.0, 1.0], linewidth=0, **look)
        self.take(make, ("area", look)).set_verts([outline])

    def line(self, x: Any, y: Any, *form: str, **look: Any) -> Line2D:
        """A line or marks [data units]."""
        line: Line2D = self.take(lambda: self.ax.plot([], [], *form, **look)[0], (form, look))
        line.set_data(x, y)
        return line

    def words(self, x: float, y: float, text: str, **look: Any) -> Text:
        """A text, where the pen's texts are placed."""
        make = partial(self.ax.text, 0.0, 0.0, "", transform=self._words, **look)
        words: Text = self.take(make, ("words", look))
        words.set(x=x, y=y, text=text)
        style.legible(words)
        return words

    def lift(self) -> list[Artist]:
        """End a drawing: its artists in drawing order; what the last one had beyond them is hidden."""
        for artist in [one for free in self._free.values() for one in free]:
            artist.set_visible(False)
        for look, artist in reversed(self._drawn):
            artist.set_visible(True)
            self._free[look].append(artist)
        drawn, self._drawn = [artist for _, artist in self._drawn], []
        return sorted(drawn, key=Artist.get_zorder)
