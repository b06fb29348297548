"""The trajectory panel: the path of one or two darts, with times, zero, target, and the speed that is left.

What it is for: `trajectory_panel`.  What it leaves out: wind and lead (`blasterlab.panels.wind`), groups
(`blasterlab.panels.group`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures.down_range import Paths, PathView, height_words, path_words
from blasterlab.flight.aiming import point_blank, zero
from blasterlab.flight.aiming_results import PointBlank, Zero
from blasterlab.flight.drag import Projectile
from blasterlab.flight.trajectory import fly
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Control
from blasterlab.panels.flown import CAUTION, DISTANCE, SIGHT, ZERO, FlownBuild

_NAMES = 2
_UNTOUCHED = 0.005  # a velocity within half a percent of the computed one needs no word


@dataclass(frozen=True)
class FlightResult:
    """What the trajectory panel shows: the paths, the best zeros for the target, the computed velocities."""

    paths: Paths
    spans: tuple[PointBlank | None, ...]
    computed: tuple[float, ...]
    hold_zero: float


def trajectory_panel(builds: Build | Sequence[Build] | Mapping[str, Build]) -> Panel:
    """The trajectory panel of one build, or of two laid over each other.

    Parameters
    ----------
    builds : Build, or sequence or mapping of one or two [-]
        Two darts are one build and ``build.replace({"dart.mass": ...})``; a mapping gives them names.
        ``panel.result.paths.zeros`` holds the flights.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].

    Raises
    ------
    UnitError
        None or more than two builds, or one that shoots nothing.
    """
    flown = _named(builds)
    controls = [DISTANCE, ZERO, SIGHT]
    for before, label, one in _numbered(flown):
        controls += one.controls(before, label)
    controls += [
        Control(
            "height", "target height", "length", "50 mm", "2 m", "300 mm", "10 mm", "aimed at its middle"
        ),
        Control(
            "slope", "uphill", "angle", "-45 deg", "45 deg", "0 deg", "1 deg", "the zero is on the level"
        ),
    ]
    view: Any = _FlightView(len(flown))
    return Panel("Trajectory", controls, partial(fly_all, flown), flight_words, [view], CAUTION)


def _named(builds: Build | Sequence[Build] | Mapping[str, Build]) -> tuple[FlownBuild, ...]:
    if isinstance(builds, Build):
        builds = [builds]
    named = list(builds.items()) if isinstance(builds, Mapping) else [(one.title, one) for one in builds]
    if not 1 <= len(named) <= _NAMES:
        raise units.UnitError(f"builds: {len(named)} given; the panel shows one, or two over each other")
    return tuple(FlownBuild.of(str(name), build) for name, build in named)


def _numbered(flown: Sequence[FlownBuild]) -> list[tuple[str, str, FlownBuild]]:
    """Prefixes of names and labels: none for a single build."""
    if len(flown) == 1:
        return [("", "", flown[0])]
    return [(f"{number}.", f"{number}: ", one) for number, one in enumerate(flown, 1)]


def fly_all(flown: Sequence[FlownBuild], state: Mapping[str, float]) -> FlightResult:
    """The zeroed flights with the panel's values.

    Parameters
    ----------
    flown : sequence of FlownBuild [-]
        One or two.
    state : mapping of str to float [SI]
        By the controls' names.

    Returns
    -------
    FlightResult
        Paths, spans, computed velocities [-].

    Raises
    ------
    UnitError
        A zero that cannot be reached, with the distance that can.
    """
    q = units.quantity
    where, sight, height = q(state["zero"], "m"), q(state["sight"], "m"), q(state["height"], "m")
    names, zeros, spans, computed = [], [], [], []
    for before, label, one in _numbered(flown):
        dart, speed = one.projectile(state, before), q(state[f"{before}speed"], "m/s")
        found = zero(dart, speed, distance=where, sight_height=sight, air=one.build.air)
        if state["slope"]:
            found = _uphill(found, dart, speed, sight, q(state["slope"], "rad"))
        names.append(f"{label}{one.name}")
        zeros.append(found)
        spans.append(_span(dart, speed, height, sight, one.build.air))
        computed.append(one.computed(dart.mass.m_as("kg")))
    paths = Paths(tuple(names), tuple(zeros), state["distance"], state["height"])
    return FlightResult(paths, tuple(spans), tuple(computed), state["zero"])


def _uphill(level: Zero, dart: Projectile, speed: Any, sight: Any, slope: Any) -> Zero:
    """The sight as set on the level, shot up or down a slope."""
    flight = fly(
        dart, speed, air=level.flight.conditions.air, angle=level.angle, sight_height=sight, slope=slope
    )
    return Zero(flight.angle, *flight.crossings, flight.apex, flight)


def _span(dart: Projectile, speed: Any, height: Any, sight: Any, air: Any) -> PointBlank | None:
    try:
        return point_blank(dart, speed, target_height=height, sight_height=sight, air=air)
    except units.UnitError:  # so tall a target, or so slow a dart, that no zero is the best
        return None


def flight_words(result: FlightResult) -> list[str]:
    """What the trajectory panel says.

    Parameters
    ----------
    result : FlightResult [-]
        From `fly_all`.

    Returns
    -------
    list of str
        The line of key numbers first [-].
    """
    paths = result.paths
    single = len(paths.zeros) == 1
    short = replace(paths, names=("",) if single else ("1:", "2:"))
    lines = [path_words(short)]
    for name, found, span, computed in zip(
        paths.names, paths.zeros, result.spans, result.computed, strict=True
    ):
        before = "" if single else f"{name}: "
        lines += [f"{before}{said[0].upper()}{said[1:]}." for said in _one(paths, found, span, computed)]
    return lines


def _one(paths: Paths, found: Zero, span: PointBlank | None, computed: float) -> list[str]:
    show, flight = units.show, found.flight
    start, end = flight.at("0 m"), flight.last
    said = []
    if paths.distance <= end.distance.m_as("m"):
        there = flight.at(units.quantity(paths.distance, "m"))
        left, energy = (float(getattr(there, name) / getattr(start, name)) for name in ("speed", "energy"))
        said.append(
            f"it leaves with {show(start.speed, 'speed', 3)} and {show(start.energy, 'energy', 2)}; "
            f"{100 * left:.0f} % of the speed and {100 * energy:.0f} % of the energy are left at the target"
        )
        past = abs(units.si(there.height, "length")) - 0.5 * paths.target_height
        where = "on the target" if past <= 0.0 else f"{show(past, 'length', 3)} past the target's edge"
        hold = height_words(-there.height)
        said.append(f"the dart strikes {height_words(there.height)}, {where}: hold {hold}")
    else:
        said.append(f"it lands at {show(end.distance, 'distance', 3)}, before it reaches the target")
    near, far = (None if one is None else show(one, "distance", 3) for one in (found.near, found.far))
    cross = " and ".join(one for one in (near, far) if one) or "no distance"
    said.append(
        f"the path crosses the line of sight at {cross} and is highest, {height_words(found.top.height)}, at "
        f"{show(found.top.distance, 'distance', 2)}"
    )
    if span is not None:
        said.append(
            f"if you set the zero to {show(span.zero, 'distance', 3)} instead, this target is hit from "
            f"{show(span.near, 'distance', 2)} to {show(span.far, 'distance', 3)} without changing the hold"
        )
    speed = float(start.speed.m_as("m/s"))
    if abs(speed - computed) > _UNTOUCHED * speed:
        word = show(computed, "speed", 3) if computed else "no exit"
        said.append(
            f"mind: the build computes {word} with this dart, not the {show(speed, 'speed', 3)} set here"
        )
    return said


class _FlightView(PathView):
    """The trajectory picture, taking the panel's result."""

    def frame(self, result: Any, old: Any) -> Any:
        return super().frame(result.paths, old)

    def draw_live(self, result: Any) -> Any:
        return super().draw_live(result.paths)
