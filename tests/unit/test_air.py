"""Ambient air: what is accepted, what is refused, and how the values hang together."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

import blasterlab as bl
from blasterlab import air as module
from blasterlab.air import Air


def test_defaults_and_values():
    air = bl.Air()
    assert air.si == (293.15, 101325.0, 0.5)
    assert air.density.check("[mass]/[length]**3")
    assert air.viscosity.check("[pressure]*[time]")
    assert air.speed_of_sound.check("[speed]")
    product = air.gas_constant * air.temperature.to("K") * air.density
    assert product.m_as("Pa") == pytest.approx(101325.0, rel=1e-12)


def test_the_unit_that_was_written_is_kept():
    air = Air(temperature="68 degF", pressure="29.92 inHg", relative_humidity="50 %")
    assert str(air.temperature.units) == "degree_Fahrenheit"
    assert air.si[0] == pytest.approx(293.15, abs=1e-9)
    assert air.si[1] == pytest.approx(101325.0, rel=2e-4)
    assert air.si[2] == pytest.approx(0.5)


def test_equal_and_frozen():
    assert Air() == Air()
    with pytest.raises(AttributeError):
        Air().pressure = "90 kPa"


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"temperature": 20}, ["air.temperature", "has no unit"]),
        ({"temperature": "20 kPa"}, ["air.temperature", "must be a temperature (this is a pressure)"]),
        ({"temperature": "70 degC"}, ["air.temperature", "-60 °C to 60 °C"]),
        ({"temperature": "-61 degC"}, ["air.temperature", "-60 °C to 60 °C"]),
        ({"temperature": "nan K"}, ["air.temperature"]),
        ({"pressure": "101325 kPa"}, ["air.pressure", "5 kPa to 200 kPa"]),
        ({"pressure": "1 kPa"}, ["air.pressure", "5 kPa to 200 kPa"]),
        ({"relative_humidity": 50}, ["air.relative_humidity", "50 % is 0.5"]),
        ({"relative_humidity": -0.1}, ["air.relative_humidity", "0 to 1"]),
        ({"temperature": "50 degC", "pressure": "6 kPa", "relative_humidity": 1}, ["water vapour", "50 %"]),
    ],
)
def test_refused_with_name_value_and_range(values, words):
    with pytest.raises(bl.UnitError) as caught:
        Air(**values)
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize("altitude", ["-2.1 km", "21 km", "100000 ft", "12 s"])
def test_altitude_refused(altitude):
    with pytest.raises(bl.UnitError, match="altitude"):
        Air.standard(altitude)


def test_standard_air_takes_a_measured_temperature():
    cool, warm = Air.standard("1500 m"), Air.standard("1500 m", temperature="30 degC")
    assert cool.pressure == warm.pressure
    assert warm.density < cool.density


@given(st.floats(-2000.0, 19_900.0))
def test_pressure_falls_with_altitude_by_the_weight_of_the_air(altitude):
    (_, low), (middle, pressure), (_, high) = (
        module.standard_atmosphere(altitude + up) for up in (0.0, 50.0, 100.0)
    )
    density = pressure / (module.DRY_GAS_CONSTANT * middle)
    # Mid-point rule over 100 m: (ΔH/H_scale)²/24 = 1e-5 of the weight, a little more across the 11 km corner.
    assert low - high == pytest.approx(density * module.GRAVITY * 100.0, rel=3e-5)


@given(st.floats(-60.0, 40.0), st.floats(50e3, 200e3), st.floats(0.0, 0.9))
def test_damp_and_warm_air_is_thinner(celsius, pressure, humidity):
    kelvin = celsius + 273.15
    here = module.density(kelvin, pressure, humidity)
    assert module.density(kelvin, pressure, humidity + 0.1) < here
    assert module.density(kelvin + 1.0, pressure, humidity) < here
    assert module.speed_of_sound(kelvin, pressure, humidity + 0.1) > module.speed_of_sound(
        kelvin, pressure, humidity
    )
    assert math.isfinite(here)
