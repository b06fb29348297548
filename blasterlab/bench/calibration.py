"""What a calibration found: losses, their uncertainty, how well they fit, and what the strings leave open.

What it is for: the numbers of a `Calibration`, builds and predictions with what was learned.  What it leaves
out: how it was found (`calibrate`), and its sentences.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab.bench.next_measurement import Candidate, rank, usual_candidates
from blasterlab.bench.predict import Prediction, predict
from blasterlab.bench.statistics import mean_sd
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.parts.loss_uncertainty import LossUncertainty, loss_value
from blasterlab.parts.priors import Prior
from blasterlab.tables import pd
from blasterlab.units import Quantity

#: A correlation beyond this is a trade-off to be said aloud; a spread this share of its prior's is no news.
_TRADE, _NO_NEWS = 0.5, 0.8
_FAR = 2.5  # standard deviations: 1 in 80 by chance


@dataclass(frozen=True, eq=False)
class Calibration(Spoken):
    """Losses learned from strings.

    Attributes
    ----------
    pairs : tuple of (Build, ChronoString) [-]
        What it was learned from, each string at the muzzle.
    priors : tuple of Prior [-]
        The free losses and what was known of them.
    learned : LossUncertainty [-]
        What a build can carry.
    values : ndarray, shape (unknowns,) [SI]
        Best values of the free losses, and last the chronograph's reading factor when its error was given.
    scores : ndarray, shape (unknowns,) [-]
        How far they lie from the middle of what was known before, in standard deviations.
    sample : ndarray, shape (points, unknowns) [SI]
        Equally likely values.
    off : ndarray, shape (strings,) [-]
        Calibrated model less measured mean, in standard uncertainties of the mean.
    predicted : tuple of float [m/s]
        What the calibrated model reads for each string.
    alike : tuple of ndarray [SI]
        Other values that fit about as well, when there are such.
    fixed : int [-]
        How many combinations of the unknowns the strings fix to less than half of their variance.
    effective : float [-]
        How many independent points the sample is worth.
    """

    pairs: tuple[tuple[Build, ChronoString], ...]
    priors: tuple[Prior, ...]
    learned: LossUncertainty
    values: np.ndarray
    scores: np.ndarray
    sample: np.ndarray
    off: np.ndarray
    predicted: tuple[float, ...]
    alike: tuple[np.ndarray, ...]
    fixed: int
    effective: float

    @property
    def names(self) -> list[str]:
        """The free losses."""
        return [prior.name for prior in self.priors]

    def _by_name(self, values: np.ndarray) -> dict[str, Quantity | float]:
        return {name: loss_value(name, value) for name, value in zip(self.names, values, strict=False)}

    @property
    def losses(self) -> dict[str, Quantity | float]:
        """Best value of each free loss [unit of the loss]."""
        return self._by_name(self.values)

    @property
    def alternatives(self) -> list[dict[str, Quantity | float]]:
        """Other losses that fit about as well as the best, beyond a stretch that does not [unit of each]."""
        return [self._by_name(values) for values in self.alike]

    @property
    def uncertainty(self) -> dict[str, Quantity | float]:
        """Standard uncertainty of each free loss [unit of the loss]."""
        return self._by_name(self.learned.sd_si)

    @property
    def left(self) -> np.ndarray:
        """Standard uncertainty of each free loss over that of its range before, shape (losses,) [-]."""
        return self.learned.sd_si[: len(self.priors)] / np.array([prior.spread for prior in self.priors])

    @property
    def correlation(self) -> pd.DataFrame:
        """Between the losses, and the chronograph's error when one was given."""
        names = self.learned.names
        return pd.DataFrame(self.learned.correlation, index=names, columns=names)

    @property
    def residuals(self) -> pd.DataFrame:
        """Each string: measured and predicted mean in m/s, and the difference in standard uncertainties."""
        return pd.DataFrame(
            {
                "string": [string.title or build.title for build, string in self.pairs],
                "shots": [string.count for _, string in self.pairs],
                "measured_m_s": [mean_sd(string.speeds_si)[0] for _, string in self.pairs],
                "predicted_m_s": self.predicted,
                "in_standard_uncertainties": self.off,
            }
        )

    @property
    def table(self) -> pd.DataFrame:
        """Each free loss in SI: range before, best value and 90 % limits after, and the width left."""
        before = np.array([prior.si for prior in self.priors])
        low, high = np.quantile(self.sample, [0.05, 0.95], axis=0)[:, : len(before)]
        columns = {"loss": self.names, "before_low": before[:, 0], "before_high": before[:, 1]}
        columns |= {"best": self.values[: len(before)], "low": low, "high": high, "left": self.left}
        return pd.DataFrame(columns)

    @property
    def no_news(self) -> list[str]:
        """Losses that the strings say hardly anything about."""
        return [name for name, left in zip(self.names, self.left, strict=True) if left > _NO_NEWS]

    @property
    def trade_offs(self) -> list[tuple[str, str, float]]:
        """Pairs of losses of which the strings fix only a mix, with their correlation [-]."""
        names, r = self.names, self.learned.correlation
        pairs = [(j, i) for i in range(len(names)) for j in range(i)]
        return [(names[j], names[i], r[i][j]) for j, i in pairs if abs(r[i][j]) > _TRADE]

    @property
    def far_out(self) -> list[str]:
        """Losses, or the chronograph, whose best value lies far out of what was known before."""
        return [name for name, z in zip(self.learned.names, self.scores, strict=True) if abs(z) > _FAR]

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
        return rank(experiments, first, build, self.priors, self.values, self.learned, shots)
