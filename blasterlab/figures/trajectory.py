"""Pictures of the flight: the path with its times, and the remaining speed.

What it is for: `trajectory_chart` for a notebook, with its numbers in words, and `PathView`, which follows a
panel.  What it leaves out: every computation and every sentence; it draws results [display unit].  Holds are
in `blasterlab.figures.aim`, groups in `blasterlab.figures.group`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.artist import Artist

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.redrawn import Framed
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

    def __init__(self, count: int = 1, width: int = 440, height: int = 430) -> None:
        self.figure, (self.ax, self.below) = style.new_figure(
            width, height, rows=2, share_x=True, heights=[2.3, 1.0], gap=(60, 14), left=70, right=56,
            top=48 if count > 1 else 30,
        )  # fmt: skip
        ax = self.ax
        self._band = ax.axhspan(0, 1, facecolor=style.SKY, alpha=0.25, linewidth=0)
        ax.axhline(0.0, color=style.BLACK, linewidth=1.2, linestyle=(0, (6, 3)))
        (self._ground,) = ax.plot([], [], color=style.GREY, linewidth=3.0, gid="ground")
        (self._target,) = ax.plot(
            [], [], color=style.BLACK, linewidth=4.0, solid_capstyle="butt", gid="target"
        )
        (self._plane,) = self.below.plot([], [], color=style.BLACK, linewidth=1.0)
        self._words = {
            name: ax.text(0, 0, words, fontsize=style.SMALL, va="center", clip_on=False, gid=f"{name} words")
            for name, words in (("ground", "ground"), ("target", "target"), ("zero", ""))
        }
        words = "dashed: line of sight, shaded: height of the target"
        self._note = ax.text(0.0, 1.1 if count > 1 else 1.02, words, fontsize=style.SMALL, color=style.GREY,
                             transform=ax.transAxes, gid="note")  # fmt: skip
        self._words["target"].set(ha="center", va="bottom")
        self._words["zero"].set(ha="right", va="top")
        self._lines = [self._flight_artists(row) for row in range(count)]
        self._names: tuple[str, ...] = ()

    def _flight_artists(self, row: int) -> dict[str, Any]:
        colour, line, marker = style.CYCLE[row]
        look: dict[str, Any] = {"color": colour, "linestyle": line, "linewidth": 1.8}
        ax, below = self.ax, self.below
        bold: dict[str, Any] = {"fontsize": style.FONT, "color": colour, "fontweight": "bold"}
        found: dict[str, Any] = {
            "path": ax.plot([], [], **look)[0],
            "marks": ax.plot([], [], color=colour, marker="|", markersize=9, linestyle="none")[0],
            "zeros": ax.plot([], [], color=colour, marker="D", markersize=6, linestyle="none",
                             markerfacecolor="white", markeredgewidth=1.5)[0],
            "hit mark": ax.plot([], [], color=colour, marker=marker, markersize=8, linestyle="none")[0],
            "speed": below.plot([], [], **look)[0],
            "speed mark": below.plot([], [], color=colour, marker=marker, markersize=7, linestyle="none")[0],
            "hit words": ax.text(0, 0, "", **bold),
            "speed words": below.text(0, 0, "", **bold),
        }  # fmt: skip
        for mark in range(_MARKS):
            found[f"time {mark}"] = ax.text(
                0, 0, "", fontsize=style.SMALL, color=colour, ha="left" if row == 0 else "right",
                va="bottom" if row == 0 else "top",
            )  # fmt: skip
        for name, artist in found.items():
            artist.set_gid(f"{name} {row + 1}")
        return found

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
        names = tuple(one.name for one in result)
        if names != self._names and len(names) > 1:
            self._names = names
            for lines, name in zip(self._lines, names, strict=True):
                lines["path"].set_label(f" {name[:40]}")  # matplotlib leaves out names that start with _
            style.key(self.ax)
        (_, right), (low, high), _ = self._frame
        tall, at = high - low, float(shown(result[0].distance, "distance"))
        half = 0.5 * float(shown(result[0].target_height, "length"))
        self._band.set_bounds(0.0, -half, 1.0, 2 * half)
        self._target.set_data([at, at], [-half, half])
        self._plane.set_data([at, at], self._frame[2])
        self._words["target"].set_position((at, half + 0.01 * tall))
        self._words["target"].set_text("target")
        level = result[0].ground
        ground = float(shown(np.nan if level is None else level, "length"))
        self._ground.set_data([0.0, right], [ground, ground])
        self._words["ground"].set_position((1.015 * right, ground))
        self._words["ground"].set_text("ground" if low < ground < -0.1 * tall else "")
        self._zero_words(result, at)
        for lines, one in zip(self._lines, result, strict=True):
            self._fly(lines, one, at)
        for what, lift in (("hit", 0.02 * tall), ("speed", 0.05 * self._frame[2][1])):
            _part([lines[f"{what} words"] for lines in self._lines], lift, 0.02 * right, at > 0.45 * right)
        for lines in self._lines:  # not across the line of sight
            text, y = lines["hit words"], lines["hit words"].get_position()[1]
            above = text.get_va() == "bottom"
            if -0.075 * tall < (y if above else -y) < 0.01 * tall:
                text.set_y(0.012 * tall if above else -0.02 * tall)
        self._clear()
        return [self._band, self._ground, self._target, self._plane, *self._words.values(),
                *(artist for lines in self._lines for artist in lines.values())]  # fmt: skip

    def _clear(self) -> None:
        """Leave out words that would cover weightier ones: of the hits, then target, zero, times."""
        times = [lines[f"time {mark}"] for lines in self._lines for mark in range(_MARKS)]
        ranked = [lines["hit words"] for lines in self._lines]
        ranked += [self._words["target"], self._words["ground"], self._words["zero"], *times]
        box = self.ax.bbox
        scale = box.width / self._frame[0][1], box.height / (self._frame[1][1] - self._frame[1][0])
        taken: list[tuple[float, float, float, float]] = []
        for text in ranked:
            a0, a1, b0, b1 = here = _room(text, scale)
            if any(a0 < x1 and x0 < a1 and b0 < y1 and y0 < b1 for x0, x1, y0, y1 in taken):
                text.set_text("")
            elif text.get_text():
                taken.append(here)

    def _zero_words(self, result: Sequence[TargetFlight], at: float) -> None:
        """Where the first zero lies, out of the way of the words of the hit."""
        (_, right), (low, high), _ = self._frame
        tall, text = high - low, self._words["zero"]
        first = next((one.zero.far for one in result if one.zero.far is not None), None)
        far = 0.0 if first is None else float(shown(first, "distance"))
        text.set_text("" if first is None else f"zero {units.show(first, 'distance', 3)}")
        if at < far - 0.02 * right:  # the words of the hit come from the left
            text.set(x=far + 0.02 * right, y=0.02 * tall, ha="left", va="bottom")
        else:
            text.set(x=far - 0.015 * right, y=-0.02 * tall, ha="right", va="top")

    def _fly(self, lines: dict[str, Any], one: TargetFlight, at: float) -> None:
        path = one.zero.flight.path(_POINTS)
        x, y = shown(path["distance"], "distance"), shown(path["height"], "length")
        lines["path"].set_data(x, y)
        lines["speed"].set_data(x, shown(path["speed"], "speed"))
        zero = one.zero
        crossings = [float(shown(place, "distance")) for place in (zero.near, zero.far) if place is not None]
        lines["zeros"].set_data(crossings, [0.0] * len(crossings))
        there, places, said = one.point, (np.nan, np.nan), ("", "")
        if there is not None:
            places = float(shown(there.height, "length")), float(shown(there.speed, "speed"))
            said = in_words.point_labels(there)
        for name, place, label in zip(("hit", "speed"), places, said, strict=True):
            lines[f"{name} mark"].set_data([at], [place])
            lines[f"{name} words"].set(text=label, position=(at, place if label else 0.0))
        self._times(lines, path, x, y)

    def _times(self, lines: dict[str, Any], path: Mapping[str, Any], x: Any, y: Any) -> None:
        """Time marks on the path, at round times."""
        (_, right), (low, high), _ = self._frame
        end = float(np.interp(right, x, path["time"]))
        step = next((one for one in _STEPS if end / one < _MARKS), _STEPS[-1])
        times = np.arange(1, _MARKS + 1) * step
        times = times[times < min(end, path["time"][-1])]
        places = np.interp(times, path["time"], x), np.interp(times, path["time"], y)
        lines["marks"].set_data(*places)
        up = 1.0 if lines["time 0"].get_ha() == "left" else -1.0
        for mark in range(_MARKS):
            text, on = lines[f"time {mark}"], mark < len(times)
            inside = on and low < places[1][mark] < high and places[0][mark] < 0.94 * right
            text.set_text(f"{times[mark]:g} s" if inside else "")
            if on:
                text.set_position((places[0][mark] + 0.008 * up * right,
                                   places[1][mark] + 0.018 * up * (high - low)))  # fmt: skip


def _room(text: Any, scale: tuple[float, float]) -> tuple[float, float, float, float]:
    """Where words stand, by their letters: left, right, bottom, top from the axes' zero [px]."""
    em = text.get_fontsize() * style.DPI / 72.0
    wide, tall = (0.6 if text.get_fontweight() == "bold" else 0.55) * em * len(text.get_text()), 1.2 * em
    x, y = (place * factor for place, factor in zip(text.get_position(), scale, strict=True))
    left = x - {"left": 0.0, "center": 0.5, "right": 1.0}[text.get_ha()] * wide
    bottom = y - {"bottom": 0.0, "center": 0.5, "top": 1.0}[text.get_va()] * tall
    return left, left + wide, bottom, bottom + tall


def _part(texts: list[Any], lift: float, aside: float, far: bool) -> None:
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
