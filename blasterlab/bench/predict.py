"""What a build will shoot, with an interval: before any chronograph, or after its strings.

What it is for: predictions with units, of the mean and of one shot, and what makes up their width.  What it
leaves out: the model's own error beyond the losses; a calibration on near relatives keeps it small.

References
----------
JCGM 101:2008, *Propagation of distributions using a Monte Carlo method*.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import log_ndtr, ndtr, stdtrit

from blasterlab import units
from blasterlab.bench.cap_risk import Caps, speed_cap
from blasterlab.bench.loss_model import CalibrationError
from blasterlab.bench.statistics import check_level, scale_nodes, shots_to_fire
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty
from blasterlab.shot.speed_range import Ranges, speeds_of, unknowns
from blasterlab.units import Quantity, QuantityLike

#: Relative SD of one shot, and the freedom of that guess, before any string: common practice, no source.
SHOT_SPREAD, SPREAD_DOF = 0.02, 8


@dataclass(frozen=True)
class Prediction(Spoken):
    """What a build is expected to read over a chronograph.

    Attributes
    ----------
    title : str [-]
        The build's.
    level : float [-]
        Confidence of every interval.
    source : str [-]
        ``"prior"``: before any chronograph; ``"strings"``: as the chronograph of its strings reads.
    shares : dict of str to float [-]
        By name, the part of the mean's variance that would go if this one were known.
    assumed : tuple of str [-]
        The build's values that nobody measured.
    speed : Quantity [m/s]
        The model's mean at the build's own losses.
    mean_low, mean_high : Quantity [m/s]
        Where a long string's mean lies.
    next_low, next_high : Quantity [m/s]
        Where one shot lies.
    from_losses, from_setup, from_chronograph, from_shots : Quantity [m/s]
        Standard uncertainties that make it up, the last for one shot; before any chronograph the first holds
        the springs' too.
    """

    title: str
    level: float
    source: str
    shares: dict[str, float]
    assumed: tuple[str, ...]
    speed: Quantity
    mean_low: Quantity
    mean_high: Quantity
    next_low: Quantity
    next_high: Quantity
    from_losses: Quantity
    from_setup: Quantity
    from_chronograph: Quantity
    from_shots: Quantity


def predict(
    build: Build,
    learned: LossUncertainty | None = None,
    level: float = 0.9,
    *,
    ranges: Ranges | None = None,
    callipers: QuantityLike | None = None,
) -> Prediction:
    """What a build will shoot, with an interval.

    Parameters
    ----------
    build : Build [-]
        Its losses are the most probable ones.
    learned : LossUncertainty or None [-]
        What strings told of them; None takes what the build carries, and where it carries nothing, usual
        ranges of losses and the tolerances of springs.
    level : float [-]
        Confidence.
    ranges : mapping of str to (low, high), or None [-]
        Before any chronograph: ranges that you know better, such as ``{"seal_friction": ("1 N", "2 N")}``.
    callipers : Quantity or str or None [length]
        Before any chronograph: half width of your measures of wire and coil.

    Returns
    -------
    Prediction
        Speeds, as the same chronograph would read them where strings are known [m/s].

    Raises
    ------
    CalibrationError
        A dart that never leaves, whatever its losses within their ranges.
    UnitError
        A range that does not hold the build's own value, or is none; callipers that cannot be.
    ValueError
        A level outside its range.

    References
    ----------
    JCGM 101:2008.

    Examples
    --------
    >>> import blasterlab as bl
    >>> guess = bl.predict(bl.demo_build("workhorse"))
    >>> guess.source, bool(guess.mean_low < guess.speed < guess.mean_high)
    ('prior', True)
    """
    check_level(level)
    learned = learned or build.calibration
    asked = unknowns(build, ranges, callipers, learned)
    speeds = speeds_of(asked, build.si)[:, 0]
    if not np.any(speeds > 0.0):
        raise CalibrationError(f"{build.title}: with these losses the dart never leaves")
    mean, (crowd, scores) = asked.range(speeds, level), asked.crowd(speeds)
    shots = crowd * shot_factors(scores, learned)
    ends = np.quantile(shots, [0.5 - 0.5 * level, 0.5 + 0.5 * level], method="hazen")
    chronograph = 0.0
    if learned and CHRONOGRAPH in learned.names:
        chronograph = speeds[0] * learned.sd_si[learned.names.index(CHRONOGRAPH)]
    found = (mean.best, mean.low, mean.high, min(ends[0], mean.low), max(ends[1], mean.high))
    parts = (asked.carried(speeds), mean.best * asked.setup, chronograph, mean.best * shot_spread(learned)[0])
    quantities = [units.quantity(max(float(v), 0.0), "m/s") for v in (*found, *parts)]
    shares = {name: float(share) for name, share in mean.shares.items()}
    return Prediction(build.title, level, asked.source, shares, build.assumed, *quantities)


def shot_spread(learned: LossUncertainty | None) -> tuple[float, int]:
    """Relative SD of one shot [-], and how many degrees of freedom it rests on."""
    return (learned.shot_spread, learned.spread_dof) if learned else (SHOT_SPREAD, SPREAD_DOF)


def chance_over(build: Build, cap: Caps, shots: int = 1) -> float:
    """The chance that any of the next shots of a build breaks a cap, before its string or after others.

    Parameters
    ----------
    build : Build [-]
        The build; after a calibration it carries what strings told.
    cap : Quantity, str, or a sequence of these [m/s or J]
        As for a string's `cap_risk`; an energy uses the build's dart.
    shots : int [-]
        Shots still to fire, 1 to 10 000.

    Returns
    -------
    float
        A chance; a dart that stays in breaks no cap [-].

    Raises
    ------
    ValueError
        A cap or shots outside their ranges.

    Notes
    -----
    The mean over all that losses, springs and the spread of a shot may be, shots taken as normal about their
    mean.  A string of this very build says more: see `ChronoString.cap_risk`.

    Examples
    --------
    >>> import blasterlab as bl
    >>> build = bl.demo_build("workhorse")
    >>> chance_over(build, "60 m/s") < chance_over(build, "60 m/s", 10) < chance_over(build, "50 m/s", 10)
    True
    """
    limit, many = speed_cap(cap, build.dart.mass).speed, shots_to_fire(shots)
    asked = unknowns(build)
    means = asked.crowd(speeds_of(asked, build.si)[:, 0])[0]
    spread, dof = shot_spread(build.calibration)
    scale, weights = scale_nodes(dof)
    margins = (limit / np.maximum(means, 1e-9) - 1.0) / spread
    return float(np.mean(-np.expm1(many * log_ndtr(np.outer(margins, scale))) @ weights))


def shot_factors(scores: np.ndarray, learned: LossUncertainty | None) -> np.ndarray:
    """What one shot does beside its string's mean, in each case of a crowd of `Unknowns.crowd` scores [-]."""
    spread, dof = shot_spread(learned)
    return np.asarray(1.0 + spread * stdtrit(dof, ndtr(scores[:, -1])))
