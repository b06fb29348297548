"""Units: what is read, what is refused and how, published factors, round trips, the two display sets."""

from __future__ import annotations

import math
import re
import subprocess
import sys

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from blasterlab import units as u

FINITE = st.floats(allow_nan=False, allow_infinity=False, width=64)
KINDS = sorted(u.KINDS)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 1/2 in", "length", 1.5 * 0.0254),
        ("1-1/2 in", "length", 1.5 * 0.0254),
        ("17/32 in", "length", 17 / 32 * 0.0254),
        ('1/2"', "length", 0.0127),
        ("2'", "length", 0.6096),
        ("3 inches", "length", 0.0762),
        ("36mm", "length", 0.036),
        ("  36   mm ", "length", 0.036),
        ("36\u00a0mm", "length", 0.036),
        (".5 cm", "length", 0.005),
        ("5. cm", "length", 0.05),
        ("+5 mm", "length", 0.005),
        ("-5 mm", "length", -0.005),
        ("1e-3 m", "length", 0.001),
        ("250 fps", "speed", 76.2),
        ("250 ft/s", "speed", 76.2),
        ("250 f/s", "speed", 76.2),
        ("0.9 g", "mass", 0.0009),
        ("14 kgf", "force", 14 * 9.80665),
        ("400 gf", "force", 0.4 * 9.80665),
        ("20 degC", "temperature", 293.15),
        ("20 °C", "temperature", 293.15),
        ("68 degF", "temperature", 293.15),
        ("2 cc", "volume", 2e-6),
        ("2 ml", "volume", 2e-6),
        ("2 cm³", "volume", 2e-6),
        ("0.02 N/kPa", "friction per pressure", 2e-5),
        ("3 ft*lbf", "energy", 3 * 0.3048 * 0.45359237 * 9.80665),
        ("50 %", "number", 0.5),
        ("50%", "number", 0.5),
        ("1/2", "number", 0.5),
        ("0.5", "number", 0.5),
        (0.5, "number", 0.5),
        (2, "number", 2.0),
        (np.float64(0.25), "number", 0.25),
        (np.int64(3), "number", 3.0),
        (u.Quantity(36, "mm"), "length", 0.036),
        (u.Quantity(np.float32(2), "m"), "length", 2.0),
    ],
)
def test_what_is_read(text: object, kind: str, value: float) -> None:
    assert u.si(text, kind) == pytest.approx(value, rel=1e-12)


# The inch and the pound are exact by the 1959 agreement, "Refinement of Values for the Yard and the Pound",
# Federal Register 24, no. 128, 1 July 1959, p. 5348.  Standard gravity: 3rd CGPM, 1901, Declaration 2
# (BIPM, The International System of Units, 9th ed., 2019).  0 degC = 273.15 K: same brochure, section 2.3.1.
# Grain = lb/7000, psi and foot-pound follow from these.
@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("1 in", "length", 0.0254),
        ("1 ft", "length", 0.3048),
        ("1 lb", "mass", 0.45359237),
        ("7000 grain", "mass", 0.45359237),
        ("1 kgf", "force", 9.80665),
        ("1 lbf", "force", 0.45359237 * 9.80665),
        ("1 psi", "pressure", 0.45359237 * 9.80665 / 0.0254**2),
        ("0 degC", "temperature", 273.15),
        ("32 degF", "temperature", 273.15),
        ("1 atm", "pressure", 101325.0),
    ],
)
def test_published_factors(text: str, kind: str, value: float) -> None:
    assert u.si(text, kind) == pytest.approx(value, rel=4e-15)


def test_standard_gravity() -> None:
    assert u.Quantity(1, "g_n").m_as("m/s^2") == pytest.approx(9.80665, rel=1e-15)


REFUSED = [
    (5, "length", 'got 5, which has no unit; try "5 mm" or "5 in"'),
    (5.0, "speed", 'got 5.0, which has no unit; try "5.0 m/s" or "5.0 ft/s"'),
    ("5", "length", "got '5', which has no unit; try \"5 mm\""),
    (True, "number", "must be a single number"),
    (None, "length", "must be a single length with its unit"),
    ([1], "length", "must be a single length with its unit"),
    (b"5 mm", "length", "must be a single length with its unit"),
    (5j, "number", "must be a single number"),
    ("12,5 mm", "length", "a decimal point and no comma"),
    ("1,000 mm", "length", "a decimal point and no comma"),
    ("", "length", "must be a number and its unit"),
    ("mm", "length", "must be a number and its unit"),
    ("nan mm", "length", "must be a number and its unit"),
    ("-inf mm", "length", "must be a number and its unit"),
    ("−5 mm", "length", "must be a number and its unit"),
    ("1/0 in", "length", "does not divide by zero"),
    ("1 1/0 in", "length", "does not divide by zero"),
    ("5 5 mm", "length", "'5 mm' is not one"),
    ("5 mm 3 in", "length", "'mm 3 in' is not one"),
    ("5 flurb", "length", "must be a length in a unit known here ('flurb' is not one)"),
    ("5 mm\x00", "length", "is not one"),
    ("5 [mm]", "length", "is not one"),
    ("5 __import__('os')", "length", "is not one"),
    ("5 " + "m" * 100, "length", "at most 64 characters"),
    ("9 lb", "force", "kgf and lbf are forces"),
    ("9 lbf", "mass", "kg and lb are masses"),
    ("5 mm", "mass", "must be a mass (this is a length)"),
    ("5 furlong/fortnight/kg", "mass", "must be a mass; try"),
    ("5 delta_degC", "temperature", "must be a temperature"),
    ("5 degC^2/K", "temperature", "must be a temperature"),
    ("0.5 mm", "number", "must be a number (this is a length)"),
    ("1e999 m", "length", "must be a smaller number"),
    (math.nan, "number", "must be a finite number"),
    (math.nan, "length", "must be a finite number"),
    (10**400, "number", "must be a smaller number"),
    (u.Quantity(10**400, "m"), "length", "must be a smaller number"),
    ({"a": {"b": {"c": {}}}}, "length", "must be a single length"),
    (np.float64(2.5), "length", "got 2.5, which has no unit"),
    (u.Quantity(math.nan, "m"), "length", "must be a finite number"),
    (u.Quantity(math.inf, "m"), "length", "must be a smaller number"),
    (u.Quantity(1e308, "km"), "length", "must be a smaller number"),
    (u.Quantity([1, 2], "m"), "length", "must be a single length"),
    (u.Quantity(1j, "m"), "length", "must be a single length"),
    (u.Quantity(1, "kg"), "length", "must be a length (this is a mass)"),
]


@pytest.mark.parametrize(("value", "kind", "why"), REFUSED)
def test_what_is_refused(value: object, kind: str, why: str) -> None:
    with pytest.raises(u.UnitError) as caught:
        u.si(value, kind, "spring.free_length")
    message = str(caught.value)
    assert message.startswith("spring.free_length: got ")
    assert why in message
    assert "; try " in message
    assert len(message) < 400
    assert message.isprintable()


def test_an_integer_too_long_to_print_is_refused_all_the_same() -> None:
    for value in (-(10**9000), 16**9000, u.Quantity(10**9000, "")):
        with pytest.raises(u.UnitError, match="must be a smaller number"):
            u.si(value, "number", "spring.active_coils")
    with pytest.raises(u.UnitError, match=r"^x: got a whole number of 29898 bits, which has no unit"):
        u.si(10**9000, "length", "x")


def test_a_huge_number_is_shown_with_an_exponent() -> None:
    assert u.show(1e300, "number") == "1e+300"
    assert u.show(123456.0, "number") == "123456"
    assert u.show(-123456.0, "number") == "-123456"


def test_a_refusal_is_a_value_error() -> None:
    assert issubclass(u.UnitError, ValueError)


@pytest.mark.parametrize("kind", KINDS)
def test_examples_in_messages_would_do(kind: str) -> None:
    examples = re.findall(r'"([^"]+)"', u.KINDS[kind].examples) or [u.KINDS[kind].examples]
    assert examples
    for example in examples:
        assert math.isfinite(u.si(example, kind))


@pytest.mark.parametrize("text", ["3 m^9^9^9^9", "3 m**9**9**9**9", "3 m^(9^9^9^9)", "3 m^99999999999"])
def test_towers_of_powers_are_refused_at_once(text: str) -> None:
    code = f"from blasterlab.units import si\nsi({text!r}, 'length')"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=10, check=False
    )
    assert "UnitError: value: got" in done.stderr


def si_or_refusal(value: object, kind: str) -> float | str:
    try:
        return u.si(value, kind)
    except u.UnitError as error:
        return str(error)


@given(text=st.text(max_size=80), kind=st.sampled_from(KINDS))
def test_any_text_is_read_or_refused(text: str, kind: str) -> None:
    answer = si_or_refusal(text, kind)
    assert math.isfinite(answer) if isinstance(answer, float) else "; try " in answer


@given(number=FINITE, tail=st.text(alphabet="mkginlbfst/*()-. 12°", max_size=12))
def test_any_unit_is_read_or_refused(number: float, tail: str) -> None:
    answer = si_or_refusal(f"{number!r} {tail}", "length")
    assert math.isfinite(answer) if isinstance(answer, float) else "; try " in answer


SPELLINGS = sorted({unit for kind in u.KINDS.values() for unit in (kind.si, kind.metric, kind.us)})


@given(number=st.floats(-1e300, 1e300), unit=st.sampled_from(SPELLINGS))
def test_text_round_trip_is_exact(number: float, unit: str) -> None:
    kind = next(k.name for k in u.KINDS.values() if unit in (k.si, k.metric, k.us))
    first = u.parse(f"{number!r} {unit}", kind)
    again = u.parse(f"{first.magnitude!r} {u.unit_text(first.units)}", kind)
    assert first.magnitude == again.magnitude == number
    assert first.units == again.units


@given(number=st.floats(1e-6, 1e6), kind=st.sampled_from(KINDS), chosen=st.sampled_from(u.UNIT_SETS))
def test_display_round_trip(number: float, kind: str, chosen: str) -> None:
    u.use_units(chosen)
    shown = u.quantity(float(u.display(number, kind)), u.display_unit(kind))
    assert u.si(shown, kind) == pytest.approx(number, rel=1e-12, abs=1e-11)


@given(whole=st.integers(0, 99), top=st.integers(1, 63), bottom=st.sampled_from([2, 4, 8, 16, 32, 64]))
def test_fractions_of_an_inch(whole: int, top: int, bottom: int) -> None:
    text = f"{whole} {top}/{bottom} in" if whole else f"{top}/{bottom} in"
    assert u.si(text, "length") == pytest.approx((whole + top / bottom) * 0.0254, rel=1e-14)


@given(number=st.floats(-1e6, 1e6))
def test_si_agrees_with_pint(number: float) -> None:
    for text, kind in [
        ("degF", "temperature"),
        ("psi", "pressure"),
        ("lbf/in", "spring rate"),
        ("ft/s", "speed"),
    ]:
        value = u.Quantity(number, text)
        assert u.si(value, kind) == pytest.approx(value.m_as(u.KINDS[kind].si), rel=1e-12, abs=1e-9)


def test_the_unit_that_was_written_is_kept() -> None:
    assert str(u.parse("1 1/2 in", "length").units) == "inch"
    assert u.parse("36 mm", "length").magnitude == 36


def test_a_quantity_of_another_registry_is_taken_over() -> None:
    other = pint.UnitRegistry()
    assert u.si(other.Quantity(36, "mm"), "length") == pytest.approx(0.036, rel=1e-12)
    assert u.parse(other.Quantity(36, "mm"), "length")._REGISTRY is u.ureg


def test_there_is_one_registry() -> None:
    assert pint.get_application_registry().get() is u.ureg
    assert (u.quantity(1.0, "m") + u.Quantity(1, "in")).m_as("m") == pytest.approx(1.0254)


def test_quantity_keeps_the_shape() -> None:
    assert u.quantity(np.zeros((2, 3)), "kPa").shape == (2, 3)


@pytest.mark.parametrize("unit", SPELLINGS)
def test_unit_text_is_plain_and_parses_back(unit: str) -> None:
    units = u.quantity(1.0, unit).units
    text = u.unit_text(units)
    assert text.isascii()
    assert u.quantity(1.0, text).units == units


def test_the_ends_of_a_range_belong_to_it_in_any_unit() -> None:
    for number in range(1, 300):
        for text, end in [(f"{number} mm", number / 1000), (f"{number / 10} cm", number / 1000)]:
            assert u.si_in(text, "length", "chamber.bore", end, 2 * end) == pytest.approx(end)
            assert u.si_in(text, "length", "chamber.bore", end / 2, end) == pytest.approx(end)


def test_outside_a_range_is_refused_with_the_range_and_the_cause() -> None:
    with pytest.raises(
        u.UnitError, match=r"chamber\.bore: got '3 mm'; must be 5 mm to 200 mm \(a typing slip\?\)"
    ):
        u.si_in("3 mm", "length", "chamber.bore", 0.005, 0.2, "a typing slip?")
    with pytest.raises(u.UnitError, match=r"chamber\.bore: got '1 m'"):
        u.si_in("1 m", "length", "chamber.bore", 0.005, 0.2)


def test_the_display_set_is_switched_once() -> None:
    assert u.use_units() == "metric"
    assert u.show(u.Quantity(0.3048, "m"), "distance") == "0.3048 m"
    assert u.use_units("US customary") == "US customary"
    assert u.show(u.Quantity(0.3048, "m"), "distance") == "1 ft"
    assert (u.display_unit("spring rate"), u.show_unit("area")) == ("lbf/in", "in²")
    assert u.show(76.2, "speed") == "250 ft/s"
    u.use_units("metric")
    assert u.show(76.2, "speed") == "76.2 m/s"


def test_a_display_set_as_the_hobby_mixes_units() -> None:
    u.use_units("mm and ft/s")
    shown = {kind: u.show_unit(kind) for kind in ("length", "mass", "speed", "energy", "force", "distance")}
    assert shown == {
        "length": "mm", "mass": "g", "speed": "ft/s", "energy": "J", "force": "N", "distance": "ft"
    }  # fmt: skip
    assert u.show_unit("temperature") == "°C"


@pytest.mark.parametrize("name", ["imperial", "", 3, "Metric", "x" * 500])
def test_an_unknown_display_set_is_refused(name: object) -> None:
    with pytest.raises(u.UnitError, match="must be metric or US customary") as caught:
        u.use_units(name)  # type: ignore[arg-type]
    assert len(str(caught.value)) < 200
    assert u.use_units() == "metric"


@pytest.mark.parametrize("chosen", u.UNIT_SETS)
@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_is_shown_in_both_sets(kind: str, chosen: str) -> None:
    u.use_units(chosen)
    assert u.si(u.quantity(1.0, u.display_unit(kind)), kind) > 0
    assert u.show(1.0, kind).endswith(u.show_unit(kind))
    assert "**" not in u.show_unit(kind)
    assert "^" not in u.show_unit(kind)


@pytest.mark.parametrize(
    ("value", "kind", "digits", "text"),
    [
        (0.036, "length", 4, "36 mm"),
        (0.0361234, "length", 3, "36.1 mm"),
        (123.456, "length", 3, "123456 mm"),
        (0.0, "speed", 4, "0 m/s"),
        (-5.0, "speed", 4, "-5 m/s"),
        (293.15, "temperature", 4, "20 °C"),
        (math.pi / 6, "angle", 4, "30°"),
        (0.5, "number", 4, "0.5"),
        (2e-6, "volume", 4, "2 cm³"),
    ],
)
def test_values_in_words(value: float, kind: str, digits: int, text: str) -> None:
    assert u.show(value, kind, digits) == text


def test_display_takes_arrays() -> None:
    np.testing.assert_allclose(u.display(np.array([0.001, 0.002]), "length"), [1.0, 2.0], rtol=1e-14)


def test_a_home_that_cannot_be_written_only_costs_time(monkeypatch: pytest.MonkeyPatch) -> None:
    real = pint.UnitRegistry

    def refuses_a_cache(cache_folder: str | None = None) -> pint.UnitRegistry:
        if cache_folder:
            raise PermissionError("read-only")
        return real()

    monkeypatch.setattr(u.pint, "UnitRegistry", refuses_a_cache)
    assert u._registry().Quantity(1, "in").m_as("mm") == pytest.approx(25.4)


def test_the_inner_loop_is_free_of_units() -> None:
    """The compile switch loads neither pint nor the units module."""
    code = "import sys, blasterlab.compiled; assert 'pint' not in sys.modules, 'pint is loaded'"
    subprocess.run([sys.executable, "-c", code], check=True)
