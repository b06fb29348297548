"""A target: what counts as a hit.

What it is for: one reading of a target's size for tables and pictures.  What it leaves out: the flights.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypedDict, Unpack

import numpy as np
import numpy.typing as npt

from blasterlab import units
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike


class Size(TypedDict, total=False):
    """The size of a target: its diameter, or its width and height."""

    diameter: QuantityLike
    width: QuantityLike
    height: QuantityLike


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
    def of(cls, **size: Unpack[Size]) -> Target:
        """A target from its diameter, or from its width and height.

        Parameters
        ----------
        **size : Quantity or str [m]
            ``diameter``, or ``width`` and ``height``, 1 mm to 10 m.

        Returns
        -------
        Target
            The target [m].

        Raises
        ------
        UnitError
            No single shape, or a length out of range.
        """
        if set(size) not in ({"diameter"}, {"width", "height"}):
            raise units.UnitError(
                'target: must be one single shape; try diameter="30 cm", or width=... with height=...'
            )
        given: dict[str, Any] = {**size}
        half = {
            name: 0.5 * units.si_in(value, "length", f"target.{name}", 1e-3, 10.0)
            for name, value in given.items()
        }
        radius = half.get("diameter", 0.0)
        return cls(half.get("width", radius), half.get("height", radius), "diameter" in size)

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
