"""Limits for shots to come against reference packages and the distributions of the textbooks."""

from __future__ import annotations

import math

import numpy as np
import pytest
import toleranceinterval
import uncertainties
from scipy import stats

from blasterlab.bench import cap_chance, significance
from blasterlab.bench import statistics as st
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.strings import ChronoString

SPEEDS = [39.2, 41.0, 40.3, 40.9, 39.7, 40.1, 40.6, 39.9, 40.4, 40.8]


# toleranceinterval 1.0.3 (its own tests: ISO 16269-6; G. J. Hahn, W. Q. Meeker, Statistical Intervals, 1991).
@pytest.mark.parametrize(("content", "level"), [(0.95, 0.95), (0.9, 0.99), (0.99, 0.9)])
def test_tolerance_factors(content: float, level: float) -> None:
    mean, sd = st.mean_sd(SPEEDS)
    low, high = toleranceinterval.twoside.normal(SPEEDS, content, level, method="exact")[0]
    factor = st.tolerance_factor(10, content, level)
    assert (high - mean) / sd == pytest.approx(factor, rel=1e-5)
    assert (mean - low) / sd == pytest.approx(factor, rel=1e-5)


# Largest of the next m: the multivariate t with correlation 1/(n+1) (Hahn & Meeker 1991, section 4.8), by
# scipy's multivariate_t; n = 10, m = 5, 95 %: 2.886778.
def test_largest_of_the_next() -> None:
    assert cap_chance.largest_factor(10, 5, 0.95) == pytest.approx(2.886778, abs=5e-7)
    for n, m in ((10, 5), (5, 3), (20, 10)):
        k = cap_chance.largest_factor(n, m, 0.9)
        shape = np.full((m, m), 1.0 / (n + 1)) + (1.0 - 1.0 / (n + 1)) * np.eye(m)
        point = np.full(m, k / math.sqrt(1.0 + 1.0 / n))
        chance = stats.multivariate_t.cdf(point, shape=shape, df=n - 1, maxpts=100_000 * m, random_state=1)
        assert chance == pytest.approx(0.9, abs=3e-5)
        single = stats.t.ppf(0.9, n - 1) * math.sqrt(1.0 + 1.0 / n)
        assert cap_chance.largest_factor(n, 1, 0.9) == pytest.approx(single, rel=1e-10)
        assert single < k < stats.t.ppf(1.0 - 0.1 / m, n - 1) * math.sqrt(1.0 + 1.0 / n)


# Student's predictive t (A. Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, section 3.2), and the exact
# limits of a tail share by the non-central t (Hahn & Meeker 1991, section 4.5).
def test_cap_risk_of_one_shot() -> None:
    mean, sd = st.mean_sd(SPEEDS)
    for cap in (39.0, 41.0, 42.0):
        risk = ChronoString.read(SPEEDS, unit="m/s").cap_risk(f"{cap} m/s")
        expected = stats.t.sf((cap - mean) / (sd * math.sqrt(1.1)), 9)
        assert risk.one_shot == pytest.approx(expected, rel=1e-8)
        assert risk.any_shot == pytest.approx(expected, rel=1e-8)
        k = (cap - mean) / sd * math.sqrt(10)
        for tail, share in ((0.025, risk.one_high), (0.975, risk.one_low)):
            z = stats.norm.isf(share)
            assert stats.nct.cdf(k, 9, z * math.sqrt(10)) == pytest.approx(1.0 - tail, abs=1e-8)


# The common error as one more normal variable, by plain Monte Carlo of the same posterior.
def test_shared_error_against_monte_carlo() -> None:
    draw = np.random.default_rng(5)
    size, n, m, sd, margin, common = 200_000, 8, 6, 0.6, 1.3, 0.4
    sigma = sd * np.sqrt((n - 1) / draw.chisquare(n - 1, size))
    mean = draw.normal(0.0, np.hypot(sigma / math.sqrt(n), common))
    top = mean + sigma * draw.normal(size=(m, size)).max(axis=0)
    expected = float(np.mean(top > margin))
    got = cap_chance.chance_any(margin, sd, n, m, common)
    assert got == pytest.approx(expected, abs=4.0 * math.sqrt(expected / size))
    share = stats.norm.sf((margin - mean) / sigma)
    low, high = cap_chance.chance_limits(margin, sd, n, 0.9, common)
    assert np.mean(share < low) == pytest.approx(0.05, abs=0.002)
    assert np.mean(share > high) == pytest.approx(0.05, abs=0.002)


# B. L. Welch, Biometrika 34, 28, 1947, and a regression line, by scipy.
def test_welch_and_trend() -> None:
    other = [41.0, 42.9, 40.2, 41.7]
    result = ChronoString.read(SPEEDS, unit="m/s").compare(ChronoString.read(other, unit="m/s"), 0.9)
    check = stats.ttest_ind(other, SPEEDS, equal_var=False)
    assert result.p == pytest.approx(check.pvalue, rel=1e-9)
    interval = check.confidence_interval(0.9)
    assert result.low.m_as("m/s") == pytest.approx(interval.low, rel=1e-9)
    assert result.high.m_as("m/s") == pytest.approx(interval.high, rel=1e-9)
    line = stats.linregress(np.arange(10), SPEEDS)
    drift = significance.trend(SPEEDS)
    assert drift.slope == pytest.approx(line.slope, rel=1e-10)
    assert drift.slope_error == pytest.approx(line.stderr, rel=1e-10)
    assert drift.p == pytest.approx(line.pvalue, rel=1e-9)


# J. Cohen, Statistical Power Analysis for the Behavioral Sciences, 2nd ed., 1988: power by the non-central t,
# here from scipy.
@pytest.mark.parametrize("ratio", [0.3, 1.0, 2.5, 60.0])
def test_shots_to_show(ratio: float) -> None:
    n = significance.shots_to_show(ratio)

    def power(count: int) -> float:
        dof = 2 * count - 2
        return float(stats.nct.sf(stats.t.ppf(0.975, dof), dof, ratio * math.sqrt(count / 2)))

    assert n == 2 or power(n) >= 0.8 > power(n - 1)


# JCGM 100:2008, eq. 10, by uncertainties 3.2; 100 mm ± 0.5 mm, 1 µs, 40 m/s: 0.20064 m/s.
def test_chronograph_uncertainty() -> None:
    screens = Chronograph("100 mm", "0.5 mm", "1 us")
    length = uncertainties.ufloat(0.1, 0.0005)
    times = [uncertainties.ufloat(0.1 / v, 1e-6) for v in SPEEDS]
    one = length / uncertainties.ufloat(0.1 / 40.0, 1e-6)
    assert screens.uncertainty("40 m/s").m_as("m/s") == pytest.approx(one.std_dev, rel=1e-9)
    assert one.std_dev == pytest.approx(0.20064, abs=5e-6)
    average = sum(length / time for time in times) / len(times)
    mean = st.mean_sd(SPEEDS)[0]
    common = screens.common(f"{mean} m/s").m_as("m/s")
    alone = screens.alone(f"{mean} m/s").m_as("m/s") / math.sqrt(len(SPEEDS))
    assert math.hypot(common, alone) == pytest.approx(average.std_dev, rel=1e-4)
    assert average.std_dev > 0.99 * common  # averaging does not help the common part
