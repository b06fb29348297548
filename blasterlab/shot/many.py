"""Many shots at once: struct of arrays in and out, compiled and parallel, the same numbers as one by one.

What it is for: maps, searches, fits and Monte Carlo.  What it leaves out: histories (simulate the few builds
that matter once more), variants of one build (``variants``) and widgets.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.compiled import PARALLEL
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import TOLERANCE, Outcome
from blasterlab.shot.parallel import run_rows
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.simulate import checked
from blasterlab.units import Quantity, QuantityLike

#: Shots in one parallel call; between two of them progress is told and an interrupt is heard.
CHUNK = 2048
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class ShotBatch:
    """Results of many shots, in the order of their builds.

    Attributes
    ----------
    rows : ndarray, shape (n, parameters) [SI]
        What the integrator was given, columns in the order of `Parameters`.
    states : ndarray, shape (n, states) [SI]
        Final states.
    outcomes : ndarray, shape (n, outcomes) [SI]
        What it found, columns in the order of `Outcome`.
    complete : bool [-]
        False when the run was interrupted; what was done is kept.
    """

    rows: Floats
    states: Floats
    outcomes: Floats
    complete: bool

    def __len__(self) -> int:
        return len(self.rows)

    def outcome(self, name: str) -> Floats:
        """A number of each shot's `Outcome`.

        Parameters
        ----------
        name : str [-]
            A field of `Outcome`.

        Returns
        -------
        ndarray, shape (n,)
            The field of each shot [SI].
        """
        return self.outcomes[:, Outcome._fields.index(name)]

    @property
    def exited(self) -> np.ndarray:
        """Which darts left the muzzle, shape (n,) [-]."""
        return self.outcome("status") == rules.EXITED

    @property
    def status(self) -> list[str]:
        """How each ended, names in `rules.STATUS` [-]."""
        return [rules.STATUS[int(status)] for status in self.outcome("status")]

    @property
    def muzzle_velocity(self) -> Quantity:
        """Muzzle velocities, shape (n,); 0 where the dart never left [m/s]."""
        return units.quantity(np.where(self.exited, self.states[:, k.W], 0.0), "m/s")

    @property
    def muzzle_energy(self) -> Quantity:
        """Muzzle energies, shape (n,) [J]."""
        mass = self.rows[:, Parameters._fields.index("dart_mass")]
        return units.quantity(0.5 * mass * self.muzzle_velocity.magnitude**2, "J")

    @property
    def exit_time(self) -> Quantity:
        """Times to the exit or the end, shape (n,) [ms]."""
        return units.quantity(1e3 * self.outcome("time"), "ms")

    @property
    def peak_pressure(self) -> Quantity:
        """Highest absolute chamber pressures, shape (n,) [kPa]."""
        return units.quantity(1e-3 * self.outcome("chamber_peak"), "kPa")

    @property
    def peak_barrel_pressure(self) -> Quantity:
        """Highest absolute pressures behind the dart, shape (n,) [kPa]."""
        return units.quantity(1e-3 * self.outcome("barrel_peak"), "kPa")

    @property
    def spring_work(self) -> Quantity:
        """Work of the springs, shape (n,) [J]."""
        return units.quantity(self.outcome("spring_work"), "J")

    @property
    def impact_speed(self) -> Quantity:
        """Plunger speeds at the front stop, shape (n,); 0 where it was not reached before the exit [m/s]."""
        return units.quantity(self.outcome("impact_speed"), "m/s")


def simulate_rows(rows: Floats, tolerance: float = TOLERANCE, progress: Progress | None = None) -> ShotBatch:
    """Simulate rows of parameters (see ``from_build.rows``).

    Parameters
    ----------
    rows : ndarray, shape (n, parameters) [SI]
        One shot a row, columns in the order of `Parameters`.
    tolerance : float [-]
        As in ``simulate``.
    progress : callable or None [-]
        Called with the number done and the number of all, now and then.

    Returns
    -------
    ShotBatch
        Results; after a keyboard interrupt those that were done, marked as not complete.
    """
    rows = np.ascontiguousarray(rows, dtype=float)
    states, outcomes = np.zeros((len(rows), k.STATES)), np.zeros((len(rows), len(Outcome._fields)))
    outcomes[:, Outcome._fields.index("status")] = rules.RUNNING
    try:
        for first in range(0, len(rows), CHUNK):
            part = slice(first, min(first + CHUNK, len(rows)))
            state, outcome = np.empty_like(states[part]), np.empty_like(outcomes[part])
            with PARALLEL:
                run_rows(rows[part], tolerance, state, outcome)
            states[part], outcomes[part] = state, outcome
            if progress is not None:
                progress(part.stop, len(rows))
    except KeyboardInterrupt:
        return ShotBatch(rows, states, outcomes, False)
    return ShotBatch(rows, states, outcomes, True)


def simulate_many(
    builds: Sequence[Build],
    charge: QuantityLike | None = None,
    tolerance: float = TOLERANCE,
    progress: Progress | None = None,
) -> ShotBatch:
    """Simulate many builds in one compiled, parallel run.

    Parameters
    ----------
    builds : sequence of Build [-]
        The builds.
    charge : Quantity or str or None [pressure]
        As in ``simulate``, the same for all.
    tolerance : float [-]
        As in ``simulate``.
    progress : callable or None [-]
        Called with the number done and the number of all, now and then.

    Returns
    -------
    ShotBatch
        Results in the builds' order, equal to those of ``simulate`` to the last digit.

    Raises
    ------
    UnitError
        As for ``simulate``; a charge must not lie below any build's ambient pressure.

    Examples
    --------
    >>> import blasterlab as bl
    >>> many = bl.simulate_many([bl.demo_build(name) for name in bl.demo_builds()])
    >>> many.muzzle_velocity.shape
    (3,)
    """
    highest = max((build.si["air.pressure"] for build in builds), default=0.0)
    pressure = checked(charge, highest, tolerance)
    rows = np.array([parameters(build.si, pressure) for build in builds])
    return simulate_rows(rows.reshape(-1, len(Parameters._fields)), tolerance, progress)
