"""Aiming: zero, hold-over, wind hold, lead, point-blank span and the furthest distance.

What it is for: the questions that need a flight fitted to a wish.  What it leaves out: cant, and a shooter
who moves.

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 3 (line of sight and line of departure).
"""

from __future__ import annotations

import math
from typing import Unpack

from blasterlab import units
from blasterlab.flight import elevation_search as search
from blasterlab.flight.aiming_results import Furthest, Hold, Lead, PointBlank, Zero
from blasterlab.flight.equations import NO_GROUND
from blasterlab.flight.fly import MUZZLE_HEIGHT, flown, ground_below
from blasterlab.flight.launch import Flying, Launch, Settings, distance_si
from blasterlab.flight.trajectory import Trajectory
from blasterlab.units import QuantityLike

_TURNS = 1000


def elevation_to(launch: Launch, x: float, name: str) -> float:
    """The flat elevation whose path meets the line of sight at a distance.

    Parameters
    ----------
    launch : Launch [-]
        What it starts from.
    x : float [m]
        The distance.
    name : str [-]
        For the message.

    Returns
    -------
    float
        Elevation [rad].

    Raises
    ------
    UnitError
        A distance that cannot be reached, with the distance that can.
    """
    if (elevation := search.elevation_for(launch.parameters, x, launch.sight)) is not None:
        return elevation
    reach, angle = search.furthest_elevation(launch.parameters, launch.sight)
    raise units.UnitError(
        f"{name}: {units.show(x, 'distance')} cannot be reached at {units.show(launch.speed, 'speed')}: the "
        f"furthest that this dart gets is {units.show(reach, 'distance', 3)} along the line of sight, at "
        f"{math.degrees(angle):.0f}°; try a nearer distance, more speed, or less drag"
    )


def zero(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    distance: QuantityLike,
    muzzle_height: QuantityLike = MUZZLE_HEIGHT,
    **launch: Unpack[Settings],
) -> Zero:
    """Set the sight so that the path meets the line of sight at a distance.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them.
    distance : Quantity or str [m]
        Where to meet; the flatter of the two angles is taken.
    muzzle_height : Quantity or str [m]
        As in `fly`; where the flight after the zero ends.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it; of the wind only the part along the range matters here.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> found = zero(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s", distance="10 m", sight_height="40 mm")
    >>> round(found.angle.m_as("deg"), 2), round(found.near.m_as("m"), 2), round(found.far.m_as("m"), 2)
    (2.82, 0.86, 10.0)
    """
    start = Launch.of(dart, speed, **launch)
    ground = ground_below(muzzle_height)
    return Zero.of(flown(start, elevation_to(start, distance_si(distance), "zero"), ground))


def hold(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    distance: QuantityLike,
    zero_distance: QuantityLike,
    **launch: Unpack[Settings],
) -> Hold:
    """Hold-over and wind hold on a target, with the sight zeroed at another distance in still, level air.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them.
    distance : Quantity or str [m]
        Of the target.
    zero_distance : Quantity or str [m]
        Where the sight is zeroed.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it; wind and slope are those of the shot, not of the zero.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.70)
    >>> print(hold(dart, "40 m/s", distance="15 m", zero_distance="10 m", wind="2 m/s from 9 o'clock"))
    hold 591 mm high (39.4 mrad) and 399 mm left (26.6 mrad)
    """
    start, x = Launch.of(dart, speed, **launch), distance_si(distance)
    return hold_on(flown(start, sighted(start, zero_distance), NO_GROUND, x), x)


def sighted(launch: Launch, zero_distance: QuantityLike) -> float:
    """The bore's elevation [rad] when the sight was zeroed on the level in still air; UnitError as `zero`."""
    return elevation_to(launch.in_still_air(), distance_si(zero_distance, "zero_distance"), "zero")


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
            f"distance: {units.show(x, 'distance')} cannot be reached with this zero: the dart never gets "
            f"further than {units.show(reached, 'distance', 3)}; try a nearer target, a zero further out, "
            "more speed, or less drag"
        )
    there = flight.at(units.quantity(x, "m"))
    up, right = -units.si(there.height, "length"), -units.si(there.drift, "length")
    up_angle, right_angle = (units.quantity(math.atan2(one, x), "rad") for one in (up, right))
    return Hold(units.quantity(up, "m"), units.quantity(right, "m"), up_angle, right_angle, there.time)


def lead(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    distance: QuantityLike,
    target_speed: QuantityLike,
    crossing: QuantityLike = "90 deg",
    **launch: Unpack[Settings],
) -> Lead:
    """How far ahead of a moving target to aim.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them.
    distance : Quantity or str [m]
        Of the target at the moment of the shot.
    target_speed : Quantity or str [m/s]
        0 to 12; walking is about 1.4 m/s, running about 4 m/s (common practice, no source).
    crossing : Quantity or str [rad]
        Direction of its path: 90° straight across, 0° straight away, 180° straight towards the muzzle.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it; of the wind only the part along the range changes the time.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> ahead = lead(Projectile("1.0 g", "12.7 mm", 0.7), "40 m/s", distance="10 m", target_speed="1.4 m/s")
    >>> round(ahead.length.m_as("cm"), 1)
    46.3
    """
    start, x = Launch.of(dart, speed, **launch), distance_si(distance)
    pace = units.si_in(target_speed, "speed", "target_speed", 0.0, 12.0)
    if pace >= units.si(start.speed, "speed"):
        raise units.UnitError(
            f"target_speed: got {target_speed!s:.64}; the dart leaves at {units.show(start.speed, 'speed')} "
            "and must be the faster of the two"
        )
    course = units.si_in(crossing, "angle", "crossing", 0.0, math.pi)
    meet, time, away, aside = x, 0.0, x, 0.0
    for turn in range(_TURNS):
        elevation = elevation_to(start, max(meet, 1e-6), "lead")
        there = search.through(start.parameters, elevation, max(meet, 1e-6))[0]
        if abs(there - time) < 1e-12:
            break
        time = 0.5 * (time + there) if turn else there  # half steps: a fast target may come nearer
        away, aside = x + pace * time * math.cos(course), pace * time * math.sin(course)
        meet = math.hypot(away, aside)
    else:
        raise units.UnitError("lead: dart and target only just meet; try a nearer or slower target")
    q = units.quantity
    return Lead(q(pace * time, "m"), q(math.atan2(aside, away), "rad"), q(time, "s"), q(meet, "m"))


def point_blank(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    target_height: QuantityLike,
    **launch: Unpack[Settings],
) -> PointBlank:
    """The longest span of distances over which a target is hit without changing the hold.

    The bore's angle is chosen so that the top of the path just stays within the target.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them.
    target_height : Quantity or str [m]
        Full height, aimed at its middle; 1 mm to 5 m.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> span = point_blank(Projectile("1.0 g", "12.7 mm", 0.7), "40 m/s", target_height="30 cm")
    >>> round(span.far.m_as("m"), 2), round(span.zero.m_as("m"), 2)
    (12.15, 10.42)
    """
    start = Launch.of(dart, speed, **launch)
    half = 0.5 * units.si_in(target_height, "length", "target_height", 1e-3, 5.0)
    top, edge = start.sight + half, start.sight - half
    elevation = search.elevation_for_top(start.parameters, top) if top > 0.0 else 0.0
    if elevation is None:
        raise units.UnitError(
            f"target_height: got {target_height!s:.64}; at {units.show(start.speed, 'speed')} no angle "
            "brings the path to its top; try a lower target, or fly(...) with an angle of your own"
        )
    flight = flown(start, elevation, min(edge, 0.0) - 1e-9)
    near, far = units.quantity(0.0, "m"), flight.last.distance
    if edge > 0.0:  # the muzzle lies below the target's lower edge
        rising, falling = flight.crossings_at(units.quantity(-half, "m"))
        near, far = rising or near, falling or far
    return PointBlank(near, far, flight.crossings[1], flight.angle, flight)


def furthest(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    muzzle_height: QuantityLike = MUZZLE_HEIGHT,
    **launch: Unpack[Settings],
) -> Furthest:
    """The furthest landing point on ground that runs along with the line of sight, and its angle.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them.
    muzzle_height : Quantity or str [m]
        As in `fly`.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> far = furthest(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s")
    >>> round(far.distance.m_as("m"), 1), round(far.angle.m_as("deg"))
    (31.0, 32)
    """
    start, ground = Launch.of(dart, speed, **launch), ground_below(muzzle_height)
    flight = flown(start, search.furthest_elevation(start.parameters, ground)[1], ground)
    if flight.end == "in the air":
        raise units.UnitError(
            "furthest: the dart has not landed after 120 s: too light, or a wind that lifts it"
        )
    last = flight.last
    return Furthest(last.distance, flight.angle, last.time, last.speed, flight)
