"""Warnings name the assumption that a shot breaks, and stay away where none is broken."""

from __future__ import annotations

import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.report.shot import warnings

AS_ONE = {"losses.spring_waves": False}


def test_long_heavy_springs_that_move_as_one_are_named_in_a_demo_build_too() -> None:
    build = bl.demo_build("two_springs")
    assert any("wave" in warning for warning in warnings(bl.simulate(build.replace(AS_ONE))))
    assert warnings(bl.simulate(build)) == []


@pytest.mark.parametrize("name", ["apprentice", "workhorse"])
def test_a_common_build_needs_no_warning(name: str) -> None:
    assert warnings(bl.simulate(bl.demo_build(name))) == []


def test_a_dart_lighter_than_the_air_is_named() -> None:
    build = bl.demo_build("workhorse").replace({"dart.mass": "0.06 g", "barrel.length": "60 cm"})
    (warning,) = [w for w in warnings(bl.simulate(build)) if "weighs" in w]
    assert "0.06 g" in warning
    assert "small addition" in warning


def test_a_fast_dart_is_named() -> None:
    light = bl.limits.reservoir_build().replace({"dart.mass": "0.2 g", "chamber.dead_volume": "500 cm^3"})
    shot = bl.simulate(light, charge="1.5 MPa")
    assert shot.muzzle_velocity > bl.Quantity(200, "m/s")
    assert any("speed of sound" in warning for warning in warnings(shot))


def test_a_heavy_spring_is_named_with_both_times() -> None:
    build = bl.demo_build("workhorse").replace({"spring.mass": "400 g"})
    assert warnings(bl.simulate(build)) == []  # its waves are in the shot
    shot = bl.simulate(build.replace(AS_ONE))
    (warning,) = warnings(shot)
    assert "wave" in warning
    assert units.show(shot.exit_time, "time", 3) in warning


def test_a_charged_chamber_has_no_spring_to_warn_of() -> None:
    build = bl.limits.reservoir_build().replace({"spring.mass": "400 g"})
    assert warnings(bl.simulate(build, charge="300 kPa")) == []
