"""Numbers in words: no chance promises too much, and no last digit is lost."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some

from blasterlab import units
from blasterlab.report import numbers


@given(some.floats(0.0, 1.0))
def test_a_chance_in_words_is_the_chance(p: float) -> None:
    words = numbers.chance(p)
    number = float(words.removeprefix("below ").removeprefix("above ").removesuffix(" %")) / 100
    if words.startswith("below"):
        assert p < 1e-4
    elif words.startswith("above"):
        assert p > 0.999
    else:
        assert number == pytest.approx(p, abs=0.00051 if p > 0.99 else 0.0051 if p > 0.099 else 0.051 * p)
        assert "100" not in words
        assert "e" not in words


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.0996, "10 %"),
        (0.0994, "9.9 %"),
        (0.9899, "99 %"),
        (0.99, "99.0 %"),
        (0.999, "99.9 %"),
        (0.00012, "0.012 %"),
    ],
)
def test_chances_at_the_edges(p: float, words: str) -> None:
    assert numbers.chance(p) == words


@given(some.floats(1e-4, 0.4))
def test_one_in_so_many_is_near_the_p_value(p: float) -> None:
    rarity = int(numbers.p_value(p).partition("1 in ")[2].split()[0])
    assert rarity * p == pytest.approx(1.0, rel=0.5)


def test_a_tiny_p_value_is_no_zero() -> None:
    assert numbers.p_value(1e-12).startswith("p < 0.0001 ")
    assert "mostly chance" in numbers.p_value(1.0)


@given(some.floats(1e-3, 5e5), some.integers(2, 6))
def test_kept_digits_are_as_many_as_asked_for(value: float, digits: int) -> None:
    number, unit = numbers.kept(value, "speed", digits).split(" ")
    assert unit == "m/s"
    assert float(number) == pytest.approx(value, rel=0.51 * 10.0 ** (1 - digits))
    significant = number.replace(".", "").lstrip("0")
    assert len(significant) == max(digits, len(number.partition(".")[0].lstrip("0")))


def test_kept_values_follow_the_chosen_units() -> None:
    speed = units.quantity(40.0, "m/s")
    assert numbers.kept(speed, "speed") == "40.00 m/s"
    assert numbers.kept(-0.2, "speed", 2) == "-0.20 m/s"
    assert numbers.kept(0.5, "angle", 3) == "28.6°"
    assert numbers.kept(0.5, "number", 3) == "0.500"
    units.use_units("US customary")
    assert numbers.kept(speed, "speed") == "131.2 ft/s"
    assert numbers.as_typed(units.parse("190 fps", "speed"), "speed") == "190 ft/s"
    assert numbers.as_typed(units.parse("58 m/s", "speed"), "speed") == "58 m/s (190.3 ft/s)"
    assert numbers.as_typed(units.parse("1.5 J", "energy"), "energy") == "1.5 J (1.106 ft·lbf)"
    units.use_units("metric")
    assert numbers.as_typed(units.parse("1 ft*lbf", "energy"), "energy") == "1 ft·lbf (1.356 J)"


def test_confidence() -> None:
    assert (numbers.confidence(0.95), numbers.confidence(0.9999)) == ("95 %", "99.99 %")
