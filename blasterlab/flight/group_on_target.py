"""A predicted group on a target, and perhaps the holes on paper.

What it is for: all numbers of the group panel and of its pictures.  What it leaves out: words and drawing.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from blasterlab.doors import Spoken
from blasterlab.flight.comparison import Comparison
from blasterlab.flight.dispersion_result import Dispersion
from blasterlab.flight.group_statistics import Interval
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.flight.target import Size, Target
from blasterlab.tables import pd


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
    def corrected(self) -> pd.DataFrame:
        """Hit chance against distance with the hold corrected, as `hit_table` gives it [m], [-]."""
        return self.group.hit_table(hold="corrected", **self.size)

    @cached_property
    def unchanged(self) -> pd.DataFrame:
        """Hit chance against distance with the hold unchanged, as `hit_table` gives it [m], [-]."""
        return self.group.hit_table(hold="unchanged", **self.size)

    @property
    def half_way(self) -> float | None:
        """Where the chance falls to one half with the hold corrected [m]; None where it stays above."""
        x, chance = (self.corrected[name].to_numpy(float) for name in ("distance_m", "chance"))
        below = np.flatnonzero(chance < 0.5)
        if not below.size:
            return None
        k = max(int(below[0]), 1)
        return float(np.interp(0.5, chance[[k, k - 1]], x[[k, k - 1]]))

    @cached_property
    def comparison(self) -> Comparison | None:
        """The holes against the prediction; None without holes."""
        return None if self.measured is None else self.group.compare(self.measured)
