"""The rules of a shot: when plunger and dart start, rub, rebound and rest, and how a shot ends.

What it is for: every model of the shot calls these, so that they differ in nothing but what they are compared
for: the shot model (``integrate``), the waves in the gas, the chain of masses for the spring.  Numbers in,
numbers out (SI), whatever states a model has.  What it leaves out: the gas and the springs (``equations``).

Pressures are absolute: on the plunger's face, and at the dart's tail.  A way is 1 forwards, -1 backwards,
0 at rest.
"""

from __future__ import annotations

from blasterlab.compiled import compiled_inline
from blasterlab.shot.parameters import Parameters

#: How a shot can end; the last place, which is also -1, is that of one that has not (yet) run to its end.
STATUS = ("exited", "no breakaway", "stalled", "no release", "time limit", "failed", "not run")
EXITED, NO_BREAKAWAY, STALLED, NO_RELEASE, TIME_OUT, FAILED, _ = range(len(STATUS))
RUNNING = -1
TIME_LIMIT = 0.5  # s, after which a dart that is still in the barrel is given up
QUIET = 0.02  # s of a held dart, counted from where the plunger has done its best, that end a shot
FLOOR = 1e-6  # of the ambient force at least hold plunger and dart at rest, or rounding would start them
NEAR = 1e-9  # what is this close to happening (1: all of it) has happened
REBOUND = 1e-3  # of the speed that all the energy would give the plunger: a slower rebound is none


@compiled_inline
def volumes(p: Parameters, s: float, y: float) -> tuple[float, float]:
    """Gas volumes in chamber and barrel with the plunger at s and the dart at y."""
    return p.plunger_area * (p.stroke - s) + p.chamber_dead, p.barrel_dead + p.barrel_area * y


@compiled_inline
def seal_sliding(p: Parameters, pressure: float) -> float:
    """Friction of the moving plunger."""
    return p.seal_friction + p.seal_friction_per_pressure * max(pressure - p.ambient_pressure, 0.0)


@compiled_inline
def nose_out(p: Parameters, y: float, way: int) -> int:
    """1 when the nose of the dart at y, come that way, has left the muzzle, else 0."""
    return 1 if y - p.length + p.dart_length >= -way * NEAR * p.length else 0


@compiled_inline
def dart_sliding(p: Parameters, pressure: float, y: float, nose: int) -> float:
    """Friction of the moving dart; once its nose is out (1, else 0) the gripped length shrinks."""
    friction = p.dart_friction + p.dart_friction_per_pressure * max(pressure - p.ambient_pressure, 0.0)
    if nose == 1:
        friction *= (p.length - y) / p.dart_length
    return friction


@compiled_inline
def seal_hold(p: Parameters, pressure: float) -> float:
    """Force that holds the resting plunger; a starting force below the running one counts as equal."""
    hold = seal_sliding(p, pressure) + max(p.seal_breakaway - p.seal_friction, 0.0)
    return max(hold, FLOOR * p.ambient_pressure * p.plunger_area)


@compiled_inline
def dart_hold(p: Parameters, pressure: float) -> float:
    """Force that holds the resting dart; a starting force below the sliding one counts as equal."""
    hold = dart_sliding(p, pressure, 0.0, 0) + max(p.dart_breakaway - p.dart_friction, 0.0)
    return max(hold, FLOOR * p.ambient_pressure * p.barrel_area)


@compiled_inline
def strain(net: float, hold: float) -> float:
    """How far a force exceeds what holds against it, of order 1; above 0 the body starts."""
    return (net - hold) / max(hold, 1.0)


@compiled_inline
def breaks_away(net: float, hold: float, ahead: bool, behind: bool) -> int:
    """The way in which a held body starts; `net` is the force without friction, `ahead` the room to move."""
    hold -= NEAR * max(hold, 1.0)
    if net >= hold and net > 0.0 and ahead:
        return 1
    return -1 if -net >= hold and net < 0.0 and behind else 0


@compiled_inline
def stroke_end(p: Parameters, way: int, u: float, fastest: float) -> tuple[float, float, int]:
    """The plunger at an end of its stroke, come that way at speed u: its travel, its new speed and way.

    It rebounds from the front stop, unless slowly, and stays at the catch; `fastest` is the speed that all
    the energy put in would give it.  What its speed loses is the stop's.
    """
    if way < 0:
        return 0.0, 0.0, 0
    back = p.stop_restitution * u
    if back < REBOUND * fastest:
        return p.stroke, 0.0, 0
    return p.stroke, -back, -1


@compiled_inline
def lost(mass: float, before: float, after: float) -> float:
    """Energy that a mass loses between two speeds, at a stop or at the breech (where a dart stays), J."""
    return 0.5 * mass * (before * before - after * after)


@compiled_inline
def ending(
    t: float, limit: float, s: float, y: float, dart: int, held_since: float, best_since: float, stays: bool
) -> int:
    """How a shot whose dart has not left has ended at time t, `RUNNING` when it has not.

    `dart` is its way, `held_since` when it last came to rest, `best_since` when the plunger first stood or
    turned (-1: not yet): a dart that it could not move by then, nor for a while after, stays; so does one
    that provably cannot move again (`stays`), or whose plunger is not even released.
    """
    held = s == 0.0 and t == 0.0
    if dart == 0 and best_since >= 0.0 and (stays or held or t - max(held_since, best_since) > QUIET):
        if y > 0.0:
            return STALLED
        return NO_RELEASE if s == 0.0 else NO_BREAKAWAY
    return TIME_OUT if t > limit else RUNNING
