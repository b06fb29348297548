"""Two strings side by side: do they differ, and how many shots would show a difference?

What it is for: the result behind `ChronoString.compare`, also where only a mean and a count were noted.  What
it leaves out: the sums (`significance`), and words.

References
----------
B. L. Welch, Biometrika 34, 28, 1947.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import NamedTuple

from blasterlab import units
from blasterlab.bench import significance as sig
from blasterlab.bench.predict import SHOT_SPREAD
from blasterlab.bench.source import FASTEST, SLOWEST
from blasterlab.bench.statistics import check_level, mean_sd
from blasterlab.bench.string_data import StringData
from blasterlab.doors import Spoken
from blasterlab.units import Quantity

_SD = r"(?:[,;]\s*(?:SD|±)\s*([\d.]+[^,;]*))?"
#: A mean with its count, and perhaps the SD before or behind that.
_NOTED = re.compile(
    rf"(?:mean\s*)?([\d.]+[^,;\n]*){_SD}[,;]\s*(?:of\s*)?(\d{{1,5}})\s*shots?{_SD}\s*", re.IGNORECASE
)


class Sample(NamedTuple):
    """Mean, SD of one shot and count [m/s]; whether the SD is the usual one, since none was noted."""

    mean: float
    sd: float
    shots: int
    assumed: bool = False


def noted(text: str, unit: str = "", name: str = "shots") -> Sample | None:
    """A mean as it is noted in words, with its count and perhaps the SD.

    Parameters
    ----------
    text : str [-]
        Such as ``"191 ft/s, 10 shots"``.
    unit : str [-]
        Of numbers without one.
    name : str [-]
        For the messages.

    Returns
    -------
    Sample or None
        Without an SD the usual spread of a shot (common practice, no source); None for anything else, such
        as a string [m/s].

    Raises
    ------
    UnitError
        A speed without a unit or outside its range, or fewer than two shots.

    Examples
    --------
    >>> noted("mean 40 m/s, SD 0.5 m/s, 10 shots")
    Sample(mean=40.0, sd=0.5, shots=10, assumed=False)
    """
    if (found := _NOTED.fullmatch(text.strip())) is None:
        return None
    own = found[1].lstrip("0123456789. ").strip() or unit
    told, before, _, behind = (
        part and f"{part.strip()} {own * part.strip()[-1].isdigit()}".strip() for part in found.groups()
    )
    mean = units.si_in(told, "speed", f"{name}, mean", SLOWEST, FASTEST)
    count = int(units.si_in(found[3], "number", f"{name}, count", 2, 10_000, "one shows no difference"))
    if (sd := before or behind) is None:
        return Sample(mean, SHOT_SPREAD * mean, count, assumed=True)
    return Sample(mean, units.si_in(sd, "speed", f"{name}, SD", 1e-3 * mean, 0.5 * mean), count)


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
    a, b = (Sample(*mean_sd(string.speeds_si), string.count) for string in (first, second))
    return compare_samples(a, b, level, show)


def compare_samples(a: Sample, b: Sample, level: float = 0.95, show: float = 0.02) -> StringComparison:
    """The same of two means with their counts [m/s]; all else, ValueError too, as for `compare`."""
    check_level(level)
    if not 0.0 < show <= 1.0:
        raise ValueError(f"show: got {show!r}; must be above 0 and at most 1 (0.02 is a difference of 2 %)")
    result = sig.welch(a[:3], b[:3], level)
    pooled = math.sqrt(0.5 * (a.sd**2 + b.sd**2))
    q = units.quantity
    return StringComparison(
        q(result.difference, "m/s"), q(result.low, "m/s"), q(result.high, "m/s"),
        relative=result.difference / a.mean,
        level=level,
        p=result.p,
        show=show,
        shots_to_show=sig.shots_to_show(show * a.mean / pooled, level),
    )  # fmt: skip
