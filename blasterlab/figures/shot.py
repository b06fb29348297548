"""Pictures of a shot: velocity against barrel length, what happens in time, where the spring's energy goes.

What it is for: `velocity_curve`, `shot_history` and `energy_ledger` for a notebook, each with its numbers in
words, and `VelocityView`, which follows a panel.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.artist import Artist

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.style import Drawing, Frame
from blasterlab.report.shot import reason
from blasterlab.shot.ledger import net_ledger


@dataclass(frozen=True)
class SweptShot:
    """A shot, and the sweep of barrel lengths of the same build: what `VelocityView` draws.

    Parameters
    ----------
    shot : Shot [-]
        From `simulate`.
    sweep : BarrelSweep [-]
        From `barrel_sweep`.
    """

    shot: Any
    sweep: Any


class VelocityView:
    """Muzzle velocity against barrel length: the best length, its 1 % band, and the barrel as it is.

    Parameters
    ----------
    width, height : int [px]
        Size of the picture.
    """

    def __init__(self, width: int = 480, height: int = 330) -> None:
        self.figure, (self.ax,) = style.new_figure(width, height)
        ax, over = self.ax, self.ax.get_xaxis_transform()
        self._band = ax.axvspan(0.0, 1.0, facecolor=style.SKY, alpha=0.35, linewidth=0, gid="band")
        (self._edges,) = ax.plot([], [], linestyle="none", marker="|", markersize=9, color=style.BLUE)
        (self._curve,) = ax.plot([], [], color=style.BLUE, linewidth=1.8, gid="curve")
        (self._best,) = ax.plot([], [], color=style.BLACK, linestyle="--", linewidth=1.0, gid="best")
        (self._here,) = ax.plot(
            [], [], color=style.VERMILION, marker="o", markersize=8, linestyle="none", gid="here"
        )
        self._best_text = ax.text(
            0, 1.0, "", transform=over, fontsize=style.SMALL, va="bottom", gid="best words"
        )
        ax.text(0.02, 0.02, "shaded: within 1 %", transform=ax.transAxes, fontsize=style.SMALL, va="bottom")
        self._here_text = ax.text(
            0, 0, "", fontsize=style.FONT, color=style.VERMILION, fontweight="bold", gid="here words"
        )
        self._frame: Frame = ((0.0, 1.0), (0.0, 1.0))

    def frame(self, result: SweptShot, old: Frame | None) -> Frame:
        """Limits of both axes.

        Parameters
        ----------
        result : SweptShot [-]
            What is to be drawn.
        old : tuple or None [display unit]
            The limits in use.

        Returns
        -------
        tuple
            The limits of x and of y [display unit].
        """
        longest = float(units.display(result.sweep.lengths[-1], "length"))
        top = _shown(result.sweep.best_velocity, "speed")
        return (0.0, longest), style.steady(old[1] if old else None, 0.0, top)

    def draw_full(self, frame: Frame) -> None:
        """Limits and labels.

        Parameters
        ----------
        frame : tuple [display unit]
            From `frame`.
        """
        self._frame = frame
        self.ax.set_xlim(*frame[0])
        self.ax.set_ylim(*frame[1])
        style.dress(self.ax, style.label("barrel length", "length"), style.label("muzzle velocity", "speed"))

    def draw_live(self, result: SweptShot) -> list[Artist]:
        """Curve, band, best length and present barrel.

        Parameters
        ----------
        result : SweptShot [-]
            What is to be drawn.

        Returns
        -------
        list of Artist
            In drawing order [-].
        """
        sweep, shot, high = result.sweep, result.shot, self._frame[1][1]
        best, top = _shown(sweep.best_length, "length"), _shown(sweep.best_velocity, "speed")
        here, speed = _shown(shot.build.barrel.length, "length"), _shown(shot.muzzle_velocity, "speed")
        low, long = (_shown(end, "length") for end in sweep.flat_range(0.01))
        self._band.set_x(low)
        self._band.set_width(long - low)
        self._edges.set_data([low, long], [0.99 * top, 0.99 * top])
        self._curve.set_data(*_curve(sweep))
        self._best.set_data([best, best], [0.08 * high, top])  # clear of the words below
        self._here.set_data([here], [speed])
        self._put(self._best_text, best, best_words(sweep))
        self._put(
            self._here_text, here, units.show(shot.muzzle_velocity, "speed", 3) if shot.exited else "stays in"
        )
        span = self._frame[0][1]
        if 0.15 < here / span < 0.85:  # clear of the curve, and of the dashed line when that is near
            left = (here < best) == (abs(here - best) < 0.135 * span)
            self._here_text.set_horizontalalignment("right" if left else "left")
        above = speed < 0.2 * high
        self._here_text.set_y(speed + (0.05 if above else -0.05) * high)
        self._here_text.set_verticalalignment("bottom" if above else "top")
        return [
            self._band,
            self._curve,
            self._edges,
            self._best,
            self._here,
            self._best_text,
            self._here_text,
        ]

    def _put(self, text: Any, x: float, words: str) -> None:
        """Words at a place, aligned so that they stay inside the axes."""
        share = x / self._frame[0][1]
        text.set_x(x)
        text.set_text(words)
        text.set_horizontalalignment("left" if share < 0.25 else "right" if share > 0.75 else "center")


def _shown(value: Any, kind: str) -> float:
    return float(units.display(units.si(value, kind), kind))


def _curve(sweep: Any) -> tuple[Any, Any]:
    """Lengths and velocities in display units, smooth where every dart leaves; a gap where one stays in."""
    lengths, speeds = sweep.smooth()
    return units.display(lengths, "length"), units.display(np.where(speeds > 0.0, speeds, np.nan), "speed")


def best_words(sweep: Any) -> str:
    """The best length in words, or that it lies beyond the lengths that were looked at.

    Parameters
    ----------
    sweep : BarrelSweep [-]
        From `barrel_sweep`.

    Returns
    -------
    str
        Such as ``"best 332 mm, 61.2 m/s"`` [-].
    """
    length, speed = units.show(sweep.best_length, "length", 3), units.show(sweep.best_velocity, "speed", 3)
    if sweep.at_end:
        longest = units.si(sweep.best_length, "length") > 0.5 * (sweep.lengths[0] + sweep.lengths[-1])
        return f"{'still rising' if longest else 'falling already'} at {length}"
    return f"best {length}, {speed}"


def velocity_curve(sweep: Any, shot: Any) -> Drawing:
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
    short, long = (units.show(end, "length", 3) for end in sweep.flat_range(0.01))
    here, speed = units.show(shot.build.barrel.length, "length", 3), units.show(shot.muzzle_velocity, "speed")
    caption = (
        f"Muzzle velocity against barrel length: {best_words(sweep)}; within 1 % from {short} to {long}; "
        f"this barrel, {here}: {speed}"
    )
    return style.still(VelocityView(), SweptShot(shot, sweep), caption)


def shot_history(shot: Any) -> Drawing:
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
    rows = (
        (
            "pressure",
            "pressure",
            {"chamber, absolute": "chamber_pressure_Pa", "behind the dart": "barrel_pressure_Pa"},
        ),
        ("travel", "length", {"plunger": "plunger_travel_m", "dart": "dart_travel_m"}),
        ("speed", "speed", {"plunger": "plunger_speed_m_s", "dart": "dart_speed_m_s"}),
    )
    for ax, (name, kind, curves) in zip(axes, rows, strict=True):
        for (words, column), (colour, line, _) in zip(curves.items(), style.CYCLE, strict=False):
            shown = units.display(table[column].to_numpy(), kind)
            ax.plot(time, shown, color=colour, linestyle=line, linewidth=1.6, label=words)
        if kind == "pressure":
            ambient = float(units.display(shot.build.si["air.pressure"], kind))
            ax.axhline(ambient, color=style.GREY, linestyle=":", linewidth=1.0, label="ambient")
        style.dress(ax, y=style.label(name, kind))
        style.key(ax)
    axes[0].set_xlim(0.0, time[-1])
    style.dress(axes[-1], x=style.label("time from the release", "time"))
    when, speed = units.show(shot.exit_time, "time"), units.show(shot.muzzle_velocity, "speed")
    lowest = units.show(float(table["barrel_pressure_Pa"].min()), "pressure")
    figure.caption = (
        f"Peak {units.show(shot.peak_pressure, 'pressure')} absolute; "
        + (f"the dart leaves after {when} with {speed}" if shot.exited else reason(shot))
        + f"; lowest pressure behind it {lowest}"
    )
    return figure


def energy_ledger(shot: Any) -> Drawing:
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
    entries = sorted(
        net_ledger(shot.parameters, shot.outcome, shot.state).items(), key=lambda entry: entry[1]
    )
    put_in = float(shot.energy_in.m_as("J"))
    figure, (ax,) = style.new_figure(480, 64 + 26 * len(entries), left=112, right=100, top=12)
    for row, (name, value) in enumerate(entries):
        shown = float(units.display(value, "energy"))
        useful = name == "dart"
        ax.barh(row, shown, 0.66, color=style.VERMILION if useful else style.SKY, edgecolor=style.BLACK,
                linewidth=0.6, hatch="//" if useful else None)  # fmt: skip
        words = f" {units.show(value, 'energy', 3)}{_share(value, put_in)}"
        ax.text(max(shown, 0.0), row, words, va="center", fontsize=style.SMALL)
    ax.set_yticks(range(len(entries)), [name for name, _ in entries])
    ax.grid(False, axis="y")
    ax.axvline(0.0, color=style.BLACK, linewidth=0.8)
    style.dress(ax, x=style.label("energy", "energy"))
    if put_in > 0.0:
        top = ", ".join(f"{name} {100 * value / put_in:.1f} %" for name, value in reversed(entries[-3:]))
        figure.caption = f"{units.show(shot.energy_in, 'energy')} put in: {top}"
    else:
        figure.caption = f"No energy was put in: {reason(shot) or 'the charge is at ambient pressure'}"
    return figure


def _share(value: float, put_in: float) -> str:
    """A share of the energy put in, in words; nothing where none was."""
    return f", {100 * value / put_in:.1f} %" if put_in > 0.0 else ""
