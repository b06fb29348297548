"""A measured group against a predicted one.

What it is for: whether chance alone explains the difference.  What it leaves out: both groups themselves
(`measured_group`, `dispersion_result`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.doors import Spoken
from blasterlab.flight.group_statistics import Interval
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.shot.parameters import Floats
from blasterlab.units import Quantity

#: What is compared.
DIRECTIONS = ("across", "up and down", "together")
_SAME = 1e-9  # m: a smaller spread is none, but for rounding


@dataclass(frozen=True)
class Comparison(Spoken):
    """A measured group against a predicted one.

    Attributes
    ----------
    ratio : Mapping [-]
        Measured over predicted spread with its interval, by the names in `DIRECTIONS`; without those in
        which no spread is predicted.
    larger : Mapping [-]
        How often a predicted group of as many shots is more spread out than the measured one; of groups just
        as wide, as where both have none, half.
    level : float [-]
        Of the intervals, and what counts as agreement.
    """

    ratio: Mapping[str, Interval[float]]
    larger: Mapping[str, float]
    level: float

    @classmethod
    def of(
        cls, measured: MeasuredGroup, groups: Floats, predicted: Mapping[str, Quantity], level: float
    ) -> Comparison:
        """Compare.

        Parameters
        ----------
        measured : MeasuredGroup [m]
            On paper.
        groups : ndarray, shape (groups, shots, 2) [m]
            Predicted groups of as many shots.
        predicted : mapping of str to Quantity [m]
            Predicted spread, by the names in `DIRECTIONS`.
        level : float [-]
            Of the prediction's intervals.

        Returns
        -------
        Comparison
            Ratios and chances [-].
        """
        away = (groups - groups.mean(axis=1, keepdims=True)) ** 2
        own = ((measured.points - measured.points.mean(axis=0)) ** 2).sum(axis=0)
        spreads = (measured.sd_right, measured.sd_up, measured.sigma)
        ratio, larger = {}, {}
        for name, columns, spread in zip(DIRECTIONS, ([0], [1], [0, 1]), spreads, strict=True):
            wider = away[..., columns].sum(axis=(1, 2)) - own[columns].sum()
            larger[name] = float((wider > _SAME**2).mean() + 0.5 * (np.abs(wider) <= _SAME**2).mean())
            base = units.si(predicted[name], "length")
            if base > _SAME:
                ends = [units.si(end, "length") / base for end in (spread.value, spread.low, spread.high)]
                ratio[name] = Interval(ends[0], ends[1], ends[2], measured.level)
        return cls(ratio, larger, level)

    @property
    def odd(self) -> tuple[str, ...]:
        """What chance does not explain: where the measured spread is not in the middle `level` of groups."""
        tail = 0.5 * (1.0 - self.level)
        return tuple(name for name, chance in self.larger.items() if not tail <= chance <= 1.0 - tail)
