"""What a flight starts from: dart, speed, air, wind, slope and sight, read and checked once.

What it is for: every question about a flight takes ``(dart, speed, **launch)`` and reads them by `Launch.of`,
so that all accept and refuse the same; or it takes a `Launch` that was read before.  What it leaves out: what
only one question asks, such as the angle of the bore, the height of the muzzle or the distance.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, partial
from typing import Any, TypeAlias, TypedDict, Unpack

from blasterlab import units
from blasterlab.air import GRAVITY, Air
from blasterlab.build import Build
from blasterlab.flight.drag_table import drag_table
from blasterlab.flight.equations import FlightParameters
from blasterlab.flight.flat_fire import retardation
from blasterlab.flight.projectile import Projectile, mass_and_size
from blasterlab.flight.wind import Wind
from blasterlab.parts.dart import Dart
from blasterlab.shot.simulate import simulate
from blasterlab.units import Quantity, QuantityLike

#: What is accepted: m/s at the muzzle, rad of slope, m of sight height, m of muzzle height.  The kit's own
#: choice: subsonic, hand-held.
SPEEDS, SLOPES, SIGHTS, MUZZLES = (0.1, 300.0), (-1.4, 1.4), (-0.1, 0.5), (1e-3, 300.0)
#: What flies; a build brings its dart, its air and its computed muzzle velocity.
Flying: TypeAlias = "Build | Dart | Projectile | Launch"


_AIR, _STILL, _LEVEL = Air(), Wind(), units.quantity(0.0, "deg")


class Settings(TypedDict, total=False):
    """What every question about a flight may be told by name; `Launch.of` says what each one means."""

    air: Air | None
    wind: Wind | str | None
    slope: QuantityLike
    sight_height: QuantityLike


@dataclass(frozen=True)
class Launch:
    """Checked input of a flight, from `Launch.of`.

    Attributes
    ----------
    dart : Dart or Projectile [kg, m, -]
        What flies.
    speed : Quantity [m/s]
        At the muzzle.
    air : Air [-]
        What it flies through.
    wind : Wind [m/s]
        Steady all the way.
    slope : Quantity [rad]
        Of the line of sight above the horizontal.
    sight_height : Quantity [m]
        Of the line of sight above the bore at the muzzle.
    """

    dart: Dart | Projectile
    speed: Quantity
    air: Air = _AIR
    wind: Wind = _STILL
    slope: Quantity = _LEVEL
    sight_height: Quantity = units.quantity(0.0, "mm")

    @classmethod
    def of(cls, dart: Flying, speed: QuantityLike | None = None, **settings: Unpack[Settings]) -> Launch:
        """Read what a flight starts from.

        Parameters
        ----------
        dart : Build, Dart, Projectile or Launch [kg, m, -]
            A build brings its dart, its air and its computed muzzle velocity; a launch brings everything.
            What is given beside it wins.
        speed : Quantity, str or None [m/s]
            At the muzzle, 0.1 to 300.
        **settings : Air, Wind, Quantity, str or None [m/s, rad, m]
            ``air``, common laboratory air (20 °C, 101.325 kPa, 50 %) when nothing brings another;
            ``wind``, such as ``"3 m/s from 9 o'clock"``, still air without;
            ``slope`` of the line of sight above the horizontal, up to 80° either way, level without;
            ``sight_height`` of the line of sight above the bore at the muzzle, -10 to 50 cm, none without.

        Returns
        -------
        Launch
            Quantities.

        Raises
        ------
        UnitError
            A value that is missing, of the wrong kind or out of range.
        TypeError
            A setting that is none of these.

        Examples
        --------
        >>> launch = Launch.of(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s", wind="2 m/s from 9 o'clock")
        >>> launch.speed.m_as("m/s"), launch.air == Air()
        (40.0, True)
        """
        given = {"speed": speed, **settings}
        if unknown := given.keys() - _READ.keys():
            raise TypeError(f"unexpected {', '.join(sorted(unknown))}; a launch takes {', '.join(_READ)}")
        found: dict[str, Any] = {name: _READ[name](one) for name, one in given.items() if one is not None}
        if isinstance(dart, Launch):
            return replace(dart, **found)
        if isinstance(dart, Build):
            if "speed" not in found:
                found["speed"] = _muzzle_velocity(dart)
            found, dart = {"air": dart.air} | found, dart.dart
        if "speed" not in found:
            raise units.UnitError('speed: the muzzle velocity is missing; try speed="40 m/s"')
        mass_and_size(dart)
        return cls(dart, **found)

    def in_still_air(self) -> Launch:
        """The same on the level and without wind, as a sight is zeroed.

        Returns
        -------
        Launch
            Quantities.
        """
        return replace(self, wind=_STILL, slope=_LEVEL)

    @property
    def sight(self) -> float:
        """Of the line of sight above the bore at the muzzle [m]."""
        return units.si(self.sight_height, "length")

    @cached_property
    def parameters(self) -> FlightParameters:
        """Everything that the equations need, with the bore along the line of sight [SI]."""
        mass, diameter = mass_and_size(self.dart)
        density, viscosity = self.air.density.m_as("kg/m^3"), self.air.viscosity.m_as("Pa*s")
        tilt = units.si(self.slope, "angle")
        along, up, across = self.wind.si
        machs, log_reynolds, coefficients = drag_table(self.dart.drag_coefficient).arrays
        return FlightParameters(
            retardation=retardation(density, mass, diameter),
            gravity_x=-GRAVITY * math.sin(tilt),
            gravity_y=-GRAVITY * math.cos(tilt),
            wind_x=along * math.cos(tilt) + up * math.sin(tilt),
            wind_y=up * math.cos(tilt) - along * math.sin(tilt),
            wind_z=across,
            mach_per_speed=1.0 / self.air.speed_of_sound.m_as("m/s"),
            reynolds_per_speed=density * diameter / viscosity,
            speed=units.si(self.speed, "speed"),
            elevation=0.0,
            azimuth=0.0,
            machs=machs,
            log_reynolds=log_reynolds,
            drag_coefficients=coefficients,
        )


def _muzzle_velocity(build: Build) -> Quantity:
    shot = simulate(build)
    if not shot.exited:
        raise units.UnitError(f"{build.title}: the dart stays in the barrel ({shot.status}); nothing flies")
    found: Quantity = shot.muzzle_velocity
    return found


def _in_span(kind: str, name: str, span: tuple[float, float], value: QuantityLike) -> Quantity:
    found: Quantity = units.parse(value, kind, name)
    units.si_in(found, kind, name, *span)
    return found


def _air(value: object) -> Air:
    if not isinstance(value, Air):
        raise units.UnitError(f'air: got {units.shown(value)}; must be an Air; try Air(temperature="5 degC")')
    return value


_READ: dict[str, Callable[[Any], Any]] = {
    "speed": partial(_in_span, "speed", "speed", SPEEDS),
    "air": _air,
    "wind": Wind.read,
    "slope": partial(_in_span, "angle", "slope", SLOPES),
    "sight_height": partial(_in_span, "length", "sight_height", SIGHTS),
}


def distance_si(value: QuantityLike, name: str = "distance", high: float = 1000.0) -> float:
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
    if units.si(value, "distance", name) <= 0.0:
        raise units.UnitError(
            f'{name}: got {value!s:.64}; the target would stand at or behind the muzzle; try "10 m"'
        )
    return units.si_in(value, "distance", name, 0.0, high)
