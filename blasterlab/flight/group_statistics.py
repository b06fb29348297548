"""The statistics of a group: σ of a round pattern, its interval, and how many darts make it worth trusting.

What it is for: what predicted and measured groups share.  What it leaves out: reading holes, flying darts.

The spread is described by σ, the standard deviation along any one axis of a circular normal pattern.

References
----------
F. E. Grubbs, *Statistical Measures of Accuracy for Riflemen and Missile Engineers*, 1964 (mean radius,
extreme spread).  N. L. Johnson, S. Kotz, N. Balakrishnan, *Continuous Univariate Distributions*, vol. 1,
2nd ed., 1994, ch. 13 and 18 (standard deviation of normal samples, chi distribution).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Generic, TypeVar

import numpy as np
from scipy.special import gammaincinv

from blasterlab import units
from blasterlab.shot.parameters import Floats
from blasterlab.tables import pd
from blasterlab.units import Quantity

#: Mean radius and circular error probable (half of the shots) over σ of a circular normal pattern.
CEP = math.sqrt(2.0 * math.log(2.0))
Value = TypeVar("Value", Quantity, float)


@dataclass(frozen=True)
class Interval(Generic[Value]):
    """A value with the ends of its interval.

    Attributes
    ----------
    value, low, high : Quantity or float [unit of the value]
        The estimate, and the ends.
    level : float [-]
        The chance that the interval is meant to have.
    """

    value: Value
    low: Value
    high: Value
    level: float


def lengths(value: float, low: float, high: float, level: float) -> Interval[Quantity]:
    """An interval of lengths from floats [m]."""
    q = units.quantity
    return Interval(q(value, "m"), q(low, "m"), q(high, "m"), level)


def read_level(level: float) -> float:
    """A confidence level, 0.5 to 0.9999 [-]; UnitError outside."""
    return units.si_in(level, "number", "level", 0.5, 0.9999, "95 % is 0.95")


def extreme_spread(points: Floats) -> float:
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
def sigma_ends(dof: float, level: float) -> tuple[float, float]:
    """The ends of σ's interval over √(Σ squares/dof) [-]: √(dof/χ²) at both tails."""
    low, high = (math.sqrt(0.5 * dof / gammaincinv(0.5 * dof, p)) for p in (0.5 + level / 2, 0.5 - level / 2))
    return low, high


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
        raise units.UnitError(f"within: got {within:.6g}; must be 0.02 to 1; try 0.2 for 20 %")
    level, count = read_level(level), 2
    while sigma_ends(2 * (count - 1), level)[1] > 1.0 + within:
        count += 1
    return count


def trust_table(counts: Sequence[int] = (3, 5, 10, 20, 30, 50), level: float = 0.95) -> pd.DataFrame:
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
        A count below 2, or a level outside its range.

    Examples
    --------
    >>> trust_table([10]).round(3).to_string(index=False).split()[-3:]
    ['10', '0.756', '1.479']
    """
    level, rows = read_level(level), []
    for count in counts:
        if count < 2:
            raise units.UnitError(f"counts: got {count}; a spread needs 2 shots or more")
        rows.append((count, *sigma_ends(2 * (count - 1), level)))
    return pd.DataFrame(rows, columns=["shots", "low_over_estimate", "high_over_estimate"])
