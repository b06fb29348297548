"""The wind panel: where to aim in wind, at a distance, and at a target that walks across.

What it is for: `wind_panel`.  What it leaves out: gusts, which spread a group (`blasterlab.panels.group`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from blasterlab import units
from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build
from blasterlab.figures.aim import AimView, HoldView
from blasterlab.flight.hold_curve import HoldCurve, hold_curve
from blasterlab.flight.launch import Launch
from blasterlab.flight.wind import Wind
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Choice, Control
from blasterlab.panels.down_range import CAUTION, DISTANCE, SIGHT, ZERO, FlownBuild
from blasterlab.report.flight import aim_words

HOURS = ("12 o'clock, in the face", "1 o'clock", "2 o'clock", "3 o'clock, from the right", "4 o'clock",
         "5 o'clock", "6 o'clock, from behind", "7 o'clock", "8 o'clock", "9 o'clock, from the left",
         "10 o'clock", "11 o'clock")  # fmt: skip
RIGHT, LEFT = "to the right", "to the left"
#: Before those of the dart.
_CONTROLS: list[Any] = [
    DISTANCE,
    Control("wind", "wind", "speed", "0 m/s", "12 m/s", "2 m/s", "0.1 m/s", "steady all the way"),
    Choice("hour", "wind from", HOURS, HOURS[3], "as on a clock that lies in front of you"),
    Control("walk", "target walks", "speed", "0 m/s", "8 m/s", "1.4 m/s", "0.1 m/s",
            "straight across; 1.4 m/s is a walk, 4 m/s a run (common practice, no source)"),
    Choice("towards", "target walks", (RIGHT, LEFT), RIGHT, "as you see it"),
    ZERO,
    SIGHT,
]  # fmt: skip


def wind_panel(build: Build | None = None) -> Panel[HoldCurve]:
    """The panel that says where to aim in wind and at a walking target.

    Parameters
    ----------
    build : Build or None [-]
        The build; None takes the one on the bench, or a demo.  Its computed muzzle velocity and its dart are
        where the controls start.
        ``panel.result`` is the `HoldCurve`.

    Returns
    -------
    Panel
        The panel [-].

    Raises
    ------
    UnitError
        A build that shoots nothing.
    """

    def controls(start: Start[Build]) -> tuple[FlownBuild, list[Any]]:
        one = FlownBuild.of(start.value.title, start.value)
        speed, _, drag = one.controls()
        return one, [*_CONTROLS, speed, drag]

    def compute(state: Mapping[str, Any]) -> HoldCurve:
        return hold_all(state["start"], state)

    views: list[Any] = [AimView(), HoldView()]
    start = my_builds.begin(given=build)
    return Panel("Wind and lead", controls, compute, aim_words, views, CAUTION, start=start)


def hold_all(one: FlownBuild, state: Mapping[str, Any]) -> HoldCurve:
    """The holds with the panel's values.

    Parameters
    ----------
    one : FlownBuild [-]
        The build.
    state : mapping of str to float or str [SI]
        By the controls' names.

    Returns
    -------
    HoldCurve
        Holds at the target and along the range [m].

    Raises
    ------
    UnitError
        A target that cannot be reached.
    """
    q = units.quantity
    hour = HOURS.index(state["hour"]) or 12

    def aim(launch: Launch) -> HoldCurve:
        return hold_curve(
            launch,
            distance=q(state["distance"], "m"),
            zero_distance=q(state["zero"], "m"),
            wind=Wind.from_clock(q(state["wind"], "m/s"), float(hour)),
            target_speed=q(state["walk"], "m/s"),
            to_the_right=state["towards"] == RIGHT,
        )

    return replace(aim(one.launched(state)), ends=one.at_ends(state, aim))
