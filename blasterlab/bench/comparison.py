"""Two strings side by side: do they differ, and how many shots would show a difference?

What it is for: the result behind `ChronoString.compare`.  What it leaves out: the sums (`significance`), and
words.

References
----------
B. L. Welch, Biometrika 34, 28, 1947.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from blasterlab import units
from blasterlab.bench import significance as sig
from blasterlab.bench.statistics import check_level, mean_sd
from blasterlab.bench.string_data import StringData
from blasterlab.doors import Spoken
from blasterlab.units import Quantity


@dataclass(frozen=True)
class StringComparison(Spoken):
    """Two strings compared.

    Attributes
    ----------
    difference, low, high : Quantity [m/s]
        Second mean minus first, and its interval.
    relative : float [-]
        Difference over the first mean.
    level, p : float [-]
        Confidence; chance of a difference this large or larger between equal builds.
    dof : float [-]
        Welch's degrees of freedom.
    show : float [-]
        A relative difference worth knowing.
    shots_to_show : int or None [-]
        Shots in each string that would show it four times in five; None when more than 100 000.
    """

    difference: Quantity
    low: Quantity
    high: Quantity
    relative: float
    level: float
    p: float
    dof: float
    show: float
    shots_to_show: int | None

    @property
    def differs(self) -> bool:
        """True when the difference is more than chance explains at `level`."""
        return self.p < 1.0 - self.level


def compare(
    first: StringData, second: StringData, level: float = 0.95, show: float = 0.02
) -> StringComparison:
    """One string against another, by Welch's test.

    Parameters
    ----------
    first, second : ChronoString [m/s]
        The strings.
    level : float [-]
        Confidence.
    show : float [-]
        Relative difference for which the shots needed are given; 0.02 is 2 %.

    Returns
    -------
    StringComparison
        Difference, interval, and how many shots would show one [m/s].

    Raises
    ------
    ValueError
        A level or a difference outside its range.
    """
    check_level(level)
    if not 0.0 < show <= 1.0:
        raise ValueError(f"show: got {show!r}; must be above 0 and at most 1 (0.02 is a difference of 2 %)")
    a, b = ((*mean_sd(s.speeds_si), s.count) for s in (first, second))
    result = sig.welch(a, b, level)
    pooled = math.sqrt(0.5 * (a[1] ** 2 + b[1] ** 2))
    q = units.quantity
    return StringComparison(
        q(result.difference, "m/s"), q(result.low, "m/s"), q(result.high, "m/s"),
        relative=result.difference / a[0],
        level=level,
        p=result.p,
        dof=result.dof,
        show=show,
        shots_to_show=sig.shots_to_show(show * a[0] / pooled, level),
    )  # fmt: skip
