"""What the aiming questions answer with; every field with a dimension is a Quantity.

What it is for: named results of `blasterlab.flight.aiming`.  What it leaves out: how they are found.
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab.doors import Spoken
from blasterlab.flight.trajectory import FlightPoint, Trajectory
from blasterlab.units import Quantity


@dataclass(frozen=True)
class Zero:
    """A sight setting, and where its path crosses the line of sight.

    Attributes
    ----------
    angle : Quantity [rad]
        Of the bore above the line of sight.
    near, far : Quantity or None [m]
        Distances of the crossings; None where the flight has no such crossing before the ground.
    top : FlightPoint [-]
        The highest point over the line.
    flight : Trajectory [-]
        The whole path.
    """

    angle: Quantity
    near: Quantity | None
    far: Quantity | None
    top: FlightPoint
    flight: Trajectory

    @classmethod
    def of(cls, flight: Trajectory) -> Zero:
        """Where a flight crosses the line of sight.

        Parameters
        ----------
        flight : Trajectory [-]
            The whole path.

        Returns
        -------
        Zero
            Quantities.
        """
        return cls(flight.angle, *flight.crossings, flight.apex, flight)


@dataclass(frozen=True)
class Hold(Spoken):
    """Where to aim instead of at the mark; up and right are positive.

    Attributes
    ----------
    up, right : Quantity [m]
        Lengths on the target.
    up_angle, right_angle : Quantity [rad]
        The same seen from the muzzle.
    time : Quantity [s]
        Of flight.
    """

    up: Quantity
    right: Quantity
    up_angle: Quantity
    right_angle: Quantity
    time: Quantity


@dataclass(frozen=True)
class Lead:
    """How far ahead of a moving target to aim.

    Attributes
    ----------
    length : Quantity [m]
        Along the target's path.
    angle : Quantity [rad]
        Seen from the muzzle.
    time : Quantity [s]
        Of flight.
    distance : Quantity [m]
        At which dart and target meet.
    """

    length: Quantity
    angle: Quantity
    time: Quantity
    distance: Quantity


@dataclass(frozen=True)
class PointBlank:
    """The span of distances over which a target is hit with one hold on its middle.

    Attributes
    ----------
    near, far : Quantity [m]
        From here to there the path stays within half the target's height of the line of sight.
    zero : Quantity or None [m]
        The far crossing of the line of sight.
    angle : Quantity [rad]
        Of the bore above the line of sight, for the longest span.
    flight : Trajectory [-]
        The path.
    """

    near: Quantity
    far: Quantity
    zero: Quantity | None
    angle: Quantity
    flight: Trajectory


@dataclass(frozen=True)
class Furthest:
    """The furthest landing point over level ground.

    Attributes
    ----------
    distance : Quantity [m]
        From the muzzle.
    angle : Quantity [rad]
        Of the bore above the horizontal.
    time : Quantity [s]
        Of flight.
    speed : Quantity [m/s]
        On landing.
    flight : Trajectory [-]
        The path.
    """

    distance: Quantity
    angle: Quantity
    time: Quantity
    speed: Quantity
    flight: Trajectory
