"""Counting the coils of a spring: active coils from what can be counted or measured.

What it is for: the number that a rate is most sensitive to after the wire.  What it leaves out: the rate
itself (`parts.spring`), and readings on a scale (`spring_rate`).

References
----------
Budynas & Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, Table 10-1.
"""

from __future__ import annotations

from blasterlab import units
from blasterlab.parts import coil
from blasterlab.parts.spring import Spring
from blasterlab.units import QuantityLike


def coils_from_pitch(
    free_length: QuantityLike, wire: QuantityLike, over: QuantityLike, coils: int, ends: str = "closed"
) -> float:
    """Active coils from the length over a few coils in the middle of the free spring.

    Parameters
    ----------
    free_length, wire : Quantity or str [length]
        Free length and wire diameter.
    over : Quantity or str [length]
        From a point on one coil to the same point `coils` coils further.
    coils : int [-]
        How many coils that was.
    ends : str [-]
        As in `Spring`.

    Returns
    -------
    float
        Active coils [-].

    Raises
    ------
    UnitError
        A pitch below one wire or above the free length.

    References
    ----------
    Budynas & Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, Table 10-1.

    Examples
    --------
    >>> round(coils_from_pitch("63.9 mm", "1.3 mm", "25 mm", 10), 3)
    24.0
    """
    free = units.si_in(free_length, "length", "free_length", 1e-4, 10.0, "a free spring")
    d = units.si_in(wire, "length", "wire", 1e-5, 0.05, "a wire")
    count = units.si_in(coils, "number", "coils", 1, 1000, "coils that were measured over")
    pitch = units.si(over, "length", "over") / count
    if not d < pitch < free:
        raise units.UnitError(
            f"over: the pitch comes out as {units.show(pitch, 'length')}; must be more than the wire "
            f"({units.show(d, 'length')}) and less than the free length ({units.show(free, 'length')})"
        )
    return coil.active_from_pitch(free, pitch, d, ends)


def coils_from_count(total: float, ends: str = "closed") -> float:
    """Active coils from all coils counted from wire end to wire end.

    Parameters
    ----------
    total : float [-]
        Coils counted, in halves or quarters.
    ends : str [-]
        As in `Spring`.

    Returns
    -------
    float
        Active coils [-].

    Raises
    ------
    UnitError
        Fewer coils than the ends take, or unknown ends.

    References
    ----------
    Budynas & Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, Table 10-1.

    Examples
    --------
    >>> coils_from_count(26, "closed")
    24.0
    """
    count = units.si_in(total, "number", "total", 0.5, 1000, "coils counted")
    active = coil.active_coils(count, ends)
    if active <= 0:
        raise units.UnitError(f"total: got {total}; the {ends} ends alone take {count - active:g} coils")
    return active


def coils_from_rate(spring: Spring, rate: QuantityLike) -> float:
    """The active coils that would explain a measured rate.

    n = G d^4 / (8 D^3 k)

    Parameters
    ----------
    spring : Spring [-]
        Wire, coil diameter and material; its count is not used.
    rate : Quantity or str [spring rate]
        As measured.

    Returns
    -------
    float
        Active coils [-].

    Raises
    ------
    UnitError
        A rate that is not above zero.
    """
    k = units.si_in(rate, "spring rate", "rate", 1e-3, 1e7, "a spring on a scale")
    return float(spring.active_coils * spring.computed_rate.m_as("N/m") / k)
