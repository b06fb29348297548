"""Statistics of a string against NIST's certified and worked values."""

from __future__ import annotations

import math

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.bench import significance as sig
from blasterlab.bench import statistics as st
from blasterlab.bench.strings import ChronoString
from blasterlab.flight.group_statistics import sigma_ends

# NIST/SEMATECH e-Handbook of Statistical Methods, 2012, section 1.3.5.17.1: eight mass-spectrometer readings
# of a uranium isotope; upper-tailed test at 5 %: G = 2.4687, critical value 2.032.
URANIUM = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
# NIST/SEMATECH e-Handbook, section 1.3.5.17.3 (Rosner 1983): 54 values, up to ten odd ones at 5 %; statistic
# and critical value of the first three steps 3.118 3.158, 2.942 3.151, 3.179 3.143; three are odd.
ROSNER = """
-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76 1.77 1.81 1.91
1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54 2.62 2.64 2.90 2.92 2.92 2.93
3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01
"""


def test_grubbs_example() -> None:
    step = sig.grubbs(URANIUM)[0]
    assert step.position == 7
    assert step.statistic == pytest.approx(2.4687, abs=1e-4)  # printed cut off, not rounded
    assert sig.grubbs_critical(8, 0.05, sides=1) == pytest.approx(2.032, abs=5e-4)
    assert step.odd


def test_generalised_test_of_rosner() -> None:
    values = [float(word) for word in ROSNER.split()]
    assert len(values) == 54
    steps = sig.grubbs(values, 0.05, most=10)
    assert [step.odd for step in steps] == [True] * 3 + [False] * 7
    found = [(step.statistic, step.critical) for step in steps[:3]]
    expected = [(3.118, 3.158), (2.942, 3.151), (3.179, 3.143)]
    np.testing.assert_allclose(found, expected, atol=1.5e-3)


# Calculated from the t distribution as in the e-Handbook, 1.3.5.17.1 (see the table's first line).
def test_grubbs_table() -> None:
    table = tables.read("reference/grubbs_critical")
    assert len(table) > 5
    for row in table.to_dict("records"):
        for column, sides, level in (
            ("two_sided_5pct", 2, 0.05),
            ("one_sided_5pct", 1, 0.05),
            ("two_sided_1pct", 2, 0.01),
            ("one_sided_1pct", 1, 0.01),
        ):
            assert sig.grubbs_critical(int(row["n"]), level, sides) == pytest.approx(row[column], abs=6e-5)


# NIST Statistical Reference Datasets, univariate summary statistics (NIST/ITL 1998): NumAcc1 to 4 by their
# rules, certified mean and SD.
ONE_TENTH = [0.1, 0.3] * 500
NUMERICAL = {
    "NumAcc1": ([10000001, 10000003, 10000002], 10000002, 1.0, -0.5, 12),
    "NumAcc2": ([1.2] + [1 + v for v in ONE_TENTH], 1.2, 0.1, -0.999, 12),
    "NumAcc3": ([1000000.2] + [1000000 + v for v in ONE_TENTH], 1000000.2, 0.1, -0.999, 8),
    "NumAcc4": ([10000000.2] + [10000000 + v for v in ONE_TENTH], 10000000.2, 0.1, -0.999, 7),
}


@pytest.mark.parametrize("name", NUMERICAL)
def test_strd_univariate(name: str) -> None:
    values, mean, sd, lag, digits = NUMERICAL[name]
    got_mean, got_sd = st.mean_sd(values)
    assert got_mean == pytest.approx(mean, rel=1e-15)
    assert -math.log10(max(abs(got_sd / sd - 1.0), 1e-16)) > digits
    assert sig.trend(values).lag == pytest.approx(lag, abs=1e-6)


# NIST StRD Michelso: certified mean 299.8524, SD 0.0790105478190518, lag-1 0.535199668621283 (1000 km/s).
def test_strd_michelson() -> None:
    lines = (tables.data_folder() / "reference" / "strd_michelso.csv").read_text(encoding="utf-8").split("\n")
    data = [float(v) / 1000.0 + 299.0 for line in lines[1:] if line for v in line.split(",")]
    assert len(data) == 100
    mean, sd = st.mean_sd(data)
    assert mean == pytest.approx(299.8524, rel=1e-14)
    assert sd == pytest.approx(0.0790105478190518, rel=1e-12)
    assert sig.trend(data).lag == pytest.approx(0.535199668621283, rel=1e-11)
    string = ChronoString.read(data, unit="ft/s")  # any unit will do: the numbers are what is tested
    assert string.mean.m_as("ft/s") == pytest.approx(299.8524, rel=1e-14)
    assert string.sd.m_as("ft/s") == pytest.approx(0.0790105478190518, rel=1e-12)
    assert string.trend.lag == pytest.approx(0.535199668621283, rel=1e-11)


# NIST/SEMATECH e-Handbook 7.2.3.1 gives the interval √((n−1)s²/χ²); n = 10, 95 %: 0.687835 s to 1.825610 s,
# x̄ ± 2.372570 s for the next shot: calculated here from the named formulas with scipy.
def test_interval_factors() -> None:
    from scipy import stats

    assert sigma_ends(9, 0.95) == pytest.approx((0.687835, 1.825610), abs=5e-7)
    assert st.next_factor(10, 0.95) == pytest.approx(2.372570, abs=5e-7)
    for n in (3, 10, 60):
        for level in (0.5, 0.9, 0.99):
            low, high = (stats.chi2.ppf(p, n - 1) for p in ((1 - level) / 2, (1 + level) / 2))
            expected = (math.sqrt((n - 1) / high), math.sqrt((n - 1) / low))
            assert sigma_ends(n - 1, level) == pytest.approx(expected, rel=1e-10)
            assert st.t_factor(level, n - 1) == pytest.approx(stats.t.ppf((1 + level) / 2, n - 1), rel=1e-10)
