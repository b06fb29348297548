"""Compiled searches over the elevation: meet a point, just touch a height, land furthest.

What it is for: the fitting behind `blasterlab.flight.aiming`, in SI floats.  What it leaves out: units,
messages, and the high solution of a zero.
"""

from __future__ import annotations

import math

from blasterlab.compiled import compiled
from blasterlab.flight import equations as eq

FOUND, TOO_FAR = 1, 2
_TOLERANCE = 1e-10
_GOLDEN = 0.6180339887498949
#: Elevations searched [rad], and the step of the first look.
LOWEST, HIGHEST, STEPS = -1.3, 1.5, 56
#: A height or a distance that is not reached.
_NEVER = -1e9
_HEIGHT, _LANDING = 0, 1  # what a search makes largest


@compiled
def through(p: eq.FlightParameters, elevation: float, x: float) -> tuple[float, float]:
    """Time and y on passing the plane x; y is -1e9 when the plane is not reached."""
    reason, end, times, pieces = eq.fly_dense(
        eq.aimed(p, elevation), x, eq.NO_GROUND, eq.LONGEST, _TOLERANCE, 0.0
    )
    return (end, eq.at_time(times, pieces, end)[eq.Y]) if reason == eq.AT_PLANE else (-1.0, _NEVER)


@compiled
def _reached(p: eq.FlightParameters, what: int, elevation: float, limit: float) -> float:
    """The height at x = `limit`, or the distance where the flight falls through y = `limit`."""
    if what == _HEIGHT:
        return through(p, elevation, limit)[1]
    reason, end, times, pieces = eq.fly_dense(
        eq.aimed(p, elevation), 1e12, limit, eq.LONGEST, _TOLERANCE, 0.0
    )
    return eq.at_time(times, pieces, end)[eq.X] if reason == eq.AT_GROUND else _NEVER


@compiled
def _largest(p: eq.FlightParameters, what: int, limit: float) -> tuple[float, float]:
    """The elevation that reaches highest or furthest, and what it reaches; by golden section."""
    best, top = LOWEST, 10.0 * _NEVER
    width = (HIGHEST - LOWEST) / STEPS
    for i in range(STEPS + 1):
        reached = _reached(p, what, LOWEST + i * width, limit)
        if reached > top:
            best, top = LOWEST + i * width, reached
    low, high = max(best - width, LOWEST), min(best + width, HIGHEST)
    while high - low > 1e-7:
        first, second = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        one, two = _reached(p, what, first, limit), _reached(p, what, second, limit)
        if one > two:
            high = second
        else:
            low = first
        if max(one, two) > top:
            best, top = (first, one) if one > two else (second, two)
    return best, top


@compiled
def elevation_for(p: eq.FlightParameters, x: float, y: float) -> tuple[int, float]:
    """The lower elevation whose path passes (x, y), with `FOUND`; or the highest there, with `TOO_FAR`."""
    elevation = math.atan2(y, x)
    for _ in range(40):
        height = through(p, elevation, x)[1]
        if abs(height - y) < 1e-9 * (1.0 + x):
            return FOUND, elevation
        if height == _NEVER:
            break
        elevation = math.atan(math.tan(elevation) + (y - height) / x)
        if elevation > 0.7 or elevation < LOWEST:
            break
    best, top = _largest(p, _HEIGHT, x)  # steep or out of reach: halve below the highest
    if top < y:
        return TOO_FAR, best
    low, high = LOWEST, best
    while high - low > 1e-13:
        elevation = 0.5 * (low + high)
        if through(p, elevation, x)[1] < y:
            low = elevation
        else:
            high = elevation
    return FOUND, high


@compiled
def elevation_for_top(p: eq.FlightParameters, height: float) -> float:
    """The elevation whose highest point is `height` (above zero); -1 when no shot gets there."""
    low, high = 0.0, 0.5 * math.pi
    if _top(p, high) < height:
        return -1.0
    while high - low > 1e-12:
        middle = 0.5 * (low + high)
        if _top(p, middle) < height:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


@compiled
def _top(p: eq.FlightParameters, elevation: float) -> float:
    """The highest y of a flight that starts at y = 0."""
    _, end, times, pieces = eq.fly_dense(eq.aimed(p, elevation), 1e12, 0.0, eq.LONGEST, _TOLERANCE, 0.0)
    time = eq.first_time(times, pieces, eq.VY, 0.0, 0.0, end)
    return eq.at_time(times, pieces, time)[eq.Y] if time >= 0.0 else 0.0


@compiled
def furthest_elevation(p: eq.FlightParameters, ground: float) -> tuple[float, float]:
    """The elevation that lands furthest on y = `ground`, and the distance there."""
    return _largest(p, _LANDING, ground)
