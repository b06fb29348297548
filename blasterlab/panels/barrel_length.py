"""The barrel length panel: how long should the barrel be, and how much does a wrong cut cost?

What it is for: a build's muzzle velocity against barrel length while the barrel, the tube, the stroke, the
wire, the dart and its losses are moved by hand; the best length, the lengths within 1 % of it, and where the
spring's energy goes, with the gravest findings on the moved build.  What it leaves out: the other findings,
which `Build.check` says.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from blasterlab.bench.kept import my_builds
from blasterlab.build import Build
from blasterlab.figures.shot import SweptShot, VelocityView
from blasterlab.panels.base import Panel
from blasterlab.panels.caps import cap_controls, cap_of
from blasterlab.panels.moved_build import KeptResults, MovedBuild
from blasterlab.report.barrel_length import panel_words
from blasterlab.report.build import cost, sources
from blasterlab.report.shot import CAUTION
from blasterlab.report.told import Told


def barrel_panel(build: Build | None = None) -> Panel[SweptShot]:
    """The barrel length panel of a build.

    Parameters
    ----------
    build : Build or None [-]
        The build to start from; None takes the one on the bench, or a demo.
        ``panel.result.shot.build`` is the build as moved.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].

    Raises
    ------
    UnitError
        A build that cannot be shot as it is.
    """
    kept = KeptResults()

    def compute(state: Mapping[str, Any]) -> SweptShot:
        moved = state["start"].moved(state)
        return replace(kept.swept_shot(moved), cap=cap_of(state, moved.dart.mass))

    return Panel(
        "Barrel length",
        MovedBuild.by(*cap_controls()),
        compute,
        told,
        [VelocityView()],
        CAUTION,
        kept.finished,
        my_builds.begin(given=build),
    )


def told(result: SweptShot) -> Told:
    """What this panel and the build text panel say."""
    said = panel_words(result)
    build, found = result.shot.build, result.near
    if build.assumed and found is not None:
        costs = cost(build.assumed, (found.low, found.best, found.high), found.shares)
        said = replace(said, heard=(*costs, *said.heard), more=(*said.more, *sources(build)))
    return said
