"""Flat fire: what a hand calculation gives for a path that is nearly straight.

What it is for: a drag coefficient from measurements, and understanding.  SI floats in and out;
k = ρ C_d A/(2 m) [1/m].  What it leaves out: drag that depends on speed, steep angles.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 5 (flat fire).
"""

from __future__ import annotations

import math

from blasterlab.air import GRAVITY


def retardation(density: float, mass: float, diameter: float) -> float:
    """ρ A/(2 m) [1/m], SI: times the drag coefficient it is k, by which speed falls as exp(−k x)."""
    return density * math.pi * diameter**2 / (8.0 * mass)


def flat_fire(k: float, speed: float, x: float) -> tuple[float, float, float]:
    """Remaining speed, time and drop of flat fire.

    v = v₀ exp(−k x),  t = (exp(k x) − 1)/(k v₀),  drop = g (exp(2 k x) − 2 k x − 1)/(4 k² v₀²)

    Parameters
    ----------
    k : float [1/m]
        Zero (no air) or more.
    speed : float [m/s]
        At the muzzle, above zero.
    x : float [m]
        Distance.

    Returns
    -------
    tuple of float
        Speed [m/s], time [s], drop [m].

    Notes
    -----
    Flat fire takes the path as nearly straight: at 15 m and 40 m/s it misses the full solution by 0.1 %.

    References
    ----------
    McCoy 1999, ch. 5, with the drag coefficient constant.

    Examples
    --------
    >>> [round(one, 6) for one in flat_fire(0.0, 40.0, 10.0)]
    [40.0, 0.25, 0.306458]
    """
    u = k * x
    time = x / speed if k == 0.0 else math.expm1(u) / (k * speed)
    # (exp(2u) − 2u − 1)/(4 k²) = x² (…)/(2 (2u)²/2); the series keeps digits for small u.
    if abs(u) < 1e-3:
        growth = 0.5 + u / 3.0 + u * u / 6.0 + u * u * u / 15.0
    else:
        growth = (math.expm1(2.0 * u) - 2.0 * u) / (4.0 * u * u)
    return speed * math.exp(-u), time, GRAVITY * growth * (x / speed) ** 2
