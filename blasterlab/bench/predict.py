"""What a build will shoot, with an interval: from the losses' uncertainty, the setup, the shots' spread.

What it is for: predictions from a calibration, or from a build that carries what has been learned.  What it
leaves out: the model's own error beyond the losses; a calibration on near relatives keeps it small.

References
----------
G. A. F. Seber, C. J. Wild, *Nonlinear Regression*, 1989, section 5.1 (linearised prediction intervals).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.bench.loss_model import LossModel
from blasterlab.bench.priors import CalibrationError
from blasterlab.bench.statistics import check_level, t_factor
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty
from blasterlab.units import Quantity


@dataclass(frozen=True)
class Prediction(Spoken):
    """What a build is expected to read over the same chronograph.

    Attributes
    ----------
    title : str [-]
        The build's.
    level : float [-]
        Confidence of every interval.
    speed : Quantity [m/s]
        Expected mean.
    mean_low, mean_high : Quantity [m/s]
        Where a long string's mean lies.
    next_low, next_high : Quantity [m/s]
        Where one shot lies.
    from_losses, from_setup, from_chronograph, from_shots : Quantity [m/s]
        Standard uncertainties that make it up, the last for one shot.
    """

    title: str
    level: float
    speed: Quantity
    mean_low: Quantity
    mean_high: Quantity
    next_low: Quantity
    next_high: Quantity
    from_losses: Quantity
    from_setup: Quantity
    from_chronograph: Quantity
    from_shots: Quantity


def predict(build: Build, learned: LossUncertainty | None = None, level: float = 0.9) -> Prediction:
    """What a build with learned losses will shoot, with an interval.

    Parameters
    ----------
    build : Build [-]
        Its losses are the learned values.
    learned : LossUncertainty or None [-]
        Their uncertainty; None takes what the build carries.
    level : float [-]
        Confidence.

    Returns
    -------
    Prediction
        Speeds as the same chronograph would read them [m/s].

    Raises
    ------
    CalibrationError
        A build that carries nothing learned, or a dart that never leaves.
    ValueError
        A level outside its range.

    Notes
    -----
    Linear in the losses; the chronograph's common error and the losses are kept together.

    References
    ----------
    Seber & Wild 1989, section 5.1.
    """
    check_level(level)
    learned = learned or build.calibration
    if learned is None:
        raise CalibrationError(f"{build.title}: carries no calibration; calibrate first")
    now, covariance = learned.at(build.si), learned.covariance
    readings, slopes = LossModel([build], learned.names, learned.sd_si).linear(now)
    mean, slope = float(readings[0]), slopes[0]
    if mean <= 0.0:
        raise CalibrationError(f"{build.title}: with these losses the dart never leaves")
    losses = np.array([name != CHRONOGRAPH for name in learned.names])
    own, shared = slope * losses, slope * ~losses
    known = slope @ covariance @ slope + (mean * learned.setup) ** 2
    one = mean * learned.shot_spread
    total = known + one**2
    dof = max(learned.spread_dof * (total / one**2) ** 2, 1.0) if one > 0.0 else 1e6
    wide = t_factor(level, 10**6) * math.sqrt(known)
    half = t_factor(level, dof) * math.sqrt(total)
    of_losses, of_chronograph = (math.sqrt(v @ covariance @ v) for v in (own, shared))
    ends = (max(mean + way, 0.0) for way in (-wide, wide, -half, half))
    speeds = (mean, *ends, of_losses, mean * learned.setup, of_chronograph, one)
    return Prediction(build.title, level, *(units.quantity(float(v), "m/s") for v in speeds))
