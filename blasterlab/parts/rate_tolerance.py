"""How far a spring as bought may be from its nominal rate: tolerances of wire, coil diameter and count.

What it is for: put an interval on a computed rate before the spring is on the scale, and show which
dimension matters (the rate goes with the fourth power of the wire).  What it leaves out: the shear
modulus's own scatter, and a set taken in use.

References
----------
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, 4.3.7 (half width over the square
root of 3), 5.1.2 (combination).
EN 10270-1 and EN 15800:2008, tolerances (data/tables).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from blasterlab import units
from blasterlab.parts.spring import Spring
from blasterlab.parts.wire import coil_tolerance, wire_tolerance
from blasterlab.units import Quantity, QuantityLike

_COILS = 0.25  # plus or minus a quarter coil: common practice, no source


@dataclass(frozen=True)
class RateSpread:
    """The interval of a computed rate.

    Attributes
    ----------
    rate : Quantity [N/m]
        From the nominal dimensions.
    low, high : Quantity [N/m]
        Rate less and plus two standard uncertainties.
    fraction : float [-]
        Two standard uncertainties over the rate.
    shares : dict of str to float [-]
        Relative change of the rate at the full deviation of each: ``wire``, ``coil diameter``, ``coils``.
    """

    rate: Quantity
    low: Quantity
    high: Quantity
    fraction: float
    shares: dict[str, float]


def as_bought(
    spring: Spring,
    wire: QuantityLike | None = None,
    coil_diameter: QuantityLike | None = None,
    coils: float = _COILS,
) -> RateSpread:
    """The interval of a spring's computed rate, by tolerance or by your own callipers.

    (u_k/k)^2 = (4 u_d/d)^2 + (3 u_D/D)^2 + (u_n/n)^2

    Parameters
    ----------
    spring : Spring [-]
        Its measured rate, if any, is not used.
    wire : Quantity or str or None [length]
        Half width for the wire diameter; None takes EN 10270-1's tolerance.
    coil_diameter : Quantity or str or None [length]
        Half width for the coil diameter; None takes EN 15800's grade 2.
    coils : float [-]
        Half width for the active coils; a quarter coil is common practice, no source.

    Returns
    -------
    RateSpread
        Rate, interval and the share of each dimension.

    Raises
    ------
    UnitError
        A wire, coil diameter or index outside the tolerance tables, when the tables are asked.

    Examples
    --------
    >>> spread = as_bought(Spring("1.0 mm", "11 mm", "100 mm", 20), wire="0.01 mm")
    >>> round(spread.shares["wire"], 3)
    0.04
    """
    d, mean = spring.si_wire, spring.si_mean_diameter
    half_wire = units.si(wire_tolerance(spring.wire_diameter) if wire is None else wire, "length", "wire")
    given = coil_tolerance(spring.mean_diameter, spring.index) if coil_diameter is None else coil_diameter
    half_coil = units.si(given, "length", "coil_diameter")
    half_count = units.si_in(coils, "number", "coils", 0.0, spring.active_coils, "half width of the count")
    shares = {
        "wire": 4 * half_wire / d,
        "coil diameter": 3 * half_coil / mean,
        "coils": half_count / spring.active_coils,
    }
    fraction = 2 * math.sqrt(sum(share**2 for share in shares.values()) / 3)
    nominal = spring.computed_rate.m_as("N/m")
    return RateSpread(
        units.quantity(nominal, "N/m"),
        units.quantity(nominal * (1 - fraction), "N/m"),
        units.quantity(nominal * (1 + fraction), "N/m"),
        fraction,
        shares,
    )
