"""What a flight starts from: dart, speed, air, wind and slope, checked once and turned into SI floats.

What it is for: every question about a flight reads its input here, so that all accept and refuse the same.
What it leaves out: the flight itself.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.air import GRAVITY, Air
from blasterlab.flight.drag import drag_table, mass_and_size

#: What is accepted: m/s at the muzzle, m/s of wind, radians of slope.  The kit's own choice: subsonic, and
#: no weather to be outdoors in.
SPEEDS, WINDS, SLOPES = (0.1, 300.0), (-40.0, 40.0), (-1.4, 1.4)
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

    along: Any = "0 m/s"
    across: Any = "0 m/s"
    up: Any = "0 m/s"

    def __post_init__(self) -> None:
        for name in ("along", "across", "up"):
            units.si_in(getattr(self, name), "speed", f"wind.{name}", *WINDS)
            object.__setattr__(self, name, units.parse(getattr(self, name), "speed", f"wind.{name}"))

    @classmethod
    def from_clock(cls, speed: Any, hour: float) -> Wind:
        """A level wind by its speed and the clock direction that it blows from.

        Parameters
        ----------
        speed : Quantity or str [m/s]
            Zero or more: the direction is the hour's business.
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
                f"wind.speed: read {speed!s:.64}; a wind speed is never negative: turn the clock direction "
                f"instead, from {opposite:.4g} o'clock"
            )
        if not 0.0 < hour <= 12.0:
            raise units.UnitError(f"wind.hour: read {hour:.6g}; allowed is above 0 to 12 o'clock")
        blow = units.si_in(speed, "speed", "wind.speed", 0.0, WINDS[1])
        angle = hour * math.pi / 6.0
        return cls(
            units.quantity(-blow * math.cos(angle), "m/s"), units.quantity(-blow * math.sin(angle), "m/s")
        )

    @classmethod
    def read(cls, wind: Any) -> Wind:
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
            shown = repr(wind) if isinstance(wind, str) else str(wind)
            raise units.UnitError(
                f'wind: read {shown:.64}; speed and direction are wanted. Would do: "3 m/s from 9 o\'clock" '
                "(12 blows in your face, 3 from the right), or Wind(along=..., across=..., up=...)"
            )
        hour, _, minutes = match["hour"].partition(":")
        return cls.from_clock(match["speed"], float(hour) + float(minutes or 0) / 60.0)

    @property
    def si(self) -> tuple[float, float, float]:
        """Along, up and across [m/s] as floats, in the order of the kernel's axes."""
        return (
            units.si(self.along, "speed"),
            units.si(self.up, "speed"),
            units.si(self.across, "speed"),
        )


@dataclass(frozen=True)
class Conditions:
    """Checked input of a flight; floats are SI."""

    mass: float
    diameter: float
    speed: float
    slope: float
    density: float
    air: Air
    wind: Wind
    setup: np.ndarray
    table: tuple[np.ndarray, np.ndarray, np.ndarray]

    def without_wind(self) -> Conditions:
        """The same in still air [SI]."""
        from dataclasses import replace

        setup = self.setup.copy()
        setup[3:6] = 0.0
        return replace(self, wind=Wind(), setup=setup)

    def scaled(self, mass: Any = 1.0, drag: Any = 1.0) -> np.ndarray:
        """Setup rows for darts whose mass and drag are multiples of this one's, shape (n, 8) [SI]."""
        factor = np.atleast_1d(np.asarray(drag, float) / np.asarray(mass, float))
        rows = np.tile(self.setup, (factor.size, 1))
        rows[:, 0] *= factor
        return rows


def conditions(
    dart: Any, speed: Any = None, air: Air | None = None, wind: Any = None, slope: Any = "0 deg"
) -> Conditions:
    """Check what a flight starts from.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        With a build, its dart, its air and its computed muzzle velocity are used unless given.
    speed : Quantity, str or None [m/s]
        At the muzzle, 0.1 to 300.
    air : Air or None [-]
        Common laboratory air when None.
    wind : Wind, str or None [m/s]
        As `Wind.read` takes it.
    slope : Quantity or str [rad]
        Of the line of sight: uphill positive, up to 80°.

    Returns
    -------
    Conditions
        SI floats and arrays.

    Raises
    ------
    UnitError
        A value that is missing or cannot be taken.
    """
    if hasattr(dart, "dart") and hasattr(dart, "chamber"):
        air = air or getattr(dart, "air", None)
        if speed is None:
            from blasterlab.shot.simulate import simulate

            speed = simulate(dart).muzzle_velocity
        dart = dart.dart
    if speed is None:
        raise units.UnitError('speed: the muzzle velocity is missing. Would do: speed="40 m/s"')
    if air is not None and not isinstance(air, Air):
        raise units.UnitError(
            f"air: read a {type(air).__name__}; wanted is an Air, such as Air(temperature='5 degC')"
        )
    air = air or Air()
    mass, diameter = mass_and_size(dart)
    muzzle = units.si_in(speed, "speed", "speed", *SPEEDS)
    tilt = units.si_in(slope, "angle", "slope", *SLOPES)
    gale = Wind.read(wind)
    density = air.density.m_as("kg/m^3")
    along, up, across = gale.si
    setup = np.array(
        [
            density * math.pi * diameter**2 / (8.0 * mass),
            -GRAVITY * math.sin(tilt),
            -GRAVITY * math.cos(tilt),
            along * math.cos(tilt) + up * math.sin(tilt),
            up * math.cos(tilt) - along * math.sin(tilt),
            across,
            1.0 / air.speed_of_sound.m_as("m/s"),
            density * diameter / air.viscosity.m_as("Pa*s"),
        ]
    )
    table = drag_table(dart.drag_coefficient).arrays
    return Conditions(mass, diameter, muzzle, tilt, density, air, gale, setup, table)


def distance_si(value: Any, name: str = "distance", high: float = 1000.0) -> float:
    """A distance down range, checked.

    Parameters
    ----------
    value : Quantity or str [m]
        Above zero: a target stands in front of the muzzle.
    name : str [-]
        For the message.
    high : float [m]
        The largest that is taken.

    Returns
    -------
    float
        Distance [m].

    Raises
    ------
    UnitError
        Zero, negative, too large, or no length.
    """
    distance = units.si(value, "distance", name)
    if distance <= 0.0:
        raise units.UnitError(
            f'{name}: read {value!s:.64}; the target would stand at or behind the muzzle. Would do: "10 m"'
        )
    return units.si_in(value, "distance", name, 0.0, high)
