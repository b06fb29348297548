"""What a builder may know of seal, rod and tube, beyond what the shot needs; every key may be left out.

What it is for: the section ``[fit]`` of a build text, which the checks of fit, seal and strength read.  What
it leaves out: the checks themselves (``checks``).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.fields import Field, floats, read_fields
from blasterlab.parts.chamber import Chamber
from blasterlab.parts.materials import material
from blasterlab.parts.rings import TAPE, groove_faults, ring
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
    "catch_area": Field("area", 1e-7, 1e-2, "of the catch that would shear off", optional=True),
    "pad_thickness": Field("length", 1e-4, 0.2, "of the pad at the front stop", optional=True),
    "pad_stiffness": Field("pad rate", 1.0, 1e9, "put 20 kg on the pad and measure its crush", optional=True),
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
    catch_area : Quantity or str or None [area]
        Of the catch that would shear off: its width by its thickness.
    catch_material : str or None [-]
        Of the catch, as for the tube.
    design_factor : float or None [-]
        What the tube's strength is divided by; None takes the kit's own for the kind of material.
    pad_thickness : Quantity or str or None [length]
        Of the pad at the front stop.
    pad_stiffness : Quantity or str or None [pad rate]
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
    catch_area: Quantity | None = None
    catch_material: str | None = None
    design_factor: float | None = None
    pad_thickness: Quantity | None = None
    pad_stiffness: Quantity | None = None
    diameter_tolerance: Quantity = "0 mm"  # type: ignore[assignment]
    length_tolerance: Quantity = "0 mm"  # type: ignore[assignment]

    def __post_init__(self) -> None:
        wrong = []
        for key, read in (("ring", ring), ("end_ring", ring), ("tube_material", material),
                          ("catch_material", material)):  # fmt: skip
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


#: A half width is at most this share of its dimension: common practice, no source.
MOST_TOLERANCE = 0.25


def fit_faults(fit: Fit, springs: Iterable[Spring], chamber: Chamber) -> list[str]:
    """What cannot be: a ring over its groove, so large a tolerance, a rod through its spring; a text each."""
    found, told, tube = [], floats(fit), floats(chamber)
    for start in ("", "end_"):
        size, groove = getattr(fit, f"{start}ring"), told.get(f"{start}groove_diameter")
        if groove is not None:
            deep = groove + 2.0 * told[f"{start}wraps"] * units.si(TAPE, "length")
            names = (f"fit.{start}ring", f"fit.{start}groove_diameter")
            found += groove_faults(None if size is None else ring(size), deep, tube["bore"], names)
    sizes = {f"chamber.{key}": size for key, size in tube.items()}
    sizes |= {f"fit.{key}": size for key, size in told.items()}
    for name, others in {
        "fit.diameter_tolerance": ("chamber.bore", "fit.groove_diameter", "fit.end_groove_diameter"),
        "fit.length_tolerance": ("chamber.tube_length", "chamber.stroke", "fit.setback"),
    }.items():
        other, half = min((key for key in others if key in sizes), key=sizes.__getitem__), sizes[name]
        if half > MOST_TOLERANCE * sizes[other]:
            most, size = (units.show(part * sizes[other], "length", 3) for part in (MOST_TOLERANCE, 1.0))
            must = f"at most {most}, a quarter of the {size} of {other}"
            why = "a half width, well below the dimension itself"
            found.append(fault(name, units.show(half, "length", 3), must, why, f'"{most}"'))
    rod = told.get("rod_diameter")
    if rod is None:
        return found
    for spring in springs:
        inside = spring.inside_diameter.m
        if rod >= inside:
            least, play = units.show(inside, "length", 3), units.show(0.95 * inside, "length", 3)
            must = f"below {least}, the inside diameter of {spring.name}"
            found.append(fault("fit.rod_diameter", units.show(rod, "length", 3), must, "", f'"{play}"'))
    return found
