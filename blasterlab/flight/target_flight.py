"""A zeroed flight and a target on its way.

What it is for: all numbers of the trajectory panel and its picture.  What it leaves out: words and drawing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from blasterlab import units
from blasterlab.flight.aiming import point_blank, sighted
from blasterlab.flight.aiming_results import PointBlank, Zero
from blasterlab.flight.fly import MUZZLE_HEIGHT, flown, ground_below
from blasterlab.flight.launch import Launch
from blasterlab.flight.trajectory import FlightPoint
from blasterlab.shot.speed_range import SpeedRange
from blasterlab.units import Quantity, QuantityLike


@dataclass(frozen=True)
class TargetFlight:
    """A zeroed flight and a target on its way.

    Attributes
    ----------
    name : str [-]
        What flies.
    zero : Zero [-]
        The flight.
    distance : Quantity [m]
        Of the target.
    target_height : Quantity [m]
        Full height, aimed at its middle.
    predicted : Quantity or None [m/s]
        The muzzle velocity that the build is predicted to give this dart, zero where the dart stays in.
    ends : tuple of (SpeedRange, TargetFlight or None, TargetFlight or None), or None [-]
        What is known of the speed, and the flights at its ends with the same zero; None where a speed does
        not reach the zero, or was set by hand.
    """

    name: str
    zero: Zero
    distance: Quantity
    target_height: Quantity
    predicted: Quantity | None = None
    ends: tuple[SpeedRange, TargetFlight | None, TargetFlight | None] | None = None

    @classmethod
    def of(
        cls,
        launch: Launch,
        *,
        name: str,
        distance: Quantity,
        target_height: Quantity,
        zero_distance: QuantityLike,
    ) -> TargetFlight:
        """Fly with the sight as zeroed on the level in still air.

        Parameters
        ----------
        launch : Launch [-]
            What it starts from.
        name : str [-]
            What flies.
        distance, target_height : Quantity [m]
            Of the target.
        zero_distance : Quantity or str [m]
            As in `hold`.

        Returns
        -------
        TargetFlight
            Quantities.
        """
        flight = flown(launch, sighted(launch, zero_distance), ground_below(MUZZLE_HEIGHT))
        return cls(name, Zero.of(flight), distance, target_height)

    @cached_property
    def span(self) -> PointBlank | None:
        """The best zero for this target, and its span; None where there is none."""
        try:
            return point_blank(self.zero.flight.launch.in_still_air(), target_height=self.target_height)
        except units.UnitError:  # so tall a target, or so slow a dart, that no zero is the best
            return None

    @cached_property
    def point(self) -> FlightPoint | None:
        """The flight at the target; None where it has landed before."""
        if self.distance > self.zero.flight.last.distance:
            return None
        return self.zero.flight.at(self.distance)

    @property
    def ground(self) -> float | None:
        """Height of the ground over the line of sight [m]; None where the flight ends in the air."""
        flight = self.zero.flight
        return units.si(flight.last.height, "length") if flight.end == "landed" else None
