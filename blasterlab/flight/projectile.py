"""What flies: a projectile, or the dart of a build, and the constant k by which the air brakes it.

What it is for: mass, size and drag of a dart when there is no build at hand.  What it leaves out: what the
dart is made of (`stability`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from blasterlab import units
from blasterlab.air import Air
from blasterlab.fields import Field, read_fields
from blasterlab.flight.drag_table import DragLike, drag_table
from blasterlab.parts.dart import Dart
from blasterlab.units import Quantity, QuantityLike

FIELDS = {
    "mass": Field("mass", 1e-6, 1.0),
    "diameter": Field("length", 5e-4, 0.3),
    "length": Field("length", 1e-4, 2.0),
}


@dataclass(frozen=True)
class Projectile:
    """What flies, when there is no dart of a build at hand.

    Parameters
    ----------
    mass : Quantity or str [kg]
        1 mg to 1 kg.
    diameter : Quantity or str [m]
        Of the frontal area, 0.5 mm to 30 cm.
    drag_coefficient : float, Quantity or DragTable [-]
        On the frontal area, 0 to 10.  For a foam dart nothing is published: measure it.
    length : Quantity, str or None [m]
        Only for pitch behaviour.

    Raises
    ------
    UnitError
        A value without unit, of the wrong kind, or outside its range.

    Examples
    --------
    >>> Projectile("1.0 g", "12.7 mm", 0.70).mass.m_as("g")
    1.0
    """

    mass: QuantityLike
    diameter: QuantityLike
    drag_coefficient: DragLike
    length: QuantityLike | None = None

    def __post_init__(self) -> None:
        given = ("mass", "diameter") if self.length is None else tuple(FIELDS)
        read_fields(self, "dart", {name: FIELDS[name] for name in given})
        drag_table(self.drag_coefficient)

    def replace(self, **changes: DragLike) -> Projectile:
        """The same with some values changed, checked again.

        Parameters
        ----------
        **changes : Quantity, str, float or DragTable [unit of the field]
            By field name.

        Returns
        -------
        Projectile
            A new one [kg, m, -].
        """
        return replace(self, **changes)  # type: ignore[arg-type]


def mass_and_size(dart: Dart | Projectile) -> tuple[float, float]:
    """Mass and diameter of a dart.

    Parameters
    ----------
    dart : Dart or Projectile [kg, m]
        What flies.

    Returns
    -------
    tuple of float
        Mass [kg] and diameter [m].

    Raises
    ------
    UnitError
        Not a dart.
    """
    if not isinstance(dart, Dart | Projectile):
        raise units.UnitError(
            f"dart: got a {type(dart).__name__}; must be a build, its dart, or a Projectile; try "
            'Projectile("1.0 g", "12.7 mm", 0.7)'
        )
    return units.si(dart.mass, "mass"), units.si(dart.diameter, "length")


def retardation(dart: Dart | Projectile, density: float) -> float:
    """ρ A/(2 m) [1/m], from the air's density [kg/m³]: times the drag coefficient it is k."""
    mass, diameter = mass_and_size(dart)
    return density * math.pi * diameter**2 / (8.0 * mass)


def drag_constant(dart: Dart | Projectile, air: Air | None = None) -> Quantity:
    """The drag constant k = ρ C_d A/(2 m): speed falls as exp(−k x) in flat fire.

    Parameters
    ----------
    dart : Dart or Projectile [kg, m, -]
        A drag table is read at Mach 0.
    air : Air or None [-]
        Common laboratory air when None.

    Returns
    -------
    Quantity
        Constant [1/m].

    Raises
    ------
    UnitError
        As `mass_and_size` and `drag_table`.

    References
    ----------
    R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 5.

    Examples
    --------
    >>> round(drag_constant(Projectile("1 g", "12.7 mm", 0.7)).m_as("1/m"), 5)
    0.05317
    """
    coefficient = drag_table(dart.drag_coefficient).value(0.0)
    density = (air or Air()).density.m_as("kg/m^3")
    return units.quantity(coefficient * retardation(dart, density), "1/m")
