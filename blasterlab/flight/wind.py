"""A steady wind, by its components or by the clock direction that it blows from.

What it is for: `Wind`, as every question about a flight takes it.  What it leaves out: gusts, which make a
group larger (`blasterlab.group`).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from blasterlab import units
from blasterlab.fields import Field, read_fields
from blasterlab.units import QuantityLike

_STRONGEST = 40.0  # m/s, the kit's own choice: no weather to be outdoors in
FIELDS = {name: Field("speed", -_STRONGEST, _STRONGEST) for name in ("along", "across", "up")}
_CLOCK = re.compile(r"(?P<speed>.+?)\s+from\s+(?P<hour>\d+(?:\.\d+)?(?::[0-5]\d)?)\s*(?:o'?clock)?\s*$", re.I)


@dataclass(frozen=True)
class Wind:
    """A steady wind as the velocity of the air in three components, level with the ground.

    Parameters
    ----------
    along : Quantity or str [m/s]
        Down range: a tail wind is positive, a head wind negative.
    across : Quantity or str [m/s]
        To the right.
    up : Quantity or str [m/s]
        Upwards.

    Raises
    ------
    UnitError
        A value without unit, of the wrong kind, or above 40 m/s.

    Examples
    --------
    >>> wind = Wind.read("4 m/s from 9 o'clock")
    >>> round(wind.across.m_as("m/s"), 6), round(wind.along.m_as("m/s"), 6)
    (4.0, 0.0)
    """

    along: QuantityLike = "0 m/s"
    across: QuantityLike = "0 m/s"
    up: QuantityLike = "0 m/s"

    def __post_init__(self) -> None:
        read_fields(self, "wind", FIELDS)

    @classmethod
    def from_clock(cls, speed: QuantityLike, hour: float) -> Wind:
        """A level wind by its speed and the clock direction that it blows from.

        Parameters
        ----------
        speed : Quantity or str [m/s]
            Zero or more: the hour says the direction.
        hour : float [-]
            Above 0 to 12: 12 blows in your face, 3 from the right, 6 from behind, 9 from the left.

        Returns
        -------
        Wind
            The wind [m/s].

        Raises
        ------
        UnitError
            A negative speed, or no such hour.
        """
        if units.si(speed, "speed", "wind.speed") < 0.0:
            opposite = (hour + 6.0 - 1e-9) % 12.0 + 1e-9
            raise units.UnitError(
                f"wind.speed: got {speed!s:.64}; a wind speed is never negative: turn the direction round, "
                f"from {opposite:.4g} o'clock"
            )
        if not 0.0 < hour <= 12.0:
            raise units.UnitError(f"wind.hour: got {hour:.6g}; must be above 0 and at most 12 o'clock")
        blow, angle = units.si_in(speed, "speed", "wind.speed", 0.0, _STRONGEST), hour * math.pi / 6.0
        along, across = (units.quantity(-blow * part(angle), "m/s") for part in (math.cos, math.sin))
        return cls(along, across)

    @classmethod
    def read(cls, wind: Wind | str | None) -> Wind:
        """A wind from any form that is accepted.

        Parameters
        ----------
        wind : Wind, str or None [m/s]
            Text such as ``"3 m/s from 10 o'clock"`` or ``"8 mph from 10:30"``; None is still air.

        Returns
        -------
        Wind
            The wind [m/s].

        Raises
        ------
        UnitError
            Text that says no direction, or a value out of range.
        """
        if wind is None:
            return cls()
        if isinstance(wind, cls):
            return wind
        match = _CLOCK.match(wind) if isinstance(wind, str) and len(wind) <= 64 else None
        if match is None:
            raise units.UnitError(
                f"wind: got {units.shown(wind)}; must be speed and direction (12 o'clock blows in your "
                'face, 3 from the right); try "3 m/s from 9 o\'clock", or Wind(along=..., across=..., up=...)'
            )
        hour, _, minutes = match["hour"].partition(":")
        return cls.from_clock(match["speed"], float(hour) + float(minutes or 0) / 60.0)

    @property
    def si(self) -> tuple[float, float, float]:
        """Along, up and across [m/s] as floats, in the order of the flight's axes."""
        along, up, across = (units.si(one, "speed") for one in (self.along, self.up, self.across))
        return along, up, across
