"""Drag coefficients as numbers or tables, against Mach and Reynolds numbers.

What it is for: say how the air brakes a dart.  What it leaves out: a drag coefficient for foam darts, since
none is published: measure it, see `blasterlab.flight.measured_drag`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any, TypeAlias

import numpy as np

from blasterlab import units
from blasterlab.flight.equations import table_value
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike

#: Drag coefficients on the frontal area that are accepted (a tumbling dart stays below 5).
COEFFICIENTS = (0.0, 10.0)
_MOST_ROWS = 1000


@dataclass(frozen=True)
class DragTable:
    """Drag coefficient against Mach number, Reynolds number, or both; linear in Mach and in log Reynolds.

    Parameters
    ----------
    mach : sequence of float [-]
        Rising Mach numbers; one single value when the table does not depend on it.
    drag_coefficient : sequence of float, or of rows [-]
        One value a Mach number; with several Reynolds numbers one such row for each of them.
    reynolds : sequence of float [-]
        Rising Reynolds numbers on the diameter; one single value when the table does not depend on it.

    Raises
    ------
    UnitError
        Mach or Reynolds numbers that do not rise, a wrong count, a value that is not finite or is outside
        0 to 10 000 (a creeping sphere has hundreds).

    Notes
    -----
    Outside the table its end values are held; a flight that gets there is marked and warns.

    Examples
    --------
    >>> table = DragTable(mach=[0.0, 0.3, 0.6], drag_coefficient=[0.70, 0.72, 0.80])
    >>> round(table.value(0.15), 3)
    0.71
    """

    mach: tuple[float, ...]
    drag_coefficient: tuple[tuple[float, ...], ...]
    reynolds: tuple[float, ...] = (1e4,)

    def __init__(
        self,
        mach: Sequence[float],
        drag_coefficient: Sequence[float] | Sequence[Sequence[float]],
        reynolds: Sequence[float] = (1e4,),
    ) -> None:
        rows: Any = drag_coefficient if np.ndim(drag_coefficient[:1]) > 1 else [drag_coefficient]
        if len(reynolds) > 1 and len(mach) == 1 and len(rows) == 1:
            rows = [[one] for one in rows[0]]
        object.__setattr__(self, "mach", _rising(mach, "drag.mach", 0.0, 5.0))
        object.__setattr__(self, "reynolds", _rising(reynolds, "drag.reynolds", 1e-6, 1e9))
        if len(rows) != len(self.reynolds) or any(len(row) != len(self.mach) for row in rows):
            raise units.UnitError(
                f"drag.drag_coefficient: got rows of {[len(row) for row in rows]} values; must be "
                f"{len(self.reynolds)} row(s) of {len(self.mach)}, one value a Mach and Reynolds number"
            )
        values = tuple(
            tuple(units.si_in(one, "number", "drag.drag_coefficient", 0.0, 1e4) for one in row)
            for row in rows
        )
        object.__setattr__(self, "drag_coefficient", values)

    def value(self, mach: float, reynolds: float = 1e4) -> float:
        """The drag coefficient at a Mach and a Reynolds number.

        Parameters
        ----------
        mach : float [-]
            Zero or more.
        reynolds : float [-]
            On the diameter.

        Returns
        -------
        float
            Drag coefficient [-].
        """
        return float(table_value(mach, math.log(reynolds), *self.arrays))

    @property
    def arrays(self) -> tuple[Floats, Floats, Floats]:
        """Mach numbers, logarithms of Reynolds numbers, coefficients, as the equations take them [-]."""
        return np.array(self.mach), np.log(np.array(self.reynolds)), np.array(self.drag_coefficient)


def _rising(values: Sequence[float], name: str, low: float, high: float) -> tuple[float, ...]:
    if not 1 <= len(values) <= _MOST_ROWS:
        raise units.UnitError(f"{name}: got {len(values)} values; must be 1 to {_MOST_ROWS}")
    numbers = tuple(units.si_in(value, "number", name, low, high) for value in values)
    for place, (before, after) in enumerate(pairwise(numbers), start=2):
        if after <= before:
            raise units.UnitError(
                f"{name}: value {place} is {after:.6g} after {before:.6g}; each must be larger "
                "than the one before (sort the rows, and keep one row for each)"
            )
    return numbers


#: A drag coefficient as it comes.
DragLike: TypeAlias = "QuantityLike | DragTable"


def drag_table(coefficient: DragLike) -> DragTable:
    """A drag coefficient as a table, whatever form it came in.

    Parameters
    ----------
    coefficient : float, Quantity, str or DragTable [-]
        0 to 10.

    Returns
    -------
    DragTable
        A table of one point for a number [-].

    Raises
    ------
    UnitError
        Not a number, or outside 0 to 10.
    """
    if isinstance(coefficient, DragTable):
        return coefficient
    return _constant(units.si_in(coefficient, "number", "dart.drag_coefficient", *COEFFICIENTS))


@lru_cache
def _constant(coefficient: float) -> DragTable:
    return DragTable([0.0], [coefficient])
