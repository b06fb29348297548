"""Pictures of the aim: hold-over, wind hold and lead against distance, and the target as the shooter sees it.

What it is for: `hold_chart` and `aim_chart` for a notebook, each with its numbers in words, and `HoldView`
and `AimView`, which follow a panel.  What it leaves out: every computation and every sentence; it draws a
`HoldCurve` [display unit].
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist

from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed
from blasterlab.figures.style import Drawing, Frame, shown
from blasterlab.flight.hold_curve import HoldCurve
from blasterlab.report import flight as in_words

#: Height of the target that `AimView` draws [m], to give the holds a scale.
HEIGHT = 0.6


class HoldView(Framed):
    """Hold-over, wind hold and lead against distance; takes a `HoldCurve`."""

    _labels = (("distance", "distance"), ("aim: + up, + right", "length"))

    _NAMES = (("up", "drop", 0), ("wind", "wind", 1), ("ahead", "lead", 2))

    def __init__(self, width: int = 440, height: int = 250) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=70, right=56, top=14)
        self.ax.axhline(0.0, color=style.BLACK, linewidth=1.0)
        (self._plane,) = self.ax.plot([], [], color=style.BLACK, linewidth=1.0)
        self._text = self.ax.text(
            0, 0, "target", fontsize=style.SMALL, va="top", ha="right", gid="target words"
        )
        self._curves, self._dots, self._texts = [], [], []
        for _, words, row in self._NAMES:
            colour, line, marker = style.CYCLE[row]
            self._curves += self.ax.plot([], [], color=colour, linestyle=line, linewidth=1.8, gid=words)
            self._dots += self.ax.plot([], [], color=colour, marker=marker, markersize=7, linestyle="none",
                                       gid=f"{words} dot")  # fmt: skip
            bold: dict[str, Any] = {"fontweight": "bold", "fontsize": style.FONT, "gid": f"{words} words"}
            self._texts.append(self.ax.text(0, 0, words, color=colour, va="center", clip_on=False, **bold))

    def frame(self, result: HoldCurve, old: Frame | None) -> Frame:
        """Limits of both axes."""
        x = style.steady(old[0] if old else None, 0.0, float(shown(result.distances[-1] / 1.05, "distance")))
        curves = np.concatenate([result.up, result.wind, result.ahead])
        low, high = (float(shown(end, "length")) for end in (curves.min(), curves.max()))
        return x, style.steady(old[1] if old else None, low, max(high, 1e-9), 0.4)

    def draw_live(self, result: HoldCurve) -> list[Artist]:
        """The curves, and their values at the target, in drawing order."""
        (_, right), (low, high) = self._frame
        at = float(shown(result.distance, "distance"))
        x = shown(result.distances, "distance")
        self._plane.set_data([at, at], [low, high])
        self._text.set_position((at - 0.01 * right, high))
        ends = {}
        for (name, _, _), curve, dot, text in zip(
            self._NAMES, self._curves, self._dots, self._texts, strict=True
        ):
            y = shown(getattr(result, name), "length")
            curve.set_data(x, y)
            dot.set_data([at], [np.interp(at, x, y)])
            ends[text] = float(np.interp(min(right, x[-1]), x, y))
        gap = 0.085 * (high - low)
        for text, height in lettering.lifted(ends, gap, low - 1.0 + gap).items():
            text.set_position((1.015 * right, height))
        return [self._plane, *self._curves, *self._dots, self._text, *self._texts]


def hold_chart(curve: HoldCurve) -> Drawing:
    """Hold-over, wind hold and lead against distance.

    Parameters
    ----------
    curve : HoldCurve [SI]
        From `blasterlab.hold_curve`.

    Returns
    -------
    Drawing
        The figure; `caption` says where to aim at the target [-].
    """
    return style.still(HoldView(), curve, in_words.aim(curve))


class AimView(Framed):
    """The target as the shooter sees it, and the point to aim at; takes a `HoldCurve`."""

    _ARROWS = (("drop", 0), ("wind", 1), ("lead", 2))

    def __init__(self, width: int = 440, height: int = 300) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=70, right=16, top=44)
        self._shape = (width - 70 - 16, height - 44 - 46)
        ax = self.ax
        (self._body,) = ax.plot([], [], color=style.GREY, linewidth=2.0)
        (self._middle,) = ax.plot([0], [0], color=style.GREY, marker="+", markersize=10, linestyle="none")
        self._legs = []
        for _, row in self._ARROWS:
            colour, line, _ = style.CYCLE[row]
            self._legs += ax.plot([], [], color=colour, linestyle=line, linewidth=2.2, marker="^",
                                  markersize=8, markevery=[1])  # fmt: skip
        (self._aim,) = ax.plot([], [], color=style.BLACK, marker="x", markersize=12, markeredgewidth=3,
                               linestyle="none", gid="aim")  # fmt: skip
        (self._walk,) = ax.plot([], [], color=style.GREEN, linestyle="none", marker=">", markersize=9)
        places = {"aim": (0.0, 1.1, style.BLACK), "drop": (0.0, 1.02, style.BLUE),
                  "wind": (0.36, 1.02, style.VERMILION), "lead": (0.68, 1.02, style.GREEN)}  # fmt: skip
        self._texts = {
            name: ax.text(x, y, "", transform=ax.transAxes, fontsize=style.SMALL, color=colour, va="bottom",
                          gid=f"{name} words")
            for name, (x, y, colour) in places.items()
        }  # fmt: skip
        self._texts["aim"].set(fontsize=style.FONT, fontweight="bold")
        self._target_words = ax.text(
            0, 0, "target", fontsize=style.SMALL, color=style.GREY, ha="center", va="top"
        )

    def frame(self, result: HoldCurve, old: Frame | None) -> Frame:
        """Half the width that is seen."""
        right, up = (abs(one.m_as("m")) for one in result.aim)
        side = max(right, abs(result.hold.right.m_as("m")))
        wide = self._shape[0] / self._shape[1]
        need = max(1.15 * side, 1.15 * up * wide, 0.75 * HEIGHT * wide)
        return (style.steady((0.0, old[0]) if old else None, 0.0, float(shown(need, "length")), 0.4)[1],)

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels."""
        self._frame = frame
        half, tall = frame[0], frame[0] * self._shape[1] / self._shape[0]
        self.ax.set_xlim(-half, half)
        self.ax.set_ylim(-tall, tall)
        style.dress(self.ax, style.label("left and right at the target", "length"),
                    style.label("up and down", "length"))  # fmt: skip

    def draw_live(self, result: HoldCurve) -> list[Artist]:
        """Target, the three parts of the hold, the point of aim, in drawing order."""
        right, up = result.aim
        wind, lead = result.hold.right.m_as("m"), result.towards * result.lead.length.m_as("m")
        w, h = 0.2 * HEIGHT, 0.5 * HEIGHT
        self._body.set_data(*shown(np.array([[-w, w, w, -w, -w], [-h, -h, h, h, -h]]), "length"))
        self._target_words.set_position((0.0, float(shown(-1.04 * h, "length"))))
        over = up.m_as("m")
        tall = self._frame[0] * self._shape[1] / self._shape[0] / float(shown(1.0, "length"))
        above = over + 0.05 * tall * (1 if over >= 0 else -1)  # wind and lead side by side, not on one line
        ends = ([(0, 0), (0, over)], [(0, above), (wind, above)], [(wind, over), (wind + lead, over)])
        for leg, places, marker in zip(self._legs, ends, ("^v"[over < 0], "><"[wind < 0], "><"[lead < 0]),
                                       strict=True):  # fmt: skip
            (x0, y0), (x1, y1) = places
            there = abs(x1 - x0) + abs(y1 - y0) > 5e-4
            leg.set_data(*(shown(np.array([[x0, x1], [y0, y1]]), "length") if there else ([], [])))
            leg.set_marker(marker)
        x, y = float(shown(right, "length")), float(shown(up, "length"))
        self._aim.set_data([x], [y])
        self._walk.set_marker(">" if result.towards > 0 else "<")
        moving = abs(lead) > 5e-4
        self._walk.set_data([float(shown(1.35 * w * result.towards, "length"))] if moving else [],
                            [float(shown(-0.35 * HEIGHT, "length"))] if moving else [])  # fmt: skip
        for name, label in in_words.aim_labels(result).items():
            self._texts[name].set_text(label)
        return [self._body, self._target_words, self._middle, *self._legs, self._walk, self._aim,
                *self._texts.values()]  # fmt: skip


def aim_chart(curve: HoldCurve) -> Drawing:
    """Where to aim on a target, as the shooter sees it.

    Parameters
    ----------
    curve : HoldCurve [SI]
        From `blasterlab.hold_curve`.

    Returns
    -------
    Drawing
        The figure; `caption` says where to aim [-].
    """
    return style.still(AimView(), curve, in_words.aim(curve))
