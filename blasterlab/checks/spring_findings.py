"""The findings on springs, in words: scope, solid, stress, gaps, buckling, room, nesting.

What it is for: turn the numbers of `checks.spring_limits` into sentences with value, limit and source.
What it leaves out: the numbers themselves.  Nothing here is approval by an engineer.

References
----------
EN 13906-1:2013, *Cylindrical helical springs made from round wire and bar, Part 1: Compression springs*.
EN 15800:2008, *Quality specifications for cold coiled compression springs*.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

from blasterlab import units
from blasterlab.checks.finding import Finding, gravest_first
from blasterlab.checks.spring_limits import SOLID_SHARE, SpringLimits, impact_stress, limits
from blasterlab.parts import coil
from blasterlab.parts.nest import compressions, nested_energy, radial_gaps
from blasterlab.parts.prime import most_stroke
from blasterlab.parts.rate_tolerance import as_bought
from blasterlab.parts.spring import Spring
from blasterlab.parts.wire import tensile_strength
from blasterlab.units import Quantity, QuantityLike

if TYPE_CHECKING:
    from blasterlab.build import Build

_EN = "EN 13906-1:2013"
_SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., 2011"
_SCOPE = "EN 15800:2008, Table 1 (cold coiled springs: 4 <= D/d <= 20, n >= 2)"
_GROWN = "Bell Helicopter, Structural Design Manual, 1977: diameter of a compressed spring"


def spring_findings(spring: Spring, length: QuantityLike) -> list[Finding]:
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
                f"and may break what pulls it. The stroke may be {most_stroke(spring)}.",
                units.quantity(at, "m"),
                spring.solid_length,
                f"{_SHIGLEY}, Table 10-1",
            )
        )
    else:
        state = limits(spring, length)
        found += _stress(spring, state) + _gaps(spring, state) + _buckling(spring, state)
        found += _growth(spring, state)
    return gravest_first(found)


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
    assert state.solid_allowable is not None
    assert state.yield_allowable is not None
    table = state.strength.source.split(". ")[0]
    doubt = "" if state.strength.certain else " The tensile strength behind it is from memory or inferred."
    found = []
    static, unset = (f"{100 * use:.0f} %" for use in (state.use_at_length, state.use_of_yield))
    both = (
        f"At the catch the wire carries {static} of the static limit and {unset} of what an unset spring "
        "bears"
    )
    if state.use_at_length > 1:
        text = (
            f"{both}: the spring will take a set (grow shorter) and may break. Use less travel or preload, "
            "more coils, a larger coil diameter, or thinner wire." + doubt
        )
        found.append(
            _finding("warning", spring, text, state.stress, state.solid_allowable, f"{_EN}; {table}")
        )
    elif state.use_of_yield > 1:
        text = (
            f"{both} (one that was not preset): expect a set in the first primings unless the maker preset "
            "it; then measure again." + doubt
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
        text = f"{both}, which leaves a margin of {margin:.0f} %." + doubt
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


def _finding(
    severity: str, spring: Spring, text: str, value: Quantity, limit: Quantity, source: str
) -> Finding:
    return Finding(severity, spring.name, text, value.to("MPa"), limit.to("MPa"), source)


def _gaps(spring: Spring, state: SpringLimits) -> list[Finding]:
    room, wanted = state.travel_to_solid.m_as("m"), state.minimum_gaps.m_as("m")
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
        return [Finding("caution", spring.name, text, state.travel_to_solid, state.minimum_gaps, _EN)]
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
        return [Finding("danger", spring.name, text, value, spring.guide_diameter, _GROWN)]
    return [
        Finding("info", spring.name, text + f", {_mm(clear)} clear.", value, spring.guide_diameter, _GROWN)
    ]


#: What `check_springs` looks at.
READS = ("springs", "chamber.bore", "chamber.plunger_mass", "chamber.stroke")


def check_springs(build: Build) -> list[Finding]:
    """Every finding on the springs of a build.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        Each spring at its length at the catch, its room in the plunger tube, its slam at the front stop,
        and the fit of nested springs into each other.
    """
    bore = units.si(build.chamber.bore, "length")
    moving = units.si(build.chamber.plunger_mass, "mass")
    moving += sum(spring.si_values().mass for spring in build.springs) / 3
    stroke = units.si(build.chamber.stroke, "length")
    released = nested_energy(build.springs, "0 m", units.quantity(stroke, "m")).m_as("J")
    found: list[Finding] = []
    for spring, squeeze in zip(build.springs, compressions(build.springs, stroke), strict=True):
        at = units.quantity(spring.si_values().free_length - float(squeeze), "m")
        found += spring_findings(spring, at)
        found += _in_chamber(spring, bore)
        found += _slam(spring, math.sqrt(2 * released / moving))
    return found + _nest(build.springs)


def _in_chamber(spring: Spring, bore: float) -> list[Finding]:
    """The spring inside the plunger tube, unless it is said to run on a rod or in another tube."""
    if spring.guide == "on a rod" or spring.guide_diameter is not None:
        return []
    pitch = spring.pitch.m_as("m")
    grown = float(coil.grown_diameter(spring.si_wire, spring.si_mean_diameter, pitch))
    if grown <= bore:
        return []
    text = (
        f"Compressed, the spring grows to {_mm(grown)} and the plunger tube's bore is {_mm(bore)}: "
        "it cannot run inside the tube."
    )
    return [
        Finding("warning", spring.name, text, units.quantity(grown, "m"), units.quantity(bore, "m"), _GROWN)
    ]


def _slam(spring: Spring, speed: float) -> list[Finding]:
    """The plunger stopped dead from the highest speed it could have, fired with nothing in the way."""
    try:
        strength = tensile_strength(spring.material, spring.wire_diameter).value
    except units.UnitError:
        return []
    added = impact_stress(spring, units.quantity(speed, "m/s")).m_as("Pa")
    total = added + spring.shear_stress(spring.front_length, corrected=False).m_as("Pa")
    if total <= SOLID_SHARE * strength:
        return []
    text = (
        f"Fired with nothing in the barrel the plunger could stop dead from {units.show(speed, 'speed', 3)}; "
        "the shock in the wire would pass the static limit: do not fire it empty, and cushion the front stop."
    )
    limit = units.quantity(SOLID_SHARE * strength, "Pa").to("MPa")
    source = f"{_EN}, impact load; speed without air and friction"
    return [Finding("caution", spring.name, text, units.quantity(total, "Pa").to("MPa"), limit, source)]


def _nest(springs: Sequence[Spring]) -> list[Finding]:
    found = []
    order = sorted(springs, key=lambda s: -s.si_mean_diameter)
    for (outer, inner), gap in zip(pairwise(order), radial_gaps(springs), strict=True):
        room = gap.m_as("m")
        if room <= 0:
            text = f"Compressed, it does not fit into {outer.name}: {_mm(-room)} too thick on each side."
            found.append(Finding("danger", inner.name, text, gap, units.quantity(0.0, "m"), "geometry"))
        else:
            text = (
                f"It runs inside {outer.name} with {_mm(room)} on each side: wind the two with opposite "
                "hands, so that their coils cannot mesh."
            )
            source = "common practice, no source"
            found.append(Finding("info", inner.name, text, gap, None, source))
    return found
