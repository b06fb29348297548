"""``python -m blasterlab``: one shot in words, which also compiles the model once and for all.

What it is for: see that an installation works, and take the first compilation (some ten seconds) out of the
first notebook.  What it leaves out: everything else.
"""

from __future__ import annotations

import time

import numpy as np

from blasterlab import __version__, tables, units
from blasterlab.build import demo_build, demo_builds
from blasterlab.compiled import COMPILED
from blasterlab.shot.many import simulate_many
from blasterlab.shot.simulate import simulate


def main() -> None:
    """Shoot every demo build once, alone and together, and say so."""
    start = time.perf_counter()
    how = "compiling the model if it is new here" if COMPILED else "plain Python without numba, which is slow"
    print(f"blasterlab {__version__}: {how}, please wait", flush=True)
    builds = [demo_build(name) for name in demo_builds()]
    shots = [simulate(build) for build in builds]
    many = simulate_many(builds)
    for name, shot in zip(demo_builds(), shots, strict=True):
        print(f"{name:12s} {units.show(shot.muzzle_velocity, 'speed'):>10s}, {shot.build.title}")
    same = np.array_equal([shot.muzzle_velocity.magnitude for shot in shots], many.muzzle_velocity.magnitude)
    print(f"one by one and together {'agree' if same else 'DISAGREE: please report this'}")
    print(f"ready after {time.perf_counter() - start:.1f} s; data in {tables.data_folder().name}/")


if __name__ == "__main__":
    main()
