"""A slider of the volume ratio panel stops: map, shot, sweep, picture and words; prints a table.

Use: ``python tests/bench/bench_volume_ratio.py [moves]``.  The map has 60 × 60 cells, to be redrawn in less
than half a second.  Other work on the machine adds to the times.
"""

from __future__ import annotations

import os
import statistics
import sys
import time
from collections.abc import Sequence

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.figures.style import Painter
from blasterlab.figures.volume_ratio import VolumeView
from blasterlab.shot.volume_map import VARIED


def line(name: str, times: Sequence[float]) -> str:
    """Median, 95th percentile and longest of times in ms."""
    ranked = sorted(times)
    high = ranked[min(len(ranked) - 1, round(0.95 * (len(ranked) - 1)))]
    return f"{name:<44} {statistics.median(ranked):7.0f} {high:7.0f} {ranked[-1]:7.0f} {len(ranked):5d}"


def stopped(name: str, vary: str, moves: int) -> list[str]:
    """A panel of a demo build, with a control moved a little each time so that no map is kept."""
    build = bl.demo_build(name)
    panel, painter = panels.volume_ratio_panel(build), Painter(VolumeView())
    panel.set("vary", vary)
    whole, only_map, picture, point = [], [], [], []
    for move in range(moves):
        start = time.perf_counter()
        panel.set("dart.mass", units.quantity(1.0 + 0.01 * move, "g"))
        whole.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        found = bl.volume_map(panel.result.map.build, vary)
        only_map.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        painter.png(panel.result)
        picture.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        panel.set("barrel.length", units.quantity(0.2 + 0.001 * move, "m"))
        point.append(1e3 * (time.perf_counter() - start))
    panel.close()
    return [
        line(f"{name}, volumes by {vary}: dart moved, all of it", whole),
        line(f"  of it: 60 x 60 map, {found.shots} shots", only_map),
        line("  of it: picture", picture),
        line("  barrel moved: the map is kept", point),
    ]


def main() -> None:
    moves = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before")
    print(f"{'ms':<44} {'median':>7} {'p95':>7} {'most':>7} {'n':>5}")
    for name in bl.demo_builds():
        for vary in VARIED:
            print("\n".join(stopped(name, vary, moves)), flush=True)


if __name__ == "__main__":
    main()
