"""The public numbers of a string, and the refusals of the statistics below them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from blasterlab import units
from blasterlab.bench import significance as sig
from blasterlab.bench import statistics as st
from blasterlab.bench.cap_chance import largest_factor
from blasterlab.bench.cells import StringError
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.strings import ChronoString, demo_string, demo_strings
from blasterlab.bench.summary import Summary
from blasterlab.flight.group_statistics import sigma_ends
from blasterlab.report.strings import summary_rows

SPEEDS = [39.2, 41.0, 40.3, 40.9, 39.7, 40.1, 40.6, 39.9, 40.4, 40.8]
STRING = ChronoString.read(SPEEDS, unit="m/s", title="Morning")


def test_numbers_of_a_string() -> None:
    assert STRING.mean.m_as("m/s") == pytest.approx(np.mean(SPEEDS), rel=1e-14)
    assert STRING.sd.m_as("m/s") == pytest.approx(np.std(SPEEDS, ddof=1), rel=1e-13)
    assert STRING.extreme_spread.m_as("m/s") == pytest.approx(1.8)
    expected = np.std(SPEEDS, ddof=1) / np.mean(SPEEDS)
    assert STRING.summary().coefficient_of_variation == pytest.approx(expected, rel=1e-13)
    assert list(STRING.speeds_si) == SPEEDS
    table = STRING.table
    assert list(table.columns) == ["shot", "reading_m_s", "muzzle_velocity_m_s", "odd"]
    assert table["muzzle_velocity_m_s"].tolist() == SPEEDS


def test_summary_puts_the_factors_to_use() -> None:
    summary = STRING.summary(level=0.9, next_shots=5)
    mean, sd = st.mean_sd(SPEEDS)
    expected = {
        "mean_low": mean - st.t_factor(0.9, 9) * sd / math.sqrt(10),
        "mean_high": mean + st.t_factor(0.9, 9) * sd / math.sqrt(10),
        "mean_uncertainty": sd / math.sqrt(10),
        "sd_low": sd * sigma_ends(9, 0.9)[0],
        "sd_high": sd * sigma_ends(9, 0.9)[1],
        "next_low": mean - st.next_factor(10, 0.9) * sd,
        "next_high": mean + st.next_factor(10, 0.9) * sd,
        "largest_of_next": mean + largest_factor(10, 5, 0.9) * sd,
        "tolerance_low": mean - st.tolerance_factor(10, 0.95, 0.9) * sd,
        "tolerance_high": mean + st.tolerance_factor(10, 0.95, 0.9) * sd,
    }
    got = {name: getattr(summary, name).m_as("m/s") for name in expected}
    assert got == pytest.approx(expected, rel=1e-12)
    assert summary.shots_for_one_percent == sig.shots_for_mean(0.01 * mean / sd, 0.9)
    assert "fastest of the next 5" in str(summary)


def test_the_shared_error_is_added_after_averaging() -> None:
    screens = Chronograph.within("1 %")
    summary = STRING.summary(chronograph=screens)
    mean, sd = st.mean_sd(SPEEDS)
    common = 0.01 * mean / math.sqrt(3.0)
    error = math.hypot(sd / math.sqrt(10), common)
    assert summary.mean_uncertainty.m_as("m/s") == pytest.approx(error, rel=1e-12)
    dof = 9 * error**4 / (sd**2 / 10) ** 2  # JCGM 100:2008, eq. G.2b
    half = st.t_factor(0.95, dof) * error
    assert summary.mean_high.m_as("m/s") - mean == pytest.approx(half, rel=1e-9)
    assert summary.next_high == STRING.summary().next_high  # the same chronograph reads the next shot
    assert "does not average out" in str(summary)


def test_units_follow_the_choice() -> None:
    units.use_units("US customary")
    assert "mean: 132.2 ft/s" in str(STRING.summary())
    units.use_units("metric")
    assert "mean: 40.29 m/s" in str(STRING.summary())


def test_odd_shots_are_flagged_and_kept() -> None:
    string = ChronoString.read([*SPEEDS, 46.0], unit="m/s")
    odd = string.odd_shots()
    assert odd
    assert odd.shots == (11,)
    assert odd.flags == (False,) * 10 + (True,)
    assert odd.mean_with == string.mean
    assert odd.mean_without == STRING.mean
    assert odd.sd_without == STRING.sd
    assert string.count == 11
    assert "odd shots: shot 11 (G = " in str(string.summary())
    assert "without it 40.29 m/s, 0.574 m/s" in str(odd)
    assert not STRING.odd_shots()
    assert str(STRING.odd_shots()).startswith("no odd shot (the furthest, shot 1: G = ")


def test_two_odd_shots_hide_each_other() -> None:
    string = ChronoString.read([*SPEEDS, 46.0, 46.2], unit="m/s")
    assert not string.odd_shots()
    assert string.odd_shots(most=2).shots == (11, 12)


def test_odd_among_equals() -> None:
    string = ChronoString.read([40, 40, 40, 40, 45], unit="m/s")
    odd = string.odd_shots(most=3)
    assert odd.shots == (5,)
    assert odd.sd_without.m == 0.0


def test_a_drift_is_seen_and_said() -> None:
    speeds = [40.0 - 0.2 * i + 0.1 * (-1) ** i for i in range(10)]
    string = ChronoString.read(speeds, unit="m/s")
    assert string.trend.slope.m_as("m/s") == pytest.approx(-0.2, abs=0.01)
    assert "the speed falls through the string" in str(string.summary())
    assert "through the string" not in str(STRING.summary())


def test_the_causes_of_a_drift_fit_its_direction() -> None:
    speeds = [40.0 - 0.2 * i + 0.1 * (-1) ** i for i in range(10)]
    falls = str(ChronoString.read(speeds, unit="m/s").summary())
    rises = str(ChronoString.read(speeds[::-1], unit="m/s").summary())
    assert "the speed falls" in falls
    assert "a settling spring" in falls
    assert "warming" not in falls
    assert "the speed rises" in rises
    assert "warming" in rises
    assert "settling" not in rises


def test_a_drift_is_not_told_from_fewer_than_six_shots() -> None:
    speeds = [40.0, 39.8, 39.61, 39.4, 39.2, 39.0]
    for count in (3, 5, 6):
        string = ChronoString.read(speeds[:count], unit="m/s")
        summary = string.summary()
        assert string.trend.p < 0.05
        assert summary.drifts == (count == 6)
        assert ("through the string" in str(summary)) == (count == 6)
        assert ("p < 0.0001" in summary_rows(summary)["drift"]) == (count == 6)
        assert ("a drift needs at least 6 shots to show" in str(summary)) == (count < 6)
    assert not STRING.summary().drifts


def test_no_limit_is_a_speed_below_zero() -> None:
    summary = ChronoString.read([10, 40, 90], unit="m/s").summary()
    assert [q.m for q in (summary.mean_low, summary.next_low, summary.tolerance_low)] == [0.0, 0.0, 0.0]
    assert "next shot: 0 m/s to" in str(summary)
    assert ": -" not in str(summary_rows(summary)["next shot"])


def test_coarse_steps_are_said() -> None:
    assert "steps of 1 ft/s (0.3048 m/s), more than the SD" in str(
        ChronoString.read("250\n251\n250\n250\n251", unit="ft/s").summary()
    )
    assert "steps of" not in str(STRING.summary())


def test_a_string_that_no_number_of_shots_pins_down_still_prints() -> None:
    wild = ChronoString.from_readings([5] * 9 + [61], unit="m/s")
    assert wild.summary().shots_for_one_percent is None
    assert "shots for a mean to ±1 %: more than 100 000" in str(wild)
    assert "more than 100 000" in wild._repr_html_()
    result = wild.compare(wild, show=1e-4)
    assert result.shots_to_show is None
    assert "with more than 100 000 shots in each string" in str(result)


# JCGM 100:2008, 4.3.7 and F.2.2.1: an indicating device of resolution dx has u = 0.29 dx.
def test_the_display_adds_its_step() -> None:
    screens = Chronograph(display_step="1 ft/s")
    assert screens.common("40 m/s").m_as("ft/s") == pytest.approx(0.29, abs=0.0015)
    both = Chronograph.within("1 %", "1 ft/s")
    parts = Chronograph.within("1 %").common("40 m/s").m, screens.common("40 m/s").m
    assert both.common("40 m/s").m == pytest.approx(math.hypot(*parts), rel=1e-12)
    string = ChronoString.from_text("250\n252\n249\n251\n254", unit="ft/s")
    sd = st.mean_sd(string.readings)[1]
    summary = string.summary(chronograph=screens)
    expected = math.sqrt(sd**2 / 5 + 1 / 12)
    assert summary.mean_uncertainty.m_as("ft/s") == pytest.approx(expected, rel=1e-12)
    assert summary.step == units.quantity(1.0, "ft/s")
    assert not summary.coarse
    assert string.summary().mean_uncertainty < summary.mean_uncertainty


def test_a_step_above_the_spread_is_refused_or_said() -> None:
    string = ChronoString.from_text("250\n251\n250\n250\n251", unit="ft/s")
    told = string.summary(chronograph=Chronograph(display_step="1 ft/s"))
    assert told.coarse
    assert "steps of 1 ft/s" in str(told)
    with pytest.raises(ValueError, match=r"display_step: got 0.3353 m/s; must be at most .* 0.3048 m/s"):
        string.summary(chronograph=Chronograph(display_step="1.1 ft/s"))


def test_comparison() -> None:
    faster = ChronoString.read([v + 1.0 for v in SPEEDS], unit="m/s")
    result = STRING.compare(faster, show=0.02)
    assert result.difference.m_as("m/s") == pytest.approx(1.0)
    assert result.relative == pytest.approx(1.0 / np.mean(SPEEDS))
    assert "a difference shows" in str(result)
    assert "no difference shows" in str(STRING.compare(STRING))
    mean, sd = st.mean_sd(SPEEDS)
    assert result.shots_to_show == sig.shots_to_show(0.02 * mean / sd)


def test_planning_counts_are_the_least_that_do() -> None:
    n = sig.shots_for_mean(0.4, 0.95)
    assert n is not None
    assert sig.shots_to_show(0.0) is sig.shots_for_mean(1e-4) is None
    assert st.t_factor(0.95, n - 1) / math.sqrt(n) <= 0.4 < st.t_factor(0.95, n - 2) / math.sqrt(n - 1)


@given(
    some.lists(some.floats(10.0, 90.0), min_size=3, max_size=30),
    some.floats(0.5, 3.0),
    some.floats(-5.0, 5.0),
)
def test_shift_and_scale(values: list[float], scale: float, shift: float) -> None:
    mean, sd = st.mean_sd(values)
    moved_mean, moved_sd = st.mean_sd([scale * v + shift for v in values])
    assert moved_mean == pytest.approx(scale * mean + shift, rel=1e-9, abs=1e-9)
    assert moved_sd == pytest.approx(scale * sd, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: st.mean_sd([1.0]), "values: got 1; a spread needs at least 2"),
        (
            lambda: st.check_level(95),
            r"level: got 95; must be 0.001 to 0.999999 \(95 % is written 0.95\)",
        ),
        (lambda: sig.grubbs_critical(2), "shots: got 2; Grubbs' test needs at least 3"),
        (lambda: sig.grubbs(SPEEDS, most=9), "most: got 9; must be 1 to 8 here"),
        (lambda: sig.grubbs(SPEEDS, most=0), "most: got 0"),
        (lambda: sig.trend([1.0, 2.0]), "values: got 2; a trend needs at least 3"),
        (lambda: STRING.summary(level=1.0), "level: got 1.0"),
        (lambda: STRING.summary(next_shots=0), "next_shots: got 0; must be a whole number"),
        (lambda: STRING.odd_shots(level=0.0), "level: got 0.0"),
        (lambda: STRING.compare(STRING, level=2), "level: got 2"),
        (lambda: demo_string("none such"), "name: got 'none such'; must be one of "),
        (lambda: Chronograph("1 mm"), "chronograph.spacing: got '1 mm'; must be"),
        (lambda: Chronograph("10 cm", "30 mm"), "spacing_uncertainty: got '30 mm'; must be"),
        (lambda: Chronograph(timing_uncertainty="1 s"), "timing_uncertainty: got '1 s'; must be"),
        (lambda: Chronograph.within("40 %"), "limits: got '40 %'; must be"),
        (lambda: Chronograph(display_step="1"), "chronograph.display_step: .*no unit"),
        (lambda: Chronograph(display_step="20 m/s"), "chronograph.display_step: .*m/s to 10 m/s"),
        (lambda: STRING.compare(STRING, show=0.0), "show: got 0.0; must be above 0 and at most 1"),
        (lambda: Chronograph().common("40"), "speed: got '40', which has no unit"),
    ],
)
def test_refusals(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]


def test_demo_strings_say_that_they_are_invented() -> None:
    assert len(demo_strings()) >= 3
    for name in demo_strings():
        string = demo_string(name)
        assert isinstance(string.summary(), Summary)
        assert "invented" in string.note.lower()
        assert string.unread == ()
    with pytest.raises(StringError):
        demo_string("")
