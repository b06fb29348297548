"""The tuning panel: what one available step of each part does, and whether a cap still holds.

What it is for: a build moved by hand, and beside it what the next step of each part would do to speed, pull,
cap margin and best barrel, each with its range.  What it leaves out: which parts to order (`plan_build`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blasterlab.bench.kept import my_builds
from blasterlab.build import Build
from blasterlab.figures.plan import StepsView
from blasterlab.panels.base import Panel
from blasterlab.panels.caps import Cap, typed_cap
from blasterlab.panels.moved_build import MovedBuild
from blasterlab.plan.sensitivity import Steps, steps
from blasterlab.report.sensitivity import CAUTION, steps_told
from blasterlab.units import quantity

NAMES = ("barrel.length", "chamber.bore", "chamber.stroke", "spring.wire_diameter", "dart.mass")
CAP = Cap("cap", "cap", "speed", "10 m/s", "150 m/s", "60 m/s", "0.5 m/s", "of the event, for one shot")


def tuning_panel(build: Build | None = None) -> Panel[Steps]:
    """The tuning panel of a build.

    Parameters
    ----------
    build : Build or None [-]
        The build to start from; None takes the one on the bench, or a demo.
        ``panel.result`` is the `Steps`, ``panel.result.build`` the build as moved.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].
    """

    def compute(state: Mapping[str, Any]) -> Steps:
        return steps(state["start"].moved(state), typed_cap(state["cap"]), barrels=False)

    def finish(result: Steps) -> Steps:
        return steps(result.build, quantity(result.cap, "m/s"))

    controls, start = MovedBuild.by(CAP.of_event(), names=NAMES), my_builds.begin(given=build)
    return Panel("Tuning", controls, compute, steps_told, [StepsView()], CAUTION, finish, start)
