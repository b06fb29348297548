"""Is it odd, does it drift, does it differ, and how many shots would show it: tests on short runs.

What it is for: the tests behind `ChronoString`, as plain floats.  What it leaves out: intervals and limits
(`statistics`), units and words (`strings`).

References
----------
NIST/SEMATECH, *e-Handbook of Statistical Methods*, 2012, chapters 1.3.5 and 4.1.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from scipy import special

from blasterlab.bench.statistics import Floats, mean_sd, t_factor

_MANY = 100_000  # shots beyond which an answer is of no use


class Trend(NamedTuple):
    """A straight line through the shots in their order."""

    slope: float  # [unit of the data per shot]
    slope_error: float  # standard error [unit of the data per shot]
    p: float  # chance of a slope this steep or steeper without any trend
    lag: float  # lag-1 autocorrelation


class Odd(NamedTuple):
    """One step of Grubbs' test: the value furthest from the mean."""

    position: int  # in the values, from 0
    statistic: float  # G = |x - mean| / SD
    critical: float
    odd: bool


class Difference(NamedTuple):
    """Welch's comparison of two means."""

    difference: float  # second mean minus first [unit of the data]
    low: float
    high: float
    dof: float
    p: float


def grubbs_critical(n: int, level: float = 0.05, sides: int = 2) -> float:
    """Critical value of Grubbs' test for one odd value.

    G_c = (n−1)/√n · √(t²/(n−2+t²)), t the upper level/(sides·n) point with n−2 degrees of freedom

    Parameters
    ----------
    n : int [-]
        Shots, at least 3.
    level : float [-]
        Chance of calling a shot odd when none is.
    sides : int [-]
        2: furthest on either side; 1: one side fixed beforehand.

    Returns
    -------
    float
        Critical value of |x − x̄|/s [-].

    Raises
    ------
    ValueError
        Fewer than 3 shots.

    References
    ----------
    NIST/SEMATECH e-Handbook, 1.3.5.17.1.

    Examples
    --------
    >>> round(grubbs_critical(10), 4)
    2.29
    """
    if n < 3:
        raise ValueError(f"shots: got {n}; Grubbs' test needs at least 3")
    t2 = float(special.stdtrit(n - 2, level / (sides * n))) ** 2
    return (n - 1) / math.sqrt(n) * math.sqrt(t2 / (n - 2 + t2))


def grubbs(values: Floats, level: float = 0.05, most: int = 1) -> list[Odd]:
    """Grubbs' two-sided test, or for `most` above 1 the generalised test that finds up to that many.

    Parameters
    ----------
    values : sequence of float [unit of the data]
        At least 3.
    level : float [-]
        Chance of calling any shot odd when none is.
    most : int [-]
        The most odd values looked for; two that lie close hide each other from `most=1`.

    Returns
    -------
    list of Odd
        One entry a step, the furthest value first [-].

    Raises
    ------
    ValueError
        Fewer than 3 values, or `most` that leaves fewer than 3.

    Notes
    -----
    The largest step whose statistic exceeds its critical value decides how many are odd; with `most`
    above 1 the level holds well from about 15 values on.

    References
    ----------
    NIST/SEMATECH e-Handbook, 1.3.5.17.1 and 1.3.5.17.3; B. Rosner, Technometrics 25, 165, 1983.
    """
    if most < 1 or len(values) - most + 1 < 3:
        raise ValueError(f"most: got {most!r}; must be 1 to {max(len(values) - 2, 1)} here")
    left = list(range(len(values)))
    steps: list[tuple[int, float, float]] = []
    for _ in range(most):
        mean, sd = mean_sd([values[i] for i in left])
        if sd == 0.0:
            break
        worst = max(left, key=lambda i: abs(values[i] - mean))
        steps.append((worst, abs(values[worst] - mean) / sd, grubbs_critical(len(left), level)))
        left.remove(worst)
    count = max((i + 1 for i, (_, g, c) in enumerate(steps) if g > c), default=0)
    return [Odd(index, g, c, step < count) for step, (index, g, c) in enumerate(steps)]


def trend(values: Floats) -> Trend:
    """A straight line through the values in their order, and the lag-1 autocorrelation.

    Parameters
    ----------
    values : sequence of float [unit of the data]
        At least 3, in the order they were shot.

    Returns
    -------
    Trend
        Slope, its standard error, p value and autocorrelation.

    Raises
    ------
    ValueError
        Fewer than 3 values.

    References
    ----------
    NIST/SEMATECH e-Handbook, 1.3.5.12 (autocorrelation) and 4.1.4.1 (least squares).
    """
    n = len(values)
    if n < 3:
        raise ValueError(f"values: got {n}; a trend needs at least 3")
    x = np.arange(n) - 0.5 * (n - 1)
    y = np.asarray(values, float) - mean_sd(values)[0]
    sxx = float(x @ x)
    slope = float(x @ y) / sxx
    rest = float(np.sum((y - slope * x) ** 2))
    total = float(y @ y)
    error = math.sqrt(rest / (n - 2) / sxx)
    p = 2.0 * float(special.stdtr(n - 2, -abs(slope) / error)) if error > 0 else float(slope == 0.0)
    return Trend(slope, error, p, float(y[1:] @ y[:-1]) / total if total else 0.0)


def welch(first: tuple[float, float, int], second: tuple[float, float, int], level: float) -> Difference:
    """Two means compared without supposing equal spreads.

    Parameters
    ----------
    first, second : tuple of float, float, int [unit of the data]
        Mean, SD and number of each.
    level : float [-]
        Confidence of the interval.

    Returns
    -------
    Difference
        Second minus first, its interval, degrees of freedom and p value.

    References
    ----------
    B. L. Welch, Biometrika 34, 28, 1947; NIST/SEMATECH e-Handbook, 1.3.5.3.
    """
    a, b = first[1] ** 2 / first[2], second[1] ** 2 / second[2]
    dof = (a + b) ** 2 / (a**2 / (first[2] - 1) + b**2 / (second[2] - 1))
    error = math.sqrt(a + b)
    difference = second[0] - first[0]
    half = t_factor(level, dof) * error
    p = 2.0 * float(special.stdtr(dof, -abs(difference) / error))
    return Difference(difference, difference - half, difference + half, dof, p)


def shots_to_show(ratio: float, level: float = 0.95, power: float = 0.8) -> int | None:
    """Shots in each of two strings so that a true difference is likely to show.

    Parameters
    ----------
    ratio : float [-]
        True difference of the means over the SD of one shot.
    level : float [-]
        Confidence of the two-sided comparison.
    power : float [-]
        Chance that the difference is called one.

    Returns
    -------
    int or None
        Shots in each string, 2 to 100 000; None where more were needed, as for a ratio of zero [-].

    References
    ----------
    J. Cohen, *Statistical Power Analysis for the Behavioral Sciences*, 2nd ed., 1988, section 2.3 (with
    the non-central t in place of its tables).

    Examples
    --------
    >>> shots_to_show(1.0)
    17
    """
    wanted = abs(ratio)

    def enough(n: int) -> bool:
        dof = 2 * (n - 1)
        shift = wanted * math.sqrt(n / 2.0)
        factor = t_factor(level, dof)
        return shift > factor + 10.0 or 1.0 - float(special.nctdtr(dof, shift, factor)) >= power

    return _least(enough)


def shots_for_mean(relative: float, level: float = 0.95) -> int | None:
    """Shots so that the mean's interval is no wider than wanted, if the SD turns out as now.

    Parameters
    ----------
    relative : float [-]
        Wanted half width over the SD of one shot.
    level : float [-]
        Confidence.

    Returns
    -------
    int or None
        Shots, 2 to 100 000; None where more were needed, as for a half width of zero [-].

    References
    ----------
    Hahn & Meeker 1991, section 8.2.

    Examples
    --------
    >>> shots_for_mean(0.5)
    18
    """
    return _least(lambda n: t_factor(level, n - 1) <= relative * math.sqrt(n))


def _least(enough: Callable[[int], bool]) -> int | None:
    """The least number of shots that is enough: once enough, more stays enough."""
    found = bisect_left(range(_MANY + 1), True, lo=2, key=enough)
    return found if found <= _MANY else None
