"""Losses learned from chronograph strings, with the uncertainty that they keep.

What it is for: friction, leaks and the port from one or more (build, string) pairs.  What it leaves out: the
model's own shortcomings: a learned loss makes up for them where it was learned, not far from there.

References
----------
A. Gelman et al., *Bayesian Data Analysis*, 3rd ed., 2013, section 4.1 (normal approximation at the mode).
G. A. F. Seber, C. J. Wild, *Nonlinear Regression*, 1989, section 2.1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab.bench.calibration import Calibration
from blasterlab.bench.fitting import Fit, fit
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.loss_model import LossModel
from blasterlab.bench.priors import CalibrationError, Prior, priors_for
from blasterlab.bench.statistics import mean_sd
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty, loss_value
from blasterlab.parts.losses import FIELDS
from blasterlab.units import QuantityLike

#: From one assembly to the next the mean moves by this share: common practice, no source.
SETUP = 0.005
Pairs = Sequence[tuple[Build, ChronoString]]
Free = Sequence[str] | Mapping[str, Prior | tuple[QuantityLike, QuantityLike]] | None


def calibrate(
    pairs: Pairs, free: Free = None, *, chronograph: Chronograph | None = None, setup: float = SETUP
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
    taken, priors = _taken(pairs), priors_for(free)
    if not 0.0 <= setup <= 0.2:
        raise CalibrationError(f"setup: got {setup!r}; must be 0 to 0.2 (0.005 is half a percent)")
    told = _Told.of(taken, setup)
    relative = chronograph.relative if chronograph else 0.0
    names = tuple(prior.name for prior in priors) + ((CHRONOGRAPH,) if relative else ())
    found = _least_squares(taken, names, priors, told, relative)
    learned = LossUncertainty(
        names=names,
        sd=tuple(loss_value(name, float(f"{v:.5g}")) for name, v in zip(names, found.sd, strict=True)),
        correlation=tuple(tuple(round(float(v), 6) for v in row) for row in found.correlation),
        shot_spread=float(f"{told.spread:.5g}"),
        spread_dof=told.dof,
        setup=float(setup),
        reads=round(float(found.values[-1]), 6) if relative else 1.0,
        strings=len(taken),
        shots=told.dof + len(taken),
    )
    predicted = tuple((told.means + found.residuals * told.errors).tolist())
    return Calibration(taken, tuple(priors), found, learned, predicted)


@dataclass(frozen=True)
class _Told:
    """What the strings say: means and their standard uncertainties [m/s], and the shots' relative SD."""

    means: np.ndarray
    errors: np.ndarray
    spread: float
    dof: int

    @classmethod
    def of(cls, pairs: Pairs, setup: float) -> _Told:
        counts = np.array([string.count for _, string in pairs])
        means, sds = np.array([mean_sd(string.speeds_si) for _, string in pairs]).T
        dof = int(np.sum(counts - 1))
        spread = math.sqrt(np.sum((counts - 1) * (sds / means) ** 2) / dof)
        return cls(means, means * np.sqrt(spread**2 / counts + setup**2), spread, dof)


def _least_squares(
    pairs: Pairs, names: Sequence[str], priors: Sequence[Prior], told: _Told, relative: float
) -> Fit:
    """The best losses, SI, and last the chronograph's factor where its relative uncertainty is not zero."""
    known = [(prior.mean, prior.sd, FIELDS[prior.name].low, FIELDS[prior.name].high) for prior in priors]
    center, wide, bottom, top = np.array(known + [(1.0, relative, 0.5, 2.0)] * (relative > 0.0)).T
    model = LossModel([build for build, _ in pairs], names, wide)
    start = model.readings(center[None])[0]
    if np.any(start <= 0.0):
        title = pairs[int(np.argmin(start))][0].title
        raise CalibrationError(f"{title}: with usual losses the dart never leaves; is the build right?")
    return fit(
        lambda x: (model.readings(x[None])[0] - told.means) / told.errors,
        center,
        low=bottom,
        high=top,
        prior_mean=center,
        prior_sd=wide,
        known_sd=True,
        jacobian=lambda x: model.linear(x)[1] / told.errors[:, None],
        within=1e-7,
    )


def _taken(pairs: Pairs) -> tuple[tuple[Build, ChronoString], ...]:
    """The pairs, checked, each string at the muzzle."""
    try:
        items = [(build, string) for build, string in pairs]
    except (TypeError, ValueError):
        raise CalibrationError("pairs: expected a list of (build, string)") from None
    if not items:
        raise CalibrationError("pairs: none given; at least one (build, string) is needed")
    for place, (build, string) in enumerate(items, start=1):
        if not isinstance(build, Build) or not isinstance(string, ChronoString):
            got = f"({type(build).__name__}, {type(string).__name__})"
            raise CalibrationError(f"pair {place}: got {got}; must be (Build, ChronoString)")
    return tuple((build, string if string.at_muzzle else string.of_build(build)) for build, string in items)
