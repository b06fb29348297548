"""Pictures of the aim: hold-over, wind hold and lead against distance, and the target as the shooter sees it.

What it is for: `HoldView` and `AimView`, which follow a panel.  What it leaves out: every computation and
every sentence; they draw a `HoldCurve` [display unit].
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.ticker import MaxNLocator

from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Frame, shown
from blasterlab.flight.hold_curve import HoldCurve
from blasterlab.report import flight as in_words

#: Height of the target that `AimView` draws [m], to give the holds a scale.
HEIGHT = 0.6


class HoldView(Framed):
    """Hold-over, wind hold and lead against distance; takes a `HoldCurve`."""

    _labels = (("distance", "distance"), ("aim: + up, + right", "length"))

    _NAMES = (("up", "drop", 0), ("wind", "wind", 1), ("ahead", "lead", 2))

    def __init__(self, width: int = style.WIDTH, height: int = 250) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=70, right=56, top=14)
        self.ax.axhline(0.0, color=style.BLACK, linewidth=1.0)
        self._pen = Pen(self.ax)

    def frame(self, result: HoldCurve, old: Frame | None) -> Frame:
        """Limits of both axes."""
        x = style.steady(old[0] if old else None, 0.0, float(shown(result.distances[-1] / 1.05, "distance")))
        curves = np.concatenate([result.up, result.wind, result.ahead])
        low, high = (float(shown(end, "length")) for end in (curves.min(), curves.max()))
        return x, style.steady(old[1] if old else None, low, max(high, 1e-9), 0.4)

    def draw_live(self, result: HoldCurve) -> list[Artist]:
        """The curves, and their values at the target, in drawing order."""
        pen, ((_, right), (low, high)) = self._pen, self._frame
        at, x = float(shown(result.distance, "distance")), shown(result.distances, "distance")
        pen.line([at, at], [low, high], color=style.BLACK, linewidth=1.0)
        pen.words(at - 0.01 * right, high, "target", fontsize=style.SMALL, va="top", ha="right",
                  gid="target words")  # fmt: skip
        ends, inks = {}, {}
        for name, words, row in self._NAMES:
            inks[words], line, marker = style.CYCLE[row]
            y = shown(getattr(result, name), "length")
            pen.line(x, y, color=inks[words], linestyle=line, linewidth=1.8, gid=words)
            pen.line([at], [np.interp(at, x, y)], color=inks[words], marker=marker, markersize=7,
                     linestyle="none", gid=f"{words} dot")  # fmt: skip
            ends[words] = float(np.interp(min(right, x[-1]), x, y))
        gap = 0.085 * (high - low)
        for words, height in lettering.lifted(ends, gap, low - 1.0 + gap).items():
            pen.words(1.015 * right, height, words, color=inks[words], va="center", fontweight="bold",
                      fontsize=style.FONT, clip_on=False, gid=f"{words} words")  # fmt: skip
        return pen.lift()


class AimView(Framed):
    """The target as the shooter sees it, and the point to aim at; takes a `HoldCurve`."""

    _labels = (("left and right at the target", "length"), ("up and down", "length"))
    _ARROWS = (("drop", 0), ("wind", 1), ("lead", 2))

    def __init__(self, width: int = style.WIDTH, height: int = 288) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=70, right=16, top=44)
        self.ax.xaxis.set_major_locator(MaxNLocator(5))
        self._shape = (width - 70 - 16, height - 44 - 46)
        self._pen = Pen(self.ax)

    def frame(self, result: HoldCurve, old: Frame | None) -> Frame:
        """Limits that keep the target's shape."""
        right, up = (abs(one.m_as("m")) for one in result.aim)
        side = max(right, abs(result.hold.right.m_as("m")))
        wide = self._shape[0] / self._shape[1]
        need = max(1.15 * side, 1.15 * up * wide, 0.75 * HEIGHT * wide)
        half = style.steady((0.0, old[0][1]) if old else None, 0.0, float(shown(need, "length")), 0.4)[1]
        return (-half, half), (-half / wide, half / wide)

    def draw_live(self, result: HoldCurve) -> list[Artist]:
        """Target, the three parts of the hold, the point of aim, in drawing order."""
        pen, (right, up) = self._pen, result.aim
        wind, lead = result.hold.right.m_as("m"), result.towards * result.lead.length.m_as("m")
        w, h = 0.2 * HEIGHT, 0.5 * HEIGHT
        pen.line(*shown(np.array([[-w, w, w, -w, -w], [-h, -h, h, h, -h]]), "length"), color=style.GREY,
                 linewidth=2.0)  # fmt: skip
        pen.line([0], [0], color=style.GREY, marker="+", markersize=10, linestyle="none")
        pen.words(0.0, float(shown(-1.04 * h, "length")), "target", fontsize=style.SMALL, color=style.GREY,
                  ha="center", va="top")  # fmt: skip
        (_, half), (_, tall) = self._frame
        over = up.m_as("m")
        aside = 0.05 * tall / float(shown(1.0, "length")) * (1 if over >= 0 else -1)
        above = over + aside  # wind and lead side by side, not on one line
        ends = ([(0, 0), (0, over)], [(0, above), (wind, above)], [(wind, over), (wind + lead, over)])
        markers = ("^v"[over < 0], "><"[wind < 0], "><"[lead < 0])
        for (_, row), ((x0, y0), (x1, y1)), marker in zip(self._ARROWS, ends, markers, strict=True):
            colour, line, _ = style.CYCLE[row]
            if abs(x1 - x0) + abs(y1 - y0) > 5e-4:
                pen.line(*shown(np.array([[x0, x1], [y0, y1]]), "length"), color=colour, linestyle=line,
                         linewidth=2.2, marker=marker, markersize=8, markevery=[1])  # fmt: skip
        x, y = float(shown(right, "length")), float(shown(up, "length"))
        pen.line([x], [y], color=style.BLACK, marker="x", markersize=12, markeredgewidth=3, linestyle="none",
                 gid="aim")  # fmt: skip
        if abs(lead) > 5e-4:
            walk = shown(np.array([1.35 * w * result.towards, -0.35 * HEIGHT]), "length")
            pen.line(*walk[:, None], color=style.GREEN, linestyle="none",
                     marker=">" if result.towards > 0 else "<", markersize=9)  # fmt: skip
        places = {"aim": (-0.18, 1.1, style.BLACK), "drop": (-0.18, 1.02, style.BLUE),
                  "wind": (0.22, 1.02, style.VERMILION), "lead": (0.64, 1.02, style.GREEN)}  # fmt: skip
        bold: dict[str, Any] = {"fontsize": style.FONT, "fontweight": "bold"}
        for name, label in in_words.aim_labels(result).items():
            across, high, colour = places[name]
            look = bold if name == "aim" else {"fontsize": style.SMALL}
            pen.words((2 * across - 1) * half, (2 * high - 1) * tall, label, color=colour, va="bottom",
                      gid=f"{name} words", **look)  # fmt: skip
        return pen.lift()
