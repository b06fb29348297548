"""Searches over the elevation: meet a point, just touch a height, land furthest.

What it is for: the fitting behind `blasterlab.flight.aiming`, in SI floats.  What it leaves out: units,
messages, and the high solution of a zero.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import bisect, brentq, minimize_scalar

from blasterlab.flight import equations as eq
from blasterlab.shot.parameters import Floats

_TOLERANCE = 1e-10
#: Elevations searched [rad], and the steps of the first look.
LOWEST, HIGHEST, STEPS = -1.3, 1.5, 56
#: A height or a distance that is not reached.
_NEVER = -1e9


def _fly(
    p: eq.FlightParameters, elevation: float, plane: float, ground: float
) -> tuple[int, float, Floats, Floats]:
    """One flight, as `equations.fly_dense` gives it."""
    aimed = p._replace(elevation=elevation)
    return eq.fly_dense(aimed, plane, ground, eq.LONGEST, _TOLERANCE, 0.0)


def through(p: eq.FlightParameters, elevation: float, x: float) -> tuple[float, float]:
    """Time and y on passing the plane x; y is -1e9 when the plane is not reached."""
    reason, end, times, pieces = _fly(p, elevation, x, eq.NO_GROUND)
    return (end, float(eq.at_time(times, pieces, end)[eq.Y])) if reason == eq.AT_PLANE else (-1.0, _NEVER)


def _landing(p: eq.FlightParameters, elevation: float, ground: float) -> float:
    """The distance where a flight falls through y = `ground`; -1e9 when it does not."""
    reason, end, times, pieces = _fly(p, elevation, 1e12, ground)
    return float(eq.at_time(times, pieces, end)[eq.X]) if reason == eq.AT_GROUND else _NEVER


def _largest(reached: Callable[[float], float]) -> tuple[float, float]:
    """The most that is reached, and at what elevation [rad]: the best of a first look, then refined."""
    width = (HIGHEST - LOWEST) / STEPS
    best = max(np.linspace(LOWEST, HIGHEST, STEPS + 1).tolist(), key=reached)
    ends = max(best - width, LOWEST), min(best + width, HIGHEST)
    refined = minimize_scalar(lambda e: -reached(e), bounds=ends, method="bounded", options={"xatol": 1e-7})
    return max((reached(elevation), elevation) for elevation in (best, float(refined.x)))


def elevation_for(p: eq.FlightParameters, x: float, y: float) -> float | None:
    """The lower elevation [rad] whose path passes (x, y); None when it is out of reach."""
    elevation = math.atan2(y, x)
    for _ in range(40):
        height = through(p, elevation, x)[1]
        if abs(height - y) < 1e-9 * (1.0 + x):
            return elevation
        if height == _NEVER:
            break
        elevation = math.atan(math.tan(elevation) + (y - height) / x)
        if elevation > 0.7 or elevation < LOWEST:
            break

    def above(elevation: float) -> float:
        return through(p, elevation, x)[1] - y

    top, best = _largest(above)  # steep or out of reach: halve below the highest
    return None if top < 0.0 else float(bisect(above, -0.5 * math.pi, best, xtol=1e-13))


def elevation_for_top(p: eq.FlightParameters, height: float) -> float | None:
    """The elevation [rad] whose highest point is `height` (above zero); None when no shot gets there."""

    def above(elevation: float) -> float:
        _, end, times, pieces = _fly(p, elevation, 1e12, 0.0)
        time = eq.first_time(times, pieces, eq.VY, 0.0, 0.0, end)
        return (float(eq.at_time(times, pieces, time)[eq.Y]) if time >= 0.0 else 0.0) - height

    steepest = 0.5 * math.pi
    if above(steepest) < 0.0:
        return None
    return float(brentq(above, 0.0, steepest, xtol=1e-12)) if above(0.0) < 0.0 else 0.0


def furthest_elevation(p: eq.FlightParameters, ground: float) -> tuple[float, float]:
    """The distance [m] at which a flight lands furthest on y = `ground`, and its elevation [rad]."""
    return _largest(lambda elevation: _landing(p, elevation, ground))
