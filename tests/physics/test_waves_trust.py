"""The public face of the wave models, and the committed table that says how far to trust the lumped one."""

import math

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import tables, units
from blasterlab.waves import model_grid as trust
from blasterlab.waves.gas_shot import wave_run
from blasterlab.waves.second_opinion import spring_wave_shot, wave_shot


def test_wave_shot_beside_the_lumped_one():
    for name in bl.demo_builds():
        shot = wave_shot(bl.demo_build(name), cell="4 mm")
        assert shot.exited
        assert abs(shot.velocity_error) < 0.01
        ratio = float(shot.lumped.muzzle_velocity / shot.muzzle_velocity)
        assert shot.velocity_error == pytest.approx(ratio - 1.0)
        assert shot.peak_pressure.m_as("Pa") == pytest.approx(shot.lumped.peak_pressure.m_as("Pa"), rel=0.01)
        assert shot.exit_time.m_as("ms") == pytest.approx(shot.lumped.exit_time.m_as("ms"), rel=0.01)


def test_wave_shot_history_and_field():
    shot = wave_shot(bl.demo_build("workhorse"), cell="4 mm")
    table = shot.history
    assert 300 < len(table) < 410
    assert table.index.name == "time_s"
    assert table.dart_travel_m.is_monotonic_increasing
    assert table.dart_travel_m.iloc[-1] == pytest.approx(0.40, abs=0.01)
    assert "base_pressure_Pa" in table
    time, places, field = shot.field
    assert field.shape == (len(time), 2, places.shape[1])
    assert np.isnan(field).any()
    assert np.nanmin(field) > 50e3
    # the dart's tail divides gas from nothing in the barrel
    start = 1e-6 / (math.pi / 4 * 0.0129**2)
    gas = places[1] - start < table.dart_travel_m.to_numpy()[-1]
    assert np.array_equal(~np.isnan(field[-1, 1]), gas)


def test_wave_shot_that_never_leaves():
    held = wave_shot(bl.demo_build("apprentice").replace({"losses.dart_breakaway": "80 N"}), cell="5 mm")
    assert not held.exited
    assert held.muzzle_velocity.magnitude == 0.0
    assert math.isnan(held.velocity_error)


def test_charged_wave_shot():
    build = bl.demo_build("workhorse").replace({"chamber.dead_volume": "40 cm^3"})
    shot = wave_shot(build, charge="300 kPa", cell="5 mm")
    assert shot.exited
    assert shot.muzzle_velocity.m_as("m/s") == pytest.approx(
        shot.lumped.muzzle_velocity.m_as("m/s"), rel=0.02
    )


def test_wave_shot_refuses():
    with pytest.raises(units.UnitError, match="cell"):
        wave_shot(bl.demo_build("workhorse"), cell="20 mm")
    with pytest.raises(units.UnitError, match="charge"):
        wave_shot(bl.demo_build("workhorse"), charge="3 m")


def test_spring_wave_shot():
    shot = spring_wave_shot(bl.demo_build("two_springs"))
    assert shot.exited
    assert shot.velocity_error > 0.01  # a heavy spring: the rule flatters
    si = shot.build.si
    count = len(shot.build.springs)
    transits = [math.sqrt(si[f"spring{n}.mass"] / si[f"spring{n}.rate"]) for n in range(count)]
    assert shot.transit.m_as("s") == pytest.approx(max(transits))
    at_catch = sum(si[f"spring{n}.rate"] * si[f"spring{n}.catch_compression"] for n in range(count))
    assert shot.history.spring_force_N.iloc[0] == pytest.approx(at_catch, rel=1e-9)
    assert len(shot.history) > 300
    with pytest.raises(ValueError, match="elements"):
        spring_wave_shot(shot.build, elements=0)
    held = spring_wave_shot(bl.demo_build("apprentice").replace({"losses.dart_breakaway": "80 N"}))
    assert not held.exited
    assert math.isnan(held.velocity_error)


def test_table_covers_the_range():
    assert "not measured" in tables.source("computed/model_grid")
    table = bl.model_grid()
    assert len(table) == trust.COUNT >= 60
    # spread over the range of each size that is asked for
    for column, low, high in (
        ("bore_mm", 20.0, 50.0),
        ("stroke_mm", 30.0, 150.0),
        ("barrel_mm", 80.0, 600.0),
        ("dart_g", 0.6, 3.0),
        ("port_mm", 4.0, 13.0),
    ):
        values = table[column]
        assert low <= values.min() < low + 0.1 * (high - low), column
        assert high >= values.max() > high - 0.1 * (high - low), column
    assert 15.0 <= table.both_m_s.min() < 20.0
    assert 90.0 < table.both_m_s.max() <= 110.0
    assert np.isfinite(table.to_numpy()).all()
    assert (table.wave_m_s > 0.0).all()


@pytest.mark.parametrize("row", [3, 40, 77])
def test_table_is_what_the_code_computes(row):
    case = trust.design()[row]
    kept = tables.read("computed/model_grid").iloc[row]
    for name, value in case.values.items():
        assert kept[name] == pytest.approx(value, rel=1e-4), name
    assert trust._wave(case.p) == pytest.approx(kept.wave_m_s, rel=2e-4)
    for name, (inertia, ahead) in trust.VARIANTS.items():
        speed, _ = trust._lumped(case.p._replace(gas_inertia=inertia, air_ahead=ahead))
        assert speed == pytest.approx(kept[f"{name}_m_s"], rel=2e-4)
    # and the judge itself is settled: finer cells move it little against what it judges
    finer = wave_run(case.p, 0.5 * trust.CELL).outcome.muzzle_velocity
    assert finer == pytest.approx(kept.wave_m_s, rel=1e-3)


def test_a_whole_row(tmp_path):
    trust.main(["--count", "2", "--workers", "1", "--out", str(tmp_path / "grid.csv")])
    lines = (tmp_path / "grid.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# Computed by this kit")
    assert "--count 2" in lines[0]
    assert lines[2].startswith("build,")
    assert len(lines) == 5
    names, row = lines[2].split(","), [float(x) for x in lines[3].split(",")]
    made = dict(zip(names, row, strict=True))
    assert 15.0 <= made["both_m_s"] <= 110.0
    assert 80.0 <= made["wave_best_mm"] <= 600.0
    assert made["chain_m_s"] > 0.0


def test_each_correction_earns_its_place():
    summary = bl.model_grid_summary()
    mean = summary.mean_size_percent
    assert mean.iloc[0] > mean.iloc[1] > mean.iloc[3]
    assert mean.iloc[0] > mean.iloc[2] > mean.iloc[3]
    assert summary.beyond_2_percent.iloc[3] <= 0.05 * len(bl.model_grid())
    assert summary.median_size_percent.iloc[3] < 0.3
    with pytest.raises(ValueError, match="no builds"):
        bl.model_grid_summary(bl.model_grid().iloc[:0])


def test_design_refuses():
    with pytest.raises(ValueError, match="count"):
        trust.design(0)
