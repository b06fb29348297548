"""Pictures of chronograph strings: the shots in order, and the risk of a cap.

What it is for: `string_chart` and `cap_chart` for a notebook, each with its numbers in words, and
`StringView` and `CapView`, which follow a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from matplotlib.artist import Artist
from matplotlib.ticker import MaxNLocator

from blasterlab import units
from blasterlab.bench.cap_curve import CapCurve
from blasterlab.bench.summary import Summary
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed
from blasterlab.figures.style import Drawing, Frame
from blasterlab.report import caps, strings
from blasterlab.units import Quantity, QuantityLike


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

    def __init__(self, width: int = 480, height: int = 330) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, right=116)
        ax = self.ax
        ax.xaxis.set_major_locator(MaxNLocator(integer=True))
        self._band = ax.axhspan(0, 1, facecolor=style.SKY, alpha=0.22, linewidth=0)
        (self._mean,) = ax.plot([], [], color=style.BLUE, linewidth=1.6)
        (self._limits,) = ax.plot([], [], color=style.BLUE, linestyle="--", linewidth=1.0)
        (self._trend,) = ax.plot([], [], color=style.GREEN, linestyle="-.", linewidth=1.4)
        (self._cap,) = ax.plot([], [], color=style.VERMILION, linewidth=2.0)
        (self._dots,) = ax.plot([], [], color=style.BLACK, marker="o", markersize=5, linestyle="none")
        (self._odd,) = ax.plot([], [], color=style.VERMILION, marker="s", markersize=11, linestyle="none",
                               markerfacecolor="none", markeredgewidth=1.6)  # fmt: skip
        blue, red = dict.fromkeys(("mean", "low", "high"), style.BLUE), style.VERMILION
        self._texts = {
            name: ax.text(0, 0, "", fontsize=style.SMALL, color=colour, va="center", clip_on=False)
            for name, colour in {**blue, "cap": red, "trend": style.GREEN, "odd": red}.items()
        }
        for name in ("mean", "cap"):
            self._texts[name].set_fontweight("bold")
        self._texts["odd"].set_horizontalalignment("center")

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
        summary = result.summary
        string, odd = summary.string, summary.odd
        numbers, speeds = np.array(string.numbers), np.asarray(_speed(np.array(string.speeds_si)))
        ends = list(self.ax.get_xlim())
        low, mean, high = (float(_speed(q)) for q in (summary.next_low, summary.mean, summary.next_high))
        self._band.set_bounds(ends[0], low, ends[1] - ends[0], high - low)
        self._band.set_transform(self.ax.transData)
        self._mean.set_data(ends, [mean, mean])
        self._limits.set_data([*ends, np.nan, *ends], [low, low, np.nan, high, high])
        self._dots.set_data(numbers, speeds)
        flags = np.array(odd.flags)
        self._odd.set_data(numbers[flags], speeds[flags])
        slope = float(_speed(summary.trend.slope))
        middle = 0.5 * (len(numbers) - 1)
        line = mean + slope * (np.array([0.0, len(numbers) - 1.0]) - middle)
        seen = summary.drifts
        self._trend.set_data([numbers[0], numbers[-1]] if seen else [], line if seen else [])
        heights = {"mean": mean, "low": low, "high": high}
        said = strings.string_labels(summary)
        if seen:
            heights["trend"] = float(line[1])
        self._cap.set_data([], [])
        if result.cap is not None:
            heights["cap"] = float(_speed(result.cap))
            said["cap"] = caps.cap_label([result.cap])
            self._cap.set_data(ends, [heights["cap"]] * 2)
        self._stack(heights, said, ends[1])
        words = self._texts["odd"]
        words.set_text("odd" if flags.any() else "")
        if flags.any():
            tall = self._frame[1][1] - self._frame[1][0]
            at = float(speeds[flags][0])
            up = 1.0 if at < self._frame[1][0] + 0.85 * tall else -1.0
            words.set_position((float(numbers[flags][0]), at + up * 0.075 * tall))
        return [self._band, self._limits, self._mean, self._trend, self._cap, self._dots, self._odd,
                *self._texts.values()]  # fmt: skip

    def _stack(self, heights: dict[str, float], said: dict[str, str], right: float) -> None:
        """Words at the right end of their lines, moved apart where they would cover each other."""
        bottom, top = self._frame[1]
        for name in said.keys() | {"cap"}:
            self._texts[name].set_text(said[name] if name in heights else "")
        for name, height in lettering.lifted(heights, 0.062 * (top - bottom), bottom).items():
            self._texts[name].set_position((right + 0.01 * (right - self.ax.get_xlim()[0]), height))


class _Shown(NamedTuple):
    """What `StringView` takes."""

    summary: Summary
    cap: Quantity | None


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
    return style.still(StringView(560, 350), _Shown(summary, limit), strings.string_caption(summary))


class CapView(Framed):
    """Chance that any shot breaks the cap against the mean; takes a `CapCurve`."""

    _labels = (("mean of the string", "speed"), ("chance that any shot is over, %", "number"))

    def __init__(self, width: int = 480, height: int = 330) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, right=24)
        ax = self.ax
        ax.set_yticks([0, 25, 50, 75, 100])
        self._band = ax.fill_between([0, 1], [0, 1], facecolor=style.SKY, alpha=0.3, linewidth=0)
        (self._curve,) = ax.plot([], [], color=style.BLUE, linewidth=1.8)
        (self._cap,) = ax.plot([], [], color=style.VERMILION, linewidth=2.0)
        (self._wanted,) = ax.plot([], [], color=style.GREY, linestyle=":", linewidth=1.2)
        (self._here,) = ax.plot([], [], color=style.BLACK, marker="o", markersize=8, linestyle="none")
        (self._aim,) = ax.plot([], [], color=style.GREEN, marker="^", markersize=9, linestyle="none")
        places = {"here": (style.BLACK, 0.94), "aim": (style.GREEN, 0.87), "cap": (style.VERMILION, 0.0)}
        self._texts = {
            name: ax.text(0.02, height, "", fontsize=style.SMALL, color=colour, va="center")
            for name, (colour, height) in places.items()
        }
        for name in ("here", "aim"):  # the curve leaves this corner free
            self._texts[name].set_transform(ax.transAxes)
        self._texts["cap"].set(rotation=90, ha="left", va="bottom")  # below the curve, which is high here
        self._texts["aim"].set_fontweight("bold")

    def frame(self, result: CapCurve, old: Frame | None) -> Frame:
        """Limits of the mean in display units.

        Parameters
        ----------
        result : CapCurve [SI]
            What is to be drawn.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            The limits of both axes [display unit], [%].
        """
        still = old[0] if old else None
        return _settled(still, result.means[0], result.means[-1], 0.05, 0.6), (-4.0, 112.0)

    def draw_live(self, result: CapCurve) -> list[Artist]:
        """Curve, limits, cap, the mean now and the mean to aim for.

        Parameters
        ----------
        result : CapCurve [SI]
            What is to be drawn.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        risk, (left, right) = result.risk, self._frame[0]
        x = np.asarray(_speed(result.means))
        self._band.set_verts(
            [np.column_stack([np.r_[x, x[::-1]], 100 * np.r_[result.low, result.high[::-1]]])]
        )
        self._curve.set_data(x, 100 * result.chance)
        cap = float(_speed(risk.cap))
        self._cap.set_data([cap, cap], [0.0, 100.0])
        self._texts["cap"].set_position((cap + 0.008 * (right - left), 3.0))
        wanted = 100.0 * (1.0 - risk.confidence)
        self._wanted.set_data([left, right], [wanted, wanted])
        here = float(_speed(risk.mean))
        self._here.set_data([here], [100 * risk.any_shot])
        for name, words in caps.curve_labels(result).items():
            self._texts[name].set_text(words)
        self._aim.set_data([], [])
        if risk.aim_change is not None:
            self._aim.set_data([float(_speed(risk.aim_mean))], [wanted])
        lines = [self._wanted, self._curve, self._cap, self._here, self._aim]
        return [self._band, *lines, *self._texts.values()]


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
    return style.still(CapView(560, 350), curve, caps.cap_caption(curve))
