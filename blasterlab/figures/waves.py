"""Pictures of waves in one shot: pressure in space and time, the plunger with and without spring waves.

What it is for: `pressure_field` and `spring_wave` for a notebook, each with its numbers in words.  What it
leaves out: every computation; it draws results.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.style import Drawing
from blasterlab.report import waves as words
from blasterlab.waves.second_opinion import SpringWaveShot, WaveShot


def pressure_field(shot: WaveShot) -> Drawing:
    """Pressure in the chamber and the barrel against place and time, with the plunger's and the dart's path.

    Parameters
    ----------
    shot : WaveShot [-]
        From `wave_shot`.

    Returns
    -------
    Drawing
        Two maps side by side with one scale of colours; `caption` has velocity and pressures [-].
    """
    time, places, field = shot.field
    history = shot.history
    figure, axes = style.new_figure(480, 360, columns=2, left=56, right=70, top=30, bottom=46, gap=(20, 28))
    ms = 1e3 * time
    shown = np.asarray(units.display(field, "pressure"))
    low, high = float(np.nanmin(shown)), float(np.nanmax(shown))
    first = places[1][0] - 0.5 * (places[1][1] - places[1][0])
    dead = float(shot.build.si["barrel.dead_volume"]) / (np.pi / 4.0 * shot.build.si["barrel.bore"] ** 2)
    image: Any = None
    for c, (ax, tube, name, shift, called) in enumerate(
        (
            (axes[0], "chamber", "plunger_travel_m", 0.0, "plunger"),
            (axes[1], "barrel", "dart_travel_m", first + dead, "dart"),
        )
    ):
        x = np.asarray(units.display(places[c], "length"))
        half = 0.5 * (x[1] - x[0])
        image = ax.imshow(shown[:, c, :], origin="lower", aspect="auto", cmap="cividis", vmin=low, vmax=high,
                          interpolation="nearest",
                          extent=(x[0] - half, x[-1] + half, ms[0], ms[-1]))  # fmt: skip
        path = np.asarray(units.display(history[name].to_numpy() + shift, "length"))
        ax.plot(path, ms, color=style.VERMILION, linewidth=1.6, linestyle="--")
        middle = len(path) * 2 // 3
        ax.annotate(called, (path[middle], ms[middle]), (-6, 6), textcoords="offset points", ha="right",
                    fontsize=style.SMALL, color=style.VERMILION, fontweight="bold")  # fmt: skip
        ax.grid(False)
        style.dress(ax, style.label("place", "length"), "" if c else "time, ms", tube)
    axes[1].tick_params(labelleft=False)
    box = axes[1].get_position()
    colours = figure.add_axes((box.x1 + 0.02, box.y0, 0.025, box.height))
    figure.colorbar(image, cax=colours)
    colours.tick_params(labelsize=style.SMALL)
    colours.set_title(units.show_unit("pressure"), fontsize=style.SMALL, loc="left")
    figure.caption = words.pressure_field(shot)
    return figure


def spring_wave(shot: SpringWaveShot) -> Drawing:
    """The plunger's speed in time, with spring waves and in the shot model.

    Parameters
    ----------
    shot : SpringWaveShot [-]
        From `spring_wave_shot`.

    Returns
    -------
    Drawing
        Two curves; `caption` has both muzzle velocities and the wave's transit [-].
    """
    figure, (ax,) = style.new_figure(480, 320, right=20)
    for history, (colour, line, _), called in (
        (shot.history, style.CYCLE[0], "spring as a chain"),
        (shot.shot_model.history, style.CYCLE[1], "shot model"),
    ):
        speed = np.asarray(units.display(history.plunger_speed_m_s.to_numpy(), "speed"))
        ms = 1e3 * history.index.to_numpy()
        ax.plot(ms, speed, color=colour, linestyle=line, linewidth=1.6, label=called)
    echo = 2.0 * float(shot.transit.m_as("ms"))
    for n in range(1, int(1e3 * shot.history.index[-1] / echo) + 1):
        ax.axvline(n * echo, color=style.BLACK, linestyle=":", linewidth=0.9)
        ax.text(n * echo, 0.02, f" echo {n}", transform=ax.get_xaxis_transform(), fontsize=style.SMALL,
                va="bottom")  # fmt: skip
    ax.legend(loc="upper left", frameon=False, fontsize=style.SMALL, handlelength=3.2)
    style.dress(ax, "time, ms", style.label("plunger speed", "speed"))
    figure.caption = words.spring_wave(shot)
    return figure
