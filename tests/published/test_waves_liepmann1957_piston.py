"""Waves that a piston sends into a tube, against the closed forms of the textbooks."""

import math

import numpy as np
import pytest
from gas_tube import OPEN, PISTON, WALL, run_tube

GAMMA, P, T, R = 1.4, 101_325.0, 293.15, 287.05
RHO = P / (R * T)
C = math.sqrt(GAMMA * R * T)
AIR = (RHO, P)


def gas(cells):
    return np.tile([[RHO], [0.0], [P]], (1, cells))


@pytest.mark.parametrize("speed", [5.0, 40.0, 110.0, 300.0])
def test_liepmann1957_piston_driven_shock(speed):
    # H. W. Liepmann and A. Roshko, Elements of Gasdynamics, Wiley 1957, section 3.2 ff.: a piston set
    # moving at once
    # at M times the speed of sound of the gas at rest.
    mach = speed / C
    root = math.sqrt(1.0 + ((GAMMA + 1.0) * mach / 4.0) ** 2)
    ratio = 1.0 + GAMMA * (GAMMA + 1.0) / 4.0 * mach**2 + GAMMA * mach * root
    tube = run_tube(gas(100), 0.3, 4e-4, left=PISTON, push=(speed, 0.0), right=OPEN, air=AIR)
    assert tube.piston_history[-1, 3] / P == pytest.approx(ratio, rel=5e-4)


def piston_error(cells):
    # Simple wave ahead of a piston that accelerates from rest (Riemann; Landau and Lifshitz, Fluid
    # Mechanics, sec.
    # 101): p = p0 (1 + (gamma - 1) u / 2 c0)^(2 gamma/(gamma - 1)) on its face, before the wave breaks.
    a = 40_000.0
    tube = run_tube(gas(cells), 0.3, 5e-4, left=PISTON, push=(0.0, a))
    time = tube.piston_history[:, 0]
    exact = P * (1.0 + 0.5 * (GAMMA - 1.0) * a * time / C) ** (2.0 * GAMMA / (GAMMA - 1.0))
    return float(np.abs(tube.piston_history[:, 3] / exact - 1.0).max())


def test_second_order_on_the_face_of_an_accelerating_piston():
    coarse, fine = piston_error(50), piston_error(200)
    assert fine < 2e-6
    assert 1.8 < math.log(coarse / fine) / math.log(4.0) < 2.2


def test_quarter_wave_in_a_tube_with_one_open_end():
    # Acoustics: period 4 L / c with a pressure node at the mouth (Lord Rayleigh, The Theory of Sound, art.
    # 255).
    length, cells, swing = 0.2, 100, 1e-4
    x = (np.arange(cells) + 0.5) / cells * length
    # the cosine's mean over each cell
    half = 0.25 * math.pi / cells
    shape = np.cos(0.5 * math.pi * x / length) * math.sin(half) / half
    state = np.array([RHO * (1.0 + swing * shape), 0.0 * x, P * (1.0 + GAMMA * swing * shape)])
    period = 4.0 * length / C
    for part, factor in ((0.25, 0.0), (0.5, -1.0), (1.0, 1.0)):
        tube = run_tube(state, length, part * period, left=WALL, right=OPEN, air=AIR)
        swing_left = (tube.p - P) / (P * GAMMA * swing)
        assert swing_left == pytest.approx(factor * shape, abs=5e-3)
