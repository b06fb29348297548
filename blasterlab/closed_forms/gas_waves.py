"""Waves in gas in closed form: a dart before the first echo, the shock ahead of a piston.

What it is for: what the shot with gas waves must give back, and how much the shot model misses there.  What
it leaves out: everything after the first echo.
"""

from __future__ import annotations

import math
from typing import NamedTuple

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

    Examples
    --------
    >>> round(lagrange_problem("500 kPa", "30 cm", "12.9 mm", "1 g").speed.m_as("m/s"), 4)
    101.0546
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

    Examples
    --------
    >>> piston_shock(0.0)
    1.0
    """
    if not 0.0 <= mach <= 20.0:
        raise units.UnitError(f"mach: got {mach}; must be 0 to 20")
    root = math.sqrt(1.0 + ((GAMMA + 1.0) * mach / 4.0) ** 2)
    return 1.0 + GAMMA * (GAMMA + 1.0) / 4.0 * mach**2 + GAMMA * mach * root
