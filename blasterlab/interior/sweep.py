"""How long should the barrel be: velocity against length, the best length, and how flat the optimum is.

What it is for: a sweep over barrel lengths, from one integration where that is exact, else from one compiled
shot a length.  What it leaves out: other quantities (``batch.sweep``).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy.interpolate import CubicHermiteSpline, CubicSpline

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.interior import kernel as k
from blasterlab.interior import pack, stepper
from blasterlab.interior.shot import TOLERANCE
from blasterlab.parts.barrel import FIELDS

if TYPE_CHECKING:
    import pandas as pd

METHODS = ("auto", "one shot", "separate shots")
_NO_RECORD = np.empty((0, stepper.COLUMNS))
_LENGTH = k.Parameters._fields.index("length")


@dataclass(frozen=True)
class BarrelSweep:
    """Muzzle velocity against barrel length.

    Attributes
    ----------
    build : Build [-]
        The build; its own barrel length is only one among many here.
    lengths, velocities : ndarray, shape (n,) [m, m/s]
        Lengths, and the velocities there; 0 where the dart does not leave.
    method : str [-]
        ``"one shot"`` or ``"separate shots"``.
    note : str [-]
        What the method means for these numbers.
    """

    build: Build
    lengths: Any
    velocities: Any
    method: str
    note: str

    @cached_property
    def _curve(self) -> CubicSpline:
        return CubicSpline(self.lengths, self.velocities)

    @cached_property
    def _flat(self) -> dict[float, tuple[Any, Any]]:
        return {}

    @cached_property
    def _best(self) -> tuple[float, float]:
        top = int(np.argmax(self.velocities))
        if top in (0, len(self.lengths) - 1):
            return float(self.lengths[top]), float(self.velocities[top])
        roots = self._curve.derivative().roots(extrapolate=False)
        inside = roots[(roots >= self.lengths[top - 1]) & (roots <= self.lengths[top + 1])]
        candidates = np.append(inside, self.lengths[top])
        best = candidates[np.argmax(self._curve(candidates))]
        return float(best), float(self._curve(best))

    @property
    def table(self) -> pd.DataFrame:
        """Lengths and velocities, SI columns named with their units."""
        import pandas as pd

        return pd.DataFrame({"barrel_length_m": self.lengths, "muzzle_velocity_m_s": self.velocities})

    @property
    def best_length(self) -> Any:
        """Barrel length of the highest muzzle velocity; an end of the range when it rises to there [mm]."""
        return units.quantity(1e3 * self._best[0], "mm")

    @property
    def best_velocity(self) -> Any:
        """The highest muzzle velocity [m/s]."""
        return units.quantity(self._best[1], "m/s")

    @property
    def at_end(self) -> bool:
        """Whether the best length is an end of the range, so that the true best may lie beyond."""
        return bool(self._best[0] in (self.lengths[0], self.lengths[-1]))

    def smooth(self, points: int = 121) -> tuple[Any, Any]:
        """Lengths and velocities along the cubic spline through the sweep, for a picture.

        Parameters
        ----------
        points : int [-]
            How many, evenly spaced from end to end, 2 or more.

        Returns
        -------
        tuple of (ndarray, ndarray), shape (points,) each
            Lengths [m] and velocities [m/s].

        Raises
        ------
        UnitError
            Fewer than two points.
        """
        if points < 2:
            raise units.UnitError(f"points: read {points}; allowed is 2 or more")
        at = np.linspace(self.lengths[0], self.lengths[-1], points)
        return at, self._curve(at)

    def velocity_at(self, length: Any) -> Any:
        """Muzzle velocity at one barrel length.

        Parameters
        ----------
        length : Quantity or str [length]
            Within the range of the sweep.

        Returns
        -------
        Quantity
            From the cubic spline through the sweep [m/s].

        Raises
        ------
        UnitError
            A length that is unreadable or outside the sweep.
        """
        at = units.si_in(length, "length", "length", self.lengths[0], self.lengths[-1], "the sweep's range")
        return units.quantity(float(self._curve(at)), "m/s")

    def flat_range(self, fraction: float = 0.01) -> tuple[Any, Any]:
        """The lengths around the best within which little velocity is lost.

        Parameters
        ----------
        fraction : float [-]
            Share of the best velocity that may be lost, more than 0 and less than 1.

        Returns
        -------
        tuple of (Quantity, Quantity)
            Shortest and longest such length, cut off at the ends of the sweep [mm].

        Raises
        ------
        UnitError
            A fraction outside its range.
        """
        if not 0.0 < fraction < 1.0:
            raise units.UnitError(f"fraction: read {fraction}; allowed is more than 0 and less than 1")
        if fraction not in self._flat:  # a picture and the words beside it ask for the same one
            best, top = self._best
            roots = self._curve.solve((1.0 - fraction) * top, extrapolate=False)
            below, above = roots[roots < best], roots[roots > best]
            low = below.max() if below.size else self.lengths[0]
            high = above.min() if above.size else self.lengths[-1]
            self._flat[fraction] = (
                units.quantity(1e3 * float(low), "mm"),
                units.quantity(1e3 * float(high), "mm"),
            )
        return self._flat[fraction]


def barrel_sweep(
    build: Build,
    start: Any = "5 cm",
    stop: Any = "60 cm",
    points: int = 56,
    method: str = "auto",
    tolerance: float = TOLERANCE,
) -> BarrelSweep:
    """Muzzle velocity against barrel length.

    Parameters
    ----------
    build : Build [-]
        The build.
    start, stop : Quantity or str [length]
        Shortest and longest barrel, 5 mm to 3 m.
    points : int [-]
        Lengths, evenly spaced, 5 to 2000.
    method : str [-]
        ``"one shot"`` reads all lengths off one integration through the longest barrel; that is exact when
        nothing depends on where the muzzle is, that is without air ahead of the dart and without dart
        friction (which fades as the nose leaves).  ``"separate shots"`` integrates each length.
        ``"auto"`` takes the first where it is exact and the second elsewhere.
    tolerance : float [-]
        As in ``simulate``.

    Returns
    -------
    BarrelSweep
        The sweep.

    Raises
    ------
    UnitError
        Lengths out of range or in the wrong order, too few or too many points, an unknown method.
    BuildError
        A dart that leaves none of these barrels.

    References
    ----------
    The best length is where the force on the dart falls to zero; closed form for a fixed chamber:
    ``blasterlab.interior.limits.best_length``.
    """
    spec = FIELDS["length"]
    low = units.si_in(start, "length", "start", spec.low, spec.high)
    high = units.si_in(stop, "length", "stop", spec.low, spec.high)
    if not low < high:
        raise units.UnitError(f"stop: read {units.show(high, 'length')}; it must lie beyond start")
    if not 5 <= points <= 2000:
        raise units.UnitError(f"points: read {points}; allowed are 5 to 2000")
    if method not in METHODS:
        raise units.UnitError(f"method: read {method!r}; would do: {', '.join(METHODS)}")
    p = pack.parameters(build.si)
    exact = p.air_ahead == 0.0 and p.dart_friction == 0.0 and p.dart_slope == 0.0
    if method == "auto":
        method = "one shot" if exact else "separate shots"
    lengths = np.linspace(low, high, points)
    if method == "one shot":
        speeds = _one_shot(p._replace(length=high), lengths, tolerance)
        note = (
            "read off one integration through the longest barrel"
            if exact
            else f"read off one integration through a barrel of {units.show(high, 'length')}; shorter ones "
            "have less air ahead of the dart and let its nose out earlier, which is left out"
        )
    else:
        speeds = separate(p, lengths, tolerance)
        note = "one integration for each length"
    if not speeds.any():
        raise BuildError([f"barrel.length: the dart leaves no barrel from {start} to {stop}"])
    return BarrelSweep(build, lengths, speeds, method, note)


def separate(p: k.Parameters, lengths: Any, tolerance: float) -> Any:
    """Muzzle velocities of one build at many lengths, one integration each.

    Parameters
    ----------
    p : Parameters [SI]
        The shot.
    lengths : ndarray, shape (n,) [m]
        Barrel lengths.
    tolerance : float [-]
        As in ``simulate``.

    Returns
    -------
    ndarray, shape (n,)
        Velocities, 0 where the dart does not leave [m/s].
    """
    state = np.empty(k.STATES)
    speeds = np.zeros(len(lengths))
    for place, length in enumerate(lengths):
        outcome = stepper.integrate(p._replace(length=float(length)), tolerance, 1.0, state, _NO_RECORD)
        if outcome.status == k.LEFT:
            speeds[place] = state[k.W]
    return speeds


def _one_shot(p: k.Parameters, lengths: Any, tolerance: float) -> Any:
    """Velocities at many lengths off one integration: dart speed against travel, by cubic Hermite pieces."""
    state = np.empty(k.STATES)
    first = stepper.integrate(p, tolerance, 1.0, state, _NO_RECORD)
    record = np.empty((20_000, stepper.COLUMNS))
    outcome = stepper.integrate(p, tolerance, max(first.time / 1000.0, 1e-9), state, record)
    rows = record[: outcome.records]
    travel, speed = rows[:, 1 + k.Y], rows[:, 1 + k.W]
    energy, slope = 0.5 * speed**2, np.gradient(speed, rows[:, 0])  # d(w^2/2)/dy is the acceleration
    rising = np.concatenate(([True], np.diff(np.maximum.accumulate(travel)) > 1e-9))
    curve = CubicHermiteSpline(travel[rising], energy[rising], slope[rising])
    reached = lengths <= travel.max() * (1.0 + 1e-12)
    inside = np.minimum(lengths, travel[rising][-1])
    return np.where(reached, np.sqrt(2.0 * np.maximum(curve(inside), 0.0)), 0.0)
