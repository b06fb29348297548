"""Waves in closed form, in gas and in a spring: a dart's first echo, a piston's shock, a spring's share.

What it is for: what the shots with waves must give back, and how much the shot model misses there.  What it
leaves out: everything after the first echo.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from scipy.optimize import brentq

from blasterlab import units
from blasterlab.closed_forms import readers as read
from blasterlab.closed_forms.readers import DRY_AIR, ROOM
from blasterlab.shot.parameters import GAMMA
from blasterlab.units import Quantity, QuantityLike


class FirstEcho(NamedTuple):
    """Lagrange's problem at the moment when the first echo reaches the dart."""

    time: Quantity
    speed: Quantity
    travel: Quantity


def lagrange_problem(
    pressure: QuantityLike,
    length: QuantityLike,
    bore: QuantityLike,
    mass: QuantityLike,
    temperature: QuantityLike = ROOM,
) -> FirstEcho:
    """A dart driven into a vacuum by a column of gas, exact until the first echo from the closed end.

    Formula: tau = 2 m c0 / ((g+1) A p0), u = 2 c0/(g-1) {1 - (1 + t/tau)^(-(g-1)/(g+1))},
    t* = (L0/c0) [2 + (g+1) C / (2 g m)], C the mass of the gas.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        Of the gas at rest, absolute.
    length, bore : Quantity or str [length]
        Of the column of gas.
    mass : Quantity or str [mass]
        Of the dart.
    temperature : Quantity or str [temperature]
        Of the gas.

    Returns
    -------
    FirstEcho
        time [ms], speed [m/s], travel [m].

    Raises
    ------
    UnitError
        Values that are unreadable or out of range.

    References
    ----------
    A. E. H. Love, F. B. Pidduck, *Phil. Trans. R. Soc. A* 222, 167 (1922); L. D. Landau, E. M. Lifshitz,
    *Fluid Mechanics*, 2nd ed., 1987, sec. 99, problem 2 (a piston driven by gas into a vacuum).
    """
    p0, t0 = read.pressure(pressure, "pressure"), read.temperature(temperature)
    column, area = units.si_in(length, "length", "length", 1e-4, 100.0), read.bore_area(bore)
    m = units.si_in(mass, "mass", "mass", 1e-6, 10.0)
    c0 = math.sqrt(GAMMA * DRY_AIR * t0)
    gas = p0 * area * column / (DRY_AIR * t0)
    tau = 2.0 * m * c0 / ((GAMMA + 1.0) * area * p0)
    time = column / c0 * (2.0 + (GAMMA + 1.0) * gas / (2.0 * GAMMA * m))
    small = (GAMMA - 1.0) / (GAMMA + 1.0)
    speed = 2.0 * c0 / (GAMMA - 1.0) * (1.0 - (1.0 + time / tau) ** -small)
    reach = tau / (1.0 - small) * ((1.0 + time / tau) ** (1.0 - small) - 1.0)
    travel = 2.0 * c0 / (GAMMA - 1.0) * (time - reach)
    return FirstEcho(
        units.quantity(1e3 * time, "ms"), units.quantity(speed, "m/s"), units.quantity(travel, "m")
    )


def piston_shock(mach: float) -> float:
    """Pressure ratio of the shock ahead of a piston.

    Formula: 1 + g (g+1)/4 M^2 + g M sqrt(1 + ((g+1) M / 4)^2).

    Parameters
    ----------
    mach : float [-]
        Piston speed over the speed of sound ahead, 0 to 20.

    Returns
    -------
    float
        Pressure on the piston over the pressure ahead [-].

    Raises
    ------
    UnitError
        A Mach number outside its range.

    References
    ----------
    H. W. Liepmann, A. Roshko, *Elements of Gasdynamics*, 1957, sec. 3.
    """
    if not 0.0 <= mach <= 20.0:
        raise units.UnitError(f"mach: got {mach}; must be 0 to 20")
    root = math.sqrt(1.0 + ((GAMMA + 1.0) * mach / 4.0) ** 2)
    return 1.0 + GAMMA * (GAMMA + 1.0) / 4.0 * mach**2 + GAMMA * mach * root


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
    """
    if not 1e-3 <= mass_ratio <= 1e6:
        raise units.UnitError(f"mass_ratio: got {mass_ratio}; must be 0.001 to 1e6")
    y = brentq(
        lambda y: y * math.sin(y) - mass_ratio * math.cos(y), 1e-9, math.pi / 2, xtol=1e-15, rtol=1e-14
    )
    return 1.0 / y**2 - 1.0 / mass_ratio
