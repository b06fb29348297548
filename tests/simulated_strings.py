"""Strings simulated from losses that are known, to see how often a calibration's intervals hold them.

S. Talts et al., *Validating Bayesian Inference Algorithms with Simulation-Based Calibration*,
arXiv:1804.06788, 2018: draw the truth from what is known beforehand, simulate, infer, and count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

import blasterlab as bl
from blasterlab.bench.calibration import Calibration
from blasterlab.parts.loss_uncertainty import loss_value
from blasterlab.parts.priors import PRIORS

SHOTS, SPREAD, SETUP = 10, 0.012, 0.005
LEAST = 5.0  # m/s: below it a dart that hardly leaves is no string


@dataclass(frozen=True)
class Case:
    """Three builds with their strings, the true losses [SI], and a target with what it then read [m/s]."""

    pairs: list[tuple[bl.Build, bl.ChronoString]]
    target: bl.Build
    truth: dict[str, float]
    mean: float
    next_shot: float


def relatives(build: bl.Build, draw: np.random.Generator) -> list[bl.Build]:
    """A build with a barrel of its own, two changes of it to be shot, and one to be predicted."""
    head = "spring" if len(build.springs) == 1 else "springs[0]"
    first = build.replace({"barrel.length": build.barrel.length * draw.uniform(0.5, 1.4)})
    wire, barrel, dart = f"{head}.wire_diameter", "barrel.length", "dart.mass"
    shot = [
        {barrel: first.barrel.length * draw.uniform(0.5, 0.9)},
        {wire: first.springs[0].wire_diameter * 0.93},
        {dart: first.dart.mass * 1.35},
        {wire: first.springs[0].wire_diameter * 0.97, barrel: first.barrel.length * 0.7},
    ]
    later = [
        {wire: first.springs[0].wire_diameter * 1.05},
        {barrel: first.barrel.length * 1.25},
        {dart: first.dart.mass * 0.85},
        {barrel: first.barrel.length * 0.5},
    ]
    changes = [shot[i] for i in draw.choice(len(shot), 2, replace=False)] + [later[draw.integers(len(later))]]
    return [first, *(first.replace(change) for change in changes)]


def simulated(draw: np.random.Generator, error: float = 0.0, even: bool = False) -> Case:
    """A case with every default loss drawn from its range: from its prior, or evenly within the range.

    The chronograph's common error is drawn once (its relative standard uncertainty is `error`), the setup's
    once a string, the shots' own spread once a shot.
    """
    names = list(bl.demo_builds())
    while True:
        builds = relatives(bl.demo_build(names[draw.integers(len(names))]), draw)
        truth = {}
        for prior in PRIORS.values():
            low, high = prior.si
            score = draw.normal()
            truth[prior.name] = draw.uniform(low, high) if even else float(prior.values(np.array([score]))[0])
        changes = {f"losses.{name}": loss_value(name, value) for name, value in truth.items()}
        speeds = [bl.simulate(build.replace(changes)).muzzle_velocity.m_as("m/s") for build in builds]
        if min(speeds) > LEAST:
            break
    factor = 1.0 + error * draw.normal()
    means = factor * np.array(speeds) * (1.0 + SETUP * draw.normal(size=4))
    shots = means[:, None] * (1.0 + SPREAD * draw.normal(size=(4, SHOTS)))
    strings = [bl.ChronoString.from_readings(list(row), unit="m/s") for row in shots[:3]]
    return Case(
        list(zip(builds, strings, strict=False)), builds[3], truth, float(means[3]), float(shots[3, 0])
    )


def held(case: Case, fit: Calibration) -> list[bool]:
    """Which 90 % intervals hold the truth: each loss, the mean, the next shot."""
    limits = fit.table.set_index("loss")
    found = [limits.loc[name, "low"] < value < limits.loc[name, "high"] for name, value in case.truth.items()]
    guess = fit.predict(case.target, 0.9)
    found.append(guess.mean_low.m < case.mean < guess.mean_high.m)
    return [*found, guess.next_low.m < case.next_shot < guess.next_high.m]
