"""Pictures of springs: force against length, readings on a scale, what cuts do, the pull of the prime.

What it is for: `spring_diagram`, `scale_readings`, `cut_chart` and `prime_curve` for a notebook, each with
its numbers in words, and `SpringView` and `ScaleView`, which follow a panel.  What it leaves out: every
computation; it draws results.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.artist import Artist

from blasterlab import units
from blasterlab.checks.spring_limits import ForceLine
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.parts.prime import Prime
from blasterlab.parts.spring_rate import RateFit
from blasterlab.report.scale import scale_caption
from blasterlab.report.spring import CUT_COLUMNS, cut_caption, line_caption, prime_caption
from blasterlab.tables import pd


class SpringView(Framed):
    """Force against length of one spring: preload, catch, solid, where it yields, and the energy between.

    Takes anything with a `line` (a `ForceLine`).
    """

    _labels = (("length of the spring", "length"), ("force", "force"))

    def __init__(self, width: int = style.WIDTH, height: int = 286) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, right=20)
        self._pen = Pen(self.ax)

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """Limits of both axes in display units.

        Parameters
        ----------
        result : object [-]
            With `line`.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            The limits of x and y [display unit].
        """
        far = 1.2 * style.shown(result.line.free, "length")  # room for the words beside the front stop
        high = style.shown(result.line.solid_force, "force")
        return (
            style.steady(old[0] if old else None, 0.0, far),
            style.steady(old[1] if old else None, 0.0, 1.08 * high),
        )

    def draw_live(self, result: Any) -> list[Artist]:
        """The line, its marks and the shaded energy.

        Parameters
        ----------
        result : object [-]
            With `line`.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        pen, line, ((left, right), (_, most)) = self._pen, result.line, self._frame
        free, front, catch, solid = (
            style.shown(value, "length") for value in (line.free, line.front, line.catch, line.solid)
        )
        low, high, top = (
            style.shown(value, "force") for value in (line.front_force, line.catch_force, line.solid_force)
        )
        corners = np.array([[catch, 0.0], [catch, high], [front, low], [front, 0.0]])
        pen.area(corners, facecolor=style.SKY, alpha=0.4, gid="area")
        pen.line([solid, free], [top, 0.0], color=style.BLUE, linewidth=1.8, gid="line")
        pen.line([solid, solid], [0.0, top], color=style.BLACK, linewidth=3.0)
        pen.line([front, front, np.nan, catch, catch], [0.0, low, np.nan, 0.0, high], color=style.BLUE,
                 linestyle=":", linewidth=1.0)  # fmt: skip
        said, black, edge = units.show, style.BLACK, {"markeredgecolor": style.BLACK, "markeredgewidth": 0.6}
        marks: tuple[tuple[Any, ...], ...] = (
            ("front", line.front, low, f"front stop {said(line.front_force, 'force', 3)}",
             {"color": style.GREEN, "marker": "s", "markersize": 7}),
            ("catch", line.catch, high, f"catch {said(line.catch_force, 'force', 3)}",
             {"color": style.VERMILION, "marker": "o", "markersize": 8}),
            ("set", line.set_length, style.shown(line.set_force or 0.0, "force"),
             "a new spring shortens", {"color": style.ORANGE, "marker": "^", "markersize": 8, **edge}),
            ("limit", line.limit_length, style.shown(line.limit_force or 0.0, "force"), "static limit",
             {"color": black, "marker": "X", "markersize": 8}),
        )  # fmt: skip
        there = [mark for mark in marks if mark[1] is not None]
        small: dict[str, Any] = {"fontsize": style.SMALL, "va": "center"}
        places = lettering.lifted({name: y for name, _, y, *_ in there}, 0.055 * most, 0.055 * most)
        for name, length, y, words, form in there:
            x = style.shown(length, "length")
            pen.line([x], [y], linestyle="none", gid=name, **form)
            bold: dict[str, Any] = {"fontweight": "bold", "color": style.VERMILION} if name == "catch" else {}
            pen.words(x + 0.022 * (right - left), places[name], words, gid=f"{name} words", **small, **bold)
        pen.words(solid - 0.012 * right, 0.03 * most, f"solid {said(line.solid, 'length', 3)}", rotation=90,
                  fontsize=style.SMALL, ha="right", va="bottom")  # fmt: skip
        pen.words(0.5 * (front + catch), 0.25 * (low + high), said(line.energy, "energy", 3), ha="center",
                  color=style.BLUE, fontweight="bold", **small)  # fmt: skip
        return pen.lift()


def spring_diagram(line: ForceLine) -> Drawing:
    """Force against length of a spring, with preload, catch, solid, yield, and the energy between.

    Parameters
    ----------
    line : ForceLine [SI]
        From `checks.spring_limits.force_line`.

    Returns
    -------
    Drawing
        The figure; `caption` has the numbers [-].
    """
    return style.still(SpringView(560, 350), SimpleNamespace(line=line), line_caption(line))


class ScaleView(Framed):
    """Readings on a scale: the line through them, and below it how far each reading is off."""

    def __init__(self, width: int = style.WIDTH, height: int = 350) -> None:
        self.figure, (self.ax, self.off) = style.new_figure(
            width, height, rows=2, heights=(2.2, 1.0), share_x=True, left=68, right=20
        )
        self.off.axhline(0.0, color=style.BLUE, linewidth=1.0, zorder=2.1)  # over the stems
        self._pens = Pen(self.ax), Pen(self.off)

    def frame(self, result: RateFit, old: Frame | None) -> Frame:
        """Limits of the axes in display units.

        Parameters
        ----------
        result : RateFit [-]
            What is to be drawn.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            Force, length and residual limits [display unit].
        """
        table = result.residuals
        force = style.shown(float(table["force_N"].max()), "force")
        length = style.shown(max(float(table["length_m"].max()), result.free_length.m_as("m")), "length")
        miss = max(style.shown(float(table["residual_m"].abs().max()), "length"), style.shown(1e-4, "length"))
        bound = style.steady(old[2] if old else None, 0.0, 1.1 * miss)
        return (
            style.steady(old[0] if old else None, 0.0, force),
            style.steady(old[1] if old else None, 0.0, length),
            bound,
        )

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels.

        Parameters
        ----------
        frame : tuple [display unit]
            From `frame`.
        """
        super().draw_full(frame)
        self.off.set_ylim(-frame[2][1], frame[2][1])
        style.dress(self.ax, y=style.label("length", "length"))
        style.dress(
            self.off, style.label("force on the scale", "force"), style.label("off the line", "length")
        )

    def draw_live(self, result: RateFit) -> list[Artist]:
        """Readings, line, free length and residuals.

        Parameters
        ----------
        result : RateFit [-]
            What is to be drawn.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        table = result.residuals
        force = style.shown(table["force_N"].to_numpy(), "force")
        length = units.display(table["length_m"].to_numpy(), "length")
        line = units.display(table["line_m"].to_numpy(), "length")
        miss = units.display(table["residual_m"].to_numpy(), "length")
        free = style.shown(result.free_length.m_as("m"), "length")
        (pen, off), ((_, right), (_, top), _) = self._pens, self._frame
        dots: dict[str, Any] = {"color": style.VERMILION, "marker": "o", "markersize": 6, "linestyle": "none"}
        pen.line([0.0, *force], [free, *line], color=style.BLUE, linewidth=1.6, gid="line")
        pen.line(force, length, gid="dots", **dots)
        pen.line([0.0], [free], color=style.GREEN, marker="s", markersize=7, linestyle="none")
        pen.words(0.98 * right, 0.95 * top, units.show(result.rate, "spring rate", 3), ha="right", va="top",
                  fontsize=style.FONT, color=style.BLUE, fontweight="bold")  # fmt: skip
        beside = f"  free length {units.show(result.free_length, 'length', 4)}"
        pen.words(0.015 * right, free, beside, fontsize=style.SMALL, va="bottom")
        nothing, gap = np.zeros_like(miss), np.full_like(miss, np.nan)
        off.line(force, miss, gid="misses", **dots)
        off.line(np.column_stack((force, force, gap)).ravel(), np.column_stack((nothing, miss, gap)).ravel(),
                 color=style.VERMILION, linewidth=1.0)  # fmt: skip
        return [*pen.lift(), *off.lift()]


def scale_readings(fit: RateFit) -> Drawing:
    """Readings of a spring on a scale, the fitted line, and how far each reading is off it.

    Parameters
    ----------
    fit : RateFit [-]
        From `rate_from_readings`.

    Returns
    -------
    Drawing
        Two rows; `caption` has rate, free length and the largest residual [-].
    """
    return style.still(ScaleView(560, 420), fit, scale_caption(fit))


def cut_chart(table: pd.DataFrame) -> Drawing:
    """What cutting does: rate, energy and muzzle velocity as parts of the uncut ones.

    Parameters
    ----------
    table : DataFrame [-]
        From `cut_list`.

    Returns
    -------
    Drawing
        Three curves; `caption` has the deepest cut's changes [-].
    """
    figure, (ax,) = style.new_figure(560, 340, right=96)
    off = units.display(table["cut_off_m"].to_numpy(), "length")
    for (name, column), (colour, line, mark) in zip(CUT_COLUMNS.items(), style.CYCLE, strict=False):
        percent = 100 * table[column].to_numpy()
        ax.plot(off, percent, color=colour, linestyle=line, marker=mark, markersize=4, linewidth=1.6)
        place: dict[str, Any] = {
            "xytext": (6, 0),
            "textcoords": "offset points",
            "va": "center",
            "annotation_clip": False,
        }
        words = f"{name}\n{percent[-1]:+.0f} %"
        ax.annotate(words, (off[-1], percent[-1]), fontsize=style.SMALL, color=colour, **place)
    ax.axhline(0.0, color=style.BLACK, linewidth=0.8)
    ax.set_xlim(0.0, float(off[-1]))
    style.dress(ax, style.label("cut off the free length", "length"), "change, %")
    figure.caption = cut_caption(table)
    return figure


def prime_curve(pull: Prime) -> Drawing:
    """The pull of the prime along the hand's travel, with the work below it.

    Parameters
    ----------
    pull : Prime [-]
        From `Build.prime` or `parts.prime.prime`.

    Returns
    -------
    Drawing
        The figure; `caption` has the peak, the work and the stored share [-].
    """
    figure, (ax,) = style.new_figure(560, 320)
    x = units.display(pull.curve["hand_m"].to_numpy(), "length")
    hand = units.display(pull.curve["hand_force_N"].to_numpy(), "force")
    spring = units.display(pull.curve["spring_force_N"].to_numpy(), "force")
    ax.fill_between(x, hand, color=style.SKY, alpha=0.4, linewidth=0)
    (colour, line, _), (other, dashes, _) = style.CYCLE[:2]
    ax.plot(x, hand, color=colour, linestyle=line, linewidth=1.8, label="hand")
    ax.plot(x, spring, color=other, linestyle=dashes, linewidth=1.4, label="springs alone")
    work = units.show(pull.work, "energy", 3)
    ax.text(0.6 * x[-1], 0.3 * hand[60], work, color=style.BLUE, fontweight="bold", fontsize=style.FONT)
    ax.set_xlim(0.0, 1.02 * float(x[-1]))
    ax.set_ylim(0.0, 1.12 * float(max(hand.max(), spring.max())))
    style.dress(ax, style.label("travel of the hand", "length"), style.label("force", "force"))
    style.key(ax)
    figure.caption = prime_caption(pull)
    return figure
