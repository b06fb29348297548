"""Statistics of a short run of shots, as plain floats: mean, spread, intervals and limits.

What it is for: the sums behind `ChronoString`, for any small sample that is normal near enough.  What it
leaves out: units, text and advice (`strings`, `cap_risk`), and tests (`significance`).
A mean and an SD are in the unit of the data.

References
----------
NIST/SEMATECH, *e-Handbook of Statistical Methods*, 2012, chapter 7.  G. J. Hahn, W. Q. Meeker,
*Statistical Intervals*, 1991.  JCGM 100:2008, *Guide to the
expression of uncertainty in measurement*.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np
from scipy import special

Floats = Sequence[float] | np.ndarray
_TAIL = 1e-13  # probability left outside the quadratures
MAX_NEXT = 10_000  # shots still to fire: far above any bench day, a choice of the kit


def check_level(level: float, name: str = "level") -> float:
    """A confidence or probability strictly between 0 and 1.

    Parameters
    ----------
    level : float [-]
        Such as 0.95.
    name : str [-]
        For the message.

    Returns
    -------
    float
        The same [-].

    Raises
    ------
    ValueError
        Outside 0.001 to 0.999999 (95 % is written 0.95).
    """
    value = float(level)
    if not 0.001 <= value <= 0.999999:
        raise ValueError(f"{name}: got {level!r}; must be 0.001 to 0.999999 (95 % is written 0.95)")
    return value


def shots_to_fire(shots: object, name: str = "shots") -> int:
    """A whole number of shots, no units; ValueError outside 1 to 10 000."""
    if isinstance(shots, bool) or not isinstance(shots, (int, np.integer)) or not 1 <= shots <= MAX_NEXT:
        raise ValueError(f"{name}: got {shots!r}; must be a whole number from 1 to {MAX_NEXT}")
    return int(shots)


def mean_sd(values: Floats) -> tuple[float, float]:
    """Mean and sample standard deviation, both from exactly rounded sums.

    x̄ = Σx/n, s² = [Σ(x−c)² − (Σ(x−c))²/n]/(n−1) about c = x̄

    Parameters
    ----------
    values : sequence of float [unit of the data]
        At least two.

    Returns
    -------
    tuple of float
        Mean and SD [unit of the data].

    Raises
    ------
    ValueError
        Fewer than two values.

    Notes
    -----
    The second term takes back what rounding the mean did.

    References
    ----------
    T. F. Chan, G. H. Golub, R. J. LeVeque, The American Statistician 37, 242, 1983, eq. 1.7.

    Examples
    --------
    >>> mean_sd([1.0, 2.0, 3.0])
    (2.0, 1.0)
    """
    n = len(values)
    if n < 2:
        raise ValueError(f"values: got {n}; a spread needs at least 2")
    data = [float(v) for v in values]
    mean = math.fsum(data) / n
    off = [v - mean for v in data]
    square = math.fsum(d * d for d in off) - math.fsum(off) ** 2 / n
    return mean, math.sqrt(max(square, 0.0) / (n - 1))


def t_factor(level: float, dof: float) -> float:
    """Two-sided Student factor.

    Parameters
    ----------
    level : float [-]
        Confidence.
    dof : float [-]
        Degrees of freedom.

    Returns
    -------
    float
        t with `level` of the probability between −t and t [-].

    References
    ----------
    JCGM 100:2008, annex G.3.
    """
    return float(special.stdtrit(dof, 0.5 + 0.5 * level))


def next_factor(n: int, level: float) -> float:
    """Factor k so that x̄ ± k s holds the next single shot.

    k = t √(1 + 1/n)

    Parameters
    ----------
    n : int [-]
        Shots.
    level : float [-]
        Confidence.

    Returns
    -------
    float
        Factor on the SD [-].

    References
    ----------
    Hahn & Meeker 1991, section 4.7.

    Examples
    --------
    >>> round(next_factor(10, 0.95), 6)
    2.37257
    """
    return t_factor(level, n - 1) * math.sqrt(1.0 + 1.0 / n)


_legendre = lru_cache(maxsize=8)(np.polynomial.legendre.leggauss)


def scale_nodes(dof: int, count: int = 160) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights for the ratio u = s/σ of a sample SD to the true one.

    Parameters
    ----------
    dof : int [-]
        Degrees of freedom, n − 1.
    count : int [-]
        Nodes.

    Returns
    -------
    tuple of ndarray
        Nodes and weights, shape (count,); the weights sum to 1 [-].
    """
    low = math.sqrt(2.0 * float(special.gammaincinv(0.5 * dof, _TAIL)) / dof)
    high = math.sqrt(2.0 * float(special.gammainccinv(0.5 * dof, _TAIL)) / dof)
    x, w = _legendre(count)
    u = low + 0.5 * (high - low) * (x + 1.0)
    log_density = (dof - 1) * np.log(u) - 0.5 * dof * u**2
    weight = w * np.exp(log_density - log_density.max())
    return u, weight / weight.sum()


def normal_nodes(count: int = 64, reach: float = 8.0) -> tuple[np.ndarray, np.ndarray]:
    """Nodes and weights of the standard normal.

    Parameters
    ----------
    count : int [-]
        Nodes; 64 do for a smooth integrand, 400 for one with a step.
    reach : float [-]
        Half width in standard deviations.

    Returns
    -------
    tuple of ndarray
        Nodes and weights, shape (count,); the weights sum to 1 [-].
    """
    x, w = _legendre(count)
    z = reach * x
    weight = w * np.exp(-0.5 * z**2)
    return z, weight / weight.sum()


@lru_cache(maxsize=256)
def tolerance_factor(n: int, content: float, level: float) -> float:
    """Factor k so that x̄ ± k s takes in a share of all future shots, with confidence.

    By the exact integral over the sample mean.

    Parameters
    ----------
    n : int [-]
        Shots in the sample.
    content : float [-]
        Share of all shots.
    level : float [-]
        Confidence.

    Returns
    -------
    float
        Factor on the SD [-].

    References
    ----------
    K. Krishnamoorthy, T. Mathew, *Statistical Tolerance Regions*, 2009, eq. 2.3.5.

    Examples
    --------
    >>> round(tolerance_factor(10, 0.95, 0.95), 3)
    3.393
    """
    z, wz = normal_nodes(count=100)
    reach = np.array([_half_width(abs(x) / math.sqrt(n), content) for x in z])

    def covered(k: float) -> float:
        return float(wz @ special.gammaincc(0.5 * (n - 1), 0.5 * (n - 1) * (reach / k) ** 2)) - level

    return solve(covered, 0.01, 1000.0)


def _half_width(shift: float, content: float) -> float:
    """h with Φ(shift + h) − Φ(shift − h) = content."""
    return solve(
        lambda h: float(special.ndtr(shift + h) - special.ndtr(shift - h)) - content, 0.0, shift + 10.0
    )


def solve(function: Callable[[float], float], low: float, high: float, within: float = 1e-13) -> float:
    """The root of a rising function between two ends, by Brent's method.

    Parameters
    ----------
    function : callable [-]
        Of one float.
    low, high : float [unit of the root]
        Ends; the function changes sign between them.
    within : float [unit of the root]
        How near the root must be.

    Returns
    -------
    float
        The root [unit of the root].

    References
    ----------
    R. P. Brent, *Algorithms for Minimization without Derivatives*, 1973, chapter 4 (scipy's `brentq`).
    """
    from scipy.optimize import brentq

    return float(brentq(function, low, high, xtol=within, rtol=8.9e-16, maxiter=200))
