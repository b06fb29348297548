"""O-rings: sizes by standard, squeeze by printed charts, and how a ring thins as it is stretched.

What it is for: what is known of a ring before it meets a groove.  What it leaves out: the groove (``seal``).

References
----------
AS568 / ISO 3601-1 (sizes); printed charts of glands (``data/tables/orings_gland_*.csv``).
SAE ARP 1231 (thinning of a stretched ring; the polynomials from memory).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from blasterlab import tables, units
from blasterlab.faults import fault
from blasterlab.units import Quantity, QuantityLike

#: How a stretched ring thins: at constant volume (the default), or by the fit of SAE ARP 1231.
THINNING = ("constant volume", "ARP 1231")
BREAKS = 0.5  # stretch at which a ring cannot be put on: from memory
TAPE = "0.09 mm"  # one turn of thread-seal tape as it comes: common practice, no source


@dataclass(frozen=True)
class Ring:
    """An O-ring: inside diameter and section.

    Attributes
    ----------
    name : str [-]
        Size in words, such as ``"AS568-216"`` or ``"30 x 3 mm"``.
    inside, section : Quantity [length]
        Inside diameter and cross section, unstretched.
    """

    name: str
    inside: Quantity
    section: Quantity

    @cached_property
    def si(self) -> tuple[float, float]:
        """Inside diameter and section [m]."""
        return units.si(self.inside, "length"), units.si(self.section, "length")


def ring(size: str | Ring) -> Ring:
    """A ring by its AS568 dash number or by its measures.

    Parameters
    ----------
    size : str or Ring [-]
        ``"AS568-216"``, ``"-216"``, ``"216"``, or inside by section with a unit: ``"23.39 x 3.53 mm"``.

    Returns
    -------
    Ring
        The ring.

    Raises
    ------
    UnitError
        A dash number that is not in the table, or measures that cannot be.

    References
    ----------
    AS568 = ISO 3601-1 inch sizes (data/tables/orings_as568.csv).

    Examples
    --------
    >>> ring("216").section.m_as("mm")
    3.53
    """
    if isinstance(size, Ring):
        return size
    text = str(size).strip()
    dash = text.upper().removeprefix("AS568").lstrip(" -")
    if dash.isdigit() and len(dash) == 3:
        for found in sizes():
            if found.name == f"AS568-{dash}":
                return found
        raise units.UnitError(
            f'ring: got {units.shown(size)}, which is not in the AS568 table; try "AS568-216"'
        )
    parts = text.lower().replace("×", "x").split("x")
    if len(parts) != 2:
        raise units.UnitError(
            f"ring: got {units.shown(size)}; must be a dash number or inside by section; "
            'try "23.39 x 3.53 mm"'
        )
    first, unit = parts[0], parts[1].strip().lstrip("0123456789./ ")
    if not unit:
        example = "23.39 x 3.53 mm" if any(map(str.isalpha, first)) else f"{text} mm"
        raise units.UnitError(f'ring: got {units.shown(size)}, which has no unit; try "{example}"')
    if not any(letter.isalpha() or letter in '"″' for letter in first):
        first = f"{first} {unit}"
    inside = units.si_in(first, "length", "ring inside diameter", 1e-3, 0.5)
    section = units.si_in(parts[1], "length", "ring section", 0.5e-3, 20e-3)
    return Ring(text, units.quantity(1e3 * inside, "mm"), units.quantity(1e3 * section, "mm"))


@lru_cache(maxsize=1)
def sizes() -> list[Ring]:
    """The inch sizes of AS568 and whole-millimetre rings of the common metric sections.

    Returns
    -------
    list of Ring
        Some hundreds of rings; do not change the list, it is shared [-].

    Notes
    -----
    The metric inside diameters, whole millimetres from 3 to 60, are common practice, no source.
    """
    table = tables.read("tables/orings_as568")
    found = [
        Ring(
            f"AS568-{int(dash):03d}",
            units.quantity(float(inside), "mm"),
            units.quantity(float(section), "mm"),
        )
        for dash, inside, section in zip(table["dash"], table["id_mm"], table["cs_mm"], strict=True)
    ]
    return found + [
        Ring(f"{inside} x {section:g} mm", units.quantity(float(inside), "mm"), units.quantity(section, "mm"))
        for section in (1.5, 2.0, 2.5, 3.0, 3.5, 4.0)
        for inside in range(max(3, math.ceil(3 * section)), 61)
    ]


def suited(groove: float, bore: float, taped: float) -> list[Ring]:
    """Rings of the list for a groove's depth that go over its tape [m], or one that does not."""
    found = [part for part in sizes() if 0.5 < 0.5 * (bore - groove) / part.si[1] < 1.05]
    return [part for part in found if taped <= part.si[0] * (1.0 + BREAKS)] or found[-1:]


def groove_faults(
    part: Ring | None, groove: float, bore: float, names: tuple[str, str] = ("ring", "groove")
) -> list[str]:
    """What is wrong with a groove, its tape counted in, and with the ring that must pass over it.

    Parameters
    ----------
    part : Ring or None [-]
        The ring; None asks about the groove alone.
    groove, bore : float [m]
        Diameters.
    names : tuple of str [-]
        What the ring and the groove are called.

    Returns
    -------
    list of str
        One fault, or nothing [-].
    """
    if groove < bore and (part is None or groove <= part.si[0] * (1.0 + BREAKS)):
        return []
    deep, across = (units.show(size, "length", 4) for size in (groove, bore))
    if groove >= bore or part is None:
        why = "diameters mixed up, or too many turns of tape?"
        return [fault(names[1], f"{deep} with its tape", f"below the bore, {across}", why)]
    least, section = units.show(groove / (1.0 + BREAKS), "length", 3), units.show(part.section, "length")
    got = f"{part.name}, which cannot be stretched onto a groove of {deep}"
    usual = units.show(groove / 1.02, "length", 3).split()[0]
    return [fault(names[0], got, f"at least {least} inside", "", f'"{usual} x {section}"')]


def squeeze_limits(section: QuantityLike, moving: bool = True) -> tuple[float, float]:
    """Least and greatest squeeze of a ring of this section, by printed charts.

    Parameters
    ----------
    section : Quantity or str [length]
        The ring's section, 1 to 7 mm.
    moving : bool [-]
        A ring that slides, or one that stays (a plug in a tube's end).

    Returns
    -------
    tuple of float
        Shares of the section [-].

    Raises
    ------
    UnitError
        A section outside the charts.

    Notes
    -----
    Between the rows of the chart the limits are interpolated; a fixed ring takes a chart of housings whose
    depth gives one squeeze, here plus and minus a quarter of it (common practice, no source).

    References
    ----------
    Printed charts of glands, data/tables/orings_gland_moving_inch.csv and orings_gland_metric.csv.
    """
    why = "the printed charts go no further"
    return _limits(units.si_in(section, "length", "ring section", 1e-3, 7e-3, why), moving)


@lru_cache(maxsize=256)
def _limits(d: float, moving: bool) -> tuple[float, float]:
    """The same for a section [m]."""
    if moving:
        chart = tables.read("tables/orings_gland_moving_inch")
        at = 25.4e-3 * chart["cs_in"].to_numpy()
        low, high = (np.interp(d, at, chart[f"squeeze_{end}_pct"].to_numpy()) for end in ("min", "max"))
        return float(low) / 100, float(high) / 100
    chart = tables.read("tables/orings_gland_metric")
    at = 1e-3 * chart["cs_mm"].to_numpy()
    middle = float(np.interp(d, at, 1.0 - chart["t_static_mm"].to_numpy() / chart["cs_mm"].to_numpy()))
    return 0.75 * middle, 1.25 * middle


def thinned(stretch: float, model: str = THINNING[0]) -> float:
    """What is left of the section of a stretched ring.

    Formula: 1/sqrt(1 + X) at constant volume; the fit of ARP 1231 takes nearly twice as much away.

    Parameters
    ----------
    stretch : float [-]
        Share of the inside diameter; a ring that is not stretched keeps its section.
    model : str [-]
        One of `THINNING`.

    Returns
    -------
    float
        Share of the section [-].

    Raises
    ------
    UnitError
        An unknown model.

    References
    ----------
    SAE ARP 1231 as quoted in handbooks: reduction in per cent of a stretch X in per cent, below 3
    -0.005 + 1.19 X - 0.19 X^2 - 0.001 X^3 + 0.008 X^4, beyond 0.56 + 0.59 X - 0.0046 X^2 (from memory).

    Examples
    --------
    >>> round(100 * (1 - thinned(0.020094)), 3)
    0.99
    """
    if model not in THINNING:
        raise units.UnitError(f"thinning: got {units.shown(model)}; must be {' or '.join(THINNING)}")
    if stretch <= 0.0:
        return 1.0
    if model == THINNING[0]:
        return 1.0 / math.sqrt(1.0 + stretch)
    x = 100.0 * min(stretch, 0.25)
    if x < 3.0:
        return 1.0 - max(-0.005 + x * (1.19 + x * (-0.19 + x * (-0.001 + 0.008 * x))), 0.0) / 100.0
    return 1.0 - (0.56 + x * (0.59 - 0.0046 * x)) / 100.0
