"""A drag coefficient from two speeds, time of flight and drop, found again from full flights."""

import math

import numpy as np
import pytest

import blasterlab as bl

GUESS = bl.Projectile("1.0 g", "12.7 mm", 0.3)  # its own coefficient must not matter
TRUE = 0.62


def shots(x: str):
    flight = bl.fly(GUESS.replace(drag_coefficient=TRUE), "42 m/s", muzzle_height="50 m", distance=x)
    return flight.at(x)


@pytest.mark.parametrize("x", ["4 m", "10 m"])
def test_found_again(x):
    """The readings come from the full flight; the closed forms are off by less than 0.3 %."""
    there = shots(x)
    along = there.speed * math.cos(there.fall_angle.m_as("rad"))  # what a chronograph's screens see
    common = {"speed_uncertainty": 0.01}
    two = bl.drag_from_two_speeds(GUESS, "42 m/s", along, spacing=x, **common)
    assert two.drag_coefficient == pytest.approx(TRUE, rel=3e-3)
    timed = bl.drag_from_time(GUESS, "42 m/s", there.time, distance=x, **common)
    assert timed.drag_coefficient == pytest.approx(TRUE, rel=3e-3)
    dropped = bl.drag_from_drop(GUESS, "42 m/s", there.drop, distance=x, **common)
    assert dropped.drag_coefficient == pytest.approx(TRUE, rel=3e-3)
    for found in (two, timed, dropped):
        assert found.low < TRUE < found.high
        assert sum(found.shares.values()) == pytest.approx(1.0)
        rho = bl.Air().density.m_as("kg/m^3")
        k = rho * TRUE * math.pi * 0.0127**2 / 8e-3
        assert found.drag_constant.m_as("1/m") == pytest.approx(k, rel=3e-3)
    assert two.high - two.low < timed.high - timed.low or x == "4 m"


def test_uncertainty_of_two_speeds_by_hand():
    # JCGM 100:2008, 5.1.2: k = ln(v₁/v₂)/Δx, u² = (u₁/v₁)²/Δx² + (u₂/v₂)²/Δx² + (k u_x/Δx)².
    found = bl.drag_from_two_speeds(
        GUESS, "40 m/s", "30 m/s", spacing="5 m", speed_uncertainty="0.5 %", spacing_uncertainty="10 mm",
        mass_uncertainty="10 mg", diameter_uncertainty="0.1 mm",
    )  # fmt: skip
    k = math.log(40 / 30) / 5
    relative = (2 * (0.005 / 5) ** 2 + (k * 0.01 / 5) ** 2) / k**2 + 0.01**2 + (2 * 0.1 / 12.7) ** 2
    assert found.standard_uncertainty == pytest.approx(found.drag_coefficient * math.sqrt(relative), rel=1e-3)
    assert found.high - found.low == pytest.approx(2 * 1.959964 * found.standard_uncertainty, rel=1e-6)


def test_interval_of_many_shots_covers():
    """95 % intervals from five noisy pairs cover the truth in about 95 % of repeats."""
    rng = np.random.default_rng(7)
    rho = bl.Air().density.m_as("kg/m^3")
    k = rho * TRUE * math.pi * 0.0127**2 / 8e-3
    covered, repeats = 0, 300
    for _ in range(repeats):
        near = 40 + rng.normal(0, 1, 5)
        far = near * math.exp(-5 * k)
        pairs = [[f"{v + rng.normal(0, 0.1)} m/s" for v in speeds] for speeds in (near, far)]
        found = bl.drag_from_two_speeds(GUESS, *pairs, spacing="5 m")
        covered += found.low <= TRUE <= found.high
    assert covered / repeats == pytest.approx(0.95, abs=4 * math.sqrt(0.95 * 0.05 / repeats))


def test_words():
    one = bl.drag_from_two_speeds(GUESS, "40 m/s", "39.9 m/s", spacing="1 m", speed_uncertainty="2 %")
    assert "could still be zero" in str(one)
    assert "comes from the near chronograph and as much from the far chronograph" in str(one)
    many = bl.drag_from_time(GUESS, ["40 m/s", "41 m/s"], ["330 ms", "320 ms"], distance="10 m")
    assert "the scatter from shot to shot" in str(many)
    assert "zero" not in str(many) or many.low <= 0


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: bl.drag_from_two_speeds(GUESS, "30 m/s", "40 m/s", spacing="5 m", speed_uncertainty=0.01),
         ["sped the dart up", "swapped"]),
        (lambda: bl.drag_from_two_speeds(GUESS, "40 m/s", "30 m/s", spacing="5 m"), ["no interval"]),
        (lambda: bl.drag_from_two_speeds(GUESS, ["40 m/s"] * 2, "30 m/s", spacing="5 m"), ["2 and 1"]),
        (lambda: bl.drag_from_two_speeds(GUESS, [], [], spacing="5 m"), ["near", "0 readings"]),
        (lambda: bl.drag_from_two_speeds(GUESS, "40 m/s", "30 m/s", spacing="-5 m"), ["spacing", "behind"]),
        (lambda: bl.drag_from_two_speeds(GUESS, "40 m/s", "30 m/s", spacing="5 m", speed_uncertainty=0.5),
         ["the near chronograph", "0 to 0.2"]),
        (lambda: bl.drag_from_two_speeds(GUESS, "40 m/s", "30 m/s", spacing="5 m", speed_uncertainty=0.01,
                                         level=95), ["level", "0.95"]),
        (lambda: bl.drag_from_time(GUESS, "40 m/s", "200 ms", distance="10 m", time_uncertainty="1 ms"),
         ["sped the dart up"]),
        (lambda: bl.drag_from_time(GUESS, "40 m/s", "20 s", distance="1 m", time_uncertainty="1 ms"),
         ["800 times what the distance takes", "unit"]),
        (lambda: bl.drag_from_drop(GUESS, "40 m/s", "20 cm", distance="10 m", drop_uncertainty="1 cm"),
         ["sped the dart up", "angle"]),
        (lambda: bl.drag_from_drop(GUESS, "40 m/s", "1 mm", distance="10 m", drop_uncertainty="1 cm"),
         ["times the drop without air"]),
    ],
)  # fmt: skip
def test_refused(call, words):
    with pytest.raises(bl.UnitError) as caught:
        call()
    for word in words:
        assert word in str(caught.value)
