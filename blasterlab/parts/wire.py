"""Spring wire: elastic moduli, density and tensile strength by material and size.

What it is for: give a spring its shear modulus, and the checks their tensile strength, from tables with a
source.  What it leaves out: fatigue data, temperature, and any strength outside the tabulated sizes, which
is refused instead of extrapolated.

References
----------
R. G. Budynas, J. K. Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, Tables 10-4, 10-5.
EN 13906-1:2013, *Cylindrical helical springs made from round wire and bar, Part 1: Compression springs*.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from blasterlab import units

_PSI = 6894.757293168361
_INCH = 0.0254
_SHIGLEY = "Budynas & Nisbett, Shigley's Mechanical Engineering Design, 9th ed., 2011, Table 10-5"


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
        Which strength data belong to it (see `tensile_strength`).
    source : str [-]
        Where the moduli and the density come from.
    """

    name: str
    moduli: tuple[tuple[float, float, float], ...]
    density: float
    strength: str
    source: str

    def shear_modulus(self, wire: float) -> float:
        """Shear modulus G at a wire diameter in m [Pa]."""
        return self._step(wire)[1]

    def youngs_modulus(self, wire: float) -> float:
        """Young's modulus E at a wire diameter in m [Pa]."""
        return self._step(wire)[2]

    def _step(self, wire: float) -> tuple[float, float, float]:
        for step in self.moduli:
            if wire <= step[0] * (1 + 1e-9):
                return step
        raise units.UnitError(
            f"wire_diameter: read {units.show(wire, 'length')}; the moduli of {self.name} are tabulated "
            f"up to {units.show(self.moduli[-1][0], 'length')}"
        )


def _sizes(*rows: tuple[float, float, float]) -> tuple[tuple[float, float, float], ...]:
    """Rows of (inch, Mpsi, Mpsi) in SI."""
    return tuple((size * _INCH, g * 1e6 * _PSI, e * 1e6 * _PSI) for size, g, e in rows)


_ANY = float("inf")
_EN_SOURCE = "EN 13906-1:2013: G 81.5 GPa, E 206 GPa, 7.85 kg/dm3 for patented cold drawn wire to EN 10270-1"
_STEEL = "density 7.85 kg/dm3 as for unalloyed spring wire in EN 13906-1:2013"

#: Every material by the name that the build text uses.
MATERIALS: dict[str, Material] = {
    material.name: material
    for material in (
        Material("EN 10270-1 SM", ((_ANY, 81.5e9, 206e9),), 7850.0, "EN 10270-1 SM", _EN_SOURCE),
        Material("EN 10270-1 SH", ((_ANY, 81.5e9, 206e9),), 7850.0, "EN 10270-1 SH", _EN_SOURCE),
        Material(
            "ASTM A228 music wire",
            _sizes((0.0325, 12.0, 29.5), (0.0635, 11.85, 29.0), (0.1255, 11.75, 28.5), (0.250, 11.6, 28.0)),
            7850.0,
            "ASTM A228",
            f"{_SHIGLEY} (moduli by size); {_STEEL}",
        ),
        Material(
            "ASTM A227 hard drawn",
            _sizes((0.0325, 11.7, 28.8), (0.0635, 11.6, 28.7), (0.1255, 11.5, 28.6), (0.625, 11.4, 28.5)),
            7850.0,
            "ASTM A227",
            f"{_SHIGLEY} (moduli by size); {_STEEL}",
        ),
        Material(
            "stainless 302 / EN 10270-3 1.4310",
            _sizes((_ANY, 10.0, 28.0)),
            7900.0,
            "ASTM A313 302",
            f"{_SHIGLEY} (type 302); density 7.9 kg/dm3 from memory",
        ),
    )
}


def material(name: str, field: str = "spring.material") -> Material:
    """The spring wire of that name, whatever its capitals and spaces.

    Parameters
    ----------
    name : str [-]
        A key of `MATERIALS`.
    field : str [-]
        The dotted name for the message.

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
    plain = {" ".join(known.lower().split()): known for known in MATERIALS}
    wanted = " ".join(str(name).lower().split())
    if wanted in plain:
        return MATERIALS[plain[wanted]]
    near = difflib.get_close_matches(wanted, plain, n=1, cutoff=0.0)
    raise units.UnitError(
        f"{field}: read {str(name)[:64]!r}, which is no wire known here; nearest is {plain[near[0]]!r}. "
        f"Would do: {', '.join(MATERIALS)}"
    )
