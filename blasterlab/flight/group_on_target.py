"""A predicted group on a target, and perhaps the holes on paper.

What it is for: all numbers of the group panel and of its pictures.  What it leaves out: words and drawing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from blasterlab.doors import Spoken
from blasterlab.flight.comparison import Comparison
from blasterlab.flight.dispersion_result import Dispersion, HoldRule
from blasterlab.flight.group_statistics import Interval
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.flight.target import Size, Target
from blasterlab.shot.parameters import Floats
from blasterlab.units import Quantity


@dataclass(frozen=True)
class HitCurve:
    """Hit chance against distance.

    Attributes
    ----------
    distances : ndarray [m]
        Rising.
    chance, low, high : ndarray [-]
        The chance, and its interval.
    """

    distances: Floats
    chance: Floats
    low: Floats
    high: Floats

    @property
    def half_way(self) -> float | None:
        """The distance [m] at which the chance falls to one half; None when it stays above."""
        below = np.flatnonzero(self.chance < 0.5)
        if not below.size:
            return None
        k = max(int(below[0]), 1)
        return float(np.interp(0.5, self.chance[[k, k - 1]], self.distances[[k, k - 1]]))


@dataclass(frozen=True)
class GroupOnTarget(Spoken):
    """A predicted group on a target.

    Attributes
    ----------
    group : Dispersion [-]
        From `blasterlab.group`.
    size : dict [m]
        Of the target: ``diameter``, or ``width`` and ``height``.
    measured : MeasuredGroup or None [-]
        Holes on paper at the same distance.
    lone_hole : bool [-]
        Whether a single hole was given, which is no group yet.
    """

    group: Dispersion
    size: Size
    measured: MeasuredGroup | None = None
    lone_hole: bool = False

    @cached_property
    def target(self) -> Target:
        """What is aimed at, in its middle."""
        return Target.of(**self.size)

    @cached_property
    def chance(self) -> Interval[float]:
        """That one dart hits [-]."""
        return self.group.hit_chance(**self.size)

    @cached_property
    def radius(self) -> Interval[Quantity]:
        """Mean radius of one group [m]."""
        return self.group.mean_radius

    @cached_property
    def spread(self) -> Interval[Quantity]:
        """Extreme spread of one group [m]."""
        return self.group.extreme_spread

    @cached_property
    def corrected(self) -> HitCurve:
        """Hit chance against distance with the hold corrected [m], [-]."""
        return self._curve("corrected")

    @cached_property
    def unchanged(self) -> HitCurve:
        """Hit chance against distance with the hold unchanged [m], [-]."""
        return self._curve("unchanged")

    def _curve(self, hold: HoldRule) -> HitCurve:
        table = self.group.hit_table(hold=hold, **self.size)
        return HitCurve(*(table[name].to_numpy(float) for name in ("distance [m]", "chance", "low", "high")))

    @cached_property
    def comparison(self) -> Comparison | None:
        """The holes against the prediction; None without holes."""
        return None if self.measured is None else self.group.compare(self.measured)
