"""The shot's integrator: steps of the right size, and events where they happen.

What it is for: take the equations of ``kernel`` with the steps of ``pair`` from the release until the dart's
tail leaves the muzzle or nothing moves any more.  What it leaves out: units (``shot``).

Events are located by shortening the step until the first of them lies at its end; everything that changes
slope (the nose leaving the muzzle, a spring coming free) is an event.  A step is also held to its energy
balance, which the equations keep exactly.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled, compiled_inline
from blasterlab.shot.ark_step import END, FLOW, GUIDES, LAST, LENGTH, NOW, PUSH, ROWS, advance
from blasterlab.shot.equations import (
    CLAMPED,
    DART,
    DYNAMIC,
    E1,
    E2,
    FREE2,
    FREE3,
    M1,
    M2,
    NOSE,
    PLUNGER,
    STATES,
    THIRD,
    S,
    U,
    W,
    Y,
    dart_mass,
    dart_net,
    energy,
    plunger_net,
    pressures,
    spring_work,
)  # fmt: skip
from blasterlab.shot.parameters import GAMMA, Floats, Integers, Parameters
from blasterlab.shot.rules import (
    EXITED,
    FAILED,
    NEAR,
    RUNNING,
    TIME_LIMIT,
    breaks_away,
    ending,
    lost,
    nose_out,
    strain,
    stroke_end,
    volumes,
)

MAX_STEPS = 200_000
FIRST = 0.02  # the first step, of the time that the stroke or the barrel takes at full speed
SAFETY = 0.9  # share of the step that would just do
GROWTH = 3.0  # the most that a step grows
SHRINKING = 0.8  # the least share of itself to which a step's trend is believed to go on shrinking it
COLUMNS = 17  # of a record: time, the 13 states, chamber, barrel and base pressure


class Outcome(NamedTuple):
    """What a shot came to, SI floats; times that never came are -1."""

    status: int
    time: float
    stop_energy: float
    impact_speed: float
    breakaway_time: float
    stop_time: float
    chamber_peak: float
    barrel_peak: float
    spring_work: float
    steps: int
    rejected: int
    evaluations: int
    records: int


(AT_STOP, PLUNGER_TURNS, PLUNGER_STARTS, PLUNGER_BACKS, SPRING2, SPRING3,
 AT_MUZZLE, DART_TURNS, NOSE_OUT, DART_STARTS, DART_BACKS) = range(11)  # fmt: skip
EVENTS = 11
SOLVE = 0.3  # tolerance of a stage's flow, as a share of the step's
DEFECT_WEIGHT = 50.0  # of what a step leaves of the energy balance,
DEFECT_GROWTH = 1.0  # and its growth with each step taken, so that many small ones do not add up
ROUNDING = 1e-15  # of the gas energy, that rounding may leave of the balance


@compiled
def watch(p: Parameters, x: Floats, mode: Integers, g: Floats) -> None:
    """The event functions into g, each negative before its event and of order 1; -1 where there is none."""
    for n in range(EVENTS):
        g[n] = -1.0
    plunger = mode[PLUNGER]
    dart = mode[DART]
    if plunger > 0:
        g[AT_STOP] = (x[S] - p.stroke) / p.stroke
        g[PLUNGER_TURNS] = -x[U]
    elif plunger < 0:
        g[AT_STOP] = -x[S] / p.stroke
        g[PLUNGER_TURNS] = x[U]
    elif mode[CLAMPED] == 0:
        net, hold = plunger_net(p, x)
        if x[S] < p.stroke:
            g[PLUNGER_STARTS] = strain(net, hold)
        if x[S] > 0.0:
            g[PLUNGER_BACKS] = strain(-net, hold)
    if p.rate2 > 0.0:
        g[SPRING2] = (1.0 - 2.0 * mode[FREE2]) * (x[S] - p.catch_compression2) / p.stroke
        g[SPRING3] = (1.0 - 2.0 * mode[FREE3]) * (x[S] - p.catch_compression3) / p.stroke
    if dart > 0:
        g[AT_MUZZLE] = (x[Y] - p.length) / p.length
        g[DART_TURNS] = -x[W]
        if mode[NOSE] == 0:
            g[NOSE_OUT] = (x[Y] - p.length + p.dart_length) / p.length
    elif dart < 0:
        g[AT_MUZZLE] = -x[Y] / p.length
        g[DART_TURNS] = x[W]
    else:
        net, hold = dart_net(p, x)
        g[DART_STARTS] = strain(net, hold)
        if x[Y] > 0.0:
            g[DART_BACKS] = strain(-net, hold)


@compiled
def shorten(
    t: float, x: Floats, taken: float, p: Parameters, mode: Integers, tolerance: float,
    per_scale: Floats, guide: Floats, rows: Floats, k: Floats, z: Floats, new: Floats, before: Floats,
    after: Floats,
) -> tuple[float, int]:  # fmt: skip
    """Shorten a step that ran past events until the first of them has just happened at its end.

    Inverse quadratic interpolation inside a bracket, on the largest event function among those that fired
    (T. R. Chandrupatla, *Adv. Eng. Softw.* 28, 145 (1997)).
    Returns the step and the number of flow evaluations; `new` and `after` belong to that step.
    """
    fired = np.empty(EVENTS, np.bool_)
    f_b = -1e300
    f_a = 0.0
    for n in range(EVENTS):
        fired[n] = after[n] > 0.0
        if fired[n]:
            f_b = max(f_b, before[n])
            f_a = max(f_a, after[n])
    if f_b >= 0.0:
        f_b = -f_a
    # a is the newest point, b the other end of the bracket, c the point before
    a, b, c, f_c = taken, 0.0, taken, f_a
    share = f_a / (f_a - f_b)
    evaluations = 0
    for _ in range(60):
        width = 1e-12 * (t + taken)
        reach = abs(b - a)
        if reach < 4.0 * width:
            share = 0.5
        else:
            share = min(max(share, width / reach), 1.0 - width / reach)
        mid = a + share * (b - a)
        _error, count = advance(t, x, mid, p, mode, tolerance, per_scale, guide, rows, k, z, new)
        evaluations += count
        watch(p, new, mode, after)
        f_mid = -1e300
        for n in range(EVENTS):
            if fired[n]:
                f_mid = max(f_mid, after[n])
        if (f_mid >= 0.0) == (f_a >= 0.0):
            c, f_c = a, f_a
        else:
            c, b, f_c, f_b = b, a, f_b, f_a
        a, f_a = mid, f_mid
        if abs(f_a) < NEAR or (reach < 4.0 * width and f_a >= 0.0):
            return a, evaluations
        if reach < 4.0 * width:
            break
        xi = (a - b) / (c - b)
        phi = (f_a - f_b) / (f_c - f_b)
        if 1.0 - math.sqrt(1.0 - xi) < phi < math.sqrt(xi):
            share = f_a / (f_b - f_a) * f_c / (f_b - f_c) + (c - a) / (b - a) * f_a / (f_c - f_a) * f_b / (
                f_c - f_b
            )
        else:
            share = 0.5
    last = a if f_a >= 0.0 else b
    _error, count = advance(t, x, last, p, mode, tolerance, per_scale, guide, rows, k, z, new)
    watch(p, new, mode, after)
    return last, evaluations + count


@compiled_inline
def summit(before: float, middle: float, now: float, first: float, second: float) -> float:
    """The top of the parabola through three values two spans apart, the middle one the highest."""
    rise = (middle - before) / first
    fall = (now - middle) / second
    slope = (rise * second + fall * first) / (first + second)
    return middle + 0.25 * slope * slope * (first + second) / (rise - fall)


@compiled
def note(t: float, x: Floats, p: Parameters, push: float, row: Floats) -> None:
    """A row of the record: time, states, pressures in chamber, barrel and at the base of a dart so pushed."""
    row[0] = t
    for n in range(STATES):
        row[1 + n] = x[n]
    row[14], row[15] = pressures(p, x)
    row[16] = row[15] - p.gas_inertia * x[M2] * THIRD * push / p.barrel_area


@compiled
def integrate(p: Parameters, tolerance: float, max_step: float, x: Floats, record: Floats) -> Outcome:
    """Integrate one shot; x (13 floats) becomes the final state; record is filled while it has rows.

    Returns an `Outcome`.  tolerance is relative to the natural size of each state.
    """
    pa = p.ambient_pressure
    cv = p.gas_constant / (GAMMA - 1.0)
    clamped = 1 if p.charge > 0.0 else 0
    for n in range(STATES):
        x[n] = 0.0
    x[S] = p.stroke if clamped == 1 else 0.0
    v1, v2 = volumes(p, x[S], x[Y])
    p1 = p.charge if clamped == 1 else pa
    x[E1] = p1 * v1 / (GAMMA - 1.0)
    x[M1] = x[E1] / (cv * p.ambient_temperature)
    x[E2] = pa * v2 / (GAMMA - 1.0)
    x[M2] = x[E2] / (cv * p.ambient_temperature)
    budget = (p1 - pa) * v1 / (GAMMA - 1.0) if clamped == 1 else spring_work(p, p.stroke)
    budget = max(budget, 1e-9)
    per_tolerance = 1.0 / tolerance
    per_budget = per_tolerance / budget
    scale = np.empty(DYNAMIC)
    scale[S] = p.stroke
    scale[U] = math.sqrt(2.0 * budget / p.plunger_mass)
    scale[E1] = scale[E2] = budget
    scale[M1] = scale[M2] = budget / (cv * GAMMA * p.ambient_temperature)
    scale[Y] = p.length
    scale[W] = min(math.sqrt(2.0 * budget / p.dart_mass), 500.0)
    per_scale = 1.0 / scale
    guide = np.zeros(GUIDES)
    rows = np.empty((ROWS, DYNAMIC))
    k = np.empty(STATES)
    z = np.empty(DYNAMIC)
    new = np.empty(STATES)
    before = np.empty(EVENTS)
    after = np.empty(EVENTS)
    mode = np.zeros(6, np.int64)
    mode[CLAMPED] = clamped
    mode[NOSE] = nose_out(p, 0.0)
    mode[FREE2] = 1 if p.catch_compression2 <= x[S] else 0
    mode[FREE3] = 1 if p.catch_compression3 <= x[S] else 0
    t = 0.0
    h = FIRST * min(p.stroke / scale[U], p.length / scale[W])
    if clamped == 1:
        h *= FIRST  # its port opens at once
    steps = 0
    rejected = 0
    evaluations = 0
    records = 0
    stop_energy = 0.0
    impact_speed = 0.0
    breakaway_time = -1.0
    stop_time = -1.0
    held_since = 0.0  # when the dart was last stopped
    best_since = -1.0  # when the plunger had done its best: stopped or turned for the first time
    status = FAILED
    fresh = True  # modes must be looked at
    p2 = pa
    peak1, peak2 = p1, p2
    before1, before2 = p1, p2  # one step ago
    since = 0  # steps since the last event
    last_taken = 0.0
    last_right = 0.0
    balance = reached = 0.0
    while steps < MAX_STEPS:
        if fresh:
            balance = energy(p, x)
            if mode[PLUNGER] == 0 and clamped == 0:
                net, hold = plunger_net(p, x)
                mode[PLUNGER] = breaks_away(net, hold, x[S] < p.stroke, x[S] > 0.0)
            if mode[DART] == 0:
                net, hold = dart_net(p, x)
                mode[DART] = breaks_away(net, hold, True, x[Y] > 0.0)
                if mode[DART] == 1 and breakaway_time < 0.0:
                    breakaway_time = t
            if best_since < 0.0 and mode[PLUNGER] <= 0:
                best_since = t
            fresh = False
        ended = ending(t, TIME_LIMIT, x[S], x[Y], mode[DART], held_since, best_since)
        if ended != RUNNING:
            status = ended
            break
        h = min(h, max_step)
        error, count = advance(t, x, h, p, mode, SOLVE * tolerance, per_scale, guide, rows, k, z, new)
        evaluations += count
        # how many times too long the step was, from the pair's estimate and from the energy balance
        excess = 4.0
        if error == error:
            reached = energy(p, new)
            defect = max(abs(reached - balance) - ROUNDING * (x[E1] + x[E2]), 0.0)
            defect *= DEFECT_WEIGHT + DEFECT_GROWTH * steps
            excess = math.sqrt(math.sqrt(max(error * per_tolerance, defect * per_budget)))
        if not excess <= 1.0:
            rejected += 1
            h *= max(0.2, SAFETY / excess)
            if h < 1e-14:
                break
            continue
        if records < record.shape[0]:
            note(t, x, p, guide[PUSH], record[records])
            records += 1
        steps += 1
        taken = h
        # the step that would have been right, and its trend
        right = h / max(excess, 0.2)
        trend = min(max(right / last_right, SHRINKING), 1.0) if last_right > 0.0 else 1.0
        last_right = right
        h = min(SAFETY * trend * right, GROWTH * h)
        watch(p, new, mode, after)
        for n in range(EVENTS):
            if after[n] > 0.0:
                fresh = True
        if fresh:
            watch(p, x, mode, before)
            taken, count = shorten(
                t, x, taken, p, mode, SOLVE * tolerance, per_scale, guide, rows, k, z, new, before, after
            )
            evaluations += count
        balance = reached  # an event takes it afresh
        guide[FLOW] = guide[NOW]
        guide[LAST] = guide[END]
        guide[LENGTH] = 0.0 if fresh else taken
        t += taken
        for n in range(STATES):
            x[n] = new[n]
        new1, new2 = pressures(p, x)
        peak1 = max(peak1, new1)
        peak2 = max(peak2, new2)
        since += 1
        if since > 1:  # three values without an event between them
            if p1 > before1 and p1 > new1:
                peak1 = max(peak1, summit(before1, p1, new1, last_taken, taken))
            if p2 > before2 and p2 > new2:
                peak2 = max(peak2, summit(before2, p2, new2, last_taken, taken))
        before1, before2, p1, p2 = p1, p2, new1, new2
        last_taken = taken
        if fresh:
            last_right = 0.0
            since = 0
            if after[AT_STOP] > -NEAR:
                if mode[PLUNGER] > 0:
                    if stop_time < 0.0:
                        stop_time = t
                    impact_speed = max(impact_speed, x[U])
                x[S], after_stop, mode[PLUNGER] = stroke_end(p, mode[PLUNGER], x[U], scale[U])
                stop_energy += lost(p.plunger_mass, x[U], after_stop)
                x[U] = after_stop
            elif after[PLUNGER_TURNS] > -NEAR:
                x[U] = 0.0
                mode[PLUNGER] = 0
            if after[SPRING2] > -NEAR:
                mode[FREE2] = 1 - mode[FREE2]
            if after[SPRING3] > -NEAR:
                mode[FREE3] = 1 - mode[FREE3]
            if after[AT_MUZZLE] > -NEAR and not (mode[DART] > 0 and x[W] <= 0.0):  # turned there: not out
                if mode[DART] > 0:
                    x[Y] = p.length
                    status = EXITED
                    break
                # back at the breech: the air behind and ahead of it stops with it
                x[Y] = 0.0
                stop_energy += lost(dart_mass(p, x), x[W], 0.0)
                x[W] = 0.0
                mode[DART] = 0
                held_since = t
            elif after[DART_TURNS] > -NEAR:
                x[W] = 0.0
                mode[DART] = 0
                held_since = t
            mode[NOSE] = nose_out(p, x[Y])
    if records < record.shape[0]:
        note(t, x, p, k[W], record[records])
        records += 1
    work = 0.0 if clamped == 1 else spring_work(p, x[S])
    return Outcome(
        status, t, stop_energy, impact_speed, breakaway_time, stop_time, peak1, peak2, work,
        steps, rejected, evaluations, records,
    )  # fmt: skip
