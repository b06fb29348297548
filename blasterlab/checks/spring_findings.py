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

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks.finding import Finding, gravest_first
from blasterlab.checks.spring_limits import SOLID_SHARE, SpringLimits, limits
from blasterlab.parts import coil
from blasterlab.parts.nest import compressions, nested_energy, radial_gaps
from blasterlab.parts.prime import most_stroke
from blasterlab.parts.rate_tolerance import as_bought
from blasterlab.parts.spring import Spring
from blasterlab.parts.wire import tensile_strength
from blasterlab.units import Quantity, QuantityLike

_EN = "EN 13906-1:2013"
_SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., 2011"
_SCOPE = "EN 15800:2008, Table 1 (cold coiled springs: 4 <= D/d <= 20, n >= 2)"
_GROWN = "geometry: the wire keeps its length, the ends do not turn"
_HANDS = "common practice, no source"


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
        text = (
            f"The spring is solid {_mm(values.solid_length - at)} before the catch; it cannot be primed and "
            f"may break what pulls it. The stroke may be {most_stroke(spring)}."
        )
        sizes, source = (units.quantity(at, "m"), spring.solid_length), f"{_SHIGLEY}, Table 10-1"
        found.append(Finding("danger", spring.name, text, *sizes, source))
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


_UNSURE = " The tensile strength used here is unchecked: it is from memory or inferred."


def _stress(spring: Spring, state: SpringLimits) -> list[Finding]:
    static, fresh = state.use_at_length, state.use_of_yield
    if state.strength is None or static is None or fresh is None:
        size = units.show(spring.wire_diameter, "length")
        text = f"The stress is not judged: no strength of {spring.material} is tabulated for {size} wire."
        return [Finding("caution", spring.name, text, spring.wire_diameter, None, "data/tables/wire_*.csv")]
    doubt = "" if state.strength.certain else _UNSURE
    table = state.strength.source.split(". ")[0]
    en, judged = f"{_EN}; {table}", (state.stress, state.solid_allowable)
    text = (
        f"At the catch the wire carries {100 * static:.0f} % of the static limit and {100 * fresh:.0f} % of "
        "the stress at which a new spring starts to shorten"
    )
    if static > 1:
        text += (
            ": it will take a set (grow shorter) and may break. Use less travel or preload, more coils, a "
            "larger coil diameter, or thinner wire. If yours has long kept its length, measure wire, coils "
            "and lengths again, or its rate on a scale."
        )
        return [_finding("warning", spring, text + doubt, *judged, en)]
    if fresh > 1:
        text += (
            ": expect a set in the first primings, unless it was preset by its maker; then measure it again."
        )
        memory = "" if spring.wire.yield_share == 0.45 else f" ({spring.wire.yield_share:g}, from memory)"
        share, judged = (
            f"{_SHIGLEY}, Table 10-6{memory}; {table}",
            (state.corrected_stress, state.yield_allowable),
        )
        found = [_finding("caution", spring, text + doubt, *judged, share)]
    else:
        text += f", which leaves a margin of {100 * (1 - max(static, fresh)):.0f} %."
        found = [_finding("info", spring, text + doubt, *judged, en)]
    if (solid := state.use_at_solid) is not None and solid > 1:
        text = (
            f"Pressed solid the wire would carry {100 * solid:.0f} % of the static limit: never press this "
            "spring solid, by hand or in a vice."
        )
        found.append(_finding("caution", spring, text + doubt, state.solid_stress, state.solid_allowable, en))
    return found


def _finding(
    severity: str, spring: Spring, text: str, value: Quantity, limit: Quantity | None, source: str
) -> Finding:
    """A finding on a stress, in MPa."""
    shown = None if limit is None else limit.to("MPa")
    return Finding(severity, spring.name, text, value.to("MPa"), shown, source)


def _gaps(spring: Spring, state: SpringLimits) -> list[Finding]:
    room, wanted = state.travel_to_solid.m_as("m"), state.minimum_gaps.m_as("m")
    if state.length < state.solid_length_upper:
        text = (
            f"At the catch only {_mm(room)} remain before the coils touch, and the standard allows them to "
            "touch earlier: measure the solid length of this very spring before you prime it."
        )
        return [Finding("warning", spring.name, text, state.length, state.solid_length_upper, _EN)]
    if room < wanted:
        text = (
            f"At the catch the gaps between the coils add up to {_mm(room)}, less than the {_mm(wanted)} "
            "that the standard asks for: single coils may touch, the rate rises and the coils wear."
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
    if spring.guide == "in a tube":
        value = state.grown_diameter
        clear = (spring.guide_diameter - value).m_as("m")
        text = f"Compressed, the spring grows to {_mm(value.m_as('m'))} outside diameter"
    elif spring.guide == "on a rod":
        value = spring.inside_diameter
        clear = (value - spring.guide_diameter).m_as("m")
        text = f"The spring's inner diameter is {_mm(value.m_as('m'))}"
    else:
        return []
    severity, end = ("info", "clear.") if clear > 0 else ("danger", "too much for the guide: it binds.")
    text += f", {_mm(abs(clear))} {end}"
    return [Finding(severity, spring.name, text, value, spring.guide_diameter, _GROWN)]


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
    stroke = units.si(build.chamber.stroke, "length")
    moving = units.si(build.chamber.plunger_mass, "mass")
    moving += sum(spring.si_values().mass for spring in build.springs) / 3
    released = nested_energy(build.springs, "0 m", units.quantity(stroke, "m")).m_as("J")
    found: list[Finding] = []
    for spring, squeeze in zip(build.springs, compressions(build.springs, stroke), strict=True):
        found += spring_findings(spring, units.quantity(spring.si_values().free_length - float(squeeze), "m"))
        found += _in_chamber(spring, build.chamber.bore)
        found += _slam(spring, math.sqrt(2 * released / moving))
    return found + _nest(build.springs)


def _in_chamber(spring: Spring, bore: QuantityLike) -> list[Finding]:
    """The spring inside the plunger tube, unless it is said to run on a rod or in another tube."""
    inside, grown = units.si(bore, "length"), spring.grown_diameter
    if spring.guide == "on a rod" or spring.guide_diameter is not None or grown.m_as("m") <= inside:
        return []
    text = (
        f"Compressed, the spring grows to {_mm(grown.m_as('m'))} and the plunger tube's bore is "
        f"{_mm(inside)}: it cannot run inside the tube."
    )
    return [Finding("warning", spring.name, text, grown, units.quantity(inside, "m"), _GROWN)]


def _slam(spring: Spring, speed: float) -> list[Finding]:
    """The plunger stopped dead from the highest speed it could have, fired with nothing in the way."""
    try:
        strength = tensile_strength(spring.material, spring.wire_diameter).value
    except units.UnitError:
        return []
    wire, front = spring.wire, spring.shear_stress(spring.front_length, corrected=False)
    added = coil.impact_stress(speed, wire.shear_modulus(spring.si_wire), wire.density)
    total, limit = front + units.quantity(float(added), "Pa"), units.quantity(SOLID_SHARE * strength, "Pa")
    if total <= limit:
        return []
    text = (
        f"Fired with nothing in the barrel the plunger could stop dead from {units.show(speed, 'speed', 3)}; "
        "the shock in the wire would pass the static limit: do not fire it empty, and cushion the front stop."
    )
    source = f"{_EN}, impact load; speed without air and friction"
    return [_finding("caution", spring, text, total, limit, source)]


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
            found.append(Finding("info", inner.name, text, gap, None, _HANDS))
    return found
