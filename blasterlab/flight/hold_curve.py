"""Hold-over, wind hold and lead along the whole range, from one flight.

What it is for: the curves behind the wind and lead panel.  What it leaves out: the exact meeting point with
a moving target, which `blasterlab.lead` solves; here the target is taken at its own distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Unpack

from blasterlab import units
from blasterlab.flight.aiming import hold_on, lead, sighted
from blasterlab.flight.aiming_results import Hold, Lead
from blasterlab.flight.equations import NO_GROUND
from blasterlab.flight.fly import flown
from blasterlab.flight.launch import Flying, Launch, Settings, distance_si
from blasterlab.shot.parameters import Floats
from blasterlab.shot.speed_range import SpeedRange
from blasterlab.units import Quantity, QuantityLike


@dataclass(frozen=True)
class HoldCurve:
    """Holds at one target and along the range; up and right are positive.

    Attributes
    ----------
    distance : Quantity [m]
        Of the target.
    hold : Hold [-]
        For drop and wind at the target.
    lead : Lead [-]
        For its walk.
    towards : float [-]
        1 for a target that walks to the right, -1 to the left.
    distances : ndarray [m]
        Along the range, evenly in time from the muzzle.
    up, wind, ahead : ndarray [m]
        Hold-over, wind hold and lead there.
    ends : tuple of (SpeedRange, HoldCurve or None, HoldCurve or None), or None [-]
        What is known of the speed, and the holds at its ends; None where the target is out of reach, or the
        speed was set by hand.
    """

    distance: Quantity
    hold: Hold
    lead: Lead
    towards: float
    distances: Floats
    up: Floats
    wind: Floats
    ahead: Floats
    ends: tuple[SpeedRange, HoldCurve | None, HoldCurve | None] | None = None

    @property
    def aim(self) -> tuple[Quantity, Quantity]:
        """Where to aim on the target, right and up, all holds together [m]."""
        return self.hold.right + self.towards * self.lead.length, self.hold.up


def hold_curve(
    dart: Flying,
    speed: QuantityLike | None = None,
    *,
    distance: QuantityLike,
    zero_distance: QuantityLike,
    target_speed: QuantityLike = "0 m/s",
    to_the_right: bool = True,
    points: int = 40,
    **launch: Unpack[Settings],
) -> HoldCurve:
    """Hold-over, wind hold and lead at a target and along the range up to 1.4 times its distance.

    Parameters
    ----------
    dart, speed : Build, Dart, Projectile or Launch; Quantity, str or None [kg, m, m/s]
        As `Launch.of` takes them.
    distance, zero_distance : Quantity or str [m]
        Of the target, and where the sight is zeroed, as in `hold`.
    target_speed : Quantity or str [m/s]
        Straight across, as in `lead`.
    to_the_right : bool [-]
        Which way the target walks.
    points : int [-]
        Along the range, 2 or more.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As in `hold`.

    Returns
    -------
    HoldCurve
        Holds [m].

    Raises
    ------
    UnitError
        As `hold` and `lead`; fewer than two points.

    Examples
    --------
    >>> from blasterlab.flight.projectile import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.70)
    >>> curve = hold_curve(dart, "40 m/s", distance="10 m", zero_distance="10 m", target_speed="1.4 m/s")
    >>> round(curve.aim[0].m_as("cm"), 1)
    46.3
    """
    if points < 2:
        raise units.UnitError(f"points: got {points}; must be 2 or more")
    start, x = Launch.of(dart, speed, **launch), distance_si(distance)
    ahead = lead(start, distance=distance, target_speed=target_speed)
    flight = flown(start, sighted(start, zero_distance), NO_GROUND, 1.4 * x)
    path = flight.path(points)
    towards = 1.0 if to_the_right else -1.0
    return HoldCurve(
        distance=units.quantity(x, "m"),
        hold=hold_on(flight, x),
        lead=ahead,
        towards=towards,
        distances=path["distance"],
        up=-path["height"],
        wind=-path["drift"],
        ahead=math.copysign(units.si(target_speed, "speed"), towards) * path["time"],
    )
