"""The trajectory panel: the path of one or two darts, with times, zero, target, and the remaining speed.

What it is for: `trajectory_panel`.  What it leaves out: wind and lead (`blasterlab.panels.wind`), groups
(`blasterlab.panels.group`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import chain
from typing import Any

from blasterlab import units
from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build
from blasterlab.figures.trajectory import PathView
from blasterlab.flight.launch import Launch
from blasterlab.flight.target_flight import TargetFlight
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Control
from blasterlab.panels.down_range import CAUTION, DISTANCE, SIGHT, ZERO, FlownBuild
from blasterlab.report.flight import target_words

_HEIGHT = Control(
    "height", "target height", "length", "50 mm", "2 m", "300 mm", "10 mm", "aimed at its middle"
)
_SLOPE = Control(
    "slope", "uphill", "angle", "-45 deg", "45 deg", "0 deg", "1 deg", "the zero is on the level"
)


def trajectory_panel(
    builds: Build | Sequence[Build] | Mapping[str, Build] | None = None,
) -> Panel[list[TargetFlight]]:
    """The trajectory panel of one build, or of two laid over each other.

    Parameters
    ----------
    builds : Build or None, or sequence or mapping of one or two [-]
        None takes the one on the bench, or a demo.
        Two darts are one build and ``build.replace({"dart.mass": ...})``; a mapping gives them names.
        ``panel.result`` holds one `TargetFlight` a build.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].

    Raises
    ------
    UnitError
        None or more than two builds, or one that shoots nothing.
    """
    start, named = None, []
    if builds is None or isinstance(builds, Build):
        start = my_builds.begin(given=builds)
    else:
        named = list(builds.items() if isinstance(builds, Mapping) else ((one.title, one) for one in builds))
    if start is None and not 1 <= len(named) <= 2:
        raise units.UnitError(f"builds: got {len(named)}; the panel shows one, or two over each other")

    def controls(start: Start[Build] | None) -> tuple[dict[str, FlownBuild], list[Control]]:
        builds = named if start is None else [(start.value.title, start.value)]
        flown = {
            "" if len(builds) == 1 else f"{number}.": FlownBuild.of(str(name), build)
            for number, (name, build) in enumerate(builds, 1)
        }
        own = [one.controls(before, before.replace(".", ": ")) for before, one in flown.items()]
        return flown, [DISTANCE, ZERO, SIGHT, *chain(*own), _HEIGHT, _SLOPE]

    def compute(state: Mapping[str, Any]) -> list[TargetFlight]:
        return fly_all(state["start"], state)

    def text(state: Mapping[str, Any]) -> str:
        return state["start"][""].build.to_text()

    view = PathView(max(len(named), 1))
    return Panel("Trajectory", controls, compute, target_words, [view], CAUTION, start=start, text=text)


def fly_all(flown: Mapping[str, FlownBuild], state: Mapping[str, float]) -> list[TargetFlight]:
    """The zeroed flights with the panel's values.

    Parameters
    ----------
    flown : mapping of str to FlownBuild [-]
        What stands before the names of its controls -> build.
    state : mapping of str to float [SI]
        By the controls' names.

    Returns
    -------
    list of TargetFlight
        One a build [-].

    Raises
    ------
    UnitError
        A zero that cannot be reached, with the distance that can.
    """
    q = units.quantity

    def fly(launch: Launch, name: str = "") -> TargetFlight:
        return TargetFlight.of(
            replace(launch, slope=q(state["slope"], "rad")),
            name=name,
            distance=q(state["distance"], "m"),
            target_height=q(state["height"], "m"),
            zero_distance=q(state["zero"], "m"),
        )

    return [
        replace(
            fly(one.launched(state, before), f"{before.replace('.', ': ')}{one.name}"),
            predicted=one.predicted(state.get(f"{before}mass", 0.0)),
            ends=one.at_ends(state, fly, before),
        )
        for before, one in flown.items()
    ]
