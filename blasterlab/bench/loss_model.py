"""Readings of several builds as a function of their common losses, in one compiled run.

What it is for: the model inside a calibration: muzzle velocities as a chronograph reads them, and their
slopes against losses and the chronograph's factor, as floats in SI.  What it leaves out: measurements and
statistics.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from blasterlab.build import Build
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH
from blasterlab.shot import from_build
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.speed_range import TOLERANCE

Array = np.ndarray


class CalibrationError(ValueError):
    """A calibration or prediction that cannot be made: says which pair or build, and why."""


class LossModel:
    """Builds that share some losses.

    Parameters
    ----------
    builds : sequence of Build [-]
        The builds; their other losses stay as they are.
    names : sequence of str [-]
        The unknowns: common losses, such as ``"seal_friction"``, and perhaps `CHRONOGRAPH`: what it
        reads over the true speed.
    """

    def __init__(self, builds: Sequence[Build], names: Sequence[str]) -> None:
        self.values, self.names = [build.si for build in builds], names

    def readings(self, unknowns: Array) -> Array:
        """Mean readings [m/s], shape (k, builds), for k sets of unknowns [SI], shape (k, names)."""
        columns = {f"losses.{name}": unknowns[:, i] for i, name in enumerate(self.names)}
        factor = columns.pop(f"losses.{CHRONOGRAPH}", np.ones(len(unknowns)))
        rows = np.vstack([from_build.rows({**v, **columns}, len(unknowns)) for v in self.values])
        speeds = simulate_rows(rows, TOLERANCE).muzzle_velocity.m
        return np.asarray(factor[:, None] * speeds.reshape(len(self.values), -1).T)

    def linear(self, unknowns: Array, scale: Array) -> tuple[Array, Array]:
        """Readings [m/s], shape (builds,), and slopes per unknown [SI], shape (builds, names).

        Central differences over a twentieth of `scale`; one-sided of second order where zero is too near.
        """
        steps = 0.05 * np.asarray(scale)
        here, count, h = np.asarray(unknowns, float), len(self.names), np.diag(steps)
        edge = (here < steps)[:, None]
        found = self.readings(here + np.vstack([np.zeros((1, count)), h, np.where(edge, 2.0 * h, -h)]))
        middle, up, other = found[0], found[1 : count + 1], found[count + 1 :]
        change = np.where(edge, 4.0 * up - other - 3.0 * middle, up - other) / 2.0
        return middle, (change / steps[:, None]).T
