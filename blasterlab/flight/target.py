"""A target: what counts as a hit.

What it is for: one reading of a target's size for tables and pictures.  What it leaves out: the flights.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from blasterlab import units
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike


@dataclass(frozen=True)
class Target:
    """A round or a rectangular target, aimed at its middle.

    Attributes
    ----------
    half_width, half_height : float [m]
        Both the radius of a round one.
    is_round : bool [-]
        Whether it is a disc.
    """

    half_width: float
    half_height: float
    is_round: bool

    @classmethod
    def of(
        cls,
        diameter: QuantityLike | None = None,
        width: QuantityLike | None = None,
        height: QuantityLike | None = None,
    ) -> Target:
        """A target from its diameter, or from its width and height.

        Parameters
        ----------
        diameter, width, height : Quantity, str or None [m]
            1 mm to 10 m.

        Returns
        -------
        Target
            The target [m].

        Raises
        ------
        UnitError
            No single shape, or a length out of range.
        """
        if diameter is not None and width is None and height is None:
            radius = 0.5 * units.si_in(diameter, "length", "target.diameter", 1e-3, 10.0)
            return cls(radius, radius, True)
        if diameter is None and width is not None and height is not None:
            half = 0.5 * units.si_in(width, "length", "target.width", 1e-3, 10.0)
            return cls(half, 0.5 * units.si_in(height, "length", "target.height", 1e-3, 10.0), False)
        raise units.UnitError(
            'target: must be one single shape; try diameter="30 cm", or width=... with height=...'
        )

    def holds(self, right: Floats, up: Floats) -> npt.NDArray[np.bool_]:
        """Which impacts hit.

        Parameters
        ----------
        right, up : ndarray [m]
            From the middle.

        Returns
        -------
        ndarray of bool
            One an impact [-].
        """
        if self.is_round:
            return np.hypot(right, up) <= self.half_width
        return (np.abs(right) <= self.half_width) & (np.abs(up) <= self.half_height)
