"""What a builder may know of seal, rod and tube, beyond what the shot needs; every key may be left out.

What it is for: the section ``[fit]`` of a build text, which the checks of fit, seal and strength read.  What
it leaves out: the checks themselves (``checks``).
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.fields import Field, read_fields
from blasterlab.parts.materials import material
from blasterlab.parts.rings import ring
from blasterlab.units import Quantity

FIELDS = {
    "groove_diameter": Field("length", 1e-3, 0.5, "at the bottom of the seal's groove", optional=True),
    "groove_width": Field("length", 0.2e-3, 0.05, "along the plunger", optional=True),
    "wraps": Field("number", 0, 40, "turns of tape under the ring"),
    "setback": Field("length", 0.0, 0.5, "from the plunger's face to the middle of the seal", optional=True),
    "front_gap": Field(
        "length", 0.0, 0.2, "from the plunger's face at its stop to the tube end", optional=True
    ),
    "over_travel": Field("length", 0.0, 0.1, "how far beyond the catch the plunger is drawn"),
    "rod_diameter": Field("length", 0.5e-3, 0.2, "the rod that the spring runs on", optional=True),
}


@dataclass(frozen=True)
class Fit:
    """Seal, rod and tube material.

    Parameters
    ----------
    ring : str or None [-]
        The plunger's O-ring: ``"AS568-216"`` or inside by section, ``"29 x 3.5 mm"``.
    groove_diameter, groove_width : Quantity or str or None [length]
        The ring's groove: diameter at its bottom, width along the plunger.
    wraps : float [-]
        Turns of thread-seal tape under the ring.
    setback, front_gap : Quantity or str or None [length]
        From the plunger's face to the middle of the seal; from the face at its front stop to the tube's end.
    over_travel : Quantity or str [length]
        How far beyond the catch the plunger is drawn so that it engages.
    rod_diameter : Quantity or str or None [length]
        The rod that the spring runs on.
    tube_material : str or None [-]
        A name of ``data/tables/materials.csv``, or how one begins: ``"acrylic"``.

    Raises
    ------
    UnitError
        Every value that is unreadable or out of range, by dotted name.
    """

    ring: str | None = None
    groove_diameter: Quantity | None = None
    groove_width: Quantity | None = None
    wraps: float = 0.0
    setback: Quantity | None = None
    front_gap: Quantity | None = None
    over_travel: Quantity = "0 mm"  # type: ignore[assignment]  # read as it is made
    rod_diameter: Quantity | None = None
    tube_material: str | None = None

    def __post_init__(self) -> None:
        wrong = []
        for key, read in (("ring", ring), ("tube_material", material)):
            if (given := getattr(self, key)) is None:
                continue
            if not isinstance(given, str):
                wrong.append(fault(f"fit.{key}", shown(given), "text in quotes"))
                continue
            try:
                read(given)
            except units.UnitError as error:
                wrong.append(f"fit.{key}: {str(error).partition(': ')[2]}")
        read_fields(self, "fit", FIELDS, wrong)
