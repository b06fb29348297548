"""The dart: mass, size and drag coefficient.

What it is for: what the barrel pushes and the air brakes.  What it leaves out: its make-up and stability
(``flight``).
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab.fields import Field, read_fields
from blasterlab.units import Quantity

FIELDS = {
    "mass": Field("mass", 5e-5, 0.1, "weigh ten of them and divide"),
    "diameter": Field("length", 3e-3, 0.1, "outside diameter of the foam, not squashed"),
    "length": Field("length", 3e-3, 0.5, "tail to tip"),
    "drag_coefficient": Field("number", 0.01, 3.0, "on the cross section; about 0.7 for a blunt dart"),
}


@dataclass(frozen=True)
class Dart:
    """A dart.

    Parameters
    ----------
    mass : Quantity or str [mass]
        Of one dart.
    diameter, length : Quantity or str [length]
        Of the foam; tail to tip.
    drag_coefficient : float [-]
        On the cross section; measured where it can be.  The default 0.7 is from memory, for a blunt foam
        dart; the nearest published figure, for a flat-faced cylinder end-on, is 0.85 to 0.99 (C. Matthews,
        *Aeronautical Engineer's Data Book*, 2002, fig. 5.13b).

    Raises
    ------
    UnitError
        Every value that is unreadable or out of range, by dotted name.
    """

    mass: Quantity
    diameter: Quantity
    length: Quantity
    drag_coefficient: float = 0.7

    def __post_init__(self) -> None:
        read_fields(self, "dart", FIELDS)
