"""A spring and a mass in closed form: the speed without gas, and the share of the spring that moves.

What it is for: what the shot model must give back without air.  What it leaves out: waves in the spring.
"""

from __future__ import annotations

import math

from scipy.optimize import brentq

from blasterlab import units
from blasterlab.units import Quantity, QuantityLike


def spring_velocity(
    rate: QuantityLike,
    from_compression: QuantityLike,
    to_compression: QuantityLike,
    mass: QuantityLike,
    spring_mass: QuantityLike,
) -> Quantity:
    """Speed of a plunger that a spring drives without any gas.

    Formula: v = sqrt(k (x1^2 - x0^2) / (m_p + m_s/3)).

    Parameters
    ----------
    rate : Quantity or str [spring rate]
        Of the spring.
    from_compression, to_compression : Quantity or str [length]
        At the catch and at the front stop.
    mass, spring_mass : Quantity or str [mass]
        Of the plunger and of the spring.

    Returns
    -------
    Quantity
        Speed at the front stop [m/s].

    Raises
    ------
    UnitError
        A spring that is not released, or values that are unreadable or out of range.

    References
    ----------
    Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, sec. 156: a third of the spring moves.

    Examples
    --------
    >>> round(spring_velocity("600 N/m", "120 mm", "30 mm", "30 g", "40 g").m_as("m/s"), 4)
    13.672
    """
    x1 = units.si_in(from_compression, "length", "from_compression", 1e-6, 100.0)
    x0 = units.si_in(to_compression, "length", "to_compression", 0.0, x1, "from 0 to from_compression")
    moving = units.si_in(mass, "mass", "mass", 1e-6, 100.0)
    moving += units.si_in(spring_mass, "mass", "spring_mass", 0.0, 100.0) / 3.0
    stiffness = units.si_in(rate, "spring rate", "rate", 1e-3, 1e9)
    return units.quantity(math.sqrt(stiffness * (x1**2 - x0**2) / moving), "m/s")


def moving_fraction(mass_ratio: float) -> float:
    """Share of a spring's mass that gives the exact frequency of spring and mass.

    Formula: y tan y = m_s/M, f = 1/y^2 - M/m_s.

    Parameters
    ----------
    mass_ratio : float [-]
        Spring over moving mass, 1e-3 to 1e6.

    Returns
    -------
    float
        The share: a third for a light spring, 4/pi^2 for a heavy one [-].

    Raises
    ------
    UnitError
        A ratio outside its range.

    References
    ----------
    Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, sec. 156.

    Examples
    --------
    >>> round(moving_fraction(1.0), 6)
    0.351034
    """
    if not 1e-3 <= mass_ratio <= 1e6:
        raise units.UnitError(f"mass_ratio: got {mass_ratio}; must be 0.001 to 1e6")
    y = brentq(
        lambda y: y * math.sin(y) - mass_ratio * math.cos(y), 1e-9, math.pi / 2, xtol=1e-15, rtol=1e-14
    )
    return 1.0 / y**2 - 1.0 / mass_ratio
