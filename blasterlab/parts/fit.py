"""What a builder may know of seal, rod and tube, beyond what the shot needs; every key may be left out.

What it is for: the section ``[fit]`` of a build text, which the checks of fit, seal and strength read.  What
it leaves out: the checks themselves (``checks``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.fields import Field, read_fields
from blasterlab.parts.materials import material
from blasterlab.parts.rings import ring
from blasterlab.parts.spring import Spring
from blasterlab.units import Quantity

FIELDS = {
    "groove_diameter": Field("length", 1e-3, 0.5, "at the bottom of the seal's groove", optional=True),
    "groove_width": Field("length", 0.2e-3, 0.05, "along the plunger", optional=True),
    "wraps": Field("number", 0, 40, "turns of tape under the ring"),
    "end_groove_diameter": Field("length", 1e-3, 0.5, "of the plug in the tube's end", optional=True),
    "end_groove_width": Field("length", 0.2e-3, 0.05, "of the plug in the tube's end", optional=True),
    "end_wraps": Field("number", 0, 40, "turns of tape under the plug's ring"),
    "setback": Field("length", 0.0, 0.5, "from the plunger's face to the middle of the seal", optional=True),
    "front_gap": Field(
        "length", 0.0, 0.2, "from the plunger's face at its stop to the tube end", optional=True
    ),
    "over_travel": Field("length", 0.0, 0.1, "how far beyond the catch the plunger is drawn"),
    "rod_diameter": Field("length", 0.5e-3, 0.2, "the rod that the spring runs on", optional=True),
    "pad_thickness": Field("length", 1e-4, 0.2, "of the pad at the front stop", optional=True),
    "pad_stiffness": Field("spring rate", 1.0, 1e9, "weigh the pad down and measure", optional=True),
    "design_factor": Field("number", 1.0, 50.0, "what the tube's strength is divided by", optional=True),
    "diameter_tolerance": Field("length", 0.0, 5e-3, "half width, of bore and groove"),
    "length_tolerance": Field("length", 0.0, 0.02, "half width, of tube, stroke and setback"),
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
    end_ring, end_groove_diameter, end_groove_width, end_wraps : see above [-]
        The same for the ring of the plug in the tube's end, which does not slide.
    setback, front_gap : Quantity or str or None [length]
        From the plunger's face to the middle of the seal; from the face at its front stop to the tube's end.
    over_travel : Quantity or str [length]
        How far beyond the catch the plunger is drawn so that it engages.
    rod_diameter : Quantity or str or None [length]
        The rod that the spring runs on.
    tube_material : str or None [-]
        A name of ``data/tables/materials.csv``, or how one begins: ``"acrylic"``.
    design_factor : float or None [-]
        What the tube's strength is divided by; None takes the kit's own for the kind of material.
    pad_thickness : Quantity or str or None [length]
        Of the pad at the front stop.
    pad_stiffness : Quantity or str or None [spring rate]
        Force per crush of that pad.
    diameter_tolerance, length_tolerance : Quantity or str [length]
        Half widths: of bore and groove; of tube, stroke and setback.

    Raises
    ------
    UnitError
        Every value that is unreadable or out of range, by dotted name.
    """

    ring: str | None = None
    groove_diameter: Quantity | None = None
    groove_width: Quantity | None = None
    wraps: float = 0.0
    end_ring: str | None = None
    end_groove_diameter: Quantity | None = None
    end_groove_width: Quantity | None = None
    end_wraps: float = 0.0
    setback: Quantity | None = None
    front_gap: Quantity | None = None
    over_travel: Quantity = "0 mm"  # type: ignore[assignment]  # read as it is made
    rod_diameter: Quantity | None = None
    tube_material: str | None = None
    design_factor: float | None = None
    pad_thickness: Quantity | None = None
    pad_stiffness: Quantity | None = None
    diameter_tolerance: Quantity = "0 mm"  # type: ignore[assignment]
    length_tolerance: Quantity = "0 mm"  # type: ignore[assignment]

    def __post_init__(self) -> None:
        wrong = []
        for key, read in (("ring", ring), ("end_ring", ring), ("tube_material", material)):
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


def rod_faults(fit: Fit, springs: Iterable[Spring]) -> list[str]:
    """What is wrong with a rod that does not pass through a spring; nothing for one that does."""
    if fit.rod_diameter is None:
        return []
    rod, found = units.si(fit.rod_diameter, "length"), []
    for spring in springs:
        inside = spring.si_mean_diameter - spring.si_wire
        if rod >= inside:
            least, play = units.show(inside, "length", 3), units.show(0.95 * inside, "length", 3)
            must = f"below {least}, the inside diameter of {spring.name}"
            found.append(fault("fit.rod_diameter", units.show(rod, "length", 3), must, "", f'"{play}"'))
    return found
