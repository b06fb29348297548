"""Losses learned from chronograph strings, and what the strings cannot tell.

What it is for: friction, leaks and the port from one or more (build, string) pairs, with the uncertainty
they keep; predictions for builds not yet shot; what to measure next.  What it leaves out: the model's own
shortcomings: a learned loss makes up for them where it was learned, not far from there.

References
----------
A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., 2013, section 4.1 (normal approximation at the mode).
G. A. F. Seber, C. J. Wild, *Nonlinear Regression*, 1989, section 2.1.
"""

from __future__ import annotations

import dataclasses
import html
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.bench.fitting import Fit, fit
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.loss_model import LossModel
from blasterlab.bench.predict import Prediction, predict
from blasterlab.bench.priors import CalibrationError, Prior, priors_for
from blasterlab.bench.statistics import mean_sd, t_factor
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty
from blasterlab.parts.losses import FIELDS

if TYPE_CHECKING:
    import pandas as pd

    from blasterlab.bench.next_measurement import Candidate

#: From one assembly to the next the mean moves by this share: common practice, no source.
SETUP = 0.005
#: A correlation beyond this is a trade-off to be said aloud; a spread this share of its prior's is no news.
_TRADE, _NO_NEWS = 0.5, 0.8


@dataclass(frozen=True)
class Calibration:
    """Losses learned from strings.

    Attributes
    ----------
    pairs : tuple of (Build, ChronoString) [-]
        What it was learned from.
    priors : tuple of Prior [-]
        The free losses and what was known of them.
    fit : Fit [-]
        In the losses (SI), and the chronograph's reading factor last when one was given.
    learned : LossUncertainty [-]
        What a build can carry.
    predicted : tuple of float [m/s]
        What the calibrated model reads for each string.
    remarks : tuple of str [-]
        What to mind.
    """

    pairs: tuple[tuple[Build, ChronoString], ...]
    priors: tuple[Prior, ...]
    fit: Fit
    learned: LossUncertainty
    predicted: tuple[float, ...]
    remarks: tuple[str, ...]

    @property
    def names(self) -> list[str]:
        """The free losses."""
        return [prior.name for prior in self.priors]

    @property
    def losses(self) -> dict[str, Any]:
        """Best value of each free loss [unit of the loss]."""
        return {name: _loss(name, value) for name, value in zip(self.names, self.fit.values, strict=False)}

    @property
    def uncertainty(self) -> dict[str, Any]:
        """Standard uncertainty of each free loss [unit of the loss]."""
        return {name: _loss(name, sd) for name, sd in zip(self.names, self.fit.sd, strict=False)}

    def intervals(self, level: float = 0.9) -> dict[str, tuple[Any, Any]]:
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
        k = t_factor(level, 10**6)
        rows = zip(self.names, self.fit.values, self.fit.sd, strict=False)
        return {name: (_loss(name, max(v - k * sd, 0.0)), _loss(name, v + k * sd)) for name, v, sd in rows}

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

        measured = [mean_sd(string.speeds_si)[0] for _, string in self.pairs]
        return pd.DataFrame(
            {
                "string": [_title(build, string) for build, string in self.pairs],
                "shots": [string.count for _, string in self.pairs],
                "measured_m_per_s": measured,
                "predicted_m_per_s": self.predicted,
                "in_standard_uncertainties": self.fit.residuals,
            }
        )

    @property
    def table(self) -> pd.DataFrame:
        """Each free loss: range before, best value and 90 % limits after, and how much narrower it is."""
        import pandas as pd

        k = t_factor(0.9, 10**6)
        rows = []
        for prior, value, sd in zip(self.priors, self.fit.values, self.fit.sd, strict=False):
            ends = (max(value - k * sd, 0.0), value, value + k * sd)
            fine = 1 + math.ceil(math.log10(max(float(value / sd), 1.0)))
            low, best, high = (_words(prior.name, float(end), max(fine, 2)) for end in ends)
            before = [_words(prior.name, end) for end in prior.si]
            rows.append(
                {
                    "loss": _plain(prior.name),
                    "before": " to ".join(before),
                    "best": best,
                    "after": f"{low} to {high}",
                    "uncertainty left": round(float(sd) / prior.sd, 3),
                }
            )
        return pd.DataFrame(rows)

    @property
    def cannot_tell(self) -> list[str]:
        """What these strings do not tell apart, in sentences."""
        words = []
        for prior, sd in zip(self.priors, self.fit.sd, strict=False):
            if sd > _NO_NEWS * prior.sd:
                words.append(
                    f"{_plain(prior.name)}: hardly known better than before; its value is the prior's"
                )
        count = len(self.names)
        for i in range(count):
            for j in range(i):
                r = self.fit.correlation[i, j]
                if abs(r) > _TRADE:
                    pair = f"{_plain(self.names[j])} and {_plain(self.names[i])}"
                    words.append(f"{pair} trade off (correlation {r:+.2f}): the strings fix a mix of both")
        known = sum(value < 0.5 for value in self._shares())
        words.append(
            f"{len(self.pairs)} string(s) fix {known} of {count} combinations of the free losses; "
            "the others rest on their ranges"
        )
        return words

    def _shares(self) -> list[float]:
        """Variance left over variance before, along the combinations that the data treat apart."""
        count = len(self.priors)
        before = np.array([prior.sd for prior in self.priors])
        left = self.fit.covariance[:count, :count] / np.outer(before, before)
        return [float(v) for v in np.linalg.eigvalsh(left)]

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
            Experiments; None takes the usual ones.
        shots : int [-]
            Shots in each string to come.

        Returns
        -------
        DataFrame
            Experiments, the best first; standard uncertainty of the predicted mean in m/s after each.

        Raises
        ------
        CalibrationError
            No candidate that can be, or a dart that would never leave.
        """
        from blasterlab.bench.next_measurement import measure_next

        return measure_next(self, build, candidates, shots)

    def __str__(self) -> str:
        lines = [f"losses learned from {len(self.pairs)} string(s), {self.learned.shots} shots"]
        for row in self.table.to_dict("records"):
            lines.append(
                f"  {row['loss']}: {row['best']} ({row['after']}; before {row['before']}; "
                f"uncertainty left {100 * row['uncertainty left']:.0f} %)"
            )
        for row in self.residuals.to_dict("records"):
            measured, model = (
                units.show(row[f"{key}_m_per_s"], "speed") for key in ("measured", "predicted")
            )
            lines.append(
                f"  {row['string']}: measured {measured}, calibrated model {model} "
                f"({row['in_standard_uncertainties']:+.1f} standard uncertainties)"
            )
        return "\n".join([*lines, *self.cannot_tell, *self.remarks])

    def _repr_html_(self) -> str:
        return "<br>".join(html.escape(line) for line in str(self).split("\n"))


def calibrate(
    pairs: Sequence[tuple[Build, ChronoString]],
    free: Sequence[str] | Mapping[str, Any] | None = None,
    *,
    chronograph: Chronograph | None = None,
    setup: float = SETUP,
) -> Calibration:
    """Learn losses from strings: bounded least squares on the means, with a prior for each free loss.

    min Σ ((v̄_i − c v_i(θ))/u_i)² + Σ ((θ_j − μ_j)/τ_j)² + ((c − 1)/u_c)², u_i² = v̄_i² (cv²/n_i + setup²)

    Parameters
    ----------
    pairs : sequence of (Build, ChronoString) [-]
        Builds and what they shot; they share the free losses. A string shot at a distance is carried back
        with its build's dart.
    free : sequence of str, mapping or None [-]
        Losses to learn: names (ranges from `priors.PRIORS`), or a mapping to (low, high) that holds nine
        cases in ten; None takes all of `priors.PRIORS`. Any other loss stays as the build has it.
    chronograph : Chronograph or None [-]
        Its common error becomes one more unknown.
    setup : float [-]
        Relative SD from one assembly to the next.

    Returns
    -------
    Calibration
        Losses, uncertainty, correlation, predictions.

    Raises
    ------
    CalibrationError
        No pairs, things that are no pair, unknown losses, or a dart that does not leave with usual losses.

    Notes
    -----
    Losses stay at zero or above; their spread is the normal approximation at the best values. The shots'
    relative SD is pooled over the strings. Odd shots are in.

    References
    ----------
    Gelman et al. 2013, section 4.1; Seber & Wild 1989, section 2.1.
    """
    taken = _taken(pairs)
    priors = priors_for(free)
    if not 0.0 <= setup <= 0.2:
        raise CalibrationError(f"setup: read {setup!r}; allowed is 0 to 0.2 (0.005 is half a percent)")
    stats = [(*mean_sd(string.speeds_si), string.count) for _, string in taken]
    dof = sum(n - 1 for _, _, n in stats)
    spread = math.sqrt(sum((n - 1) * (sd / mean) ** 2 for mean, sd, n in stats) / dof)
    measured = np.array([mean for mean, _, _ in stats])
    error = measured * np.sqrt(np.array([spread**2 / n + setup**2 for _, _, n in stats]))
    relative = chronograph.relative if chronograph else 0.0
    count = len(priors)
    center = np.array([prior.mean for prior in priors] + ([1.0] if relative else []))
    wide = np.array([prior.sd for prior in priors] + ([relative] if relative else []))
    bottom = np.array([FIELDS[prior.name].low for prior in priors] + ([0.5] if relative else []))
    top = np.array([FIELDS[prior.name].high for prior in priors] + ([2.0] if relative else []))
    names = [prior.name for prior in priors] + ([CHRONOGRAPH] if relative else [])
    model = LossModel([build for build, _ in taken], names[:count], wide[:count])
    start = model.linear(center[:count])[0]
    if np.any(start <= 0.0):
        title = taken[int(np.argmin(start))][0].title
        raise CalibrationError(f"{title}: with usual losses the dart never leaves; is the build right?")

    def factor(x: np.ndarray) -> float:
        return float(x[count]) if relative else 1.0

    at_hand: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

    def linear(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Speeds and slopes in one run, kept for the second of two calls at one place."""
        key = x[:count].tobytes()
        if key not in at_hand:
            at_hand.clear()
            at_hand[key] = model.linear(x[:count])
        return at_hand[key]

    def residuals(x: np.ndarray) -> np.ndarray:
        return (factor(x) * linear(x)[0] - measured) / error

    def slopes(x: np.ndarray) -> np.ndarray:
        speeds, slope = linear(x)
        columns = factor(x) * slope / error[:, None]
        return np.column_stack([columns, speeds / error]) if relative else columns

    result = fit(
        residuals,
        center,
        low=bottom,
        high=top,
        prior_mean=center,
        prior_sd=wide,
        known_sd=True,
        jacobian=slopes,
        within=1e-7,
    )
    learned = LossUncertainty(
        names=tuple(names),
        sd=tuple(_loss(name, float(f"{v:.5g}")) for name, v in zip(names, result.sd, strict=True)),
        correlation=tuple(tuple(round(float(v), 6) for v in row) for row in result.correlation),
        shot_spread=float(f"{spread:.5g}"),
        spread_dof=dof,
        setup=float(setup),
        reads=round(factor(result.values), 6),
        strings=len(taken),
        shots=sum(n for _, _, n in stats),
    )
    predicted = measured + result.residuals * error
    return Calibration(
        pairs=taken,
        priors=tuple(priors),
        fit=result,
        learned=learned,
        predicted=tuple(float(v) for v in predicted),
        remarks=tuple(_remarks(taken, result, names)),
    )


def _taken(pairs: Any) -> tuple[tuple[Build, ChronoString], ...]:
    """The pairs, checked, each string at the muzzle."""
    found = []
    try:
        items = [(build, string) for build, string in pairs]
    except (TypeError, ValueError):
        raise CalibrationError("pairs: a list of (build, string) is wanted") from None
    for place, (build, string) in enumerate(items, start=1):
        if not isinstance(build, Build) or not isinstance(string, ChronoString):
            got = f"({type(build).__name__}, {type(string).__name__})"
            raise CalibrationError(f"pair {place}: read {got}; (Build, ChronoString) is wanted")
        found.append((build, string if string.at_muzzle else string.of_build(build)))
    if not found:
        raise CalibrationError("pairs: none given; at least one (build, string) is wanted")
    return tuple(found)


def _remarks(pairs: tuple[tuple[Build, ChronoString], ...], result: Fit, names: list[str]) -> list[str]:
    words = []
    for build, string in pairs:
        if string.odd_shots():
            words.append(f"{_title(build, string)}: {string.odd_shots()}")
    darts = {(build.dart, build.barrel.bore) for build, _ in pairs}
    if len(darts) > 1 and any(name.startswith(("dart_", "blowby_area")) for name in names):
        words.append("different darts or barrel bores are taken to share one friction and one gap")
    edges = [_plain(name) for name, at in zip(names, result.at_bound, strict=True) if at]
    if edges:
        words.append(f"at the end of its range: {', '.join(edges)}; look at the build's numbers")
    worst = float(np.max(np.abs(result.residuals)))
    if worst > 3.0:
        words.append(
            f"a string is {worst:.1f} standard uncertainties from the calibrated model: a measure of that "
            "build, its spring's rate or the string is wrong, or the model lacks something there"
        )
    return words


def _loss(name: str, value: float) -> Any:
    """A loss in its usual unit; a number where it has none."""
    kind = units.KINDS[FIELDS[name].kind if name in FIELDS else "number"]
    if kind.name == "number":
        return float(f"{value:.6g}")
    shown = units.quantity(float(value), kind.si).to(kind.metric)
    return units.quantity(float(f"{shown.m:.6g}"), kind.metric)  # fit to stand in a build text


def _title(build: Build, string: ChronoString) -> str:
    return string.title or build.title


def _words(name: str, value: float, digits: int = 3) -> str:
    kind = FIELDS[name].kind
    return f"{value:.{digits}g}" if kind == "number" else units.show(value, kind, digits)


def _plain(name: str) -> str:
    return name.replace("_", " ")
