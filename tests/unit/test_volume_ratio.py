"""The map of chamber volume against barrel length, a fixed ratio as a rule, the full chamber."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.build import BuildError
from blasterlab.report import shot as report
from blasterlab.shot import many as batch
from blasterlab.shot import volume_map as volume_ratio
from blasterlab.units import UnitError

NAMES = bl.demo_builds()


@pytest.fixture(scope="module")
def build():
    return bl.demo_build("workhorse")


@pytest.fixture(scope="module")
def found(build):
    return bl.volume_map(build, points=(24, 28))


def cell(found, row, column):
    """The build of one cell of a map, through the public door."""
    v = found.build.si
    per_stroke = math.pi / 4 * v["chamber.bore"] ** 2
    value = found.volumes[row] / per_stroke
    if found.vary == "bore":
        value = math.sqrt(found.volumes[row] / (math.pi / 4 * v["chamber.stroke"]))
    return found.build.replace(
        {
            "chamber.tube_length": "50 cm",
            f"chamber.{found.vary}": units.quantity(value, "m"),
            "barrel.length": units.quantity(found.lengths[column], "m"),
        }
    )


@pytest.mark.parametrize("vary", volume_ratio.VARIED)
@pytest.mark.parametrize("name", NAMES)
def test_a_cell_is_the_shot_that_simulate_gives_to_the_stated_error(name, vary):
    found = bl.volume_map(bl.demo_build(name), vary, points=(17, 18))
    draw = np.random.default_rng(7)
    left = 0
    for row, column in zip(draw.integers(0, 16, 12), draw.integers(0, 18, 12), strict=True):
        shot = bl.simulate(cell(found, row, column))
        assert shot.exited != found.stays_in[row, column]
        if shot.exited:
            left += 1
            expected = shot.muzzle_velocity.m_as("m/s")
            assert found.velocities[row, column] == pytest.approx(expected, rel=volume_ratio.ERROR)
    assert left >= 6


@pytest.mark.parametrize("change", [{}, {"dart.mass": "2.5 g"}, {"chamber.port_diameter": "5 mm"}], ids=str)
@pytest.mark.parametrize("vary", volume_ratio.VARIED)
@pytest.mark.parametrize("name", NAMES)
def test_a_map_is_as_if_every_cell_were_shot_to_the_stated_error(name, vary, change):
    found = bl.volume_map(bl.demo_build(name).replace(change), vary)
    v, x = np.meshgrid(found.volumes, found.lengths, indexing="ij")
    all_shot = volume_ratio._shoot(found.build, vary, v.ravel(), x.ravel()).reshape(v.shape)
    assert (all_shot >= 0.0).all()  # a dart that turns at the muzzle has not left
    assert found.stays_in.any()
    assert (found.stays_in != (all_shot == 0.0)).sum() <= 1
    both = ~found.stays_in & (all_shot > 0.0)
    wrong = np.abs(found.velocities[both] / all_shot[both] - 1.0)
    assert wrong.max() < volume_ratio.ERROR
    assert np.median(wrong) < 1e-5
    assert np.quantile(wrong, 0.99) < 1e-3
    assert np.array_equal(
        found.velocities[::2, ::2], np.where(all_shot > 0, all_shot, np.nan)[::2, ::2], True
    )
    assert found.shots < 0.6 * all_shot.size


def test_what_its_neighbours_do_not_tell_is_shot(build, monkeypatch):
    """Neighbours that never agree leave nothing to be read off but the darts that stay in."""
    monkeypatch.setattr(volume_ratio, "_BEND", -1.0)
    found = bl.volume_map(build, points=(24, 28))
    assert found.shots >= (~found.stays_in).sum()
    v, x = np.meshgrid(found.volumes, found.lengths, indexing="ij")
    all_shot = volume_ratio._shoot(build, "stroke", v.ravel(), x.ravel()).reshape(v.shape)
    assert np.nan_to_num(found.velocities, nan=0.0) == pytest.approx(all_shot, rel=1e-12)


def test_a_cell_without_a_velocity_has_its_reason(found):
    row, column = np.argwhere(found.stays_in)[0]
    shot = bl.simulate(cell(found, row, column))
    assert not shot.exited
    assert "stalled" in report.reason(shot) or "broke away" in report.reason(shot)


def test_the_ridge_is_the_best_length_of_the_sweep(build):
    found = bl.volume_map(build, points=(10, 60))
    seen = 0
    for row in range(2, 10):
        sweep = bl.barrel_sweep(cell(found, row, 0), "4 cm", "64 cm", points=120)
        assert not found.at_end[row]
        assert 1e3 * found.best_lengths[row] == pytest.approx(sweep.best_length.m_as("mm"), abs=1.0)
        assert found.best_velocities[row] == pytest.approx(sweep.best_velocity.m_as("m/s"), rel=2e-4)
        expected = cell(found, row, 0).replace({"barrel.length": sweep.best_length}).volume_ratio
        assert found.best_ratios[row] == pytest.approx(expected, rel=5e-3)
        seen += 1
    assert seen == 8


def test_an_end_of_the_map_is_no_best_length(build):
    found = bl.volume_map(build, start="4 cm", stop="20 cm", points=(10, 12))
    assert found.at_end[-1]
    assert found.best_lengths[-1] == found.lengths[-1]
    assert found.best_velocities[-1] == found.velocities[-1, -1]


def test_a_volume_that_lets_no_dart_out_has_no_best_length(build):
    found = bl.volume_map(build, low="8 cm^3", high="60 cm^3", start="25 cm", points=(12, 12))
    nothing = found.stays_in.all(axis=1)
    assert nothing.any()
    assert np.array_equal(np.isnan(found.best_lengths), nothing)
    assert np.array_equal(np.isnan(found.best_velocities), nothing)
    assert np.array_equal(np.isnan(found.best_ratios), nothing)


def test_volumes_end_where_the_spring_is_solid(found, build):
    assert found.volumes[-1] == found.solid_from < found.highest
    at_catch = build.si["spring0.free_length"] - build.si["spring0.preload"]
    stroke = at_catch - build.si["spring0.solid_length"]
    assert found.solid_from == pytest.approx(math.pi / 4 * 0.035**2 * stroke)
    over = units.quantity(1.001 * stroke, "m")
    with pytest.raises(BuildError, match="the spring is solid"):
        build.replace({"chamber.stroke": over, "chamber.tube_length": "50 cm"})


def test_the_nested_spring_counts_too():
    build = bl.demo_build("two_springs")
    found = bl.volume_map(build, points=(8, 8))
    stroke = units.quantity(found.solid_from / (math.pi / 4 * build.si["chamber.bore"] ** 2), "m")
    changes = {"chamber.tube_length": "50 cm", "chamber.stroke": 0.9999 * stroke}
    build.replace(changes)
    with pytest.raises(BuildError, match="the spring is solid"):
        build.replace(changes | {"chamber.stroke": 1.0001 * stroke})


def test_a_wider_tube_squeezes_no_spring(build):
    found = bl.volume_map(build, "bore", points=(8, 8))
    assert found.solid_from == math.inf
    assert found.volumes[-1] == found.highest
    assert found.volumes[-1] == pytest.approx(1.6 * build.chamber.swept_volume.m_as("m^3"))


def test_the_builds_own_point_lies_in_its_map(build):
    found = bl.volume_map(build, points=(55, 76))  # a net that meets the point: 1 + 54 · 40/72 is whole
    own, length = build.chamber.swept_volume.m_as("m^3"), 0.4
    assert found.volumes[0] == pytest.approx(own / 4)
    assert (found.lengths[0], found.lengths[-1]) == pytest.approx((0.04, 0.64))
    column = int(np.argmin(abs(found.lengths - length)))
    row = int(np.argmin(abs(found.volumes - own)))
    assert found.lengths[column] == pytest.approx(length)
    speed = bl.simulate(build).muzzle_velocity.m_as("m/s")
    low, high = sorted(found.velocities[[row - 1, row + 1], column])
    assert low < speed < high


def test_ends_are_the_given_ones(build):
    found = bl.volume_map(build, "bore", "50 cm^3", "100 cm^3", "10 cm", "12 in", (9, 8))
    assert found.velocities.shape == (9, 8)
    assert (found.volumes[0], found.volumes[-1]) == pytest.approx((50e-6, 100e-6))
    assert (found.lengths[0], found.lengths[-1]) == pytest.approx((0.1, 0.3048))


def test_a_port_as_wide_as_the_bore_sets_the_smallest_tube(build):
    wide = build.replace({"chamber.port_diameter": "30 mm"})
    found = bl.volume_map(wide, "bore", points=(8, 8))
    assert found.volumes[0] == pytest.approx(math.pi / 4 * 0.03**2 * 0.09)
    with pytest.raises(UnitError, match=r"low: .*cm³"):
        bl.volume_map(wide, "bore", low="30 cm^3")


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"vary": "wall"}, "vary: got 'wall'; must be one of stroke, bore"),
        ({"points": (7, 60)}, r"points: got \(7, 60\); must be 8 to 400"),
        ({"points": (60, 401)}, "points: got"),
        ({"points": (60,)}, "points: got"),
        ({"low": "60 cm^3", "high": "50 cm^3"}, r"high: got 50 cm³; must be more than low, 60 cm³"),
        ({"start": "20 cm", "stop": "20 cm"}, r"stop: got 200 mm; must be more than start, 200 mm"),
        ({"start": "1 mm"}, "start"),
        ({"stop": "4 m"}, "stop"),
        ({"low": "50"}, "low"),
        ({"high": "1 m^3"}, "high"),
    ],
)
def test_refuses_what_is_no_map(build, given, words):
    with pytest.raises(UnitError, match=words):
        bl.volume_map(build, **given)


def test_refuses_a_spring_that_is_solid_all_over(build):
    with pytest.raises(BuildError, match=r"spring.free_length: it is solid at the catch from 12\d.* on"):
        bl.volume_map(build, low="130 cm^3", high="150 cm^3")


def test_refuses_a_dart_that_leaves_nowhere(build):
    stuck = build.replace({"losses.dart_friction": "60 N"})
    with pytest.raises(BuildError, match="the dart does not leave any of these barrels"):
        bl.volume_map(stuck, points=(8, 8))


def test_an_interrupt_is_no_map(build, monkeypatch):
    def interrupted(rows):
        return dataclasses.replace(batch.simulate_rows(rows), complete=False)

    monkeypatch.setattr(volume_ratio, "simulate_rows", interrupted)
    with pytest.raises(KeyboardInterrupt, match="while the map was shot"):
        bl.volume_map(build, points=(8, 8))


def test_the_rule_costs_what_the_two_barrels_say(build):
    table = bl.ratio_rule({"as it is": build}, 3.0)
    row = table.loc["as it is"]
    cut = build.chamber.swept_volume / (3.0 * build.barrel.volume / build.barrel.length)
    assert row.rule_length_mm == pytest.approx(cut.m_as("mm"))
    speed = bl.simulate(build.replace({"barrel.length": cut})).muzzle_velocity.m_as("m/s")
    assert row.rule_speed_m_s == pytest.approx(speed, rel=1e-9)
    sweep = bl.barrel_sweep(build, "3 cm", "100 cm", points=200)
    assert row.best_length_mm == pytest.approx(sweep.best_length.m_as("mm"), abs=0.5)
    assert row.best_speed_m_s == pytest.approx(sweep.best_velocity.m_as("m/s"), rel=1e-4)
    assert row.lost_percent == pytest.approx(100 * (1 - speed / row.best_speed_m_s))
    assert row.lost_percent > 2
    assert row.best_ratio * row.best_length_mm == pytest.approx(row.rule_length_mm * 3.0)


def test_the_best_ratio_costs_nothing_and_one_per_cent_at_the_ends_of_its_range(build):
    row = bl.ratio_rule({"": build}, 2.0).loc[""]
    assert row.low_ratio < row.best_ratio < row.high_ratio
    assert bl.ratio_rule({"": build}, row.best_ratio).lost_percent[""] == pytest.approx(0, abs=1e-3)
    for end in (row.low_ratio, row.high_ratio):
        assert bl.ratio_rule({"": build}, end).lost_percent[""] == pytest.approx(1, abs=0.02)


def test_a_rule_that_keeps_the_dart_in_costs_all():
    build = bl.demo_build("apprentice").replace({"losses.dart_friction": "3 N"})
    row = bl.ratio_rule({"": build}, 0.4).loc[""]
    assert (row.rule_speed_m_s, row.lost_percent) == (0.0, 100.0)


def test_the_rule_refuses(build):
    for ratio in (0.01, 101.0, math.nan):
        with pytest.raises(UnitError, match="ratio: got"):
            bl.ratio_rule({"one": build}, ratio)
    small = build.replace({"chamber.stroke": "5 mm"})
    with pytest.raises(UnitError, match=r"the barrel of one would be .* mm; must be 5 mm to 3000 mm"):
        bl.ratio_rule({"one": small}, 80.0)
    wide = {"chamber.bore": "60 mm", "losses.dart_friction": "0 N", "losses.blowby_area": "0 mm^2"}
    strong = bl.demo_build("two_springs").replace(wide)
    with pytest.raises(BuildError, match="the best for long lies outside 3 cm to 100 cm"):
        bl.ratio_rule({"long": strong}, 2.0)
    with pytest.raises(BuildError):
        bl.ratio_rule({"one": build.replace({"losses.dart_friction": "60 N"})}, 2.0)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bl.full_chamber("90 kPa", "13 mm"), "pressure"),
        (lambda: bl.full_chamber("300 kPa", "13 mm", ambient="0 Pa"), "ambient"),
        (lambda: bl.full_chamber("300 kPa", "13"), "bore"),
        (lambda: bl.full_chamber("300 kPa", "13 mm", law="polytropic"), "law"),
        (
            lambda: bl.full_chamber("300 kPa", "13 mm", "30 N"),
            r"friction: got 30 N; 300 kPa in this bore overcome less than 26.37 N",
        ),
        (lambda: bl.held_pressure("0 J", "100 cm^3"), "energy"),
        (lambda: bl.held_pressure("5 J", "0 cm^3"), "volume"),
        (lambda: bl.held_pressure("5 J", "100 cm^3", "0 Pa"), "ambient"),
        (lambda: bl.held_pressure("50 kJ", "100 cm^3"), r"energy: got 50000 J; .* the 10.1 J that"),
        (lambda: bl.held_pressure("1 µJ", "1 m^3", "1 MPa"), "energy: got"),
    ],
)
def test_the_full_chamber_refuses(call, words):
    with pytest.raises(UnitError, match=words):
        call()
