"""The barrel: bore, length, and the air between the port and the dart.

What it is for: the volumes and areas in front of the port.  What it leaves out: friction, which is a loss
that belongs to dart and barrel together (``parts.losses``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from blasterlab.fields import Field, cylinder, read_fields
from blasterlab.units import Quantity

FIELDS = {
    "bore": Field("length", 3e-3, 0.1, "inside diameter"),
    "length": Field("length", 5e-3, 3.0, "travel of the dart's tail to the muzzle"),
    "dead_volume": Field("volume", 1e-8, 1e-3, "air between the port and the dart; never quite zero"),
}


def gap_area(bore: Any, dart: Any) -> Any:
    """Area between a bore and a dart in it, floats or arrays, 0 where the dart fills it [m²]."""
    return np.maximum(0.25 * math.pi * (bore * bore - dart * dart), 0.0)


@dataclass(frozen=True)
class Barrel:
    """The barrel.

    Parameters
    ----------
    bore, length : Quantity or str [length]
        Inside diameter; travel of the dart's tail to the muzzle.
    dead_volume : Quantity or str [volume]
        Between the port and the dart's tail.

    Raises
    ------
    UnitError
        Every value that is unreadable or out of range, by dotted name.
    """

    bore: Quantity
    length: Quantity
    dead_volume: Quantity

    def __post_init__(self) -> None:
        read_fields(self, "barrel", FIELDS)

    @property
    def volume(self) -> Quantity:
        """Volume that the dart sweeps, without the dead volume [cm³]."""
        return cylinder(self, "length")
