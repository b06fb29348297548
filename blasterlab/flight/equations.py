"""The flight in SI floats: point mass, quadratic drag, constant wind, compiled.

What it is for: one place where the equation of motion is integrated, with dense output and located events,
for one flight or for thousands.  Frame: x down range along the line of sight, y up and square to it, z to
the right; the origin is the muzzle.  What it leaves out: pitch and spin (see `stability`), buoyancy (half a
percent of a foam dart's weight), Coriolis, and any change of air density along the flight.

A flight's dense output are the times of its steps and one piece a step: an array of five coefficients for
each component of the state, columns as in `X` and its like.  The last step runs past the flight's end.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999 (point-mass equations).  J. R. Dormand, P. J. Prince,
J. Comput. Appl. Math. 6, 19, 1980 (the 5(4) pair).  E. Hairer, S. P. Nørsett, G. Wanner, *Solving Ordinary
Differential Equations I*, 2nd ed., 1993, II.6 (dense output).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled, compiled_inline
from blasterlab.shot import dormand_prince as dp
from blasterlab.shot.parameters import Floats

#: Why a flight ended.
AT_PLANE, AT_GROUND, OUT_OF_TIME, TOO_MANY_STEPS = 1, 2, 3, 4
#: Longest flight [s] and most steps of one flight; a ground that no flight gets to [m].
LONGEST, MOST_STEPS, NO_GROUND = 120.0, 4000, -1e9
#: Columns of the state: place and velocity.
X, Y, Z, VX, VY, VZ = range(6)
STATES = 6
#: Rows of a piece of dense output.
START, CHANGE, BEND, TWIST, BOW = range(5)
ROWS = 5


class FlightParameters(NamedTuple):
    """Everything that a flight depends on, SI floats; the drag table has one row a Reynolds number."""

    retardation: float  # ρ A/(2 m): times the drag coefficient it is the k of flat fire
    gravity_x: float
    gravity_y: float
    wind_x: float
    wind_y: float
    wind_z: float
    mach_per_speed: float
    reynolds_per_speed: float  # on the diameter
    speed: float  # at the muzzle
    elevation: float  # of the bore above the line of sight
    azimuth: float  # of the bore to the right
    machs: Floats
    log_reynolds: Floats
    drag_coefficients: Floats


class Varied(NamedTuple):
    """What varies from dart to dart in a group: one value a flight, named as in `FlightParameters`."""

    retardation: Floats
    wind_x: Floats
    wind_y: Floats
    wind_z: Floats
    speed: Floats
    elevation: Floats
    azimuth: Floats


class Hits(NamedTuple):
    """Where flights pass planes x = const, shape (flights, planes); a time of -1 marks one not reached."""

    time: Floats
    y: Floats
    z: Floats
    speed: Floats


# Weights of the dense output of a Dormand-Prince step.
_D = np.array([
    -12715105075 / 11282082432, 0.0, 87487479700 / 32700410799, -10690763975 / 1880347072,
    701980252875 / 199316789632, -1453857185 / 822651844, 69997945 / 29380423,
])  # fmt: skip


@compiled
def table_value(mach: float, log_re: float, machs: Floats, logs: Floats, coefficients: Floats) -> float:
    """Drag coefficient from the table, linear in Mach and in log Reynolds, held at the table's ends."""
    i, after, p = _place(mach, machs)
    j, above, q = _place(log_re, logs)
    value = coefficients[j, i] + p * (coefficients[j, after] - coefficients[j, i])
    upper = coefficients[above, i] + p * (coefficients[above, after] - coefficients[above, i])
    return value + q * (upper - value)


@compiled
def _place(number: float, axis: Floats) -> tuple[int, int, float]:
    """The ends of the interval of an axis that a number lies in, and how far into it, 0 to 1."""
    i = 0
    while i < axis.size - 2 and number > axis[i + 1]:
        i += 1
    after = min(i + 1, axis.size - 1)
    span = axis[after] - axis[i]
    return i, after, min(max((number - axis[i]) / span, 0.0), 1.0) if span > 0.0 else 0.0


@compiled_inline
def _slope(state: Floats, p: FlightParameters, out: Floats) -> None:
    """Rate of the state."""
    wx, wy, wz = state[VX] - p.wind_x, state[VY] - p.wind_y, state[VZ] - p.wind_z
    relative = math.sqrt(wx * wx + wy * wy + wz * wz)
    drag = p.drag_coefficients[0, 0]
    if p.drag_coefficients.size > 1:
        log_re = math.log(max(relative * p.reynolds_per_speed, 1e-12))
        mach = relative * p.mach_per_speed
        drag = table_value(mach, log_re, p.machs, p.log_reynolds, p.drag_coefficients)
    factor = p.retardation * relative * drag
    out[X], out[Y], out[Z] = state[VX], state[VY], state[VZ]
    out[VX] = -factor * wx + p.gravity_x
    out[VY] = -factor * wy + p.gravity_y
    out[VZ] = -factor * wz


@compiled
def _step(state: Floats, h: float, p: FlightParameters, k: Floats, trial: Floats, new: Floats) -> float:
    """One Dormand-Prince step; k[0] holds the slope at `state`; returns the error estimate, scaled."""
    for stage in range(1, 7):
        for i in range(STATES):
            total = 0.0
            for j in range(stage):
                total += dp.A[stage, j] * k[j, i]
            trial[i] = state[i] + h * total
        _slope(trial, p, k[stage])
    for i in range(STATES):
        new[i] = trial[i]  # the last stage is the step itself
    square = 0.0
    for i in range(STATES):
        error = 0.0
        for j in range(7):
            error += dp.E[j] * k[j, i]
        square += (h * error / (1.0 + max(abs(state[i]), abs(new[i])))) ** 2
    return math.sqrt(square / 6.0)


@compiled
def _dense(state: Floats, new: Floats, h: float, k: Floats, out: Floats) -> None:
    """Coefficients of the fourth-order interpolant over one step."""
    for i in range(STATES):
        difference = new[i] - state[i]
        bend = h * k[0, i] - difference
        out[START, i] = state[i]
        out[CHANGE, i] = difference
        out[BEND, i] = bend
        out[TWIST, i] = difference - h * k[6, i] - bend
        bow = 0.0
        for j in range(7):
            bow += _D[j] * k[j, i]
        out[BOW, i] = h * bow


@compiled
def value(piece: Floats, i: int, theta: float) -> float:
    """Component `i` at the fraction `theta` of one step."""
    rest = 1.0 - theta
    return piece[START, i] + theta * (
        piece[CHANGE, i] + rest * (piece[BEND, i] + theta * (piece[TWIST, i] + rest * piece[BOW, i]))
    )


@compiled
def root(piece: Floats, i: int, target: float, low: float, high: float) -> float:
    """Where component `i` passes `target` between two fractions of a step that enclose it (Illinois)."""
    f_low, f_high = value(piece, i, low) - target, value(piece, i, high) - target
    if f_low == 0.0 or f_low * f_high > 0.0:
        return low if f_low == 0.0 else high
    for _ in range(60):
        if f_high == 0.0 or f_high == f_low or abs(high - low) < 1e-14:
            break
        theta = (low * f_high - high * f_low) / (f_high - f_low)
        f = value(piece, i, theta) - target
        low, f_low = (high, f_high) if f * f_high < 0.0 else (low, 0.5 * f_low)
        high, f_high = theta, f
    return high


@compiled
def _begin(p: FlightParameters, state: Floats, k: Floats) -> None:
    """The state at the muzzle, and its slope."""
    state[:] = 0.0
    state[VX] = p.speed * math.cos(p.elevation) * math.cos(p.azimuth)
    state[VY] = p.speed * math.sin(p.elevation)
    state[VZ] = p.speed * math.cos(p.elevation) * math.sin(p.azimuth)
    _slope(state, p, k[0])


@compiled
def _room(times: Floats, pieces: Floats, n: int) -> tuple[Floats, Floats]:
    """The dense output, with room for more than n steps."""
    if n < len(pieces):
        return times, pieces
    more_times, more_pieces = np.zeros(4 * n + 1), np.zeros((4 * n, ROWS, STATES))
    more_times[: n + 1] = times
    more_pieces[:n] = pieces
    return more_times, more_pieces


@compiled
def fly_dense(
    p: FlightParameters, plane: float, ground: float, longest: float, tolerance: float, fixed_step: float
) -> tuple[int, float, Floats, Floats]:
    """One flight with dense output: (reason for the end, its time, times of the steps [s], pieces).

    Ends at the plane x = `plane`, on falling through y = `ground`, or after `longest` seconds, whichever is
    first.  `fixed_step` > 0 switches the error control off (for tests of the order of convergence).
    """
    work = np.zeros((10, STATES))  # one array, for speed
    state, new, trial, k = work[0], work[1], work[2], work[3:]
    times, pieces = np.zeros(17), np.empty((16, ROWS, STATES))
    _begin(p, state, k)
    t, n, reason = 0.0, 0, TOO_MANY_STEPS
    h = fixed_step if fixed_step > 0.0 else 2e-2
    for _ in range(20 * MOST_STEPS):
        if n >= MOST_STEPS:
            break
        last = t + h >= longest * (1.0 - 1e-14)
        if last:
            h = longest - t
        error = _step(state, h, p, k, trial, new) / tolerance
        factor = 5.0 if error < 1e-4 else min(5.0, max(0.2, 0.9 * error**-0.2))
        if fixed_step <= 0.0 and error > 1.0:
            h *= min(factor, 0.9)
            continue
        times, pieces = _room(times, pieces, n)
        _dense(state, new, h, k, pieces[n])
        end = 2.0
        if new[X] >= plane:
            end, reason = root(pieces[n], X, plane, 0.0, 1.0), AT_PLANE
        if new[Y] <= ground < state[Y]:
            touch = root(pieces[n], Y, ground, 0.0, 1.0)
            if touch < end:
                end, reason = touch, AT_GROUND
        n += 1
        times[n] = t + h
        if end <= 1.0:
            t += end * h
            break
        t += h
        if last:
            reason = OUT_OF_TIME
            break
        state[:] = new
        k[0] = k[6]  # the last slope of a step is the first of the next
        if fixed_step <= 0.0:
            h *= factor
    return reason, t, times[: n + 1], pieces[:n]


@compiled
def at_time(times: Floats, pieces: Floats, t: float) -> Floats:
    """The state at a time within the flight."""
    n = max(0, min(np.searchsorted(times, t, side="right") - 1, pieces.shape[0] - 1))
    theta = (t - times[n]) / (times[n + 1] - times[n])
    state = np.zeros(STATES)
    for i in range(STATES):
        state[i] = value(pieces[n], i, theta)
    return state


@compiled
def first_time(times: Floats, pieces: Floats, i: int, target: float, after: float, before: float) -> float:
    """The first time at which component `i` passes `target` between two times; -1 when it does not."""
    for n in range(pieces.shape[0]):
        if times[n + 1] <= after:
            continue
        if times[n] >= before:
            break
        width = times[n + 1] - times[n]
        low = max(0.0, (after - times[n]) / width)
        high = min(1.0, (before - times[n]) / width)
        f_low, f_high = value(pieces[n], i, low) - target, value(pieces[n], i, high) - target
        if f_low * f_high <= 0.0 and (f_low != 0.0 or f_high != 0.0 or n == 0):
            return times[n] + width * root(pieces[n], i, target, low, high)
    return -1.0


@compiled
def fly_to_planes(p: FlightParameters, v: Varied, planes: Floats, tolerance: float) -> Hits:
    """Many flights through rising planes x = const, for `LONGEST` seconds; the ground is left out."""
    flights = len(v.speed)
    shape = (flights, len(planes))
    hits = Hits(np.full(shape, -1.0), np.zeros(shape), np.zeros(shape), np.zeros(shape))
    for i in range(flights):
        one = FlightParameters(
            v.retardation[i], p.gravity_x, p.gravity_y, v.wind_x[i], v.wind_y[i], v.wind_z[i],
            p.mach_per_speed, p.reynolds_per_speed, v.speed[i], v.elevation[i], v.azimuth[i], p.machs,
            p.log_reynolds, p.drag_coefficients,
        )  # fmt: skip
        _, _, times, pieces = fly_dense(one, planes[-1], NO_GROUND, LONGEST, tolerance, 0.0)
        done = 0
        for n in range(len(pieces)):
            piece = pieces[n]
            while done < len(planes) and value(piece, X, 1.0) >= planes[done]:
                theta = root(piece, X, planes[done], 0.0, 1.0)
                vx, vy, vz = value(piece, VX, theta), value(piece, VY, theta), value(piece, VZ, theta)
                hits.time[i, done] = times[n] + theta * (times[n + 1] - times[n])
                hits.y[i, done], hits.z[i, done] = value(piece, Y, theta), value(piece, Z, theta)
                hits.speed[i, done] = math.sqrt(vx * vx + vy * vy + vz * vz)
                done += 1
    return hits
