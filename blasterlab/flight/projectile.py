"""What flies: a projectile, or the dart of a build, and how the air brakes it.

What it is for: mass, size and drag of a dart when there is no build at hand.  What it leaves out: what the
dart is made of (`stability`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from blasterlab import units
from blasterlab.fields import Field, read_fields
from blasterlab.flight.drag_table import DragLike, drag_table
from blasterlab.parts.dart import Dart
from blasterlab.units import QuantityLike

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
