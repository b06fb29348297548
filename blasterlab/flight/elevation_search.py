"""Compiled searches over the elevation: meet a point, just touch a height, land furthest.

What it is for: the fitting behind `blasterlab.flight.aiming`, in SI floats.  What it leaves out: units,
messages, and the high solution of a zero.
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.flight.equations import (
    AT_GROUND,
    LONGEST,
    first_time,
    fly_dense,
    fly_to_planes,
    value,
)

FOUND, TOO_FAR = 1, 2
_TOLERANCE = 1e-10
_GOLDEN = 0.6180339887498949
#: Elevations searched [rad].
LOWEST, HIGHEST = -1.3, 1.5


@compiled
def through(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    elevation: float,
    x: float,
) -> tuple[float, float, float]:
    """Time, y and z on passing the plane x; y is -1e9 when the plane is not reached."""
    row = setup.copy().reshape(1, setup.size)
    one, two, none, plane = np.zeros(1), np.zeros(1), np.zeros(1), np.zeros(1)
    one[0], two[0], plane[0] = speed, elevation, x
    hit = fly_to_planes(row, machs, logs, coefficients, one, two, none, plane, _TOLERANCE)
    if hit[0, 0, 0] < 0.0:
        return -1.0, -1e9, 0.0
    return hit[0, 0, 0], hit[0, 0, 1], hit[0, 0, 2]


@compiled
def elevation_for(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    x: float,
    y: float,
) -> tuple[int, float, float]:
    """The lower elevation whose path passes (x, y): (status, elevation, height reached at x)."""
    elevation = math.atan2(y, x)
    close = 1e-9 * (1.0 + x)
    for _ in range(40):
        height = through(setup, machs, logs, coefficients, speed, elevation, x)[1]
        if abs(height - y) < close:
            return FOUND, elevation, height
        if height < -1e8:
            break
        elevation = math.atan(math.tan(elevation) + (y - height) / x)
        if elevation > 0.7 or elevation < LOWEST:
            break
    # Steep or out of reach: find the top of height against elevation, then halve below it.
    best, top = LOWEST, -1e10
    width = (HIGHEST - LOWEST) / 56.0
    for i in range(57):
        here = LOWEST + i * width
        height = through(setup, machs, logs, coefficients, speed, here, x)[1]
        if height > top:
            best, top = here, height
    low, high = max(best - width, LOWEST), min(best + width, HIGHEST)
    for _ in range(60):
        first, second = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        y_first = through(setup, machs, logs, coefficients, speed, first, x)[1]
        y_second = through(setup, machs, logs, coefficients, speed, second, x)[1]
        if y_first > y_second:
            high = second
            if y_first > top:
                best, top = first, y_first
        else:
            low = first
            if y_second > top:
                best, top = second, y_second
        if high - low < 1e-7:
            break
    if top < y:
        return TOO_FAR, best, top
    low, high = LOWEST, best
    for _ in range(100):
        elevation = 0.5 * (low + high)
        height = through(setup, machs, logs, coefficients, speed, elevation, x)[1]
        if height < y:
            low = elevation
        else:
            high = elevation
        if high - low < 1e-13:
            break
    return FOUND, high, y


@compiled
def elevation_for_top(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    height: float,
) -> float:
    """The elevation whose highest point is `height` (above zero); -1 when no shot gets there."""
    low, high = 0.0, 0.5 * math.pi
    if _top(setup, machs, logs, coefficients, speed, high) < height:
        return -1.0
    for _ in range(60):
        middle = 0.5 * (low + high)
        if _top(setup, machs, logs, coefficients, speed, middle) < height:
            low = middle
        else:
            high = middle
        if high - low < 1e-12:
            break
    return 0.5 * (low + high)


@compiled
def _top(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    elevation: float,
) -> float:
    """The highest y of a flight that starts at y = 0."""
    _, times, pieces = fly_dense(
        setup, machs, logs, coefficients, speed, elevation, 0.0, 1e12, 0.0, LONGEST, _TOLERANCE, 0.0
    )
    time = first_time(times, pieces, 4, 0.0, 0.0, times[-1])
    if time < 0.0:
        return 0.0
    n = max(0, min(np.searchsorted(times, time, side="right") - 1, pieces.shape[0] - 1))
    return value(pieces[n], 1, (time - times[n]) / (times[n + 1] - times[n]))


@compiled
def _landing(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    elevation: float,
    ground: float,
) -> float:
    """Distance where a flight falls through y = `ground`; -1e9 when it does not."""
    reason, _, pieces = fly_dense(
        setup, machs, logs, coefficients, speed, elevation, 0.0, 1e12, ground, LONGEST, _TOLERANCE, 0.0
    )
    if reason != AT_GROUND:
        return -1e9
    return value(pieces[pieces.shape[0] - 1], 0, 1.0)


@compiled
def furthest_elevation(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    ground: float,
) -> float:
    """The elevation that lands furthest on y = `ground`."""
    best, reach, width = 0.0, -1e10, 0.05
    for i in range(-20, 31):
        distance = _landing(setup, machs, logs, coefficients, speed, i * width, ground)
        if distance > reach:
            best, reach = i * width, distance
    low, high = best - width, best + width
    while high - low > 1e-7:
        first, second = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
        if _landing(setup, machs, logs, coefficients, speed, first, ground) > _landing(
            setup, machs, logs, coefficients, speed, second, ground
        ):
            high = second
        else:
            low = first
    return 0.5 * (low + high)


@compiled
def reach_on_line(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    y: float,
) -> tuple[float, float]:
    """The furthest distance at which the line y = const is met while falling, and its elevation."""
    elevation = furthest_elevation(setup, machs, logs, coefficients, speed, y)
    return _landing(setup, machs, logs, coefficients, speed, elevation, y), elevation
