"""Air pressed adiabatically from ambient pressure: the work for a volume, the pressure for a work.

What it is for: what a spring reaches in a chamber whose port is blocked.  What it leaves out: friction,
leaks, heat.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq

from blasterlab import units
from blasterlab.closed_forms import readers as read
from blasterlab.closed_forms.readers import AMBIENT
from blasterlab.shot.parameters import GAMMA
from blasterlab.units import Quantity, QuantityLike


def _work(y: float) -> float:
    """Work less what the outside gives, over outside pressure and first volume; y = ln(first / last)."""
    return math.expm1((GAMMA - 1.0) * y) / (GAMMA - 1.0) + math.expm1(-y)


def compression_work(
    volume: QuantityLike, end_volume: QuantityLike, ambient: QuantityLike = AMBIENT
) -> Quantity:
    """Work to compress air adiabatically from ambient pressure, less what the atmosphere gives.

    Formula: p_a V1/(g-1) [(V1/V2)^(g-1) - 1] - p_a (V1 - V2).

    Parameters
    ----------
    volume, end_volume : Quantity or str [volume]
        Before and after.
    ambient : Quantity or str [pressure]
        Outside pressure and first pressure of the gas.

    Returns
    -------
    Quantity
        Work [J].

    Raises
    ------
    UnitError
        A last volume that is larger than the first, or values out of range.

    References
    ----------
    E. Fermi, *Thermodynamics*, 1937, sec. 6: adiabatic transformations of an ideal gas.

    Examples
    --------
    >>> round(compression_work("100 cm^3", "40 cm^3").m_as("J"), 4)
    5.1346
    """
    v1, pa = read.volume(volume), read.pressure(ambient, "ambient")
    v2 = units.si_in(end_volume, "volume", "end_volume", 1e-15, v1, "from above 0 to the first volume")
    return units.quantity(pa * v1 * _work(math.log(v1 / v2)), "J")


def held_pressure(energy: QuantityLike, volume: QuantityLike, ambient: QuantityLike = AMBIENT) -> Quantity:
    """Pressure that a spring reaches in a chamber whose port is blocked until the plunger stands.

    Formula: p_a V_s/(g-1) [x^((g-1)/g) - 1] - p_a V_s (1 - x^(-1/g)) = E, x = P0/p_a.

    Parameters
    ----------
    energy : Quantity or str [energy]
        What the spring gives until then.
    volume : Quantity or str [volume]
        Of the chamber at the catch.
    ambient : Quantity or str [pressure]
        Outside pressure, and first pressure of the gas.

    Returns
    -------
    Quantity
        Absolute [kPa].

    Raises
    ------
    UnitError
        Values out of range, or an energy that is no sensible share of what the outside air gives.

    Notes
    -----
    Only the energy per volume counts.  Friction, leaks and heat are left out.

    References
    ----------
    E. Fermi, *Thermodynamics*, 1937, sec. 6: adiabatic transformations of an ideal gas.

    Examples
    --------
    >>> round(held_pressure("5.1346 J", "100 cm^3").m_as("kPa"), 1)
    365.5
    """
    work = units.si_in(energy, "energy", "energy", 1e-9, 1e6)
    v1, pa = read.volume(volume), read.pressure(ambient, "ambient")
    share = work / (pa * v1)
    if not 1e-9 < share < 1e3:
        raise units.UnitError(
            f"energy: got {units.show(work, 'energy')}; must be from a billionth to a thousand times the "
            f"{units.show(pa * v1, 'energy', 3)} that the outside air gives to this volume "
            "(is one of them in another unit?)"
        )
    y = brentq(lambda y: _work(y) - share, 0.0, 30.0, xtol=1e-14)
    return units.quantity(1e-3 * pa * math.exp(GAMMA * y), "kPa")
