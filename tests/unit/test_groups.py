"""A measured group: reading, statistics, trust."""

import math

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.flight import group_statistics as groups
from blasterlab.flight.measured_group import MeasuredGroup

SQUARE = "10 mm, 10 mm; -10 mm, 10 mm; -10 mm, -10 mm; 10 mm, -10 mm"


def test_square_by_hand():
    group = MeasuredGroup.read(SQUARE)
    assert group.count == 4
    assert group.extreme_spread.m_as("mm") == pytest.approx(20 * math.sqrt(2))
    assert group.mean_radius.m_as("mm") == pytest.approx(10 * math.sqrt(2))
    assert group.sd_right.value.m_as("mm") == pytest.approx(math.sqrt(400 / 3))
    assert group.sd_up.value.m_as("mm") == pytest.approx(math.sqrt(400 / 3))
    assert group.sigma.value.m_as("mm") == pytest.approx(groups.sigma_bias(4) * math.sqrt(800 / 6))
    assert group.cep.value.m_as("mm") == pytest.approx(groups.CEP * group.sigma.value.m_as("mm"))
    assert [one.m_as("mm") for one in group.centre] == pytest.approx([0.0, 0.0], abs=1e-12)
    assert str(group).startswith("4 shots, centre 0 mm right and 0 mm high")


@pytest.mark.parametrize(
    ("source", "unit"),
    [
        ("10, 10\n-10, 10\n-10, -10\n10, -10", "mm"),
        ("# pasted\n1 1\n-1 1\n-1 -1\n1 -1\n", "cm"),
        ([(10, 10), (-10, 10), (-10, -10), (10, -10)], "mm"),
        ([("10 mm", "1 cm"), ("-10 mm", "10 mm"), ("-10 mm", "-10 mm"), ("10 mm", "-10 mm")], None),
        ("10 mm 10 mm\n-10 mm 10 mm\n-10 mm -10 mm\n10 mm -10 mm", None),
        (SQUARE, "in"),
    ],
)
def test_ways_in(source, unit):
    if source == SQUARE:
        with pytest.raises(bl.UnitError, match="point 1"):  # two units for one number
            MeasuredGroup.read(source, unit=unit)
    else:
        assert MeasuredGroup.read(source, unit=unit).points == pytest.approx(
            MeasuredGroup.read(SQUARE).points
        )


def test_from_a_picture():
    # 2 px a millimetre; the aim at (300, 300).
    pixels = [(320, 280), (280, 280), (280, 320), (320, 320)]
    group = MeasuredGroup.from_picture(pixels, ((100, 50), (100, 250)), "100 mm", (300, 300))
    assert group.points == pytest.approx(MeasuredGroup.read(SQUARE).points)


def test_intervals_narrow_with_shots_and_widen_with_level():
    rng = np.random.default_rng(3)
    cloud = rng.standard_normal((40, 2)) / 100

    def width(n: int, level: float) -> float:
        q = units.quantity
        sigma = MeasuredGroup(q(cloud[:n, 0], "m"), q(cloud[:n, 1], "m"), level).sigma
        return float((sigma.high - sigma.low) / sigma.value)

    assert width(40, 0.95) < width(10, 0.95) < width(10, 0.99)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: MeasuredGroup.read("10 mm, 5 mm"), ["1 points", "2 to 2000"]),
        (lambda: MeasuredGroup.read("10 mm, 5 mm; 10 mm, 5 mm"), ["in one place"]),
        (lambda: MeasuredGroup.read("10 mm, 5 mm; 3 mm"), ["point 2", "right and up"]),
        (lambda: MeasuredGroup.read("10, 5; 3, 4"), ["point 1", "has no unit"]),
        (lambda: MeasuredGroup.read("10 mm, 5 mm; 3 mm, 4 kg"), ["point 2", "mass"]),
        (lambda: MeasuredGroup.read("10 m, 5 m; 30 m, 4 m"), ["more than 10 m"]),
        (lambda: MeasuredGroup.read([(1, 2, 3), (1, 2, 3)], unit="mm"), ["point 1"]),
        (lambda: MeasuredGroup.read("1 mm, 2 mm;" * 20_000), ["characters"]),
        (lambda: MeasuredGroup.read(SQUARE, level=95), ["level", "0.95"]),
        (lambda: MeasuredGroup.read("nan, 1; 2, 3", unit="mm"), ["point 1"]),
        (lambda: MeasuredGroup.from_picture([(1, 1), (2, 2)], ((5, 5), (5, 5)), "1 cm", (0, 0)),
         ["group.scale", "one place"]),
        (lambda: MeasuredGroup.from_picture([(1, 1), (2, 2)], ((5, 5), (9, 5)), "0 cm", (0, 0)),
         ["group.scale_length"]),
        (lambda: groups.shots_needed(0.0), ["within", "0.2"]),
        (lambda: groups.shots_needed(0.2, level=1.0), ["level"]),
        (lambda: groups.trust_table([1]), ["counts", "2 shots"]),
    ],
)  # fmt: skip
def test_refused(call, words):
    with pytest.raises(bl.UnitError) as caught:
        call()
    for word in words:
        assert word in str(caught.value)


def test_shots_needed_is_the_least():
    table = groups.trust_table([35, 36])["high_over_estimate"].tolist()
    assert groups.shots_needed(0.2) == 36
    assert table[0] > 1.2 >= table[1]
    assert groups.shots_needed(0.5) < groups.shots_needed(0.2) < groups.shots_needed(0.1)
