"""The group panel: how large a group to expect, how often the target is hit, and the real holes beside it.

What it is for: `group_panel` predicts a group from what differs between shots, and lays measured holes over
it that are pasted, typed, clicked on a sheet, or taken off a photograph.  What it leaves out: the sheet and
the photograph themselves, which stand in ``sheet`` and ``photo``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build, demo_build
from blasterlab.figures.group import GroupView, HitView
from blasterlab.flight.dispersion import group
from blasterlab.flight.group_on_target import GroupOnTarget
from blasterlab.flight.holes import point_lines, read_points
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.flight.target import Size
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Choice, Control, Paste
from blasterlab.panels.down_range import CAUTION, FlownBuild
from blasterlab.panels.photo import Photograph, as_lines
from blasterlab.panels.sheet import HOME, Sheet
from blasterlab.report.groups import group_words

ROUND, BOX = "round, as wide as set", "rectangle"
DRAWS = {"1 000, quick": 1000, "10 000, exact": 10_000}
BARE = ("mm", "cm", "in")
SPREAD, CLICKED = "What differs from shot to shot", "Click holes on a sheet"
#: What the prediction depends on; holes on paper are of one setting of these.
_PREDICTS = ("distance", "dart.speed", "dart.mass", "dart.drag", "sd", "pointing", "drag", "mass", "gust")
#: Distances of the hit chance over the target's.
SHARES = (0.25, 0.5, 0.75, 0.9, 1.0, 1.15, 1.3, 1.45)
#: Invented holes: no measured data behind them.
HOLES = """# invented: right, up
12, -48
41, 22
-33, 61
84, -19
-61, -38
18, 92
-24, 8
52, -71
-88, 27
6, 3"""


def group_panel(build: Build | None = None, measured: str | None = None) -> Panel[GroupOnTarget]:
    """The group panel of a build.

    Parameters
    ----------
    build : Build or None [-]
        The build; None takes the one on the bench, or a demo.  Its computed muzzle velocity and its dart fly.
    measured : str or None [-]
        Holes that stand in the box at first: right and up of the aim, one hole a line; "" for none.  None
        shows the demo's invented holes, beside the demo's own prediction and no other.

    Returns
    -------
    Panel
        The panel; ``panel.result.group`` is the prediction [-].

    Raises
    ------
    UnitError
        A build that shoots nothing, or holes that cannot be read.
    """
    sheet = Sheet()

    def controls(start: Start[Build]) -> tuple[_Group, list[Any]]:
        one = _Group.of(start.value.title, start.value)
        holes = measured
        if holes is None:
            holes = HOLES if start.value.to_text() == demo_build("workhorse").to_text() else ""
        asked = _controls(one, holes)
        return replace(one, first={c.name: c.read(c.default) for c in asked}), asked

    def compute(state: Mapping[str, Any]) -> GroupOnTarget:
        one = state["start"]
        moved = any(state[name] != value for name, value in one.first.items() if name in _PREDICTS)
        if measured is None and moved and state["holes"] == HOLES:
            state = {**state, "holes": ""}  # they were made up for the settings at the start
        result = evaluate(one, state)
        sheet.show(result, state["unit"])
        return result

    views: list[Any] = [GroupView(), HitView()]
    start = my_builds.begin(given=build)
    panel = Panel("Group", controls, compute, group_words, views, CAUTION, start=start)
    panel.add_class(HOME)
    sheet.add = partial(_add, panel)
    photograph = Photograph()
    photograph.take = lambda holes: panel.set("holes", as_lines(holes, str(panel.values["unit"])))
    paper = W.Accordion([sheet.box], titles=[CLICKED])
    panel.children = (*panel.children, paper, photograph.box)
    return panel


@dataclass(frozen=True)
class _Group(FlownBuild):
    """A build whose darts make a group, and the panel's first values [SI]."""

    first: Mapping[str, Any] = field(default_factory=dict)


def _controls(one: FlownBuild, measured: str) -> list[Any]:
    """What can be asked of a build's darts, and the holes to start with."""
    sd, fold = 0.015 * one.launch.speed, SPREAD
    each = "SD from shot to shot"
    return [
        Control("distance", "target at", "distance", "2 m", "27 m", "10 m", "0.5 m", "from the muzzle"),
        Choice("shape", "target", (ROUND, BOX), ROUND, "what counts as a hit"),
        Control("width", "target width", "length", "50 mm", "1 m", "300 mm", "10 mm", "diameter when round"),
        Control("height", "target height", "length", "50 mm", "2 m", "600 mm", "10 mm", "of the rectangle",
                ("shape", BOX)),
        *one.controls("dart."),
        Control("shots", "shots", "number", 3, 30, 10, 1, "in one group"),
        Control("pointing", "pointing", "angle", "0 deg", "2 deg", "0.25 deg", "0.01 deg",
                "SD of hand and barrel along each axis; 0.25° is 44 mm at 10 m"),
        Control("sd", "velocity SD", "speed", "0 m/s", "6 m/s", sd, "0.1 m/s", each, None, fold),
        Control("drag", "drag ±", "number", 0, 0.3, 0.05, 0.01, "relative SD from dart to dart; type 5 %",
                None, fold),
        Control("mass", "mass ±", "number", 0, 0.2, 0.02, 0.005, "relative SD from dart to dart; type 2 %",
                None, fold),
        Control("gust", "gusts", "speed", "0 m/s", "5 m/s", "0 m/s", "0.1 m/s", "SD of the wind, each axis",
                None, fold),
        Choice("draws", "darts flown", tuple(DRAWS), "1 000, quick", "more darts: smoother, slower", fold),
        Paste("holes", "measured: right, up of the aim", measured, "one hole a line", rows=4),
        Choice("unit", "numbers are in", BARE, "mm", "where the holes are written without a unit"),
    ]  # fmt: skip


def _add(panel: Panel, hole: str) -> None:
    """One more line in the box of holes."""
    before = str(panel.values["holes"]).rstrip()
    panel.set("holes", f"{before}\n{hole}" if before else hole)


def evaluate(one: FlownBuild, state: Mapping[str, Any]) -> GroupOnTarget:
    """The prediction and the holes with the panel's values.

    Parameters
    ----------
    one : FlownBuild [-]
        The build.
    state : mapping of str to float or str [SI]
        By the controls' names.

    Returns
    -------
    GroupOnTarget
        Prediction and holes [-].

    Raises
    ------
    UnitError
        A distance that cannot be reached, or holes that cannot be read.
    """
    q = units.quantity
    predicted = group(
        one.launched(state, "dart."),
        distance=q(state["distance"], "m"),
        shots=round(state["shots"]),
        speed_spread=q(state["sd"], "m/s"),
        mass_spread=state["mass"],
        drag_spread=state["drag"],
        pointing=q(state["pointing"], "rad"),
        gust=q(state["gust"], "m/s"),
        distances=[q(share * state["distance"], "m") for share in SHARES],
        draws=DRAWS[state["draws"]],
    )
    size: Size = {"diameter": q(state["width"], "m")}
    if state["shape"] == BOX:
        size = {"width": q(state["width"], "m"), "height": q(state["height"], "m")}
    bare = all(re.fullmatch(r"[-+\d.,\s]*", line) for line in point_lines(state["holes"]))
    points = read_points(state["holes"], state["unit"] if bare else None)
    measured = MeasuredGroup.of(points) if len(points) > 1 else None
    return GroupOnTarget(predicted, size, measured, lone_hole=len(points) == 1)
