"""What a calibration found: losses, their uncertainty, how well they fit, and what the strings leave open.

What it is for: the numbers of a `Calibration`, builds and predictions with what was learned.  What it leaves
out: how it was found (`calibrate`), and its sentences.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from blasterlab.bench.fitting import Fit
from blasterlab.bench.next_measurement import Candidate, rank, usual_candidates
from blasterlab.bench.predict import Prediction, predict
from blasterlab.bench.priors import NINE_IN_TEN, Prior
from blasterlab.bench.statistics import mean_sd, t_factor
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.parts.loss_uncertainty import LossUncertainty, loss_value
from blasterlab.units import Quantity

if TYPE_CHECKING:
    import pandas as pd

#: A correlation beyond this is a trade-off to be said aloud; a spread this share of its prior's is no news.
_TRADE, _NO_NEWS = 0.5, 0.8


@dataclass(frozen=True)
class Calibration(Spoken):
    """Losses learned from strings.

    Attributes
    ----------
    pairs : tuple of (Build, ChronoString) [-]
        What it was learned from, each string at the muzzle.
    priors : tuple of Prior [-]
        The free losses and what was known of them.
    fit : Fit [-]
        In the losses (SI), and the chronograph's reading factor last when one was given.
    learned : LossUncertainty [-]
        What a build can carry.
    predicted : tuple of float [m/s]
        What the calibrated model reads for each string.
    """

    pairs: tuple[tuple[Build, ChronoString], ...]
    priors: tuple[Prior, ...]
    fit: Fit
    learned: LossUncertainty
    predicted: tuple[float, ...]

    @property
    def names(self) -> list[str]:
        """The free losses."""
        return [prior.name for prior in self.priors]

    def _by_name(self, values: Sequence[float] | np.ndarray) -> dict[str, Quantity | float]:
        return {name: loss_value(name, value) for name, value in zip(self.names, values, strict=False)}

    @property
    def losses(self) -> dict[str, Quantity | float]:
        """Best value of each free loss [unit of the loss]."""
        return self._by_name(self.fit.values)

    @property
    def uncertainty(self) -> dict[str, Quantity | float]:
        """Standard uncertainty of each free loss [unit of the loss]."""
        return self._by_name(self.fit.sd)

    def intervals(self, level: float = 0.9) -> dict[str, tuple[Quantity | float, Quantity | float]]:
        """Where each free loss lies.

        Parameters
        ----------
        level : float [-]
            Confidence.

        Returns
        -------
        dict of str to tuple
            Lower and upper limit [unit of the loss].
        """
        half = t_factor(level, 10**6) * self.fit.sd
        low = self._by_name(np.maximum(self.fit.values - half, 0.0))
        high = self._by_name(self.fit.values + half)
        return {name: (low[name], high[name]) for name in self.names}

    @property
    def left(self) -> np.ndarray:
        """Standard uncertainty of each free loss over that of its range before, shape (losses,) [-]."""
        return self.fit.sd[: len(self.priors)] / np.array([prior.sd for prior in self.priors])

    @property
    def correlation(self) -> pd.DataFrame:
        """Between the losses, and the chronograph's error when one was given."""
        import pandas as pd

        names = self.learned.names
        return pd.DataFrame(self.fit.correlation, index=names, columns=names)

    @property
    def residuals(self) -> pd.DataFrame:
        """Each string: measured and predicted mean in m/s, and the difference in standard uncertainties."""
        import pandas as pd

        return pd.DataFrame(
            {
                "string": [string.title or build.title for build, string in self.pairs],
                "shots": [string.count for _, string in self.pairs],
                "measured_m_per_s": [mean_sd(string.speeds_si)[0] for _, string in self.pairs],
                "predicted_m_per_s": self.predicted,
                "in_standard_uncertainties": self.fit.residuals,
            }
        )

    @property
    def table(self) -> pd.DataFrame:
        """Each free loss in SI: range before, best value and 90 % limits after, and the width left."""
        import pandas as pd

        count = len(self.priors)
        best, half = self.fit.values[:count], NINE_IN_TEN * self.fit.sd[:count]
        before = np.array([prior.si for prior in self.priors])
        return pd.DataFrame(
            {
                "loss": self.names,
                "before_low": before[:, 0],
                "before_high": before[:, 1],
                "best": best,
                "low": np.maximum(best - half, 0.0),
                "high": best + half,
                "left": self.left,
            }
        )

    @property
    def no_news(self) -> list[str]:
        """Losses that the strings say hardly anything about."""
        return [name for name, left in zip(self.names, self.left, strict=True) if left > _NO_NEWS]

    @property
    def trade_offs(self) -> list[tuple[str, str, float]]:
        """Pairs of losses of which the strings fix only a mix, with their correlation [-]."""
        names, r = self.names, self.fit.correlation
        pairs = [(j, i) for i in range(len(names)) for j in range(i)]
        return [(names[j], names[i], float(r[i, j])) for j, i in pairs if abs(r[i, j]) > _TRADE]

    @property
    def fixed(self) -> int:
        """How many combinations of the free losses keep less than half of their variance."""
        before = np.array([prior.sd for prior in self.priors])
        count = len(before)
        left = self.fit.covariance[:count, :count] / np.outer(before, before)
        return int(np.sum(np.linalg.eigvalsh(left) < 0.5))

    @property
    def at_end(self) -> list[str]:
        """Losses, or the chronograph, whose best value is an end of what is possible."""
        return [name for name, at in zip(self.learned.names, self.fit.at_bound, strict=True) if at]

    @property
    def mixed_darts(self) -> bool:
        """Whether losses of the dart are taken as common to different darts or bores."""
        kinds = {(build.dart, build.barrel.bore) for build, _ in self.pairs}
        return len(kinds) > 1 and any(name.startswith(("dart_", "blowby_area")) for name in self.names)

    def build(self, build: Build) -> Build:
        """A build with the learned losses.

        Parameters
        ----------
        build : Build [-]
            Any build with the same dart and seals.

        Returns
        -------
        Build
            The same with the losses replaced, carrying what they were learned from, also in its text.
        """
        changed = build.replace({f"losses.{name}": value for name, value in self.losses.items()})
        return dataclasses.replace(changed, calibration=self.learned)

    def predict(self, build: Build, level: float = 0.9) -> Prediction:
        """What a build not yet shot will read, with an interval.

        Parameters
        ----------
        build : Build [-]
            Its free losses are replaced by the learned ones.
        level : float [-]
            Confidence.

        Returns
        -------
        Prediction
            Speeds as the same chronograph would read them [m/s].

        Raises
        ------
        CalibrationError
            When the dart would never leave.
        ValueError
            A level outside its range.
        """
        return predict(self.build(build), self.learned, level)

    def measure_next(
        self, build: Build, candidates: Sequence[Candidate] | None = None, shots: int = 10
    ) -> pd.DataFrame:
        """Which experiment would narrow the prediction of a build most.

        Parameters
        ----------
        build : Build [-]
            The build to be predicted.
        candidates : sequence of Candidate or None [-]
            Experiments on the build that was shot first; None takes the usual ones.
        shots : int [-]
            Shots in each string still to fire.

        Returns
        -------
        DataFrame
            Experiments, the best first; standard uncertainty of the predicted mean in m/s before and after.

        Raises
        ------
        CalibrationError
            No candidate that can be done, or a dart that would never leave.
        """
        first = self.pairs[0][0]
        experiments = usual_candidates(first) if candidates is None else candidates
        return rank(experiments, first, build, self.priors, self.fit.values, self.learned, shots)
