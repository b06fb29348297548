"""The predicted group: against small-error theory, and what is refused."""

import math

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.flight.group_statistics import CEP
from blasterlab.flight.measured_group import MeasuredGroup

DART = bl.Projectile("1.0 g", "12.7 mm", 0.70)


def predict(**changes):
    return bl.group(DART, "40 m/s", **({"distance": "10 m"} | changes))


def test_pointing_alone_is_geometry():
    found = predict(pointing="2 mrad", draws=40_000)
    assert found.sd_right.m_as("mm") == pytest.approx(20.0, rel=4 / math.sqrt(80_000))
    assert found.sd_up.m_as("mm") == pytest.approx(20.0, rel=4 / math.sqrt(80_000) + 5e-3)
    assert found.cep.m_as("mm") == pytest.approx(CEP * 20, rel=0.02)
    assert found.extreme_spread.value.m_as("mm") == pytest.approx(3.811 * 20, rel=0.02)
    assert found.mean_radius.value.m_as("mm") == pytest.approx(1.253 * math.sqrt(0.9) * 20, rel=0.02)
    assert found.sigma.m_as("mm") == pytest.approx(20, rel=0.02)
    assert found.shares["pointing"] == pytest.approx((1.0, 1.0), abs=2e-3)


@pytest.mark.parametrize(
    ("change", "small"),
    [
        ({"speed_spread": "0.4 m/s"}, {"speed": "40.4 m/s"}),
        ({"drag_spread": 0.02}, {"dart": DART.replace(drag_coefficient=0.714)}),
        ({"mass_spread": 0.01}, {"dart": DART.replace(mass="1.01 g")}),
    ],
)
def test_one_cause_alone_is_its_derivative(change, small):
    """A small spread of one cause gives the drop difference of one standard deviation."""
    found = predict(**change, draws=20_000)
    base = bl.zero(DART, "40 m/s", distance="10 m")
    flight = bl.fly(**({"dart": DART, "speed": "40 m/s"} | small), angle=base.angle, distance="10 m")
    assert found.sd_up.m_as("m") == pytest.approx(abs(flight.at("10 m").height.m_as("m")), rel=0.03)
    assert found.sd_right.m_as("m") == 0.0


def test_gusts_follow_didion():
    found = predict(gust="0.5 m/s", draws=20_000)
    drift = bl.fly(DART, "40 m/s", wind="0.5 m/s from 9 o'clock").at("10 m").drift.m_as("m")
    assert found.sd_right.m_as("m") == pytest.approx(drift, rel=0.03)
    assert found.shares["gusts"][0] == pytest.approx(1.0, abs=5e-3)


def test_shares_add_up_and_name_the_culprit():
    found = predict(speed_spread="1.5 m/s", pointing=("0.5 mrad", "4 mrad"), drag_spread=0.05)
    for axis in (0, 1):
        assert sum(share[axis] for share in found.shares.values()) == pytest.approx(1.0, abs=0.03)
    vertical, horizontal = str(found.causes).split("; ")
    assert "muzzle velocity" in vertical.split(",")[0]
    assert "pointing" in horizontal
    assert str(predict(pointing="0 mrad", speed_spread="1 m/s").causes).endswith("no horizontal spread")


def test_the_aim_allows_for_the_wind():
    found = predict(wind="4 m/s from 10 o'clock", slope="10 deg", pointing="1 mrad", draws=20_000)
    alike = predict(wind="4 m/s from 10 o'clock", slope="10 deg", draws=200)  # without any spread
    assert [one.m_as("m").max() for one in (abs(alike.right), abs(alike.up))] == pytest.approx(
        [0, 0], abs=1e-9
    )
    assert found.right.m_as("mm").mean() == pytest.approx(0.0, abs=4 * 10 / math.sqrt(20_000))


def test_same_seed_same_group():
    first, second, third = (predict(pointing="2 mrad", draws=500, seed=seed) for seed in (5, 5, 6))
    assert np.array_equal(first.right.m, second.right.m)
    assert not np.array_equal(first.right.m, third.right.m)


def test_hit_chance_on_a_round_target():
    found = predict(pointing="5 mrad", draws=40_000)
    chance = found.hit_chance(diameter="10 cm")
    # Rayleigh: 1 − exp(−r²/2σ²) with r = σ = 50 mm.
    assert chance.value == pytest.approx(1 - math.exp(-0.5), abs=0.012)
    assert chance.low < chance.value < chance.high
    sure = found.hit_chance(diameter="2 m")
    assert sure.value == 1.0
    assert sure.low < 1.0


def test_hit_chance_on_a_rectangle_and_against_distance():
    found = predict(pointing="5 mrad", speed_spread="1 m/s")
    table = found.hit_table(width="10 cm", height="20 cm")
    assert (np.diff(table["chance"]) <= 0.02).all()
    assert ((table["low"] <= table["chance"]) & (table["chance"] <= table["high"])).all()
    row = table[np.isclose(table["distance_m"], 10.0)].iloc[0]
    assert row["chance"] == found.hit_chance(width="10 cm", height="20 cm").value
    fixed = found.hit_table(width="10 cm", height="20 cm", hold="unchanged")
    assert (fixed["chance"] <= table["chance"] + 0.02).all()
    assert fixed["chance"].iloc[-1] < 0.05
    chosen = predict(pointing="5 mrad", distances=["4 m", "8 m"])
    assert chosen.hit_table(diameter="10 cm")["distance_m"].tolist() == [4.0, 8.0, 10.0]
    assert chosen.hit_chance(diameter="10 cm", distance="4 m").value > 0.9


def test_far_planes_that_no_dart_reaches_are_misses():
    found = predict(pointing="1 mrad", distances=["200 m"], draws=300)
    assert found.hit_chance(diameter="10 m", distance="200 m").value == 0.0


def test_a_string_brings_its_spread():
    string = bl.ChronoString.read("40.1, 39.2, 41.0, 40.4, 39.8", unit="m/s")
    found = bl.group(DART, string, distance="10 m", draws=2000)
    by_hand = bl.group(DART, string.mean, speed_spread=string.sd, distance="10 m", draws=2000)
    assert found.sd_up == by_hand.sd_up
    assert found.sd_up.m_as("m") > 0


def test_a_build_shoots_its_own_group():
    build = bl.demo_build(bl.demo_builds()[0])
    found = bl.group(build, distance="5 m", pointing="2 mrad", draws=300)
    assert found.speed.m_as("m/s").mean() < bl.simulate(build).muzzle_velocity.m_as("m/s")


def test_measured_against_predicted():
    found = predict(pointing="4 mrad", speed_spread="0.5 m/s")
    rng = np.random.default_rng(11)
    own = rng.choice(len(found.right), 10, replace=False)
    same = MeasuredGroup(found.right[own], found.up[own])
    verdict = found.compare(same)
    assert not verdict.odd
    assert "chance alone explains" in str(verdict)
    wide = MeasuredGroup(3 * found.right[own], found.up[own])
    verdict = found.compare(wide)
    assert verdict.odd
    assert "wider than predicted across and overall; chance alone is unlikely" in str(verdict)
    ratio = verdict.ratio["across"]
    assert ratio.low < ratio.value < ratio.high


def test_false_alarms_are_as_rare_as_stated():
    found = predict(pointing="4 mrad", speed_spread="0.5 m/s", level=0.95)
    fresh = predict(pointing="4 mrad", speed_spread="0.5 m/s", seed=99, draws=2000)
    q = units.quantity
    points = np.column_stack([fresh.right.m_as("m"), fresh.up.m_as("m")]).reshape(-1, 10, 2)
    tail = [
        found.compare(MeasuredGroup(q(one[:, 0], "m"), q(one[:, 1], "m"))).larger["together"]
        for one in points
    ]
    outside = np.mean([not 0.025 <= chance <= 0.975 for chance in tail])
    assert outside == pytest.approx(0.05, abs=4 * math.sqrt(0.05 * 0.95 / len(points)) + 0.01)


def test_words():
    units.use_units("US customary")
    try:
        assert "ft" in str(predict(pointing="2 mrad", draws=500))
    finally:
        units.use_units("metric")
    assert str(predict(pointing="2 mrad", draws=500)).startswith("10 shots at 10 m: extreme spread")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"distance": "-10 m"}, ["behind the muzzle"]),
        ({"distance": "60 m"}, ["60 m cannot be reached at 40 m/s", "nearer"]),
        ({"shots": 1}, ["shots", "2 to 100"]),
        ({"shots": 2.5}, ["shots", "whole number"]),
        ({"draws": 10}, ["draws"]),
        ({"level": 90}, ["level"]),
        ({"speed_spread": "20 m/s"}, ["speed_spread", "30 %"]),
        ({"speed_spread": "-1 m/s"}, ["speed_spread"]),
        ({"mass_spread": 0.5}, ["mass_spread", "relative"]),
        ({"drag_spread": -0.1}, ["drag_spread"]),
        ({"pointing": "10 deg"}, ["pointing"]),
        ({"gust": "-1 m/s"}, ["gust"]),
        ({"distances": ["0 m"]}, ["distances"]),
        (
            {"distance": "29 m", "speed_spread": "6 m/s", "drag_spread": 0.3},
            ["never get to 29 m", "less spread"],
        ),
    ],
)
def test_refused(changes, words):
    with pytest.raises(bl.UnitError) as caught:
        predict(**changes)
    for word in words:
        assert word in str(caught.value)


def test_targets_refused():
    found = predict(pointing="2 mrad", draws=500)
    for target in ({}, {"diameter": "1 cm", "width": "1 cm"}, {"width": "1 cm"}):
        with pytest.raises(bl.UnitError, match="one single shape"):
            found.hit_chance(**target)
    with pytest.raises(bl.UnitError, match="was not flown"):
        found.hit_chance(diameter="10 cm", distance="7 m")
    with pytest.raises(bl.UnitError, match="corrected"):
        found.hit_chance(diameter="10 cm", hold="up")
    few = predict(pointing="2 mrad", draws=200, shots=50)
    with pytest.raises(bl.UnitError, match="more draws"):
        _ = few.extreme_spread


def test_a_group_without_any_spread_can_be_compared():
    """Nothing differs from shot to shot by default: a measured spread is then more than predicted."""
    found = predict(draws=500)
    measured = MeasuredGroup.read("10, 5; -12, 8; 3, -15; 0, 20; -6, -9", unit="mm")
    verdict = found.compare(measured)
    assert verdict.ratio == {}
    assert verdict.odd == ("across", "up and down", "together")
    assert "across no spread is predicted" in str(verdict)
    assert "wider than predicted in every direction" in str(verdict)
    assert str(found.causes) == "no vertical spread; no horizontal spread"


def test_a_direction_without_predicted_spread_agrees_with_none_measured():
    found = predict(speed_spread="1 m/s", draws=2000)
    points = found.up.m_as("mm")[:6]
    upright = MeasuredGroup.read([(0.0, float(up)) for up in points], unit="mm")
    verdict = found.compare(upright)
    assert set(verdict.ratio) == {"up and down", "together"}
    assert verdict.larger["across"] == 0.5
    assert not verdict.odd
    crooked = MeasuredGroup.read([(float(k), float(up)) for k, up in enumerate(points)], unit="mm")
    assert "across" in found.compare(crooked).odd


def test_a_raised_sight_moves_the_impacts_at_other_distances():
    """With the hold unchanged the sight's height shows where the path has not met the line of sight yet."""
    low, high = (
        predict(pointing="1 mrad", sight_height=sight, distances=["1 m"], draws=500)
        for sight in ("0 mm", "60 mm")
    )
    assert high.hit_chance(diameter="4 cm").value == pytest.approx(
        low.hit_chance(diameter="4 cm").value, abs=0.02
    )
    near = {"diameter": "4 cm", "distance": "1 m"}
    assert high.hit_chance(**near).value == low.hit_chance(**near).value == 1.0
    # At 1 m the path has risen by 46 mm: past the mark of a sight on the bore, 14 mm short of one 60 mm up.
    assert low.hit_chance(**near, hold="unchanged").value == 0.0
    assert high.hit_chance(**near, hold="unchanged").value == 1.0
