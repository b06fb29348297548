"""The group panel: how large a group to expect, how often the target is hit, and the real holes beside it.

What it is for: `group_panel` predicts a group from what differs between shots, and lays measured holes over
it that are pasted, typed, clicked on a sheet, or taken off a photograph.  What it leaves out: the sheet and
the photograph themselves, which stand in ``sheet`` and ``photo``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures.group import Aimed, GroupView, HitView, hit_words
from blasterlab.flight.dispersion import group
from blasterlab.flight.dispersion_result import Comparison
from blasterlab.flight.groups import MeasuredGroup, point_lines, read_points
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Choice, Control, Paste
from blasterlab.panels.flown import CAUTION, FlownBuild
from blasterlab.panels.photo import Photograph, as_lines
from blasterlab.panels.sheet import HOME, Sheet
from blasterlab.report.numbers import chance as percent

ROUND, BOX = "round, as wide as set", "rectangle"
DRAWS = {"1 000, quick": 1000, "10 000, exact": 10_000}
BARE = ("mm", "cm", "in")
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


@dataclass(frozen=True)
class GroupResult:
    """What the group panel shows: the prediction on its target, the holes, and how the two compare."""

    aimed: Aimed
    comparison: Comparison | None
    lone: bool


def group_panel(build: Build, measured: str = HOLES) -> Panel:
    """The group panel of a build.

    Parameters
    ----------
    build : Build [-]
        The build; its computed muzzle velocity and its dart fly.
    measured : str [-]
        Holes that stand in the box at first: right and up of the aim, one hole a line; "" for none.

    Returns
    -------
    Panel
        The panel; ``panel.result.aimed.group`` is the prediction [-].

    Raises
    ------
    UnitError
        A build that shoots nothing, or holes that cannot be read.
    """
    one = FlownBuild.of(build.title, build)
    sd = units.quantity(0.015 * one.speed, "m/s")
    controls: list[Any] = [
        Control("distance", "target at", "distance", "2 m", "27 m", "10 m", "0.5 m", "from the muzzle"),
        Choice("shape", "target", (ROUND, BOX), ROUND, "what counts as a hit"),
        Control("width", "target width", "length", "50 mm", "1 m", "300 mm", "10 mm", "diameter when round"),
        Control("height", "target height", "length", "50 mm", "2 m", "600 mm", "10 mm", "of the rectangle",
                ("shape", BOX)),
        Control("shots", "shots", "number", 3, 30, 10, 1, "in one group"),
        Control("sd", "velocity SD", "speed", "0 m/s", "6 m/s", sd, "0.1 m/s", "from shot to shot"),
        Control("pointing", "pointing", "angle", "0 deg", "2 deg", "0.25 deg", "0.01 deg",
                "SD of hand and barrel along each axis; 0.25° is 44 mm at 10 m"),
        Control("drag", "drag ±", "number", 0, 0.3, 0.05, 0.01, "relative SD from dart to dart; type 5 %"),
        Control("mass", "mass ±", "number", 0, 0.2, 0.02, 0.005, "relative SD from dart to dart; type 2 %"),
        Control("gust", "gusts", "speed", "0 m/s", "5 m/s", "0 m/s", "0.1 m/s", "SD of the wind, each axis"),
        Choice("draws", "darts flown", tuple(DRAWS), "1 000, quick", "more darts: smoother, slower"),
        Paste("holes", "measured: right, up of the aim", measured, "one hole a line", rows=5),
        Choice("unit", "numbers are in", BARE, "mm", "where the holes are written without a unit"),
    ]  # fmt: skip
    sheet = Sheet()

    def compute(state: Mapping[str, Any]) -> GroupResult:
        result = evaluate(one, state)
        sheet.show(result.aimed, state["unit"])
        return result

    views: list[Any] = [_FaceView(), _ChanceView()]
    panel = Panel("Group", controls, compute, group_lines, views, CAUTION)
    panel.add_class(HOME)
    sheet.add = partial(_add, panel)
    photograph = Photograph()
    photograph.take = partial(_take, panel)
    panel.children = (*panel.children, sheet.box, photograph.box)
    return panel


def _add(panel: Panel, hole: str) -> None:
    """One more line in the box of holes."""
    before = str(panel.values["holes"]).rstrip()
    panel.set("holes", f"{before}\n{hole}" if before else hole)


def _take(panel: Panel, holes: MeasuredGroup) -> None:
    """The holes of a photograph in place of those in the box."""
    panel.set("holes", as_lines(holes, panel.values["unit"]))


def evaluate(one: FlownBuild, state: Mapping[str, Any]) -> GroupResult:
    """The prediction and the holes with the panel's values.

    Parameters
    ----------
    one : FlownBuild [-]
        The build.
    state : mapping of str to float or str [SI]
        By the controls' names.

    Returns
    -------
    GroupResult
        Prediction, holes, comparison [-].

    Raises
    ------
    UnitError
        A distance that cannot be reached, or holes that cannot be read.
    """
    q = units.quantity
    predicted = group(
        one.build.dart,
        q(one.speed, "m/s"),
        distance=q(state["distance"], "m"),
        shots=round(state["shots"]),
        speed_spread=q(state["sd"], "m/s"),
        mass_spread=state["mass"],
        drag_spread=state["drag"],
        pointing=q(state["pointing"], "rad"),
        gust=q(state["gust"], "m/s"),
        air=one.build.air,
        distances=[q(share * state["distance"], "m") for share in SHARES],
        draws=DRAWS[state["draws"]],
    )
    target = {"diameter": q(state["width"], "m")}
    if state["shape"] == BOX:
        target = {"width": q(state["width"], "m"), "height": q(state["height"], "m")}
    points = _read(state["holes"], state["unit"])
    lone = len(points) == 1
    measured = None if len(points) < 2 else MeasuredGroup(q(points[:, 0], "m"), q(points[:, 1], "m"))
    comparison = None if measured is None else predicted.compare(measured)
    return GroupResult(Aimed(predicted, target, measured), comparison, lone)


def _read(text: str, unit: str) -> Any:
    """Holes with their units, or bare numbers [m]."""
    if re.search(r"\d,\d+\s*;\s*-?\d+,\d", text):
        raise units.UnitError(
            "group: a semicolon between numbers with commas can be one hole or two; write one hole a line, "
            "right and up, and decimals with a point, as in 12.5, -3.2"
        )
    lines = point_lines(text)
    for number, line in enumerate(lines, 1):
        if line.count(",") > 1 or re.search(r"\d,\d+\s+-?\d+,\d", line):
            raise units.UnitError(
                f"group, point {number}: read {line!r:.64}; two numbers are wanted, right and up, with "
                "decimals written with a point, as in 12.5, -3.2"
            )
    bare = all(re.fullmatch(r"[-+\d.,\s]*", line) for line in lines)
    return read_points("\n".join(lines), unit if bare else None)


def group_lines(result: GroupResult) -> list[str]:
    """What the group panel says.

    Parameters
    ----------
    result : GroupResult [-]
        From `evaluate`.

    Returns
    -------
    list of str
        The line of key numbers first [-].
    """
    aimed, show = result.aimed, units.show
    found, chance = aimed.group, aimed.chance
    spread = found.extreme_spread
    key = (
        f"{found.shots} shots at {show(found.distance, 'distance', 3)}: extreme spread "
        f"{show(spread.value, 'length', 3)}, half within {show(found.cep, 'length', 3)}, "
        f"{percent(chance.value)} hit"
    )
    blame = found.blame.replace("; ", ". ")
    lines = [
        key,
        f"Extreme spread {spread.words()} in nine groups of ten.",
        f"{blame[0].upper()}{blame[1:]}.".replace(". horizontal", ". Horizontal"),
        f"Mean radius {aimed.radius.words()}.",
        f"{hit_words(aimed)}.",
    ]
    if result.lone:
        lines.append("One hole tells no spread; add another.")
    if aimed.measured is not None and result.comparison is not None:
        lines += [f"Measured: {aimed.measured.words}.", f"Against the prediction: {result.comparison.words}."]
    return lines


class _FaceView(GroupView):
    """The target's face, taking the panel's result."""

    def frame(self, result: Any, old: Any) -> Any:
        return super().frame(result.aimed, old)

    def draw_live(self, result: Any) -> Any:
        return super().draw_live(result.aimed)


class _ChanceView(HitView):
    """The chance of a hit, taking the panel's result."""

    def frame(self, result: Any, old: Any) -> Any:
        return super().frame(result.aimed, old)

    def draw_live(self, result: Any) -> Any:
        return super().draw_live(result.aimed)
