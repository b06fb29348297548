"""The volume ratio in closed form: a chamber that is full before the dart moves.

What it is for: the classical answer to "how much chamber for how much barrel", and the pressure that a
spring reaches in a blocked chamber, which that answer needs.  What it leaves out: a dart that moves while the
chamber still fills, ports, leaks, heat (``volume_ratio`` has them).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq

from blasterlab import units
from blasterlab.closed_forms.reservoir_gun import best_length, bore_area
from blasterlab.shot.parameters import GAMMA

_AMBIENT = "101.325 kPa"
_VOLUME = 1e-4  # m^3; any will do: the ratio does not depend on it


@dataclass(frozen=True)
class FullChamber:
    """The best barrel behind a chamber that is full before the dart moves.

    Attributes
    ----------
    pressure, ambient : float [Pa]
        In the full chamber, absolute, and outside.
    friction : float [N]
        Of the dart.
    resistance : float [Pa]
        What the gas must overcome: outside pressure and friction over the bore's cross section.
    exponent : float [-]
        1.4 for the adiabatic, 1 for the isothermal law.
    filled : float [-]
        Best ratio of the filled chamber's volume to the barrel's.
    swept : float [-]
        The same by the volume that its air took up at ambient pressure, which is what a plunger sweeps.
    """

    pressure: float
    ambient: float
    friction: float
    resistance: float
    exponent: float
    filled: float
    swept: float

    def pressure_at(self, barrel: Any) -> Any:
        """Pressure behind the dart on its way.

        Parameters
        ----------
        barrel : float or ndarray [-]
            Volume of the barrel that the dart has passed, in filled chambers.

        Returns
        -------
        ndarray
            Absolute pressure [Pa].
        """
        return self.pressure * (1.0 + np.asarray(barrel, float)) ** -self.exponent


def full_chamber(
    pressure: Any, bore: Any, friction: Any = "0 N", ambient: Any = _AMBIENT, law: str = "adiabatic"
) -> FullChamber:
    """Volume ratio of the best barrel behind a chamber that is full before the dart moves.

    Formula: V0/(A L*) = 1 / [(P0/(p_a + F/A))^(1/g) - 1]; by the air that was pressed into the chamber,
    V_s = V0 (P0/p_a)^(1/g), it is (P0/p_a)^(1/g) times as much.  With g = 1 both are isothermal.

    Parameters
    ----------
    pressure : Quantity or str [pressure]
        In the full chamber, absolute, above ambient.
    bore : Quantity or str [length]
        Of the barrel.
    friction : Quantity or str [force]
        Of the dart, constant.
    ambient : Quantity or str [pressure]
        Outside pressure, more than 0.
    law : str [-]
        ``"adiabatic"`` or ``"isothermal"``.

    Returns
    -------
    FullChamber
        The ratio by filled and by swept volume [-], and the pressure on the way.

    Raises
    ------
    UnitError
        Values that are unreadable or out of range, an unknown law, or a friction that no gas overcomes.

    Notes
    -----
    The dart's mass is not in it: where the force ends does not depend on how fast the dart goes by.

    References
    ----------
    Z. J. Rohrbach, T. R. Buresh, M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eqs 2 and 3, at the maximum.

    Examples
    --------
    >>> best = full_chamber("300 kPa", "12.9 mm")
    >>> round(best.filled, 4), round(best.swept, 4)
    (0.8538, 1.8538)
    """
    outside = units.si_in(ambient, "pressure", "ambient", 1.0, 1e6, "absolute, more than 0")
    length = best_length(pressure, units.quantity(_VOLUME, "m^3"), bore, friction, ambient, law).m_as("m")
    area, inside = bore_area(bore), units.si(pressure, "pressure", "pressure")
    against = units.si(friction, "force", "friction")
    if length <= 0.0:
        raise units.UnitError(
            f"friction: read {units.show(against, 'force')}; {units.show(inside, 'pressure')} in this bore "
            f"overcome less than {units.show(max(0.0, inside - outside) * area, 'force')}"
        )
    exponent = GAMMA if law == "adiabatic" else 1.0
    filled = _VOLUME / (area * length)
    swept = filled * (inside / outside) ** (1.0 / exponent)
    return FullChamber(inside, outside, against, outside + against / area, exponent, filled, swept)


def held_pressure(energy: Any, volume: Any, ambient: Any = _AMBIENT) -> Any:
    """Pressure that a spring reaches in a chamber whose port is blocked until the plunger stands.

    Formula: p_a V_s/(g-1) [x^((g-1)/g) - 1] - p_a V_s (1 - x^(-1/g)) = E, x = P0/p_a.

    Parameters
    ----------
    energy : Quantity or str [energy]
        What the spring gives until then.
    volume : Quantity or str [volume]
        Of the chamber at the catch.
    ambient : Quantity or str [pressure]
        Outside pressure, and first pressure of the gas.

    Returns
    -------
    Quantity
        Absolute [kPa].

    Raises
    ------
    UnitError
        Values out of range, or an energy that is no sensible share of what the outside air gives.

    Notes
    -----
    Only the energy per volume counts.  Friction, leaks and heat are left out.

    References
    ----------
    E. Fermi, *Thermodynamics*, 1937, sec. 6: adiabatic transformations of an ideal gas.

    Examples
    --------
    >>> round(held_pressure("5.1346 J", "100 cm^3").m_as("kPa"), 1)
    365.5
    """
    work = units.si_in(energy, "energy", "energy", 1e-9, 1e6)
    v1 = units.si_in(volume, "volume", "volume", 1e-9, 1.0)
    pa = units.si_in(ambient, "pressure", "ambient", 1.0, 1e6, "absolute, more than 0")
    share = work / (pa * v1)
    if not 1e-9 < share < 1e3:
        raise units.UnitError(
            f"energy: read {units.show(work, 'energy')}; allowed is from a billionth to a thousand times the "
            f"{units.show(pa * v1, 'energy', 3)} that the outside air gives to this volume "
            "(is one of them in another unit?)"
        )
    # y = ln(V_s / V0), so that x = exp(g y)
    y = brentq(
        lambda y: (math.expm1((GAMMA - 1.0) * y)) / (GAMMA - 1.0) + math.expm1(-y) - share,
        0.0,
        30.0,
        xtol=1e-14,
    )
    return units.quantity(1e-3 * pa * math.exp(GAMMA * y), "kPa")
