"""Pictures of a shot: velocity against barrel length, what happens in time, where the spring's energy goes.

What it is for: `velocity_curve`, `shot_history` and `energy_ledger` for a notebook, each with its numbers in
words, and `VelocityView`, which follows a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.patches import Polygon

from blasterlab import units
from blasterlab.figures import lettering, style
from blasterlab.figures.redrawn import Framed
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

    def __init__(self, width: int = 480, height: int = 330) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height, top=44)
        ax, small = self.ax, dict[str, Any](fontsize=style.SMALL, va="bottom")
        box = ax.get_position()
        self._size = (box.width * width, box.height * height)
        self._range = Polygon(np.zeros((3, 2)), facecolor=style.BLUE, alpha=0.22, linewidth=0, gid="range")
        ax.add_patch(self._range)
        (self._cap,) = ax.plot([], [], color=style.VERMILION, linestyle="-.", linewidth=1.3, gid="cap")
        self._cap_text = ax.text(0, 0, "", transform=ax.transAxes, color=style.VERMILION, gid="cap words",
                                 fontsize=style.SMALL)  # fmt: skip
        self._band = ax.axvspan(0.0, 1.0, facecolor=style.SKY, alpha=0.35, linewidth=0, gid="band")
        (self._edges,) = ax.plot([], [], linestyle="none", marker="|", markersize=9, color=style.BLUE)
        (self._curve,) = ax.plot([], [], color=style.BLUE, linewidth=1.8, gid="curve")
        (self._best,) = ax.plot([], [], color=style.BLACK, linestyle="--", linewidth=1.0, gid="best")
        (self._here,) = ax.plot([], [], "o", color=style.VERMILION, markersize=8, gid="here")
        self._best_text = ax.text(0, 1.0, "", transform=ax.get_xaxis_transform(), gid="best words", **small)
        self._key = ax.text(0.0, 1.08, "", transform=ax.transAxes, gid="band words", **small)
        self._here_text = ax.text(0, 0, "", transform=ax.transAxes, fontsize=style.FONT,
                                  color=style.VERMILION, fontweight="bold", gid="here words")  # fmt: skip

    def frame(self, result: SweptShot, old: Frame | None) -> Frame:
        """Limits of both axes, given those in use [display unit]."""
        longest = float(style.shown(result.sweep.lengths[-1], "length"))
        top = 1.12 * style.shown(result.sweep.best_velocity, "speed")  # the range has room above the curve
        if result.cap is not None:
            top = max(top, min(1.1 * style.shown(result.cap.speed, "speed"), 2.0 * top))
        return (0.0, longest), style.steady(old[1] if old else None, 0.0, top)

    def draw_live(self, result: SweptShot) -> list[Artist]:
        """Curve, band, best length and present barrel, in drawing order."""
        sweep, shot, (right, high) = result.sweep, result.shot, (end for _, end in self._frame)
        best, top = style.shown(sweep.best_length, "length"), style.shown(sweep.best_velocity, "speed")
        here = (style.shown(shot.build.barrel.length, "length"), style.shown(shot.muzzle_velocity, "speed"))
        low, long = (style.shown(end, "length") for end in sweep.flat_range(0.01))
        lengths, speeds = sweep.smooth()
        lengths, speeds = style.shown(lengths, "length"), style.shown(speeds, "speed")
        self._band.set_x(low)
        self._band.set_width(long - low)
        self._edges.set_data([low, long], [0.99 * top, 0.99 * top])
        self._curve.set_data(lengths, np.where(speeds > 0.0, speeds, np.nan))  # a gap: the dart stays in
        self._best.set_data([best, best], [0.08 * high, top])  # clear of the words below
        self._here.set_data([here[0]], [here[1]])
        self._best_text.set_text(barrel_length.best(sweep))
        side = "left" if best < 0.25 * right else "right" if best > 0.75 * right else "center"
        self._best_text.set(x=best, ha=side)
        self._here_text.set_text(words.here(shot))
        edge, gap = 0.02 * high, (np.nan, np.nan)
        ticks = [(x, 0.99 * top + dy) for x in (low, long) for dy in (-edge, edge)]
        marks = [gap, (best, 0.08 * high), (best, top), gap, *ticks[:2], gap, *ticks[2:]]
        self._draw_range(result)
        lines = np.vstack([self._curve.get_xydata(), marks, *self._draw_cap(result)])
        scale = np.array(self._size) / (right, high)
        spot = (here[0] * scale[0], here[1] * scale[1])
        lettering.place_beside(self._here_text, spot, self._size, lines * scale, style.DPI)
        if result.cap is not None:
            edge = (self._size[0], style.shown(result.cap.speed, "speed") * scale[1])
            lettering.place_beside(self._cap_text, edge, self._size, lines * scale, style.DPI)
        return [self._range, self._band, self._cap, self._curve, self._edges, self._best, self._here,
                self._key, self._best_text, self._here_text, self._cap_text]  # fmt: skip

    def _draw_range(self, result: SweptShot) -> None:
        """The range of the speeds at all lengths, and what is shaded."""
        self._key.set_text(barrel_length.shaded(result.near))
        if result.band is None:
            self._range.set_xy(np.zeros((3, 2)))
            return
        lengths, *ends = result.band
        x, (low, high) = style.shown(lengths, "length"), (style.shown(end, "speed") for end in ends)
        edges = [np.column_stack([x, low]), np.column_stack([x, high])[::-1]]
        self._range.set_xy(np.vstack(edges))

    def _draw_cap(self, result: SweptShot) -> list[Any]:
        """The cap as a line; gives it for the words."""
        speed = style.shown(result.cap.speed, "speed") if result.cap else np.nan
        self._cap_text.set_text(caps.cap_label(result.cap.rules) if result.cap else "")
        self._cap.set_data([0.0, self._frame[0][1]], [speed, speed])
        return [(np.nan, np.nan), (0.0, speed), (self._frame[0][1], speed)] if result.cap else []


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
