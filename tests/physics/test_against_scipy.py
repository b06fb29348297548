"""The kernel against the same equations written a second time and integrated by scipy (DOP853, rtol 1e-10).

P. Virtanen et al., *Nature Methods* 17, 261 (2020); E. Hairer, S. P. Nørsett, G. Wanner, *Solving Ordinary
Differential Equations I*, 1993 (the pair of order 8).
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from other_model import shoot
from random_shots import area, draw, run

from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.simulate import TOLERANCE

SHOTS = 100


def mild(seed: int) -> k.Parameters:
    """A shot that an explicit method can do in a second: small port, roomy dead volumes, short barrel."""
    rng = np.random.default_rng(1000 + seed)
    return draw(
        rng,
        wall_heat=0.0,
        wave_mass1=0.0,
        wave_mass2=0.0,
        port_area=0.8 * area(float(rng.uniform(0.004, 0.008))),
        chamber_dead=float(rng.uniform(3e-6, 8e-6)),
        barrel_dead=float(rng.uniform(2e-6, 5e-6)),
        length=float(rng.uniform(0.08, 0.35)),
    )


def test_muzzle_velocities_agree_to_a_millionth() -> None:
    left = 0
    for seed in range(SHOTS):
        p = mild(seed)
        outcome, state = run(p, 1e-10)
        if (
            outcome.status != rules.EXITED
        ):  # its fate alone is compared: the slow end is stiff, DOP853 crawls there
            assert math.isnan(shoot(p, "LSODA", 1e-8)[0]), seed
            continue
        left += 1
        speed, time, _ = shoot(p)
        assert state[k.W] == pytest.approx(speed, rel=1e-6), seed
        assert outcome.time == pytest.approx(time, rel=1e-6), seed
        rough = run(p, TOLERANCE)[1]
        assert rough[k.W] == pytest.approx(speed, rel=2e-4), seed
    assert 75 <= left < SHOTS  # both fates are there


def test_the_default_tolerance_is_usually_good_to_a_hundred_thousandth() -> None:
    errors = []
    for seed in range(SHOTS):
        p = mild(seed)
        fine, rough = run(p, 1e-9), run(p, TOLERANCE)
        if fine[0].status == rough[0].status == rules.EXITED:
            errors.append(abs(rough[1][k.W] / fine[1][k.W] - 1.0))
    assert len(errors) > 40
    assert np.median(errors) < 3e-6
    assert np.quantile(errors, 0.9) < 2e-5
