"""What the aiming questions answer with; every field with a dimension is a Quantity.

What it is for: named results of `blasterlab.flight.aiming`.  What it leaves out: how they are found.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from blasterlab import units
from blasterlab.flight.points import FlightPoint
from blasterlab.flight.trajectory import Trajectory


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

    angle: Any
    near: Any
    far: Any
    top: FlightPoint
    flight: Trajectory


@dataclass(frozen=True)
class Hold:
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

    up: Any
    right: Any
    up_angle: Any
    right_angle: Any
    time: Any

    @property
    def words(self) -> str:
        """The hold in one sentence, in the chosen unit set."""
        high = "high" if self.up.m_as("m") >= 0 else "low"
        side = "right" if self.right.m_as("m") >= 0 else "left"
        return (
            f"hold {units.show(abs(self.up), 'length', 3)} {high} ({_mrad(self.up_angle)}) and "
            f"{units.show(abs(self.right), 'length', 3)} {side} ({_mrad(self.right_angle)})"
        )


def _mrad(angle: Any) -> str:
    return f"{abs(angle.m_as('mrad')):.3g} mrad"


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

    length: Any
    angle: Any
    time: Any
    distance: Any


@dataclass(frozen=True)
class PointBlank:
    """The span of distances over which a target is hit with one hold on its middle.

    Attributes
    ----------
    near, far : Quantity [m]
        From here to there the path stays within half the target's height of the line of sight.
    zero : Quantity [m]
        The far crossing of the line of sight.
    angle : Quantity [rad]
        Of the bore above the line of sight, for the longest span.
    flight : Trajectory [-]
        The path.
    """

    near: Any
    far: Any
    zero: Any
    angle: Any
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

    distance: Any
    angle: Any
    time: Any
    speed: Any
    flight: Trajectory
