"""How exactly parts must be cut: the lengths between which a build's speed stays within 1 %.

What it is for: the cut list of a build sheet.  What it leaves out: which cut to make (``cutting``), and
whether a part still fits (``checks``).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.plan.cutting import cut_list
from blasterlab.shot.barrel_sweep import barrel_sweep

#: Change of speed that a cut may cost: a choice of the kit.
WITHIN = 0.01
_NEAR = 0.05  # of a spring's length: beyond it, its slope says nothing
_REACH = (0.5, 1.5)  # of the barrel's length


class CutLength(NamedTuple):
    """A length to cut to, by its dotted name, and between which lengths the speed stays within 1 % [m]."""

    name: str
    length: float
    low: float
    high: float


def cut_lengths(build: Build) -> list[CutLength]:
    """The barrel and the springs of a build, each with the lengths that do as well.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of CutLength
        The barrel, then each spring whose cut can be computed; none for a dart that stays in [m].

    Notes
    -----
    Barrel: from the curve through a sweep, half to one and a half times its length.  Spring: from the slope
    of the shortest cuts of its cut list, its seat kept.
    """
    own = build.si["barrel.length"]
    short, long = (units.quantity(max(end * own, 5e-3), "m") for end in _REACH)
    try:
        sweep = barrel_sweep(build, short, long, points=16)
        speed = sweep.velocity_at(build.barrel.length).m
    except BuildError:
        return []
    if speed <= 0.0:
        return []
    at, speeds = sweep.smooth(1001)
    off = np.abs(speeds / speed - 1.0) > WITHIN
    low, high = max(at[off & (at < own)], default=at[0]), min(at[off & (at > own)], default=at[-1])
    found = [CutLength("barrel.length", own, float(low), float(high))]
    for place, spring in enumerate(build.springs):
        try:
            table = cut_list(build, which=place)
        except (BuildError, units.UnitError):
            continue
        cut, speeds = table["cut_off_m"].to_numpy()[1:3], table["muzzle_velocity_m_s"].to_numpy()[1:3]
        slope = abs(float(np.diff(speeds)[0] / np.diff(cut)[0]))
        half = min(WITHIN * speed / max(slope, 1e-9), _NEAR * units.si(spring.free_length, "length"))
        free = units.si(spring.free_length, "length")
        found.append(CutLength(f"{spring.name}.free_length", free, free - half, free + half))
    return found
