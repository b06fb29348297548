"""Spring wire: elastic moduli, density, tensile strength and tolerances by material and size.

What it is for: give a spring its shear modulus, and the checks their tensile strength, from tables with a
source.  What it leaves out: fatigue data, temperature, and anything outside the tabulated sizes, which is
refused instead of extrapolated.

References
----------
R. G. Budynas, J. K. Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, Tables 10-4, 10-5.
EN 13906-1:2013, *Cylindrical helical springs made from round wire and bar, Part 1: Compression springs*.
"""

from __future__ import annotations

import difflib
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

from blasterlab import tables, units
from blasterlab.faults import fault, shown
from blasterlab.units import Quantity, QuantityLike

_PSI = 6894.757293168361
_INCH = 0.0254
_TABLE = "tables/wire_materials.toml"


@dataclass(frozen=True)
class Material:
    """A spring wire.

    Attributes
    ----------
    name : str [-]
        As written in the build text.
    moduli : tuple of (float, float, float) [m, Pa, Pa]
        Largest wire diameter, shear modulus and Young's modulus, by rising diameter.
    density : float [kg/m^3]
        Mass per volume.
    strength : str [-]
        Which strength table belongs to it (see `tensile_strength`).
    source : str [-]
        Where the moduli and the density come from.
    yield_share : float [-]
        Torsional yield before presetting, part of the tensile strength, corrected stress.
    """

    name: str
    moduli: tuple[tuple[float, float, float], ...]
    density: float
    strength: str
    source: str
    yield_share: float = 0.45

    def shear_modulus(self, wire: float) -> float:
        """Shear modulus G at a wire diameter.

        Parameters
        ----------
        wire : float [m]
            Wire diameter, an SI float.

        Returns
        -------
        float
            G [Pa].

        Raises
        ------
        UnitError
            A wire thicker than the table of moduli.
        """
        return self._step(wire)[1]

    def youngs_modulus(self, wire: float) -> float:
        """Young's modulus E at a wire diameter.

        Parameters
        ----------
        wire : float [m]
            Wire diameter, an SI float.

        Returns
        -------
        float
            E [Pa].

        Raises
        ------
        UnitError
            A wire thicker than the table of moduli.
        """
        return self._step(wire)[2]

    def _step(self, wire: float) -> tuple[float, float, float]:
        for step in self.moduli:
            if wire <= step[0] * (1 + 1e-9):
                return step
        most = f"at most {units.show(self.moduli[-1][0], 'length')}"
        why = f"the moduli of {self.name} are tabulated up to there"
        raise units.UnitError(fault("wire_diameter", units.show(wire, "length"), most, why))


def _read(name: str, row: dict[str, Any]) -> Material:
    printed = row.pop("inch_Mpsi", [])
    moduli = row.pop("moduli", [(size * _INCH, g * 1e6 * _PSI, e * 1e6 * _PSI) for size, g, e in printed])
    return Material(name, tuple(map(tuple, moduli)), **row)


#: Every material by the name that the build text uses.
MATERIALS = {
    name: _read(name, row)
    for name, row in tomllib.loads((tables.data_folder() / _TABLE).read_text(encoding="utf-8")).items()
}


def material(name: object) -> Material:
    """The spring wire of that name, whatever its capitals and spaces.

    Parameters
    ----------
    name : str [-]
        A key of `MATERIALS`.

    Returns
    -------
    Material
        Moduli, density and the strength data's name.

    Raises
    ------
    UnitError
        An unknown material; the message names the nearest known one.

    Examples
    --------
    >>> material("en 10270-1 sh").density
    7850.0
    """
    if isinstance(name, str) and name in MATERIALS:
        return MATERIALS[name]
    plain = {" ".join(known.lower().split()): known for known in MATERIALS}
    wanted = " ".join(name[:200].lower().split()) if isinstance(name, str) else shown(name)
    if wanted in plain:
        return MATERIALS[plain[wanted]]
    (near,) = difflib.get_close_matches(wanted, plain, n=1, cutoff=0.0)
    known = ", ".join(f'"{each}"' for each in MATERIALS)
    raise units.UnitError(fault("material", shown(name), f"one of {known}", example=f'"{plain[near]}"'))


class Strength(NamedTuple):
    """A minimum tensile strength [Pa] and how far it can be trusted.

    value : float [Pa], rule : how it was read between the rows, source : the table's first line,
    certain : False when the row is from memory or inferred.
    """

    value: float
    rule: str
    source: str
    certain: bool


_NEXT = "row of the next larger diameter"
_LINEAR = "linear between the two nearest diameters"
_POWER = "power law A/d^m, which reads 1 to 3 % high where it can be compared (music wire)"
#: strength data -> table, diameter column, strength column, mark column, rule
_TABLES = {
    "EN 10270-1 SM": ("tables/wire_en10270_strength", "d_mm", "SM_min_MPa", "SM_mark", _NEXT),
    "EN 10270-1 SH": ("tables/wire_en10270_strength", "d_mm", "SH_min_MPa", "SH_mark", _NEXT),
    "ASTM A228": ("tables/wire_a228_min_strength", "d_mm", "min_MPa", "", _LINEAR),
    "EN 10270-3 1.4310": ("tables/wire_14310_strength", "up_to_mm", "min_MPa", "", _NEXT),
}
_FIT = "tables/wire_tensile_fit"


@lru_cache(maxsize=len(_TABLES))
def _columns(strength: str) -> tuple[Any, Any, list[str]]:
    """Diameters [m], least strengths [Pa] and marks of a table."""
    table, diameters, strengths, mark, _ = _TABLES[strength]
    frame = tables.read(table)
    marks = [str(word) for word in frame[mark]] if mark else []
    return frame[diameters].to_numpy(float) * 1e-3, frame[strengths].to_numpy(float) * 1e6, marks


def tensile_strength(name: str, wire_diameter: QuantityLike) -> Strength:
    """The least tensile strength of a wire, from the table of its material.

    Parameters
    ----------
    name : str [-]
        A key of `MATERIALS`.
    wire_diameter : Quantity or str [length]
        Within the table.

    Returns
    -------
    Strength
        Value, rule between rows, source, and whether it is certain [Pa].

    Raises
    ------
    UnitError
        A diameter outside the material's table.

    Notes
    -----
    EN tables give bands, so a wire between two rows takes the next larger diameter's row; the ASTM A228
    table is read by linear interpolation.  Wires without a table here have the power law of Shigley's
    Table 10-4, which overstates the A228 minimum by 1 to 3 %.  Heat treatment after coiling is left out.

    Examples
    --------
    >>> tensile_strength("EN 10270-1 SM", "1.35 mm").value / 1e6
    1870.0
    """
    wire = units.si(wire_diameter, "length", "wire_diameter")
    known = material(name)
    if known.strength not in _TABLES:
        return _power_law(known, wire)
    table, diameters, _, _, rule = _TABLES[known.strength]
    sizes, values, marks = _columns(known.strength)
    slack = 1e-9 * wire
    _within(known, wire, 0.0 if diameters == "up_to_mm" else float(sizes[0]), float(sizes[-1]))
    row = min(int(sizes.searchsorted(wire - slack)), len(sizes) - 1)
    value = float(values[row])
    if rule == _LINEAR and row > 0 and wire < sizes[row] - slack:
        part = (wire - sizes[row - 1]) / (sizes[row] - sizes[row - 1])
        value = float(values[row - 1] + part * (values[row] - values[row - 1]))
    certain = not marks or marks[row] == "published"
    doubt = {"memory": "from memory", "inferred": "inferred from the published rows"}
    origin = tables.source(table)
    if not certain:
        origin = f"{known.name} strength: {doubt[marks[row]]}, see {table}.csv"
    return Strength(value, rule, origin, certain)


def _power_law(known: Material, wire: float) -> Strength:
    rows = {row[0]: row[1:] for row in tables.read(_FIT).to_numpy().tolist()}
    low, high, m, a = rows[known.strength]
    _within(known, wire, low * 1e-3, high * 1e-3)
    return Strength(a * 1e6 / (wire * 1e3) ** m, _POWER, tables.source(_FIT), True)


def _within(known: Material, wire: float, low: float, high: float) -> None:
    if not low - 1e-9 * wire <= wire <= high * (1 + 1e-9):
        span = f"{units.show(low, 'length')} to {units.show(high, 'length')}"
        why = f"the strength of {known.name} is tabulated there and not extrapolated"
        raise units.UnitError(fault("wire_diameter", units.show(wire, "length"), span, why))


def wire_tolerance(wire_diameter: QuantityLike) -> Quantity:
    """The permissible deviation of a spring wire's diameter, plus or minus.

    Parameters
    ----------
    wire_diameter : Quantity or str [length]
        0.28 mm to 4 mm.

    Returns
    -------
    Quantity
        Half width [m].

    Raises
    ------
    UnitError
        A diameter outside the table.

    References
    ----------
    EN 10270-1, tolerances of the nominal diameter (data/tables/wire_tolerance.csv).

    Examples
    --------
    >>> round(wire_tolerance("1.3 mm").m_as("mm"), 9)
    0.02
    """
    row = _band("tables/wire_tolerance", "from_mm", "to_mm", wire_diameter, "wire_diameter")
    return units.quantity(float(row["plus_minus_mm"]) * 1e-3, "m")


def _band(table: str, low: str, high: str, size: QuantityLike, name: str) -> Any:
    """The row of a tolerance table that holds a size, its upper end included."""
    frame = tables.read(table)
    ends = frame[high].to_numpy(float) * 1e-3
    reach = (float(frame[low].iloc[0]) * 1e-3, float(ends[-1]))
    value = units.si_in(size, "length", name, *reach, "the tolerance table's range")
    return frame.iloc[int(ends.searchsorted(value * (1 - 1e-9)))]


def coil_tolerance(mean_diameter: QuantityLike, index: float) -> Quantity:
    """The permissible deviation of a cold coiled spring's diameter, grade 2, plus or minus.

    Parameters
    ----------
    mean_diameter : Quantity or str [length]
        2.5 mm to 31.5 mm.
    index : float [-]
        Mean diameter over wire diameter, 4 to 20.

    Returns
    -------
    Quantity
        Half width [m].

    Raises
    ------
    UnitError
        A diameter or an index outside the table.

    References
    ----------
    EN 15800:2008 (DIN 2095), grade 2 (data/tables/spring_diameter_tolerance.csv).

    Examples
    --------
    >>> round(coil_tolerance("14.7 mm", 11.3).m_as("mm"), 9)
    0.35
    """
    row = _band("tables/spring_diameter_tolerance", "over_D_mm", "to_D_mm", mean_diameter, "mean_diameter")
    ratio = units.si_in(index, "number", "index", 4.0, 20.0, "EN 15800 covers no other index")
    column = "w_4_to_8" if ratio <= 8 else "w_8_to_14" if ratio <= 14 else "w_14_to_20"
    return units.quantity(float(row[column]) * 1e-3, "m")
