"""Simulation-based calibration: intervals hold the truth as often as they say.

S. Talts et al., *Validating Bayesian Inference Algorithms with Simulation-Based Calibration*,
arXiv:1804.06788, 2018: draw the truth from what is known beforehand, simulate, infer, and count.
"""

from __future__ import annotations

import numpy as np
import pytest

import blasterlab as bl
from blasterlab.bench.loss_model import LossModel
from blasterlab.bench.priors import priors_for

FREE = ["dart_friction", "blowby_area", "port_discharge"]
RUNS, SHOTS, SPREAD, SETUP = 200, 10, 0.012, 0.005


@pytest.mark.slow
def test_ninety_percent_intervals_cover_between_84_and_96_percent() -> None:
    base = bl.demo_build("workhorse").replace({"barrel.length": "30 cm"})
    shot = [base, base.replace({"spring.wire_diameter": "1.4 mm", "barrel.length": "22 cm"})]
    target = base.replace({"spring.wire_diameter": "1.6 mm"})
    priors = priors_for(FREE)
    mean, sd = np.array([prior.mean for prior in priors]), np.array([prior.sd for prior in priors])
    draw = np.random.default_rng(3)
    truth = mean + sd * draw.normal(size=(4 * RUNS, 3))
    truth = truth[(truth > 0.0).all(axis=1) & (truth[:, 2] <= 1.0)]
    speeds = LossModel([*shot, target], FREE, sd).readings(truth)
    leave = speeds.min(axis=1) > 5.0
    truth, speeds = truth[leave][:RUNS], speeds[leave][:RUNS]
    assert len(truth) == RUNS
    inside = np.zeros(5)
    for values, speed in zip(truth, speeds, strict=True):
        means = speed * (1.0 + SETUP * draw.normal(size=3))
        strings = [
            bl.ChronoString.read(m * (1.0 + SPREAD * draw.normal(size=SHOTS)), unit="m/s") for m in means[:2]
        ]
        fit = bl.calibrate(list(zip(shot, strings, strict=True)), FREE, setup=SETUP)
        inside[:3] += np.abs(fit.fit.values - values) < 1.6449 * fit.fit.sd
        guess = fit.predict(target, 0.9)
        inside[3] += guess.mean_low.m < means[2] < guess.mean_high.m
        inside[4] += guess.next_low.m < means[2] * (1.0 + SPREAD * draw.normal()) < guess.next_high.m
    share = dict(zip([*FREE, "mean", "next shot"], inside / RUNS, strict=True))
    assert all(0.84 <= value <= 0.96 for value in share.values()), share
