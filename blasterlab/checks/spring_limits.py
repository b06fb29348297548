"""Will the spring survive: stress at the catch and at solid, gaps, buckling, room, scope of the standards.

What it is for: the numbers (`limits`) and the findings (`findings`) on one spring at the length it has
at the catch.  What it leaves out: fatigue (a spring is looked at as quasi-static, under 10^4
shots), relaxation with time and heat, and corrosion.  Nothing here is approval by an engineer.

References
----------
EN 13906-1:2013, *Cylindrical helical springs made from round wire and bar, Part 1: Compression springs*.
EN 15800:2008, *Quality specifications for cold coiled compression springs*.
R. G. Budynas, J. K. Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, ch. 10, Table 10-6.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from blasterlab import units
from blasterlab.checks.finding import Finding
from blasterlab.parts import coil
from blasterlab.parts.spread import as_bought
from blasterlab.parts.spring import Spring
from blasterlab.parts.wire import Strength, tensile_strength

#: EN 13906-1: static limit of the uncorrected stress at solid, part of the tensile strength.
SOLID_SHARE = 0.56
#: Shigley, Table 10-6: torsional yield before presetting, part of the tensile strength, corrected stress.
YIELD_SHARE = 0.45
#: The same for austenitic stainless wire: from memory.
YIELD_SHARE_STAINLESS = 0.35
_EN = "EN 13906-1:2013"
_SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., 2011"
_SCOPE = "EN 15800:2008, Table 1 (cold coiled springs: 4 <= D/d <= 20, n >= 2)"


@dataclass(frozen=True)
class SpringLimits:
    """A spring at one length, beside its limits.

    Attributes
    ----------
    length, room : Quantity [m]
        The length looked at, and how far it is from solid.
    strength : Strength or None [Pa]
        Least tensile strength of the wire; None when no table covers it.
    why_no_strength : str [-]
        The reason, then.
    stress, corrected_stress, solid_stress : Quantity [Pa]
        Shear stress at the length without and with the curvature factor, and at solid without it.
    solid_allowable, yield_allowable : Quantity or None [Pa]
        0.56 of the strength (EN, uncorrected), 0.45 or 0.35 of it (Shigley, corrected).
    use_at_length, use_at_solid, use_of_yield : float or None [-]
        Stress over its allowable value: EN at the length, EN at solid, Shigley at the length.
    minimum_gaps : Quantity [m]
        Least room between the coils that EN asks for.
    buckling_compression : Quantity or None [m]
        Where an unguided spring bows out; None when it never does.
    solid_length_upper : Quantity [m]
        EN's largest solid length.
    grown_diameter : Quantity [m]
        Outer diameter at solid, ends not turning.
    natural_frequency : Quantity [Hz]
        First surge frequency.
    """

    length: Any
    room: Any
    strength: Strength | None
    why_no_strength: str
    stress: Any
    corrected_stress: Any
    solid_stress: Any
    solid_allowable: Any
    yield_allowable: Any
    use_at_length: float | None
    use_at_solid: float | None
    use_of_yield: float | None
    minimum_gaps: Any
    buckling_compression: Any
    solid_length_upper: Any
    grown_diameter: Any
    natural_frequency: Any


def limits(spring: Spring, length: Any, seating: float = 0.5) -> SpringLimits:
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
    stress, corrected = spring.shear_stress(length, corrected=False), spring.shear_stress(length)
    solid_stress = spring.shear_stress(spring.solid_length, corrected=False)
    strength, reason = None, ""
    try:
        strength = tensile_strength(spring.material, spring.wire_diameter)
    except units.UnitError as error:
        reason = str(error)
    share = YIELD_SHARE_STAINLESS if "stainless" in spring.material else YIELD_SHARE
    allowed = strength and SOLID_SHARE * strength.value
    yields = strength and share * strength.value
    wire = spring.wire
    buckles = float(
        coil.buckling_deflection(values.free_length, mean, wire.shear_modulus(d), wire.youngs_modulus(d), nu)
    )
    pitch = spring.pitch.m_as("m")
    return SpringLimits(
        units.quantity(at, "m"),
        units.quantity(at - values.solid_length, "m"),
        strength,
        reason,
        stress,
        corrected,
        solid_stress,
        units.quantity(allowed, "Pa") if allowed else None,
        units.quantity(yields, "Pa") if yields else None,
        stress.m_as("Pa") / allowed if allowed else None,
        solid_stress.m_as("Pa") / allowed if allowed else None,
        corrected.m_as("Pa") / yields if yields else None,
        units.quantity(coil.minimum_gaps(d, mean, spring.active_coils), "m"),
        units.quantity(buckles, "m") if math.isfinite(buckles) else None,
        units.quantity(coil.solid_length_upper(d, spring.total_coils, spring.ends), "m"),
        units.quantity(float(coil.grown_diameter(d, mean, pitch)), "m"),
        spring.natural_frequency,
    )


def impact_stress(spring: Spring, speed: Any) -> Any:
    """Shear stress added when an end of the spring is suddenly driven or stopped.

    v sqrt(2 rho G)

    Parameters
    ----------
    spring : Spring [-]
        The spring; only its wire matters.
    speed : Quantity or str [speed]
        Speed of the end, such as the plunger's as it hits its stop.

    Returns
    -------
    Quantity
        Added stress [Pa].

    Raises
    ------
    UnitError
        A negative speed.

    References
    ----------
    EN 13906-1:2013, impact load.
    """
    value = units.si_in(speed, "speed", "speed", 0.0, 1000.0, "speed of the spring's end")
    wire = spring.wire
    return units.quantity(
        float(coil.impact_stress(value, wire.shear_modulus(spring.si_wire), wire.density)), "Pa"
    )


def findings(spring: Spring, length: Any) -> list[Finding]:
    """What a builder should know about a spring at the length it has at the catch.

    Parameters
    ----------
    spring : Spring [-]
        The spring.
    length : Quantity or str [length]
        At the catch; below solid is a finding, no error.

    Returns
    -------
    list of Finding
        Scope, solid, stress, gaps, buckling, growth and the measured rate, the gravest first.
    """
    at, values = units.si(length, "length", "length"), spring.si_values()
    found = _scope(spring) + _measured(spring)
    if at < values.solid_length * (1 - 1e-9):
        found.append(
            Finding(
                "danger",
                spring.name,
                f"The spring is solid {_mm(values.solid_length - at)} before the catch; it cannot be primed "
                "and may break what pulls it.",
                units.quantity(at, "m"),
                spring.solid_length,
                f"{_SHIGLEY}, Table 10-1",
            )
        )
    else:
        state = limits(spring, length)
        found += _stress(spring, state) + _gaps(spring, state) + _buckling(spring, state)
        found += _growth(spring, state)
    return sorted(found, key=lambda f: -("info", "caution", "warning", "danger").index(f.severity))


def _mm(value: float) -> str:
    return units.show(value, "length", 3)


def _scope(spring: Spring) -> list[Finding]:
    found = []
    w, n = spring.index, spring.active_coils
    if not 4 <= w <= 20:
        why = "hard to coil and highly stressed inside" if w < 4 else "soft, tangles and buckles easily"
        text = f"The spring index D/d is {w:.3g}, outside 4 to 20: {why}; the formulas are not made for it."
        found.append(
            Finding("warning", spring.name, text, round(w, 3), 4.0 if w < 4 else 20.0, f"{_SCOPE}; {_EN}")
        )
    if n < 2:
        text = f"The spring has {n:.3g} active coils; with fewer than 2 the rate depends on how the ends sit."
        found.append(Finding("warning", spring.name, text, n, 2.0, f"{_SCOPE}; {_EN}"))
    return found


def _measured(spring: Spring) -> list[Finding]:
    """A measured rate that the dimensions cannot explain."""
    if spring.measured_rate is None:
        return []
    try:
        spread = as_bought(spring)
    except units.UnitError:
        return []
    got, computed = spring.rate.m_as("N/m"), spread.rate.m_as("N/m")
    if abs(got - computed) <= spread.fraction * computed:
        return []
    text = (
        f"The measured rate differs by {100 * (got / computed - 1):+.0f} % from the one computed, more than "
        f"tolerances explain (±{100 * spread.fraction:.0f} %): check the wire diameter, the count of coils "
        "and the material."
    )
    source = "EN 10270-1 and EN 15800 tolerances, ±1/4 coil common practice, no source"
    return [Finding("caution", spring.name, text, spring.rate, spread.rate, source)]


def _stress(spring: Spring, state: SpringLimits) -> list[Finding]:
    if state.strength is None:
        text = f"The stress is not judged: {state.why_no_strength}."
        return [Finding("caution", spring.name, text, spring.wire_diameter, None, "data/tables/wire_*.csv")]
    assert state.use_at_length is not None
    assert state.use_at_solid is not None
    assert state.use_of_yield is not None
    table = state.strength.source.split(". ")[0]
    doubt = "" if state.strength.certain else " The tensile strength behind it is from memory or inferred."
    found = []
    if state.use_at_length > 1:
        text = (
            f"At the catch the wire carries {100 * state.use_at_length:.0f} % of the static limit: the "
            "spring will take a set (grow shorter) and may break. Use thicker wire, more coils, less travel."
            + doubt
        )
        found.append(
            _finding("warning", spring, text, state.stress, state.solid_allowable, f"{_EN}; {table}")
        )
    elif state.use_of_yield > 1:
        text = (
            f"At the catch the stress is {100 * state.use_of_yield:.0f} % of the yield of a spring that was "
            "not preset: expect a set in the first primings unless the maker preset it; then measure again."
            + doubt
        )
        share = f"{_SHIGLEY}, Table 10-6"
        if "stainless" in spring.material:
            share += " (0.35 for austenitic wire, from memory)"
        found.append(
            _finding(
                "caution", spring, text, state.corrected_stress, state.yield_allowable, f"{share}; {table}"
            )
        )
    else:
        margin = 100 * (1 - max(state.use_at_length, state.use_of_yield))
        text = f"At the catch the stress leaves a margin of {margin:.0f} % to the static limits." + doubt
        found.append(_finding("info", spring, text, state.stress, state.solid_allowable, f"{_EN}; {table}"))
    if state.use_at_length <= 1 < state.use_at_solid:
        text = (
            f"Pressed solid the wire would carry {100 * state.use_at_solid:.0f} % of the static limit: "
            "never press this spring solid, by hand or in a vice." + doubt
        )
        found.append(
            _finding("caution", spring, text, state.solid_stress, state.solid_allowable, f"{_EN}; {table}")
        )
    return found


def _finding(severity: str, spring: Spring, text: str, value: Any, limit: Any, source: str) -> Finding:
    return Finding(severity, spring.name, text, value.to("MPa"), limit.to("MPa"), source)


def _gaps(spring: Spring, state: SpringLimits) -> list[Finding]:
    room, wanted = state.room.m_as("m"), state.minimum_gaps.m_as("m")
    if state.length < state.solid_length_upper:
        text = (
            f"At the catch only {_mm(room)} are left to solid, and the standard's largest solid length is "
            "longer still: measure the solid length of this very spring before you prime it."
        )
        return [Finding("warning", spring.name, text, state.length, state.solid_length_upper, _EN)]
    if room < wanted:
        text = (
            f"At the catch the gaps add up to {_mm(room)}, less than the {_mm(wanted)} asked for: single "
            "coils may touch, the rate rises and the coils wear."
        )
        return [Finding("caution", spring.name, text, state.room, state.minimum_gaps, _EN)]
    return []


def _buckling(spring: Spring, state: SpringLimits) -> list[Finding]:
    used = spring.si_values().free_length - state.length.m_as("m")
    if spring.guide in ("on a rod", "in a tube") or state.buckling_compression is None:
        return []
    at = state.buckling_compression.m_as("m")
    if used < at:
        return []
    free = spring.guide == "free"
    text = (
        f"Compressed by {_mm(used)} at the catch; it bows out sideways from {_mm(at)} on unless it is guided "
        "on a rod or in a tube" + ("; this build says it is free." if free else "; say which in the build.")
    )
    severity = "warning" if free else "info"
    source = f"{_EN}, both ends held flat (seating coefficient 0.5)"
    return [
        Finding(severity, spring.name, text, units.quantity(used, "m"), state.buckling_compression, source)
    ]


def _growth(spring: Spring, state: SpringLimits) -> list[Finding]:
    if spring.guide_diameter is None:
        return []
    guide = units.si(spring.guide_diameter, "length", "guide_diameter")
    source = "Bell Helicopter, Structural Design Manual, 1977: diameter of a compressed spring"
    if spring.guide == "in a tube":
        clear = guide - state.grown_diameter.m_as("m")
        text = f"Compressed, the spring grows to {_mm(state.grown_diameter.m_as('m'))} outside diameter"
        value = state.grown_diameter
    elif spring.guide == "on a rod":
        inner = spring.si_mean_diameter - spring.si_wire
        clear, value = inner - guide, units.quantity(inner, "m")
        text = f"The spring's inner diameter is {_mm(inner)}"
    else:
        return []
    if clear <= 0:
        text += f", {_mm(-clear)} too much for the guide: it binds."
        return [Finding("danger", spring.name, text, value, spring.guide_diameter, source)]
    return [
        Finding("info", spring.name, text + f", {_mm(clear)} clear.", value, spring.guide_diameter, source)
    ]
