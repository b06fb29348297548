# mypy: allow-untyped-defs
"""The shot with the waves in the gas resolved: the judge of the lumped model in ``kernel``.

What it is for: the same build (`kernel.Parameters`, SI floats), but three columns of gas instead of two
lumped volumes: the chamber between plunger and port, the barrel between port and dart, and the air ahead of
the dart down to the open muzzle.  Each is a one-dimensional flow of a perfect gas (``gas_column``); the
port is the same orifice law as in the lumped model, but between the total pressure of the gas that arrives
at it and the pressure at the barrel's breech, with the waves that it sends into both columns
(``riemann.discharge``).  Plunger, springs, friction, stop and leaks follow the lumped model's rules, with
the local pressures on plunger and dart.

What it leaves out: the inertia of the gas in the port itself, friction of the gas at the walls, the air
outside the muzzle (no end correction), the flow's third dimension.  It costs a second where the lumped
model takes 50 µs.

References: as ``gas_column`` and ``riemann``; A. E. H. Love and F. B. Pidduck, *Phil. Trans. R. Soc. A*
222, 167 (1922) (the wave problem of a gun).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.shot.equations import spring_force, spring_work
from blasterlab.shot.parameters import GAMMA, Parameters
from blasterlab.shot.rules import (
    EXITED,
    FAILED,
    NO_BREAKAWAY,
    NO_RELEASE,
    QUIET,
    STALLED,
    TIME_OUT,
    dart_hold,
    seal_hold,
)
from blasterlab.waves.gas_column import fill, remesh
from blasterlab.waves.gas_rates import (
    AHEAD,
    AT_BASE,
    AT_BREECH,
    AT_NOSE,
    AT_PLUNGER,
    AT_PORT,
    BARREL,
    CHAMBER,
    DART_WORK,
    FRONT_WORK,
    HEAT,
    LEAKED,
    ON_DART,
    ON_PLUNGER,
    OUT_MASS,
    SEAL_WORK,
    S,
    U,
    W,
    Y,
    columns,
    flow,
    move,
)

LEAST = 4  # cells in the shortest column
HISTORY = ("time", "s", "u", "y", "w", "chamber", "barrel", "plunger", "port", "breech", "base", "nose")


class WaveOutcome(NamedTuple):
    """What a shot came to, SI floats; times that never came are −1.  Pressures are absolute."""

    status: int  # as in `kernel.Outcome`
    muzzle_velocity: float  # the dart's speed at the end
    top_speed: float  # its highest speed on the way
    time: float
    chamber_peak: float  # highest mean pressure in the chamber
    barrel_peak: float  # highest mean pressure behind the dart
    plunger_peak: float  # highest pressure on the plunger's face
    base_peak: float  # highest pressure on the dart's tail
    breakaway_time: float
    stop_time: float
    impact_speed: float
    spring_work: float
    dart_energy: float
    plunger_energy: float
    stop_energy: float
    seal_work: float
    dart_work: float
    gas_energy: float  # gain of the gas behind the dart, internal and kinetic
    gas_motion: float  # of which kinetic
    leaked: float
    heat: float
    air_ahead: float  # work on the air ahead beyond that against the still atmosphere
    atmosphere: float  # work against the still atmosphere
    residual: float  # spring work (or charge) less all the rest
    mass_error: float  # gas that appeared, as a share of all
    steps: int
    records: int


@compiled
def _until(distance, speed, acceleration, dt):
    """The shorter of ``dt`` and the time to cover ``distance`` (not negative) at constant acceleration."""
    if distance - speed * dt - 0.5 * acceleration * dt * dt > 0.0:
        return dt
    root = math.sqrt(max(speed * speed + 2.0 * acceleration * distance, 0.0))
    return min(2.0 * distance / max(speed + root, 1e-30), dt)


@compiled
def _totals(Q, n, columns):
    """Mass, energy and kinetic energy in the first columns."""
    mass = energy = motion = 0.0
    for k in range(columns):
        for i in range(n[k]):
            mass += Q[k, 0, i]
            energy += Q[k, 2, i]
            motion += 0.5 * Q[k, 1, i] ** 2 / Q[k, 0, i]
    return mass, energy, motion


@compiled
def _mean(Q, n, volume):
    """Mean pressure in one column."""
    total = 0.0
    for i in range(n):
        total += Q[2, i] - 0.5 * Q[1, i] ** 2 / Q[0, i]
    return (GAMMA - 1.0) * total / volume


@compiled
def _sample(p, ends, n, Wk, row):
    """Pressures at fixed places in chamber and barrel into ``row`` (2, points); NaN beyond the gas."""
    points = row.shape[1]
    for k in range(2):
        start = 0.0 if k == CHAMBER else ends[2]
        stop = ends[1] if k == CHAMBER else p.length
        for j in range(points):
            x = start + (j + 0.5) / points * (stop - start)
            i = math.floor((x - ends[2 * k]) / (ends[2 * k + 1] - ends[2 * k]) * n[k])
            row[k, j] = Wk[k, 2, i] if 0 <= i < n[k] else math.nan


@compiled
def _predict(Q, K, n, used, dt, old, first):
    """Step the columns on, keeping where they were and their rates."""
    for k in range(used):
        for m in range(3):
            for i in range(n[k]):
                old[k, m, i], first[k, m, i] = Q[k, m, i], K[k, m, i]
                Q[k, m, i] += dt * K[k, m, i]


@compiled
def _correct(Q, K, n, used, dt, old, first):
    """The step again, with the mean of the rates at its ends."""
    for k in range(used):
        for m in range(3):
            for i in range(n[k]):
                Q[k, m, i] = old[k, m, i] + 0.5 * dt * (first[k, m, i] + K[k, m, i])


@compiled
def _shoot(p, cell, cfl, t_max, every, history, field):
    """Integrate one shot; ``history`` and ``field`` get a row every ``every`` seconds while there is room."""
    pa = p.ambient_pressure
    clamped = p.charge > 0.0
    B = np.zeros(9)
    B[S] = p.stroke if clamped else 0.0
    ends = columns(p, B)
    ahead = p.air_ahead > 0.0 and ends[5] - ends[4] > cell
    longest = max(ends[1], p.length - ends[2])
    room = int(1.4 * longest / cell) + 2 * LEAST
    Q = np.zeros((3, 3, room))
    Wk, D, K = np.zeros_like(Q), np.zeros_like(Q), np.zeros_like(Q)
    first, old = np.zeros_like(Q), np.zeros_like(Q)
    n = np.zeros(3, np.int64)
    areas = (p.plunger_area, p.barrel_area, p.barrel_area)
    for k in range(3 if ahead else 2):
        length = ends[2 * k + 1] - ends[2 * k]
        n[k] = max(LEAST, math.ceil(length / cell))
        pressure = p.charge if clamped and k == CHAMBER else pa
        density = pressure / (p.gas_constant * p.ambient_temperature)
        fill(Q[k], n[k], length, areas[k], density, 0.0, pressure, GAMMA)
    mass_start, _, _ = _totals(Q, n, 3)
    _, energy_start, _ = _totals(Q, n, 2)
    out, dB, dB1 = np.zeros(10), np.zeros(9), np.zeros(9)
    B0 = B.copy()
    plunger, dart = 0, 0
    t, held_since, spent = 0.0, 0.0, -1.0
    stop_energy = impact = mass_out = out_mass = top_speed = 0.0
    breakaway_time = stop_time = -1.0
    peaks = np.zeros(4)
    steps, rows, status = 0, 0, FAILED
    dt, half = 0.0, False
    while True:
        limit = flow(p, t + dt if half else t, B, n, ahead, Q, Wk, D, K, dB, out)
        if not half:
            ends = columns(p, B)
            mean1 = _mean(Q[CHAMBER], n[CHAMBER], p.plunger_area * (ends[1] - ends[0]))
            mean2 = _mean(Q[BARREL], n[BARREL], p.barrel_area * (ends[3] - ends[2]))
            peaks[0], peaks[1] = max(peaks[0], mean1), max(peaks[1], mean2)
            peaks[2], peaks[3] = max(peaks[2], out[AT_PLUNGER]), max(peaks[3], out[AT_BASE])
            top_speed = max(top_speed, B[W])
            if not (mean1 > 0.0 and mean2 > 0.0 and limit > 0.0):
                break
            if rows < len(history) and t >= rows * every:
                history[rows, 0] = t
                history[rows, 1], history[rows, 2], history[rows, 3], history[rows, 4] = (
                    B[S],
                    B[U],
                    B[Y],
                    B[W],
                )
                history[rows, 5], history[rows, 6] = mean1, mean2
                history[rows, 7], history[rows, 8], history[rows, 9] = (
                    out[AT_PLUNGER],
                    out[AT_PORT],
                    out[AT_BREECH],
                )
                history[rows, 10], history[rows, 11] = out[AT_BASE], out[AT_NOSE]
                if rows < len(field):
                    _sample(p, ends, n, Wk, field[rows])
                rows += 1
            # held bodies: does one break away?
            if plunger == 0 and not clamped:
                net = spring_force(p, B[S]) + out[ON_PLUNGER]
                hold = seal_hold(p, out[AT_PLUNGER])
                if B[S] < p.stroke and net > hold:
                    plunger = 1
                elif B[S] > 0.0 and -net > hold:
                    plunger = -1
            if dart == 0:
                net = out[ON_DART]
                hold = dart_hold(p, out[AT_BASE])
                if net > hold:
                    dart = 1
                    if breakaway_time < 0.0:
                        breakaway_time = t
                elif B[Y] > 0.0 and -net > hold:
                    dart = -1
            # a dart that the plunger could not move while it did its best, nor for a while after
            if spent < 0.0 and plunger <= 0:
                spent = t
            if dart != 0:
                held_since = t
            elif spent >= 0.0 and t - max(held_since, spent) > QUIET:
                status = STALLED if B[Y] > 0.0 else (NO_RELEASE if B[S] == 0.0 else NO_BREAKAWAY)
                break
            if t > t_max:
                status = TIME_OUT
                break
            move(p, B, plunger, dart, out, dB)
            # a step as long as the waves allow, shortened so that it ends on an event
            dt = cfl * limit
            if plunger != 0:
                gap = p.stroke - B[S] if plunger > 0 else B[S]
                dt = _until(gap, plunger * B[U], plunger * dB[U], dt)
                if plunger * dB[U] < 0.0:
                    dt = min(dt, max(-B[U] / dB[U], 1e-15))
            if dart != 0:
                gap = p.length - B[Y] if dart > 0 else B[Y]
                dt = _until(gap, dart * B[W], dart * dB[W], dt)
                if dart * dB[W] < 0.0:
                    dt = min(dt, max(-B[W] / dB[W], 1e-15))
            # Heun's method, first half: a full step with the rates at its start
            for m in range(9):
                B0[m], dB1[m] = B[m], dB[m]
                B[m] += dt * dB[m]
            out_mass = out[OUT_MASS]
            _predict(Q, K, n, 3 if ahead else 2, dt, old, first)
            half = True
            continue
        # second half: the step again with the mean of the rates at its ends
        half = False
        move(p, B, plunger, dart, out, dB)
        for m in range(9):
            B[m] = B0[m] + 0.5 * dt * (dB1[m] + dB[m])
        mass_out += 0.5 * dt * (out_mass + out[OUT_MASS])
        _correct(Q, K, n, 3 if ahead else 2, dt, old, first)
        t += dt
        steps += 1
        # events
        near = 1e-12
        if plunger > 0 and B[S] >= p.stroke * (1.0 - near):
            stop_time = t if stop_time < 0.0 else stop_time
            impact = max(impact, B[U])
            back = p.stop_restitution * B[U]
            back = back if back > 1e-2 else 0.0
            stop_energy += 0.5 * p.plunger_mass * (B[U] ** 2 - back**2)
            B[S], B[U], plunger = p.stroke, -back, -1 if back > 0.0 else 0
        elif plunger < 0 and B[S] <= near * p.stroke:
            stop_energy += 0.5 * p.plunger_mass * B[U] ** 2
            B[S], B[U], plunger = 0.0, 0.0, 0
        elif plunger * B[U] <= 1e-9:
            B[U], plunger = 0.0, 0
        if dart > 0 and B[Y] >= p.length * (1.0 - near):
            status = EXITED
            break
        if dart < 0 and B[Y] <= near * p.length:
            stop_energy += 0.5 * p.dart_mass * B[W] ** 2
            B[Y], B[W], dart = 0.0, 0.0, 0
        elif dart * B[W] <= 1e-9:
            B[W], dart = 0.0, 0
        # the mesh follows the columns' lengths
        ends = columns(p, B)
        if ahead and ends[5] - ends[4] < cell:
            mass_out += _totals(Q[AHEAD:], n[AHEAD:], 1)[0]
            ahead = False
        for k in range(3 if ahead else 2):
            wish = max(LEAST, math.ceil((ends[2 * k + 1] - ends[2 * k]) / cell))
            if wish > 1.25 * n[k] or wish < 0.75 * n[k]:
                n[k] = remesh(Q[k], n[k], wish, Wk[k], D[k], GAMMA)
    mass_end, _, _ = _totals(Q, n, 3 if ahead else 2)
    _, energy_end, motion = _totals(Q, n, 2)
    work = 0.0 if clamped else spring_work(p, B[S])
    dart_energy = 0.5 * p.dart_mass * B[W] ** 2
    plunger_energy = 0.5 * p.plunger_mass * B[U] ** 2
    gas = energy_end - energy_start
    atmosphere = pa * (p.barrel_area * B[Y] - p.plunger_area * (B[S] - (p.stroke if clamped else 0.0)))
    spent = dart_energy + plunger_energy + stop_energy + B[SEAL_WORK] + B[DART_WORK] + gas
    spent += B[LEAKED] + B[HEAT] + B[FRONT_WORK] + atmosphere
    return WaveOutcome(
        status, B[W], max(top_speed, B[W]), t, peaks[0], peaks[1], peaks[2], peaks[3], breakaway_time,
        stop_time, impact, work, dart_energy, plunger_energy, stop_energy, B[SEAL_WORK], B[DART_WORK], gas,
        motion, B[LEAKED], B[HEAT], B[FRONT_WORK], atmosphere, work - spent,
        (mass_end + mass_out) / mass_start - 1.0, steps, rows,
    )  # fmt: skip


class WaveRun(NamedTuple):
    """A shot with resolved waves: what it came to, and samples on the way."""

    outcome: WaveOutcome
    history: np.ndarray  # columns as in `HISTORY`
    field: np.ndarray  # pressures (row, chamber or barrel, place), NaN beyond the gas


def wave_run(
    p: Parameters,
    cell: float = 2e-3,
    every: float = 2e-5,
    rows: int = 0,
    points: int = 0,
    t_max: float = 0.3,
    cfl: float = 0.45,
) -> WaveRun:
    """One shot with the waves in the gas resolved, in SI floats.

    Euler's equations in each column; M du/dt = F_spring + (p_a − p) A_p − F_seal; m dw/dt = (p_base −
    p_nose) A_b − F_dart

    Parameters
    ----------
    p : Parameters [SI]
        The same numbers as for the lumped model.  ``gas_inertia`` is not used: the waves hold it.
    cell : float [m]
        Length of a cell, above 0; columns shorter than four cells get four.
    every : float [s]
        Time between samples.
    rows : int [-]
        The most samples to keep.
    points : int [-]
        Places in each of chamber and barrel at which pressure is sampled.
    t_max : float [s]
        When to give up on a dart that has not left.
    cfl : float [-]
        Time step in units of the time in which a wave crosses a cell, 0 to 0.9.

    Returns
    -------
    WaveRun
        Outcome, history and field, SI.

    Raises
    ------
    ValueError
        For a size that must be positive and is not, a cell longer than the chamber or the barrel, or a time
        step beyond what is stable.

    Notes
    -----
    The port lets through at most as much as the narrower of the two tubes at sonic speed.  The pressure on
    the jet's way out is that of the barrel's breech: nothing of the jet's speed is won back as pressure.  A
    port at the full bore of two equal tubes with a discharge coefficient of one is no obstacle at all, and
    the flow through it is the exact solution of the Riemann problem.

    References
    ----------
    See the module.
    """
    for name in (
        "plunger_mass",
        "plunger_area",
        "stroke",
        "chamber_dead",
        "barrel_area",
        "length",
        "barrel_dead",
    ):
        if not getattr(p, name) > 0.0:
            raise ValueError(f"{name} must be above 0 for a shot with waves, got {getattr(p, name):g} (SI)")
    for name in ("dart_mass", "ambient_pressure", "ambient_temperature", "gas_constant"):
        if not getattr(p, name) > 0.0:
            raise ValueError(f"{name} must be above 0 for a shot with waves, got {getattr(p, name):g} (SI)")
    if not 0.0 < cell <= min(p.stroke, p.length):
        raise ValueError(
            f"cell must be above 0 and at most the stroke and the barrel's length, got {cell:g} m"
        )
    if not 0.0 < cfl <= 0.9:
        raise ValueError(f"cfl must be above 0 and at most 0.9 to be stable, got {cfl:g}")
    narrow = min(p.plunger_area, p.barrel_area)
    p = Parameters(*(float(value) for value in p._replace(port_area=min(p.port_area, narrow))))
    history = np.empty((rows, len(HISTORY)))
    field = np.empty((rows if points else 0, 2, max(points, 1)))
    result = _shoot(p, float(cell), float(cfl), float(t_max), float(every), history, field)
    outcome = WaveOutcome(*result)
    return WaveRun(outcome, history[: outcome.records], field[: outcome.records])
