"""Pictures of chronograph strings: the shots in order, and the risk of a cap.

What it is for: `string_chart` and `cap_chart` for a notebook, each with its numbers in words, and
`StringView` and `CapView`, which follow a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.ticker import MaxNLocator

from blasterlab import units
from blasterlab.bench.cap_curve import CapCurve
from blasterlab.bench.summary import Summary
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.report import caps, strings
from blasterlab.units import QuantityLike


def _speed(value: Any) -> Any:
    return style.shown(value, "speed")


def _settled(old: Frame | None, low: float, high: float, room: float, fill: float) -> tuple[float, float]:
    """Limits that keep still while the data fit into them and fill a fair part, else new ones with room."""
    low, high = float(_speed(low)), float(_speed(high))
    if old and old[0] <= low and high <= old[1] and high - low > fill * (old[1] - old[0]):
        return old
    room = 0.3 if old else room  # what moves has room to move on
    return low - room * (high - low), high + room * (high - low)


class StringView(Framed):
    """The shots in order, with mean, limits for the next shot, cap, trend and odd shots.

    Takes anything with a `summary` (from `ChronoString.summary`) and a `cap` (Quantity or None).
    """

    _labels = (("shot", "number"), ("muzzle velocity", "speed"))

    def __init__(self, width: int = style.WIDTH, height: int = 286) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, right=116)
        self.ax.xaxis.set_major_locator(MaxNLocator(integer=True))
        self._pen = Pen(self.ax, self.ax.transAxes)

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """Limits of both axes in display units.

        Parameters
        ----------
        result : object [-]
            With `summary` and `cap`.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            Limits of the shots' numbers and of the speed [-], [display unit].
        """
        summary = result.summary
        ends = [*summary.string.speeds_si, summary.next_low.m, summary.next_high.m]
        ends += [] if result.cap is None else [result.cap.m_as("m/s")]
        shots = min(summary.string.numbers) - 0.6, max(summary.string.numbers) + 0.6
        still = old[1] if old and old[0] == shots else None
        return shots, _settled(still, min(ends), max(ends), 0.09, 0.5)

    def draw_live(self, result: Any) -> list[Artist]:
        """The shots and the lines.

        Parameters
        ----------
        result : object [-]
            With `summary` and `cap`.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        pen, summary, (ends, (bottom, top)) = self._pen, result.summary, self._frame
        string, flags = summary.string, np.array(summary.odd.flags)
        numbers, speeds = np.array(string.numbers), np.asarray(_speed(np.array(string.speeds_si)))
        low, mean, high = (float(_speed(q)) for q in (summary.next_low, summary.mean, summary.next_high))
        blue, red = style.BLUE, style.VERMILION
        inks = {"mean": blue, "low": blue, "high": blue, "cap": red, "trend": style.GREEN}
        pen.box(ends[0], low, ends[1] - ends[0], high - low, facecolor=style.SKY, alpha=0.22, linewidth=0,
                gid="band")  # fmt: skip
        pen.line(ends, [mean, mean], color=blue, linewidth=1.6, gid="mean")
        pen.line([*ends, np.nan, *ends], [low, low, np.nan, high, high], color=blue, linestyle="--",
                 linewidth=1.0, gid="limits")  # fmt: skip
        heights, said = {"mean": mean, "low": low, "high": high}, strings.string_labels(summary)
        trend: list[tuple[float, float]] = []
        if summary.drifts:
            half = 0.5 * float(_speed(summary.trend.slope)) * (len(numbers) - 1)
            heights["trend"] = mean + half
            trend = [(numbers[0], mean - half), (numbers[-1], mean + half)]
            pen.line(numbers[[0, -1]], [mean - half, mean + half], color=inks["trend"], linestyle="-.",
                     linewidth=1.4, gid="trend")  # fmt: skip
        if result.cap is not None:
            heights["cap"], said["cap"] = float(_speed(result.cap)), caps.cap_label([result.cap])
            pen.line(ends, [heights["cap"]] * 2, color=red, linewidth=2.0, gid="cap")
        pen.line(numbers, speeds, color=style.BLACK, marker="o", markersize=5, linestyle="none", gid="dots")
        small: dict[str, Any] = {"fontsize": style.SMALL, "va": "center", "clip_on": False}
        tall, levels = top - bottom, [heights[name] for name in heights if name != "trend"]
        places = {name: (height - bottom) / tall for name, height in heights.items()}
        for name, height in lettering.lifted(places, 0.062, 0.0).items():
            weight = "bold" if name in ("mean", "cap") else "normal"
            pen.words(1.01, height, said[name], color=inks[name], fontweight=weight, gid=f"{name} words",
                      **small)  # fmt: skip
        if flags.any():
            pen.line(numbers[flags], speeds[flags], color=red, marker="s", markersize=11, linestyle="none",
                     markerfacecolor="none", markeredgewidth=1.6, gid="odd")  # fmt: skip
            size, dots, gap = self.ax.bbox.size, np.column_stack([numbers, speeds]), (np.nan, np.nan)
            lines = [(x, level) for level in levels for x in (*ends, np.nan)] + [*trend, gap]
            lines += [point for dot in dots for point in (dot, dot, gap)]
            scale = np.array(size) / (ends[1] - ends[0], tall)
            spot, *clear = (np.array([dots[flags][0], *lines]) - (ends[0], bottom)) * scale
            odd = pen.words(0.0, 0.0, "odd", color=red, gid="odd words", **small)
            lettering.place_beside(odd, spot, size, np.array(clear), style.DPI)
        return pen.lift()


def string_chart(summary: Summary, cap: QuantityLike | None = None) -> Drawing:
    """The shots of a string in order, with mean, limits for the next shot, cap and odd shots.

    Parameters
    ----------
    summary : Summary [-]
        From `ChronoString.summary`.
    cap : Quantity, str or None [m/s]
        A velocity cap.

    Returns
    -------
    Drawing
        The figure; `caption` has mean, SD and limits [-].
    """
    limit = None if cap is None else units.parse(cap, "speed", "cap")
    return style.still(
        StringView(560, 350), SimpleNamespace(summary=summary, cap=limit), strings.string_caption(summary)
    )


class CapView(Framed):
    """Chance that any shot breaks the cap against the mean; takes anything with a `curve` (a `CapCurve`)."""

    _labels = (("mean of the string", "speed"), ("chance that any shot is over, %", "number"))

    def __init__(self, width: int = style.WIDTH, height: int = 286) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, right=24)
        self.ax.set_yticks([0, 25, 50, 75, 100])
        self._pen = Pen(self.ax)

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """Limits of the mean in display units.

        Parameters
        ----------
        result : object [-]
            With `curve`.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            The limits of both axes [display unit], [%].
        """
        still = old[0] if old else None
        return _settled(still, result.curve.means[0], result.curve.means[-1], 0.05, 0.6), (-4.0, 121.0)

    def draw_live(self, result: Any) -> list[Artist]:
        """Curve, limits, cap, the mean now and the mean to aim for.

        Parameters
        ----------
        result : object [-]
            With `curve`.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        curve, ((left, right), _) = result.curve, self._frame
        pen, risk, x = self._pen, curve.risk, np.asarray(_speed(curve.means))
        band = np.column_stack([np.r_[x, x[::-1]], 100 * np.r_[curve.low, curve.high[::-1]]])
        pen.area(band, facecolor=style.SKY, alpha=0.3, gid="band")
        pen.line(x, 100 * curve.chance, color=style.BLUE, linewidth=1.8, gid="curve")
        cap, wanted = float(_speed(risk.cap)), 100.0 * (1.0 - risk.confidence)
        pen.line([cap, cap], [0.0, 100.0], color=style.VERMILION, linewidth=2.0)
        pen.line([left, right], [wanted, wanted], color=style.GREY, linestyle=":", linewidth=1.2)
        pen.line([float(_speed(risk.mean))], [100 * risk.any_shot], color=style.BLACK, marker="o",
                 markersize=8, linestyle="none", gid="here")  # fmt: skip
        if risk.aim_change is not None:
            pen.line([float(_speed(risk.aim_mean))], [wanted], color=style.GREEN, marker="^", markersize=9,
                     linestyle="none", gid="aim")  # fmt: skip
        said, corner = caps.curve_labels(curve), left + 0.02 * (right - left)
        small: dict[str, Any] = {"fontsize": style.SMALL, "va": "center"}
        # all over 100 %, where nothing is drawn
        pen.words(corner, 116.0, said["here"], color=style.BLACK, **small)
        aim = pen.words(corner, 107.6, said["aim"], color=style.GREEN, fontweight="bold", gid="aim words",
                        **small)  # fmt: skip
        over = pen.words(cap, 107.6, said["cap"], color=style.VERMILION, **small)
        taken, wide = (
            lettering.size(words, style.DPI)[0] / self.ax.bbox.width * (right - left) for words in (aim, over)
        )
        over.set_x(max(min(cap - 0.5 * wide, right - wide), corner + 1.05 * taken))
        return pen.lift()


def cap_chart(curve: CapCurve) -> Drawing:
    """Chance that any of the shots still to fire breaks the cap, against the mean of the string.

    Parameters
    ----------
    curve : CapCurve [-]
        From `bench.cap_curve.cap_curve`.

    Returns
    -------
    Drawing
        The figure; `caption` has the risk and the mean to aim for [-].
    """
    return style.still(CapView(560, 350), SimpleNamespace(curve=curve), caps.cap_caption(curve))
