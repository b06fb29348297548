"""What to measure next: the experiment that narrows a prediction most, from the Fisher information.

What it is for: ranking of experiments before any of them is done.  What it leaves out: their cost and their
bother, which the builder knows best.

References
----------
A. C. Atkinson, A. N. Donev, R. D. Tobias, *Optimum Experimental Designs, with SAS*, 2007, section 10.4
(c-optimality: least variance of one combination), linearised at the present best values.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab.bench.loss_model import LossModel
from blasterlab.bench.priors import CalibrationError
from blasterlab.build import Build, BuildError
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH

if TYPE_CHECKING:
    import pandas as pd

    from blasterlab.bench.calibrate import Calibration


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
    changes: Mapping[str, Any] = field(default_factory=dict)
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
    rate = build.si["spring0.rate"]
    found = []
    for share in (0.6, 1.4):
        cut = build.barrel.length * share
        found.append(Candidate(f"a barrel of {cut.to('cm'):.3g~P}", {"barrel.length": cut}))
    for share in (0.8, 1.25):
        spring = {f"{_head(build)}.rate": f"{rate * share:.6g} N/m"}
        found.append(Candidate(f"a spring of {rate * share:.3g} N/m", spring))
    dart = build.dart.mass * 1.3
    found.append(Candidate(f"a dart of {dart.to('g'):.3g~P} with the same foam", {"dart.mass": dart}))
    stroke = build.chamber.stroke * 0.75
    found.append(Candidate(f"a stroke of {stroke.to('mm'):.3g~P}", {"chamber.stroke": stroke}))
    port = build.chamber.port_diameter * 0.7
    found.append(Candidate(f"a port of {port.to('mm'):.3g~P}", {"chamber.port_diameter": port}))
    return [*found, *DIRECT]


def _head(build: Build) -> str:
    return "spring" if len(build.springs) == 1 else "springs[0]"


def measure_next(
    calibration: Calibration, build: Build, candidates: Sequence[Candidate] | None, shots: int
) -> pd.DataFrame:
    """Rank experiments; see `Calibration.measure_next`.

    Parameters
    ----------
    calibration : Calibration [-]
        What is known now.
    build : Build [-]
        The build to be predicted.
    candidates : sequence of Candidate or None [-]
        None takes `usual_candidates` of the build that was shot first.
    shots : int [-]
        Shots in each string to come.

    Returns
    -------
    DataFrame
        Experiments, the best first; standard uncertainty of the predicted mean in m/s before and after.

    Raises
    ------
    CalibrationError
        No candidate that can be, or a dart that would never leave from the build.
    """
    import pandas as pd

    learned, names = calibration.learned, calibration.names
    first = calibration.pairs[0][0]
    strings: list[tuple[str, Build]] = []
    direct: list[Candidate] = []
    for candidate in candidates if candidates is not None else usual_candidates(first):
        if candidate.loss:
            direct += [candidate] if candidate.loss in names else []
            continue
        try:
            strings.append((candidate.name, first.replace(candidate.changes)))
        except BuildError:
            continue  # an experiment that cannot be built is no candidate
    if not strings and not direct:
        raise CalibrationError("candidates: none of them can be done; give an experiment on a free loss")
    values = calibration.fit.values[: len(names)]
    builds = [build, *(other for _, other in strings)]
    speeds, slopes = LossModel(builds, names, learned.sd_si[: len(names)]).linear(values)
    if speeds[0] <= 0.0:
        raise CalibrationError(f"{build.title}: with these losses the dart never leaves")
    if CHRONOGRAPH in learned.names:
        slopes = np.column_stack([slopes, speeds / learned.reads])
    covariance = learned.covariance
    target = slopes[0]
    noise = math.sqrt(learned.shot_spread**2 / shots + learned.setup**2)
    rows = [("nothing more", "", _sd(target, covariance))]
    for (name, _), speed, slope in zip(strings, speeds[1:], slopes[1:], strict=True):
        if speed > 0.0:
            rows.append((name, f"{shots} shots", _sd(target, _after(covariance, slope, noise * speed))))
    for candidate in direct:
        at = names.index(candidate.loss)
        unit = np.eye(len(learned.names))[at]
        error = candidate.within * max(float(values[at]), calibration.priors[at].sd)
        after = _after(covariance, unit, error)
        rows.append((candidate.name, f"to {100 * candidate.within:.0f} %", _sd(target, after)))
    table = pd.DataFrame(rows, columns=["experiment", "effort", "sd_after_m_per_s"])
    table.insert(2, "sd_before_m_per_s", rows[0][2])
    return table.sort_values("sd_after_m_per_s", kind="stable").reset_index(drop=True)


def _after(covariance: np.ndarray, slope: np.ndarray, noise: float) -> np.ndarray:
    """Covariance after one more scalar measurement (Sherman-Morrison)."""
    gain = covariance @ slope
    return covariance - np.outer(gain, gain) / (noise**2 + slope @ gain)


def _sd(slope: np.ndarray, covariance: np.ndarray) -> float:
    return math.sqrt(max(float(slope @ covariance @ slope), 0.0))
