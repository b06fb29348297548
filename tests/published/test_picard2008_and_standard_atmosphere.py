"""Air against published values and against two packages."""

import pytest
from ambiance import Atmosphere
from CoolProp.CoolProp import HAPropsSI, PropsSI

from blasterlab import air, tables


def test_picard2008_check_value():
    # A. Picard et al., Revised formula for the density of moist air (CIPM-2007), Metrologia 45, 149, 2008:
    # the formula of the paper at 20 °C, 101 325 Pa, 50 %, 400 ppm.
    assert air.density(293.15, 101_325.0, 0.5, co2=400e-6) == pytest.approx(1.1993138955, abs=1e-10)


def dry_air(temperature: float, pressure: float) -> tuple[float, float]:
    """Density and speed of sound by the kit's constants of dry air, as an ideal gas."""
    square = air.DRY_GAS_CONSTANT * temperature
    return pressure / square, (air.GAMMA * square) ** 0.5


def test_ussa1976_table():
    # US Standard Atmosphere 1976 = ISO 2533:1975, as kept in data/reference/atmosphere_1976.csv.
    table = tables.read("reference/atmosphere_1976")
    assert len(table) >= 7
    assert table.H_m.max() <= 20_000
    for row in table.itertuples():
        temperature, pressure = air.standard_atmosphere(float(row.H_m))
        assert temperature == pytest.approx(row.T_K, abs=0.005)
        assert pressure == pytest.approx(row.p_Pa, rel=1e-8)
        density, speed_of_sound = dry_air(temperature, pressure)
        assert density == pytest.approx(row.rho_kg_m3, rel=1e-7)
        assert speed_of_sound == pytest.approx(row.a_m_s, rel=2e-8)
        assert air.viscosity(temperature) == pytest.approx(row.mu_Pa_s, rel=3e-8)


@pytest.mark.parametrize("altitude", [-2000.0, 0.0, 4321.0, 11_000.0, 15_000.0, 20_000.0])
def test_ambiance_package(altitude):
    # ambiance 1.3.1 (ICAO Doc 7488) takes geometric altitude; H = R h / (R + h) with this radius.
    # Away from sea level its layers start from pressures rounded to six digits, hence 3e-6.
    radius = 6_356_766.0
    there = Atmosphere(radius * altitude / (radius - altitude))
    temperature, pressure = air.standard_atmosphere(altitude)
    assert temperature == pytest.approx(float(there.temperature[0]), rel=1e-8)
    rounded = 1e-8 if 0.0 <= altitude < 11_000.0 else 3e-6
    assert pressure == pytest.approx(float(there.pressure[0]), rel=rounded)
    density, speed_of_sound = dry_air(temperature, pressure)
    assert density == pytest.approx(float(there.density[0]), rel=rounded)
    assert speed_of_sound == pytest.approx(float(there.speed_of_sound[0]), rel=1e-8)
    assert air.viscosity(temperature) == pytest.approx(float(there.dynamic_viscosity[0]), rel=1e-8)


@pytest.mark.parametrize("celsius", [15.0, 20.0, 27.0])
@pytest.mark.parametrize("pressure", [70e3, 101_325.0, 108e3])
@pytest.mark.parametrize("humidity", [0.2, 0.5, 0.9])
def test_coolprop_humid_air(celsius, pressure, humidity):
    # CoolProp's humid air (ASHRAE RP-1485 model), inside the range of CIPM-2007.
    kelvin = celsius + 273.15
    volume = HAPropsSI("Vha", "T", kelvin, "P", pressure, "R", humidity)
    assert air.density(kelvin, pressure, humidity) == pytest.approx(1.0 / volume, rel=4.5e-5)
    viscosity = HAPropsSI("mu", "T", kelvin, "P", pressure, "R", humidity)
    # Sutherland's law is for dry air: 0.5 % there, and at most 1.2 % too much in the dampest of these cases.
    assert -0.005 < air.viscosity(kelvin) / viscosity - 1.0 < 0.012


@pytest.mark.parametrize("celsius", [-60.0, -20.0, 20.0, 60.0])
@pytest.mark.parametrize("pressure", [50e3, 101_325.0, 200e3])
def test_coolprop_dry_air_over_the_whole_range(celsius, pressure):
    kelvin = celsius + 273.15
    arguments = ("T", kelvin, "P", pressure, "Air")
    assert air.density(kelvin, pressure, 0.0) == pytest.approx(PropsSI("D", *arguments), rel=3e-4)
    assert air.speed_of_sound(kelvin, pressure, 0.0) == pytest.approx(PropsSI("A", *arguments), rel=2e-3)
    assert air.viscosity(kelvin) == pytest.approx(PropsSI("V", *arguments), rel=7e-3)
