"""Fly a dart: `fly` gives a `Trajectory`.

What it is for: one flight, as tight as any printed digit needs.  What it leaves out: what
`blasterlab.flight.equations` leaves out; aiming, which is in `blasterlab.flight.aiming`.
"""

from __future__ import annotations

import math
import warnings
from typing import Unpack

import numpy as np

from blasterlab import units
from blasterlab.flight import equations as eq
from blasterlab.flight.launch import MUZZLES, Flying, Launch, Settings, distance_si
from blasterlab.flight.trajectory import End, Trajectory
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike

#: Error tolerance of a single flight against metres and m/s; two orders finer than any printed digit.
TOLERANCE = 1e-11
#: Default height of the muzzle above the ground, a standing shooter's: the kit's own choice, no source.
MUZZLE_HEIGHT = "1.4 m"
_ENDS: dict[int, End] = {eq.AT_PLANE: "at the distance", eq.AT_GROUND: "landed", eq.OUT_OF_TIME: "in the air"}


class DragRangeWarning(UserWarning):
    """A flight left the drag table, whose end values were held."""


def fly(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    angle: QuantityLike = "0 deg",
    muzzle_height: QuantityLike = MUZZLE_HEIGHT,
    distance: QuantityLike | None = None,
    **launch: Unpack[Settings],
) -> Trajectory:
    """Fly one dart.

    m dv/dt = m g − ½ ρ A C_d |v − w| (v − w)

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them: a build brings its dart, its air and its computed muzzle velocity.
    angle : Quantity or str [rad]
        Of the bore above the line of sight, -90 to 90°.
    muzzle_height : Quantity or str [m]
        Above the ground, which runs along with the line of sight; 1 mm to 300 m.
    distance : Quantity, str or None [m]
        Where the flight stops if it has not landed before; None flies on to the ground.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        ``air``, ``wind``, ``slope`` and ``sight_height``, as `Launch.of` takes them.

    Returns
    -------
    Trajectory
        `.at(distance)`, `.time(distance)`, `.drop(distance)`, `.table`, `.apex`, `.crossings`, ...

    Raises
    ------
    UnitError
        A value that is missing, of the wrong kind or out of range; a target behind the muzzle.

    Notes
    -----
    Distances run along the line of sight, heights square to it.  The dart flies nose first: an unstable one
    tumbles and loses far more (`blasterlab.flight.stability`).

    References
    ----------
    R. L. McCoy, *Modern Exterior Ballistics*, 1999 (point-mass equations).

    Examples
    --------
    >>> from blasterlab.flight.projectile import Projectile
    >>> flight = fly(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s", distance="10 m")
    >>> round(flight.drop("10 m").m_as("cm"), 1), round(flight.time("10 m").m_as("ms"), 1)
    (45.1, 330.1)
    """
    start = Launch.of(dart, speed, **launch)
    elevation = units.si_in(angle, "angle", "angle", -math.pi / 2, math.pi / 2)
    plane = math.inf if distance is None else distance_si(distance)
    return flown(start, elevation, ground_below(muzzle_height), plane)


def ground_below(muzzle_height: QuantityLike) -> float:
    """The ground's y [m] for a height of the muzzle, checked; UnitError outside 1 mm to 300 m."""
    low, high = MUZZLES
    why = "a dart from a muzzle on the ground lands at once"
    return -units.si_in(muzzle_height, "distance", "muzzle_height", low, high, why)


def flown(launch: Launch, elevation: float, ground: float, plane: float = math.inf) -> Trajectory:
    """Fly a launch with the bore at an elevation.

    Parameters
    ----------
    launch : Launch [-]
        What it starts from.
    elevation : float [rad]
        Of the bore above the line of sight.
    ground : float [m]
        Its y: below the muzzle is negative.
    plane : float [m]
        Where the flight stops if it has not landed before.

    Returns
    -------
    Trajectory
        The flight.

    Raises
    ------
    UnitError
        A flight that cannot be integrated to its end.
    """
    parameters = launch.parameters._replace(elevation=elevation)
    reason, end, times, pieces = eq.fly_dense(parameters, plane, ground, eq.LONGEST, TOLERANCE, 0.0)
    if reason not in _ENDS:
        raise units.UnitError(
            "fly: the flight could not be computed to its end; is the dart far too light for its size?"
        )
    outside = _outside(parameters, pieces)
    if outside:
        warnings.warn(
            "the flight leaves the drag table; its end values are held there", DragRangeWarning, stacklevel=3
        )
    return Trajectory(launch, units.quantity(elevation, "rad"), _ENDS[reason], outside, end, times, pieces)


def _outside(p: eq.FlightParameters, pieces: Floats) -> bool:
    """Whether a flight's Mach or Reynolds numbers leave the drag table."""
    wind = np.array([p.wind_x, p.wind_y, p.wind_z])
    relative = np.sqrt(((pieces[:, eq.START, eq.VX : eq.VZ + 1] - wind) ** 2).sum(axis=1))
    for axis, number in (
        (p.machs, relative * p.mach_per_speed),
        (np.exp(p.log_reynolds), relative * p.reynolds_per_speed),
    ):
        if axis.size > 1 and (number.min() < axis[0] * (1 - 1e-9) or number.max() > axis[-1] * (1 + 1e-9)):
            return True
    return False
