"""Pictures of a shot: velocity against barrel length, what happens in time, where the spring's energy goes.

What it is for: `velocity_curve`, `shot_history` and `energy_ledger` for a notebook, each with its numbers in
words, and `VelocityView`, which follows a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist

from blasterlab import units
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.report import barrel_length, caps
from blasterlab.report import shot as words
from blasterlab.report.barrel_length import SweptShot
from blasterlab.shot.barrel_sweep import BarrelSweep
from blasterlab.shot.simulate import Shot


class VelocityView(Framed):
    """Muzzle velocity against barrel length: the best length, its 1 % band, and the barrel as it is.

    Parameters
    ----------
    width, height : int [px]
        Size of the picture.
    """

    _labels = (("barrel length", "length"), ("muzzle velocity", "speed"))

    def __init__(self, width: int = style.WIDTH, height: int = 286) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, top=44)
        box = self.ax.get_position()
        self._size = (box.width * width, box.height * height)
        self._pen = Pen(self.ax, self.ax.transAxes)

    def frame(self, result: SweptShot, old: Frame | None) -> Frame:
        """Limits of both axes, given those in use [display unit]."""
        longest = float(style.shown(result.sweep.lengths[-1], "length"))
        top = 1.12 * style.shown(result.sweep.best_velocity, "speed")  # the range has room above the curve
        if result.cap is not None:
            top = max(top, min(1.1 * style.shown(result.cap.speed, "speed"), 2.0 * top))
        return (0.0, longest), style.steady(old[1] if old else None, 0.0, top)

    def draw_live(self, result: SweptShot) -> list[Artist]:
        """Move everything to the result, in drawing order."""
        pen, sweep, shot, (right, high) = (
            self._pen,
            result.sweep,
            result.shot,
            (end for _, end in self._frame),
        )
        best, top = style.shown(sweep.best_length, "length"), style.shown(sweep.best_velocity, "speed")
        here = (style.shown(shot.build.barrel.length, "length"), style.shown(shot.muzzle_velocity, "speed"))
        low, long = (style.shown(end, "length") for end in sweep.flat_range(0.01))
        lengths, speeds = sweep.smooth()
        lengths, speeds = style.shown(lengths, "length"), style.shown(speeds, "speed")
        curve = np.column_stack([lengths, np.where(speeds > 0.0, speeds, np.nan)])  # a gap: the dart stays in
        red, blue, small = style.VERMILION, style.BLUE, dict[str, Any](fontsize=style.SMALL)
        if result.band is not None:
            along, *ends = result.band
            x, (least, most) = style.shown(along, "length"), (style.shown(end, "speed") for end in ends)
            sides = [np.column_stack([x, least]), np.column_stack([x, most])[::-1]]
            pen.area(np.vstack(sides), facecolor=blue, alpha=0.22, gid="range")
        pen.box(low, 0.0, long - low, high, facecolor=style.SKY, alpha=0.35, linewidth=0, gid="band")
        edge, gap = 0.02 * high, (np.nan, np.nan)
        ticks = [(x, 0.99 * top + dy) for x in (low, long) for dy in (-edge, edge)]
        marks = [gap, (best, 0.08 * high), (best, top), gap, *ticks[:2], gap, *ticks[2:]]
        said = [(here, words.here(shot), {"fontsize": style.FONT, "fontweight": "bold", "gid": "here words"})]
        if result.cap is not None:
            speed = style.shown(result.cap.speed, "speed")
            marks += [gap, (0.0, speed), (right, speed)]
            said.append(((right, speed), caps.cap_label(result.cap.rules), small | {"gid": "cap words"}))
            pen.line([0.0, right], [speed, speed], color=red, linestyle="-.", linewidth=1.3, gid="cap")
        pen.line(*curve.T, color=blue, linewidth=1.8, gid="curve")
        pen.line(
            [low, long], [0.99 * top, 0.99 * top], linestyle="none", marker="|", markersize=9, color=blue
        )
        # its foot is clear of the words below
        pen.line(
            [best, best], [0.08 * high, top], color=style.BLACK, linestyle="--", linewidth=1.0, gid="best"
        )
        pen.line([here[0]], [here[1]], "o", color=red, markersize=8, gid="here")
        small["va"] = "bottom"
        shaded = barrel_length.shaded(result.near)
        pen.words(-52.0 / self._size[0], 1.08, shaded, gid="band words", **small)  # from the picture's edge
        side = "left" if best < 0.25 * right else "right" if best > 0.75 * right else "center"
        written = pen.words(best / right, 1.0, barrel_length.best(sweep), gid="best words", **small)
        written.set(ha=side)
        scale = np.array(self._size) / (right, high)
        lines = np.vstack([curve, marks]) * scale
        for (x, y), text, look in said:
            spot = x * scale[0], y * scale[1]
            written = pen.words(0.0, 0.0, text, color=red, **look)
            lines = lettering.place_beside(written, spot, self._size, lines, style.DPI)
        return pen.lift()


def velocity_curve(sweep: BarrelSweep, shot: Shot) -> Drawing:
    """Muzzle velocity against barrel length: the best length, its 1 % band, and the barrel as it is.

    Parameters
    ----------
    sweep : BarrelSweep [-]
        From `barrel_sweep`.
    shot : Shot [-]
        From `simulate`, of the same build.

    Returns
    -------
    Drawing
        The figure; `caption` has the numbers [-].
    """
    return style.still(VelocityView(), SweptShot(shot, sweep), barrel_length.caption(sweep, shot))


#: Rows of `shot_history`: what is drawn, its kind, and columns of the history by the curve's name.
_ROWS: tuple[tuple[str, str, dict[str, str]], ...] = (
    (
        "pressure",
        "pressure",
        {"chamber, absolute": "chamber_pressure_Pa", "behind the dart": "barrel_pressure_Pa"},
    ),
    ("travel", "length", {"plunger": "plunger_travel_m", "dart": "dart_travel_m"}),
    ("speed", "speed", {"plunger": "plunger_speed_m_s", "dart": "dart_speed_m_s"}),
)


def shot_history(shot: Shot) -> Drawing:
    """Pressures, positions and speeds of plunger and dart against time.

    Parameters
    ----------
    shot : Shot [-]
        From `simulate`.

    Returns
    -------
    Drawing
        Three rows with one time axis; `caption` has the peak pressure, the exit time and the speeds [-].
    """
    table = shot.history
    time = units.display(table.index.to_numpy(), "time")
    figure, axes = style.new_figure(480, 500, rows=3, share_x=True, gap=(60, 34))
    for ax, (name, kind, curves) in zip(axes, _ROWS, strict=True):
        for (curve, column), (colour, line, _) in zip(curves.items(), style.CYCLE, strict=False):
            shown = units.display(table[column].to_numpy(), kind)
            ax.plot(time, shown, color=colour, linestyle=line, linewidth=1.6, label=curve)
        if kind == "pressure":
            ambient = float(units.display(shot.build.si["air.pressure"], kind))
            ax.axhline(ambient, color=style.GREY, linestyle=":", linewidth=1.0, label="ambient")
        style.dress(ax, y=style.label(name, kind))
        style.key(ax)
    axes[0].set_xlim(0.0, time[-1])
    style.dress(axes[-1], x=style.label("time from the release", "time"))
    figure.caption = words.history_caption(shot)
    return figure


def energy_ledger(shot: Shot) -> Drawing:
    """Where the energy of a shot went, as bars that sum to what was put in.

    Parameters
    ----------
    shot : Shot [-]
        From `simulate`.

    Returns
    -------
    Drawing
        One bar an entry, the largest on top; `caption` has the total and the three largest shares [-].
    """
    entries = words.energy_rows(shot)[::-1]
    figure, (ax,) = style.new_figure(480, 64 + 26 * len(entries), left=112, right=100, top=12)
    for row, (name, value, said) in enumerate(entries):
        shown = float(units.display(value, "energy"))
        colour, hatch = (style.VERMILION, "//") if name == "dart" else (style.SKY, None)
        ax.barh(row, shown, 0.66, color=colour, edgecolor=style.BLACK, linewidth=0.6, hatch=hatch)
        ax.text(max(shown, 0.0), row, f" {said}", va="center", fontsize=style.SMALL)
    ax.set_yticks(range(len(entries)), [name for name, *_ in entries])
    ax.grid(False, axis="y")
    ax.axvline(0.0, color=style.BLACK, linewidth=0.8)
    style.dress(ax, x=style.label("energy", "energy"))
    figure.caption = words.energy_caption(shot)
    return figure
