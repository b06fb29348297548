"""Hold-over, wind hold and lead along the whole range, from one flight.

What it is for: the curves behind the wind and lead panel.  What it leaves out: the exact meeting point with
a moving target, which `blasterlab.lead` solves; here the target is taken at its own distance.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.air import Air
from blasterlab.flight.aiming import hold_on, lead, zero
from blasterlab.flight.aiming_results import Hold, Lead
from blasterlab.flight.conditions import Wind, distance_si
from blasterlab.flight.trajectory import fly


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
    """

    distance: Any
    hold: Hold
    lead: Lead
    towards: float
    distances: np.ndarray
    up: np.ndarray
    wind: np.ndarray
    ahead: np.ndarray

    @property
    def aim(self) -> tuple[Any, Any]:
        """Where to aim on the target, right and up, all holds together [m]."""
        return self.hold.right + self.towards * self.lead.length, self.hold.up


def hold_curve(
    dart: Any,
    speed: Any = None,
    *,
    distance: Any,
    zero_distance: Any,
    wind: Wind | str | None = None,
    target_speed: Any = "0 m/s",
    to_the_right: bool = True,
    sight_height: Any = "0 mm",
    air: Air | None = None,
    points: int = 40,
) -> HoldCurve:
    """Hold-over, wind hold and lead at a target and along the range up to 1.4 times its distance.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        As in `fly`.
    speed : Quantity, str or None [m/s]
        As in `fly`.
    distance : Quantity or str [m]
        Of the target.
    zero_distance : Quantity or str [m]
        As in `hold`.
    wind : Wind, str or None [m/s]
        As in `fly`.
    target_speed : Quantity or str [m/s]
        Straight across, as in `lead`.
    to_the_right : bool [-]
        Which way the target walks.
    sight_height : Quantity or str [m]
        As in `zero`.
    air : Air or None [-]
        As in `fly`.
    points : int [-]
        Along the range, 2 or more.

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
    >>> from blasterlab.flight.drag import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.70)
    >>> curve = hold_curve(dart, "40 m/s", distance="10 m", zero_distance="10 m", target_speed="1.4 m/s")
    >>> round(curve.aim[0].m_as("cm"), 1)
    46.3
    """
    if points < 2:
        raise units.UnitError(f"points: read {points}; allowed is 2 or more")
    x = distance_si(distance)
    q = units.quantity
    sight = zero(dart, speed, distance=zero_distance, sight_height=sight_height, air=air)
    muzzle = sight.flight.at("0 m").speed
    air = sight.flight.conditions.air
    ahead = lead(dart, muzzle, distance=q(x, "m"), target_speed=target_speed, air=air, wind=wind)
    flight = fly(
        dart, muzzle, air=air, wind=wind, angle=sight.angle, sight_height=sight_height, muzzle_height="300 m",
        distance=q(1.4 * x, "m"),
    )  # fmt: skip
    path = flight.path(points)
    pace = units.si(target_speed, "speed", "target_speed")
    towards = 1.0 if to_the_right else -1.0
    return HoldCurve(
        distance=q(x, "m"),
        hold=hold_on(flight, x),
        lead=ahead,
        towards=towards,
        distances=path["distance"],
        up=-path["height"],
        wind=-path["drift"],
        ahead=math.copysign(pace, towards) * path["time"],
    )
