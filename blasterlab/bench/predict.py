"""What a build will shoot, with an interval: from the losses' uncertainty, the setup, the shots' spread.

What it is for: predictions from a calibration, or from a build that carries what has been learned.  What it
leaves out: the model's own error beyond the losses; a calibration on near relatives keeps it small.

References
----------
G. A. F. Seber, C. J. Wild, *Nonlinear Regression*, 1989, section 5.1 (linearised prediction intervals).
"""

from __future__ import annotations

import html
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.bench.loss_model import LossModel
from blasterlab.bench.priors import CalibrationError
from blasterlab.bench.statistics import check_level, t_factor
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty

if TYPE_CHECKING:
    from blasterlab.build import Build


@dataclass(frozen=True)
class Prediction:
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
    speed: Any
    mean_low: Any
    mean_high: Any
    next_low: Any
    next_high: Any
    from_losses: Any
    from_setup: Any
    from_chronograph: Any
    from_shots: Any

    def __str__(self) -> str:
        v = lambda q, digits=4: units.show(q, "speed", digits)  # noqa: E731
        sure = f"{100 * self.level:.4g} %"
        return (
            f"{self.title}: {v(self.speed)}; mean {v(self.mean_low, 3)} to {v(self.mean_high, 3)}, "
            f"one shot {v(self.next_low, 3)} to {v(self.next_high, 3)} ({sure})\n"
            f"standard uncertainties: losses {v(self.from_losses, 2)}, setup {v(self.from_setup, 2)}, "
            f"chronograph {v(self.from_chronograph, 2)}, one shot {v(self.from_shots, 2)}"
        )

    def _repr_html_(self) -> str:
        return "<br>".join(html.escape(line) for line in str(self).split("\n"))


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
    learned = learned if learned is not None else getattr(build, "calibration", None)
    if learned is None:
        raise CalibrationError(f"{build.title}: carries no calibration; calibrate first")
    names = [name for name in learned.names if name != CHRONOGRAPH]
    now = np.array([build.si[f"losses.{name}"] for name in names])
    speed, slope = LossModel([build], names, learned.sd_si[: len(names)]).linear(now)
    if speed[0] <= 0.0:
        raise CalibrationError(f"{build.title}: with these losses the dart never leaves")
    gradient = np.zeros(len(learned.names))
    gradient[: len(names)] = slope[0] * learned.reads
    mean = float(speed[0]) * learned.reads
    covariance = learned.covariance
    own = gradient @ covariance @ gradient
    chronograph = 0.0
    if CHRONOGRAPH in learned.names:
        at = learned.names.index(CHRONOGRAPH)
        chronograph = float(speed[0]) * learned.sd_si[at]
        gradient[at] = float(speed[0])
    known = gradient @ covariance @ gradient + (mean * learned.setup) ** 2
    one = mean * learned.shot_spread
    wide = t_factor(level, 10**6) * math.sqrt(known)
    total = known + one**2
    dof = max(learned.spread_dof * (total / one**2) ** 2, 1.0) if one > 0.0 else 1e6
    half = t_factor(level, dof) * math.sqrt(total)
    q = lambda value: units.quantity(float(value), "m/s")  # noqa: E731
    return Prediction(
        title=build.title,
        level=level,
        speed=q(mean),
        mean_low=q(max(mean - wide, 0.0)),
        mean_high=q(mean + wide),
        next_low=q(max(mean - half, 0.0)),
        next_high=q(mean + half),
        from_losses=q(math.sqrt(own)),
        from_setup=q(mean * learned.setup),
        from_chronograph=q(chronograph),
        from_shots=q(one),
    )
