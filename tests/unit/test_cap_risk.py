"""Cap risk: what it promises, checked by shooting many simulated strings."""

from __future__ import annotations

import math

import numpy as np
import pytest

from blasterlab.bench import cap_chance as cc
from blasterlab.bench.cap_curve import cap_curve
from blasterlab.bench.cap_together import cap_risk_together
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.strings import ChronoString
from blasterlab.report import caps
from blasterlab.report.numbers import kept

SPEEDS = [39.2, 41.0, 40.3, 40.9, 39.7, 40.1, 40.6, 39.9, 40.4, 40.8]
STRING = ChronoString.read(SPEEDS, unit="m/s", dart="foam A")
STEP = Chronograph(display_step="1 ft/s")
FAST = ChronoString.read([v + 0.6 for v in SPEEDS[:6]], unit="m/s", dart="foam B")


def test_a_string_kept_to_its_aim_stays_under_as_often_as_said() -> None:
    draw = np.random.default_rng(11)
    n, m, runs = 6, 8, 20_000
    sample = draw.normal(size=(runs, n))
    margin = cc.aim_margin(1.0, n, m, 0.9) * sample.std(axis=1, ddof=1)
    over = draw.normal(size=(runs, m)).max(axis=1) > sample.mean(axis=1) + margin
    assert np.mean(over) == pytest.approx(0.1, abs=4 * math.sqrt(0.09 / runs))


def test_limits_of_the_share_cover_as_often_as_said() -> None:
    draw = np.random.default_rng(12)
    truth = 0.0668072  # share above 1.5 standard deviations
    inside = 0
    for _ in range(400):
        sample = draw.normal(size=7)
        mean, sd = sample.mean(), sample.std(ddof=1)
        low, high = cc.chance_limits(1.5 - mean, sd, 7, 0.9)
        inside += low <= truth <= high
    assert inside / 400 == pytest.approx(0.9, abs=4 * math.sqrt(0.09 / 400))


def test_the_mean_to_aim_for_gives_the_confidence() -> None:
    for chronograph in (None, Chronograph.within("1 %")):
        risk = STRING.cap_risk("42 m/s", 10, confidence=0.9, chronograph=chronograph)
        assert risk.aim_mean is not None
        assert risk.aim_change is not None
        shift = risk.aim_mean.m_as("m/s") - STRING.mean.m_as("m/s")
        moved = ChronoString.read([v + shift for v in SPEEDS], unit="m/s")
        again = moved.cap_risk("42 m/s", 10, chronograph=chronograph)
        assert again.any_shot == pytest.approx(0.1, rel=1e-6)
        assert risk.aim_change == pytest.approx(shift / STRING.mean.m_as("m/s"), rel=1e-9)


def test_order_and_direction() -> None:
    risk = STRING.cap_risk("41.5 m/s", 10)
    assert risk.one_low < risk.one_shot < risk.one_high
    assert risk.any_low < risk.any_shot < risk.any_high
    assert risk.one_shot < risk.any_shot < 10 * risk.one_shot
    chances = [STRING.cap_risk(f"{cap} m/s", 10).any_shot for cap in (39, 40, 41, 42, 43, 50)]
    assert chances == sorted(chances, reverse=True)
    counts = [STRING.cap_risk("41.5 m/s", m).any_shot for m in (1, 2, 10, 100, 10_000)]
    assert counts == sorted(counts)
    wider = STRING.cap_risk("41.5 m/s", 10, chronograph=Chronograph.within("2 %"))
    assert wider.any_shot > risk.any_shot
    assert wider.one_high - wider.one_low > risk.one_high - risk.one_low


def test_odd_shots_count_and_the_other_number_stands_beside() -> None:
    string = ChronoString.read([*SPEEDS, 46.0], unit="m/s")
    risk = string.cap_risk("44 m/s", 10)
    assert risk.any_without_odd == pytest.approx(STRING.cap_risk("44 m/s", 10).any_shot, rel=1e-9)
    assert risk.any_without_odd is not None
    assert risk.any_shot > risk.any_without_odd
    assert "odd shots left out" in str(risk)
    assert STRING.cap_risk("44 m/s").any_without_odd is None
    flat = ChronoString.read([40, 40, 40, 40, 45], unit="m/s")
    assert flat.cap_risk("44 m/s").any_without_odd is None  # no spread is left to judge by


def test_words_carry_the_caution() -> None:
    risk = STRING.cap_risk("140 ft/s", 10)
    text = str(risk)
    assert "foam A" in text
    assert "not permission" in text
    assert "Eye protection" in text
    assert "do not go above a mean of" in text  # 42.67 m/s leaves room above the present mean


def test_limits_hold_the_chance_they_belong_to() -> None:
    four = ChronoString.read([55.1, 54.8, 55, 54.9], unit="m/s")
    text = str(four.cap_risk("57.5 m/s", 10))
    assert "any of the next 10 over the cap: 0.11 % (95 % limits below 0.01 % to 0.11 %)" in text
    short = ChronoString.read(SPEEDS[:3], unit="m/s")
    for string in (four, short, STRING):
        for cap in (30, 38, 40, 41, 45, 50, 54, 55, 56, 57.5, 60, 100):
            for screens in (None, Chronograph.within("1 %")):
                risk = string.cap_risk(f"{cap} m/s", 10, chronograph=screens)
                assert risk.one_low <= risk.one_shot <= risk.one_high
                assert risk.any_low <= risk.any_shot <= risk.any_high
    assert cc.chance_limits(57.5 - 54.95, four.sd.m, 4, 0.95)[1] < four.cap_risk("57.5 m/s").one_shot


def test_the_advice_never_asks_for_more_speed() -> None:
    for cap in (40, 41, 41.5, 42, 43, 60):
        risk = STRING.cap_risk(f"{cap} m/s", 10)
        both = cap_risk_together([STRING, FAST], f"{cap} m/s", 10)
        for told in (risk, both):
            assert told.aim_change is not None
            room = told.aim_change >= 0.0
            assert ("do not go above a mean of" in str(told)) == room
            assert (f"{100 * told.aim_change:+.1f} %" in str(told)) == (not room)
            assert "+" not in str(told)
    assert caps.advice(risk) == f"do not go above a mean of {kept(risk.aim_mean, 'speed')}"
    top = kept(FAST.mean * (1.0 + (both.aim_change or 0.0)), "speed")
    assert f"{top} with foam B" in caps.together_advice(both)
    slower = STRING.cap_risk("41 m/s", 10)
    assert caps.advice(slower).startswith(f"aim for a mean of {kept(slower.aim_mean, 'speed')} (-")


def test_few_shots_are_said_first() -> None:
    for count in (3, 7):
        few = ChronoString.read(SPEEDS[:count], unit="m/s")
        words = f"only {count} shots: shoot ten before you trust this"
        assert str(few.cap_risk("45 m/s", 10)).split("\n")[1] == words
        assert f"string 1: {words}" in str(cap_risk_together([few], "45 m/s"))
    assert "only" not in str(ChronoString.read(SPEEDS[:8], unit="m/s").cap_risk("45 m/s", 10))
    assert "only" not in str(cap_risk_together([STRING], "45 m/s"))


def test_too_few_shots_say_so() -> None:
    string = ChronoString.read([30, 40, 50], unit="m/s")
    risk = string.cap_risk("45 m/s", 1000, confidence=0.9999)
    assert (risk.aim_mean, risk.aim_change) == (None, None)
    assert "shoot more" in str(risk)
    together = cap_risk_together([string], "45 m/s", 1000, confidence=0.9999)
    assert together.aim_change is None
    assert "shoot more" in str(together)


def test_several_darts_together() -> None:
    both = cap_risk_together([STRING, FAST], "42 m/s", [10, 5])
    first, second = (risk.any_shot for risk in both.each)
    assert both.any_shot == pytest.approx(1.0 - (1.0 - first) * (1.0 - second), rel=1e-6)
    assert both.worst == "foam B"
    assert [risk.shots for risk in both.each] == [10, 5]
    assert both.aim_change is not None
    slower = [
        ChronoString.read([v + both.aim_change * s.mean.m_as("m/s") for v in s.speeds_si], unit="m/s")
        for s in (STRING, FAST)
    ]
    again = cap_risk_together({"a": slower[0], "b": slower[1]}, "42 m/s", [10, 5])
    assert again.any_shot == pytest.approx(0.05, rel=1e-4)
    assert [risk.name for risk in again.each] == ["a", "b"]
    assert "foam B" in both._repr_html_()


def test_one_dart_together_is_the_same_as_alone() -> None:
    screens = Chronograph.within("1 %")
    alone = STRING.cap_risk("41.5 m/s", 10, chronograph=screens).any_shot
    together = cap_risk_together([STRING], "41.5 m/s", 10, chronograph=screens).any_shot
    assert together == pytest.approx(alone, rel=1e-5)
    names = [risk.name for risk in cap_risk_together([STRING, STRING], "42 m/s").each]
    assert names == ["foam A", "foam A (2)"]


def test_the_display_step_widens_the_risk() -> None:
    whole = ChronoString.from_text("250\n252\n249\n251\n254\n250\n253\n252", unit="ft/s")
    plain, counted = (whole.cap_risk("258 ft/s", 10, chronograph=c) for c in (None, STEP))
    assert counted.any_shot > plain.any_shot
    assert counted.aim_mean is not None
    assert plain.aim_mean is not None
    assert counted.aim_mean < plain.aim_mean
    # the same as any other common error of step/√12 (JCGM 100:2008, 4.3.7)
    relative = 1 / math.sqrt(12) / 258
    same = whole.cap_risk("258 ft/s", 10, chronograph=Chronograph("1 m", f"{relative} m"))
    assert counted.any_shot == pytest.approx(same.any_shot, rel=1e-9)
    assert (plain.whole, counted.whole) == ("ft/s", "")
    assert "all readings are whole ft/s; if the display shows no finer step" in str(plain)
    assert "the display's step of 1 ft/s (0.3048 m/s) is counted" in str(counted)
    assert STRING.cap_risk("42 m/s").whole == ""
    assert "display" not in str(STRING.cap_risk("42 m/s"))
    curve = cap_curve(whole, "258 ft/s", 10, chronograph=STEP)
    assert curve.risk == counted
    near = np.interp(whole.mean.m_as("m/s"), curve.means, curve.chance)
    assert near == pytest.approx(counted.any_shot, rel=0.05)
    both = cap_risk_together([whole, whole], "258 ft/s", 10, chronograph=STEP)
    alone = cap_risk_together([whole], "258 ft/s", 10, chronograph=STEP)
    assert alone.any_shot == pytest.approx(counted.any_shot, rel=1e-5)
    assert counted.any_shot < both.any_shot < 2 * counted.any_shot


def test_a_step_above_the_spread_is_said() -> None:
    close = ChronoString.from_text("250\n251\n250\n250\n251", unit="ft/s")
    assert "larger than the spread (SD 0.167 m/s)" in str(close.cap_risk("255 ft/s", chronograph=STEP))
    with pytest.raises(ValueError, match="display_step: got 1 m/s; must be at most the"):
        close.cap_risk("255 ft/s", chronograph=Chronograph(display_step="1 m/s"))


def test_an_energy_cap_is_a_speed_of_this_dart() -> None:
    light = ChronoString.from_readings(SPEEDS, unit="m/s", dart="light", dart_mass="1 g")
    heavy = ChronoString.from_readings(SPEEDS, unit="m/s", dart="heavy", dart_mass="1.3 g")
    risk = light.cap_risk("0.9 J", 10)  # v = √(2 E/m) = 42.4264 m/s
    assert risk.cap.m_as("m/s") == pytest.approx(42.4264, abs=1e-4)
    assert risk.any_shot == light.cap_risk("42.42640687119285 m/s", 10).any_shot
    assert heavy.cap_risk("0.9 J", 10).any_shot > 0.9 > risk.any_shot
    assert str(risk).startswith("cap 0.9 J: 42.43 m/s with a dart of 1 g, light\n")
    pounds = light.cap_risk("0.66380594 ft*lbf", 10)  # 1 ft·lbf = 1.3558179 J
    assert pounds.cap.m_as("m/s") == pytest.approx(42.4264, abs=1e-4)
    assert "0.663806 ft·lbf (0.9000 J): 42.43 m/s with a dart of 1 g" in str(pounds)


def test_of_several_caps_the_strictest_counts_for_each_dart() -> None:
    light = ChronoString.from_readings(SPEEDS, unit="m/s", dart="light", dart_mass="1 g")
    heavy = ChronoString.from_readings(SPEEDS, unit="m/s", dart="heavy", dart_mass="1.3 g")
    caps_given = ("42 m/s", "0.9 J")
    assert light.cap_risk(caps_given).cap.m_as("m/s") == pytest.approx(42.0)
    assert heavy.cap_risk(caps_given).cap.m_as("m/s") == pytest.approx(math.sqrt(1.8 / 0.0013))
    assert str(light.cap_risk(caps_given)).startswith("caps 42 m/s and 0.9 J: 42.00 m/s with a dart of 1 g")
    assert str(light.cap_risk(("42 m/s", "140 ft/s"))).startswith(
        "caps 42 m/s and 140 ft/s (42.67 m/s): 42.00 m/s counts"
    )
    both = cap_risk_together([light, heavy], caps_given, 10)
    first, second = (s.cap_risk(caps_given, 10).any_shot for s in (light, heavy))
    assert both.any_shot == pytest.approx(1.0 - (1.0 - first) * (1.0 - second), rel=1e-6)
    assert both.worst == "heavy"
    assert "heavy: above 99.9 % in 10 shots, cap 37.21 m/s" in str(both)
    assert str(both).startswith("caps 42 m/s and 0.9 J, 2 dart types, 20 shots")
    slower = [
        ChronoString.from_readings(np.array(SPEEDS) + (both.aim_change or 0.0) * np.mean(SPEEDS), unit="m/s",
                                   dart_mass=s.dart_mass)
        for s in (light, heavy)
    ]  # fmt: skip
    again = cap_risk_together(slower, caps_given, 10)
    assert again.any_shot == pytest.approx(0.05, rel=1e-4)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: STRING.cap_risk("1 J"), "cap: got '1 J', an energy, but the dart's mass is not known; give"),
        (lambda: STRING.cap_risk("1 kJ"), "cap: .*must be 0.01 J to 100 J"),
        (lambda: STRING.cap_risk(()), "cap: got none"),
        (lambda: STRING.cap_risk("42"), "cap: got '42', which has no unit"),
        (lambda: STRING.cap_risk("42 N"), "cap: got '42 N'; must be a speed"),
        (lambda: STRING.cap_risk("420 m/s"), "cap: got '420 m/s'; must be"),
        (lambda: STRING.cap_risk("42 m/s", 0), "shots: got 0; must be a whole number from 1 to 10000"),
        (lambda: STRING.cap_risk("42 m/s", 2.5), "shots: got 2.5"),
        (lambda: STRING.cap_risk("42 m/s", True), "shots: got True"),
        (lambda: STRING.cap_risk("42 m/s", level=95), "level: got 95"),
        (lambda: STRING.cap_risk("42 m/s", confidence=0), "confidence: got 0"),
        (lambda: cap_risk_together([], "42 m/s"), "strings: got none"),
        (lambda: cap_risk_together([STRING], "42 m/s", [1, 2]), "shots: got 2 numbers for 1 strings"),
    ],
)
def test_refusals(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]
