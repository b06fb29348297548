"""The chance that a shot, or any of several, is above a cap: the sums, as plain floats.

What it is for: what a short sample says about a share beyond a limit.  What it leaves out: strings, units
and advice (`cap_risk`).

References
----------
G. J. Hahn, W. Q. Meeker, *Statistical Intervals*, 1991, sections 4.5, 4.8.  A. Gelman et al., *Bayesian
Data Analysis*, 3rd ed., 2013, section 3.2: with the prior 1/σ² the predictive law is Student's t, the same
as the classical prediction interval.
"""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy import special

from blasterlab.bench.statistics import normal_nodes, scale_nodes, solve


def chances(
    margins: np.ndarray, sd: float, n: int, m: int, common: float = 0.0, fine: bool = True
) -> np.ndarray:
    """Chance that any of the next m shots lies more than a margin above the sample mean.

    1 − E[Φ(x)^m], x = margin·u/s − z √(1/n + (common·u/s)²), over u = s/σ and a standard normal z

    Parameters
    ----------
    margins : ndarray [m/s]
        Cap minus sample mean, shape (k,).
    sd : float [m/s]
        Sample SD.
    n : int [-]
        Shots in the sample.
    m : int [-]
        Shots still to fire.
    common : float [m/s]
        Standard uncertainty that all shots share (the chronograph's).
    fine : bool [-]
        False is good to a thousandth, and quick enough for a picture.

    Returns
    -------
    ndarray
        Probabilities, shape (k,) [-].

    References
    ----------
    Hahn & Meeker 1991, section 4.8; Gelman et al. 2013, section 3.2.
    """
    u, wu = scale_nodes(n - 1, 160 if fine else 48)
    closer = min(64 + 16 * int(25.0 * common / sd), 400)  # where the step is steeper
    z, wz = normal_nodes(closer if fine else 160 if common else 40)
    scale = (u / sd)[None, :, None]
    x = margins[:, None, None] * scale - z * np.sqrt(1.0 / n + (common * scale) ** 2)
    return np.einsum("u,kuz,z->k", wu, -np.expm1(m * special.log_ndtr(x)), wz)


def chance_any(margin: float, sd: float, n: int, m: int, common: float = 0.0) -> float:
    """`chances` of one margin [-].

    Examples
    --------
    >>> round(chance_any(2.886778, 1.0, 10, 5), 6)
    0.05
    """
    return float(chances(np.array([margin]), sd, n, m, common)[0])


def share_limits(
    margins: np.ndarray, sd: float, n: int, level: float, common: float = 0.0, fine: bool = True
) -> tuple[np.ndarray, np.ndarray]:
    """Limits for the true share of single shots above the cap.

    Y = (cap − μ)/σ, P(Y < y) = 1 − E[Φ((margin − y σ)/√(σ²/n + common²))], share = Φ(−Y)

    Parameters
    ----------
    margins, sd : ndarray, float [m/s]
        As `chances`.
    n : int [-]
        Shots in the sample.
    level : float [-]
        Confidence of the two limits together.
    common : float [m/s]
        As `chances`.
    fine : bool [-]
        As `chances`.

    Returns
    -------
    tuple of ndarray
        Lower and upper limit of the share, shape (k,) [-].

    Notes
    -----
    With `common` zero these are the exact classical limits from the non-central t distribution.

    References
    ----------
    Hahn & Meeker 1991, section 4.5.
    """
    u, wu = scale_nodes(n - 1, 160 if fine else 48)
    sigma = sd / u
    spread = np.sqrt(sigma**2 / n + common**2)
    tail = 0.5 * (1.0 - level)
    shares = []
    for wanted in (1.0 - tail, tail):  # the share falls as Y rises
        low, high = (end + 0.0 * margins for end in (-60.0, 60.0 + 10.0 * np.abs(margins).max() / sd))
        low = np.minimum(low, -high)
        for _ in range(36):  # to a few 1e-9 in Y
            middle = 0.5 * (low + high)
            below = special.ndtr((middle[:, None] * sigma - margins[:, None]) / spread) @ wu
            low, high = np.where(below < wanted, middle, low), np.where(below < wanted, high, middle)
        shares.append(special.ndtr(-middle))
    return shares[0], shares[1]


def chance_limits(margin: float, sd: float, n: int, level: float, common: float = 0.0) -> tuple[float, float]:
    """`share_limits` of one margin [-]."""
    low, high = share_limits(np.array([margin]), sd, n, level, common)
    return float(low[0]), float(high[0])


@lru_cache(maxsize=256)
def largest_factor(n: int, m: int, level: float) -> float:
    """Factor k so that x̄ + k s is above the largest of the next m shots.

    Parameters
    ----------
    n : int [-]
        Shots in the sample.
    m : int [-]
        Shots still to fire.
    level : float [-]
        Confidence.

    Returns
    -------
    float
        Factor on the SD [-].

    Notes
    -----
    Exact; the sum of m single limits (Bonferroni) would be a little too cautious.

    References
    ----------
    Hahn & Meeker 1991, section 4.8.

    Examples
    --------
    >>> round(largest_factor(10, 5, 0.95), 6)
    2.886778
    """
    return solve(lambda k: 1.0 - level - chance_any(k, 1.0, n, m), -20.0, 5e3)


def aim_margin(sd: float, n: int, m: int, confidence: float, common: float = 0.0) -> float:
    """How far below the cap the mean must be so that a string of m stays under with a confidence.

    Parameters
    ----------
    sd : float [m/s]
        As `chance_any`.
    n, m : int [-]
        Shots in the sample, shots still to fire.
    confidence : float [-]
        Wanted chance that all m stay under.
    common : float [m/s]
        As `chance_any`.

    Returns
    -------
    float
        Cap minus mean [m/s].

    References
    ----------
    Hahn & Meeker 1991, section 4.8.
    """
    if common == 0.0:
        return sd * largest_factor(n, m, confidence)
    wide = math.hypot(sd, common)
    return solve(lambda d: 1.0 - confidence - chance_any(d, sd, n, m, common), -20.0 * wide, 5e3 * wide)
