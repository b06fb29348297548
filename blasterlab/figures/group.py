"""Pictures of groups: the target with its darts, the chance of a hit against distance, how a dart points.

What it is for: `group_chart`, `hit_chart` and `margin_chart` for a notebook, each with its numbers in words,
and `GroupView` and `HitView`, which follow a panel.  What it leaves out: every computation and every
sentence; it draws results [display unit].
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Unpack

import numpy as np
from matplotlib.artist import Artist
from matplotlib.ticker import MaxNLocator

from blasterlab import units
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Drawing, Frame, shown
from blasterlab.flight.dispersion_result import Dispersion
from blasterlab.flight.group_on_target import GroupOnTarget
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.flight.stability import MakeUp
from blasterlab.flight.target import Size
from blasterlab.report import groups as in_words
from blasterlab.report.flight import balances

_DOTS = 250  # predicted darts that are drawn, of all that were flown
_ROUND = np.linspace(0.0, 2.0 * np.pi, 73)


class GroupView(Framed):
    """The target's face with predicted darts, the circle that holds half of them, and measured holes.

    Takes `GroupOnTarget`.
    """

    _ROWS: tuple[tuple[str, str, str, dict[str, Any]], ...] = (
        ("dots", "predicted", style.SKY, {"marker": "o", "markersize": 3, "linestyle": "none"}),
        ("half", "half within", style.BLUE, {"linewidth": 2.0}),
        ("mean", "mean radius", style.GREEN, {"linewidth": 2.6, "linestyle": "-"}),
        ("target", "target hit", style.BLACK, {"linewidth": 2.0, "linestyle": "--"}),
        ("holes", "measured", style.VERMILION,
         {"marker": "x", "markersize": 8, "markeredgewidth": 2.2, "linestyle": "none"}),
        ("circle", "their half", style.VERMILION, {"linewidth": 1.6, "linestyle": ":"}),
    )  # fmt: skip

    def __init__(self, width: int = style.WIDTH, height: int = 288) -> None:
        left, right, top, bottom = 70, 116, 14, 46
        self.figure, (self.ax,) = style.new_figure(
            width, height, left=left, right=right, top=top, bottom=bottom
        )
        self._shape = (height - top - bottom) / (width - left - right)
        ax = self.ax
        self._lines, self._samples, self._names, self._texts = (dict[str, Any]() for _ in range(4))
        for place, (name, words, colour, look) in enumerate(self._ROWS):
            given: dict[str, Any] = {"color": colour, **look}
            (self._lines[name],) = ax.plot([], [], gid=name, **given)
            y = 0.96 - 0.175 * place
            given |= {"transform": ax.transAxes, "clip_on": False, "markevery": [1]}
            (self._samples[name],) = ax.plot([1.03, 1.07, 1.11], [y] * 3, gid=f"{name} sample", **given)
            ink = style.GREY if name == "dots" else colour
            given = {"transform": ax.transAxes, "fontsize": style.SMALL, "color": ink}
            self._names[name] = ax.text(1.135, y + 0.008, words, va="bottom", gid=f"{name} name", **given)
            self._texts[name] = ax.text(1.135, y - 0.008, "", va="top", gid=f"{name} words", **given)
        (self._aim,) = ax.plot([0], [0], color=style.BLACK, marker="+", markersize=12, linestyle="none")
        ax.xaxis.set_major_locator(MaxNLocator(5))

    def frame(self, result: GroupOnTarget, old: Frame | None) -> Frame:
        """Half the width that is seen, and whether there are holes."""
        right, up = (np.abs(one.m_as("m")[:_DOTS]) for one in (result.group.right, result.group.up))
        wide, tall = result.target.half_width, result.target.half_height
        sides = [float(np.quantile(right, 0.99)), 1.05 * wide, float(np.quantile(up, 0.99)) / self._shape,
                 1.05 * tall / self._shape]  # fmt: skip
        if result.measured is not None:
            away = np.abs(result.measured.points).max(axis=0)
            sides += [1.05 * float(away[0]), 1.05 * float(away[1]) / self._shape]
        old_limits = (0.0, old[0]) if old else None
        limit = style.steady(old_limits, 0.0, float(shown(max(sides), "length")), 0.45)[1]
        return limit, result.measured is not None

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels."""
        self._frame = frame
        self.ax.set_xlim(-frame[0], frame[0])
        self.ax.set_ylim(-frame[0] * self._shape, frame[0] * self._shape)
        for name in ("holes", "circle"):
            self._samples[name].set_visible(frame[1])
            self._names[name].set_visible(frame[1])
        style.dress(
            self.ax, style.label("right of the aim", "length"), style.label("above the aim", "length")
        )

    def draw_live(self, result: GroupOnTarget) -> list[Artist]:
        """Darts, circles, target, holes, in drawing order."""
        group, lines, texts = result.group, self._lines, self._texts
        right, up = (one.m_as("m") for one in (group.right, group.up))
        lines["dots"].set_data(shown(right[:_DOTS], "length"), shown(up[:_DOTS], "length"))
        middle = (float(right.mean()), float(up.mean()))
        lines["half"].set_data(*_circle(middle, group.cep.m_as("m")))
        spoke = (middle[0], middle[0] + result.group.mean_radius.value.m_as("m"))
        lines["mean"].set_data(shown(np.array(spoke), "length"), [float(shown(middle[1], "length"))] * 2)
        target = result.target
        wide, tall = target.half_width, target.half_height
        box = np.array([[-wide, wide, wide, -wide, -wide], [-tall, -tall, tall, tall, -tall]])
        lines["target"].set_data(*(_circle((0.0, 0.0), wide) if target.is_round else shown(box, "length")))
        measured = result.measured
        for name in ("holes", "circle"):
            lines[name].set_data([], [])
        if measured is not None:
            lines["holes"].set_data(*shown(measured.points.T, "length"))
            centre = [one.m_as("m") for one in measured.centre]
            lines["circle"].set_data(*_circle(centre, measured.cep.value.m_as("m")))
        for name, label in in_words.face_labels(result).items():
            texts[name].set_text(label)
        order = ("dots", "target", "half", "mean", "circle", "holes")
        return [*(lines[name] for name in order), self._aim, *texts.values()]


def _circle(middle: Any, radius: float) -> Any:
    return (shown(middle[0] + radius * np.cos(_ROUND), "length"),
            shown(middle[1] + radius * np.sin(_ROUND), "length"))  # fmt: skip


def group_chart(group: Dispersion, measured: MeasuredGroup | None = None, **target: Unpack[Size]) -> Drawing:
    """A target's face with predicted darts, and the holes on paper over them.

    Parameters
    ----------
    group : Dispersion [-]
        From `blasterlab.group`.
    measured : MeasuredGroup or None [-]
        Holes at the same distance.
    **target : Quantity or str [m]
        ``diameter="30 cm"``, or ``width`` and ``height``.

    Returns
    -------
    Drawing
        The figure; `caption` has the group and the chance of a hit [-].

    Raises
    ------
    UnitError
        No single shape of the target.
    """
    result = GroupOnTarget(group, target, measured)
    return style.still(GroupView(), result, in_words.on_target(result))


class HitView(Framed):
    """Chance of a hit against distance, with the hold corrected and unchanged; takes `GroupOnTarget`."""

    _labels = (("distance", "distance"), ("chance of a hit, %", "number"))

    def __init__(self, width: int = style.WIDTH, height: int = 240) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, left=70, right=88, top=14)
        self.ax.set_yticks([0, 25, 50, 75, 100])
        self._pen = Pen(self.ax)

    def frame(self, result: GroupOnTarget, old: Frame | None) -> Frame:
        """Limits of the distance and of the chance."""
        last = float(result.corrected["distance_m"].iloc[-1])
        distances = style.steady(old[0] if old else None, 0.0, float(shown(last / 1.04, "distance")))
        return distances, (0.0, 112.0)

    def draw_live(self, result: GroupOnTarget) -> list[Artist]:
        """Curves, band, and the chance at the target, in drawing order."""
        pen, held, right = self._pen, result.corrected, self._frame[0][1]
        x = shown(held["distance_m"].to_numpy(float), "distance")
        band = np.column_stack([np.r_[x, x[::-1]], 100 * np.r_[held["low"], held["high"][::-1]]])
        pen.area(band, facecolor=style.SKY, alpha=0.35, gid="band")
        kept, left = (100 * curve["chance"].to_numpy(float) for curve in (held, result.unchanged))
        pen.line(x, kept, color=style.BLUE, linewidth=1.8, gid="corrected")
        pen.line(x, left, color=style.VERMILION, linewidth=1.6, linestyle="--", gid="unchanged")
        at, here = float(shown(result.group.distance, "distance")), 100 * result.chance.value
        pen.line([at, at], [0.0, here], color=style.BLACK, linewidth=1.0)
        pen.line([at], [here], color=style.BLACK, marker="o", markersize=8, linestyle="none", gid="here")
        bold: dict[str, Any] = {"fontsize": style.FONT, "fontweight": "bold", "va": "bottom"}
        pen.words(at + 0.015 * right, min(here + 2.5, 102.0), in_words.hit_label(result), **bold)
        upper, lower = kept[-1], left[-1]
        if upper - lower < 9.0:
            lower = max(3.0, upper - 9.0)
            upper = max(upper, lower + 9.0)
        small: dict[str, Any] = {"fontsize": style.SMALL, "va": "center", "clip_on": False}
        for words, y, ink in (("hold corrected", upper, style.BLUE), ("same hold", lower, style.VERMILION)):
            pen.words(x[-1] + 0.02 * right, y, words, color=ink, gid=f"{words} words", **small)
        return pen.lift()


def hit_chart(group: Dispersion, **target: Unpack[Size]) -> Drawing:
    """Chance of a hit against distance.

    Parameters
    ----------
    group : Dispersion [-]
        From `blasterlab.group`.
    **target : Quantity or str [m]
        As in `group_chart`.

    Returns
    -------
    Drawing
        The figure; `caption` has the chance at the target, and where it falls to one half [-].

    Raises
    ------
    UnitError
        No single shape of the target.
    """
    result = GroupOnTarget(group, target)
    return style.still(HitView(), result, in_words.hits(result))


def margin_chart(darts: Mapping[str, MakeUp]) -> Drawing:
    """How far the centre of pressure lies behind the centre of mass, against the angle to the air.

    Parameters
    ----------
    darts : mapping of str to MakeUp [-]
        Name -> make-up, 1 to 4 of them.

    Returns
    -------
    Drawing
        The figure; `caption` says where each dart balances [-].

    Raises
    ------
    UnitError
        No dart, or more than four.
    """
    if not 1 <= len(darts) <= 4:
        raise units.UnitError(f"darts: got {len(darts)} make-ups; one picture holds 1 to 4")
    figure, (ax,) = style.new_figure(440, 290, left=70, right=96, top=14)
    angles = np.linspace(0.0, 90.0, 46)
    ax.axhline(0.0, color=style.BLACK, linewidth=1.0)
    ends, inks = {}, {}
    for (name, dart), (colour, line, marker) in zip(darts.items(), style.CYCLE, strict=False):
        margins = [dart.static_margin(units.quantity(float(angle), "deg")) for angle in angles]
        ax.plot(angles, margins, color=colour, linestyle=line, linewidth=1.8)
        ends[name], inks[name] = margins[-1], colour
        settle = dart.wobble_angle
        if settle is not None:
            ax.plot([settle.m_as("deg")], [0.0], color=colour, marker=marker, markersize=8, linestyle="none")
    low, high = ax.get_ylim()
    gap = 0.08 * (high - low)
    for name, height in lettering.lifted(ends, gap, low + gap).items():
        ax.text(92.0, height, name, color=inks[name], fontsize=style.SMALL, va="center", fontweight="bold")
    ax.set_xlim(0.0, 90.0)
    ax.set_ylim(low, high)
    ax.set_xticks([0, 15, 30, 45, 60, 75, 90])
    ax.text(0.02, 0.98, "above 0 the air turns the dart back,\nbelow 0 further away", transform=ax.transAxes,
            fontsize=style.SMALL, va="top")  # fmt: skip
    style.dress(ax, "angle to the air, °", "static margin, diameters")
    figure.caption = balances(darts)
    return figure
