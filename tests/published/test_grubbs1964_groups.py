"""Group statistics against the theory of a circular normal pattern."""

import math

import numpy as np
import pytest

from blasterlab import tables, units
from blasterlab.flight import group_statistics as groups
from blasterlab.flight.measured_group import MeasuredGroup

RNG = np.random.default_rng(20240)


def test_rayleigh_constants():
    # Lord Rayleigh's distribution, e.g. Johnson, Kotz, Balakrishnan, Continuous Univariate Distributions 1,
    # 1994, ch. 18: mean √(π/2) σ, median √(2 ln 2) σ.
    assert pytest.approx(1.177410, abs=5e-7) == groups.CEP
    radii = np.hypot(*RNG.standard_normal((2, 400_000)))
    assert np.median(radii) == pytest.approx(groups.CEP, abs=0.005)


def test_bias_factor():
    # Grubbs 1964: c_G at n = 10 is 1.01398.
    assert groups.sigma_bias(10) == pytest.approx(1.01398, abs=5e-6)


@pytest.mark.parametrize("count", [2, 3, 5, 10, 20])
def test_extreme_spread_table(count):
    # data/reference/extreme_spread.csv: million-run simulations, equal to published tables (n = 3, 5, 10, 20:
    # 2.409, 3.066, 3.811, 4.451 sigma). Tolerance: four standard errors of our own 20 000 groups.
    table = tables.read("reference/extreme_spread").set_index("n")
    runs = 20_000
    clouds = RNG.standard_normal((runs, count, 2))
    spreads = np.array([groups.extreme_spread(cloud) for cloud in clouds])
    error = 4 * table.loc[count, "sd"] / math.sqrt(runs)
    assert spreads.mean() == pytest.approx(table.loc[count, "mean"], abs=error)
    assert spreads.std() == pytest.approx(table.loc[count, "sd"], rel=4 / math.sqrt(2 * runs) + 5e-3)


@pytest.mark.parametrize("count", [3, 10])
def test_sigma_is_unbiased_and_its_interval_covers(count):
    # Σr²/σ² is χ² with 2(n − 1) degrees of freedom, so a 95 % interval covers in 95 % of groups.
    runs = 2000
    found, covered = [], 0
    for cloud in RNG.standard_normal((runs, count, 2)):
        sigma = MeasuredGroup(units.quantity(cloud[:, 0], "m"), units.quantity(cloud[:, 1], "m")).sigma
        found.append(sigma.value.m_as("m"))
        covered += sigma.low.m_as("m") <= 1.0 <= sigma.high.m_as("m")
    spread = 1 / math.sqrt(2 * 2 * (count - 1))
    assert np.mean(found) == pytest.approx(1.0, abs=4 * spread * 1.1 / math.sqrt(runs))
    assert covered / runs == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / runs))
