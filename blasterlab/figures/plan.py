"""Pictures of a plan: the front of a search, steps and a tornado as bars.

What it is for: `front_chart`, `steps_chart`, `causes_chart` and `tornado_chart`.  What it leaves out: every
computation.
"""

from __future__ import annotations

from typing import Any

from matplotlib.artist import Artist

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.style import Drawing, Frame
from blasterlab.plan.explain import Explanation
from blasterlab.plan.search import Plan
from blasterlab.plan.sensitivity import Matters, Steps
from blasterlab.report.explain import caption, cause_name
from blasterlab.report.plan import front_caption
from blasterlab.report.sensitivity import matters_caption, step_name, steps_caption, unknown_name

_MOST = 13


class StepsView:
    """Change of speed by one step of each part, as bars with their ranges."""

    def __init__(self, width: int = 480, height: int = 380) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=206, right=14)

    def frame(self, result: Steps, old: Frame | None) -> Frame:
        """All that is drawn: the labels, and speeds in display units.

        Parameters
        ----------
        result : Steps [-]
            What is to be drawn.
        old : tuple or None [-]
            The frame in use; no part of it stays.

        Returns
        -------
        tuple
            A label and three speeds of each bar [display unit].
        """
        return tuple(
            (step_name(row), *(style.shown(row[f"speed{end}_m_s"], "speed") for end in ("", "_low", "_high")))
            for row in result.table.iloc[1 : 1 + _MOST].to_dict("records")
        )

    def draw_full(self, frame: Frame) -> None:
        """Draw the bars.

        Parameters
        ----------
        frame : tuple [display unit]
            From `frame`.
        """
        ax = self.ax
        ax.clear()
        for y, (_, speed, low, high) in zip(range(len(frame) - 1, -1, -1), frame, strict=True):
            up = speed >= 0.0
            ax.barh(y, speed, 0.62, color=style.SKY if up else style.ORANGE, hatch="" if up else "//")
            ax.plot([low, high], [y, y], color=style.BLACK, marker="|", markersize=6, linewidth=1.0)
        ax.axvline(0.0, color=style.BLACK, linewidth=0.8)
        ax.set_yticks(range(len(frame) - 1, -1, -1), [label for label, *_ in frame])
        ax.set_ylim(-0.6, len(frame) - 0.4)
        style.dress(ax, style.label("change of speed", "speed"), title="One step of each part, 90 % range")

    def draw_live(self, result: Steps) -> list[Artist]:
        """Nothing moves by itself.

        Parameters
        ----------
        result : Steps [-]
            What is drawn already.

        Returns
        -------
        list of Artist
            None [-].
        """
        return []


class CausesView(StepsView):
    """What each single cause could do to the speed within its range, and the difference that was measured."""

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """The difference with its ends, then a label and three speeds of each bar [display unit]."""
        d = result.difference
        seen = tuple(style.shown(end.m_as("m/s"), "speed") for end in (d.difference, d.low, d.high))
        return (
            seen,
            *(
                (cause_name(row["name"]), *3 * (style.shown(row["speed_m_s"], "speed"),))
                for row in result.table.to_dict("records")
            ),
        )

    def draw_full(self, frame: Frame) -> None:
        """Draw the bars, and the difference over them [display unit]."""
        super().draw_full(frame[1:])
        seen, low, high = frame[0]
        self.ax.axvspan(low, high, color=style.PALE, zorder=0)
        self.ax.axvline(seen, color=style.VERMILION, linestyle="--", linewidth=1.4)
        title = "What each alone could do; dashed: measured, 95 %"
        style.dress(self.ax, style.label("change of speed", "speed"), title=title)


def causes_chart(found: Explanation) -> Drawing:
    """What each single cause could do to the speed, beside the difference that was measured.

    Parameters
    ----------
    found : Explanation [-]
        From `explain`.

    Returns
    -------
    Drawing
        Bars, the likeliest on top; `caption` has the two strongest [-].
    """
    return style.still(CausesView(), found, caption(found))


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


def front_chart(found: Plan) -> Drawing:
    """Price against chance to meet every want: all that meet them, and the front.

    Parameters
    ----------
    found : Plan [-]
        From `plan_build`, with at least one candidate that meets every want.

    Returns
    -------
    Drawing
        Points; `caption` has the best of them [-].

    Raises
    ------
    UnitError
        Nothing to draw.
    """
    if not len(found.order):
        raise units.UnitError("plan: no candidate meets every want, so there is nothing to draw")
    figure, (ax,) = style.new_figure(520, 340)
    price = f"price_{found.currency or 'untold'}"
    for table, colour, marker, size, label in (
        (found.table, style.GREY, ".", 4, "meets every want"),
        (found.front, style.VERMILION, "D", 6, "front"),
    ):  # fmt: skip
        ax.plot(table[price], 100.0 * table["chance"], color=colour, marker=marker, markersize=size,
                linestyle="none", label=label)  # fmt: skip
    style.key(ax)
    style.dress(ax, f"price, {found.currency}", "chance to meet every want, %")
    figure.caption = front_caption(found)
    return figure
