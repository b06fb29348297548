"""Pictures of what matters: steps, causes and a tornado as bars.

What it is for: `steps_chart`, the causes of a difference, and `tornado_chart`.  What it leaves out: every
computation.
"""

from __future__ import annotations

from typing import Any

from matplotlib.artist import Artist

from blasterlab.figures import style
from blasterlab.figures.redrawn import Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.plan.sensitivity import Matters, Steps
from blasterlab.report.explain import cause_name
from blasterlab.report.sensitivity import matters_caption, step_name, steps_caption, unknown_name

_MOST, _SPEEDS = 13, ("speed_m_s", "speed_low_m_s", "speed_high_m_s")


class StepsView:
    """Change of speed by one step of each part, as bars with their ranges."""

    _title = "One part changed, 90 % range"

    def __init__(self, width: int = style.WIDTH, height: int = 352) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=206, right=14)
        self._pen = Pen(self.ax)

    def _bars(self, result: Any) -> list[tuple[str, list[float]]]:
        """The name of each bar, its speed and the ends of its range [display unit]."""
        rows = result.table.iloc[1 : 1 + _MOST].to_dict("records")
        return [(step_name(row), [style.shown(row[name], "speed") for name in _SPEEDS]) for row in rows]

    def _seen(self, result: Any) -> list[float]:
        """Further speeds that the axis must hold [display unit]."""
        return []

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """Limits of the change of speed, given those in use [display unit], and the number of bars."""
        self._shown = self._bars(result)
        ends = [0.0, *self._seen(result), *(end for _, ends in self._shown for end in ends)]
        return style.steady(old[0] if old else None, min(ends), max(ends)), len(self._shown)

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels, from `frame`."""
        self._left = frame[0][0] - 0.02 * (frame[0][1] - frame[0][0])
        self.ax.set(xlim=frame[0], ylim=(-0.6, frame[1] - 0.4))
        self.ax.set_yticks(range(frame[1]), [""] * frame[1])
        style.dress(self.ax, style.label("change of speed", "speed"))
        self.ax.set_title(self._title, fontsize=style.FONT, fontweight="bold", loc="left", pad=6, x=-1.02)

    def draw_live(self, result: Any) -> list[Artist]:
        """Bars, their ranges and names."""
        pen, ends = self._pen, self.ax.get_ylim()
        for place, (name, (speed, *span)) in enumerate(self._shown):
            y, (colour, hatch) = (
                ends[1] - 0.6 - place,
                (style.SKY, "") if speed >= 0.0 else (style.ORANGE, "//"),
            )
            pen.box(0.0, y - 0.31, speed, 0.62, facecolor=colour, hatch=hatch)
            pen.line(span, [y, y], color=style.BLACK, marker="|", markersize=6, linewidth=1.0)
            pen.words(self._left, y, name, fontsize=style.SMALL, ha="right", va="center")
        pen.line([0.0, 0.0], ends, color=style.BLACK, linewidth=0.8)
        return pen.lift()


class CausesView(StepsView):
    """What each single cause could do to the speed within its range, and the difference that was measured."""

    _title = "Each alone; dashed: measured, 95 %"

    def _bars(self, result: Any) -> list[tuple[str, list[float]]]:
        rows = result.table.to_dict("records")
        return [(cause_name(row["name"]), 3 * [style.shown(row["speed_m_s"], "speed")]) for row in rows]

    def _seen(self, result: Any) -> list[float]:
        d = result.difference
        return [style.shown(end.m_as("m/s"), "speed") for end in (d.difference, d.low, d.high)]

    def draw_live(self, result: Any) -> list[Artist]:
        """The bars over the difference and its range."""
        (seen, low, high), ends = self._seen(result), self.ax.get_ylim()
        self._pen.box(low, ends[0], high - low, ends[1] - ends[0], color=style.PALE, zorder=0)
        self._pen.line([seen, seen], ends, color=style.VERMILION, linestyle="--", linewidth=1.4)
        return super().draw_live(result)


def steps_chart(found: Steps) -> Drawing:
    """What one step of each part does to the speed.

    Parameters
    ----------
    found : Steps [-]
        From `steps`.

    Returns
    -------
    Drawing
        Bars, the strongest on top; `caption` has the two strongest [-].
    """
    return style.still(StepsView(), found, steps_caption(found))


def tornado_chart(found: Matters) -> Drawing:
    """The speed at both ends of each unknown, the widest on top.

    Parameters
    ----------
    found : Matters [-]
        From `what_matters`.

    Returns
    -------
    Drawing
        Bars; `caption` has the widest [-].
    """
    rows = found.table.iloc[:_MOST].to_dict("records")
    figure, (ax,) = style.new_figure(520, 110 + 24 * len(rows), left=168, right=64)
    for y, row in zip(range(len(rows) - 1, -1, -1), rows, strict=True):
        base = style.shown(found.speed, "speed")
        for end, colour, hatch in (("low", style.ORANGE, "//"), ("high", style.SKY, "")):
            at = style.shown(row[f"speed_at_{end}_m_s"], "speed")
            ax.barh(y, at - base, 0.62, left=base, color=colour, hatch=hatch)
        ax.annotate(
            f"{100 * max(row['total'], 0.0):.0f} %", (1.0, y), xycoords=("axes fraction", "data"),
            xytext=(6, 0), textcoords="offset points", fontsize=style.SMALL, va="center",
        )  # fmt: skip
    ax.axvline(style.shown(found.speed, "speed"), color=style.BLACK, linewidth=0.8)
    ax.set_yticks(range(len(rows) - 1, -1, -1), [unknown_name(row["name"]) for row in rows])
    style.dress(ax, style.label("speed", "speed"), title="Speed at each end (low: hatched); Sobol' total")
    figure.caption = matters_caption(found)
    return figure
