"""The shot's integrator: steps of the right size, and events where they happen.

What it is for: take the equations with the steps of ``ark_step`` and the ``rules`` from the release until the
dart's tail leaves the muzzle or nothing moves any more.  What it leaves out: units (``simulate``).

Events are located by shortening the step until the first of them lies at its end; everything that changes
slope (the nose leaving the muzzle, a spring coming free) is an event.  A step is also held to its energy
balance, which the equations keep exactly.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled, compiled_bare, compiled_inline
from blasterlab.shot import equations as eq
from blasterlab.shot import events
from blasterlab.shot import spring_line as line
from blasterlab.shot.ark_step import END, FLOW, GUIDES, LAST, LENGTH, NOW, PUSH, ROWS, advance
from blasterlab.shot.equations import DYNAMIC, E1, E2, M1, M2, STATES, S, U, W, Y
from blasterlab.shot.parameters import GAMMA, Floats, Integers, Parameters
from blasterlab.shot.rules import FAILED, RUNNING, TIME_LIMIT, nose_out, volumes

#: Default tolerance: over random builds half of the muzzle velocities lie within 2e-6 of the exact solution,
#: nine in ten within 1e-5.
TOLERANCE = 1e-6
FINER = (1.0, 0.1, 1e-2, 1e-3)  # one shot in some thousands needs a second, finer go until its ledger closes
MAX_STEPS = 200_000
FIRST = 0.02  # the first step, of the time that the stroke or the barrel takes at full speed
SAFETY = 0.9  # share of the step that would just do
GROWTH = 3.0  # the most that a step grows
SHRINKING = 0.8  # the least share of itself to which a step's trend is believed to go on shrinking it
SOLVE = 0.3  # tolerance of a stage's flow, as a share of the step's
DEFECT_WEIGHT = 50.0  # of what a step leaves of the energy balance,
DEFECT_GROWTH = 1.0  # and its growth with each step taken, so that many small ones do not add up,
MANY = 20_000  # up to so many: else finer steps ask for finer ones yet, until there are too many
ROUNDING = 1e-15  # of the gas energy, that rounding may leave of the balance
#: Columns of a record: time, the states (state n in column AT + n), absolute pressures in chamber, barrel and
#: at the dart's base.
TIME, AT = 0, 1
CHAMBER, BARREL, BASE, COLUMNS = range(AT + STATES, AT + STATES + 4)


class Outcome(NamedTuple):
    """What a shot came to, SI floats."""

    status: int  # as in `rules`
    time: float
    stop_energy: float
    impact_speed: float
    chamber_peak: float
    barrel_peak: float
    spring_work: float
    ledger_gap: float  # what the ledger leaves unexplained, as a share of the energy put in
    tolerance: float
    steps: int
    rejected: int
    evaluations: int
    records: int


HIGHEST, BEFORE, LATEST = range(3)  # of a pressure; the last two are one step and none ago


@compiled
def fresh_peaks(chamber: float, barrel: float) -> Floats:
    """What `follow` keeps, at the release: absolute pressures in chamber and barrel."""
    peaks = np.empty((2, LATEST + 1))
    for n in range(LATEST + 1):
        peaks[0, n], peaks[1, n] = chamber, barrel
    return peaks


@compiled_inline
def summit(before: float, middle: float, now: float, first: float, second: float) -> float:
    """The top of the parabola through three values two spans apart, the middle one the highest."""
    rise = (middle - before) / first
    fall = (now - middle) / second
    slope = (rise * second + fall * first) / (first + second)
    return middle + 0.25 * slope * slope * (first + second) / (rise - fall)


@compiled_inline
def follow(peaks: Floats, latest: tuple[float, float], first: float, second: float, since: int) -> None:
    """Keep the highest pressures, in chamber and barrel, the last two steps being `first` and `second` long.

    With no event in the last two (`since` counts the steps from the last one), and neither much shorter, the
    top between them counts.
    """
    for n in range(2):
        before, middle, now = peaks[n, BEFORE], peaks[n, LATEST], latest[n]
        high = now
        if since > 1 and max(first, second) < 10.0 * min(first, second) and middle > max(before, now):
            high = summit(before, middle, now, first, second)
        peaks[n, HIGHEST] = max(peaks[n, HIGHEST], high)
        peaks[n, BEFORE], peaks[n, LATEST] = middle, now


@compiled_bare
def note(t: float, x: Floats, p: Parameters, push: float, row: Floats) -> None:
    """A row of the record, with the pressure at the base of a dart that accelerates at `push`."""
    row[TIME] = t
    for n in range(STATES):
        row[AT + n] = x[n]
    row[CHAMBER], row[BARREL] = eq.pressures(p, x)
    row[BASE] = row[BARREL] - p.gas_inertia * x[M2] * eq.THIRD * push / p.barrel_area


@compiled_inline
def begin(p: Parameters, x: Floats, mode: Integers) -> tuple[float, float]:
    """State and modes at the release into x and mode; the absolute pressures in chamber and barrel."""
    for n in range(STATES):
        x[n] = 0.0
    x[S] = eq.start_travel(p)
    v1, v2 = volumes(p, x[S], x[Y])
    p1 = p.charge if p.charge > 0.0 else p.ambient_pressure
    cv = p.gas_constant / (GAMMA - 1.0)
    x[E1] = p1 * v1 / (GAMMA - 1.0)
    x[M1] = x[E1] / (cv * p.ambient_temperature)
    x[E2] = p.ambient_pressure * v2 / (GAMMA - 1.0)
    x[M2] = x[E2] / (cv * p.ambient_temperature)
    for n in range(eq.MODES):
        mode[n] = 0
    mode[eq.CLAMPED] = 1 if p.charge > 0.0 else 0
    mode[eq.NOSE] = nose_out(p, x[Y], 1)
    mode[eq.FREE2] = 1 if p.catch_compression2 <= x[S] else 0
    mode[eq.FREE3] = 1 if p.catch_compression3 <= x[S] else 0
    return p1, p.ambient_pressure


@compiled
def sizes(p: Parameters, budget: float) -> Floats:
    """The natural size of each state that drives the motion, from the energy put in."""
    scale = np.empty(DYNAMIC)
    scale[S] = p.stroke
    scale[U] = math.sqrt(2.0 * budget / p.plunger_mass)
    scale[E1] = scale[E2] = budget
    cv = p.gas_constant / (GAMMA - 1.0)
    scale[M1] = scale[M2] = budget / (cv * GAMMA * p.ambient_temperature)
    scale[Y] = p.length
    scale[W] = min(math.sqrt(2.0 * budget / p.dart_mass), 500.0)
    return scale


@compiled
def inverse(scale: Floats) -> Floats:
    """One over each of the natural sizes."""
    per_scale = np.empty(DYNAMIC)
    for n in range(DYNAMIC):
        per_scale[n] = 1.0 / scale[n]
    return per_scale


@compiled_inline
def set_out(
    t: float, x: Floats, p: Parameters, mode: Integers, coils: Floats, way: int, kinked: bool, struck: bool,
    marks: Floats,
) -> None:  # fmt: skip
    """Look at the modes anew, and begin a new piece of the springs' past where something has jumped.

    way is the plunger's before; a wave is back with a kink, or the plunger or a spring's end was struck.
    """
    line.look(coils, t, 1.0)
    struck = line.lift(coils, x[U]) or struck
    on_plunger, seal = eq.plunger_net(p, x, line.pressed(coils, 0.0))
    on_dart, grip = eq.dart_net(p, x)
    events.release(t, x, p, mode, on_plunger, seal, on_dart, grip, marks)
    struck = struck or mode[eq.PLUNGER] != way
    if kinked or struck:
        slope = eq.plunger_acceleration(p, x, mode[eq.PLUNGER], line.pressed(coils, x[U]))
        line.turn(coils, t, x[U], slope, struck)


@compiled_bare
def _steps(
    p: Parameters, tolerance: float, max_step: float, h: float, budget: float, fastest: float, x: Floats,
    record: Floats, mode: Integers, per_scale: Floats, coils: Floats, peaks: Floats, marks: Floats,
    guide: Floats, rows: Floats, z: Floats, k: Floats, new: Floats, before: Floats, after: Floats,
) -> Outcome:  # fmt: skip
    """The steps of `integrate`, of which it makes every array; h is the first, budget the energy put in."""
    # one loop in one piece: the step's size, its events and their traces all hang on its local numbers
    per_tolerance = 1.0 / tolerance
    per_budget = per_tolerance / budget
    t = 0.0
    steps = rejected = evaluations = records = 0
    status = FAILED
    fresh = True  # modes must be looked at
    kinked = struck = False  # a wave is back with a kink; the plunger or a spring's end was struck or let go
    way = 0
    since = 0  # steps since the last event
    last_taken = last_right = balance = reached = 0.0
    while steps < MAX_STEPS:
        if fresh or kinked:
            if fresh:
                balance = eq.energy(p, x, mode[eq.NOSE])
            set_out(t, x, p, mode, coils, way, kinked, struck, marks)
            fresh = kinked = struck = False
        stays = events.at_rest_for_good(p, x, mode)
        ended = events.how_ended(t, TIME_LIMIT, x, mode, marks, stays)
        if ended != RUNNING:
            status = ended
            break
        h = min(h, max_step)
        wish, (h, kinked) = h, line.until_kink(coils, t, h)
        error, count = advance(t, x, h, p, mode, SOLVE * tolerance, coils, per_scale, guide, rows, z, k, new)
        evaluations += count
        # how many times too long the step was, from the pair's estimate and from the energy balance
        excess = 4.0
        if error == error:
            reached = eq.energy(p, new, mode[eq.NOSE])
            defect = max(abs(reached - balance) - ROUNDING * (x[E1] + x[E2]), 0.0)
            defect *= DEFECT_WEIGHT + DEFECT_GROWTH * min(steps, MANY)
            excess = math.sqrt(math.sqrt(max(error * per_tolerance, defect * per_budget)))
        if not excess <= 1.0:
            rejected += 1
            kinked = False
            h *= max(0.2, SAFETY / excess)
            if h < 1e-14:
                break
            continue
        taken = h
        events.watch_all(t, taken, p, new, mode, coils, after)
        for n in range(events.EVENTS):
            if after[n] > 0.0:
                fresh = True
        if fresh:
            events.watch_all(t, 0.0, p, x, mode, coils, before)
            taken, count = events.shorten(
                t, x, taken, p, mode, SOLVE * tolerance, coils, per_scale, guide, rows, z, k, new,
                before, after,
            )  # fmt: skip
            evaluations += count
            if not eq.holds_gas(p, new):  # the shorter step went astray
                fresh = kinked = False
                rejected += 1
                h *= 0.2
                if h < 1e-14:
                    break
                continue
        if records < record.shape[0]:
            note(t, x, p, guide[PUSH], record[records])
            records += 1
        steps += 1
        # the step that would have been right, and its trend
        right = h / max(excess, 0.2)
        if h < wish:  # cut short
            h = wish
        else:
            trend = min(max(right / last_right, SHRINKING), 1.0) if last_right > 0.0 else 1.0
            last_right = right
            h = min(SAFETY * trend * right, GROWTH * h)
        balance = reached  # an event takes it afresh
        guide[FLOW] = guide[NOW]
        guide[LAST] = guide[END]
        guide[LENGTH] = 0.0 if fresh else taken
        way = mode[eq.PLUNGER]
        if coils.shape[0] > 0:
            slope = eq.plunger_acceleration(p, new, way, line.pressed(coils, new[U]))
            line.remember(coils, t, taken, new[S] - x[S], new[U], slope, way == 0)
        t += taken
        for n in range(STATES):
            x[n] = new[n]
        since += 1
        follow(peaks, eq.pressures(p, x), last_taken, taken, since)
        last_taken = taken
        if fresh:
            last_right = 0.0
            since = 0
            kinked = False
            struck = line.meet(coils, x[S], after, events.TOUCH)
            ended = events.settle(t, x, p, mode, after, fastest, marks)
            if ended != RUNNING:
                status = ended
                break
    if records < record.shape[0]:
        note(t, x, p, k[W], record[records])
        records += 1
    return Outcome(
        status, t, marks[events.STOP_ENERGY], marks[events.IMPACT_SPEED],
        peaks[0, HIGHEST], peaks[1, HIGHEST],
        0.0 if mode[eq.CLAMPED] == 1 else eq.energy_in(p, x[S]),
        eq.ledger_gap(p, x, marks[events.STOP_ENERGY]), tolerance, steps, rejected, evaluations, records,
    )  # fmt: skip


@compiled
def integrate(p: Parameters, tolerance: float, max_step: float, x: Floats, record: Floats) -> Outcome:
    """Integrate one shot; x becomes the final state; record is filled while it has rows.

    tolerance is relative to the natural size of each state.
    """
    mode = np.empty(eq.MODES, np.int64)
    first1, first2 = begin(p, x, mode)
    budget = max(eq.energy_in(p, p.stroke), 1e-9)
    scale = sizes(p, budget)
    h = FIRST * min(p.stroke / scale[U], p.length / scale[W])
    if mode[eq.CLAMPED] == 1:
        h *= FIRST  # its port opens at once
    return _steps(
        p, tolerance, max_step, h, budget, scale[U], x, record, mode, inverse(scale), line.spring_lines(p),
        fresh_peaks(first1, first2), events.fresh_marks(), np.zeros(GUIDES), np.empty((ROWS, DYNAMIC)),
        np.empty(DYNAMIC), np.empty(STATES), np.empty(STATES), np.empty(events.EVENTS),
        np.empty(events.EVENTS),
    )  # fmt: skip


@compiled
def shoot(p: Parameters, tolerance: float, x: Floats) -> Outcome:
    """Integrate one shot, again and finer while its ledger does not close; x as in `integrate`."""
    record = np.empty((0, COLUMNS))
    outcome = integrate(p, tolerance, 1.0, x, record)
    for finer in FINER[1:]:
        if outcome.ledger_gap <= max(TOLERANCE, tolerance) or outcome.status == FAILED:
            break
        outcome = integrate(p, tolerance * finer, 1.0, x, record)
    return outcome
