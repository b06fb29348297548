"""The trajectory panel: the path of one or two darts, with times, zero, target, and the remaining speed.

What it is for: `trajectory_panel`.  What it leaves out: wind and lead (`blasterlab.panels.wind`), groups
(`blasterlab.panels.group`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import partial

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures.trajectory import PathView
from blasterlab.flight.target_flight import TargetFlight
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Control
from blasterlab.panels.down_range import CAUTION, DISTANCE, SIGHT, ZERO, FlownBuild
from blasterlab.report.flight import target_words


def trajectory_panel(builds: Build | Sequence[Build] | Mapping[str, Build]) -> Panel:
    """The trajectory panel of one build, or of two laid over each other.

    Parameters
    ----------
    builds : Build, or sequence or mapping of one or two [-]
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
    if isinstance(builds, Build):
        builds = [builds]
    named = list(builds.items()) if isinstance(builds, Mapping) else [(one.title, one) for one in builds]
    if not 1 <= len(named) <= 2:
        raise units.UnitError(f"builds: got {len(named)}; the panel shows one, or two over each other")
    flown = {
        "" if len(named) == 1 else f"{number}.": FlownBuild.of(str(name), build)
        for number, (name, build) in enumerate(named, 1)
    }
    controls = [DISTANCE, ZERO, SIGHT]
    for before, one in flown.items():
        controls += one.controls(before, before.replace(".", ": "))
    controls += [
        Control(
            "height", "target height", "length", "50 mm", "2 m", "300 mm", "10 mm", "aimed at its middle"
        ),
        Control(
            "slope", "uphill", "angle", "-45 deg", "45 deg", "0 deg", "1 deg", "the zero is on the level"
        ),
    ]
    view = PathView(len(flown))
    return Panel("Trajectory", controls, partial(fly_all, flown), target_words, [view], CAUTION)


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
    return [
        TargetFlight.of(
            replace(one.launched(state, before), slope=q(state["slope"], "rad")),
            name=f"{before.replace('.', ': ')}{one.name}",
            distance=q(state["distance"], "m"),
            target_height=q(state["height"], "m"),
            zero_distance=q(state["zero"], "m"),
            predicted=one.predicted(state.get(f"{before}mass", 0.0)),
        )
        for before, one in flown.items()
    ]
