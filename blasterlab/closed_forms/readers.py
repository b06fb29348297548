"""What the closed forms read alike: pressures, a temperature, a bore; SI floats out.

What it is for: one range and one likely cause for each.  What it leaves out: the laws.  The gas is dry air
and perfect.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.units import QuantityLike

#: Specific gas constant of dry air, J/(kg K) (ISO 2533:1975: 287.052 87, rounded).
DRY_AIR = 287.05
AMBIENT = "101.325 kPa"
ROOM = "293.15 K"


def pressure(value: QuantityLike, name: str, above: float = 1.0) -> float:
    """A pressure [Pa], absolute, at least `above`."""
    why = "absolute" if above <= 1.0 else "absolute, above the outside pressure"
    return units.si_in(value, "pressure", name, above, 1e9, why)


def ambient(value: QuantityLike) -> float:
    """The outside pressure [Pa]; 0 for none."""
    return units.si_in(value, "pressure", "ambient", 0.0, 1e6, "absolute")


def volume(value: QuantityLike, name: str = "volume") -> float:
    """A volume [m^3] above 0."""
    return units.si_in(value, "volume", name, 1e-12, 1e3)


def temperature(value: QuantityLike) -> float:
    """A temperature [K]."""
    return units.si_in(value, "temperature", "temperature", 50.0, 3000.0)


def bore_area(bore: QuantityLike) -> float:
    """Cross section [m^2] of a bore, which is a length from 0.1 mm to 1 m."""
    return math.pi / 4.0 * units.si_in(bore, "length", "bore", 1e-4, 1.0) ** 2
