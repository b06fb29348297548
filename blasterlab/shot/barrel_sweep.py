"""How long should the barrel be: velocity against length, the best length, and how flat the optimum is.

What it is for: a sweep over barrel lengths, one compiled shot a length.  What it leaves out: other quantities
(``variants.sweep``).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property, partial
from typing import Any

import numpy as np
from scipy.interpolate import CubicSpline

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.doors import Spoken
from blasterlab.parts.barrel import FIELDS
from blasterlab.shot import equations as k
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import TOLERANCE, shoot
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.rules import EXITED
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

SPACINGS: dict[str, Callable[..., Any]] = {"even": np.linspace, "ratio": np.geomspace}


class Run:
    """Neighbouring lengths that all let the dart out, and the curve through their velocities.

    A cubic spline over the logarithm of the length: velocity rises steeply where barrels are short.

    Parameters
    ----------
    lengths, speeds : ndarray, shape (n,) [m, m/s]
        In rising order; the speeds above zero.
    """

    def __init__(self, lengths: Floats, speeds: Floats) -> None:
        self.lengths, self.speeds = lengths, speeds

    @cached_property
    def _curve(self) -> CubicSpline:
        return CubicSpline(np.log(self.lengths), self.speeds)

    def at(self, lengths: Floats | float) -> Floats:
        """Velocities within the run, never below zero [m/s]."""
        if len(self.lengths) < 4:
            return np.asarray(np.interp(lengths, self.lengths, self.speeds))
        return np.maximum(self._curve(np.log(lengths)), 0.0)

    @cached_property
    def best(self) -> tuple[float, float]:
        """The length of the highest velocity, and that [m, m/s]."""
        top = int(np.argmax(self.speeds))
        found = (float(self.lengths[top]), float(self.speeds[top]))
        if len(self.lengths) >= 4:
            around = self.lengths[max(top - 1, 0)], self.lengths[min(top + 1, len(self.lengths) - 1)]
            roots = np.exp(self._curve.derivative().roots(extrapolate=False))
            for root in roots[(roots > around[0]) & (roots < around[1])]:
                found = max(found, (float(root), float(self.at(root))), key=lambda pair: pair[1])
        return found

    def band(self, fraction: float) -> tuple[float, float]:
        """Ends of the lengths around the best within which a fraction is lost, or of the run [m]."""
        best, top = self.best
        low, high = float(self.lengths[0]), float(self.lengths[-1])
        if len(self.lengths) >= 4:
            roots = np.exp(self._curve.solve((1.0 - fraction) * top, extrapolate=False))
            low = float(max(roots[roots < best], default=low))
            high = float(min(roots[roots > best], default=high))
        return low, high


def runs(lengths: Floats, speeds: Floats) -> list[Run]:
    """The runs of a sweep, in rising order.

    Parameters
    ----------
    lengths, speeds : ndarray, shape (n,) [m, m/s]
        As shot; a speed of 0 is a dart that stayed in.

    Returns
    -------
    list of Run
        One for each stretch of lengths that let the dart out [-].
    """
    out = np.flatnonzero(speeds > 0.0)
    pieces = np.split(out, np.flatnonzero(np.diff(out) > 1) + 1)
    return [Run(lengths[piece], speeds[piece]) for piece in pieces if piece.size]


def refined(shoot: Callable[[Floats], Floats], lengths: Floats, speeds: Floats, rounds: int = 3) -> Floats:
    """More shots where they tell most: at the best length, and at the ends of its 1 % band.

    Parameters
    ----------
    shoot : callable [-]
        Lengths to velocities.
    lengths, speeds : ndarray, shape (n,) [m, m/s]
        What was shot so far; some darts left.
    rounds : int [-]
        How often to look again; mostly one or two rounds do.

    Returns
    -------
    ndarray, shape (2, m)
        Lengths [m] and velocities [m/s], in rising order.
    """
    nodes = np.array([lengths, speeds])
    for _ in range(rounds):
        new = _wanted(*nodes.tolist())
        if not new:
            break
        nodes = np.concatenate([nodes, [new, shoot(np.array(new))]], axis=1)
        nodes = nodes[:, np.argsort(nodes[0])]
    return nodes


def _wanted(lengths: list[float], speeds: list[float]) -> list[float]:
    """Lengths worth a shot: where a parabola has its top, and where straight lines cross 99 % of the top."""
    last, top = len(speeds) - 1, max(range(len(speeds)), key=speeds.__getitem__)
    at = [math.log(length) for length in lengths]
    found = []
    if 0 < top < last and speeds[top - 1] > 0.0 and speeds[top + 1] > 0.0:
        left, right = at[top] - at[top - 1], at[top + 1] - at[top]
        rise, fall = (speeds[top] - speeds[top - 1]) / left, (speeds[top + 1] - speeds[top]) / right
        found.append(at[top] + 0.5 * (rise * right + fall * left) / (rise - fall) if rise > fall else at[top])
    else:  # at an end of the lengths that let the dart out: look into the cells beside it
        found += [0.5 * (at[k - 1] + at[k]) for k in (top, top + 1) if 0 < k <= last]
    for step, end in ((-1, 0), (1, last)):
        k = top
        while k != end and speeds[k + step] >= 0.99 * speeds[top]:
            k += step
        if k != end:
            share = (speeds[k] - 0.99 * speeds[top]) / (speeds[k] - speeds[k + step])
            share = share if speeds[k + step] > 0.0 else 0.5  # beyond it the dart stays in
            found.append(at[k] + share * (at[k + step] - at[k]))
    return sorted(math.exp(u) for u in set(found) if min(abs(u - known) for known in at) > 0.02)


def best_lengths(speeds: Floats, lengths: Floats) -> Floats:
    """The length of the highest speed of each of many cases, by a parabola in the logarithm of the length.

    Parameters
    ----------
    speeds : ndarray, shape (cases, lengths) [m/s]
        Of each case at each length.
    lengths : ndarray, shape (lengths,) [m]
        In rising order: each the same share longer than the last, or close to each other.

    Returns
    -------
    ndarray, shape (cases,)
        Lengths [m].
    """
    at = np.clip(np.argmax(speeds, axis=1), 1, speeds.shape[1] - 2)
    left, top, right = (np.take_along_axis(speeds, (at + k)[:, None], 1)[:, 0] for k in (-1, 0, 1))
    bend = np.minimum(left - 2.0 * top + right, -1e-12)
    u, off = np.log(lengths), np.clip(0.5 * (left - right) / bend, -1.0, 1.0)
    return np.asarray(np.exp(u[at] + off * 0.5 * (u[at + 1] - u[at - 1])))


@dataclass(frozen=True)
class BarrelSweep(Spoken):
    """Muzzle velocity against barrel length.

    Attributes
    ----------
    build : Build [-]
        The build; its own barrel length is only one among many here.
    lengths, velocities : ndarray, shape (n,) [m, m/s]
        Lengths, and the velocities there; 0 where the dart does not leave.
    nodes : ndarray, shape (2, m) [m, m/s]
        All that was shot: these lengths, and some more around the best one and the ends of its 1 % band.
    """

    build: Build
    lengths: Floats
    velocities: Floats
    nodes: Floats

    @cached_property
    def _runs(self) -> list[Run]:
        return runs(*self.nodes)

    @cached_property
    def _top(self) -> Run:
        return max(self._runs, key=lambda run: float(run.speeds.max()))

    @cached_property
    def _flat(self) -> dict[float, tuple[Quantity, Quantity]]:
        return {}

    @property
    def table(self) -> pd.DataFrame:
        """Lengths and velocities, SI columns named with their units."""
        return pd.DataFrame({"barrel_length_m": self.lengths, "muzzle_velocity_m_s": self.velocities})

    @property
    def best_length(self) -> Quantity:
        """Barrel length of the highest muzzle velocity; an end of the range when it rises to there [mm]."""
        return units.quantity(1e3 * self._top.best[0], "mm")

    @property
    def best_velocity(self) -> Quantity:
        """The highest muzzle velocity [m/s]."""
        return units.quantity(self._top.best[1], "m/s")

    @property
    def at_end(self) -> bool:
        """Whether the best length is an end of the range, so that the true best may lie beyond."""
        return bool(self._top.best[0] in (self.lengths[0], self.lengths[-1]))

    def smooth(self, points: int = 121) -> tuple[Floats, Floats]:
        """Lengths and velocities along the curve through the sweep, for a picture.

        Parameters
        ----------
        points : int [-]
            How many, evenly spaced from end to end, 2 or more.

        Returns
        -------
        tuple of (ndarray, ndarray), shape (points,) each
            Lengths [m] and velocities [m/s], 0 where the dart stays in; shot anew where it comes to stay in.

        Raises
        ------
        UnitError
            Fewer than two points.
        """
        if points < 2:
            raise units.UnitError(f"points: got {points}; must be 2 or more")
        at = np.linspace(self.lengths[0], self.lengths[-1], points)
        speeds = np.zeros(points)
        for run in self._runs:
            inside = (at >= run.lengths[0]) & (at <= run.lengths[-1])
            speeds[inside] = run.at(at[inside])
        out = self.nodes[1] > 0.0
        cells = np.clip(np.searchsorted(self.nodes[0], at) - 1, 0, out.size - 2)
        ends = out[cells] != out[cells + 1]
        speeds[ends] = separate(parameters(self.build.si), at[ends], TOLERANCE)
        return at, speeds

    def velocity_at(self, length: QuantityLike) -> Quantity:
        """Muzzle velocity at one barrel length.

        Parameters
        ----------
        length : Quantity or str [length]
            Within the range of the sweep.

        Returns
        -------
        Quantity
            From the curve through the sweep; shot anew between a length that lets the dart out and one that
            does not; 0 where it stays in [m/s].

        Raises
        ------
        UnitError
            A length that is unreadable or outside the sweep.
        """
        at = units.si_in(length, "length", "length", self.lengths[0], self.lengths[-1], "the sweep's range")
        for run in self._runs:
            if run.lengths[0] <= at <= run.lengths[-1]:
                return units.quantity(float(run.at(at)), "m/s")
        shot = separate(parameters(self.build.si), np.array([at]), TOLERANCE)
        return units.quantity(float(shot[0]), "m/s")

    def ratio_at(self, length: QuantityLike) -> float:
        """The volume ratio, swept chamber over barrel, of the build with another barrel.

        Parameters
        ----------
        length : Quantity or str [length]
            Of the barrel, more than 0.

        Returns
        -------
        float
            The ratio [-].
        """
        own = self.build.volume_ratio * self.build.si["barrel.length"]
        return own / units.si(length, "length", "length")

    def flat_range(self, fraction: float = 0.01) -> tuple[Quantity, Quantity]:
        """The lengths around the best within which little velocity is lost.

        Parameters
        ----------
        fraction : float [-]
            Share of the best velocity that may be lost, more than 0 and less than 1.

        Returns
        -------
        tuple of (Quantity, Quantity)
            Shortest and longest such length, cut off where the sweep ends or the dart stays in [mm].

        Raises
        ------
        UnitError
            A fraction outside its range.
        """
        if not 0.0 < fraction < 1.0:
            raise units.UnitError(f"fraction: got {fraction}; must be more than 0 and less than 1")
        if fraction not in self._flat:  # a picture and the words beside it ask for the same one
            low, high = self._top.band(fraction)
            self._flat[fraction] = (units.quantity(1e3 * low, "mm"), units.quantity(1e3 * high, "mm"))
        return self._flat[fraction]


def barrel_sweep(
    build: Build,
    start: QuantityLike = "5 cm",
    stop: QuantityLike = "60 cm",
    points: int = 56,
    tolerance: float = TOLERANCE,
    spacing: str = "even",
) -> BarrelSweep:
    """Muzzle velocity against barrel length.

    Parameters
    ----------
    build : Build [-]
        The build.
    start, stop : Quantity or str [length]
        Shortest and longest barrel, 5 mm to 3 m.
    points : int [-]
        Lengths, 5 to 2000; some more are shot around the best one and at the ends of its 1 % band.
    tolerance : float [-]
        As in ``simulate``.
    spacing : str [-]
        ``"even"``, or ``"ratio"``: each length the same share longer than the last, which sees more with few
        points, as velocity rises steeply where barrels are short.

    Returns
    -------
    BarrelSweep
        The sweep.

    Raises
    ------
    UnitError
        Lengths out of range or in the wrong order, too few or too many points, an unknown spacing.
    BuildError
        A dart that leaves none of these barrels.

    References
    ----------
    The best length is where the force on the dart falls to zero; closed form for a fixed chamber:
    ``blasterlab.closed_forms.limits.best_length``.
    """
    spec = FIELDS["length"]
    low = units.si_in(start, "length", "start", spec.low, spec.high)
    high = units.si_in(stop, "length", "stop", spec.low, spec.high)
    if not low < high:
        raise units.UnitError(f"stop: got {units.show(high, 'length')}; must lie beyond start")
    if not 5 <= points <= 2000:
        raise units.UnitError(f"points: got {points}; must be 5 to 2000")
    if spacing not in SPACINGS:
        raise units.UnitError(f"spacing: got {spacing!r}; must be one of {', '.join(SPACINGS)}")
    shoot = partial(separate, parameters(build.si), tolerance=tolerance)
    lengths = SPACINGS[spacing](low, high, points)
    speeds = shoot(lengths)
    if not speeds.any():
        raise BuildError([f"barrel.length: the dart leaves no barrel from {start} to {stop}"])
    return BarrelSweep(build, lengths, speeds, refined(shoot, lengths, speeds))


def separate(p: Parameters, lengths: Floats, tolerance: float) -> Floats:
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
    state, speeds = np.empty(k.STATES), np.zeros(len(lengths))
    for place, length in enumerate(map(float, lengths)):  # a second thread is slow to come on a busy machine
        if shoot(p._replace(length=length), tolerance, state).status == EXITED:
            speeds[place] = state[k.W]
    return speeds
