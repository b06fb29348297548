"""Closed forms that the shot model must give back, and that teach what it does.

What it is for: the limits in which a shot has a formula: a charged chamber, a spring without gas, a port that
chokes, a chamber that empties, a wave before its first echo.  What it leaves out: everything between them,
which is what the model is for, and humid air: the gas here is dry.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from scipy.optimize import brentq

from blasterlab import units
from blasterlab.closed_forms.reservoir_gun import (
    best_length,
    bore_area,
    reservoir_build,
    reservoir_time,
    reservoir_velocity,
)
from blasterlab.shot.orifice import CHOKED, CRITICAL, PATCH, orifice
from blasterlab.shot.parameters import GAMMA

__all__ = [
    "FirstEcho",
    "best_length",
    "blowdown_time",
    "compression_work",
    "lagrange_problem",
    "moving_fraction",
    "orifice_flow",
    "piston_shock",
    "quarter_ellipse",
    "reservoir_build",
    "reservoir_time",
    "reservoir_velocity",
    "spring_velocity",
]

#: Specific gas constant of dry air, J/(kg K) (ISO 2533:1975: 287.052 87, rounded).
DRY_AIR = 287.05
_AMBIENT = "101.325 kPa"


def _temperature(value: Any) -> float:
    return units.si_in(value, "temperature", "temperature", 50.0, 3000.0)


def _absolute(value: Any, name: str) -> float:
    return units.si_in(value, "pressure", name, 1.0, 1e9, "absolute")


def spring_velocity(
    rate: Any, from_compression: Any, to_compression: Any, mass: Any, spring_mass: Any
) -> Any:
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


def orifice_flow(
    area: Any,
    pressure: Any,
    downstream: Any,
    temperature: Any = "293.15 K",
) -> Any:
    """Mass flow of air through a hole, choked or not.

    Formula: m' = A p_u / sqrt(R T_u) psi(p_d / p_u), psi by Saint-Venant and Wantzel.

    Parameters
    ----------
    area : Quantity or str [area]
        Discharge coefficient times geometric area.
    pressure, downstream : Quantity or str [pressure]
        Absolute, on both sides; the flow is negative when the second is higher.
    temperature : Quantity or str [temperature]
        Upstream.

    Returns
    -------
    Quantity
        Mass flow [g/s].

    Raises
    ------
    UnitError
        Values that are unreadable or out of range.

    Notes
    -----
    The model's own flow function: where the pressures differ by less than a thousandth a cubic stands in for
    the law, whose slope is infinite at equal pressures.

    References
    ----------
    A. J. C. B. de Saint-Venant, L. Wantzel, *J. École Polytech.* 16, 85 (1839); NACA Report 1135 (1953).

    Examples
    --------
    >>> round(orifice_flow("19.63495 mm^2", "200 kPa", "101.325 kPa").m_as("g/s"), 4)
    9.2695
    """
    p_u, p_d, t = (
        _absolute(pressure, "pressure"),
        _absolute(downstream, "downstream"),
        _temperature(temperature),
    )
    hole = units.si_in(area, "area", "area", 0.0, 1.0)
    return units.quantity(1e3 * float(orifice(hole, p_u, t, p_d, t, DRY_AIR, PATCH)[0]), "g/s")


def quarter_ellipse(ratio: float, critical: float = CRITICAL) -> float:
    """Share of the choked flow that passes a hole, by the smooth law of pneumatics.

    Formula: sqrt(1 - [(r - b)/(1 - b)]^2) above the critical ratio b, 1 below.

    Parameters
    ----------
    ratio : float [-]
        Pressure downstream over pressure upstream, 0 to 1.
    critical : float [-]
        Critical ratio b: 0.528 for a smooth nozzle, 0.2 to 0.5 for valves; 0 to less than 1.

    Returns
    -------
    float
        Flow over choked flow [-].

    Raises
    ------
    UnitError
        A ratio outside its range.

    Notes
    -----
    With b of the nozzle it lies below Saint-Venant and Wantzel's law, by no more than 0.2 % of the choked
    flow; its slope, too, is infinite at equal pressures.

    References
    ----------
    ISO 6358:1989, *Pneumatic fluid power: Components using compressible fluids* (the formula: from memory).

    Examples
    --------
    >>> round(quarter_ellipse(0.8), 4)
    0.8174
    """
    if not (0.0 <= ratio <= 1.0 and 0.0 <= critical < 1.0):
        raise units.UnitError(
            f"ratio, critical: read {ratio}, {critical}; allowed are 0 to 1, 0 to less than 1"
        )
    return math.sqrt(1.0 - (max(ratio - critical, 0.0) / (1.0 - critical)) ** 2)


def blowdown_time(
    volume: Any,
    area: Any,
    pressure: Any,
    end: Any,
    temperature: Any = "293.15 K",
    ambient: Any = _AMBIENT,
) -> Any:
    """Time in which a chamber empties through a choked hole from one pressure to another.

    Formula: P/P0 = [1 + (g-1) t / (2 tau)]^(-2g/(g-1)), tau = m0 / m0'.

    Parameters
    ----------
    volume : Quantity or str [volume]
        Of the chamber.
    area : Quantity or str [area]
        Discharge coefficient times geometric area.
    pressure, end : Quantity or str [pressure]
        Absolute, first and last; the hole must stay choked.
    temperature : Quantity or str [temperature]
        At the start.
    ambient : Quantity or str [pressure]
        Outside pressure; 0 for none.

    Returns
    -------
    Quantity
        Time [ms].

    Raises
    ------
    UnitError
        A last pressure above the first or too low to keep the hole choked, or values out of range.

    References
    ----------
    A. H. Shapiro, *The Dynamics and Thermodynamics of Compressible Fluid Flow*, vol. 1, 1953: discharge.

    Examples
    --------
    >>> round(blowdown_time("50 cm^3", "16.68971 mm^2", "300 kPa", "191.801 kPa").m_as("ms"), 3)
    4.976
    """
    p0, outside = _absolute(pressure, "pressure"), units.si_in(ambient, "pressure", "ambient", 0.0, 1e9)
    lowest = max(1.0, outside / CRITICAL * (1.0 - 1e-5))  # as rounded as a reader would write it
    p1 = units.si_in(end, "pressure", "end", lowest, p0, "while the hole is choked, down to ambient / 0.5283")
    t0, v0 = _temperature(temperature), units.si_in(volume, "volume", "volume", 1e-12, 1e3)
    flow = units.si_in(area, "area", "area", 1e-12, 1.0) * p0 * CHOKED / math.sqrt(DRY_AIR * t0)
    tau = p0 * v0 / (DRY_AIR * t0) / flow
    ratio = (p1 / p0) ** (-(GAMMA - 1.0) / (2.0 * GAMMA))
    return units.quantity(1e3 * 2.0 * tau / (GAMMA - 1.0) * (ratio - 1.0), "ms")


class FirstEcho(NamedTuple):
    """Lagrange's problem at the moment when the first echo reaches the dart."""

    time: Any
    speed: Any
    travel: Any


def lagrange_problem(
    pressure: Any,
    length: Any,
    bore: Any,
    mass: Any,
    temperature: Any = "293.15 K",
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
    p0, t0 = _absolute(pressure, "pressure"), _temperature(temperature)
    column, area = units.si_in(length, "length", "length", 1e-4, 100.0), bore_area(bore)
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
        raise units.UnitError(f"mach: read {mach}; allowed is 0 to 20")
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

    Examples
    --------
    >>> round(moving_fraction(1.0), 6)
    0.351034
    """
    if not 1e-3 <= mass_ratio <= 1e6:
        raise units.UnitError(f"mass_ratio: read {mass_ratio}; allowed is 0.001 to 1e6")
    y = brentq(
        lambda y: y * math.sin(y) - mass_ratio * math.cos(y), 1e-9, math.pi / 2, xtol=1e-15, rtol=1e-14
    )
    return 1.0 / y**2 - 1.0 / mass_ratio


def compression_work(volume: Any, end_volume: Any, ambient: Any = _AMBIENT) -> Any:
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
    v1, pa = units.si_in(volume, "volume", "volume", 1e-12, 1e3), _absolute(ambient, "ambient")
    v2 = units.si_in(end_volume, "volume", "end_volume", 1e-15, v1, "from above 0 to the first volume")
    return units.quantity(pa * v1 / (GAMMA - 1.0) * ((v1 / v2) ** (GAMMA - 1.0) - 1.0) - pa * (v1 - v2), "J")
