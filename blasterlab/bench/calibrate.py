"""Losses learned from chronograph strings, with the uncertainty that they keep.

What it is for: friction, leaks and the port from one or more (build, string) pairs.  What it leaves out: the
model's own shortcomings: a learned loss makes up for them where it was learned, not far from there.

References
----------
A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., 2013, chs. 10 and 14 (importance sampling; a prior
for each unknown).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab.bench.calibration import Calibration
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.loss_model import CalibrationError, LossModel
from blasterlab.bench.posterior import Posterior, sampled
from blasterlab.bench.statistics import mean_sd, t_factor
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty, loss_value
from blasterlab.parts.priors import NINE_IN_TEN, Prior, priors_for
from blasterlab.shot.speed_range import SETUP, normal_scores
from blasterlab.units import QuantityLike

Pairs = Sequence[tuple[Build, ChronoString]]
Free = Sequence[str] | Mapping[str, Prior | tuple[QuantityLike, QuantityLike]] | None
_SAMPLE = 1000  # equally weighted points that a calibration keeps
_USUAL = 4000  # points that are shot, more or less
_ALIKE = 2.0  # of the cost: an answer less than e times less probable than the best


def calibrate(
    pairs: Pairs,
    free: Free = None,
    *,
    chronograph: Chronograph | None = None,
    setup: float = SETUP,
    progress: Callable[[int, int], None] | None = None,
) -> Calibration:
    """Learn losses from strings: their means, and for each free loss what is known before any shot.

    exp{−½ Σ ((v̄_i − c v_i(θ))/u_i)²} times the priors of θ and c, u_i² = v̄_i² (cv²/n_i + setup²)

    Parameters
    ----------
    pairs : sequence of (Build, ChronoString) [-]
        Builds and what they shot; they share the free losses. A string shot at a distance is carried back
        with its build's dart.
    free : sequence of str, mapping or None [-]
        Losses to learn: names (ranges from `priors.PRIORS`), or a mapping to (low, high) that holds nine
        cases in ten; None takes all of `priors.PRIORS`. Any other loss stays as the build has it.
    chronograph : Chronograph or None [-]
        Its common error becomes one more unknown.
    setup : float [-]
        Relative SD from one assembly to the next.
    progress : callable or None [-]
        Called with the number of points shot, and of those that it mostly takes.

    Returns
    -------
    Calibration
        Losses, uncertainty, correlation, predictions.

    Raises
    ------
    CalibrationError
        No pairs, things that are no pair, or a dart that does not leave with usual losses.
    UnitError
        Unknown losses, or ranges that are none.

    Notes
    -----
    Several starts, then a weighted sample, so that a side valley of the cost is neither mistaken for the best
    answer nor forgotten; two answers that fit alike are both kept. The shots' relative SD is pooled over the
    strings. Odd shots are in.

    References
    ----------
    Gelman et al. 2013, chs. 10 and 14.
    """
    taken, priors = _taken(pairs), priors_for(free)
    if not 0.0 <= setup <= 0.2:
        raise CalibrationError(f"setup: got {setup!r}; must be 0 to 0.2 (0.005 is half a percent)")
    told, asked = _Told.of(taken, setup), _Asked(priors, chronograph.relative if chronograph else 0.0)
    model = LossModel([build for build, _ in taken], asked.names)
    fastest = model.readings(asked.values(normal_scores(64, len(asked.names)))).max(axis=0)
    if np.any(fastest <= 0.0):
        title = taken[int(np.argmin(fastest))][0].title
        raise CalibrationError(f"{title}: with usual losses the dart never leaves; is the build right?")

    shot: list[int] = []

    def residuals(scores: np.ndarray) -> np.ndarray:
        if progress is not None:
            shot.append(len(scores))
            progress(sum(shot), max(_USUAL, sum(shot)))
        return np.asarray((model.readings(asked.values(scores)) - told.means) / told.errors)

    found = sampled(residuals, len(asked.names))
    scores = found.answers[0].scores
    best, off = asked.values(scores[None])[0], residuals(scores[None])[0]
    points = asked.values(found.scores)
    equal = np.searchsorted(np.cumsum(found.weights)[:-1], (np.arange(_SAMPLE) + 0.5) / _SAMPLE)
    return Calibration(
        pairs=taken,
        priors=tuple(priors),
        learned=_learned(asked.names, best, np.cov(points.T, aweights=found.weights), told, setup, taken),
        values=best,
        scores=scores,
        sample=points[equal],
        fixed=int(np.sum(np.linalg.eigvalsh(found.answers[0].covariance) < 0.5)),
        off=off,
        predicted=tuple((told.means + off * told.errors).tolist()),
        alike=tuple(asked.values(one[None])[0] for one in _alike(residuals, found)),
        effective=found.effective,
    )


@dataclass(frozen=True)
class _Told:
    """What the strings say: means and their standard uncertainties [m/s], and the shots' relative SD."""

    means: np.ndarray
    errors: np.ndarray
    spread: float
    dof: int

    @classmethod
    def of(cls, pairs: Pairs, setup: float) -> _Told:
        counts = np.array([string.count for _, string in pairs])
        means, sds = np.array([mean_sd(string.speeds_si) for _, string in pairs]).T
        dof = int(np.sum(counts - 1))
        spread = math.sqrt(np.sum((counts - 1) * (sds / means) ** 2) / dof)
        wide = spread * t_factor(0.9, dof) / NINE_IN_TEN  # the spread itself is an estimate
        return cls(means, means * np.sqrt(wide**2 / counts + setup**2), spread, dof)


@dataclass(frozen=True)
class _Asked:
    """The unknowns: losses with their priors, and a chronograph's factor where its error [-] is not zero."""

    priors: Sequence[Prior]
    error: float

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(prior.name for prior in self.priors) + (CHRONOGRAPH,) * (self.error > 0.0)

    def values(self, scores: np.ndarray) -> np.ndarray:
        """Values [SI], shape (n, names), at standard normal scores."""
        columns = [prior.values(scores[:, i]) for i, prior in enumerate(self.priors)]
        factor = np.maximum(1.0 + self.error * scores[:, -1], 0.5)
        return np.column_stack(columns + [factor] * (self.error > 0.0))


def _alike(residuals: Callable[[np.ndarray], np.ndarray], found: Posterior) -> list[np.ndarray]:
    """Answers nearly as good as the best, beyond a ridge."""
    best, *others = found.answers
    kept = []
    for other in others:
        way = np.linspace(0.0, 1.0, 9)[1:-1, None]
        path = best.scores + way * (other.scores - best.scores)
        ridge = np.max(np.sum(residuals(path) ** 2, axis=1) + np.sum(path**2, axis=1))
        if other.cost < best.cost + _ALIKE and ridge > other.cost + 1.0:
            kept.append(other.scores)
    return kept


def _learned(
    names: tuple[str, ...], best: np.ndarray, spread: np.ndarray, told: _Told, setup: float, pairs: Pairs
) -> LossUncertainty:
    sd = np.sqrt(np.diag(np.atleast_2d(spread)))
    correlation = np.atleast_2d(spread) / np.outer(sd, sd)
    return LossUncertainty(
        names=names,
        sd=tuple(loss_value(name, float(f"{v:.5g}")) for name, v in zip(names, sd, strict=True)),
        correlation=tuple(tuple(round(float(v), 6) for v in row) for row in correlation),
        shot_spread=float(f"{told.spread:.5g}"),
        spread_dof=told.dof,
        setup=float(setup),
        reads=round(float(best[-1]), 6) if CHRONOGRAPH in names else 1.0,
        strings=len(pairs),
        shots=told.dof + len(pairs),
    )


def _taken(pairs: Pairs) -> tuple[tuple[Build, ChronoString], ...]:
    """The pairs, checked, each string at the muzzle."""
    try:
        items = [(build, string) for build, string in pairs]
    except (TypeError, ValueError):
        raise CalibrationError("pairs: expected a list of (build, string)") from None
    if not items:
        raise CalibrationError("pairs: none given; at least one (build, string) is needed")
    for place, (build, string) in enumerate(items, start=1):
        if not isinstance(build, Build) or not isinstance(string, ChronoString):
            got = f"({type(build).__name__}, {type(string).__name__})"
            raise CalibrationError(f"pair {place}: got {got}; must be (Build, ChronoString)")
    return tuple((build, string if string.at_muzzle else string.of_build(build)) for build, string in items)
