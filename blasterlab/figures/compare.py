"""Builds side by side: their curves overlaid, and the difference between two shared out in bars.

What it is for: `compare_chart` and `share_chart` for a notebook, and `CompareView`, which follows a panel.
What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from textwrap import wrap
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.lines import Line2D

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.redrawn import Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.plan.compare import BuildComparison
from blasterlab.report import compare as words


class CompareView:
    """Velocity against barrel length above, pull against travel below, a curve for each build.

    A bar at each build's own barrel is the range of its mean velocity.

    Parameters
    ----------
    width, height : int [px]
        Size of the picture.
    """

    def __init__(self, width: int = style.WIDTH, height: int = 430) -> None:
        self.figure, (speed, pull) = style.new_figure(width, height, rows=2, gap=(60, 64))
        self._pens = Pen(speed), Pen(pull)

    def frame(self, result: BuildComparison, old: Frame | None) -> Frame:
        """Limits of both axes of both pictures, given those in use, and the builds' names [display unit]."""
        speeds, pulls, _, bars = zip(*_curves(result), strict=True)
        ends = [end for each in (speeds + bars, pulls) for end in np.nan_to_num(np.hstack(each)).max(axis=1)]
        known = old[0] if old else [None] * 4
        limits = [style.steady(was, 0.0, float(end)) for was, end in zip(known, ends, strict=True)]
        return tuple(limits), tuple(words.names(result))

    def draw_full(self, frame: Frame) -> None:
        """Limits, labels and the builds' names, from `frame`."""
        speed, pull = (pen.ax for pen in self._pens)
        for ax, x, y in zip((speed, pull), frame[0][::2], frame[0][1::2], strict=True):
            ax.set(xlim=x, ylim=y)
        style.dress(speed, style.label("barrel length", "length"), style.label("muzzle velocity", "speed"))
        style.dress(pull, style.label("plunger drawn back", "length"), style.label("pull", "force"))
        looks: Any = ({"color": colour, "linestyle": line} for colour, line, _ in style.CYCLE)
        keys = [Line2D([], [], **look) for look in looks]
        pull.legend(keys[: len(frame[1])], frame[1], loc="upper left", frameon=False, fontsize=style.SMALL)

    def draw_live(self, result: BuildComparison) -> list[Artist]:
        """The curves, the builds' own speeds and the ranges of the mean, in drawing order."""
        speed, pull = self._pens
        for curves, (colour, line, mark) in zip(_curves(result), style.CYCLE, strict=False):
            speeds, pulls, here, bar = curves
            speed.line(*speeds, color=colour, linestyle=line)
            pull.line(*pulls, color=colour, linestyle=line)
            speed.line(*here, mark, color=colour, markersize=8, zorder=2.1)
            speed.line(*bar, marker="_", markersize=9, color=colour, zorder=2.2)
        return [*speed.lift(), *pull.lift()]


def _curves(found: BuildComparison) -> list[tuple[Any, ...]]:
    """For each build its velocity against length, its pull, its barrel, its range, (x, y) [display unit]."""
    curves = []
    told = zip(found.builds, found.shots, found.sweeps, found.expected, strict=True)
    for build, shot, sweep, mean in told:
        lengths, speeds = sweep.smooth() if sweep else (np.array([0.0]), np.array([0.0]))
        speeds = np.where(speeds > 0.0, speeds, np.nan)  # a gap: the dart stays in
        pull, here = build.prime.curve, (build.barrel.length, shot.muzzle_velocity)
        ends = [] if mean is None else [mean.mean_low.m_as("m/s"), mean.mean_high.m_as("m/s")]
        bar = np.full(len(ends), build.si["barrel.length"]), np.array(ends)
        pairs = ((lengths, speeds), (pull["hand_m"].to_numpy(), pull["hand_force_N"].to_numpy()), here, bar)
        kinds = (("length", "speed"), ("length", "force"), ("length", "speed"), ("length", "speed"))
        shown = [
            [style.shown(v, k) for v, k in zip(*both, strict=True)] for both in zip(pairs, kinds, strict=True)
        ]
        curves.append(tuple(np.array(pair).reshape(2, -1) for pair in shown))
    return curves


def compare_chart(found: BuildComparison) -> Drawing:
    """Builds overlaid: velocity against barrel length with a mark at each barrel, and the pull.

    Parameters
    ----------
    found : BuildComparison [-]
        From `bl.compare_builds`.

    Returns
    -------
    Drawing
        The figure; `caption` has the speeds [-].
    """
    return style.still(CompareView(), found, words.caption(found))


def share_chart(found: BuildComparison, place: int = 1) -> Drawing:
    """What made the difference between the first build and another one: a bar for each change.

    Parameters
    ----------
    found : BuildComparison [-]
        From `bl.compare_builds`.
    place : int [-]
        Which other one, from 1.

    Returns
    -------
    Drawing
        One bar a change, the largest on top, the whole below; `caption` has the whole and the largest [-].

    Raises
    ------
    UnitError
        No such place.
    """
    if not 1 <= place < len(found.builds):
        raise units.UnitError(f"place: got {units.shown(place)}; must be from 1 to {len(found.builds) - 1}")
    told, whole = words.shares(found, place)
    rows = [*told, ("together", whole)][::-1]
    ends = [float(said.split()[0]) for _, said in rows]
    figure, (ax,) = style.new_figure(480, 70 + 28 * len(rows), left=190, right=20, top=12)
    for row, ((_, said), end) in enumerate(zip(rows, ends, strict=True)):
        colour, hatch = (
            (style.PALE, "..") if row == 0 else (style.SKY, None) if end >= 0 else (style.ORANGE, "//")
        )
        ax.barh(row, end, 0.66, color=colour, edgecolor=style.BLACK, linewidth=0.6, hatch=hatch)
        ax.text(end, row, f" {said} ", va="center", ha="left" if end >= 0 else "right", fontsize=style.SMALL)
    low, high = min(*ends, 0.0), max(*ends, 0.0)
    room = 0.55 * max(high, -low, 1e-3)  # for the words beside a bar
    ax.set_xlim(low - room * (low < 0), high + room * (high > 0 or low == 0))
    ax.set_yticks(range(len(rows)), ["\n".join(wrap(name, 30)) for name, _ in rows])
    ax.grid(False, axis="y")
    ax.axvline(0.0, color=style.BLACK, linewidth=0.8)
    style.dress(ax, x=style.label("change of muzzle velocity", "speed"))
    figure.caption = words.share_caption(found, place)
    return figure
