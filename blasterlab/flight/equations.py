"""The flight in SI floats: point mass, quadratic drag, constant wind, compiled.

What it is for: one place where the equation of motion is integrated, with dense output and located events,
for one flight or for thousands.  Frame: x down range along the line of sight, y up and square to it, z to
the right; the origin is the muzzle.  What it leaves out: pitch and spin (see `pitch`), buoyancy (half a
percent of a foam dart's weight), Coriolis, and any change of air density along the flight.

``setup`` is a float array: [0] ρ A/(2 m) [1/m], [1] [2] gravity along x and y [m/s^2], [3] [4] [5] wind
[m/s], [6] 1/speed of sound [s/m], [7] ρ d/μ [s/m].  The drag table is three arrays: Mach numbers, natural
logarithms of Reynolds numbers, and drag coefficients with one row a Reynolds number; 1 x 1 for a constant.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 6 (point-mass equations).  J. R. Dormand, P. J. Prince,
J. Comput. Appl. Math. 6, 19, 1980 (the 5(4) pair).  E. Hairer, S. P. Nørsett, G. Wanner, *Solving Ordinary
Differential Equations I*, 2nd ed., 1993, II.6 (dense output).
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled

#: Why a flight ended.
AT_PLANE, AT_GROUND, OUT_OF_TIME, TOO_MANY_STEPS = 1, 2, 3, 4
#: Longest flight [s] and most steps of one flight.
LONGEST, MOST_STEPS = 120.0, 4000
# The Dormand-Prince pair: stages (the last row is the step), error weights, and weights of the dense output.
_A = np.array(
    [
        [0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
        [1 / 5, 0.0, 0.0, 0.0, 0.0, 0.0],
        [3 / 40, 9 / 40, 0.0, 0.0, 0.0, 0.0],
        [44 / 45, -56 / 15, 32 / 9, 0.0, 0.0, 0.0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0.0, 0.0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656, 0.0],
        [35 / 384, 0.0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84],
    ]
)
_E = np.array([71 / 57600, 0.0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])
_D = np.array(
    [
        -12715105075 / 11282082432,
        0.0,
        87487479700 / 32700410799,
        -10690763975 / 1880347072,
        701980252875 / 199316789632,
        -1453857185 / 822651844,
        69997945 / 29380423,
    ]
)


@compiled
def table_value(
    mach: float, log_re: float, machs: np.ndarray, logs: np.ndarray, coefficients: np.ndarray
) -> float:
    """Drag coefficient from the table, linear in Mach and in log Reynolds, held at the table's ends."""
    if coefficients.size == 1:
        return coefficients[0, 0]
    i, p = 0, 0.0
    if machs.size > 1:
        while i < machs.size - 2 and mach > machs[i + 1]:
            i += 1
        p = min(max((mach - machs[i]) / (machs[i + 1] - machs[i]), 0.0), 1.0)
    j, q = 0, 0.0
    if logs.size > 1:
        while j < logs.size - 2 and log_re > logs[j + 1]:
            j += 1
        q = min(max((log_re - logs[j]) / (logs[j + 1] - logs[j]), 0.0), 1.0)
    value = coefficients[j, i]
    if machs.size > 1:
        value += p * (coefficients[j, i + 1] - coefficients[j, i])
    if logs.size > 1:
        upper = coefficients[j + 1, i]
        if machs.size > 1:
            upper += p * (coefficients[j + 1, i + 1] - coefficients[j + 1, i])
        value += q * (upper - value)
    return value


@compiled
def _slope(
    state: np.ndarray,
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    out: np.ndarray,
) -> None:
    """Rate of (x, y, z, vx, vy, vz, work done against drag per mass)."""
    wx, wy, wz = state[3] - setup[3], state[4] - setup[4], state[5] - setup[5]
    relative = math.sqrt(wx * wx + wy * wy + wz * wz)
    log_re = 0.0
    if logs.size > 1:
        log_re = math.log(max(relative * setup[7], 1e-12))
    factor = setup[0] * relative * table_value(relative * setup[6], log_re, machs, logs, coefficients)
    out[0], out[1], out[2] = state[3], state[4], state[5]
    out[3] = -factor * wx + setup[1]
    out[4] = -factor * wy + setup[2]
    out[5] = -factor * wz
    out[6] = factor * (wx * state[3] + wy * state[4] + wz * state[5])


@compiled
def _step(
    state: np.ndarray,
    h: float,
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    k: np.ndarray,
    trial: np.ndarray,
    new: np.ndarray,
) -> float:
    """One Dormand-Prince step; k[0] holds the slope at `state`; returns the error estimate, scaled."""
    for stage in range(1, 7):
        for i in range(7):
            total = 0.0
            for j in range(stage):
                total += _A[stage, j] * k[j, i]
            trial[i] = state[i] + h * total
        _slope(trial, setup, machs, logs, coefficients, k[stage])
    for i in range(7):
        new[i] = trial[i]  # the last stage is the step itself
    square = 0.0
    for i in range(6):
        error = 0.0
        for j in range(7):
            error += _E[j] * k[j, i]
        square += (h * error / (1.0 + max(abs(state[i]), abs(new[i])))) ** 2
    return math.sqrt(square / 6.0)


@compiled
def _dense(state: np.ndarray, new: np.ndarray, h: float, k: np.ndarray, out: np.ndarray) -> None:
    """Coefficients of the fourth-order interpolant over one step."""
    for i in range(7):
        difference = new[i] - state[i]
        bend = h * k[0, i] - difference
        out[0, i] = state[i]
        out[1, i] = difference
        out[2, i] = bend
        out[3, i] = difference - h * k[6, i] - bend
        bow = 0.0
        for j in range(7):
            bow += _D[j] * k[j, i]
        out[4, i] = h * bow


@compiled
def value(piece: np.ndarray, i: int, theta: float) -> float:
    """Component `i` at the fraction `theta` of one step."""
    rest = 1.0 - theta
    return piece[0, i] + theta * (
        piece[1, i] + rest * (piece[2, i] + theta * (piece[3, i] + rest * piece[4, i]))
    )


@compiled
def root(piece: np.ndarray, i: int, target: float, low: float, high: float) -> float:
    """Where component `i` passes `target` between two fractions of a step that enclose it (Illinois)."""
    f_low, f_high = value(piece, i, low) - target, value(piece, i, high) - target
    if f_low == 0.0:
        return low
    if f_high == 0.0 or f_low * f_high > 0.0:
        return high
    theta = high
    for _ in range(60):
        theta = (low * f_high - high * f_low) / (f_high - f_low)
        f = value(piece, i, theta) - target
        if f * f_high < 0.0:
            low, f_low = high, f_high
        else:
            f_low *= 0.5
        high, f_high = theta, f
        if f == 0.0 or abs(high - low) < 1e-14 or f_high == f_low:
            break
    return theta


@compiled
def _advance(state: np.ndarray, new: np.ndarray, k: np.ndarray) -> None:
    """Take the step: its end is the next start, its last slope the next first one."""
    for i in range(7):
        state[i] = new[i]
        k[0, i] = k[6, i]


@compiled
def _start(
    speed: float,
    elevation: float,
    azimuth: float,
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    state: np.ndarray,
    k: np.ndarray,
) -> None:
    for i in range(7):
        state[i] = 0.0
    state[3] = speed * math.cos(elevation) * math.cos(azimuth)
    state[4] = speed * math.sin(elevation)
    state[5] = speed * math.cos(elevation) * math.sin(azimuth)
    _slope(state, setup, machs, logs, coefficients, k[0])


@compiled
def fly_dense(
    setup: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speed: float,
    elevation: float,
    azimuth: float,
    plane: float,
    ground: float,
    longest: float,
    tolerance: float,
    fixed_step: float,
) -> tuple[int, np.ndarray, np.ndarray]:
    """One flight with dense output: (reason for the end, times of the knots [s], interpolants).

    Ends at the plane x = `plane`, on falling through y = `ground`, or after `longest` seconds, whichever is
    first.  `fixed_step` > 0 switches the error control off (for tests of the order of convergence).
    """
    state, new, trial = np.zeros(7), np.zeros(7), np.zeros(7)
    k = np.zeros((7, 7))
    room = 64
    times, pieces = np.zeros(room + 1), np.zeros((room, 5, 7))
    _start(speed, elevation, azimuth, setup, machs, logs, coefficients, state, k)
    t, n, reason = 0.0, 0, TOO_MANY_STEPS
    h = fixed_step if fixed_step > 0.0 else 1e-2
    for _ in range(20 * MOST_STEPS):
        if n >= MOST_STEPS:
            break
        last = t + h >= longest * (1.0 - 1e-14)
        if last:
            h = longest - t
        error = _step(state, h, setup, machs, logs, coefficients, k, trial, new) / tolerance
        factor = 5.0 if error < 1e-4 else min(5.0, max(0.2, 0.9 * error**-0.2))
        if fixed_step <= 0.0 and error > 1.0:
            h *= min(factor, 0.9)
            continue
        if n == room:
            room *= 4
            more_times, more_pieces = np.zeros(room + 1), np.zeros((room, 5, 7))
            for i in range(n):
                more_times[i + 1] = times[i + 1]
                for j in range(5):
                    for m in range(7):
                        more_pieces[i, j, m] = pieces[i, j, m]
            times, pieces = more_times, more_pieces
        _dense(state, new, h, k, pieces[n])
        end = 2.0
        if new[0] >= plane:
            end = root(pieces[n], 0, plane, 0.0, 1.0)
            reason = AT_PLANE
        if new[1] <= ground < state[1]:
            touch = root(pieces[n], 1, ground, 0.0, 1.0)
            if touch < end:
                end = touch
                reason = AT_GROUND
        n += 1
        times[n] = t + h
        if end <= 1.0:
            times[n] = t + end * h
            _shorten(pieces[n - 1], end)
            break
        t += h
        if last:
            reason = OUT_OF_TIME
            break
        _advance(state, new, k)
        if fixed_step <= 0.0:
            h *= factor
    return reason, times[: n + 1], pieces[:n]


@compiled
def _shorten(piece: np.ndarray, end: float) -> None:
    """Rescale an interpolant to its first part, so that a step ends where the flight ends.

    The quartic a + θ(b + ψ(c + θ(d + ψ e))), ψ = 1 − θ, is turned into powers of θ, scaled, and turned back.
    """
    for i in range(7):
        a, b, c, d, e = piece[0, i], piece[1, i], piece[2, i], piece[3, i], piece[4, i]
        p1 = (b + c) * end
        p2 = (d + e - c) * end**2
        p3 = (-d - 2.0 * e) * end**3
        p4 = e * end**4
        e = p4
        d = -p3 - 2.0 * e
        c = d + e - p2
        piece[1, i], piece[2, i], piece[3, i], piece[4, i] = p1 - c, c, d, e
        piece[0, i] = a


@compiled
def at_time(times: np.ndarray, pieces: np.ndarray, t: float, out: np.ndarray) -> None:
    """The state at a time within the flight."""
    n = max(0, min(np.searchsorted(times, t, side="right") - 1, pieces.shape[0] - 1))
    theta = (t - times[n]) / (times[n + 1] - times[n])
    for i in range(7):
        out[i] = value(pieces[n], i, theta)


@compiled
def first_time(
    times: np.ndarray, pieces: np.ndarray, i: int, target: float, after: float, before: float
) -> float:
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
def fly_to_planes(
    setups: np.ndarray,
    machs: np.ndarray,
    logs: np.ndarray,
    coefficients: np.ndarray,
    speeds: np.ndarray,
    elevations: np.ndarray,
    azimuths: np.ndarray,
    planes: np.ndarray,
    tolerance: float,
) -> np.ndarray:
    """Many flights, each with its own setup row, through rising planes x = const; the ground is left out.

    Returns an array (flights, planes, 4) of time, y, z and speed; a time of -1 marks a plane not reached
    within `LONGEST` seconds.
    """
    result = np.zeros((speeds.size, planes.size, 4))
    state, new, trial, piece = np.zeros(7), np.zeros(7), np.zeros(7), np.zeros((5, 7))
    k = np.zeros((7, 7))
    for flight in range(speeds.size):
        setup = setups[flight]
        _start(
            speeds[flight], elevations[flight], azimuths[flight], setup, machs, logs, coefficients, state, k
        )
        t, h, done = 0.0, 2e-2, 0
        for _ in range(MOST_STEPS):
            error = _step(state, h, setup, machs, logs, coefficients, k, trial, new) / tolerance
            factor = 5.0 if error < 1e-4 else min(5.0, max(0.2, 0.9 * error**-0.2))
            if error > 1.0:
                h *= min(factor, 0.9)
                continue
            if done < planes.size and new[0] >= planes[done]:
                _dense(state, new, h, k, piece)
                while done < planes.size and new[0] >= planes[done]:
                    theta = root(piece, 0, planes[done], 0.0, 1.0)
                    result[flight, done, 0] = t + theta * h
                    result[flight, done, 1] = value(piece, 1, theta)
                    result[flight, done, 2] = value(piece, 2, theta)
                    vx, vy, vz = value(piece, 3, theta), value(piece, 4, theta), value(piece, 5, theta)
                    result[flight, done, 3] = math.sqrt(vx * vx + vy * vy + vz * vz)
                    done += 1
            t += h
            if done == planes.size or t > LONGEST:
                break
            _advance(state, new, k)
            h *= factor
        for plane in range(done, planes.size):
            result[flight, plane, 0] = -1.0
    return result
