"""Aiming: zero, hold-over, wind hold, lead, point-blank span and the furthest distance.

What it is for: the questions that need a flight fitted to a wish.  What it leaves out: cant, and a shooter
who moves.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 3 (line of sight and line of departure).
"""

from __future__ import annotations

import math
from typing import Any

from blasterlab import units
from blasterlab.air import Air
from blasterlab.flight import elevation_search as seek
from blasterlab.flight.aiming_results import Furthest, Hold, Lead, PointBlank, Zero
from blasterlab.flight.conditions import Conditions, Wind, conditions, distance_si
from blasterlab.flight.trajectory import MUZZLE_HEIGHT, Trajectory, _fly

_NO_GROUND = -1e9
_TURNS = 1000


def _sight(sight_height: Any) -> float:
    return units.si_in(sight_height, "length", "sight_height", -0.1, 0.5)


def _elevation(start: Conditions, x: float, sight: float, name: str) -> float:
    """The flat elevation whose path meets the line of sight at x; UnitError with the reach when none does."""
    status, elevation, _ = seek.elevation_for(start.setup, *start.table, start.speed, x, sight)
    if status == seek.FOUND:
        return elevation
    reach, angle = seek.reach_on_line(start.setup, *start.table, start.speed, sight)
    raise units.UnitError(
        f"{name}: {units.show(x, 'distance')} cannot be reached at {units.show(start.speed, 'speed')}: the "
        f"best that this dart does is {units.show(reach, 'distance', 3)} along the line of sight, at "
        f"{math.degrees(angle):.0f}°. Would do: a nearer distance, more speed, or less drag"
    )


def zero(
    dart: Any,
    speed: Any = None,
    *,
    distance: Any,
    sight_height: Any = "0 mm",
    air: Air | None = None,
    wind: Wind | str | None = None,
    slope: Any = "0 deg",
    muzzle_height: Any = MUZZLE_HEIGHT,
) -> Zero:
    """Set the sight so that the path meets the line of sight at a distance.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        As in `fly`.
    speed : Quantity, str or None [m/s]
        As in `fly`.
    distance : Quantity or str [m]
        Where to meet; the flatter of the two angles is taken.
    sight_height : Quantity or str [m]
        Of the line of sight above the bore at the muzzle, -10 to 50 cm.
    air : Air or None [-]
        As in `fly`.
    wind : Wind, str or None [m/s]
        As in `fly`; only its part along the range matters here.
    slope : Quantity or str [rad]
        As in `fly`.
    muzzle_height : Quantity or str [m]
        As in `fly`; where the flight after the zero ends.

    Returns
    -------
    Zero
        Angle, both crossings, highest point, flight.

    Raises
    ------
    UnitError
        As `fly`; a distance that cannot be reached, with the distance that can.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> found = zero(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s", distance="10 m", sight_height="40 mm")
    >>> round(found.angle.m_as("deg"), 2), round(found.near.m_as("m"), 2), round(found.far.m_as("m"), 2)
    (2.82, 0.86, 10.0)
    """
    start = conditions(dart, speed, air, wind, slope)
    x, sight = distance_si(distance), _sight(sight_height)
    ground = -units.si_in(muzzle_height, "distance", "muzzle_height", 1e-3, 300.0)
    elevation = _elevation(start, x, sight, "zero")
    flight = _fly(start, elevation, sight, ground, math.inf, units.quantity(elevation, "rad"), sight_height)
    near, far = flight.crossings
    return Zero(flight.angle, near, far, flight.apex, flight)


def hold(
    dart: Any,
    speed: Any = None,
    *,
    distance: Any,
    zero_distance: Any,
    wind: Wind | str | None = None,
    sight_height: Any = "0 mm",
    air: Air | None = None,
    slope: Any = "0 deg",
) -> Hold:
    """Hold-over and wind hold on a target, with the sight zeroed at another distance in still, level air.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        As in `fly`.
    speed : Quantity, str or None [m/s]
        As in `fly`.
    distance : Quantity or str [m]
        Of the target.
    zero_distance : Quantity or str [m]
        Where the sight is zeroed.
    wind : Wind, str or None [m/s]
        As in `fly`.
    sight_height : Quantity or str [m]
        As in `zero`.
    air : Air or None [-]
        As in `fly`.
    slope : Quantity or str [rad]
        Of the line of sight to the target; the zero is on the level.

    Returns
    -------
    Hold
        Lengths on the target and angles.

    Raises
    ------
    UnitError
        As `zero`; a target that the dart does not reach with this zero.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.70)
    >>> hold(dart, "40 m/s", distance="15 m", zero_distance="10 m", wind="2 m/s from 9 o'clock").words
    'hold 591 mm high (39.4 mrad) and 399 mm left (26.6 mrad)'
    """
    sight, x = _sight(sight_height), distance_si(distance)
    still = conditions(dart, speed, air)
    elevation = _elevation(still, distance_si(zero_distance, "zero_distance"), sight, "zero")
    start = conditions(dart, units.quantity(still.speed, "m/s"), air or still.air, wind, slope)
    angle = units.quantity(elevation, "rad")
    flight = _fly(start, elevation, sight, _NO_GROUND, x, angle, sight_height)
    return hold_on(flight, x)


def hold_on(flight: Trajectory, x: float) -> Hold:
    """The hold that one flight asks for.

    Parameters
    ----------
    flight : Trajectory [-]
        Flown with the sight on the mark.
    x : float [m]
        Distance of the target.

    Returns
    -------
    Hold
        Lengths on the target and angles.

    Raises
    ------
    UnitError
        A target that this flight does not reach.
    """
    reached = units.si(flight.last.distance, "distance")
    if reached < x * (1.0 - 1e-9):  # it falls steeply, far below the ground
        raise units.UnitError(
            f"distance: {units.show(x, 'distance')} cannot be reached with this zero: the dart never comes "
            f"further than {units.show(reached, 'distance', 3)}. Would do: a nearer target, a "
            "zero further out, more speed, or less drag"
        )
    there = flight.at(units.quantity(x, "m"))
    up, right = -there.height, -there.drift
    return Hold(up, right, _angle(up, x), _angle(right, x), there.time)


def _angle(length: Any, x: float) -> Any:
    return units.quantity(math.atan2(length.m_as("m"), x), "rad")


def lead(
    dart: Any,
    speed: Any = None,
    *,
    distance: Any,
    target_speed: Any,
    crossing: Any = "90 deg",
    air: Air | None = None,
    wind: Wind | str | None = None,
) -> Lead:
    """How far ahead of a moving target to aim.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        As in `fly`.
    speed : Quantity, str or None [m/s]
        As in `fly`.
    distance : Quantity or str [m]
        Of the target at the moment of the shot.
    target_speed : Quantity or str [m/s]
        0 to 12; walking is about 1.4 m/s, running about 4 m/s (common practice, no source).
    crossing : Quantity or str [rad]
        Direction of its path: 90° straight across, 0° straight away, 180° straight towards the muzzle.
    air : Air or None [-]
        As in `fly`.
    wind : Wind, str or None [m/s]
        As in `fly`; only its part along the range changes the time.

    Returns
    -------
    Lead
        Length, angle, time, meeting distance.

    Raises
    ------
    UnitError
        As `zero`; a target that is as quick as the dart or only just met.

    Notes
    -----
    Dart and target meet where the flight time to the meeting distance equals the target's walk; the time is
    that of the flattest path there.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> ahead = lead(Projectile("1.0 g", "12.7 mm", 0.7), "40 m/s", distance="10 m", target_speed="1.4 m/s")
    >>> round(ahead.length.m_as("cm"), 1)
    46.3
    """
    start = conditions(dart, speed, air, wind)
    x = distance_si(distance)
    pace = units.si_in(target_speed, "speed", "target_speed", 0.0, 12.0)
    if pace >= start.speed:
        raise units.UnitError(
            f"target_speed: read {target_speed!s:.64}; the dart leaves at {units.show(start.speed, 'speed')} "
            "and must be the quicker of the two"
        )
    course = units.si_in(crossing, "angle", "crossing", 0.0, math.pi)
    meet, time, away, aside = x, 0.0, x, 0.0
    for turn in range(_TURNS):
        elevation = _elevation(start, max(meet, 1e-6), 0.0, "lead")
        flown = seek.through(start.setup, *start.table, start.speed, elevation, max(meet, 1e-6))[0]
        if abs(flown - time) < 1e-12:
            break
        time = 0.5 * (time + flown) if turn else flown  # half steps: a quick target may come nearer
        away, aside = x + pace * time * math.cos(course), pace * time * math.sin(course)
        meet = math.hypot(away, aside)
    else:
        raise units.UnitError("lead: dart and target only just meet. Would do: a nearer or slower target")
    q = units.quantity
    return Lead(q(pace * time, "m"), q(math.atan2(aside, away), "rad"), q(time, "s"), q(meet, "m"))


def point_blank(
    dart: Any,
    speed: Any = None,
    *,
    target_height: Any,
    sight_height: Any = "0 mm",
    air: Air | None = None,
    wind: Wind | str | None = None,
    slope: Any = "0 deg",
) -> PointBlank:
    """The longest span of distances over which a target is hit without changing the hold.

    The bore's angle is chosen so that the top of the path just stays within the target.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        As in `fly`.
    speed : Quantity, str or None [m/s]
        As in `fly`.
    target_height : Quantity or str [m]
        Full height, aimed at its middle; 1 mm to 5 m.
    sight_height : Quantity or str [m]
        As in `zero`.
    air : Air or None [-]
        As in `fly`.
    wind : Wind, str or None [m/s]
        As in `fly`.
    slope : Quantity or str [rad]
        As in `fly`.

    Returns
    -------
    PointBlank
        Near and far end, zero distance, angle, flight.

    Raises
    ------
    UnitError
        As `fly`; a target so tall that no angle brings the path to its top.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> span = point_blank(Projectile("1.0 g", "12.7 mm", 0.7), "40 m/s", target_height="30 cm")
    >>> round(span.far.m_as("m"), 2), round(span.zero.m_as("m"), 2)
    (12.15, 10.42)
    """
    start = conditions(dart, speed, air, wind, slope)
    sight = _sight(sight_height)
    half = 0.5 * units.si_in(target_height, "length", "target_height", 1e-3, 5.0)
    wanted = sight + half
    elevation = seek.elevation_for_top(start.setup, *start.table, start.speed, wanted) if wanted > 0 else 0.0
    if elevation < 0.0:
        raise units.UnitError(
            f"target_height: read {target_height!s:.64}; at {units.show(start.speed, 'speed')} no angle "
            "brings the path to its top. Would do: a lower target, or fly(...) with an angle of your own"
        )
    ground = sight - half - 1e-9
    flight = _fly(
        start, elevation, sight, min(ground, -1e-9), math.inf, units.quantity(elevation, "rad"), sight_height
    )
    near = units.quantity(0.0, "m")
    if ground > 0.0:  # the muzzle lies below the target's lower edge
        flight = _fly(start, elevation, sight, -2.0 * half, math.inf, flight.angle, sight_height)
        near, far = (_crossing(flight, ground, part) for part in (0, 1))
    else:
        far = flight.last.distance
    return PointBlank(near, far, flight.crossings[1], flight.angle, flight)


def _crossing(flight: Trajectory, height: float, part: int) -> Any:
    """Distance at which the path rises (0) or falls (1) through a height over the bore."""
    from blasterlab.flight import equations as kernel

    top, last = flight.apex.time.m_as("s"), flight.last.time.m_as("s")
    start, stop = (0.0, top) if part == 0 else (top, last)
    time = kernel.first_time(flight._times, flight._pieces, 1, height, start, stop)
    return flight.at_time(units.quantity(time, "s")).distance


def furthest(
    dart: Any,
    speed: Any = None,
    *,
    muzzle_height: Any = MUZZLE_HEIGHT,
    air: Air | None = None,
    wind: Wind | str | None = None,
) -> Furthest:
    """The furthest landing point over level ground, and the angle that gives it.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        As in `fly`.
    speed : Quantity, str or None [m/s]
        As in `fly`.
    muzzle_height : Quantity or str [m]
        As in `fly`.
    air : Air or None [-]
        As in `fly`.
    wind : Wind, str or None [m/s]
        As in `fly`.

    Returns
    -------
    Furthest
        Distance, angle, time, speed on landing, flight.

    Raises
    ------
    UnitError
        As `fly`; a dart so light that it does not land.

    Notes
    -----
    With drag the best angle lies well below 45°.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> far = furthest(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s")
    >>> round(far.distance.m_as("m"), 1), round(far.angle.m_as("deg"))
    (31.0, 32)
    """
    start = conditions(dart, speed, air, wind)
    ground = -units.si_in(muzzle_height, "distance", "muzzle_height", 1e-3, 300.0)
    elevation = seek.furthest_elevation(start.setup, *start.table, start.speed, ground)
    flight = _fly(start, elevation, 0.0, ground, math.inf, units.quantity(elevation, "rad"), "0 mm")
    last = flight.last
    if "air" in flight.end:
        raise units.UnitError(
            "furthest: the dart has not landed after 120 s: too light, or a wind that lifts it"
        )
    return Furthest(last.distance, flight.angle, last.time, last.speed, flight)
