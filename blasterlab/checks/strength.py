"""What the tube, the front stop and a glue line must bear.

What it is for: stress in the plunger tube at a pressure, by Lamé beside the thin-wall value; the pressure
when the barrel is blocked; energy and force at the front stop; shear in a glue line.  What it leaves out:
fatigue, cracks, notches, holes, creep and heat.  The design factor is the kit's own choice, not a code's.

References
----------
E. J. Hearn, *Mechanics of Materials 1*, 3rd ed., 1997, ch. 10 (thick cylinders, Lamé).
E. Fermi, *Thermodynamics*, 1937, sec. 6 (adiabatic compression).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks.finding import Finding
from blasterlab.closed_forms.limits import compression_work
from blasterlab.parts.materials import Material, material
from blasterlab.parts.nest import nested_energy, nested_force
from blasterlab.units import Quantity, QuantityLike

#: What the strength is divided by, by kind of material: the kit's own choice, for the builder to change.
FACTORS = {"tough": 4.0, "brittle": 8.0, "printed": 10.0}


@dataclass(frozen=True)
class TubeStress:
    """Stress in a round tube under pressure.

    Attributes
    ----------
    hoop_inside, hoop_outside : Quantity [MPa]
        Around the tube, at the bore and at the outside.
    radial : Quantity [MPa]
        At the bore, negative: pressed.
    axial : Quantity [MPa]
        Along a tube with closed ends.
    thin_wall : Quantity [MPa]
        The hoop stress that a thin wall would have: pressure x mean radius / wall.
    """

    hoop_inside: Quantity
    hoop_outside: Quantity
    radial: Quantity
    axial: Quantity
    thin_wall: Quantity


def tube_stress(
    bore: QuantityLike, wall: QuantityLike, inside: QuantityLike, outside: QuantityLike = "0 Pa"
) -> TubeStress:
    """Stress in a thick tube between two pressures, both counted from the same zero.

    Formula: hoop = A + B/r^2, radial = A - B/r^2, A = (p_i r_i^2 - p_o r_o^2)/(r_o^2 - r_i^2),
    B = (p_i - p_o) r_i^2 r_o^2/(r_o^2 - r_i^2), axial = A.

    Parameters
    ----------
    bore, wall : Quantity or str [length]
        Inside diameter and wall.
    inside, outside : Quantity or str [pressure]
        Pressures on both sides, above ambient for a tube in the open.

    Returns
    -------
    TubeStress
        Stresses [MPa].

    Raises
    ------
    UnitError
        A wall that is not above zero, or values out of range.

    References
    ----------
    Hearn, *Mechanics of Materials 1*, ch. 10.

    Examples
    --------
    >>> stress = tube_stress("200 mm", "50 mm", "60 MPa", "30 MPa")
    >>> [round(s.m_as("MPa"), 6) for s in (stress.hoop_inside, stress.hoop_outside, stress.axial)]
    [48.0, 18.0, -6.0]
    """
    inner = 0.5 * units.si_in(bore, "length", "bore", 1e-3, 10.0)
    thick = units.si_in(wall, "length", "wall", 1e-5, 5.0, "measure the tube's wall with callipers")
    p_in = units.si_in(inside, "pressure", "inside", 0.0, 1e9)
    p_out = units.si_in(outside, "pressure", "outside", 0.0, 1e9)
    outer = inner + thick
    span = outer**2 - inner**2
    a = (p_in * inner**2 - p_out * outer**2) / span
    b = (p_in - p_out) * inner**2 * outer**2 / span
    stresses = (a + b / inner**2, a + b / outer**2, -p_in, a, (p_in - p_out) * (inner + 0.5 * thick) / thick)
    return TubeStress(*(units.quantity(1e-6 * stress, "MPa") for stress in stresses))


def blocked_pressure(build: Build) -> Quantity:
    """The pressure with the barrel blocked: the plunger stops where the springs' work is in the gas.

    Formula: nested spring energy given up to s = p_a V_0/(g-1) [(V_0/V)^(g-1) - 1] - p_a (V_0 - V).

    Parameters
    ----------
    build : Build [-]
        The build; nothing is lost to friction, leaks or heat, so this is an upper bound.

    Returns
    -------
    Quantity
        Absolute pressure [kPa].

    References
    ----------
    Fermi, *Thermodynamics*, sec. 6: adiabatic transformations of an ideal gas.
    """
    si = build.si
    area = 0.25 * math.pi * si["chamber.bore"] ** 2
    dead = si["chamber.dead_volume"] + si["barrel.dead_volume"]
    stroke, ambient = si["chamber.stroke"], si["air.pressure"]
    first = area * stroke + dead
    start, pressure = units.quantity(first, "m^3"), units.quantity(ambient, "Pa")
    held = nested_energy(build.springs, "0 m", units.quantity(stroke, "m")).m_as("J")

    def surplus(travel: float) -> float:
        """What the springs have given beyond what the gas has taken [J]."""
        left = nested_energy(build.springs, "0 m", units.quantity(stroke - travel, "m")).m_as("J")
        end = units.quantity(first - area * travel, "m^3")
        return float(held - left - compression_work(start, end, pressure).m_as("J"))

    stop = stroke if surplus(stroke) >= 0.0 else brentq(surplus, 1e-3 * stroke, stroke, xtol=1e-9)
    return units.quantity(1e-3 * ambient * (first / (first - area * stop)) ** 1.4, "kPa")


def burst_margin(
    bore: QuantityLike, wall: QuantityLike, excess: QuantityLike, name: str, factor: float | None = None
) -> float:
    """How many times the allowed stress covers the stress at the bore; below 1 is too much.

    Formula: least strength / (factor x hoop stress at the bore).

    Parameters
    ----------
    bore, wall : Quantity or str [length]
        Of the tube.
    excess : Quantity or str [pressure]
        Above ambient.
    name : str [-]
        A material of the table.
    factor : float or None [-]
        Design factor, 1 to 50; None takes the kit's own for this kind of material (`FACTORS`).

    Returns
    -------
    float
        Margin [-].

    Raises
    ------
    UnitError
        A material that is not in the table, or values out of range.
    """
    found = material(name)
    used = FACTORS[found.kind] if factor is None else units.si_in(factor, "number", "factor", 1.0, 50.0)
    hoop = tube_stress(bore, wall, excess).hoop_inside.m_as("MPa")
    return float(found.strength[0].m_as("MPa") / (used * hoop)) if hoop > 0.0 else math.inf


@dataclass(frozen=True)
class StopLoad:
    """The plunger at its front stop, caught by a pad.

    Attributes
    ----------
    energy : Quantity [J]
        What the plunger brings.
    force : Quantity [N]
        Peak, for a pad that presses back in proportion.
    crush : Quantity [mm]
        How far the pad is pressed together.
    bottoms : bool [-]
        Whether that is more than half its thickness: the blow is then harder than `force` says.
    """

    energy: Quantity
    force: Quantity
    crush: Quantity
    bottoms: bool


def stop_load(energy: QuantityLike, thickness: QuantityLike, stiffness: QuantityLike) -> StopLoad:
    """Force and crush as a pad takes up the plunger's energy.

    Formula: crush x = sqrt(2 E / k), force = k x.

    Parameters
    ----------
    energy : Quantity or str [energy]
        Of the plunger as it arrives.
    thickness : Quantity or str [length]
        Of the pad.
    stiffness : Quantity or str [pad rate]
        Force per crush: put 20 kg on the pad and measure its crush.

    Returns
    -------
    StopLoad
        Force [N] and crush [mm].

    Raises
    ------
    UnitError
        Values out of range.

    Notes
    -----
    A linear pad that gives nothing back; foam and rubber stiffen, so the force is a lower bound.  That a pad
    bottoms beyond half its thickness is common practice, no source.
    """
    joules = units.si_in(energy, "energy", "energy", 0.0, 1e4)
    thick = units.si_in(thickness, "length", "thickness", 1e-4, 0.2)
    k = units.si_in(stiffness, "pad rate", "stiffness", 1.0, 1e9)
    x = math.sqrt(2.0 * joules / k)
    return StopLoad(
        units.quantity(joules, "J"),
        units.quantity(k * x, "N"),
        units.quantity(1e3 * x, "mm"),
        x > 0.5 * thick,
    )


def glue_shear(force: QuantityLike, diameter: QuantityLike, length: QuantityLike) -> Quantity:
    """Mean shear in a glued overlap of round parts: force / (pi d l).

    Parameters
    ----------
    force : Quantity or str [force]
        Along the tube.
    diameter, length : Quantity or str [length]
        Of the glued ring.

    Returns
    -------
    Quantity
        Mean shear stress [MPa]; the ends of an overlap bear several times as much.

    Raises
    ------
    UnitError
        Values out of range.
    """
    newtons = units.si_in(force, "force", "force", 0.0, 1e6)
    round_ = units.si_in(diameter, "length", "diameter", 1e-3, 1.0)
    along = units.si_in(length, "length", "length", 1e-4, 1.0)
    return units.quantity(1e-6 * newtons / (math.pi * round_ * along), "MPa")


@dataclass(frozen=True)
class CatchLoad:
    """What the catch holds while the blaster is primed.

    Attributes
    ----------
    force : Quantity [N]
        Of the springs at the catch.
    shear : Quantity [MPa]
        That force over the area that would shear off.
    strength : tuple of Quantity [MPa]
        Least and greatest strength of its material in shear.
    allowed : Quantity [MPa]
        The least strength over the kit's design factor for this kind of material.
    material : Material [-]
        Of the catch.
    """

    force: Quantity
    shear: Quantity
    strength: tuple[Quantity, Quantity]
    allowed: Quantity
    material: Material


def catch_load(build: Build) -> CatchLoad | None:
    """The shear in the catch, the blaster primed; None where its area or its material is not told.

    Formula: springs' force at the catch / area; strength in shear = tensile strength / sqrt(3).

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    CatchLoad or None
        Shear and strength [MPa].

    Notes
    -----
    At rest: a plunger that slips back onto its catch loads it about twice as much.

    References
    ----------
    Budynas & Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, sec. 5-5 (distortion energy).
    """
    if build.fit.catch_area is None or build.fit.catch_material is None:
        return None
    found, force = material(build.fit.catch_material), nested_force(build.springs, build.chamber.stroke)
    low, high = (end / math.sqrt(3.0) for end in found.strength)
    shear = units.quantity(1e-6 * force.m_as("N") / build.fit.catch_area.m_as("m^2"), "MPa")
    return CatchLoad(force, shear, (low, high), low / FACTORS[found.kind], found)


READS = (
    "air.pressure", "barrel.dead_volume", "chamber.bore", "chamber.dead_volume", "chamber.stroke",
    "chamber.wall", "fit.catch_area", "fit.catch_material", "fit.design_factor",
    "fit.pad_stiffness", "fit.pad_thickness", "fit.tube_material", "springs",
)  # fmt: skip


def check_strength(build: Build) -> list[Finding]:
    """Findings on the tube, the barrel blocked, and on the pad at the front stop, where the build tells them.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        On the tube's margin, on a material that breaks without warning, on the pad, on the catch.
    """
    return [*_tube(build), *_pad(build), *_catch(build)]


def tube_factor(build: Build, found: Material) -> float:
    """What the strength of a build's tube is divided by: what the builder chose, else the kit's own [-]."""
    own = build.fit.design_factor
    return FACTORS[found.kind] if own is None else own


def above_outside(build: Build, pressure: Quantity) -> Quantity:
    """By how much an absolute pressure is above that of the air outside, never below zero [Pa]."""
    return units.quantity(max(pressure.m_as("Pa") - build.si["air.pressure"], 0.0), "Pa")


def empty_energy(build: Build) -> Quantity:
    """What the springs give over the stroke: the most that the front stop must take, fired empty [J]."""
    return nested_energy(build.springs, "0 m", build.chamber.stroke)


def _pad(build: Build) -> list[Finding]:
    fit = build.fit
    if fit.pad_thickness is None or fit.pad_stiffness is None:
        return []
    blow = stop_load(empty_energy(build), fit.pad_thickness, fit.pad_stiffness)
    text = (
        f"Fired empty, up to {units.show(blow.energy, 'energy', 2)} reach the front stop: the pad of "
        f"{units.show(fit.pad_thickness, 'length', 2)} is crushed by {units.show(blow.crush, 'length', 2)} "
        f"with {units.show(blow.force, 'force', 2)}"
    )
    end = (
        "; more than half of it, so it bottoms and the blow is harder: use a thicker pad."
        if blow.bottoms
        else "."
    )
    grave, half = "caution" if blow.bottoms else "info", 0.5 * fit.pad_thickness
    return [Finding(grave, "fit", text + end, blow.crush, half, "common practice, no source")]


def _catch(build: Build) -> list[Finding]:
    found = catch_load(build)
    if found is None:
        return []
    holds, bears, may, least = (
        units.show(found.force, "force", 3),
        *(units.show(stress, "stress", 2) for stress in (found.shear, found.allowed, found.strength[0])),
    )
    text = (
        f"The catch holds {holds} with {bears} of shear, where {may} is allowed ({least} in "
        f"{found.material.name} over a design factor of {FACTORS[found.material.kind]:g}, the kit's choice)"
    )
    grave = (
        "info" if found.shear <= found.allowed else "warning" if found.shear < found.strength[0] else "danger"
    )
    end = "." if grave == "info" else "; use a larger catch or a tougher material."
    source = f"force over area; strength {found.material.certainty}, data/tables/materials.csv"
    return [Finding(grave, "fit", text + end, found.shear, found.allowed, source)]


def _tube(build: Build) -> list[Finding]:
    if build.fit.tube_material is None:
        return []
    found = material(build.fit.tube_material)
    excess, factor = above_outside(build, blocked_pressure(build)), tube_factor(build, found)
    whose = "the kit" if build.fit.design_factor is None else "the builder"
    margin = burst_margin(build.chamber.bore, build.chamber.wall, excess, found.name, factor)
    hoop = tube_stress(build.chamber.bore, build.chamber.wall, excess).hoop_inside
    allowed = found.strength[0] / factor
    rise, bears, may = (
        units.show(excess, "pressure", 3), units.show(hoop, "stress", 2), units.show(allowed, "stress", 2)
    )  # fmt: skip
    text = (
        f"With the barrel blocked the tube would see {rise} above the outside: {bears} in "
        f"{units.show(build.chamber.wall, 'length', 2)} of {found.name}, where {may} is allowed (strength "
        f"over a design factor of {factor:g}, {whose}'s own choice)"
    )
    grave = "info" if margin >= 1.0 else "danger" if margin < 1.0 / factor else "warning"
    end = "." if margin >= 1.0 else "; use a thicker wall, a tougher material or less spring."
    source = f"Lamé; strength {found.certainty}, data/tables/materials.csv"
    lines = [Finding(grave, "chamber", text + end, hoop, allowed, source)]
    if found.kind != "tough":
        note = (
            f"{found.name[:1].upper()}{found.name[1:]} breaks without warning; "
            f"{found.note or 'a crack runs at once'}. "
            "Sleeve the tube, look at it before each use, and wear eye protection."
        )
        lines.append(Finding("caution", "chamber", note, None, None, "common practice, no source"))
    return lines
