"""Does it go together: the seal inside the tube at both ends of the stroke, dart in bore, tube in tube.

What it is for: lengths and gaps that must be right before anything is cut or ordered.  What it leaves out:
the ring in its groove (``seal``), strength (``strength``), springs (``spring_findings``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np

from blasterlab import tables, units
from blasterlab.build import Build
from blasterlab.checks.finding import Finding
from blasterlab.checks.tolerance import Sizes, Span, span, stack
from blasterlab.doors import Spoken
from blasterlab.parts import barrel, chamber, dart, losses
from blasterlab.parts.barrel import gap_area
from blasterlab.parts.rings import ring
from blasterlab.shot.from_build import rows
from blasterlab.shot.many import simulate_rows
from blasterlab.units import Quantity, QuantityLike

#: The values of a shot, which a loose dart's cost rests on, beside the springs.
_SHOT = {"chamber": chamber, "barrel": barrel, "dart": dart, "losses": losses}
READS = (
    "chamber.stroke", "chamber.tube_length", "fit.front_gap", "fit.length_tolerance", "fit.over_travel",
    "fit.ring", "fit.rod_diameter", "fit.setback", "springs",
)  # fmt: skip
#: What a loose dart's cost rests on: a shot.
LOOSE_READS = (
    "springs",
    *(f"{part}.{name}" for part, module in _SHOT.items() for name in module.FIELDS),
    "losses.spring_waves", "losses.gas_inertia", "losses.air_ahead", "losses.wall_heat",
    "air.temperature", "air.pressure", "air.gas_constant",
)  # fmt: skip
_GEOMETRY = "geometry"
#: A loose dart that keeps less than this share of its speed is a warning, else a caution (own choice).
LOOSE_WARNS = 0.99
#: A blow-by within this share of the gap, or more, counts the gap already (own choice).
_COUNTED = 0.01
_COMMON = "common practice, no source"
#: A plunger that keeps less of the tube than this share of the stroke is suspect: common practice, no source.
_HEAD = 0.05


@dataclass(frozen=True)
class SealTravel:
    """How far inside the tube a seal stays.

    Attributes
    ----------
    at_catch : Span [m]
        From the seal's rear edge to the tube's open end, with the over-travel; below zero it comes out.
    at_front : Span [m]
        From the seal's front edge to the tube's front end; below zero it leaves the tube or meets the port.
    """

    at_catch: Span
    at_front: Span


def seal_travel(
    tube_length: QuantityLike,
    stroke: QuantityLike,
    front_gap: QuantityLike,
    setback: QuantityLike,
    section: QuantityLike,
    over_travel: QuantityLike = "0 mm",
    tolerances: Mapping[str, QuantityLike] | None = None,
) -> SealTravel:
    """Where the seal stands in the tube at the front stop and at the catch.

    Formulas: front = front_gap + setback - section/2; catch = tube_length - front_gap - stroke - over_travel
    - setback - section/2.

    Parameters
    ----------
    tube_length, stroke : Quantity or str [length]
        Inside length of the tube; plunger travel from the catch to the front stop.
    front_gap : Quantity or str [length]
        Between the plunger's face at its front stop and the front end of the tube.
    setback : Quantity or str [length]
        From the plunger's face back to the middle of the seal.
    section : Quantity or str [length]
        The seal's width along the tube.
    over_travel : Quantity or str [length]
        How far the plunger is drawn beyond the catch so that it engages.
    tolerances : mapping of str to Quantity or str, or None [length]
        Half widths by the names above.

    Returns
    -------
    SealTravel
        Both distances with their ranges [m].

    Raises
    ------
    UnitError
        Lengths out of range.
    """
    most = {
        "tube_length": 2.0,
        "stroke": 1.0,
        "front_gap": 0.2,
        "setback": 0.5,
        "section": 0.05,
        "over_travel": 0.1,
    }
    given = (tube_length, stroke, front_gap, setback, section, over_travel)
    sizes = {
        name: units.quantity(units.si_in(value, "length", name, 0.0, most[name]), "m")
        for name, value in zip(most, given, strict=True)
    }
    half = {"half section": 0.5 * sizes.pop("section")}
    widths = dict(tolerances or {})
    if "section" in widths:
        widths["half section"] = 0.5 * units.parse(widths.pop("section"), "length", "tolerance of section")
    front = {name: sizes[name] for name in ("front_gap", "setback")}
    return SealTravel(
        stack({**sizes, **half}, widths, {"tube_length"}),
        stack({**front, **half}, {k: v for k, v in widths.items() if k in {*front, *half}}, set(front)),
    )


def nested_tubes(
    outer_bore: QuantityLike,
    inner_diameter: QuantityLike,
    tolerances: Mapping[str, QuantityLike] | None = None,
) -> Span:
    """The gap on each side of a tube inside another, for sliding or for glue.

    Parameters
    ----------
    outer_bore, inner_diameter : Quantity or str [length]
        Bore of the outer tube, outside diameter of the inner one.
    tolerances : mapping of str to Quantity or str, or None [length]
        Half widths of both, by these names.

    Returns
    -------
    Span
        The gap on each side [m]; below zero they do not go together.

    Raises
    ------
    UnitError
        Values out of range.

    Notes
    -----
    Drawn tube varies by more than a sliding gap (ASTM B251: 0.002 in on the outside, 0.001 in on the wall of
    small brass tube): measure the tube that you have.
    """
    whole = stack(
        {"outer_bore": outer_bore, "inner_diameter": inner_diameter}, tolerances or {}, {"outer_bore"}
    )
    worst, likely = ((0.5 * pair[0], 0.5 * pair[1]) for pair in (whole.worst, whole.likely))
    return Span(0.5 * whole.value, worst, likely, whole.shares)


def telescoping() -> dict[str, Span]:
    """The gap on each side of each stock brass tube in the next larger one, with the drawn tube's tolerance.

    Returns
    -------
    dict of str to Span
        By both outside diameters [m].

    References
    ----------
    data/tables/tubes_telescoping_brass.csv; ASTM B251: 0.002 in on the outside, 0.001 in on the wall.
    """
    table = tables.read("tables/tubes_telescoping_brass")
    rows = list(zip(table["od_in"], table["od_mm"], table["id_mm"], strict=True))
    half = {"outer_bore": "0.004 in", "inner_diameter": "0.002 in"}
    return {
        f"{thin} in {wide}": nested_tubes(units.quantity(bore, "mm"), units.quantity(outside, "mm"), half)
        for (thin, outside, _), (wide, _, bore) in pairwise(rows)
    }


@dataclass(frozen=True)
class WaterCheck(Spoken):
    """A chamber filled with water from a syringe, beside its dimensions.

    Attributes
    ----------
    measured, reading : Quantity [cm³]
        What the syringe gave, and the half width of that.
    expected : Span [m^3]
        By the dimensions, with their tolerances.
    dead_volume : Quantity [cm³]
        The dead volume that would explain the water; below zero none does.
    """

    measured: Quantity
    reading: Quantity
    expected: Span
    dead_volume: Quantity

    @property
    def agrees(self) -> bool:
        """Whether the water lies in the worst case of dimensions and reading [-]."""
        water, slack = self.measured.m_as("m^3"), self.reading.m_as("m^3")
        return self.expected.worst[0] - slack <= water <= self.expected.worst[1] + slack


def water_check(build: Build, water: QuantityLike, reading: QuantityLike = "0.5 cm^3") -> WaterCheck:
    """Cross-check the chamber: the plunger at the catch, the port upwards, water from a syringe up to it.

    Formula: expected = pi bore^2 stroke / 4 + dead volume.

    Parameters
    ----------
    build : Build [-]
        The build, with its tolerances; 0.1 mm on the bore and 0.5 mm on the stroke where it tells none.
    water : Quantity or str [volume]
        What went in, to the port and no further, without bubbles.
    reading : Quantity or str [volume]
        Half width of that.

    Returns
    -------
    WaterCheck
        Both volumes, and the dead volume that the water tells.

    Raises
    ------
    UnitError
        Volumes out of range.
    """
    measured = units.si_in(water, "volume", "water", 1e-7, 5e-3)
    slack = units.si_in(reading, "volume", "reading", 0.0, 1e-4)
    base = {name: build.si[f"chamber.{name}"] for name in ("bore", "stroke", "dead_volume")}
    half = {
        "bore": units.si(build.fit.diameter_tolerance, "length") or 1e-4,
        "stroke": units.si(build.fit.length_tolerance, "length") or 5e-4,
    }

    def volume(v: Sizes) -> float:
        return 0.25 * math.pi * v["bore"] ** 2 * v["stroke"] + v["dead_volume"]

    expected = span(volume, base, {name: half.get(name, 0.0) for name in base})
    dead = measured - (expected.value - base["dead_volume"])
    shown, off, left = (units.quantity(1e6 * volume, "cm^3") for volume in (measured, slack, dead))
    return WaterCheck(shown, off, expected, left)


def check_fit(build: Build) -> list[Finding]:
    """Findings on how the parts of a build go together.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        A loose dart, a stroke that leaves no tube for the plunger, a spring longer than its tube, a seal that
        comes out, play on the rod.
    """
    return [*_short_tube(build), *_room(build), *_seal_ends(build), *_rod(build)]


def travel_of(build: Build) -> SealTravel | None:
    """Where the seal of a build stands, with the build's tolerances; None where its place is not told."""
    fit, chamber = build.fit, build.chamber
    if fit.setback is None or fit.front_gap is None or fit.ring is None:
        return None
    half = dict.fromkeys(("tube_length", "stroke", "setback"), fit.length_tolerance)
    return seal_travel(
        chamber.tube_length, chamber.stroke, fit.front_gap, fit.setback, ring(fit.ring).section,
        fit.over_travel, half,
    )  # fmt: skip


def _seal_ends(build: Build) -> list[Finding]:
    """The seal at the catch and at the front stop, where its place is told."""
    there = travel_of(build)
    if there is None:
        return []
    found, zero = [], units.quantity(0.0, "m")
    for where, left in {"at the catch": there.at_catch, "at the front stop": there.at_front}.items():
        shown, worst = (units.show(abs(one), "length", 2) for one in (left.value, left.worst[0]))
        if left.value < 0.0:
            grave = "danger"
            text = f"The seal stands {shown} out of the tube {where}: it does not seal there and may be cut."
        elif left.worst[0] < 0.0:
            grave = "warning"
            text = f"The seal stays {shown} inside the tube {where}, and {worst} out of it on a bad day."
        else:
            grave, text = "info", f"The seal stays {shown} inside the tube {where}."
        found.append(Finding(grave, "fit", text, units.quantity(left.value, "m"), zero, _GEOMETRY))
    return found


def _rod(build: Build) -> list[Finding]:
    """The play of the springs on their rod; a rod that does not pass is refused with the build."""
    if build.fit.rod_diameter is None:
        return []
    rod, found = build.fit.rod_diameter, []
    for spring in build.springs:
        inside = spring.inside_diameter
        play = units.show(inside - rod, "length", 2)
        text = f"The spring has {play} of play on its rod of {units.show(rod, 'length', 3)}."
        found.append(Finding("info", spring.name, text, rod, inside, _GEOMETRY))
    return found


def loose_gap(values: Mapping[str, Any]) -> Any:
    """Area of the gap around a dart that lies loose: no less than the blow-by of the losses; 0 elsewhere.

    Parameters
    ----------
    values : mapping of str to float or ndarray [SI]
        `Build.si`, or the same with arrays.

    Returns
    -------
    float or ndarray
        Area [m²].
    """
    gap = gap_area(values["barrel.bore"], values["dart.diameter"])
    return gap * (gap > (1.0 - _COUNTED) * values["losses.blowby_area"])


def check_loose_dart(build: Build) -> list[Finding]:
    """A bore wider than the dart leaks by the gap around it, whatever the losses say.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of Finding
        The gap's area and what it could cost, for a loose dart.
    """
    area = loose_gap(build.si)
    if not area:
        return []
    gap, told = units.quantity(1e6 * area, "mm^2"), build.losses.blowby_area
    values: dict[str, Any] = {name: build.si[name] for name in build.si}
    counted = values["losses.blowby_area"] > (1.0 - _COUNTED) * area
    values["losses.blowby_area"] = np.array([0.0 if counted else values["losses.blowby_area"], area])
    tight, loose = simulate_rows(rows(values, 2)).muzzle_velocity.m
    cost = f"cost {units.show(tight - loose, 'speed', 2)}" if loose > 0.0 else "keep it in the barrel"
    shown = units.show(gap, "area", 2)
    more = f"counts as blow-by (it could {cost})."
    if not counted:
        less = units.show(told, "area", 2)
        more = f"could {cost}. The losses count {less} of blow-by: set {shown} to count it."
    widths = build.dart.diameter, build.barrel.bore
    told_apart = ([units.show(width, "length", digits) for width in widths] for digits in range(4, 16))
    dart, bore = next(pair for pair in told_apart if pair[0] != pair[1])
    text = (
        f"The dart lies loose: {dart} in a bore of {bore} leaves a gap of {shown} that {more} It will wander "
        "too; a tighter barrel or a wider dart would do."
    )
    severity = "warning" if loose < LOOSE_WARNS * tight and not counted else "caution"
    return [Finding(severity, "barrel", text, gap, told, _GEOMETRY)]


def _room(build: Build) -> list[Finding]:
    """A spring that stands out of the plunger tube at the front stop, as it is said to be installed."""
    tube, found = units.si(build.chamber.tube_length, "length"), []
    for spring in build.springs:
        long = units.si(spring.front_length, "length")
        over = units.show(long - tube, "length", 3)
        text = f"Installed, {spring.name} is {units.show(long, 'length', 3)} long and the plunger tube "
        text += f"{units.show(tube, 'length', 3)}: "
        if spring.guide == "in a tube" and spring.guide_diameter is None:
            severity, more = "warning", f"to run inside the tube it needs {over} more preload."
        else:
            severity = "info" if spring.preload.m or spring.gap.m else "caution"
            more = (
                f"{over} of it must find room behind the tube. With less room it is squeezed more and shoots "
            )
            more += "harder: measure its installed length."
        if long > tube:
            sizes = spring.front_length, build.chamber.tube_length
            found.append(Finding(severity, spring.name, text + more, *sizes, _GEOMETRY))
    return found


def _short_tube(build: Build) -> list[Finding]:
    """The tube must hold the stroke and the plunger with its seal."""
    stroke, tube = units.si(build.chamber.stroke, "length"), units.si(build.chamber.tube_length, "length")
    left = tube - stroke
    if left >= _HEAD * stroke:
        return []
    text = (
        f"A stroke of {units.show(stroke, 'length', 3)} in a tube of {units.show(tube, 'length', 3)} "
        f"leaves {units.show(left, 'length', 3)} for the plunger's head and seal: primed, the seal may come "
        "out of the tube."
    )
    limit = units.quantity(_HEAD * stroke, "m")
    return [Finding("warning", "chamber", text, units.quantity(left, "m"), limit, _COMMON)]
