"""What is known of a loss before any shot: ranges, each with its reason.

What it is for: the starting knowledge of a calibration, and the range beside a speed before there is one.
What it leaves out: any measurement; replace a range by your own pull test as soon as you have one.

References
----------
D. A. Jobson, Proc. Inst. Mech. Eng. 169, 767, 1955, and S. L. Bragg, J. Mech. Eng. Sci. 2, 35, 1960 (port
discharge).  All other ranges: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import ndtr, ndtri

from blasterlab import units
from blasterlab.parts.losses import FIELDS
from blasterlab.units import QuantityLike

#: Half width of the range in standard deviations: it holds nine cases in ten.
NINE_IN_TEN = 1.6448536269514722


@dataclass(frozen=True)
class Prior:
    """Nine times in ten a loss lies in this range: a normal about its middle, cut off where none can be.

    Parameters
    ----------
    name : str [-]
        A loss, such as ``"dart_friction"``.
    low, high : Quantity, str or float [unit of the loss]
        The range, not below zero.
    source : str [-]
        Where it comes from.

    Raises
    ------
    UnitError
        An unknown loss, an end without a unit or of the wrong kind, or a range that is none.
    """

    name: str
    low: QuantityLike
    high: QuantityLike
    source: str = "given"

    def __post_init__(self) -> None:
        if self.name not in FIELDS:
            raise units.UnitError(f"free: got {str(self.name)[:40]!r}; must be among {', '.join(FIELDS)}")
        low, high = self.si
        if not FIELDS[self.name].low <= low < high <= FIELDS[self.name].high:
            raise units.UnitError(
                f"{self.name}: got a range from {self.low} to {self.high}; must be two different ends from "
                f"{FIELDS[self.name].low:g} to {FIELDS[self.name].high:g} (SI), the lower first"
            )

    @cached_property
    def si(self) -> tuple[float, float]:
        """Both ends [SI]."""
        kind = FIELDS[self.name].kind
        low, high = (units.si(end, kind, f"free.{self.name}") for end in (self.low, self.high))
        return low, high

    @property
    def mean(self) -> float:
        """Middle of the range [SI]."""
        return 0.5 * sum(self.si)

    @property
    def sd(self) -> float:
        """Standard deviation that puts nine cases in ten into the range [SI]."""
        return 0.5 * (self.si[1] - self.si[0]) / NINE_IN_TEN

    def values(self, scores: np.ndarray) -> np.ndarray:
        """Values at standard normal scores: the quantiles of the normal that is cut off at both ends [SI]."""
        field, mean, sd = FIELDS[self.name], self.mean, self.sd
        below, above = ndtr((field.low - mean) / sd), ndtr((mean - field.high) / sd)
        kept = 1.0 - below - above
        lower, upper = ndtri(below + kept * ndtr(scores)), -ndtri(above + kept * ndtr(-scores))
        return np.asarray(mean + sd * np.where(scores < 0.0, lower, upper))

    @property
    def spread(self) -> float:
        """Standard deviation of what is left of the normal within both ends of the possible [SI]."""
        return float(np.std(self.values(ndtri((np.arange(200) + 0.5) / 200))))

    def around(self, own: float) -> tuple[float, float]:
        """Both ends, with half a width beyond a build's own value where that lies outside [SI]."""
        (low, high), field = self.si, FIELDS[self.name]
        half = 0.5 * (high - low)
        if own < low:
            low = max(own - half, field.low)
        return low, min(own + half, field.high) if own > high else high


_PRACTICE = "common practice, no source"
#: The losses that are free unless the caller says otherwise.
PRIORS: dict[str, Prior] = {
    prior.name: prior
    for prior in (
        Prior("dart_friction", "0.3 N", "4 N", _PRACTICE),
        Prior("seal_friction", "1 N", "10 N", _PRACTICE),
        Prior("blowby_area", "0.2 mm^2", "5 mm^2", _PRACTICE),
        Prior("seal_leak_area", "0.05 mm^2", "3 mm^2", _PRACTICE),
        Prior("port_discharge", 0.6, 0.85, "Jobson 1955, Bragg 1960: short holes"),
    )
}


def priors_for(free: object) -> list[Prior]:
    """The priors of the free losses.

    Parameters
    ----------
    free : None, iterable of str, or mapping of str to tuple or Prior [-]
        None takes all of `PRIORS`; names take theirs; a mapping gives own ranges.

    Returns
    -------
    list of Prior
        In the order given [-].

    Raises
    ------
    UnitError
        An unknown name, a name without a range of its own in `PRIORS`, a name twice, or nothing free.
    """
    if free is None:
        return list(PRIORS.values())
    if isinstance(free, str) or not isinstance(free, Iterable):
        raise units.UnitError(
            f"free: got {free!r}; must be a list of losses, or a mapping of losses to ranges"
        )
    found: list[Prior] = []
    for key in free:
        name = str(key).removeprefix("losses.")
        if isinstance(free, Mapping):
            given = free[key]
            if not isinstance(given, Prior):
                try:
                    low, high = given
                except (TypeError, ValueError):
                    raise units.UnitError(f"{name}: got {given!r}; must be a range of two ends") from None
                given = Prior(name, low, high)
            found.append(given)
        elif name in PRIORS:
            found.append(PRIORS[name])
        else:
            known = name if name in FIELDS else f"{name[:40]!r}"
            raise units.UnitError(
                f"free: {known} has no range here; give one: {{{name[:40]!r}: (low, high)}}"
            )
    if not found or len({prior.name for prior in found}) != len(found):
        raise units.UnitError(
            f"free: got {[prior.name for prior in found]}; must be each loss once, at least one"
        )
    return found
