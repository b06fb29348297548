"""Air through holes in closed form: steady flow, the smooth law of pneumatics, a chamber that empties.

What it is for: what port and leaks of the shot model must tend to.  What it leaves out: two chambers that
fill and empty into each other, which the model is for; humid air.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.closed_forms import readers as read
from blasterlab.closed_forms.readers import AMBIENT, DRY_AIR, ROOM
from blasterlab.shot.orifice import CHOKED, CRITICAL, PATCH, orifice
from blasterlab.shot.parameters import GAMMA
from blasterlab.units import Quantity, QuantityLike


def orifice_flow(
    area: QuantityLike,
    pressure: QuantityLike,
    downstream: QuantityLike,
    temperature: QuantityLike = ROOM,
) -> Quantity:
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
        read.pressure(pressure, "pressure"),
        read.pressure(downstream, "downstream"),
        read.temperature(temperature),
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
        raise units.UnitError(f"ratio, critical: got {ratio}, {critical}; must be 0 to 1, 0 to less than 1")
    return math.sqrt(1.0 - (max(ratio - critical, 0.0) / (1.0 - critical)) ** 2)


def blowdown_time(
    volume: QuantityLike,
    area: QuantityLike,
    pressure: QuantityLike,
    end: QuantityLike,
    temperature: QuantityLike = ROOM,
    ambient: QuantityLike = AMBIENT,
) -> Quantity:
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
    p0, outside = read.pressure(pressure, "pressure"), read.ambient(ambient)
    lowest = max(1.0, outside / CRITICAL * (1.0 - 1e-5))  # as rounded as a reader would write it
    p1 = units.si_in(end, "pressure", "end", lowest, p0, "while the hole is choked, down to ambient / 0.5283")
    t0, v0 = read.temperature(temperature), read.volume(volume)
    flow = units.si_in(area, "area", "area", 1e-12, 1.0) * p0 * CHOKED / math.sqrt(DRY_AIR * t0)
    tau = p0 * v0 / (DRY_AIR * t0) / flow
    ratio = (p1 / p0) ** (-(GAMMA - 1.0) / (2.0 * GAMMA))
    return units.quantity(1e3 * 2.0 * tau / (GAMMA - 1.0) * (ratio - 1.0), "ms")
