"""Muzzle velocities of several builds as a function of their common losses, in one compiled run.

What it is for: the model inside a calibration: speeds and their slopes against losses, as floats in SI.
What it leaves out: measurements and statistics.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from blasterlab.shot import from_build as pack
from blasterlab.shot.many import simulate_rows

if TYPE_CHECKING:
    from blasterlab.build import Build

Array = np.ndarray
#: Step of the slopes, in units of what is known of a loss (its prior SD): above the integrator's error.
STEP = 0.05
#: Tolerance of the integrator: velocities to about 1e-6, far below what a string tells.
TOLERANCE = 1e-6


class LossModel:
    """Builds that share some losses.

    Parameters
    ----------
    builds : sequence of Build [-]
        The builds; their other losses stay as they are.
    names : sequence of str [-]
        The common losses, such as ``"dart_friction"``.
    scale : sequence of float [SI]
        The size of a change of each that matters.
    """

    def __init__(self, builds: Sequence[Build], names: Sequence[str], scale: Sequence[float] | Array) -> None:
        self.values = [build.si for build in builds]
        self.names = [f"losses.{name}" for name in names]
        self.steps = STEP * np.array(scale, float)

    def speeds(self, losses: Array) -> Array:
        """Muzzle velocities [m/s], shape (k, builds), of k sets of losses [SI], shape (k, names)."""
        count = len(losses)
        changes = {name: losses[:, i] for i, name in enumerate(self.names)}
        rows = np.vstack([pack.rows({**v, **changes}, count) for v in self.values])
        speeds = simulate_rows(rows, TOLERANCE).muzzle_velocity.magnitude
        return np.asarray(speeds, float).reshape(len(self.values), count).T

    def linear(self, losses: Array) -> tuple[Array, Array]:
        """Velocities [m/s], shape (builds,), and slopes per loss [SI], shape (builds, names).

        Central differences; one-sided of second order where zero is too near.
        """
        here = np.asarray(losses, float)
        count, h = len(self.names), np.diag(self.steps)
        edge = here < self.steps
        below = np.where(edge[:, None], 2.0 * h, -h)
        found = self.speeds(here + np.vstack([np.zeros((1, count)), h, below]))
        middle, up, other = found[0], found[1 : count + 1], found[count + 1 :]
        inside = (up - other) / 2.0
        at_edge = (4.0 * up - other - 3.0 * middle) / 2.0
        return middle, (np.where(edge[:, None], at_edge, inside) / self.steps[:, None]).T
