"""What measurements say about unknowns: a weighted sample of what they may be, and each separate best answer.

What it is for: unknowns as standard normal scores of what was known before, residuals in units of their SD,
and a cost with kinks or several valleys.  A space-filling look, descents from several starts, then importance
sampling from a mixture that learns from its own weights, until enough points count.  What it leaves out: any
model.

References
----------
O. Cappé, R. Douc, A. Guillin, J.-M. Marin, C. P. Robert, "Adaptive importance sampling in general mixture
classes", *Statistics and Computing* 18, 447, 2008 (t mixtures, their update, effective number of points).
J.-M. Cornuet, J.-M. Marin, A. Mira, C. P. Robert, "Adaptive multiple importance sampling", *Scandinavian
Journal of Statistics* 39, 798, 2012 (all rounds weighted together).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.special import gammaincinv, gammaln, logsumexp, ndtr

from blasterlab.shot.speed_range import normal_scores

Array = np.ndarray
Residuals = Callable[[Array], Array]
_LOOK, _STARTS, _BATCH, _MOST = 512, 5, 512, 12  # points looked at, descents, points a round, rounds
_ENOUGH = 600.0  # effective points: standard deviations to about 3 %
_DOF = 6.0  # tails of the mixture's parts: above any normal's
_STEP = 0.05  # of a slope, in prior SDs: above the model's own error, and across small kinks
_APART = 9.0  # squared distance in SDs from which two answers are two


@dataclass(frozen=True)
class Answer:
    """One best answer: its scores, their covariance there, and its cost Σ r² + Σ z², all without units."""

    scores: Array
    covariance: Array
    cost: float


@dataclass(frozen=True)
class Posterior:
    """What the measurements left open.

    Attributes
    ----------
    scores : ndarray, shape (n, unknowns) [-]
        Points.
    weights : ndarray, shape (n,) [-]
        Their weights, 1 in all.
    answers : tuple of Answer [-]
        Separate valleys, the best first.
    effective : float [-]
        How many equally weighted points they are worth.
    """

    scores: Array
    weights: Array
    answers: tuple[Answer, ...]
    effective: float


def sampled(residuals: Residuals, count: int) -> Posterior:
    """A sample of exp(−(Σ r² + Σ z²)/2).

    Parameters
    ----------
    residuals : callable [-]
        Of scores, shape (k, count); returns shape (k, data), in units of their SD.
    count : int [-]
        How many unknowns.

    Returns
    -------
    Posterior
        Points, weights and answers [-].
    """
    look = normal_scores(_LOOK, count)
    answers = _answers(residuals, look, _costs(residuals, look))
    mix = _mixture(answers)
    points, costs, mixes = np.empty((0, count)), np.empty(0), []
    for turn in range(_MOST):
        fresh = _draw(mix, turn)
        points, costs = np.vstack([points, fresh]), np.append(costs, _costs(residuals, fresh))
        mixes.append(mix)
        proposed = logsumexp([logsumexp(_densities(points, one), axis=0) for one in mixes], axis=0)
        logs = -0.5 * costs - proposed
        weights = np.exp(logs - logsumexp(logs))
        effective = 1.0 / float(weights @ weights)
        if turn > 0 and effective >= _ENOUGH:
            break
        mix = _updated(mix, points, weights)
    best = int(np.argmin(costs))
    if costs[best] < answers[0].cost - 0.1:  # the sample found a deeper valley than the descents
        answers = _separate([*answers, _descend(residuals, points[best])])
    return Posterior(points, weights, tuple(answers), effective)


def _costs(residuals: Residuals, points: Array) -> Array:
    return np.asarray(np.sum(residuals(points) ** 2, axis=1) + np.sum(points**2, axis=1))


def descent(
    residuals: Callable[[Array], Array], slope: Callable[[Array], Array], start: Array, within: float = 1e-7
) -> Answer:
    """The least sum of squares from a start, with the covariance of residuals in units of their SD.

    Parameters
    ----------
    residuals, slope : function of an array [-]
        The residuals at a point, and their Jacobian there.
    start : array [-]
        Where it begins.
    within : float [-]
        Relative change of point and cost at which it ends.

    Returns
    -------
    Answer
        The point, its covariance, and the sum of squares [-].
    """
    from scipy.optimize import least_squares

    found: Any = least_squares(
        residuals, start, jac=slope, x_scale="jac", ftol=within, xtol=within, gtol=within, max_nfev=2000
    )
    root = np.linalg.pinv(found.jac)
    return Answer(found.x, root @ root.T, 2.0 * found.cost)


def _descend(residuals: Residuals, start: Array) -> Answer:
    """The bottom of the valley that a start lies in."""
    count = len(start)
    steps = _STEP * np.vstack([np.eye(count), -np.eye(count)])

    def slope(point: Array) -> Array:
        found = residuals(point + steps)
        return np.vstack([(found[:count] - found[count:]).T / (2.0 * _STEP), np.eye(count)])

    def whole(point: Array) -> Array:
        return np.concatenate([residuals(point[None])[0], point])

    return descent(whole, slope, start)


def _answers(residuals: Residuals, look: Array, costs: Array) -> list[Answer]:
    """Descents from the best points looked at that are not neighbours."""
    starts: list[Array] = []
    for place in np.argsort(costs):
        if all(np.sum((look[place] - other) ** 2) > 1.0 for other in starts):
            starts.append(look[place])
        if len(starts) == _STARTS:
            break
    return _separate([_descend(residuals, start) for start in starts])


def _separate(answers: list[Answer]) -> list[Answer]:
    """The best first, none twice, none that the best makes negligible."""
    kept: list[Answer] = []
    for one in sorted(answers, key=lambda answer: answer.cost):
        gaps = [(one.scores - other.scores, other.covariance) for other in kept]
        far = all(gap @ np.linalg.solve(spread, gap) > _APART for gap, spread in gaps)
        if far and (not kept or one.cost < kept[0].cost + 12.0):
            kept.append(one)
    return kept


#: Parts of a mixture: log weights (k,), centers (k, p), roots of the scale matrices (k, p, p).
Mixture = tuple[Array, Array, Array]


def _mixture(answers: list[Answer]) -> Mixture:
    sizes = np.array([-0.5 * a.cost + 0.5 * np.linalg.slogdet(a.covariance)[1] for a in answers])
    shares = np.maximum(np.exp(sizes - logsumexp(sizes)), 0.05)
    roots = np.array([_root(1.3 * answer.covariance) for answer in answers])
    return np.log(shares / shares.sum()), np.array([answer.scores for answer in answers]), roots


def _root(matrix: Array) -> Array:
    return np.linalg.cholesky(matrix + 1e-6 * np.trace(matrix) / len(matrix) * np.eye(len(matrix)))


def _draw(mix: Mixture, turn: int) -> Array:
    """Points of a mixture of multivariate t, evenly spread."""
    logs, centers, roots = mix
    count = centers.shape[1]
    scores = normal_scores(_BATCH, count + 2, turn * _BATCH)
    part = np.searchsorted(np.cumsum(np.exp(logs))[:-1], ndtr(scores[:, -1]))
    widths = np.sqrt(_DOF / (2.0 * gammaincinv(0.5 * _DOF, ndtr(scores[:, -2]))))
    steps = scores[:, :count] * widths[:, None]
    return np.asarray(centers[part] + np.einsum("nij,nj->ni", roots[part], steps))


def _distances(points: Array, mix: Mixture) -> Array:
    """Squared distance of each point from each part's center, shape (k, n)."""
    gaps = np.linalg.solve(mix[2], np.swapaxes(points - mix[1][:, None], 1, 2))
    return np.asarray(np.sum(gaps**2, axis=1))


def _densities(points: Array, mix: Mixture) -> Array:
    """Log of each part's share of the density, shape (k, n)."""
    logs, centers, roots = mix
    count = centers.shape[1]
    scale = gammaln(0.5 * (_DOF + count)) - gammaln(0.5 * _DOF) - 0.5 * count * np.log(_DOF * np.pi)
    sizes = np.sum(np.log(np.einsum("kii->ki", roots)), axis=1)
    heights = (logs + scale - sizes)[:, None]
    return np.asarray(heights - 0.5 * (_DOF + count) * np.log1p(_distances(points, mix) / _DOF))


def _updated(mix: Mixture, points: Array, weights: Array) -> Mixture:
    """One step of the mixture towards the weighted points; no single point leads it."""
    weights = np.minimum(weights, np.sort(weights)[-8])
    parts = _densities(points, mix)
    shares = weights * np.exp(parts - logsumexp(parts, axis=0)) / weights.sum()
    sums = shares.sum(axis=1)
    pulled = shares * (_DOF + points.shape[1]) / (_DOF + _distances(points, mix))
    centers = pulled @ points / pulled.sum(axis=1, keepdims=True)
    gaps = points - centers[:, None]
    spreads = 1.2 * np.einsum("kn,kni,knj->kij", pulled, gaps, gaps) / sums[:, None, None]
    kept = sums > 0.01
    roots = np.array([_root(spread) for spread in spreads[kept]])
    return np.log(sums[kept] / sums[kept].sum()), centers[kept], roots
