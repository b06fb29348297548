"""How often a calibration's intervals hold the truth, and what it costs; prints tables, asserts nothing.

Use: ``python tests/bench/bench_calibration.py [cases] [seed] [even] [chronograph]``.  Each case: an invented
demo build and relatives, losses drawn from the kit's own ranges (``even``: evenly within them), three strings
with the spreads that the kit assumes (``chronograph``: and a common error of 0.6 %), all default losses free;
then the mean and the next shot of a fourth build.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

import blasterlab as bl
from blasterlab.parts.priors import PRIORS

sys.path.insert(0, str(Path(__file__).parents[1]))
from simulated_strings import SETUP, held, simulated


def main(cases: int, seed: int, even: bool, chronograph: bl.Chronograph | None) -> None:
    """Simulate, calibrate, count."""
    draw = np.random.default_rng(seed)
    error = chronograph.relative if chronograph else 0.0
    print(
        f"{cases} cases, seed {seed}, losses {'even' if even else 'as their priors'}, chronograph {error:.2%}"
    )
    inside, took, effective, alike = [], [], [], 0
    for number in range(1, cases + 1):
        case = simulated(draw, error, even)
        start = time.perf_counter()
        fit = bl.calibrate(case.pairs, chronograph=chronograph, setup=SETUP)
        took.append(time.perf_counter() - start)
        effective.append(fit.effective)
        alike += bool(fit.alike)
        inside.append(held(case, fit))
        if number % 50 == 0 or number == cases:
            shares = dict(zip([*PRIORS, "mean", "next shot"], 100 * np.mean(inside, axis=0), strict=True))
            print(f"{number:4d}: " + ", ".join(f"{name} {share:.1f} %" for name, share in shares.items()))
            most = f"nine in ten below {np.quantile(took, 0.9):.2f} s, at most {max(took):.2f} s"
            points = f"{np.median(effective):.0f}, at least {min(effective):.0f}"
            print(
                f"      fit {np.median(took):.2f} s, {most}; effective points {points}; two answers {alike}"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    words = sys.argv[1:]
    cases, seed = (*(int(word) for word in words if word.isdigit()), *(200, 5)[len(words) :])[:2]
    main(cases, seed, "even" in words, bl.Chronograph.within("1 %") if "chronograph" in words else None)
