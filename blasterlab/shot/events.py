"""The events of a shot: functions that cross zero where one happens, where that is, and what it changes.

What it is for: ``integrate``, whose steps end on events, and the models with waves; SI floats.  What it
leaves out: the rules themselves (``rules``).
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled, compiled_bare, compiled_inline
from blasterlab.shot import equations as eq
from blasterlab.shot import rules
from blasterlab.shot.ark_step import advance
from blasterlab.shot.equations import S, U, W, Y
from blasterlab.shot.parameters import Floats, Integers, Parameters
from blasterlab.shot.rules import EXITED, NEAR, RUNNING, breaks_away, lost, nose_out, strain, stroke_end
from blasterlab.shot.spring_line import look, pressed, watch_ends

(AT_STOP, PLUNGER_TURNS, PLUNGER_STARTS, PLUNGER_BACKS, SPRING2, SPRING3,
 AT_MUZZLE, DART_TURNS, NOSE_OUT, DART_STARTS, DART_BACKS) = range(11)  # fmt: skip
TOUCH = DART_BACKS + 1  # and n: the n-th spring with waves leaves the plunger or is back on it
EVENTS = TOUCH + 3
#: What is remembered on the way; `BEST_SINCE` is when the plunger first stood or turned.
STOP_ENERGY, IMPACT_SPEED, HELD_SINCE, BEST_SINCE = range(4)


@compiled_bare
def watch(p: Parameters, x: Floats, mode: Integers, push: float, g: Floats) -> None:
    """The event functions into g, each negative before its event and of order 1; -1 where there is none.

    push is the force of springs that carry waves on a plunger at rest; their ends are not looked at.
    """
    for n in range(EVENTS):
        g[n] = -1.0
    plunger = mode[eq.PLUNGER]
    dart = mode[eq.DART]
    if plunger > 0:
        g[AT_STOP] = (x[S] - p.stroke) / p.stroke
        g[PLUNGER_TURNS] = -x[U]
    elif plunger < 0:
        g[AT_STOP] = -x[S] / p.stroke
        g[PLUNGER_TURNS] = x[U]
    elif mode[eq.CLAMPED] == 0:
        net, hold = eq.plunger_net(p, x, push)
        if x[S] < p.stroke:
            g[PLUNGER_STARTS] = strain(net, hold)
        if x[S] > 0.0:
            g[PLUNGER_BACKS] = strain(-net, hold)
    if p.rate2 > 0.0 and p.wave_mass2 == 0.0:
        g[SPRING2] = (1.0 - 2.0 * mode[eq.FREE2]) * (x[S] - p.catch_compression2) / p.stroke
    if p.rate3 > 0.0 and p.wave_mass3 == 0.0:
        g[SPRING3] = (1.0 - 2.0 * mode[eq.FREE3]) * (x[S] - p.catch_compression3) / p.stroke
    if dart > 0:
        g[AT_MUZZLE] = (x[Y] - p.length) / p.length
        g[DART_TURNS] = -x[W]
    elif dart < 0:
        g[AT_MUZZLE] = -x[Y] / p.length
        g[DART_TURNS] = x[W]
    if dart != 0:
        if p.length - p.dart_length > NEAR * p.length:  # else it is out from the start
            g[NOSE_OUT] = (1.0 - 2.0 * mode[eq.NOSE]) * (x[Y] - p.length + p.dart_length) / p.length
    else:
        net, hold = eq.dart_net(p, x)
        g[DART_STARTS] = strain(net, hold)
        if x[Y] > 0.0:
            g[DART_BACKS] = strain(-net, hold)


@compiled_inline
def watch_all(
    t: float, taken: float, p: Parameters, x: Floats, mode: Integers, coils: Floats, g: Floats
) -> None:
    """The event functions at the end of a step of length `taken` from time t, which may be none."""
    look(coils, t + taken, -1.0 if taken > 0.0 else 1.0)
    watch(p, x, mode, pressed(coils, 0.0), g)
    watch_ends(coils, taken, x[S], x[U], p.stroke, g, TOUCH)


@compiled_bare
def shorten(
    t: float, x: Floats, taken: float, p: Parameters, mode: Integers, tolerance: float,
    coils: Floats, per_scale: Floats, guide: Floats, rows: Floats, z: Floats, k: Floats, new: Floats,
    before: Floats, after: Floats,
) -> tuple[float, int]:  # fmt: skip
    """Shorten a step that ran past events until the first of them has just happened at its end.

    Inverse quadratic interpolation inside a bracket, on the largest event function among those that fired
    (T. R. Chandrupatla, *Adv. Eng. Softw.* 28, 145 (1997)).
    Returns the step and the number of flow evaluations; `new` and `after` belong to that step, and `before`
    becomes 1 for what fired, else 0.
    """
    f_b = -1e300
    f_a = 0.0
    for n in range(EVENTS):
        if after[n] > 0.0:
            f_b = max(f_b, before[n])
            f_a = max(f_a, after[n])
        before[n] = 1.0 if after[n] > 0.0 else 0.0
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
        _error, count = advance(t, x, mid, p, mode, tolerance, coils, per_scale, guide, rows, z, k, new)
        evaluations += count
        watch_all(t, mid, p, new, mode, coils, after)
        f_mid = -1e300
        for n in range(EVENTS):
            if before[n] > 0.0:
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
    _error, count = advance(t, x, last, p, mode, tolerance, coils, per_scale, guide, rows, z, k, new)
    watch_all(t, last, p, new, mode, coils, after)
    return last, evaluations + count


@compiled
def fresh_marks() -> Floats:
    """What is remembered on the way, at the release; a time that has not come is -1."""
    marks = np.zeros(BEST_SINCE + 1)
    marks[BEST_SINCE] = -1.0
    return marks


@compiled_inline
def release(
    t: float, x: Floats, p: Parameters, mode: Integers, on_plunger: float, seal: float, on_dart: float,
    grip: float, marks: Floats,
) -> None:  # fmt: skip
    """Held bodies that break away: the force on each without friction, and the force that holds it."""
    if mode[eq.PLUNGER] == 0 and mode[eq.CLAMPED] == 0:
        mode[eq.PLUNGER] = breaks_away(on_plunger, seal, x[S] < p.stroke, x[S] > 0.0)
    if mode[eq.DART] == 0:
        mode[eq.DART] = breaks_away(on_dart, grip, True, x[Y] > 0.0)
    if marks[BEST_SINCE] < 0.0 and mode[eq.PLUNGER] <= 0:
        marks[BEST_SINCE] = t


@compiled_inline
def how_ended(t: float, limit: float, x: Floats, mode: Integers, marks: Floats, stays: bool) -> int:
    """How the shot has ended (`rules.ending`), or RUNNING."""
    return rules.ending(t, limit, x[S], x[Y], mode[eq.DART], marks[HELD_SINCE], marks[BEST_SINCE], stays)


@compiled_inline
def at_rest_for_good(p: Parameters, x: Floats, mode: Integers) -> bool:
    """Whether the plunger has run to its front stop and the resting dart stays (`equations.dart_stays`)."""
    at_front = mode[eq.PLUNGER] == 0 and mode[eq.CLAMPED] == 0 and x[S] >= p.stroke
    return at_front and mode[eq.DART] == 0 and eq.dart_stays(p, x)


@compiled_inline
def settle(
    t: float, x: Floats, p: Parameters, mode: Integers, after: Floats, fastest: float, marks: Floats
) -> int:
    """What the events at the end of a step change; `EXITED` or `RUNNING`."""
    way = mode[eq.DART]
    if after[AT_STOP] > -NEAR:
        if mode[eq.PLUNGER] > 0:
            marks[IMPACT_SPEED] = max(marks[IMPACT_SPEED], x[U])
        x[S], left, mode[eq.PLUNGER] = stroke_end(p, mode[eq.PLUNGER], x[U], fastest)
        marks[STOP_ENERGY] += lost(p.plunger_mass, x[U], left)
        x[U] = left
    elif after[PLUNGER_TURNS] > -NEAR:
        x[U] = 0.0
        mode[eq.PLUNGER] = 0
    if after[SPRING2] > -NEAR:
        mode[eq.FREE2] = 1 - mode[eq.FREE2]
    if after[SPRING3] > -NEAR:
        mode[eq.FREE3] = 1 - mode[eq.FREE3]
    if after[AT_MUZZLE] > -NEAR and not (way > 0 and x[W] <= 0.0):  # turned there: not out
        if way > 0:
            x[Y] = p.length
            return EXITED
        # back at the breech: the air behind and ahead of it stops with it
        x[Y] = 0.0
        marks[STOP_ENERGY] += lost(eq.dart_mass(p, x, mode[eq.NOSE]), x[W], 0.0)
        x[W] = 0.0
        mode[eq.DART] = 0
        marks[HELD_SINCE] = t
    elif after[DART_TURNS] > -NEAR:
        x[W] = 0.0
        mode[eq.DART] = 0
        marks[HELD_SINCE] = t
    if way != 0:
        mode[eq.NOSE] = nose_out(p, x[Y], way)
    return RUNNING
