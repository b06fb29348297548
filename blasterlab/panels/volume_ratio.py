"""The volume ratio panel: how much chamber for how much barrel?

What it is for: a map of muzzle velocity over chamber volume and barrel length that follows tube, spring wire,
dart and losses as they are moved by hand, with the line of best lengths and the build's own point.  What it
leaves out: findings on the build beyond the two gravest, which `Build.check` says.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures.volume_ratio import MappedShot, VolumeView, volume_words
from blasterlab.panels.barrel_length import (
    CAUTION,
    CONTROLS,
    build_controls,
    cautions,
    quantities,
    shot_and_sweep,
)
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Choice
from blasterlab.report.shot import reason
from blasterlab.shot.volume_map import LENGTH_REACH, VARIED, VOLUME_REACH, volume_map

#: Volumes and barrel lengths of the map.
POINTS = (60, 60)
#: Those of the barrel length panel that move the map or the point in it, in the order shown.
_CONTROLS = tuple(
    next(row for row in CONTROLS if row[0] == name)
    for name in ("barrel.length", "chamber.stroke", "chamber.bore", "spring.wire_diameter", "dart.mass",
                 "losses.dart_friction", "losses.blowby_area")
)  # fmt: skip


def volume_ratio_panel(build: Build) -> Panel:
    """The volume ratio panel of a build.

    Parameters
    ----------
    build : Build [-]
        The build to start from; it is not changed.  ``panel.result.shot.build`` is the build as moved,
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
    Moving the barrel, or what the volumes are made by, only moves the point: the map is kept.
    """
    controls: list[Any] = [*build_controls(build, _CONTROLS)]
    why = "a longer stroke also squeezes the spring more; a wider tube does not"
    controls.insert(2, Choice("vary", "volumes by", VARIED, VARIED[0], why))

    @lru_cache(maxsize=4)
    def mapped(vary: str, changes: tuple[tuple[str, float], ...], volumes: Any, lengths: Any) -> Any:
        low, high = (units.quantity(end, "m^3") for end in volumes)
        start, stop = (units.quantity(end, "m") for end in lengths)
        return volume_map(
            build.replace(quantities(build, dict(changes))), vary, low, high, start, stop, POINTS
        )

    def compute(state: Mapping[str, Any]) -> MappedShot:
        """The map, the shot and the sweep of the build with the panel's values."""
        changes = {name: state[name] for name, *_ in _CONTROLS}
        tube = max(build.si["chamber.tube_length"], changes["chamber.stroke"])
        moved = build.replace(quantities(build, changes) | {"chamber.tube_length": units.quantity(tube, "m")})
        shot = shot_and_sweep(moved)
        vary = state["vary"]
        still = {n: v for n, v in changes.items() if n not in ("barrel.length", f"chamber.{vary}")}
        volumes = reach(swept(build), swept(moved), *VOLUME_REACH)
        lengths = reach(build.si["barrel.length"], changes["barrel.length"], *LENGTH_REACH)
        if vary == "bore":  # no tube is narrower than its port
            port = math.pi / 4.0 * build.si["chamber.port_diameter"] ** 2 * changes["chamber.stroke"]
            volumes = (max(volumes[0], port), volumes[1])
        else:  # a stroke that squeezes the spring no more than the map's least
            least = volumes[0] / (math.pi / 4.0 * changes["chamber.bore"] ** 2)
            still |= {"chamber.stroke": min(least, build.si["chamber.tube_length"])}
        return MappedShot(mapped(vary, tuple(still.items()), volumes, lengths), shot.shot, shot.sweep)

    return Panel("Volume ratio", controls, compute, words, [VolumeView()], CAUTION)


def swept(build: Build) -> float:
    """The swept volume of a build.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    float
        Volume [m^3].
    """
    return float(build.chamber.swept_volume.m_as("m^3"))


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


def words(result: MappedShot) -> list[str]:
    """The panel's sentences.

    Parameters
    ----------
    result : MappedShot [-]
        Map, shot and sweep.

    Returns
    -------
    list of str
        The line of key numbers first [-].
    """
    build, found = result.shot.build, result.map
    lines = [volume_words(result)]
    if not result.shot.exited:
        lines.append(reason(result.shot).capitalize() + ".")
    lines += cautions(result.shot)
    lines.append(
        f"The chamber sweeps {units.show(build.chamber.swept_volume, 'volume', 3)}, the barrel "
        f"{units.show(build.barrel.volume, 'volume', 3)}."
    )
    known = np.flatnonzero(np.isfinite(found.best_lengths) & ~found.at_end)
    if known.size > 1:
        ends = (
            f"{found.best_ratios[row]:.2f} at {units.show(float(found.volumes[row]), 'volume', 3)}"
            for row in (known[0], known[-1])
        )
        lines.append("Along the line of best lengths the ratio goes from " + " to ".join(ends) + ".")
    if found.solid_from < found.highest:
        lines.append(f"From {units.show(found.solid_from, 'volume', 3)} on the spring is solid at the catch.")
    tube, stroke = found.build.si["chamber.tube_length"], build.si["chamber.stroke"]
    if stroke > tube * (1.0 + 1e-9):
        lines.append(
            f"This stroke needs a longer tube: {units.show(stroke, 'length')}, and the build's has "
            f"{units.show(tube, 'length')}."
        )
    return lines
