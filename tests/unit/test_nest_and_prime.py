"""Nested and stacked springs, and the pull that primes them."""

import numpy as np
import pytest

from blasterlab import units
from blasterlab.parts.nest import as_springs, nested_energy, nested_force, radial_gaps, stacked
from blasterlab.parts.prime import prime
from blasterlab.parts.rate_tolerance import as_bought
from blasterlab.parts.spring import Spring

OUTER = Spring("1.4 mm", "20 mm", "150 mm", 20, preload="20 mm", measured_rate="500 N/m")
INNER = Spring("1.0 mm", "14 mm", "120 mm", 20, gap="30 mm", measured_rate="300 N/m", name="springs[1]")


def test_nested_springs_add_once_both_are_engaged() -> None:
    assert nested_force([OUTER, INNER], "30 mm").m_as("N") == pytest.approx(25)
    assert nested_force([OUTER, INNER], "40 mm").m_as("N") == pytest.approx(30 + 3)
    assert nested_force(OUTER, "0 mm").m_as("N") == pytest.approx(10)
    assert nested_energy([OUTER, INNER], "0 mm", "60 mm").m_as("J") == pytest.approx(
        0.5 * 500 * (0.08**2 - 0.02**2) + 0.5 * 300 * 0.03**2
    )
    assert nested_energy([OUTER, INNER], "60 mm", "0 mm") == -nested_energy([OUTER, INNER], "0 mm", "60 mm")


def test_a_solid_nested_spring_is_refused() -> None:
    with pytest.raises(units.UnitError, match=r"springs\[1\].*at most 97 mm \(there its coils touch\)"):
        nested_force([INNER], "128 mm")
    with pytest.raises(units.UnitError, match="spring:"):
        nested_energy([OUTER], "0 mm", "130 mm")


@pytest.mark.parametrize("wrong", [[], ["spring"], [OUTER, None]])
def test_something_else_than_springs_is_refused(wrong: list) -> None:
    with pytest.raises(units.UnitError, match="one Spring or a list"):
        as_springs(wrong)


def test_radial_gap_shrinks_as_the_inner_spring_grows() -> None:
    (gap,) = radial_gaps([INNER, OUTER])  # sorted by itself
    hole, still = 20 - 2 * 1.4, 14.0
    pitch = (120 - 3) / 20
    grown = (13**2 + (pitch**2 - 1) / np.pi**2) ** 0.5 + 1
    assert grown > still
    assert gap.m_as("mm") == pytest.approx((hole - grown) / 2)


def test_stacked_springs() -> None:
    stiff = Spring("1.3 mm", "16 mm", "90 mm", 12, measured_rate="800 N/m")
    soft = Spring("1.1 mm", "16 mm", "90 mm", 14, measured_rate="200 N/m")
    stack = stacked([stiff, soft])
    assert stack.rate.m_as("N/m") == pytest.approx(160)
    assert stack.free_length.m_as("mm") == pytest.approx(180)
    assert stack.mass == stiff.mass + soft.mass
    # 50 mm of compression: 8 N in each, 10 mm and 40 mm
    assert stack.force("130 mm").m_as("N") == pytest.approx(8)
    assert stack.force("200 mm").m_as("N") == 0
    # the soft one is solid first; from there on only the stiff one gives
    room = 90 - 1.1 * 17
    first = stack.first_solid.m_as("mm")
    assert first == pytest.approx(room + room * 200 / 800)
    a = stack.force(units.quantity(180 - first - 1, "mm")).m_as("N")
    b = stack.force(units.quantity(180 - first - 2, "mm")).m_as("N")
    assert b - a == pytest.approx(0.8)
    with pytest.raises(units.UnitError, match="there the stack is solid"):
        stack.force("20 mm")


def test_prime_peak_work_and_curve() -> None:
    pull = prime([OUTER, INNER], "60 mm", seal_friction="5 N")
    assert pull.start_force.m_as("N") == pytest.approx(15)
    assert pull.peak_force.m_as("N") == pytest.approx(40 + 9 + 5)
    assert pull.stored == nested_energy([OUTER, INNER], "0 mm", "60 mm")
    assert pull.work.m_as("J") == pytest.approx(pull.stored.m_as("J") + 0.3)
    assert pull.stored_share == pytest.approx(pull.stored / pull.work)
    curve = pull.curve
    assert list(curve.columns) == ["back_m", "hand_m", "spring_force_N", "hand_force_N"]
    assert len(curve) == 101
    area = np.trapezoid(curve["hand_force_N"], curve["hand_m"])
    assert area == pytest.approx(pull.work.m_as("J"), rel=1e-3)  # the kink lies between two points


def test_a_lever_halves_the_force_and_costs_its_friction() -> None:
    direct = prime(OUTER, "60 mm", "5 N")
    lever = prime(OUTER, "60 mm", "5 N", ratio=2, linkage_efficiency=0.8)
    assert lever.peak_force.m_as("N") == pytest.approx(direct.peak_force.m_as("N") / 1.6)
    assert lever.work.m_as("J") == pytest.approx(direct.work.m_as("J") / 0.8)
    assert lever.hand_travel.m_as("mm") == pytest.approx(120)
    area = np.trapezoid(lever.curve["hand_force_N"], lever.curve["hand_m"])
    assert area == pytest.approx(lever.work.m_as("J"), rel=1e-9)  # one spring: the curve is straight


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({"stroke": "130 mm"}, "is solid 32"),
        ({"stroke": "0 mm"}, "plunger travel"),
        ({"stroke": "60 mm", "seal_friction": "-1 N"}, "running friction"),
        ({"stroke": "60 mm", "ratio": 0}, "hand travel over plunger travel"),
        ({"stroke": "60 mm", "linkage_efficiency": 1.1}, "1 for a direct pull"),
    ],
)
def test_impossible_pulls_are_refused(how: dict, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        prime([OUTER, INNER], **how)


def test_spread_of_a_bought_spring() -> None:
    spring = Spring("1.3 mm", "16 mm", "180 mm", 24)
    spread = as_bought(spring)
    # tolerances: wire ± 0.020 mm, D = 14.7 mm at w = 11.3 ± 0.35 mm, ± 1/4 coil
    expected = {"wire": 4 * 0.02 / 1.3, "coil diameter": 3 * 0.35 / 14.7, "coils": 0.25 / 24}
    assert spread.shares == pytest.approx(expected)
    assert spread.fraction == pytest.approx(2 * sum(v**2 for v in expected.values()) ** 0.5 / 3**0.5)
    assert spread.low < spread.rate < spread.high
    assert spread.rate == spring.computed_rate


def test_a_hundredth_of_a_millimetre_of_wire_shows_as_four_times_its_share() -> None:
    spring = Spring("1.3 mm", "16 mm", "180 mm", 24)
    share = as_bought(spring, wire="0.01 mm").shares["wire"]
    thick = Spring("1.31 mm", "16.01 mm", "180 mm", 24)  # same mean diameter
    assert thick.rate / spring.rate - 1 == pytest.approx(share, rel=0.02)
    callipers = as_bought(spring, wire="0.01 mm", coil_diameter="0.05 mm", coils=0)
    assert callipers.shares["coils"] == 0
    assert callipers.fraction < as_bought(spring).fraction


def test_spread_needs_a_count_within_the_spring() -> None:
    with pytest.raises(units.UnitError, match="half width of the count"):
        as_bought(OUTER, coils=30)
    with pytest.raises(units.UnitError, match="no other index"):
        as_bought(Spring("2 mm", "8 mm", "60 mm", 8))
