"""The chamber: plunger tube, plunger, stroke and the port at its front.

What it is for: the volumes and areas behind the port.  What it leaves out: seals and strength (``checks``).
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab.fields import Field, cylinder, read_fields
from blasterlab.units import Quantity

FIELDS = {
    "bore": Field("length", 3e-3, 0.2, "inside diameter of the plunger tube"),
    "wall": Field("length", 0.2e-3, 0.05, "wall of the tube"),
    "tube_length": Field("length", 5e-3, 2.0, "inside length that the plunger can run in"),
    "stroke": Field("length", 1e-3, 1.0, "plunger travel from the catch to its front stop"),
    "dead_volume": Field(
        "volume", 1e-8, 1e-3, "air left in front of the plunger at its stop; never quite zero"
    ),
    "plunger_mass": Field("mass", 1e-4, 5.0, "everything that moves with the plunger, without the spring"),
    "port_diameter": Field("length", 0.2e-3, 0.2, "hole between chamber and barrel"),
}


@dataclass(frozen=True)
class Chamber:
    """The plunger tube with its plunger and port.

    Parameters
    ----------
    bore, wall, tube_length, stroke : Quantity or str [length]
        Inside diameter, wall, inside length, plunger travel from the catch to the front stop.
    dead_volume : Quantity or str [volume]
        Left in front of the plunger at its front stop, up to the port.
    plunger_mass : Quantity or str [mass]
        Plunger, rod and all that moves with them, without the spring.
    port_diameter : Quantity or str [length]
        The hole between chamber and barrel.

    Raises
    ------
    UnitError
        Every value that is unreadable or out of range, by dotted name.
    """

    bore: Quantity
    wall: Quantity
    tube_length: Quantity
    stroke: Quantity
    dead_volume: Quantity
    plunger_mass: Quantity
    port_diameter: Quantity

    def __post_init__(self) -> None:
        read_fields(self, "chamber", FIELDS)

    @property
    def swept_volume(self) -> Quantity:
        """Volume that the plunger sweeps from the catch to its stop [cm³]."""
        return cylinder(self, "stroke")
