"""The volume ratio panel: how much chamber for how much barrel?

What it is for: a map of muzzle velocity over chamber volume and barrel length that follows tube, spring wire,
dart and losses as they are moved by hand, with the line of best lengths and the build's own point.  What it
leaves out: findings on the build beyond the two gravest, which `Build.check` says.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

from blasterlab import units
from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build
from blasterlab.figures.volume_ratio import MappedShot, VolumeView
from blasterlab.panels.base import Panel
from blasterlab.panels.caps import cap_controls, cap_of
from blasterlab.panels.controls import Choice, Control
from blasterlab.panels.moved_build import KeptResults, MovedBuild
from blasterlab.report.shot import CAUTION
from blasterlab.report.volume_ratio import panel_words
from blasterlab.shot.speed_range import range_of
from blasterlab.shot.volume_map import LENGTH_REACH, VARIED, VOLUME_REACH, VolumeMap, volume_map

#: Volumes and barrel lengths of the map, and while a slider moves.
POINTS, SLIDING = (60, 60), (30, 30)
#: What moves the map or the point in it, in the order shown.
NAMES = ("barrel.length", "chamber.stroke", "chamber.bore", "spring.wire_diameter", "dart.mass",
         "losses.dart_friction", "losses.blowby_area")  # fmt: skip
_WHY = "a longer stroke also squeezes the spring more; a wider tube does not"


def volume_ratio_panel(build: Build | None = None) -> Panel[MappedShot]:
    """The volume ratio panel of a build.

    Parameters
    ----------
    build : Build or None [-]
        The build to start from; None takes the one on the bench, or a demo.
        ``panel.result.shot.build`` is the build as moved,
        ``panel.result.map`` the map.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].

    Raises
    ------
    UnitError
        A build that cannot be shot as it is.

    Notes
    -----
    Moving the barrel, or what the volumes are made by, only moves the point: the map is kept.  While a slider
    moves, the map has a quarter of its cells.
    """
    kept = KeptResults()

    @lru_cache(maxsize=4)
    def mapped(start: MovedBuild, vary: str, still: tuple[tuple[str, float], ...], *ends: float) -> VolumeMap:
        return _shot(start.moved(dict(still)), vary, ends, SLIDING)

    @lru_cache(maxsize=4)
    def fine(rough: VolumeMap) -> VolumeMap:
        ends = (rough.volumes[0], rough.highest, *rough.lengths[[0, -1]])
        return _shot(rough.build, rough.vary, ends, POINTS)

    def finish(result: MappedShot) -> MappedShot:
        return replace(result, map=fine(result.map), near=range_of(result.shot.build))

    def compute(state: Mapping[str, Any]) -> MappedShot:
        """The map, the shot and the sweep of the build with the panel's values."""
        now, vary, start = {name: state[name] for name in NAMES}, state["vary"], state["start"]
        build = start.build
        bore, stroke, longest = now["chamber.bore"], now["chamber.stroke"], build.si["chamber.tube_length"]
        tube = units.quantity(max(longest, stroke), "m")
        here = kept.swept_shot(build.replace(start.changes(state) | {"chamber.tube_length": tube}))
        own = swept(build.si["chamber.bore"], build.si["chamber.stroke"])
        low, high = reach(own, swept(bore, stroke), *VOLUME_REACH)
        still = now | {name: start.first[name] for name in ("barrel.length", f"chamber.{vary}")}
        if vary == "bore":  # no tube is narrower than its port
            low = max(low, swept(build.si["chamber.port_diameter"], stroke))
        else:  # a stroke that squeezes the spring no more than the map's least
            still["chamber.stroke"] = min(low / swept(bore, 1.0), longest)
        lengths = reach(build.si["barrel.length"], now["barrel.length"], *LENGTH_REACH)
        found = mapped(start, vary, tuple(still.items()), low, high, *lengths)
        cap = cap_of(state, here.shot.build.dart.mass)
        return MappedShot(here.shot, here.sweep, here.findings, cap=cap, map=found)

    vary = Choice("vary", "volumes by", VARIED, VARIED[0], _WHY)

    def controls(begun: Start[Build]) -> tuple[MovedBuild, list[Control | Choice]]:
        start = MovedBuild(begun.value, NAMES)
        return start, [*start.controls[:2], vary, *start.controls[2:], *cap_controls()]

    start = my_builds.begin(given=build)
    return Panel("Volume ratio", controls, compute, panel_words, [VolumeView()], CAUTION, finish, start)


def _shot(build: Build, vary: str, ends: Sequence[float], points: tuple[int, int]) -> VolumeMap:
    """The map between two volumes and two lengths [SI]."""
    low, high, first, last = map(units.quantity, ends, ("m^3", "m^3", "m", "m"))
    return volume_map(build, vary, low, high, first, last, points)


def swept(bore: float, stroke: float) -> float:
    """The volume that a plunger sweeps [m^3]."""
    return math.pi / 4.0 * bore**2 * stroke


def reach(first: float, now: float, low: float, high: float) -> tuple[float, float]:
    """The ends of an axis: shares of the first value, doubled or halved until they hold the present one.

    Parameters
    ----------
    first, now : float [any]
        The value at the start, and the present one.
    low, high : float [-]
        Shares of the first.

    Returns
    -------
    tuple of float
        Both ends, which stay while the value moves within them [as `first`].
    """
    least, most = low * first, high * first
    while least > now:
        least *= 0.5
    while most < now:
        most *= 2.0
    return least, most
