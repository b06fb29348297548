"""Will the spring survive: stress at the catch and at solid, gaps, buckling and growth, as numbers.

What it is for: the numbers on one spring at the length it has at the catch, beside the limits of the
standards; ``checks.spring_findings`` puts them into words.  What it leaves out: fatigue (a spring is looked
at as quasi-static, under 10^4 shots: from memory), relaxation with time and heat, and corrosion.  Nothing
here is approval by an engineer.

References
----------
EN 13906-1:2013, *Cylindrical helical springs made from round wire and bar, Part 1: Compression springs*.
EN 15800:2008, *Quality specifications for cold coiled compression springs*.
R. G. Budynas, J. K. Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, ch. 10, Table 10-6.
"""

from __future__ import annotations

import math
from contextlib import suppress
from dataclasses import dataclass

from blasterlab import units
from blasterlab.parts import coil
from blasterlab.parts.prime import refuse_solid
from blasterlab.parts.spring import Spring
from blasterlab.parts.wire import Strength, tensile_strength
from blasterlab.units import Quantity, QuantityLike

#: EN 13906-1: static limit of the uncorrected stress at solid, part of the tensile strength.
SOLID_SHARE = 0.56


@dataclass(frozen=True)
class SpringLimits:
    """A spring at one length, beside its limits.

    Attributes
    ----------
    length, travel_to_solid : Quantity [m]
        The length looked at, and how far it is from solid.
    strength : Strength or None [Pa]
        Least tensile strength of the wire; None when no table covers it.
    stress, corrected_stress, solid_stress : Quantity [Pa]
        Shear stress at the length without and with the curvature factor, and at solid without it.
    solid_allowable, yield_allowable : Quantity or None [Pa]
        0.56 of the strength (EN, uncorrected), the wire's yield share of it (Shigley, corrected).
    minimum_gaps : Quantity [m]
        Least room between the coils that EN asks for.
    buckling_compression : Quantity or None [m]
        Where an unguided spring bows out; None when it never does.
    solid_length_upper : Quantity [m]
        EN's largest solid length.
    grown_diameter : Quantity [m]
        Outer diameter at solid, ends not turning.
    """

    length: Quantity
    travel_to_solid: Quantity
    strength: Strength | None
    stress: Quantity
    corrected_stress: Quantity
    solid_stress: Quantity
    solid_allowable: Quantity | None
    yield_allowable: Quantity | None
    minimum_gaps: Quantity
    buckling_compression: Quantity | None
    solid_length_upper: Quantity
    grown_diameter: Quantity

    @property
    def use_at_length(self) -> float | None:
        """Stress over the static limit of EN 13906-1 [-]."""
        return _use(self.stress, self.solid_allowable)

    @property
    def use_at_solid(self) -> float | None:
        """The same pressed solid [-]."""
        return _use(self.solid_stress, self.solid_allowable)

    @property
    def use_of_yield(self) -> float | None:
        """Corrected stress over Shigley's yield before presetting [-]."""
        return _use(self.corrected_stress, self.yield_allowable)


def _use(stress: Quantity, allowed: Quantity | None) -> float | None:
    return None if allowed is None else float(stress / allowed)


def limits(spring: Spring, length: QuantityLike, seating: float = 0.5) -> SpringLimits:
    """Stress, gaps, buckling and growth of a spring at a length.

    Parameters
    ----------
    spring : Spring [-]
        The spring.
    length : Quantity or str [length]
        Usually its length at the catch; not below solid.
    seating : float [-]
        Seating coefficient, 0.5 to 2: 0.5 both ends flat and held, 1 both pivoted, 2 one end free.

    Returns
    -------
    SpringLimits
        Values and limits.

    Raises
    ------
    UnitError
        A length below solid, or a seating coefficient out of range.

    References
    ----------
    EN 13906-1:2013 (0.56 R_m at solid, sum of minimum gaps, buckling); Shigley, Table 10-6 (0.45 S_ut).

    Examples
    --------
    >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, material="EN 10270-1 SM")
    >>> round(limits(spring, "70 mm").use_at_length, 3)
    0.672
    """
    nu = units.si_in(seating, "number", "seating", 0.5, 2.0, "0.5 both ends held flat, 2 one end free")
    d, mean, values = spring.si_wire, spring.si_mean_diameter, spring.si_values()
    at = units.si(length, "length", "length")
    strength = None
    with suppress(units.UnitError):  # tabulated for no such wire
        strength = tensile_strength(spring.material, spring.wire_diameter)

    def part(share: float) -> Quantity | None:
        return units.quantity(share * strength.value, "Pa") if strength else None

    wire = spring.wire
    buckles = float(
        coil.buckling_deflection(values.free_length, mean, wire.shear_modulus(d), wire.youngs_modulus(d), nu)
    )
    return SpringLimits(
        units.quantity(at, "m"),
        units.quantity(at - values.solid_length, "m"),
        strength,
        spring.shear_stress(length, corrected=False),
        spring.shear_stress(length),
        spring.shear_stress(spring.solid_length, corrected=False),
        part(SOLID_SHARE),
        part(wire.yield_share),
        units.quantity(coil.minimum_gaps(d, mean, spring.active_coils), "m"),
        units.quantity(buckles, "m") if math.isfinite(buckles) else None,
        units.quantity(coil.solid_length_upper(d, spring.total_coils, spring.ends), "m"),
        spring.grown_diameter,
    )


@dataclass(frozen=True)
class ForceLine:
    """A spring's force against its length with the places that matter, as SI floats for a picture.

    Attributes
    ----------
    free, front, catch, solid : float [m]
        Length unloaded, with the plunger at its front stop, at the catch, and with all coils touching.
    front_force, catch_force, solid_force : float [N]
        Force there.
    set_length, set_force : float or None [m, N]
        Where a spring that was not preset begins to yield (Shigley); None when it is solid before.
    limit_length, limit_force : float or None [m, N]
        Where the static limit is reached (EN 13906-1); None when it is solid before.
    energy : float [J]
        Area under the line between front stop and catch.
    """

    free: float
    front: float
    catch: float
    solid: float
    front_force: float
    catch_force: float
    solid_force: float
    set_length: float | None
    set_force: float | None
    limit_length: float | None
    limit_force: float | None
    energy: float


def force_line(spring: Spring, stroke: QuantityLike) -> ForceLine:
    """The force-length line of a spring in a plunger's stroke.

    Parameters
    ----------
    spring : Spring [-]
        The spring.
    stroke : Quantity or str [length]
        Plunger travel.

    Returns
    -------
    ForceLine
        Lengths, forces, the places where the wire yields, and the energy [SI].

    Raises
    ------
    UnitError
        A spring that is solid before the catch.

    Examples
    --------
    >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm", measured_rate="400 N/m")
    >>> round(force_line(spring, "80 mm").catch_force, 9)
    44.0
    """
    travel = units.si_in(stroke, "length", "stroke", 1e-4, 2.0, "plunger travel")
    v = spring.si_values()
    front = v.free_length - max(v.preload - v.gap, 0.0)
    squeezed = max(v.preload + travel - v.gap, 0.0)
    refuse_solid(spring, travel, squeezed)
    catch = v.free_length - squeezed
    state = limits(spring, units.quantity(catch, "m"))

    def reached(allowed: Quantity | None, factor: float) -> tuple[float | None, float | None]:
        if allowed is None:
            return None, None
        per_newton = factor * coil.shear_stress(1.0, spring.si_wire, spring.si_mean_diameter)
        force = allowed.m_as("Pa") / per_newton
        length = v.free_length - force / v.rate
        return (length, force) if length > v.solid_length else (None, None)

    return ForceLine(
        v.free_length,
        front,
        catch,
        v.solid_length,
        v.rate * (v.free_length - front),
        v.rate * (v.free_length - catch),
        v.rate * (v.free_length - v.solid_length),
        *reached(state.yield_allowable, float(coil.bergstraesser(spring.index))),
        *reached(state.solid_allowable, 1.0),
        0.5 * v.rate * ((v.free_length - catch) ** 2 - (v.free_length - front) ** 2),
    )
