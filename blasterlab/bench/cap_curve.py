"""Cap risk against the mean: how much slower is enough.

What it is for: the curve behind the picture and the panel.  What it leaves out: any change of the spread
with the mean.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from blasterlab.bench.cap_chance import chances, share_limits
from blasterlab.bench.cap_risk import CapRisk, Caps, cap_risk
from blasterlab.bench.instrument import Chronograph, shared_error
from blasterlab.bench.statistics import mean_sd
from blasterlab.bench.string_data import StringData

POINTS = 25


@dataclass(frozen=True)
class CapCurve:
    """Chance that any of m shots breaks the cap, against the mean of the string.

    Attributes
    ----------
    risk : CapRisk [-]
        Of the string as it is.
    means : ndarray [m/s]
        Shape (25,).
    chance : ndarray [-]
        With the same spread at each mean, shape (25,).
    low, high : ndarray [-]
        Limits of the true share of strings that break the cap, widened where needed to hold `chance` as in
        `cap_risk`, shape (25,).
    """

    risk: CapRisk
    means: np.ndarray
    chance: np.ndarray
    low: np.ndarray
    high: np.ndarray


def cap_curve(
    string: StringData, cap: Caps, shots: int = 1, *, chronograph: Chronograph | None = None, **levels: float
) -> CapCurve:
    """The chance of breaking a cap if the same string were slower or faster.

    Parameters
    ----------
    string : ChronoString [m/s]
        The shots.
    cap : Quantity, str, or a sequence of these [m/s or J]
        As in `cap_risk`.
    shots : int [-]
        Shots still to fire.
    chronograph : Chronograph or None [-]
        As in `cap_risk`.
    **levels : float [-]
        `level` and `confidence` as in `cap_risk`.

    Returns
    -------
    CapCurve
        The risk now, and against the mean [m/s], [-].
    """
    risk = cap_risk(string, cap, shots, chronograph=chronograph, **levels)
    limit = risk.cap.m_as("m/s")
    mean, sd = mean_sd(string.speeds_si)
    common = shared_error(chronograph, limit, string.extreme_spread.m_as("m/s"))
    n, m = string.count, risk.shots
    aim = limit - 6.0 * sd if risk.aim_mean is None else risk.aim_mean.m_as("m/s")
    low = min(mean, aim, limit - 3.0 * sd) - 0.5 * sd
    means = np.linspace(low, max(mean + 0.5 * sd, limit + sd), POINTS)
    chance = chances(limit - means, sd, n, m, common, fine=False)
    shares = share_limits(limit - means, sd, n, risk.level, common, fine=False)
    low_any, high_any = (-np.expm1(m * np.log1p(-np.minimum(share, 1 - 1e-16))) for share in shares)
    return CapCurve(risk, means, chance, np.minimum(low_any, chance), np.maximum(high_any, chance))
