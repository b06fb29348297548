"""Pictures of the flight: the path with its times, and the remaining speed.

What it is for: `trajectory_chart` for a notebook, with its numbers in words, and `PathView`, which follows a
panel.  What it leaves out: every computation and every sentence; it draws results [display unit].  Holds are
in `blasterlab.figures.aim`, groups in `blasterlab.figures.group`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import chain
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.text import Text

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Drawing, Frame, shown
from blasterlab.flight.aiming_results import Zero
from blasterlab.flight.target_flight import TargetFlight
from blasterlab.report import flight as in_words
from blasterlab.units import QuantityLike

_MARKS = 7  # time marks of one path at most
_STEPS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
_POINTS = 61


class PathView(Framed):
    """Height against distance with times on the path, and the remaining speed below.

    Takes a sequence of one or two `TargetFlight` over one range.

    Parameters
    ----------
    count : int [-]
        Flights, 1 or 2.
    width, height : int [px]
        Size of the picture.
    """

    def __init__(self, count: int = 1, width: int = style.WIDTH, height: int = 406) -> None:
        self.figure, (self.ax, self.below) = style.new_figure(
            width, height, rows=2, share_x=True, heights=[2.3, 1.0], gap=(60, 14), left=70, right=56,
            top=48 if count > 1 else 30,
        )  # fmt: skip
        self.ax.axhline(0.0, color=style.BLACK, linewidth=1.2, linestyle=(0, (6, 3)))
        words = "dashed: line of sight, shaded: height of the target"
        self.ax.text(0.0, 1.1 if count > 1 else 1.02, words, fontsize=style.SMALL, color=style.GREY,
                     transform=self.ax.transAxes, gid="note")  # fmt: skip
        self._pens = [(Pen(self.ax), Pen(self.below)) for _ in range(count + 1)]  # of all, and of each flight
        self._names: tuple[str, ...] = ()

    def frame(self, result: Sequence[TargetFlight], old: Frame | None) -> Frame:
        """Limits of distance, height and speed."""
        zeros = [one.zero for one in result]
        distance = result[0].distance.m_as("m")
        far = max(1.4 * distance, *(1.1 * zero.far.m_as("m") for zero in zeros if zero.far is not None))
        x = style.steady(old[0] if old else None, 0.0, float(shown(far, "distance")))
        half = 0.5 * result[0].target_height.m_as("m")
        low, high, speed = -1.6 * half, 2.2 * half, 0.0
        for zero in zeros:
            path = zero.flight.path(_POINTS)
            near = path["distance"] <= far
            low, high = min(low, path["height"][near].min()), max(high, path["height"][near].max())
            speed = max(speed, path["speed"].max())
        low, high = float(shown(1.06 * low, "length")), float(shown(high, "length"))
        heights = style.steady(old[1] if old else None, low, high, 0.5)
        if not old or heights != old[1]:  # the drop grows quickly with distance: leave room
            heights = style.steady(None, 1.2 * low, high)
        return x, heights, style.steady(old[2] if old else None, 0.0, float(shown(speed, "speed")))

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels."""
        super().draw_full(frame)
        self.below.set_ylim(*frame[2])
        style.dress(self.ax, y=style.label("height over the sight", "length"))
        style.dress(self.below, style.label("distance", "distance"), style.label("speed", "speed"))

    def draw_live(self, result: Sequence[TargetFlight]) -> list[Artist]:
        """Paths, times, zeros, target, speeds, in drawing order."""
        (pen, below), (_, right), (low, high), ends = self._pens[0], *self._frame
        tall, at = high - low, float(shown(result[0].distance, "distance"))
        half = 0.5 * float(shown(result[0].target_height, "length"))
        level, small = result[0].ground, dict[str, Any](fontsize=style.SMALL, clip_on=False)
        ground = float(shown(np.nan if level is None else level, "length"))
        pen.box(0.0, -half, right, 2 * half, facecolor=style.SKY, alpha=0.25, linewidth=0)
        pen.line([0.0, right], [ground, ground], color=style.GREY, linewidth=3.0, gid="ground")
        pen.line(
            [at, at], [-half, half], color=style.BLACK, linewidth=4.0, solid_capstyle="butt", gid="target"
        )
        below.line([at, at], ends, color=style.BLACK, linewidth=1.0)
        said = "ground" if low < ground < -0.1 * tall else ""
        others = [
            pen.words(
                at, half + 0.01 * tall, "target", ha="center", va="bottom", gid="target words", **small
            ),
            pen.words(1.015 * right, ground, said, va="center", gid="ground words", **small),
            self._zero_words(result, at, pen.words(0.0, 0.0, "", gid="zero words", **small)),
        ]
        hits, speeds, times = zip(*(self._fly(row, one, at) for row, one in enumerate(result)), strict=True)
        for texts, lift in ((hits, 0.02 * tall), (speeds, 0.05 * ends[1])):
            _part(texts, lift, 0.02 * right, at > 0.45 * right)
        for text in hits:  # not across the line of sight
            y, above = text.get_position()[1], text.get_verticalalignment() == "bottom"
            if -0.075 * tall < (y if above else -y) < 0.01 * tall:
                text.set_y(0.012 * tall if above else -0.02 * tall)
        self._clear([*hits, *others, *chain(*times)])
        if (names := tuple(one.name for one in result)) != self._names and len(names) > 1:
            self._names = names
            style.key(self.ax)
        return [artist for both in self._pens for one in both for artist in one.lift()]

    def _clear(self, ranked: Sequence[Text]) -> None:
        """Leave out words that would cover weightier ones, which come first."""
        box = self.ax.bbox
        scale = box.width / self._frame[0][1], box.height / (self._frame[1][1] - self._frame[1][0])
        taken: list[tuple[float, float, float, float]] = []
        for text in ranked:
            a0, a1, b0, b1 = here = _room(text, scale)
            if any(a0 < x1 and x0 < a1 and b0 < y1 and y0 < b1 for x0, x1, y0, y1 in taken):
                text.set_text("")
            elif text.get_text():
                taken.append(here)

    def _zero_words(self, result: Sequence[TargetFlight], at: float, text: Text) -> Text:
        """Where the first zero lies, out of the way of the words of the hit."""
        (_, right), (low, high), _ = self._frame
        tall = high - low
        first = next((one.zero.far for one in result if one.zero.far is not None), None)
        far = 0.0 if first is None else float(shown(first, "distance"))
        text.set_text("" if first is None else f"zero {units.show(first, 'distance', 3)}")
        if at < far - 0.02 * right:  # the words of the hit come from the left
            text.set(x=far + 0.02 * right, y=0.02 * tall, ha="left", va="bottom")
        else:
            text.set(x=far - 0.015 * right, y=-0.02 * tall, ha="right", va="top")
        return text

    def _fly(self, row: int, one: TargetFlight, at: float) -> tuple[Text, Text, list[Text]]:
        """One flight; gives the words of its hit, of its speed there and of its times."""
        (pen, below), (colour, line, marker) = self._pens[row + 1], style.CYCLE[row]
        look: dict[str, Any] = {"color": colour, "linestyle": line, "linewidth": 1.8}
        dot: dict[str, Any] = {"color": colour, "linestyle": "none"}
        bold: dict[str, Any] = {"color": colour, "fontsize": style.FONT, "fontweight": "bold"}
        path, zero, there, number = one.zero.flight.path(_POINTS), one.zero, one.point, row + 1
        x, y = shown(path["distance"], "distance"), shown(path["height"], "length")
        crossings = [float(shown(place, "distance")) for place in (zero.near, zero.far) if place is not None]
        height, speed, said = np.nan, np.nan, ("", "")
        if there is not None:
            height, speed = float(shown(there.height, "length")), float(shown(there.speed, "speed"))
            said = in_words.point_labels(there)
        # matplotlib leaves out names that start with _
        pen.line(x, y, gid=f"path {number}", **look).set_label(f" {one.name[:40]}" if one.name else "")
        times = self._times(row, path, x, y)
        pen.line(crossings, [0.0] * len(crossings), marker="D", markersize=6, markerfacecolor="white",
                 markeredgewidth=1.5, gid=f"zeros {number}", **dot)  # fmt: skip
        pen.line([at], [height], marker=marker, markersize=8, gid=f"hit mark {number}", **dot)
        below.line(x, shown(path["speed"], "speed"), gid=f"speed {number}", **look)
        below.line([at], [speed], marker=marker, markersize=7, gid=f"speed mark {number}", **dot)
        hit = pen.words(at, height if said[0] else 0.0, said[0], gid=f"hit words {number}", **bold)
        fast = below.words(at, speed if said[1] else 0.0, said[1], gid=f"speed words {number}", **bold)
        return hit, fast, times

    def _times(self, row: int, path: Mapping[str, Any], x: Any, y: Any) -> list[Text]:
        """Time marks on the path, at round times."""
        pen, colour, up = self._pens[row + 1][0], style.CYCLE[row][0], 1.0 - 2.0 * row
        (_, right), (low, high), _ = self._frame
        end = float(np.interp(right, x, path["time"]))
        step = next((one for one in _STEPS if end / one < _MARKS), _STEPS[-1])
        times = np.arange(1, _MARKS + 1) * step
        count = int((times < min(end, path["time"][-1])).sum())
        across, high_up = (np.interp(times, path["time"], one) for one in (x, y))
        pen.line(across[:count], high_up[:count], color=colour, marker="|", markersize=9, linestyle="none",
                 gid=f"marks {row + 1}")  # fmt: skip
        look: dict[str, Any] = {"color": colour, "fontsize": style.SMALL, "ha": "right" if row else "left",
                                "va": "top" if row else "bottom"}  # fmt: skip
        found = []
        for mark, (time, place, height) in enumerate(zip(times, across, high_up, strict=True)):
            text = f"{time:g} s" if mark < count and low < height < high and place < 0.94 * right else ""
            spot = place + 0.008 * up * right, height + 0.018 * up * (high - low)
            found.append(pen.words(*spot, text, gid=f"time {mark} {row + 1}", **look))
        return found


def _room(text: Any, scale: tuple[float, float]) -> tuple[float, float, float, float]:
    """Where words stand, by their letters: left, right, bottom, top from the axes' zero [px]."""
    em = text.get_fontsize() * style.DPI / 72.0
    wide, tall = (0.6 if text.get_fontweight() == "bold" else 0.55) * em * len(text.get_text()), 1.2 * em
    x, y = (place * factor for place, factor in zip(text.get_position(), scale, strict=True))
    left = x - {"left": 0.0, "center": 0.5, "right": 1.0}[text.get_ha()] * wide
    bottom = y - {"bottom": 0.0, "center": 0.5, "top": 1.0}[text.get_va()] * tall
    return left, left + wide, bottom, bottom + tall


def _part(texts: Sequence[Text], lift: float, aside: float, far: bool) -> None:
    """Words at their points: right above them; of two, the lower ones below, left where there is room."""
    lowest = min(texts, key=lambda text: float(text.get_position()[1])) if len(texts) == 2 else None
    for text in texts:
        x, y = text.get_position()
        under = text is lowest
        left = under and far
        text.set(x=x + (-aside if left else aside), y=y + (-lift if under else lift),
                 ha="right" if left else "left", va="top" if under else "bottom")  # fmt: skip


def trajectory_chart(
    zeros: Zero | Mapping[str, Zero], *, distance: QuantityLike, target_height: QuantityLike = "30 cm"
) -> Drawing:
    """The path of one or two zeroed darts, with times, target and remaining speed.

    Parameters
    ----------
    zeros : Zero, or mapping of str to Zero [-]
        From `blasterlab.zero`; a mapping names two.
    distance : Quantity or str [m]
        Of the target.
    target_height : Quantity or str [m]
        Full height, aimed at its middle.

    Returns
    -------
    Drawing
        The figure; `caption` has height, time and speed at the target [-].

    Raises
    ------
    UnitError
        Neither one nor two flights.
    """
    named = dict(zeros) if isinstance(zeros, Mapping) else {"": zeros}
    if not 1 <= len(named) <= 2:
        raise units.UnitError(f"zeros: got {len(named)} flights; one picture holds one or two")
    at = units.parse(distance, "distance", "distance")
    tall = units.parse(target_height, "length", "target_height")
    flights = [TargetFlight(name, zero, at, tall) for name, zero in named.items()]
    return style.still(PathView(len(flights)), flights, in_words.at_target(flights))
