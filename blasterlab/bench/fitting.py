"""Bounded least squares with priors: values, covariance, and what the data cannot tell apart.

What it is for: the one fitting routine of the kit, for a handful of unknowns.  What it leaves out: any
model; a caller gives residuals.

References
----------
M. A. Branch, T. F. Coleman, Y. Li, SIAM J. Sci. Comput. 21, 1, 1999 (the trust-region method of scipy's
`least_squares`).  G. A. F. Seber, C. J. Wild, *Nonlinear Regression*, 1989, section 2.1 (covariance).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

Array = np.ndarray
Values = Sequence[float] | Array
_STEP = 7.0e-4  # relative step of the fourth-order difference: rounding and truncation errors about equal


@dataclass(frozen=True)
class Fit:
    """The result of `fit`.

    Attributes
    ----------
    values : ndarray [unit of each]
        Best values, shape (p,).
    covariance : ndarray [products of units]
        Shape (p, p).
    correlation : ndarray [-]
        Shape (p, p).
    residuals : ndarray [unit of the residuals]
        Of the data, priors not among them, shape (n,).
    jacobian : ndarray [unit of residual per unit]
        Of the data residuals at the best values, shape (n, p).
    sum_of_squares : float [unit of the residuals squared]
        Of the data residuals.
    residual_sd : float [unit of the residuals]
        √(sum of squares/(n − p)) without priors, √(sum of squares/n) with.
    at_bound : tuple of bool [-]
        Values that ended on a bound; their spread is the prior's word, not the data's.
    evaluations : int [-]
        Calls of the residuals.
    """

    values: Array
    covariance: Array
    correlation: Array
    residuals: Array
    jacobian: Array
    sum_of_squares: float
    residual_sd: float
    at_bound: tuple[bool, ...]
    evaluations: int

    @property
    def sd(self) -> Array:
        """Standard uncertainty of each value, shape (p,) [unit of each]."""
        return np.sqrt(np.diag(self.covariance))


def difference_jacobian(
    residuals: Callable[[Array], Array], x: Array, scale: Array, low: Array, high: Array
) -> Array:
    """Fourth-order central differences; one-sided of second order where a bound is too near.

    f' = [8 (f₁ − f₋₁) − (f₂ − f₋₂)]/(12 h)

    Parameters
    ----------
    residuals : callable [-]
        Of a vector of shape (p,); returns shape (n,).
    x : ndarray [unit of each]
        Where, shape (p,).
    scale : ndarray [unit of each]
        Size of each unknown, shape (p,).
    low, high : ndarray [unit of each]
        Bounds, shape (p,).

    Returns
    -------
    ndarray
        Shape (n, p) [unit of residual per unit].

    References
    ----------
    M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 1964, 25.3.6 and table 25.2.
    """
    columns = []
    for i in range(len(x)):
        h = _STEP * scale[i]

        def at(steps: float, i: int = i, h: float = h) -> Array:
            moved = x.copy()
            moved[i] += steps * h
            return residuals(moved)

        if x[i] - 2 * h >= low[i] and x[i] + 2 * h <= high[i]:
            columns.append((8 * (at(1) - at(-1)) - (at(2) - at(-2))) / (12 * h))
        else:
            way = 1.0 if x[i] + 2 * h <= high[i] else -1.0
            columns.append(way * (-3 * residuals(x) + 4 * at(way) - at(2 * way)) / (2 * h))
    return np.column_stack(columns)


def fit(
    residuals: Callable[[Array], Array],
    start: Values,
    *,
    low: Values | None = None,
    high: Values | None = None,
    prior_mean: Values | None = None,
    prior_sd: Values | None = None,
    known_sd: bool = False,
    jacobian: Callable[[Array], Array] | None = None,
    within: float = 1e-15,
) -> Fit:
    """Least squares with bounds and normal priors.

    min Σ r_i(θ)² + Σ ((θ_j − μ_j)/τ_j)²,  covariance (JᵀJ + T⁻²)⁻¹, times s² without a known SD

    Parameters
    ----------
    residuals : callable [-]
        Of a vector of shape (p,); returns shape (n,). With `known_sd` already divided by their SD.
    start : sequence of float [unit of each]
        Where to start, shape (p,).
    low, high : sequence of float or None [unit of each]
        Bounds, shape (p,).
    prior_mean, prior_sd : sequence of float or None [unit of each]
        Normal priors, shape (p,); an infinite SD is no prior. They need `known_sd`.
    known_sd : bool [-]
        True: the residuals are in units of their own SD. False: one SD is estimated from them.
    jacobian : callable or None [-]
        Of a vector; returns shape (n, p). None takes differences.
    within : float [-]
        Relative change at which to stop.

    Returns
    -------
    Fit
        Values, covariance and residuals.

    Raises
    ------
    ValueError
        A start outside its bounds or not finite, priors without a known SD, fewer residuals than unknowns
        and no priors, residuals that are not finite, or unknowns that the data do not touch at all.

    References
    ----------
    Branch, Coleman & Li 1999; Seber & Wild 1989, section 2.1; A. Gelman et al., *Bayesian Data Analysis*,
    3rd ed., 2013, section 14.8 (a prior as one more observation).

    Examples
    --------
    >>> x, y = np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 5.0])
    >>> np.round(fit(lambda b: b[0] + b[1] * x - y, [0.0, 1.0]).values, 9).tolist()
    [1.0, 2.0]
    """
    unknowns = _Unknowns.of(start, low, high, prior_mean, prior_sd, known_sd)
    count, weight = len(unknowns.start), unknowns.weight
    bayes = bool(np.any(weight > 0.0))
    calls = [0]

    def data(x: Array) -> Array:
        calls[0] += 1
        r = np.asarray(residuals(x), float)
        if calls[0] == 1 and not np.all(np.isfinite(r)):
            raise ValueError(f"residuals: not finite at the start {x.tolist()}")
        return np.where(np.isfinite(r), r, 1e100)

    def slope(x: Array) -> Array:
        if jacobian is not None:
            return np.asarray(jacobian(x), float)
        size = unknowns.scale if bayes else np.where(x != 0.0, np.abs(x), unknowns.scale)
        return difference_jacobian(data, x, size, unknowns.low, unknowns.high)

    n = len(data(unknowns.start))
    if n < count and not bayes:
        raise ValueError(f"residuals: {n} for {count} unknowns; more shots or fewer unknowns, or priors")
    x = _least(data, slope, unknowns, within)
    r, j = data(x), slope(x)
    total = float(r @ r)
    spread = math.sqrt(total / (n if bayes else max(n - count, 1)))
    plain = _covariance(np.vstack([j, np.diag(weight)]))
    sd = np.sqrt(np.diag(plain))
    near = 1e-6 * unknowns.scale
    return Fit(
        values=x,
        covariance=plain * (1.0 if known_sd else spread**2),
        correlation=plain / np.outer(sd, sd),
        residuals=r,
        jacobian=j,
        sum_of_squares=total,
        residual_sd=spread,
        at_bound=tuple(((x - unknowns.low < near) | (unknowns.high - x < near)).tolist()),
        evaluations=calls[0],
    )


@dataclass(frozen=True)
class _Unknowns:
    """Start, bounds, and priors as weights (0 for none) about a center; scale is the size of a change."""

    start: Array
    low: Array
    high: Array
    weight: Array
    center: Array
    scale: Array

    @classmethod
    def of(cls, start: Values, low: Values | None, high: Values | None,
           prior_mean: Values | None, prior_sd: Values | None, known_sd: bool) -> _Unknowns:  # fmt: skip
        x = np.array(start, float)
        bottom = np.full(len(x), -np.inf) if low is None else np.array(low, float)
        top = np.full(len(x), np.inf) if high is None else np.array(high, float)
        if not (np.all(np.isfinite(x)) and np.all(bottom < top) and np.all((bottom <= x) & (x <= top))):
            raise ValueError(f"start: got {x.tolist()}; must be within {bottom.tolist()} to {top.tolist()}")
        weight = center = np.zeros(len(x))
        scale = np.where(x != 0.0, np.abs(x), 1.0)
        if prior_sd is not None:
            if not known_sd or prior_mean is None:
                raise ValueError("prior_sd: priors need prior_mean, and residuals in units of a known SD")
            weight, center = 1.0 / np.array(prior_sd, float), np.array(prior_mean, float)
            scale = np.where(weight > 0.0, np.array(prior_sd, float), scale)
        return cls(x, bottom, top, weight, center, scale)


def _least(
    data: Callable[[Array], Array],
    slope: Callable[[Array], Array],
    unknowns: _Unknowns,
    within: float,
) -> Array:
    """The best values; a fresh start of the trust region often finds the last digits."""
    from scipy.optimize import least_squares

    weight, x, last = unknowns.weight, unknowns.start, math.inf

    def whole(x: Array) -> Array:
        return np.concatenate([data(x), weight * (x - unknowns.center)])

    def whole_slope(x: Array) -> Array:
        return np.vstack([slope(x), np.diag(weight)])

    for _ in range(6):
        result = least_squares(
            whole,
            np.clip(x, unknowns.low, unknowns.high),
            jac=whole_slope,
            bounds=(unknowns.low, unknowns.high),
            x_scale=unknowns.scale if np.any(weight > 0.0) else "jac",
            ftol=within,
            xtol=within,
            gtol=within,
            max_nfev=2000,
        )
        x = result.x
        if last - result.cost <= 1e-13 * result.cost or within > 1e-12:
            break
        last = result.cost
    return np.asarray(x)


def _covariance(jacobian: Array) -> Array:
    """(JᵀJ)⁻¹ from the singular values of the column-scaled J."""
    size = np.linalg.norm(jacobian, axis=0)
    if np.any(size == 0.0):
        places = np.flatnonzero(size == 0.0).tolist()
        raise ValueError(f"unknowns {places}: the data do not depend on them; leave them out or give a prior")
    _, values, rows = np.linalg.svd(jacobian / size, full_matrices=False)
    if values[-1] < 1e-10 * values[0]:
        raise ValueError(
            "unknowns: two of them have the same effect on the data; leave one out or give a prior"
        )
    root = rows.T / values
    return (root @ root.T) / np.outer(size, size)
