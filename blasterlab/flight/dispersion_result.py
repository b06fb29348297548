"""The result of a predicted group: spreads, chances of a hit, causes, and the real group beside it.

What it is for: `Dispersion` answers questions about the impacts that `blasterlab.group` computed.  What it
leaves out: the flights (`dispersion`), and the statistics of holes on paper (`measured_group`).

References
----------
E. B. Wilson, J. Am. Stat. Assoc. 22, 209, 1927 (interval of a chance).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from statistics import NormalDist
from typing import Literal, TypeAlias, Unpack

import numpy as np

from blasterlab import units
from blasterlab.doors import Spoken
from blasterlab.flight.comparison import Comparison
from blasterlab.flight.equations import Hits
from blasterlab.flight.group_statistics import Interval, extreme_spread, lengths
from blasterlab.flight.launch import distance_si
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.flight.target import Size, Target
from blasterlab.shot.parameters import Floats
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

#: How the aim follows the distance.
HoldRule: TypeAlias = Literal["corrected", "unchanged"]


@dataclass(frozen=True)
class Causes(Spoken):
    """Which causes make a predicted spread.

    Attributes
    ----------
    sd_right, sd_up : Quantity [m]
        Standard deviations of the impacts.
    shares : Mapping [-]
        Cause -> its shares of the horizontal and of the vertical variance.
    """

    sd_right: Quantity
    sd_up: Quantity
    shares: Mapping[str, tuple[float, float]]


@dataclass(frozen=True)
class Dispersion(Spoken):
    """Predicted impacts at a distance, from `group`; right and up are measured from the point of aim.

    Attributes
    ----------
    distance : Quantity [m]
        Of the target.
    shots : int [-]
        In one group.
    shares : Mapping [-]
        Cause -> its shares of the horizontal and of the vertical variance; what is missing to one is
        interaction between causes.
    level : float [-]
        Of every interval.
    """

    distance: Quantity
    shots: int
    shares: Mapping[str, tuple[float, float]]
    level: float
    _planes: Floats = field(repr=False)
    _hits: Hits = field(repr=False)  # from the line of sight; the last flight is the one without any spread

    def _at(self, column: Floats) -> Floats:
        return column[:-1, self._plane(units.si(self.distance, "distance"))]

    @property
    def _points(self) -> Floats:
        return np.column_stack([self._at(self._hits.z), self._at(self._hits.y)])

    @property
    def right(self) -> Quantity:
        """Impacts of all draws to the right of the aim [m]."""
        return units.quantity(self._at(self._hits.z), "m")

    @property
    def up(self) -> Quantity:
        """Impacts of all draws above the aim [m]."""
        return units.quantity(self._at(self._hits.y), "m")

    @property
    def speed(self) -> Quantity:
        """Speeds of all draws on impact [m/s]."""
        return units.quantity(self._at(self._hits.speed), "m/s")

    @property
    def sd_right(self) -> Quantity:
        """Standard deviation across [m]."""
        return units.quantity(float(self._points[:, 0].std(ddof=1)), "m")

    @property
    def sd_up(self) -> Quantity:
        """Standard deviation up and down [m]."""
        return units.quantity(float(self._points[:, 1].std(ddof=1)), "m")

    @property
    def sigma(self) -> Quantity:
        """σ of the round pattern with the same mean square radius [m]."""
        return units.quantity(math.sqrt(0.5 * self._points.var(axis=0, ddof=1).sum()), "m")

    @property
    def cep(self) -> Quantity:
        """Radius around the centre that half of the shots stay within [m]."""
        return units.quantity(float(np.median(np.hypot(*(self._points - self._points.mean(axis=0)).T))), "m")

    @property
    def causes(self) -> Causes:
        """Which causes make the vertical and the horizontal spread."""
        return Causes(self.sd_right, self.sd_up, self.shares)

    def _groups(self, shots: int) -> Floats:
        """The draws as separate groups, shape (groups, shots, 2)."""
        points = self._points
        whole = len(points) // shots
        if whole < 20:
            raise units.UnitError(
                f"shots: {len(points)} draws make only {whole} groups of {shots}; must be 20 or more; try "
                "more draws"
            )
        return points[: whole * shots].reshape(whole, shots, 2)

    def _expected(self, values: Floats) -> Interval[Quantity]:
        low, high = np.quantile(values, [0.5 - self.level / 2, 0.5 + self.level / 2])
        return lengths(float(values.mean()), float(low), float(high), self.level)

    @cached_property
    def extreme_spread(self) -> Interval[Quantity]:
        """Extreme spread of one group of `shots` [m]: mean, and the span that `level` of them lie in."""
        return self._expected(np.array([extreme_spread(one) for one in self._groups(self.shots)]))

    @cached_property
    def mean_radius(self) -> Interval[Quantity]:
        """Mean radius of one group of `shots` about its own centre [m], as `extreme_spread`."""
        groups = self._groups(self.shots)
        away = groups - groups.mean(axis=1, keepdims=True)
        return self._expected(np.hypot(away[..., 0], away[..., 1]).mean(axis=1))

    def hit_chance(
        self, *, distance: QuantityLike | None = None, hold: HoldRule = "corrected", **target: Unpack[Size]
    ) -> Interval[float]:
        """Chance that one shot hits a round or a rectangular target, aimed at its middle.

        Parameters
        ----------
        distance : Quantity, str or None [m]
            One of the distances of `hit_table`; the target's own when None.
        hold : str [-]
            ``"corrected"``: at each distance the aim is held so that a shot without spread hits the middle;
            ``"unchanged"``: the aim stays as set for the target's own distance.
        **target : Quantity or str [m]
            ``diameter`` of a round target, or ``width`` and ``height`` of a rectangle.

        Returns
        -------
        Interval
            Chance with the interval (Wilson) that the number of draws leaves [-].

        Raises
        ------
        UnitError
            No target, two targets, another distance, or another hold.

        References
        ----------
        E. B. Wilson, J. Am. Stat. Assoc. 22, 209, 1927.
        """
        x = units.si(self.distance, "distance") if distance is None else distance_si(distance)
        return self._chance(Target.of(**target), self._plane(x), hold)

    def hit_table(self, *, hold: HoldRule = "corrected", **target: Unpack[Size]) -> pd.DataFrame:
        """Hit chance against distance.

        Parameters
        ----------
        hold : str [-]
            As in `hit_chance`.
        **target : Quantity or str [m]
            As in `hit_chance`.

        Returns
        -------
        DataFrame
            ``distance_m``, ``chance``, ``low``, ``high``; one row a distance.
        """
        shape = Target.of(**target)
        rows = [self._chance(shape, plane, hold) for plane in range(len(self._planes))]
        found = {name: [getattr(row, name) for row in rows] for name in ("value", "low", "high")}
        return pd.DataFrame({"distance_m": self._planes} | found).rename(columns={"value": "chance"})

    def _plane(self, x: float) -> int:
        found = np.flatnonzero(np.abs(self._planes - x) < 1e-6)
        if not found.size:
            known = ", ".join(units.show(one, "distance", 3) for one in self._planes)
            raise units.UnitError(
                f"distance: {units.show(x, 'distance')} was not flown; try one of {known}, or "
                "group(distances=...)"
            )
        return int(found[0])

    def _chance(self, target: Target, plane: int, hold: HoldRule) -> Interval[float]:
        if hold not in ("corrected", "unchanged"):
            raise units.UnitError(f"hold: got {hold!r:.64}; must be 'corrected' or 'unchanged'")
        right, up, time = (one[:, plane] for one in (self._hits.z, self._hits.y, self._hits.time))
        if hold == "corrected":
            right, up = right - right[-1], up - up[-1]
        inside = (target.holds(right, up) & (time > 0.0))[:-1]
        n, p = len(inside), float(inside.mean())
        z = NormalDist().inv_cdf(0.5 + self.level / 2)
        scale = 1.0 + z * z / n
        middle = (p + z * z / (2 * n)) / scale
        half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / scale
        return Interval(p, middle - half, middle + half, self.level)

    def compare(self, measured: MeasuredGroup) -> Comparison:
        """Compare a measured group with this prediction.

        Parameters
        ----------
        measured : MeasuredGroup [m]
            Shot at the same distance, with 2 shots or more.

        Returns
        -------
        Comparison
            Ratios, and how often a predicted group of as many shots is larger [-].

        Raises
        ------
        UnitError
            Too few draws for groups of so many shots.
        """
        predicted = {"across": self.sd_right, "up and down": self.sd_up, "together": self.sigma}
        return Comparison.of(measured, self._groups(measured.count), predicted, self.level)
