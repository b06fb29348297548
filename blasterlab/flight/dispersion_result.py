"""The result of a predicted group: spreads, chances of a hit, who is to blame, and the real group beside it.

What it is for: `Dispersion` answers questions about the impacts that `blasterlab.group` computed.  What it
leaves out: the flights (`dispersion`), and the statistics of holes on paper (`groups`).

References
----------
E. B. Wilson, J. Am. Stat. Assoc. 22, 209, 1927 (interval of a chance).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from statistics import NormalDist
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.flight.conditions import distance_si
from blasterlab.flight.groups import Interval, MeasuredGroup, extreme_spread

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Dispersion:
    """Predicted impacts at a distance, from `group`; right and up are measured from the point of aim.

    Attributes
    ----------
    distance : Quantity [m]
        Of the target.
    shots : int [-]
        In one group.
    right, up : Quantity [m]
        Impacts of all draws that arrive.
    speed : Quantity [m/s]
        Their speeds on impact.
    nominal : tuple of Quantity [m]
        Where the dart without any spread hits, right and up: nothing at the distance of the target.
    shares : Mapping [-]
        Cause -> its shares of the horizontal and of the vertical variance; what is missing to one is
        interaction between causes.
    level : float [-]
        Of every interval.
    """

    distance: Any
    shots: int
    right: Any
    up: Any
    speed: Any
    nominal: tuple[Any, Any]
    shares: Mapping[str, tuple[float, float]]
    level: float
    _planes: np.ndarray = field(repr=False)
    _hits: np.ndarray = field(repr=False)
    _straight: np.ndarray = field(repr=False)

    @property
    def _points(self) -> np.ndarray:
        return np.column_stack([self.right.m_as("m"), self.up.m_as("m")])

    @property
    def sd_right(self) -> Any:
        """Standard deviation across [m]."""
        return units.quantity(float(self._points[:, 0].std(ddof=1)), "m")

    @property
    def sd_up(self) -> Any:
        """Standard deviation up and down [m]."""
        return units.quantity(float(self._points[:, 1].std(ddof=1)), "m")

    @property
    def sigma(self) -> Any:
        """σ of the round pattern with the same mean square radius [m]."""
        return units.quantity(math.sqrt(0.5 * self._points.var(axis=0, ddof=1).sum()), "m")

    @property
    def cep(self) -> Any:
        """Radius around the centre that half of the shots stay within [m]."""
        return units.quantity(float(np.median(self._radii)), "m")

    @property
    def _radii(self) -> np.ndarray:
        points = self._points
        return np.hypot(*(points - points.mean(axis=0)).T)

    def _groups(self, shots: int) -> np.ndarray:
        """The draws as separate groups, shape (groups, shots, 2)."""
        whole = len(self._points) // shots
        if whole < 20:
            raise units.UnitError(
                f"shots: {len(self._points)} draws make {whole} groups of {shots}; 20 are wanted: "
                "would do: more draws"
            )
        return self._points[: whole * shots].reshape(whole, shots, 2)

    def _expected(self, values: np.ndarray) -> Interval:
        low, high = np.quantile(values, [0.5 - self.level / 2, 0.5 + self.level / 2])
        q = units.quantity
        return Interval(q(float(values.mean()), "m"), q(float(low), "m"), q(float(high), "m"), self.level)

    @property
    def extreme_spread(self) -> Interval:
        """Extreme spread of one group of `shots` [m]: mean, and the span that `level` of them lie in."""
        return self._expected(np.array([extreme_spread(one) for one in self._groups(self.shots)]))

    @property
    def mean_radius(self) -> Interval:
        """Mean radius of one group of `shots` about its own centre [m], as `extreme_spread`."""
        groups = self._groups(self.shots)
        away = groups - groups.mean(axis=1, keepdims=True)
        return self._expected(np.hypot(away[..., 0], away[..., 1]).mean(axis=1))

    def hit_chance(
        self,
        *,
        diameter: Any = None,
        width: Any = None,
        height: Any = None,
        distance: Any = None,
        hold: str = "corrected",
    ) -> Interval:
        """Chance that one shot hits a round or a rectangular target, aimed at its middle.

        Parameters
        ----------
        diameter : Quantity, str or None [m]
            Of a round target; or else
        width, height : Quantity, str or None [m]
            Of a rectangle.
        distance : Quantity, str or None [m]
            One of the distances of `hit_table`; the target's own when None.
        hold : str [-]
            ``"corrected"``: at each distance the aim is held so that a shot without spread hits the middle;
            ``"unchanged"``: the aim stays as set for the target's own distance.

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
        x = self.distance.m_as("m") if distance is None else distance_si(distance)
        return self._chance(self._plane(x), *_target(diameter, width, height), hold)

    def _plane(self, x: float) -> int:
        found = np.flatnonzero(np.abs(self._planes - x) < 1e-6)
        if not found.size:
            known = ", ".join(units.show(one, "distance", 3) for one in self._planes)
            raise units.UnitError(
                f"distance: {units.show(x, 'distance')} was not flown; would do: {known}, or "
                "group(distances=...)"
            )
        return int(found[0])

    def _chance(self, plane: int, radius: float, half: tuple[float, float], hold: str) -> Interval:
        if hold not in ("corrected", "unchanged"):
            raise units.UnitError(f"hold: read {hold!r:.64}; would do: 'corrected' or 'unchanged'")
        hits = self._hits[:, plane]
        centre = self._straight[plane] if hold == "corrected" else np.zeros(2)
        up, right = hits[:, 1] - centre[0], hits[:, 2] - centre[1]
        inside = (
            np.hypot(right, up) <= radius if radius else (np.abs(right) <= half[0]) & (np.abs(up) <= half[1])
        )
        n, p = len(hits), float((inside & (hits[:, 0] > 0)).mean())
        z = NormalDist().inv_cdf(0.5 + self.level / 2)
        middle, room = (
            (p + z * z / (2 * n)) / (1 + z * z / n),
            z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n)),
        )
        return Interval(p, middle - room / (1 + z * z / n), middle + room / (1 + z * z / n), self.level)

    def hit_table(
        self, *, diameter: Any = None, width: Any = None, height: Any = None, hold: str = "corrected"
    ) -> pd.DataFrame:
        """Hit chance against distance.

        Parameters
        ----------
        diameter, width, height : Quantity, str or None [m]
            As in `hit_chance`.
        hold : str [-]
            As in `hit_chance`.

        Returns
        -------
        DataFrame
            ``distance [m]``, ``chance``, ``low``, ``high``; one row a distance.

        Raises
        ------
        UnitError
            As `hit_chance`.
        """
        import pandas as pd

        target = _target(diameter, width, height)
        rows = [self._chance(plane, *target, hold) for plane in range(len(self._planes))]
        return pd.DataFrame(
            {
                "distance [m]": self._planes,
                "chance": [row.value for row in rows],
                "low": [row.low for row in rows],
                "high": [row.high for row in rows],
            }
        )

    @property
    def blame(self) -> str:
        """Which causes make the vertical and the horizontal spread, in one sentence."""
        parts = []
        for axis, name, sd in ((1, "vertical", self.sd_up), (0, "horizontal", self.sd_right)):
            ranked = sorted(self.shares.items(), key=lambda item: -item[1][axis])
            large = [(cause, share[axis]) for cause, share in ranked if share[axis] >= 0.05][:3]
            told = ", ".join(f"{100 * part:.0f} % {cause}" for cause, part in large)
            parts.append(f"{name} spread {units.show(sd, 'length', 3)}: {told or 'none'}")
        return "; ".join(parts)

    @property
    def words(self) -> str:
        """The group in one sentence, in the chosen unit set."""
        return (
            f"{self.shots} shots at {units.show(self.distance, 'distance', 3)}: extreme spread "
            f"{self.extreme_spread.words()}, half within {units.show(self.cep, 'length', 3)} of the centre"
        )

    def compare(self, measured: MeasuredGroup) -> Comparison:
        """Hold a measured group against this prediction.

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
        groups = self._groups(measured.count)
        away = groups - groups.mean(axis=1, keepdims=True)
        points = measured.points
        own = points - points.mean(axis=0)
        larger = {
            "across": float(((away[..., 0] ** 2).sum(axis=1) > (own[:, 0] ** 2).sum()).mean()),
            "up and down": float(((away[..., 1] ** 2).sum(axis=1) > (own[:, 1] ** 2).sum()).mean()),
            "together": float(((away**2).sum(axis=(1, 2)) > (own**2).sum()).mean()),
        }
        ratio = {
            "across": _ratio(measured.sd_right, self.sd_right),
            "up and down": _ratio(measured.sd_up, self.sd_up),
            "together": _ratio(measured.sigma, self.sigma),
        }
        return Comparison(ratio, larger, self.level)


@dataclass(frozen=True)
class Comparison:
    """A measured group against a predicted one.

    Attributes
    ----------
    ratio : Mapping [-]
        Measured over predicted spread with its interval: across, up and down, together.
    larger : Mapping [-]
        How often a predicted group of as many shots is more spread out than the measured one.
    level : float [-]
        Of the intervals, and what counts as agreement.
    """

    ratio: Mapping[str, Interval]
    larger: Mapping[str, float]
    level: float

    @property
    def agrees(self) -> bool:
        """Whether all three spreads lie in the middle `level` of predicted groups."""
        tail = 0.5 * (1.0 - self.level)
        return all(tail <= chance <= 1.0 - tail for chance in self.larger.values())

    @property
    def words(self) -> str:
        """The comparison in one sentence."""
        parts = [
            f"{name} {one.value:.2f} times the prediction ({one.low:.2f} to {one.high:.2f})"
            for name, one in self.ratio.items()
        ]
        tail = 0.5 * (1.0 - self.level)
        odd = [name for name, chance in self.larger.items() if not tail <= chance <= 1.0 - tail]
        verdict = "chance alone explains that" if not odd else f"chance does not explain {' and '.join(odd)}"
        return f"{'; '.join(parts)}: {verdict}"


def _ratio(measured: Interval, predicted: Any) -> Interval:
    base = predicted.m_as("m")
    value, low, high = (one.m_as("m") / base for one in (measured.value, measured.low, measured.high))
    return Interval(value, low, high, measured.level)


def _target(diameter: Any, width: Any, height: Any) -> tuple[float, tuple[float, float]]:
    if diameter is not None and width is None and height is None:
        return 0.5 * units.si_in(diameter, "length", "target.diameter", 1e-3, 10.0), (0.0, 0.0)
    if diameter is None and width is not None and height is not None:
        wide = 0.5 * units.si_in(width, "length", "target.width", 1e-3, 10.0)
        return 0.0, (wide, 0.5 * units.si_in(height, "length", "target.height", 1e-3, 10.0))
    raise units.UnitError(
        'target: read no single shape. Would do: diameter="30 cm", or width=... with height=...'
    )
