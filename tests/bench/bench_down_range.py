"""Flights, groups and the down-range panels; prints a table.

Use: ``python tests/bench/bench_down_range.py [repeats]``.  Wall-clock times after one warm-up; other work on
the machine adds to them, so the barrel length panel is timed beside the others.
"""

from __future__ import annotations

import itertools
import math
import os
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import blasterlab as bl
from blasterlab import panels
from blasterlab.flight.equations import LONGEST, fly_dense
from blasterlab.flight.fly import TOLERANCE
from blasterlab.flight.launch import Launch

DART = bl.Projectile("1.0 g", "12.7 mm", 0.70)


def line(name: str, run: Callable[[], Any], repeats: int) -> str:
    """Median and 95th percentile in ms."""
    run()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append(1e3 * (time.perf_counter() - start))
    ranked = sorted(times)
    high = ranked[min(repeats - 1, round(0.95 * (repeats - 1)))]
    return f"{name:<56} {statistics.median(ranked):9.3f} {high:9.3f} {repeats:5d}"


def compiled_flight() -> Callable[[], Any]:
    """One flight to 15 m in the compiled core, as tight as `fly` asks for."""
    start = Launch.of(DART, "40 m/s").parameters._replace(elevation=0.05)
    return lambda: fly_dense(start, 15.0, -math.inf, LONGEST, TOLERANCE, 0.0)


def group(draws: int) -> Callable[[], Any]:
    """A group with every cause of spread, its extreme spread and its chances of a hit."""
    spread = {"speed_spread": "1 m/s", "mass_spread": 0.02, "drag_spread": 0.05, "pointing": "3 mrad"}

    def run() -> Any:
        found = bl.group(DART, "40 m/s", distance="10 m", gust="0.5 m/s", draws=draws, **spread)
        return found.extreme_spread, found.hit_table(diameter="30 cm")

    return run


def moves(panel: Any, name: str, values: list[str]) -> Callable[[], None]:
    """The panel with its control at the next of some values, round and round."""
    turn = itertools.cycle(values)
    return lambda: panel.set(name, next(turn))


def main() -> None:
    repeats = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    build = bl.demo_build("workhorse")
    heavy = build.replace({"dart.mass": "1.3 g"})
    metres = [f"{12 + 0.5 * step} m" for step in range(8)]
    cuts = [f"{300 + step} mm" for step in range(8)]
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before: other work adds to the times")
    print(f"{'ms':<56} {'median':>9} {'p95':>9} {'n':>5}")
    for name, run in (
        ("one flight, compiled core", compiled_flight()),
        ("one flight, bl.fly with units", lambda: bl.fly(DART, "40 m/s", distance="15 m")),
        ("a zero", lambda: bl.zero(DART, "40 m/s", distance="10 m", sight_height="40 mm")),
        ("a point-blank span", lambda: bl.point_blank(DART, "40 m/s", target_height="30 cm")),
        ("10 000-shot group, 12 distances, with its statistics", group(10_000)),
        ("1 000-shot group, as the panel flies it", group(1_000)),
        (
            "panel.set: barrel length, for comparison",
            moves(panels.barrel_panel(build), "barrel.length", cuts),
        ),
        ("panel.set: trajectory", moves(panels.trajectory_panel(build), "distance", metres)),
        (
            "panel.set: trajectory, two builds",
            moves(panels.trajectory_panel([build, heavy]), "distance", metres),
        ),
        ("panel.set: wind and lead", moves(panels.wind_panel(build), "distance", metres)),
        ("panel.set: group with ten holes", moves(panels.group_panel(build), "distance", metres)),
    ):
        print(line(name, run, repeats), flush=True)


if __name__ == "__main__":
    main()
