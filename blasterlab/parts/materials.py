"""What tubes are made of and what glues them: strength, kind, and what to mind, from the tables.

What it is for: a material or an adhesive by its name.  What it leaves out: what a tube bears
(``checks.strength``).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from blasterlab import tables, units
from blasterlab.units import Quantity


@dataclass(frozen=True)
class Material:
    """A tube's material, as the table has it.

    Attributes
    ----------
    name, kind, note : str [-]
        What it is; tough, brittle or printed; what to mind.
    strength : tuple of Quantity [MPa]
        Least and greatest.
    warm : Quantity [degC]
        Above this it is markedly weaker.
    certainty : str [-]
        ``"published"`` or ``"from memory"``.
    """

    name: str
    kind: str
    note: str
    strength: tuple[Quantity, Quantity]
    warm: Quantity
    certainty: str


@lru_cache(maxsize=1)
def materials() -> dict[str, Material]:
    """The materials of the table by their names; do not change it, it is shared.

    Returns
    -------
    dict of str to Material
        Strengths [MPa] with their certainty.
    """
    table = tables.read("tables/materials")
    return {
        row["material"]: Material(
            row["material"],
            row["kind"],
            row["note"] or "",
            (units.quantity(row["low_MPa"], "MPa"), units.quantity(row["high_MPa"], "MPa")),
            units.quantity(row["warm_C"], "degC"),
            row["certainty"],
        )
        for row in table.fillna("").to_dict("records")
    }


def material(name: str) -> Material:
    """One material by its name or the only one that begins so.

    Parameters
    ----------
    name : str [-]
        Such as ``"acrylic"``.

    Returns
    -------
    Material
        Its row [MPa].

    Raises
    ------
    UnitError
        A name that fits none or several.
    """
    known = materials()
    fits = [key for key in known if key == name] or [key for key in known if key.startswith(str(name))]
    if len(fits) != 1:
        which = "fits several of" if fits else "is none of"
        raise units.UnitError(f"material: got {units.shown(name)}, which {which}: {', '.join(fits or known)}")
    return known[fits[0]]


@dataclass(frozen=True)
class Adhesive:
    """An adhesive, from memory: what it fills and what a good joint bears.

    Attributes
    ----------
    name, note : str [-]
        What it is, and what to mind.
    gap : tuple of Quantity [mm]
        Least and greatest, on each side.
    shear : tuple of Quantity [MPa]
        Least and greatest strength of a good joint.
    """

    name: str
    note: str
    gap: tuple[Quantity, Quantity]
    shear: tuple[Quantity, Quantity]


@lru_cache(maxsize=1)
def adhesives() -> dict[str, Adhesive]:
    """The adhesives of the table by their names, from memory; do not change it, it is shared [mm, MPa]."""
    return {
        row["adhesive"]: Adhesive(
            row["adhesive"],
            row["note"],
            (units.quantity(row["gap_low_mm"], "mm"), units.quantity(row["gap_high_mm"], "mm")),
            (units.quantity(row["shear_low_MPa"], "MPa"), units.quantity(row["shear_high_MPa"], "MPa")),
        )
        for row in tables.read("tables/adhesives").to_dict("records")
    }
