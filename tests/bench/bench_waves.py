"""What the shots with waves cost, and how their answers settle; prints tables, asserts nothing.

Use: ``python tests/bench/bench_waves.py``.  The builds are the invented demo builds.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import blasterlab as bl
from blasterlab.shot.from_build import parameters
from blasterlab.waves.chain_shot import chain_run
from blasterlab.waves.gas_shot import wave_run

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from wave_balance import balance


def cells() -> None:
    """Muzzle velocity and cost against the length of a cell."""
    print("cells: muzzle velocity, change from the finest, steps, seconds")
    for name in bl.demo_builds():
        p = parameters(bl.demo_build(name).si)
        wave_run(p, 5e-3)
        finest = wave_run(p, 0.5e-3).outcome.muzzle_velocity
        for cell in (8e-3, 4e-3, 2e-3, 1e-3, 0.5e-3):
            start = time.perf_counter()
            run = wave_run(p, cell)
            took = time.perf_counter() - start
            out, kept = run.outcome, balance(p, run)
            off = out.muzzle_velocity / finest - 1.0
            print(
                f"{name:12s} {1e3 * cell:4.1f} mm {out.muzzle_velocity:9.4f} m/s {off:+.1e} "
                f"{out.steps:7d} {took:7.3f} s   energy {kept.residual / kept.spring_work:+.0e}"
            )


def links() -> None:
    """Muzzle velocity and cost against the links of the spring's chain."""
    print("links: muzzle velocity, change from the finest, seconds")
    for name in bl.demo_builds():
        si = bl.demo_build(name).si
        p = parameters(si)._replace(plunger_mass=si["chamber.plunger_mass"])
        masses = tuple(si[f"spring{n}.mass"] for n in range(len(bl.demo_build(name).springs)))
        finest = chain_run(p, masses, 160)[0].muzzle_velocity
        for count in (5, 10, 20, 40, 80):
            start = time.perf_counter()
            out, _ = chain_run(p, masses, count)
            took = time.perf_counter() - start
            print(f"{name:12s} {count:4d} {out.muzzle_velocity:9.4f} m/s "
                  f"{out.muzzle_velocity / finest - 1.0:+.1e} {took:7.3f} s")  # fmt: skip


if __name__ == "__main__":
    cells()
    links()
