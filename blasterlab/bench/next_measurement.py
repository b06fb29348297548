"""What to measure next: the experiment that narrows a prediction most, from the Fisher information.

What it is for: ranking of experiments before any of them is done.  What it leaves out: their cost and their
bother, which the builder knows best.

References
----------
A. C. Atkinson, A. N. Donev, R. D. Tobias, *Optimum Experimental Designs, with SAS*, 2007, section 10.4
(c-optimality: least variance of one combination), linearised at the present best values.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from blasterlab.bench.loss_model import CalibrationError, LossModel
from blasterlab.build import Build, BuildError
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.parts.priors import Prior
from blasterlab.tables import pd
from blasterlab.units import QuantityLike


@dataclass(frozen=True)
class Candidate:
    """An experiment.

    Attributes
    ----------
    name : str [-]
        In words.
    changes : mapping of str to Quantity, str or float [-]
        For a string: what is changed on the build that was shot first.
    loss : str [-]
        For a direct test: the loss that it measures; empty for a string.
    within : float [-]
        Relative standard uncertainty of the direct test (of a prior's SD where the loss is nearly none).
    """

    name: str
    changes: Mapping[str, QuantityLike] = field(default_factory=dict)
    loss: str = ""
    within: float = 0.1


#: How well a bench test of one loss does: common practice, no source.
DIRECT = (
    Candidate("pull a dart through the barrel with a kitchen scale", loss="dart_friction", within=0.15),
    Candidate("pull the plunger through its tube with a kitchen scale", loss="seal_friction", within=0.15),
    Candidate("close the port and time how the plunger leaks down", loss="seal_leak_area", within=0.25),
    Candidate(
        "hold a dart in the barrel and time how a syringe leaks past it", loss="blowby_area", within=0.25
    ),
)


def usual_candidates(build: Build) -> list[Candidate]:
    """The usual experiments on a build: other barrels, springs, darts, strokes and ports, and bench tests.

    Parameters
    ----------
    build : Build [-]
        The build at hand.

    Returns
    -------
    list of Candidate
        Strings with one change each, then the direct tests [-].
    """
    found = []
    for name, own, unit, shares, words in (
        ("barrel.length", build.barrel.length, "cm", (0.6, 1.4), "a barrel of {}"),
        ("spring.rate", build.spring.rate, "N/m", (0.8, 1.25), "a spring of {}"),
        ("dart.mass", build.dart.mass, "g", (1.3,), "a dart of {} with the same foam"),
        ("chamber.stroke", build.chamber.stroke, "mm", (0.75,), "a stroke of {}"),
        ("chamber.port_diameter", build.chamber.port_diameter, "mm", (0.7,), "a port of {}"),
    ):
        moved = ((own * share).to(unit) for share in shares)
        found += [Candidate(words.format(f"{one:.3g~P}"), {name: one}) for one in moved]
    return [*found, *DIRECT]


def rank(
    candidates: Sequence[Candidate],
    first: Build,
    target: Build,
    priors: Sequence[Prior],
    values: np.ndarray,
    learned: LossUncertainty,
    shots: int,
) -> pd.DataFrame:
    """Rank experiments by what each leaves of the uncertainty of a prediction; `Calibration.measure_next`.

    Parameters
    ----------
    candidates : sequence of Candidate [-]
        Experiments.
    first : Build [-]
        The build that the candidates change.
    target : Build [-]
        The build to be predicted.
    priors : sequence of Prior [-]
        The free losses.
    values : ndarray [SI]
        Their best values, and perhaps the chronograph's factor behind them.
    learned : LossUncertainty [-]
        What is known now.
    shots : int [-]
        Shots in each string still to fire.

    Returns
    -------
    DataFrame
        Experiments, the best first; standard uncertainty of the predicted mean in m/s before and after.

    Raises
    ------
    CalibrationError
        No candidate that can be done, or a dart that would never leave from the build.
    """
    names = [prior.name for prior in priors]
    strings, direct = _possible(candidates, first, names)
    builds = [target, *(build for _, build in strings)]
    speeds, slopes = LossModel(builds, learned.names).linear(values, learned.sd_si)
    if speeds[0] <= 0.0:
        raise CalibrationError(f"{target.title}: with these losses the dart never leaves")
    covariance, aim = learned.covariance, slopes[0]
    noise = math.sqrt(learned.shot_spread**2 / shots + learned.setup**2)
    rows = [("nothing more", "", _sd(aim, covariance))]
    for (name, _), speed, slope in zip(strings, speeds[1:], slopes[1:], strict=True):
        if speed > 0.0:
            rows.append((name, f"{shots} shots", _sd(aim, _after(covariance, slope, noise * speed))))
    for candidate in direct:
        at = names.index(candidate.loss)
        error = candidate.within * max(float(values[at]), priors[at].sd)
        after = _after(covariance, np.eye(len(aim))[at], error)
        rows.append((candidate.name, f"to {100 * candidate.within:.0f} %", _sd(aim, after)))
    table = pd.DataFrame(rows, columns=["experiment", "effort", "sd_after_m_s"])
    table.insert(2, "sd_before_m_s", rows[0][2])
    return table.sort_values("sd_after_m_s", kind="stable").reset_index(drop=True)


def _possible(
    candidates: Sequence[Candidate], first: Build, names: Sequence[str]
) -> tuple[list[tuple[str, Build]], list[Candidate]]:
    """Strings that can be shot, with their builds, and direct tests of free losses."""
    direct = [candidate for candidate in candidates if candidate.loss in names]
    strings = []
    for candidate in candidates:
        if not candidate.loss:
            with contextlib.suppress(BuildError):  # an experiment that cannot be built is no candidate
                strings.append((candidate.name, first.replace(candidate.changes)))
    if not strings and not direct:
        raise CalibrationError("candidates: none of them can be done; give an experiment on a free loss")
    return strings, direct


def _after(covariance: np.ndarray, slope: np.ndarray, noise: float) -> np.ndarray:
    """Covariance after one more scalar measurement (Sherman-Morrison)."""
    gain = covariance @ slope
    return covariance - np.outer(gain, gain) / (noise**2 + slope @ gain)


def _sd(slope: np.ndarray, covariance: np.ndarray) -> float:
    return math.sqrt(max(float(slope @ covariance @ slope), 0.0))
