"""Pictures of how far to trust the model: errors over the grid, pressure in space and time, spring waves.

What it is for: `trust_curves`, `trust_map`, `pressure_field`, `spring_trust` and `spring_wave` for a
notebook, each with its numbers in words.  What it leaves out: every computation; it draws results.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.figures import style
from blasterlab.figures.style import Drawing

LIMIT = 2.0  # percent, the line beyond which an error is called large
_NAMES = {
    "plain": "neither correction",
    "lagrange": "Lagrange's gas inertia",
    "ahead": "air ahead of the dart",
    "both": "both, the default",
}


def trust_curves(table: Any) -> Drawing:
    """For each variant of the lumped model, the share of builds whose velocity error stays below a size.

    Parameters
    ----------
    table : DataFrame [-]
        From `model_grid`.

    Returns
    -------
    Drawing
        One step curve a variant; `caption` has the shares within 2 % [-].
    """
    figure, (ax,) = style.new_figure(480, 330, right=20)
    share = 100.0 * np.arange(1, len(table) + 1) / len(table)
    words = []
    for (name, called), (colour, line, marker) in zip(_NAMES.items(), style.CYCLE, strict=False):
        error = np.sort(np.abs(table[f"{name}_error"].to_numpy()))
        ax.plot(error, share, linestyle=line, color=colour, marker=marker, markevery=12, markersize=5,
                linewidth=1.6, label=called)  # fmt: skip
        words.append(f"{called} {100.0 * np.mean(error <= LIMIT):.0f} %")
    ax.axvline(LIMIT, color=style.BLACK, linestyle="--", linewidth=1.0)
    ax.text(LIMIT, 2.0, " 2 %", fontsize=style.SMALL, va="bottom")
    ax.set_xlim(0.0, 5.0)
    ax.set_ylim(0.0, 102.0)
    ax.legend(loc="lower right", frameon=False, fontsize=style.SMALL, handlelength=3.2)
    style.dress(ax, "size of the error in muzzle velocity, %", "builds with no larger error, %")
    figure.caption = f"share of {len(table)} builds within 2 %: " + ", ".join(words)
    return figure


def trust_map(table: Any) -> Drawing:
    """The default's error in muzzle velocity against how over-long the barrel is.

    Parameters
    ----------
    table : DataFrame [-]
        From `model_grid`.

    Returns
    -------
    Drawing
        One dot a build, with and without the corrections; `caption` has the worst builds in words [-].
    """
    figure, (ax,) = style.new_figure(480, 340, top=44, right=20)
    x = table.over_long.to_numpy()
    plain, both = table.plain_error.to_numpy(), table.both_error.to_numpy()
    edge = 7.0
    ax.axhspan(-LIMIT, LIMIT, facecolor=style.PALE, alpha=0.6, linewidth=0)
    for error, colour, marker, called in (
        (plain, style.VERMILION, "x", _NAMES["plain"]),
        (both, style.BLUE, "o", _NAMES["both"]),
    ):
        inside = np.clip(error, -edge, edge)
        hollow = "none" if marker == "o" else colour
        ax.scatter(x, inside, s=26, marker=marker, facecolors=hollow if marker == "o" else colour,
                   edgecolors=colour if marker == "o" else None, linewidths=1.2, label=called)  # fmt: skip
        for at, value in zip(x, error, strict=True):
            if abs(value) > edge and marker == "o":
                ax.annotate(f"{value:.0f} %", (at, np.sign(value) * edge), (0, -12), ha="center",
                            textcoords="offset points", fontsize=style.SMALL)  # fmt: skip
    ax.axhline(0.0, color=style.BLACK, linewidth=0.8)
    ax.set_ylim(min(-4.0, 1.1 * max(both.min(), plain.min(), -edge)), edge + 0.6)
    ax.set_xlim(0.0, max(1.05 * x.max(), 2.0))
    style.key(ax)
    style.dress(ax, "barrel over its best length", "lumped / wave velocity, error in %")
    far = table[np.abs(both) > LIMIT]
    figure.caption = (
        f"{len(far)} of {len(table)} builds beyond 2 % with both corrections, "
        f"{int((np.abs(plain) > LIMIT).sum())} with neither"
    )
    if (out := int((np.abs(plain) > edge).sum())) > 0:
        figure.caption += f" ({out} of these lie beyond {edge:.0f} % and are drawn at the edge)"
    if len(far):
        figure.caption += (
            f"; the former have barrels of {far.over_long.min():.1f} times the best length or more"
        )
    return figure


def pressure_field(shot: Any) -> Drawing:
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
    image: Any = None
    for c, (ax, title) in enumerate(zip(axes, ("chamber", "barrel"), strict=True)):
        x = np.asarray(units.display(places[c], "length"))
        half = 0.5 * (x[1] - x[0])
        image = ax.imshow(shown[:, c, :], origin="lower", aspect="auto", cmap="cividis", vmin=low, vmax=high,
                          interpolation="nearest",
                          extent=(x[0] - half, x[-1] + half, ms[0], ms[-1]))  # fmt: skip
        ax.grid(False)
        style.dress(ax, style.label("place", "length"), "time, ms" if c == 0 else "", title)
        if c:
            ax.tick_params(labelleft=False)
    start = shot.field[1][1][0] - 0.5 * (shot.field[1][1][1] - shot.field[1][1][0])
    dead = float(shot.build.si["barrel.dead_volume"]) / (np.pi / 4.0 * shot.build.si["barrel.bore"] ** 2)
    for ax, name, shift, called in (
        (axes[0], "plunger_travel_m", 0.0, "plunger"),
        (axes[1], "dart_travel_m", start + dead, "dart"),
    ):
        path = np.asarray(units.display(history[name].to_numpy() + shift, "length"))
        ax.plot(path, 1e3 * history.index.to_numpy(), color=style.VERMILION, linewidth=1.6, linestyle="--")
        middle = len(path) * 2 // 3
        ax.annotate(called, (path[middle], ms[middle]), (-6, 6), textcoords="offset points", ha="right",
                    fontsize=style.SMALL, color=style.VERMILION, fontweight="bold")  # fmt: skip
    box = axes[1].get_position()
    colours = figure.add_axes((box.x1 + 0.02, box.y0, 0.025, box.height))
    figure.colorbar(image, cax=colours)
    colours.tick_params(labelsize=style.SMALL)
    colours.set_title(units.show_unit("pressure"), fontsize=style.SMALL, loc="left")
    base = history.base_pressure_Pa
    figure.caption = (
        f"waves: {units.show(shot.muzzle_velocity, 'speed')}, chamber up to "
        f"{units.show(shot.peak_pressure, 'pressure')}; the dart's tail sees "
        f"{units.show(base.max(), 'pressure')} at most and "
        f"{units.show(base.iloc[-1], 'pressure')} at the muzzle"
    )
    return figure


def spring_trust(table: Any) -> Drawing:
    """What the effective mass of the spring misses, against the spring's wave transit over the shot's length.

    Parameters
    ----------
    table : DataFrame [-]
        From `model_grid`.

    Returns
    -------
    Drawing
        One dot a build; `caption` has the median and the largest error [-].
    """
    figure, (ax,) = style.new_figure(480, 330, right=20)
    x, y = (table.transit_ms / table.exit_ms).to_numpy(), table.spring_error.to_numpy()
    light = (table.spring_g / table.plunger_g).to_numpy() < 1.0
    ax.axhspan(-LIMIT, LIMIT, facecolor=style.PALE, alpha=0.6, linewidth=0)
    for chosen, colour, marker, called in (
        (light, style.BLUE, "o", "spring lighter than its plunger"),
        (~light, style.VERMILION, "^", "spring heavier than its plunger"),
    ):
        ax.scatter(x[chosen], y[chosen], s=28, marker=marker, facecolors="none", edgecolors=colour,
                   linewidths=1.2, label=called)  # fmt: skip
    ax.axhline(0.0, color=style.BLACK, linewidth=0.8)
    ax.legend(loc="lower right", frameon=False, fontsize=style.SMALL)
    ax.set_xlim(0.0, 1.05 * x.max())
    style.dress(
        ax, "wave's time along the spring over the shot's", "effective mass / chain velocity, error in %"
    )
    figure.caption = (
        f"effective mass of one third: median error {np.median(np.abs(y)):.1f} %, largest "
        f"{np.abs(y).max():.1f} %, {int((np.abs(y) > LIMIT).sum())} of {len(y)} builds beyond 2 %"
    )
    return figure


def spring_wave(shot: Any) -> Drawing:
    """The plunger's speed in time, with the spring's waves and with its effective mass.

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
    waves, rule = shot.history, shot.lumped.history
    for history, (colour, line, _), called in (
        (waves, style.CYCLE[0], "spring as a chain"),
        (rule, style.CYCLE[1], "effective mass"),
    ):
        speed = np.asarray(units.display(history.plunger_speed_m_s.to_numpy(), "speed"))
        ax.plot(
            1e3 * history.index.to_numpy(), speed, color=colour, linestyle=line, linewidth=1.6, label=called
        )
    transit = float(shot.transit.m_as("ms"))
    end = 1e3 * float(waves.index[-1])
    for echo in range(1, int(end / (2.0 * transit)) + 1):
        ax.axvline(2.0 * echo * transit, color=style.BLACK, linestyle=":", linewidth=0.9)
        ax.text(2.0 * echo * transit, 0.02, f" echo {echo}", transform=ax.get_xaxis_transform(),
                fontsize=style.SMALL, va="bottom")  # fmt: skip
    ax.legend(loc="upper left", frameon=False, fontsize=style.SMALL, handlelength=3.2)
    style.dress(ax, "time, ms", style.label("plunger speed", "speed"))
    figure.caption = (
        f"chain {units.show(shot.muzzle_velocity, 'speed')}, effective mass "
        f"{units.show(shot.lumped.muzzle_velocity, 'speed')} ({100.0 * shot.velocity_error:+.1f} %); "
        f"a wave needs {units.show(shot.transit, 'time', 3)} along the spring"
    )
    return figure
