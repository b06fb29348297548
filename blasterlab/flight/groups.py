"""A measured group on paper: its statistics with intervals, and how many darts make it worth trusting.

What it is for: points typed, pasted or read off a picture become numbers that can be compared with a
prediction.  What it leaves out: the prediction itself (`dispersion`), and fliers: every point counts.

The spread is described by σ, the standard deviation along any one axis of a circular normal pattern.

References
----------
F. E. Grubbs, *Statistical Measures of Accuracy for Riflemen and Missile Engineers*, 1964 (mean radius,
extreme spread).  N. L. Johnson, S. Kotz, N. Balakrishnan, *Continuous Univariate Distributions*, vol. 1,
2nd ed., 1994, ch. 13 and 18 (standard deviation of normal samples, chi distribution).
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np

from blasterlab import units

#: Mean radius and circular error probable (half of the shots) over σ of a circular normal pattern.
MEAN_RADIUS, CEP = math.sqrt(math.pi / 2.0), math.sqrt(2.0 * math.log(2.0))
_MOST, _MOST_TEXT = 2000, 100_000


@dataclass(frozen=True)
class Interval:
    """A value with the ends of its interval.

    Attributes
    ----------
    value, low, high : Quantity or float [unit of the value]
        The estimate, and the ends.
    level : float [-]
        The chance that the interval is meant to have.
    """

    value: Any
    low: Any
    high: Any
    level: float

    def words(self, kind: str = "length", digits: int = 3) -> str:
        """The interval in words.

        Parameters
        ----------
        kind : str [-]
            A name in `units.KINDS`.
        digits : int [-]
            Significant digits.

        Returns
        -------
        str
            Such as ``"41 mm (33 to 55 mm)"`` [-].
        """
        value, low, high = (units.show(one, kind, digits) for one in (self.value, self.low, self.high))
        unit = units.show_unit(kind)
        return f"{value} ({low.removesuffix(unit).strip()} to {high})"


def extreme_spread(points: np.ndarray) -> float:
    """The largest distance between any two points.

    Parameters
    ----------
    points : ndarray [m]
        Shape (n, 2).

    Returns
    -------
    float
        Distance [m].

    Examples
    --------
    >>> extreme_spread(np.array([[0.0, 0.0], [3.0, 4.0], [1.0, 1.0]]))
    5.0
    """
    difference = points[:, None, :] - points[None, :, :]
    return float(np.sqrt((difference**2).sum(axis=2).max()))


def sigma_bias(count: int) -> float:
    """The factor c_G that makes √(Σr²/(2(n − 1))) an unbiased estimate of σ.

    c_G = √(ν/2) Γ(ν/2)/Γ((ν + 1)/2), ν = 2(n − 1)

    Parameters
    ----------
    count : int [-]
        Shots, 2 or more.

    Returns
    -------
    float
        Factor, above 1 [-].

    Examples
    --------
    >>> round(sigma_bias(10), 5)
    1.01398
    """
    nu = 2.0 * (count - 1)
    return math.sqrt(nu / 2.0) * math.exp(math.lgamma(nu / 2.0) - math.lgamma((nu + 1.0) / 2.0))


@lru_cache(maxsize=4096)
def _chi2(chance: float, dof: float) -> float:
    from scipy.stats import chi2

    return float(chi2.ppf(chance, dof))


def point_lines(text: str) -> list[str]:
    """What of a text stands for a point each, without comments.

    Parameters
    ----------
    text : str [-]
        One point a line or between semicolons.

    Returns
    -------
    list of str
        One a point, none empty [-].

    Examples
    --------
    >>> point_lines("1 mm, 2 mm; 3 mm, 4 mm  # two")
    ['1 mm, 2 mm', '3 mm, 4 mm']
    """
    lines = [line.split("#")[0].strip() for line in re.split(r"[\n;]", text)]
    return [line for line in lines if line]


def read_points(source: str | Sequence[Any], unit: str | None = None) -> np.ndarray:
    """Points on the paper from text or a list.

    Parameters
    ----------
    source : str or sequence [m]
        As in `MeasuredGroup.read`.
    unit : str or None [-]
        The unit of bare numbers.

    Returns
    -------
    ndarray, shape (n, 2)
        Right and up, one point a row, any number of them [m].

    Raises
    ------
    UnitError
        A line that is not two lengths, with its number.

    Examples
    --------
    >>> read_points("10, 5", unit="mm").tolist()
    [[0.01, 0.005]]
    """
    if isinstance(source, str):
        if len(source) > _MOST_TEXT:
            raise units.UnitError(f"group: {len(source)} characters; allowed are {_MOST_TEXT}")
        pairs: list[Any] = [_split(line) for line in point_lines(source)]
    else:
        pairs = list(source)
    points = []
    for i, pair in enumerate(pairs, 1):
        if isinstance(pair, str) or len(pair) != 2:
            raise units.UnitError(
                f"group, point {i}: read {pair!s:.64}; two lengths are wanted, right and up, such as "
                '"10 mm, -5 mm"'
            )
        points.append([_length(one, unit, f"group, point {i}") for one in pair])
    return np.array(points, float).reshape(-1, 2)


@dataclass(frozen=True)
class MeasuredGroup:
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

    right: Any
    up: Any
    level: float = 0.95

    def __post_init__(self) -> None:
        if not 0.5 <= self.level < 1.0:
            raise units.UnitError(f"level: read {self.level:.6g}; allowed is 0.5 to below 1, such as 0.95")
        points = self.points
        if not 2 <= len(points) <= _MOST:
            raise units.UnitError(f"group: {len(points)} points; wanted are 2 to {_MOST}")
        if not np.isfinite(points).all() or np.abs(points).max() > 10.0:
            raise units.UnitError("group: a point is more than 10 m from the aim; is the unit right?")
        if extreme_spread(points) == 0.0:
            raise units.UnitError("group: all points are in one place; no spread can be told from that")

    @classmethod
    def read(cls, source: str | Sequence[Any], unit: str | None = None, level: float = 0.95) -> MeasuredGroup:
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
        array = read_points(source, unit)
        return cls(units.quantity(array[:, 0], "m"), units.quantity(array[:, 1], "m"), level)

    @classmethod
    def from_picture(
        cls,
        pixels: Sequence[tuple[float, float]],
        scale: tuple[tuple[float, float], tuple[float, float]],
        scale_length: Any,
        aim: tuple[float, float],
        level: float = 0.95,
    ) -> MeasuredGroup:
        """A group from the pixels of its holes on a picture taken square to the paper.

        Parameters
        ----------
        pixels : sequence of pairs [px]
            Holes: to the right, and down, as picture programs count.
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
        return cls(units.quantity(array[:, 0], "m"), units.quantity(array[:, 1], "m"), level)

    @property
    def points(self) -> np.ndarray:
        """Right and up of every point, shape (n, 2) [m]."""
        return np.column_stack([np.atleast_1d(self.right.m_as("m")), np.atleast_1d(self.up.m_as("m"))])

    @property
    def count(self) -> int:
        """How many points."""
        return len(self.points)

    @property
    def centre(self) -> tuple[Any, Any]:
        """Right and up of the middle of the group [m]."""
        right, up = self.points.mean(axis=0).tolist()
        return units.quantity(right, "m"), units.quantity(up, "m")

    @property
    def _squares(self) -> float:
        points = self.points
        return float(((points - points.mean(axis=0)) ** 2).sum())

    @property
    def sigma(self) -> Interval:
        """σ along one axis of a circular pattern, unbiased, with its χ² interval on 2(n − 1) degrees [m]."""
        nu = 2 * (self.count - 1)
        return self._interval(sigma_bias(self.count) * math.sqrt(self._squares / nu), self._squares, nu)

    @property
    def sd_right(self) -> Interval:
        """Standard deviation across, with its χ² interval [m]."""
        return self._axis(0)

    @property
    def sd_up(self) -> Interval:
        """Standard deviation up and down, with its χ² interval [m]."""
        return self._axis(1)

    def _axis(self, axis: int) -> Interval:
        values = self.points[:, axis]
        squares = float(((values - values.mean()) ** 2).sum())
        return self._interval(math.sqrt(squares / (self.count - 1)), squares, self.count - 1)

    def _interval(self, value: float, squares: float, dof: int) -> Interval:
        low, high = (math.sqrt(squares / _chi2(0.5 + s * self.level / 2, dof)) for s in (1, -1))
        q = units.quantity
        return Interval(q(value, "m"), q(low, "m"), q(high, "m"), self.level)

    @property
    def mean_radius(self) -> Any:
        """Mean distance of the points from their own centre [m]."""
        points = self.points
        return units.quantity(float(np.hypot(*(points - points.mean(axis=0)).T).mean()), "m")

    @property
    def cep(self) -> Interval:
        """Radius that half of all shots would stay within, from σ [m]."""
        sigma = self.sigma
        return Interval(CEP * sigma.value, CEP * sigma.low, CEP * sigma.high, self.level)

    @property
    def extreme_spread(self) -> Any:
        """Largest distance between two points [m]: the usual "group size", and the least trustworthy one."""
        return units.quantity(extreme_spread(self.points), "m")

    @property
    def roundness(self) -> float:
        """Chance of so different a spread up and across from a round pattern (two-sided F test) [-]."""
        from scipy.stats import f

        across, up = self.points.var(axis=0, ddof=1).tolist()
        if min(across, up) == 0.0:
            return 0.0
        tail = float(f.sf(max(across, up) / min(across, up), self.count - 1, self.count - 1))
        return min(1.0, 2.0 * tail)

    @property
    def words(self) -> str:
        """The group in one sentence, in the chosen unit set."""
        right, up = (one.m_as("m") for one in self.centre)
        spot = (
            f"{units.show(abs(right), 'length', 3)} {'right' if right >= 0 else 'left'} and "
            f"{units.show(abs(up), 'length', 3)} {'high' if up >= 0 else 'low'}"
        )
        return (
            f"{self.count} shots, centre {spot}; sigma {self.sigma.words()}, extreme spread "
            f"{units.show(self.extreme_spread, 'length', 3)}"
        )


def _split(line: str) -> Any:
    parts = [part.strip() for part in line.split(",")]
    if len(parts) == 1:
        words = line.split()
        if len(words) == 4:  # "3 mm -4 mm"
            parts = [" ".join(words[:2]), " ".join(words[2:])]
        elif all(re.match(r"[-+.\d]", word) for word in words):
            parts = words
    return parts if len(parts) == 2 else line


def _length(value: Any, unit: str | None, name: str) -> float:
    if unit is not None and not isinstance(value, units.Quantity):
        value = f"{value} {unit}"
    return units.si(value, "length", name)


def shots_needed(within: float, level: float = 0.95) -> int:
    """How many shots pin σ down to within a fraction of itself.

    Parameters
    ----------
    within : float [-]
        Largest distance of the interval's upper end from the estimate, 0.02 to 1, such as 0.2.
    level : float [-]
        Of the interval.

    Returns
    -------
    int
        Shots in one group [-].

    Raises
    ------
    UnitError
        A fraction or a level outside its range.

    Notes
    -----
    Several groups pooled about their own centres need one shot more for each further group.

    Examples
    --------
    >>> shots_needed(0.2)
    36
    """
    if not 0.02 <= within <= 1.0:
        raise units.UnitError(f"within: read {within:.6g}; allowed is 0.02 to 1, such as 0.2 for 20 %")
    if not 0.5 <= level < 1.0:
        raise units.UnitError(f"level: read {level:.6g}; allowed is 0.5 to below 1, such as 0.95")
    count = 2
    while math.sqrt(2 * (count - 1) / _chi2(0.5 - level / 2, 2 * (count - 1))) > 1.0 + within:
        count += 1
    return count


def trust_table(counts: Sequence[int] = (3, 5, 10, 20, 30, 50), level: float = 0.95) -> Any:
    """What a group of so many shots says about σ.

    Parameters
    ----------
    counts : sequence of int [-]
        Shots in a group, 2 or more each.
    level : float [-]
        Of the interval.

    Returns
    -------
    DataFrame
        The interval's ends as multiples of the estimate, one row a count [-].

    Raises
    ------
    UnitError
        A count below 2.

    Examples
    --------
    >>> trust_table([10]).round(3).to_string(index=False).split()[-3:]
    ['10', '0.756', '1.479']
    """
    import pandas as pd

    rows = []
    for count in counts:
        if count < 2:
            raise units.UnitError(f"counts: read {count}; a spread needs 2 shots or more")
        nu = 2 * (count - 1)
        ends = [math.sqrt(nu / _chi2(0.5 + s * level / 2, nu)) for s in (1, -1)]
        rows.append((count, *ends))
    return pd.DataFrame(rows, columns=["shots", "low / estimate", "high / estimate"])
