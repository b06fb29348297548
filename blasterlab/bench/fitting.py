"""Least squares: values and their covariance.

What it is for: the one fitting routine of the kit, for a handful of unknowns.  What it leaves out: any model;
a caller gives residuals, and what is known beforehand as one residual more.

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
    sum_of_squares : float [unit of the residuals squared]
        Least sum.
    residual_sd : float [unit of the residuals]
        √(sum of squares/(n − p)).
    """

    values: Array
    covariance: Array
    sum_of_squares: float
    residual_sd: float

    @property
    def sd(self) -> Array:
        """Standard uncertainty of each value, shape (p,) [unit of each]."""
        return np.sqrt(np.diag(self.covariance))


def difference_jacobian(residuals: Callable[[Array], Array], x: Array, scale: Array) -> Array:
    """Fourth-order central differences.

    f' = [8 (f₁ − f₋₁) − (f₂ − f₋₂)]/(12 h)

    Parameters
    ----------
    residuals : callable [-]
        Of a vector of shape (p,); returns shape (n,).
    x : ndarray [unit of each]
        Where, shape (p,).
    scale : ndarray [unit of each]
        Size of each unknown, shape (p,).

    Returns
    -------
    ndarray
        Shape (n, p) [unit of residual per unit].

    References
    ----------
    M. Abramowitz, I. A. Stegun, *Handbook of Mathematical Functions*, 1964, 25.3.6 and table 25.2.
    """
    columns = []
    for step in _STEP * np.diag(scale):
        near, far = (residuals(x + k * step) - residuals(x - k * step) for k in (1, 2))
        columns.append((8.0 * near - far) / (12.0 * step.sum()))
    return np.column_stack(columns)


def fit(
    residuals: Callable[[Array], Array],
    start: Sequence[float] | Array,
    *,
    known_sd: bool = False,
    jacobian: Callable[[Array], Array] | None = None,
    within: float = 1e-15,
) -> Fit:
    """Least squares.

    min Σ r_i(θ)²,  covariance (JᵀJ)⁻¹, times s² without a known SD

    Parameters
    ----------
    residuals : callable [-]
        Of a vector of shape (p,); returns shape (n,). With `known_sd` already divided by their SD.
    start : sequence of float [unit of each]
        Where to start, shape (p,).
    known_sd : bool [-]
        True: the residuals are in units of their own SD. False: one SD is estimated from them.
    jacobian : callable or None [-]
        Of a vector; returns shape (n, p). None takes differences.
    within : float [-]
        Relative change at which to stop.

    Returns
    -------
    Fit
        Values and covariance.

    Raises
    ------
    ValueError
        A start that is not finite, fewer residuals than unknowns, residuals that are not finite at the start,
        or unknowns that the data do not touch at all.

    References
    ----------
    Branch, Coleman & Li 1999; Seber & Wild 1989, section 2.1.

    Examples
    --------
    >>> x, y = np.array([0.0, 1.0, 2.0]), np.array([1.0, 3.0, 5.0])
    >>> np.round(fit(lambda b: b[0] + b[1] * x - y, [0.0, 1.0]).values, 9).tolist()
    [1.0, 2.0]
    """
    from scipy.optimize import least_squares

    x, last = np.array(start, float), math.inf
    first = np.asarray(residuals(x), float) if np.all(np.isfinite(x)) else np.array([math.nan])
    if not np.all(np.isfinite(first)):
        raise ValueError(f"start: got {x.tolist()}; must be finite and give finite residuals")
    if len(first) < len(x):
        raise ValueError(f"residuals: {len(first)} for {len(x)} unknowns; more shots or fewer unknowns")
    scale = np.where(x != 0.0, np.abs(x), 1.0)

    def data(x: Array) -> Array:
        r = np.asarray(residuals(x), float)
        return np.where(np.isfinite(r), r, 1e100)

    def slope(x: Array) -> Array:
        if jacobian is not None:
            return np.asarray(jacobian(x), float)
        return difference_jacobian(data, x, np.where(x != 0.0, np.abs(x), scale))

    for _ in range(6):  # a fresh start of the trust region often finds the last digits
        found = least_squares(
            data, x, jac=slope, x_scale="jac", ftol=within, xtol=within, gtol=within, max_nfev=2000
        )
        x = found.x
        if last - found.cost <= 1e-13 * found.cost or within > 1e-12:
            break
        last = found.cost
    total = 2.0 * float(found.cost)
    spread = math.sqrt(total / max(len(first) - len(x), 1))
    covariance = _covariance(slope(x)) * (1.0 if known_sd else spread**2)
    return Fit(values=x, covariance=covariance, sum_of_squares=total, residual_sd=spread)


def _covariance(jacobian: Array) -> Array:
    """(JᵀJ)⁻¹ from the singular values of the column-scaled J."""
    size = np.linalg.norm(jacobian, axis=0)
    if np.any(size == 0.0):
        places = np.flatnonzero(size == 0.0).tolist()
        raise ValueError(f"unknowns {places}: the data do not depend on them; leave them out")
    _, values, rows = np.linalg.svd(jacobian / size, full_matrices=False)
    if values[-1] < 1e-10 * values[0]:
        raise ValueError("unknowns: two of them have the same effect on the data; leave one out")
    root = rows.T / values
    return (root @ root.T) / np.outer(size, size)
