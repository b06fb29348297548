"""The reservoir gun: a charged chamber behind a port that resists nothing, in closed form.

What it is for: velocity, time and best barrel length of the oldest limit of interior ballistics, and a build
that tends to it.  What it leaves out: flow through a real port, friction that changes, heat in between.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from blasterlab import units
from blasterlab.build import Build, demo_build
from blasterlab.closed_forms import readers as read
from blasterlab.closed_forms.readers import AMBIENT
from blasterlab.shot.parameters import GAMMA
from blasterlab.units import Quantity, QuantityLike

#: Law of the gas -> exponent of its volume.
LAWS = {"adiabatic": GAMMA, "isothermal": 1.0}


class Gun(NamedTuple):
    """A reservoir gun in SI floats."""

    pressure: float
    ambient: float
    area: float
    friction: float
    exponent: float

    @property
    def resistance(self) -> float:
        """What the gas must overcome [Pa]: outside pressure, and friction over the bore's cross section."""
        return self.ambient + self.friction / self.area

    @property
    def expansion(self) -> float:
        """How many times its volume the gas takes until it pushes no harder than the resistance [-]."""
        return (self.pressure / self.resistance) ** (1.0 / self.exponent)

    def energy(self, chamber: float, travel: float) -> float:
        """What a dart has gained [J] on its way [m] from a chamber [m^3]."""
        growth = math.log1p(self.area * travel / chamber)
        more = self.exponent - 1.0
        share = -math.expm1(-more * growth) / more if more else growth
        return self.pressure * chamber * share - self.resistance * self.area * travel


def read_gun(
    pressure: QuantityLike, bore: QuantityLike, friction: QuantityLike, ambient: QuantityLike, law: str
) -> Gun:
    """A reservoir gun from what a user typed; a UnitError names what is out of range or an unknown law."""
    if law not in LAWS:
        raise units.UnitError(f"law: got {law!r:.64}; must be {' or '.join(LAWS)}")
    pa = read.ambient(ambient)
    p0 = read.pressure(pressure, "pressure", max(pa, 1.0))
    return Gun(p0, pa, read.bore_area(bore), units.si_in(friction, "force", "friction", 0.0, 1e6), LAWS[law])


def reservoir_velocity(
    pressure: QuantityLike,
    volume: QuantityLike,
    bore: QuantityLike,
    mass: QuantityLike,
    length: QuantityLike,
    friction: QuantityLike = "0 N",
    ambient: QuantityLike = AMBIENT,
    law: str = "adiabatic",
) -> Quantity:
    """Muzzle velocity from a charged chamber behind a port that resists nothing.

    Formula: v^2 = (2/m) {W - (A p_a + F) L}, W the work of the gas: P0 V0/(g-1) [1 - (V0/(V0+AL))^(g-1)]
    adiabatic, P0 V0 ln(1 + AL/V0) isothermal.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Absolute, above ambient.
    volume : Quantity or str [volume]
        All the gas behind the dart at the start.
    bore : Quantity or str [length]
        Of the barrel.
    mass : Quantity or str [mass]
        Of the dart; add a third of the gas for Lagrange's correction.
    length : Quantity or str [length]
        Of the barrel.
    friction : Quantity or str [force]
        Constant.
    ambient : Quantity or str [pressure]
        Outside pressure; 0 for none.
    law : str [-]
        ``"adiabatic"`` or ``"isothermal"``.

    Returns
    -------
    Quantity
        Muzzle velocity [m/s].

    Raises
    ------
    UnitError
        Values out of range, an unknown law, or a dart that stops before the muzzle.

    References
    ----------
    Z. J. Rohrbach, T. R. Buresh, M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eqs 2 and 3;
    C. E. Mungan, *Eur. J. Phys.* 30, 453 (2009).

    Examples
    --------
    >>> round(reservoir_velocity("300 kPa", "50 cm^3", "12.9 mm", "1 g", "40 cm").m_as("m/s"), 4)
    89.8684
    """
    gun = read_gun(pressure, bore, friction, ambient, law)
    travel = units.si_in(length, "length", "length", 1e-4, 100.0)
    energy = gun.energy(read.volume(volume), travel)
    if energy <= 0.0:
        raise units.UnitError(f"length: got {units.show(travel, 'length')}; the dart stops before the muzzle")
    return units.quantity(math.sqrt(2.0 * energy / units.si_in(mass, "mass", "mass", 1e-6, 10.0)), "m/s")


def best_length(
    pressure: QuantityLike,
    volume: QuantityLike,
    bore: QuantityLike,
    friction: QuantityLike = "0 N",
    ambient: QuantityLike = AMBIENT,
    law: str = "adiabatic",
) -> Quantity:
    """Barrel length at which the gas pushes no harder than the outside air and the friction.

    Formula: A L* = V0 [(P0 / (p_a + F/A))^(1/g) - 1]; g = 1 for the isothermal law.

    Parameters
    ----------
    pressure, volume, bore, friction, ambient, law : Quantity or str [as in `reservoir_velocity`]
        The same case.

    Returns
    -------
    Quantity
        Best length; 0 when friction holds the dart [mm].

    Raises
    ------
    UnitError
        As in `reservoir_velocity`, or neither ambient pressure nor friction.

    References
    ----------
    As for `reservoir_velocity`: the maximum of eqs 2 and 3.

    Examples
    --------
    >>> round(best_length("300 kPa", "50 cm^3", "12.9 mm").m_as("m"), 6)
    0.448089
    """
    gun = read_gun(pressure, bore, friction, ambient, law)
    if gun.resistance == 0.0:
        raise units.UnitError("ambient: got 0 without friction; nothing slows the dart, so no length is best")
    return units.quantity(1e3 * max(0.0, read.volume(volume) * (gun.expansion - 1.0) / gun.area), "mm")


def reservoir_build() -> Build:
    """A build that is a reservoir gun when its chamber is charged: 50 cm^3, a vast port, 12.9 mm, 40 cm, 1 g.

    Returns
    -------
    Build
        Without friction, leak, gas inertia or air ahead; use ``simulate(build, charge="300 kPa")`` [-].

    References
    ----------
    As for `reservoir_velocity`.
    """
    return demo_build("workhorse").replace(
        {
            "title": "Reservoir gun (a limit, not a blaster)", "note": "", "chamber.bore": "200 mm",
            "chamber.port_diameter": "200 mm", "chamber.dead_volume": "49.99 cm^3", "barrel.bore": "12.9 mm",
            "barrel.dead_volume": "0.01 cm^3", "barrel.length": "40 cm", "dart.mass": "1 g",
            "dart.diameter": "12.9 mm",
            "losses.port_discharge": 1.0, "losses.seal_friction": "0 N", "losses.seal_leak_area": "0 mm^2",
            "losses.dart_breakaway": "0 N", "losses.dart_friction": "0 N", "losses.blowby_area": "0 mm^2",
            "losses.gas_inertia": False, "losses.air_ahead": False,
        }
    )  # fmt: skip
