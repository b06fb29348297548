"""The shot with the waves in the gas resolved: a second opinion on the shot model.

What it is for: the same build (`Parameters`, SI floats), but three columns of gas instead of two volumes of
one pressure each: the chamber between plunger and port, the barrel between port and dart, and the air ahead
of the dart down to the open muzzle.  Each is a one-dimensional flow of a perfect gas (``gas_column``); the
port is the same orifice law as in the shot model, but between the total pressure of the gas that arrives at
it and the pressure at the barrel's breech, with the waves that it sends into both columns (``openings``).
Plunger, springs, friction, stop and leaks follow the shot model's rules (``shot.events``), with the local
pressures on plunger and dart.

What it leaves out: the inertia of the gas in the port itself and in a gap that leaks, friction of the gas at
the walls, the air outside the muzzle (no end correction), the flow's third dimension.  It takes a tenth of a
second and more where the shot model takes 50 µs.

References: as ``gas_column`` and ``riemann``; A. E. H. Love and F. B. Pidduck, *Phil. Trans. R. Soc. A*
222, 167 (1922) (the wave problem of a gun).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.shot import equations as eq
from blasterlab.shot import events
from blasterlab.shot import spring_line as line
from blasterlab.shot.equations import S, U, W, Y
from blasterlab.shot.integrate import begin
from blasterlab.shot.parameters import Floats, Integers, Parameters
from blasterlab.shot.rules import EXITED, FAILED, RUNNING, TIME_LIMIT, dart_hold, seal_hold
from blasterlab.waves.gas_column import LAYERS, STATE, TOTALS, fill, full_step, half_step, remesh
from blasterlab.waves.gas_rates import AHEAD, BARREL, CHAMBER, column_ends, flow, move

LEAST = 4  # cells in the shortest column
MASS, ENERGY, MOTION = range(3)  # columns of what is kept of the gas


class GasMoment(NamedTuple):
    """A row of the history; pressures are absolute, the first two are means."""

    time: float
    plunger_travel: float
    plunger_speed: float
    dart_travel: float
    dart_speed: float
    chamber_pressure: float
    barrel_pressure: float
    plunger_face_pressure: float
    port_pressure: float
    breech_pressure: float
    base_pressure: float
    nose_pressure: float


class WaveOutcome(NamedTuple):
    """What a shot came to, SI floats.  Pressures are absolute."""

    status: int  # as in `shot.rules`
    muzzle_velocity: float  # the dart's speed at the end
    top_speed: float  # its highest speed on the way
    time: float
    chamber_peak: float  # highest mean pressure in the chamber
    plunger_peak: float  # highest pressure on the plunger's face
    impact_speed: float
    stop_energy: float
    steps: int
    records: int


@compiled
def _cells(length: float, cell: float) -> int:
    """How many cells a column of some length has."""
    return max(LEAST, math.ceil(length / cell))


@compiled
def _fill(p: Parameters, x: Floats, ahead: bool, cell: float, n: Integers) -> Floats:
    """The columns at the start, and their cells into n; none where there is no air ahead."""
    left, right = column_ends(p, x)
    room = int(1.4 * max(right[CHAMBER], p.length - left[BARREL]) / cell) + 2 * LEAST
    columns = np.zeros((3, LAYERS, 3, room))
    for k in range(3):
        length = right[k] - left[k]
        if k == AHEAD and not (ahead and length > cell):
            break
        n[k] = _cells(length, cell)
        pressure = p.charge if p.charge > 0.0 and k == CHAMBER else p.ambient_pressure
        area = p.plunger_area if k == CHAMBER else p.barrel_area
        density = pressure / (p.gas_constant * p.ambient_temperature)
        fill(columns[k], n[k], length * area, density, pressure)
    return columns


@compiled
def _gas(columns: Floats, n: Integers, row: Floats) -> None:
    """Mass of all columns, energy and kinetic energy behind the dart, into a row of zeros."""
    for k in range(3):
        for i in range(n[k]):
            row[MASS] += columns[k, TOTALS, 0, i]
            if k != AHEAD:
                row[ENERGY] += columns[k, TOTALS, 2, i]
                row[MOTION] += 0.5 * columns[k, TOTALS, 1, i] ** 2 / columns[k, TOTALS, 0, i]


@compiled
def _sample(p: Parameters, x: Floats, columns: Floats, n: Integers, row: Floats) -> None:
    """Pressures at fixed places in chamber and barrel into a row (2, points); NaN beyond the gas."""
    points = row.shape[1]
    left, right = column_ends(p, x)
    for k in range(2):
        start, stop = (0.0, right[CHAMBER]) if k == CHAMBER else (left[BARREL], p.length)
        for j in range(points):
            place = start + (j + 0.5) / points * (stop - start)
            i = math.floor((place - left[k]) / (right[k] - left[k]) * n[k])
            row[k, j] = columns[k, STATE, 2, i] if 0 <= i < n[k] else math.nan


@compiled
def _until(distance: float, speed: float, acceleration: float, dt: float) -> float:
    """The shorter of dt and the times to cover a distance and to turn, at constant acceleration."""
    if acceleration < 0.0:
        dt = min(dt, max(-speed / acceleration, 1e-15))
    if distance - speed * dt - 0.5 * acceleration * dt * dt > 0.0:
        return dt
    root = math.sqrt(max(speed * speed + 2.0 * acceleration * distance, 0.0))
    return min(2.0 * distance / max(speed + root, 1e-30), dt)


@compiled
def _step(p: Parameters, x: Floats, dx: Floats, mode: Integers, dt: float) -> float:
    """A step no longer than dt that ends on an event."""
    way = mode[eq.PLUNGER]
    if way != 0:
        dt = _until(p.stroke - x[S] if way > 0 else x[S], way * x[U], way * dx[U], dt)
    way = mode[eq.DART]
    if way != 0:
        dt = _until(p.length - x[Y] if way > 0 else x[Y], way * x[W], way * dx[W], dt)
    return dt


@compiled
def _follow(p: Parameters, x: Floats, cell: float, columns: Floats, n: Integers) -> float:
    """Let the meshes follow the columns' lengths; returns the mass of the air ahead when it is given up."""
    left, right = column_ends(p, x)
    lost = 0.0
    if n[AHEAD] > 0 and right[AHEAD] - left[AHEAD] < cell:
        lost = columns[AHEAD, TOTALS, 0, : n[AHEAD]].sum()
        n[AHEAD] = 0
    for k in range(3):
        wish = _cells(right[k] - left[k], cell)
        if n[k] > 0 and not 0.75 * n[k] <= wish <= 1.25 * n[k]:
            remesh(columns[k], n[k], wish)
            n[k] = wish
    return lost


@compiled
def _shoot(
    p: Parameters, ahead: bool, cell: float, cfl: float, t_max: float, every: float, history: Floats,
    field: Floats, x: Floats, gas: Floats,
) -> WaveOutcome:  # fmt: skip
    """Integrate one shot; history and field get a row every so many seconds while there is room.

    x becomes the final state, and gas what `WaveRun` says.

    The integration loop: Heun's step with everything that happens between two of them, in its order.
    """
    dx, x0, dx0 = np.zeros(eq.STATES), np.zeros(eq.STATES), np.zeros(eq.STATES)
    n, mode = np.zeros(3, np.int64), np.empty(eq.MODES, np.int64)
    marks, after = events.fresh_marks(), np.empty(events.EVENTS)
    begin(p, x, mode)
    coils, way, struck, kinked = line.spring_lines(p), 0, False, False
    columns = _fill(p, x, ahead, cell, n)
    _gas(columns, n, gas[0])
    fastest = math.sqrt(2.0 * eq.spring_work(p, p.stroke) / p.plunger_mass)
    t = top = peak = plunger_peak = out = 0.0
    steps, rows = 0, 0
    while True:
        found = flow(p, t, x, columns, n, dx)
        mean1 = columns[CHAMBER, STATE, 2, : n[CHAMBER]].mean()
        mean2 = columns[BARREL, STATE, 2, : n[BARREL]].mean()
        if not (mean1 > 0.0 and mean2 > 0.0 and found.step > 0.0):
            status = FAILED
            break
        top, peak, plunger_peak = max(top, x[W]), max(peak, mean1), max(plunger_peak, found.at_plunger)
        if rows < len(history) and t >= rows * every:
            history[rows] = GasMoment(
                t, x[S], x[U], x[Y], x[W], mean1, mean2, found.at_plunger, found.at_port, found.at_breech,
                found.at_base, found.at_nose,
            )  # fmt: skip
            if rows < len(field):
                _sample(p, x, columns, n, field[rows])
            rows += 1
        line.look(coils, t, 1.0)
        struck = line.lift(coils, x[U]) or struck
        push, seal = line.pressed(coils, x[U]), seal_hold(p, found.at_plunger)
        on_plunger = eq.spring_force(p, x[S]) + push + found.on_plunger
        events.release(t, x, p, mode, on_plunger, seal, found.on_dart, dart_hold(p, found.at_base), marks)
        status = events.how_ended(t, t_max, x, mode, marks, False)
        if status != RUNNING:
            break
        move(p, x, mode, found, push, dx)
        struck = struck or mode[eq.PLUNGER] != way
        if struck or kinked:
            line.turn(coils, t, x[U], dx[U], struck)
        dt, kinked = line.until_kink(coils, t, _step(p, x, dx, mode, cfl * found.step))
        x0[:], dx0[:] = x, dx
        x += dt * dx
        for k in range(3):
            half_step(columns[k], n[k], dt)
        out += 0.5 * dt * found.outflow
        found = flow(p, t + dt, x, columns, n, dx)
        line.look(coils, t + dt, -1.0)
        move(p, x, mode, found, line.pressed(coils, x[U]), dx)
        x[:] = x0 + 0.5 * dt * (dx0 + dx)
        for k in range(3):
            full_step(columns[k], n[k], dt)
        out += 0.5 * dt * found.outflow
        events.watch(p, x, mode, 0.0, after)
        line.watch_ends(coils, dt, x[S], x[U], p.stroke, after, events.TOUCH)
        way = mode[eq.PLUNGER]
        line.remember(coils, t, dt, x[S] - x0[S], x[U], dx[U], way == 0)
        struck = line.meet(coils, x[S], after, events.TOUCH)
        t += dt
        steps += 1
        status = events.settle(t, x, p, mode, after, fastest, marks)
        if status == EXITED:
            break
        out += _follow(p, x, cell, columns, n)
    _gas(columns, n, gas[1])
    gas[1, MASS] += out
    return WaveOutcome(
        status, x[W], max(top, x[W]), t, peak, plunger_peak, marks[events.IMPACT_SPEED],
        marks[events.STOP_ENERGY], steps, rows,
    )  # fmt: skip


class WaveRun(NamedTuple):
    """A shot with gas waves: what it came to, and samples on the way."""

    outcome: WaveOutcome
    history: Floats  # columns as `GasMoment`
    field: Floats  # pressures (row, chamber or barrel, place), NaN beyond the gas
    state: Floats  # at the end, in the places of `shot.equations`
    gas: Floats  # at the start and at the end: mass, with what has left; energy and motion behind the dart


def wave_run(
    p: Parameters,
    cell: float = 2e-3,
    every: float = 2e-5,
    rows: int = 0,
    points: int = 0,
    t_max: float = TIME_LIMIT,
    cfl: float = 0.45,
) -> WaveRun:
    """One shot with the waves in the gas resolved, in SI floats.

    Euler's equations in each column; M du/dt = F_spring + (p_a − p) A_p − F_seal; m dw/dt = (p_base −
    p_nose) A_b − F_dart

    Parameters
    ----------
    p : Parameters [SI]
        The same numbers as for the shot model.  ``gas_inertia`` is not used: the waves hold it.
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
        For a size that must be positive and is not, a cell longer than the stroke or the barrel, or a time
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
        "plunger_mass", "plunger_area", "stroke", "chamber_dead", "barrel_area", "length", "barrel_dead",
        "dart_mass", "ambient_pressure", "ambient_temperature", "gas_constant",
    ):  # fmt: skip
        if not getattr(p, name) > 0.0:
            raise ValueError(f"{name}: got {getattr(p, name):g} (SI); must be above 0 for a shot with waves")
    if not 0.0 < cell <= min(p.stroke, p.length):
        raise ValueError(
            f"cell: got {cell:g} m; must be above 0 and at most the stroke and the barrel length"
        )
    if not 0.0 < cfl <= 0.9:
        raise ValueError(f"cfl: got {cfl:g}; must be above 0 and at most 0.9 to be stable")
    # the waves hold the gas's inertia and the air ahead
    changed = p._replace(
        port_area=min(p.port_area, p.plunger_area, p.barrel_area), gas_inertia=0, air_ahead=0
    )
    numbers = Parameters(*map(float, changed))
    history = np.empty((rows, len(GasMoment._fields)))
    field = np.empty((rows if points else 0, 2, max(points, 1)))
    steps = float(cell), float(cfl), float(t_max), float(every)
    state, gas = np.zeros(eq.STATES), np.zeros((2, MOTION + 1))
    outcome = WaveOutcome(*_shoot(numbers, p.air_ahead > 0.0, *steps, history, field, state, gas))
    return WaveRun(outcome, history[: outcome.records], field[: outcome.records], state, gas)
