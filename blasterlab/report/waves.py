"""Second opinions in words: what gas and spring waves change, and how far off the shot model is.

What it is for: the sentences of `WaveShot` and `SpringWaveShot`, and the captions of the pictures of waves
and grid.  Leaves out: any computing; numbers come with their units, or as columns of the grid's table.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.report.numbers import kept
from blasterlab.tables import pd
from blasterlab.waves.model_grid import LARGE, VARIANTS
from blasterlab.waves.second_opinion import SpringWaveShot, WaveShot

#: The shot model's variants, as legends and captions name them.
VARIANT_NAMES = {
    "neither": "neither correction",
    "gas_inertia": "Lagrange's gas inertia",
    "air_ahead": "air ahead of the dart",
    "both": "both (the default)",
}


def beside(shot: WaveShot | SpringWaveShot) -> list[str]:
    """Both models' velocities, one line each, and what the shot model is off by."""
    off = "" if math.isnan(shot.velocity_error) else f", off by {100.0 * shot.velocity_error:+.2g} %"
    waves = "with gas waves" if isinstance(shot, WaveShot) else "with spring waves"
    rows = {waves: shot.muzzle_velocity, "shot model": shot.shot_model.muzzle_velocity}
    lines = [
        f"{name:17s} {kept(speed, 'speed') if speed.magnitude else 'the dart does not leave'}"
        for name, speed in rows.items()
    ]
    return [lines[0], lines[1] + off]


def pressure_field(shot: WaveShot) -> str:
    """Caption of the pressure in space and time."""
    base = shot.history.base_pressure_Pa
    return (
        f"With gas waves {kept(shot.muzzle_velocity, 'speed')}; the chamber reaches "
        f"{kept(shot.peak_pressure, 'pressure')}, the dart's tail {kept(base.max(), 'pressure')} at most and "
        f"{kept(base.iloc[-1], 'pressure')} at the muzzle"
    )


def spring_wave(shot: SpringWaveShot) -> str:
    """Caption of the plunger's speed with and without spring waves."""
    return (
        f"With spring waves {kept(shot.muzzle_velocity, 'speed')}, in the shot model "
        f"{kept(shot.shot_model.muzzle_velocity, 'speed')} ({100.0 * shot.velocity_error:+.2g} %); a wave "
        f"takes {units.show(shot.transit, 'time', 3)} along the spring"
    )


def grid_error_curves(table: pd.DataFrame) -> str:
    """Caption of the share of builds within an error."""
    shares = {name: 100.0 * (abs(table[f"{name}_error"]) <= LARGE).mean() for name in VARIANTS}
    listed = ", ".join(f"{VARIANT_NAMES[name]} {share:.0f} %" for name, share in shares.items())
    return f"Share of {len(table)} builds off by less than {LARGE:g} %: {listed}"


def grid_error_map(table: pd.DataFrame, edge: float) -> str:
    """Caption of the error against how over-long the barrel is; errors beyond the edge are drawn on it."""
    far, neither = table[abs(table.both_error) > LARGE], abs(table.neither_error)
    text = f"Off by more than {LARGE:g} % with both corrections: {len(far)} of {len(table)} builds"
    if len(far):
        text += f", all with barrels of {far.over_long.min():.1f} times the best length or more"
    text += f"; with neither: {(neither > LARGE).sum()}"
    beyond = (neither > edge).sum()
    return text + (f", {beyond} of them by more than {edge:.0f} % (drawn at the edge)" if beyond else "")


def spring_error_map(table: pd.DataFrame) -> str:
    """Caption of the errors of waves along the spring, and of a third of its mass on the plunger."""
    waves, third = abs(table.chain_error), abs(table.third_error)
    return (
        f"Against the spring as a chain of masses: the shot model is off by {waves.max():.2g} % at most; "
        "with a third of the spring's mass on the plunger in place of waves by a median "
        f"{third.median():.1f} %, at most {third.max():.1f} %, by more than {LARGE:g} % in "
        f"{(third > LARGE).sum()} of {len(table)} "
        "builds"
    )
