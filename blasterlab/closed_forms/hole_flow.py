"""Air through a hole in closed form: steady flow.

What it is for: what port and leaks of the shot model must tend to.  What it leaves out: two chambers that
fill and empty into each other, which the model is for; humid air.
"""

from __future__ import annotations

from blasterlab import units
from blasterlab.closed_forms import readers as read
from blasterlab.closed_forms.readers import DRY_AIR, ROOM
from blasterlab.shot.orifice import PATCH, orifice
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
