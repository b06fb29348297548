"""The volume ratio in closed form: a chamber that is full before the dart moves.

What it is for: the classical answer to "how much chamber for how much barrel"; ``compression`` has the
pressure that a spring reaches in a blocked chamber.  What it leaves out: a dart that moves while the
chamber still fills, ports, leaks, heat (``shot.volume_map`` has them).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.closed_forms import readers as read
from blasterlab.closed_forms.readers import AMBIENT
from blasterlab.closed_forms.reservoir_gun import read_gun
from blasterlab.shot.parameters import Floats
from blasterlab.units import Quantity, QuantityLike


@dataclass(frozen=True)
class FullChamber:
    """The best barrel behind a chamber that is full before the dart moves.

    Attributes
    ----------
    pressure, ambient : Quantity [kPa]
        In the full chamber, absolute, and outside.
    friction : Quantity [N]
        Of the dart.
    resistance : Quantity [kPa]
        What the gas must overcome: outside pressure and friction over the bore's cross section.
    exponent : float [-]
        1.4 for the adiabatic, 1 for the isothermal law.
    filled : float [-]
        Best ratio of the filled chamber's volume to the barrel's.
    swept : float [-]
        The same by the volume that its air took up at ambient pressure, which is what a plunger sweeps.
    """

    pressure: Quantity
    ambient: Quantity
    friction: Quantity
    resistance: Quantity
    exponent: float
    filled: float
    swept: float

    def pressure_at(self, barrel: float | Floats) -> Quantity:
        """Pressure behind the dart on its way.

        Parameters
        ----------
        barrel : float or ndarray [-]
            Volume of the barrel that the dart has passed, in filled chambers.

        Returns
        -------
        Quantity
            Absolute pressure [kPa].
        """
        found: Quantity = self.pressure * (1.0 + np.asarray(barrel, float)) ** -self.exponent
        return found


def full_chamber(
    pressure: QuantityLike,
    bore: QuantityLike,
    friction: QuantityLike = "0 N",
    ambient: QuantityLike = AMBIENT,
    law: str = "adiabatic",
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
    if read.ambient(ambient) <= 0.0:
        raise units.UnitError(
            "ambient: got 0; must be above 0, or the chamber could not be filled from outside"
        )
    gun = read_gun(pressure, bore, friction, ambient, law)
    if gun.expansion <= 1.0:
        raise units.UnitError(
            f"friction: got {units.show(gun.friction, 'force')}; {units.show(gun.pressure, 'pressure')} in "
            f"this bore overcome less than {units.show((gun.pressure - gun.ambient) * gun.area, 'force')}"
        )
    filled = 1.0 / (gun.expansion - 1.0)
    swept = filled * (gun.pressure / gun.ambient) ** (1.0 / gun.exponent)
    inside, outside, resistance = (
        units.quantity(1e-3 * value, "kPa") for value in (gun.pressure, gun.ambient, gun.resistance)
    )
    held = units.quantity(gun.friction, "N")
    return FullChamber(inside, outside, held, resistance, gun.exponent, filled, swept)
