"""The reservoir gun: a charged chamber behind a port that resists nothing, in closed form.

What it is for: velocity, time and best barrel length of the oldest limit of interior ballistics, and a build
that tends to it.  What it leaves out: flow through a real port, friction that changes, heat in between.
"""

from __future__ import annotations

import math
from typing import Any

from scipy.integrate import quad

from blasterlab import units
from blasterlab.shot.parameters import GAMMA

LAWS = ("adiabatic", "isothermal")
_AMBIENT = "101.325 kPa"


def bore_area(bore: Any) -> float:
    """Cross section of a bore.

    Parameters
    ----------
    bore : Quantity or str [length]
        Diameter, 0.1 mm to 1 m.

    Returns
    -------
    float
        Area [m^2].

    Raises
    ------
    UnitError
        A bore that is unreadable or out of range.
    """
    return math.pi / 4.0 * units.si_in(bore, "length", "bore", 1e-4, 1.0) ** 2


def _law(law: str) -> bool:
    if law not in LAWS:
        raise units.UnitError(f"law: read {law!r:.64}; would do: {', '.join(LAWS)}")
    return law == "adiabatic"


def _above(pressure: Any, ambient: Any) -> tuple[float, float]:
    outside = units.si_in(ambient, "pressure", "ambient", 0.0, 1e6, "absolute")
    why = "absolute, above the outside pressure"
    return units.si_in(pressure, "pressure", "pressure", max(outside, 1.0), 1e8, why), outside


def reservoir_velocity(
    pressure: Any,
    volume: Any,
    bore: Any,
    mass: Any,
    length: Any,
    friction: Any = "0 N",
    ambient: Any = _AMBIENT,
    law: str = "adiabatic",
) -> Any:
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
    adiabatic = _law(law)
    p0, pa = _above(pressure, ambient)
    v0, area = units.si_in(volume, "volume", "volume", 1e-9, 1.0), bore_area(bore)
    travel = units.si_in(length, "length", "length", 1e-4, 100.0)
    energy = _work(p0, v0, area * travel, adiabatic) - (area * pa + _friction(friction)) * travel
    if energy <= 0.0:
        raise units.UnitError(
            f"length: read {units.show(travel, 'length')}; the dart stops before the muzzle"
        )
    return units.quantity(math.sqrt(2.0 * energy / units.si_in(mass, "mass", "mass", 1e-6, 1.0)), "m/s")


def _friction(value: Any) -> float:
    return units.si_in(value, "force", "friction", 0.0, 1e6)


def _work(p0: float, v0: float, swept: float, adiabatic: bool) -> float:
    if adiabatic:
        return p0 * v0 / (GAMMA - 1.0) * (1.0 - (v0 / (v0 + swept)) ** (GAMMA - 1.0))
    return p0 * v0 * math.log1p(swept / v0)


def reservoir_time(
    pressure: Any,
    volume: Any,
    bore: Any,
    mass: Any,
    length: Any,
    friction: Any = "0 N",
    ambient: Any = _AMBIENT,
    law: str = "adiabatic",
) -> Any:
    """Time to the muzzle from a charged chamber behind a port that resists nothing.

    Formula: the integral of dx / v(x), with x = z^2 so that the start is smooth.

    Parameters
    ----------
    pressure, volume, bore, mass, length, friction, ambient, law : Quantity or str [as `reservoir_velocity`]
        The same case.

    Returns
    -------
    Quantity
        Time [ms].

    Raises
    ------
    UnitError
        As in `reservoir_velocity`.

    References
    ----------
    As for `reservoir_velocity`.

    Examples
    --------
    >>> round(reservoir_time("300 kPa", "50 cm^3", "12.9 mm", "1 g", "40 cm").m_as("ms"), 5)
    6.61286
    """
    reservoir_velocity(pressure, volume, bore, mass, length, friction, ambient, law)  # refuses what cannot be
    p0, pa = _above(pressure, ambient)
    v0, area, m = units.si(volume, "volume"), bore_area(bore), units.si(mass, "mass")
    travel, against, adiabatic = units.si(length, "length"), area * pa + _friction(friction), _law(law)

    def integrand(z: float) -> float:
        if z == 0.0:
            return 2.0 / math.sqrt(2.0 * (p0 * area - against) / m)
        energy = _work(p0, v0, area * z * z, adiabatic) - against * z * z
        return 2.0 * z / math.sqrt(2.0 * energy / m)

    return units.quantity(1e3 * quad(integrand, 0.0, math.sqrt(travel), epsabs=0.0, epsrel=1e-12)[0], "ms")


def best_length(
    pressure: Any,
    volume: Any,
    bore: Any,
    friction: Any = "0 N",
    ambient: Any = _AMBIENT,
    law: str = "adiabatic",
) -> Any:
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
        As in `reservoir_velocity`.

    References
    ----------
    As for `reservoir_velocity`: the maximum of eqs 2 and 3.

    Examples
    --------
    >>> round(best_length("300 kPa", "50 cm^3", "12.9 mm").m_as("m"), 6)
    0.448089
    """
    adiabatic = _law(law)
    p0, pa = _above(pressure, ambient)
    v0, area = units.si_in(volume, "volume", "volume", 1e-9, 1.0), bore_area(bore)
    against = pa + _friction(friction) / area
    ratio = (p0 / against) ** (1.0 / GAMMA if adiabatic else 1.0)
    return units.quantity(1e3 * max(0.0, v0 * (ratio - 1.0) / area), "mm")


def reservoir_build() -> Any:
    """A build that is a reservoir gun when its chamber is charged: 50 cm^3, a vast port, 12.9 mm, 40 cm, 1 g.

    Returns
    -------
    Build
        Without friction, leak, gas inertia or air ahead; use ``simulate(build, charge="300 kPa")`` [-].

    References
    ----------
    As for `reservoir_velocity`.
    """
    from blasterlab.build import demo_build

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
