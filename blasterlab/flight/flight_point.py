"""One point of a flight, and a table of points.

What it is for: the form in which a trajectory answers.  What it leaves out: the flight.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from blasterlab.units import Quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class FlightPoint:
    """One point of a flight.

    Attributes
    ----------
    distance : Quantity [m]
        From the muzzle along the line of sight.
    time : Quantity [s]
        Since the muzzle.
    height : Quantity [m]
        Above the line of sight.
    drop : Quantity [m]
        Below the line of the bore.
    drift : Quantity [m]
        To the right.
    speed : Quantity [m/s]
        Over the ground.
    energy : Quantity [J]
        Kinetic.
    fall_angle : Quantity [rad]
        Downwards from the line of sight.
    """

    distance: Quantity
    time: Quantity
    height: Quantity
    drop: Quantity
    drift: Quantity
    speed: Quantity
    energy: Quantity
    fall_angle: Quantity


_COLUMNS = {
    "distance": "m",
    "time": "s",
    "height": "m",
    "drop": "m",
    "drift": "m",
    "speed": "m/s",
    "energy": "J",
}


def point_table(points: Sequence[FlightPoint]) -> pd.DataFrame:
    """Points as a DataFrame, one row each; SI, the units in the column names."""
    import pandas as pd

    return pd.DataFrame({f"{n} [{u}]": [getattr(p, n).m_as(u) for p in points] for n, u in _COLUMNS.items()})
