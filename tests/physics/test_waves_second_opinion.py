"""The public face of the models with waves: units, tables, refusals, words."""

import math

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.waves.second_opinion import spring_wave_shot, wave_shot


def test_wave_shot_beside_the_shot_model():
    for name in bl.demo_builds():
        shot = wave_shot(bl.demo_build(name), cell="4 mm")
        assert shot.exited
        assert abs(shot.velocity_error) < 0.01
        ratio = float(shot.shot_model.muzzle_velocity / shot.muzzle_velocity)
        assert shot.velocity_error == pytest.approx(ratio - 1.0)
        assert shot.peak_pressure.m_as("Pa") == pytest.approx(
            shot.shot_model.peak_pressure.m_as("Pa"), rel=0.01
        )
        assert shot.exit_time.m_as("ms") == pytest.approx(shot.shot_model.exit_time.m_as("ms"), rel=0.01)


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
    assert str(held).splitlines() == [
        "with gas waves    the dart does not leave",
        "shot model        the dart does not leave",
    ]


def test_charged_wave_shot():
    build = bl.demo_build("workhorse").replace({"chamber.dead_volume": "40 cm^3"})
    shot = wave_shot(build, charge="300 kPa", cell="5 mm")
    assert shot.exited
    assert shot.muzzle_velocity.m_as("m/s") == pytest.approx(
        shot.shot_model.muzzle_velocity.m_as("m/s"), rel=0.02
    )


def test_wave_shot_refuses():
    with pytest.raises(units.UnitError, match="cell"):
        wave_shot(bl.demo_build("workhorse"), cell="20 mm")
    with pytest.raises(units.UnitError, match="charge"):
        wave_shot(bl.demo_build("workhorse"), charge="3 m")


def test_spring_wave_shot():
    shot = spring_wave_shot(bl.demo_build("two_springs"))
    assert shot.exited
    assert abs(shot.velocity_error) < 1e-4  # the same waves, as a chain of masses
    as_one = spring_wave_shot(shot.build.replace({"losses.spring_waves": False}))
    assert as_one.muzzle_velocity == shot.muzzle_velocity
    assert as_one.velocity_error > 0.01  # a heavy spring: a third of it on the plunger flatters
    lines = str(shot).splitlines()
    assert lines[0].startswith("with spring waves 8")
    assert lines[1].endswith(" %")
    assert "m/s, off by +0.00" in lines[1]
    si = shot.build.si
    count = len(shot.build.springs)
    transits = [math.sqrt(si[f"spring{n}.active_mass"] / si[f"spring{n}.rate"]) for n in range(count)]
    assert shot.transit.m_as("s") == pytest.approx(max(transits))
    at_catch = sum(si[f"spring{n}.rate"] * si[f"spring{n}.catch_compression"] for n in range(count))
    assert shot.history.spring_force_N.iloc[0] == pytest.approx(at_catch, rel=1e-9)
    assert len(shot.history) > 300
    with pytest.raises(ValueError, match="elements"):
        spring_wave_shot(shot.build, elements=0)
    held = spring_wave_shot(bl.demo_build("apprentice").replace({"losses.dart_breakaway": "80 N"}))
    assert not held.exited
    assert math.isnan(held.velocity_error)
