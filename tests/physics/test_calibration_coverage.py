"""Simulation-based calibration: intervals hold the truth as often as they say.

A small seeded set; ``tests/bench/bench_calibration.py`` prints the same for hundreds of cases.
"""

from __future__ import annotations

import numpy as np
import pytest
from simulated_strings import held, simulated

import blasterlab as bl

CASES = 20


@pytest.mark.slow
def test_ninety_percent_intervals_hold_the_truth_with_every_default_loss_free() -> None:
    draw = np.random.default_rng(2)
    cases = [simulated(draw) for _ in range(CASES)]
    inside, places = [], []
    for case in cases:
        fit = bl.calibrate(case.pairs)
        inside.append(held(case, fit))
        places += [np.mean(fit.sample[:, i] < value) for i, value in enumerate(case.truth.values())]
    losses, mean, next_shot = np.split(np.array(inside, float), [5, 6], axis=1)
    assert 0.8 <= losses.mean() <= 0.98
    # 90 % of 20 are 18; fewer than 15 come up once in 90 times by chance
    assert mean.sum() >= 15
    assert next_shot.sum() >= 15
    # where the truth lies in the sample: evenly from 0 to 1, three standard errors allowed
    assert np.mean(places) == pytest.approx(0.5, abs=3 * np.sqrt(1 / 12 / len(places)))
    assert np.var(places) == pytest.approx(1 / 12, abs=3 * np.sqrt(1 / 180 / len(places)))
