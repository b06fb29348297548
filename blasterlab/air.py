"""Ambient air: density, viscosity and speed of sound of humid air, and the standard atmosphere.

What it is for: one `Air` that the shot and the flight share, from what a thermometer, a barometer and a
hygrometer read, or from an altitude.  What it leaves out: wind (a flight's own matter), fog and ice, and
air outside the ranges that `Air` states.

References
----------
A. Picard, R. S. Davis, M. Gläser, K. Fujii, *Revised formula for the density of moist air (CIPM-2007)*,
Metrologia 45, 149, 2008.  *US Standard Atmosphere*, 1976, equal here to ISO 2533:1975.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from blasterlab import units
from blasterlab.faults import fault
from blasterlab.fields import Field, floats, read_fields
from blasterlab.units import Quantity, QuantityLike

#: Standard acceleration of free fall, m/s^2 (3rd CGPM, 1901).
GRAVITY = 9.80665
#: Ratio of specific heats of dry air (US Standard Atmosphere 1976, section 1.3).
GAMMA = 1.4
#: Gas constant of dry standard air, J/(kg K) (ISO 2533:1975).
DRY_GAS_CONSTANT = 287.05287
# Molar gas constant and molar mass of water as CIPM-2007 uses them (Picard et al. 2008, table 1).
_MOLAR_R, _MOLAR_WATER = 8.314472, 18.01528e-3
#: What `Air` accepts: a choice of the kit, wide enough for any bench and any mountain.
FIELDS = {
    "temperature": Field("temperature", 213.15, 333.15),
    "pressure": Field("pressure", 5e3, 200e3, "a weather report in hPa or inHg? The pressure is absolute"),
    "relative_humidity": Field("number", 0.0, 1.0, "50 % is 0.5"),
}
#: What the standard atmosphere accepts: geopotential altitude in metres.
ALTITUDES = (-2_000.0, 20_000.0)


def vapour_fraction(temperature: float, pressure: float, relative_humidity: float) -> float:
    """Mole fraction of water vapour in humid air.

    x_v = h f p_sv / p, with p_sv = exp(A T² + B T + C + D/T) and f = α + β p + γ t².

    Parameters
    ----------
    temperature : float [K]
        As in `Air`.
    pressure : float [Pa]
        Absolute, as in `Air`.
    relative_humidity : float [-]
        0 to 1.

    Returns
    -------
    float
        Mole fraction [-].

    Raises
    ------
    UnitError
        When the vapour would be more than half of the gas: hot, saturated air at a very low pressure.

    References
    ----------
    Picard et al., Metrologia 45, 149, 2008, eqs A1.1 to A1.3.

    Examples
    --------
    >>> round(vapour_fraction(293.15, 101325.0, 0.5), 6)
    0.011589
    """
    celsius = temperature - 273.15
    saturation = math.exp(
        1.2378847e-5 * temperature**2 - 1.9121316e-2 * temperature + 33.93711047 - 6.3431645e3 / temperature
    )
    enhancement = 1.00062 + 3.14e-8 * pressure + 5.6e-7 * celsius**2
    fraction = relative_humidity * enhancement * saturation / pressure
    if fraction > 0.5:
        raise units.UnitError(
            f"air.relative_humidity: got {relative_humidity:.3g} at {celsius:.4g} °C and "
            f"{pressure / 1000:.4g} kPa, which makes {100 * fraction:.0f} % of the air water vapour; "
            "must be at most 50 % (is the pressure right?)"
        )
    return fraction


def density(temperature: float, pressure: float, relative_humidity: float, co2: float = 400e-6) -> float:
    """Density of humid air by the CIPM-2007 formula.

    ρ = p M_a / (Z R T) · [1 − x_v (1 − M_v/M_a)]

    Parameters
    ----------
    temperature : float [K]
        As in `Air`.
    pressure : float [Pa]
        Absolute, as in `Air`.
    relative_humidity : float [-]
        0 to 1.
    co2 : float [-]
        Mole fraction of carbon dioxide.

    Returns
    -------
    float
        Density [kg/m^3].

    Raises
    ------
    UnitError
        As `vapour_fraction`.

    Notes
    -----
    The formula's own range is 15 to 27 °C and 60 to 110 kPa, where its relative standard uncertainty is
    2.2e-5.  Outside it the virial terms extrapolate: from -60 to 60 °C and 50 to 200 kPa the result stays
    within 0.03 % of a real-gas reference (CoolProp), 0.08 % for hot saturated air at low pressure.

    References
    ----------
    Picard et al., Metrologia 45, 149, 2008, eqs 1 and A1.4.

    Examples
    --------
    >>> round(density(293.15, 101325.0, 0.5), 10)
    1.1993138955
    """
    celsius = temperature - 273.15
    vapour = vapour_fraction(temperature, pressure, relative_humidity)
    virial = (
        1.58123e-6
        - 2.9331e-8 * celsius
        + 1.1043e-10 * celsius**2
        + (5.707e-6 - 2.051e-8 * celsius) * vapour
        + (1.9898e-4 - 2.376e-6 * celsius) * vapour**2
    )
    ratio = pressure / temperature
    compressibility = 1.0 - ratio * virial + ratio**2 * (1.83e-11 - 0.765e-8 * vapour**2)
    dry = (28.96546 + 12.011 * (co2 - 0.0004)) * 1e-3
    molar = dry * (1.0 - vapour * (1.0 - _MOLAR_WATER / dry))
    return pressure * molar / (compressibility * _MOLAR_R * temperature)


def speed_of_sound(temperature: float, pressure: float, relative_humidity: float) -> float:
    """Speed of sound in humid air.

    a = √(γ p/ρ), with γ from c_p = 7/2 R for the dry part and 4.04 R for the vapour, weighted by moles.

    Parameters
    ----------
    temperature : float [K]
        As in `Air`.
    pressure : float [Pa]
        Absolute, as in `Air`.
    relative_humidity : float [-]
        0 to 1.

    Returns
    -------
    float
        Speed [m/s].

    Raises
    ------
    UnitError
        As `vapour_fraction`.

    Notes
    -----
    The vapour's c_p of 33.6 J/(mol K) is the ideal-gas value near room temperature.  Real air at
    101 kPa is up to 0.1 % quicker; dispersion with frequency is left out.

    References
    ----------
    L. D. Landau, E. M. Lifshitz, *Fluid Mechanics*, 2nd ed., 1987, section 64.

    Examples
    --------
    >>> round(speed_of_sound(293.15, 101325.0, 0.5), 1)
    343.8
    """
    vapour = vapour_fraction(temperature, pressure, relative_humidity)
    heat = 3.5 * (1.0 - vapour) + 4.04 * vapour
    gamma = heat / (heat - 1.0)
    return math.sqrt(gamma * pressure / density(temperature, pressure, relative_humidity))


def viscosity(temperature: float) -> float:
    """Dynamic viscosity of air by Sutherland's law.

    μ = β T^(3/2) / (T + S), β = 1.458e-6 kg/(s m √K), S = 110.4 K

    Parameters
    ----------
    temperature : float [K]
        100 to 1000.

    Returns
    -------
    float
        Dynamic viscosity [Pa s].

    Notes
    -----
    For dry air.  Saturated air at 30 °C and 101 kPa is about 1 % less viscous, at 60 °C 7 %.

    References
    ----------
    *US Standard Atmosphere*, 1976, eq. 51.

    Examples
    --------
    >>> f"{viscosity(288.15):.7e}"
    '1.7893803e-05'
    """
    return 1.458e-6 * temperature**1.5 / (temperature + 110.4)


def standard_atmosphere(altitude: float) -> tuple[float, float]:
    """The standard atmosphere: troposphere and the isothermal layer above it.

    T = 288.15 K − L H, p = p₀ (T/T₀)^(g/(R L)), L = 6.5 K/km, up to 11 km;
    T = 216.65 K, p = p₁₁ exp(−g (H − 11 km)/(R T)) above.

    Parameters
    ----------
    altitude : float [m]
        Geopotential altitude, -2 000 to 20 000 (at 1 km it is 0.16 m below the geometric one).

    Returns
    -------
    tuple of float
        Temperature [K] and pressure [Pa] of dry air.

    Raises
    ------
    UnitError
        An altitude outside the range.

    References
    ----------
    ISO 2533:1975, sections 2 and 3; *US Standard Atmosphere*, 1976, eqs 23, 33a, 33b.

    Examples
    --------
    >>> temperature, pressure = standard_atmosphere(1000.0)
    >>> round(temperature, 2), round(pressure, 2)
    (281.65, 89874.56)
    """
    if not ALTITUDES[0] <= altitude <= ALTITUDES[1]:
        span = f"{ALTITUDES[0]:.0f} m to {ALTITUDES[1]:.0f} m above sea level"
        raise units.UnitError(fault("altitude", f"{altitude:.6g} m", span, "metres or feet?"))
    lapse, corner = -6.5e-3, 11_000.0
    temperature = 288.15 + lapse * min(altitude, corner)
    pressure = 101_325.0 * (temperature / 288.15) ** (-GRAVITY / (DRY_GAS_CONSTANT * lapse))
    if altitude > corner:
        pressure *= math.exp(-GRAVITY * (altitude - corner) / (DRY_GAS_CONSTANT * temperature))
    return temperature, pressure


@dataclass(frozen=True)
class Air:
    """Ambient air as the instruments read it.

    Parameters
    ----------
    temperature : Quantity or str [K]
        -60 to 60 °C.
    pressure : Quantity or str [Pa]
        Absolute, 5 to 200 kPa; at the place itself, not reduced to sea level as weather reports give it.
    relative_humidity : Quantity, str or float [-]
        0 to 1 (or "50 %").

    Raises
    ------
    UnitError
        A value without unit, of the wrong kind, or outside its range.

    Notes
    -----
    The defaults, 20 °C, 101.325 kPa and 50 %, are common laboratory air.

    References
    ----------
    As for the functions `density`, `speed_of_sound` and `viscosity`.

    Examples
    --------
    >>> air = Air(temperature="68 degF")
    >>> round(air.density.m_as("kg/m^3"), 4)
    1.1993
    """

    temperature: Quantity = units.quantity(20.0, "degC")
    pressure: Quantity = units.quantity(101.325, "kPa")
    relative_humidity: float = 0.5

    def __post_init__(self) -> None:
        read_fields(self, "air", FIELDS)
        vapour_fraction(*self.si)

    @classmethod
    def standard(
        cls,
        altitude: QuantityLike = "0 m",
        relative_humidity: QuantityLike = 0.0,
        temperature: QuantityLike | None = None,
    ) -> Air:
        """Standard air at an altitude, dry unless told otherwise.

        Parameters
        ----------
        altitude : Quantity or str [m]
            Above sea level, -2 to 20 km; taken as geopotential.
        relative_humidity : Quantity, str or float [-]
            0 to 1.
        temperature : Quantity, str or None [K]
            The real temperature, where it is known; the pressure stays that of the altitude.

        Returns
        -------
        Air
            Air at that altitude [K, Pa, -].

        Raises
        ------
        UnitError
            A value outside its range.

        References
        ----------
        ISO 2533:1975.

        Examples
        --------
        >>> round(Air.standard("1000 m").temperature.m_as("degC"), 2)
        8.5
        """
        standard, pressure = standard_atmosphere(units.si(altitude, "distance", "altitude"))
        kept = units.quantity(standard, "K") if temperature is None else temperature
        return cls(
            units.parse(kept, "temperature", "air.temperature"),
            units.quantity(pressure, "Pa"),
            units.si(relative_humidity, "number", "air.relative_humidity"),
        )

    @property
    def si(self) -> tuple[float, float, float]:
        """Temperature [K], pressure [Pa] and relative humidity [-] as floats."""
        si = floats(self)
        return si["temperature"], si["pressure"], si["relative_humidity"]

    @property
    def density(self) -> Quantity:
        """Density [kg/m^3] by CIPM-2007; see `density`."""
        return units.quantity(density(*self.si), "kg/m^3")

    @property
    def speed_of_sound(self) -> Quantity:
        """Speed of sound [m/s]; see `speed_of_sound`."""
        return units.quantity(speed_of_sound(*self.si), "m/s")

    @property
    def viscosity(self) -> Quantity:
        """Dynamic viscosity [Pa s]; see `viscosity`."""
        return units.quantity(viscosity(self.si[0]), "Pa*s")

    @cached_property
    def gas_constant(self) -> Quantity:
        """Effective gas constant R = p/(ρ T) of this air [J/(kg K)]."""
        temperature, pressure, _ = self.si
        return units.quantity(pressure / (density(*self.si) * temperature), "J/(kg*K)")
