"""A measured group on paper: its statistics with intervals.

What it is for: points typed, pasted or read off a picture become numbers that can be compared with a
prediction.  What it leaves out: the prediction itself (`dispersion`), and fliers: every point counts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.doors import Spoken
from blasterlab.flight import group_statistics as st
from blasterlab.flight.group_statistics import Interval, lengths
from blasterlab.flight.holes import Holes, read_points
from blasterlab.shot.parameters import Floats
from blasterlab.units import Quantity, QuantityLike

_MOST = 2000


@dataclass(frozen=True)
class MeasuredGroup(Spoken):
    """Points on the paper, to the right of and above the point of aim.

    Parameters
    ----------
    right, up : Quantity [m]
        Arrays of equal length, 2 to 2000 points.
    level : float [-]
        Of every interval.

    Raises
    ------
    UnitError
        Fewer than two points, too many, or all in one hole.

    Examples
    --------
    >>> shot = MeasuredGroup.read("10 mm, 5 mm; -12 mm, 8 mm; 3 mm, -15 mm; 0 mm, 20 mm; -6 mm, -9 mm")
    >>> shot.count, round(shot.extreme_spread.m_as("mm"), 2)
    (5, 35.13)
    """

    right: Quantity
    up: Quantity
    level: float = 0.95

    def __post_init__(self) -> None:
        object.__setattr__(self, "level", st.read_level(self.level))
        points = self.points
        if not 2 <= len(points) <= _MOST:
            raise units.UnitError(f"group: got {len(points)} points; must be 2 to {_MOST}")
        if not np.isfinite(points).all() or np.abs(points).max() > 10.0:
            raise units.UnitError("group: a point is more than 10 m from the aim (is the unit right?)")
        if st.extreme_spread(points) == 0.0:
            raise units.UnitError("group: all points are in one place; one hole cannot show a spread")

    @classmethod
    def read(cls, source: Holes, unit: str | None = None, level: float = 0.95) -> MeasuredGroup:
        """A group from text or a list.

        Parameters
        ----------
        source : str or sequence [m]
            One point a line or between semicolons, right then up: ``"10 mm, -5 mm"``; or bare numbers
            ``"10, -5"`` with `unit`; or a list of pairs of either.
        unit : str or None [-]
            The unit of bare numbers, such as ``"mm"``.
        level : float [-]
            Of every interval.

        Returns
        -------
        MeasuredGroup
            The group [m].

        Raises
        ------
        UnitError
            A line that is not two lengths, with its number.
        """
        return cls.of(read_points(source, unit), level)

    @classmethod
    def of(cls, points: Floats, level: float = 0.95) -> MeasuredGroup:
        """A group from an array.

        Parameters
        ----------
        points : ndarray, shape (n, 2) [m]
            Right and up, one point a row.
        level : float [-]
            Of every interval.

        Returns
        -------
        MeasuredGroup
            The group [m].
        """
        return cls(units.quantity(points[:, 0], "m"), units.quantity(points[:, 1], "m"), level)

    @classmethod
    def from_picture(
        cls,
        pixels: Sequence[tuple[float, float]],
        scale: tuple[tuple[float, float], tuple[float, float]],
        scale_length: QuantityLike,
        aim: tuple[float, float],
        level: float = 0.95,
    ) -> MeasuredGroup:
        """A group from the pixels of its holes on a picture taken square to the paper.

        Parameters
        ----------
        pixels : sequence of pairs [px]
            Holes: to the right, and down, counted from the upper left corner.
        scale : two pairs [px]
            Two marks whose distance on the paper is known.
        scale_length : Quantity or str [m]
            That distance.
        aim : pair [px]
            The point of aim.
        level : float [-]
            Of every interval.

        Returns
        -------
        MeasuredGroup
            The group [m].

        Raises
        ------
        UnitError
            Two marks in one place, and as for the class.

        Examples
        --------
        >>> holes = [(110, 90), (130, 120), (90, 100)]
        >>> group = MeasuredGroup.from_picture(holes, ((0, 0), (200, 0)), "100 mm", (100, 100))
        >>> group.up.m_as("mm").round(1).tolist()
        [5.0, -10.0, -0.0]
        """
        (x1, y1), (x2, y2) = scale
        apart = math.hypot(x2 - x1, y2 - y1)
        if not apart > 0.0:
            raise units.UnitError(
                "group.scale: the two marks are in one place; mark both ends of a known length"
            )
        factor = units.si_in(scale_length, "length", "group.scale_length", 1e-3, 10.0) / apart
        array = (np.array(pixels, float).reshape(-1, 2) - np.array(aim, float)) * [factor, -factor]
        return cls.of(array, level)

    @property
    def points(self) -> Floats:
        """Right and up of every point, shape (n, 2) [m]."""
        return np.column_stack([np.atleast_1d(self.right.m_as("m")), np.atleast_1d(self.up.m_as("m"))])

    @property
    def count(self) -> int:
        """How many points."""
        return len(self.points)

    @property
    def centre(self) -> tuple[Quantity, Quantity]:
        """Right and up of the middle of the group [m]."""
        right, up = self.points.mean(axis=0).tolist()
        return units.quantity(right, "m"), units.quantity(up, "m")

    @property
    def _away(self) -> Floats:
        """Every point from the middle of the group [m]."""
        return self.points - self.points.mean(axis=0)

    @property
    def sigma(self) -> Interval[Quantity]:
        """σ along one axis of a circular pattern, unbiased, with its χ² interval on 2(n − 1) degrees [m]."""
        return self._interval((self._away**2).sum(), 2 * (self.count - 1), st.sigma_bias(self.count))

    @property
    def sd_right(self) -> Interval[Quantity]:
        """Standard deviation across, with its χ² interval [m]."""
        return self._interval((self._away[:, 0] ** 2).sum(), self.count - 1)

    @property
    def sd_up(self) -> Interval[Quantity]:
        """Standard deviation up and down, with its χ² interval [m]."""
        return self._interval((self._away[:, 1] ** 2).sum(), self.count - 1)

    def _interval(self, squares: float, dof: int, bias: float = 1.0) -> Interval[Quantity]:
        root = math.sqrt(squares / dof)
        low, high = st.sigma_ends(dof, self.level)
        return lengths(bias * root, root * low, root * high, self.level)

    @property
    def mean_radius(self) -> Quantity:
        """Mean distance of the points from their own centre [m]."""
        return units.quantity(float(np.hypot(*self._away.T).mean()), "m")

    @property
    def cep(self) -> Interval[Quantity]:
        """Radius that half of all shots would stay within, from σ [m]."""
        sigma = self.sigma
        return Interval(st.CEP * sigma.value, st.CEP * sigma.low, st.CEP * sigma.high, self.level)

    @property
    def extreme_spread(self) -> Quantity:
        """Largest distance between two points [m]: the usual "group size", and the least trustworthy one."""
        return units.quantity(st.extreme_spread(self.points), "m")
