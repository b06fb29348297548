"""Many shots at once: struct of arrays in and out, compiled and parallel, the same numbers as one by one.

What it is for: maps, searches, fits and Monte Carlo.  What it leaves out: histories (simulate the few builds
that matter once more), variants of one build (``variants``) and widgets.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from blasterlab.build import Build
from blasterlab.compiled import PARALLEL
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.from_build import packed
from blasterlab.shot.integrate import TOLERANCE, Outcome
from blasterlab.shot.parallel import run_rows
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.results import Results
from blasterlab.shot.simulate import checked
from blasterlab.tables import pd
from blasterlab.units import QuantityLike

#: Shots in one parallel call; between two of them progress is told and an interrupt is heard.
CHUNK = 2048
Progress = Callable[[int, int], None]
_TABLE = {
    "muzzle_velocity": "m/s",
    "muzzle_energy": "J",
    "exit_time": "s",
    "peak_pressure": "Pa",
    "peak_barrel_pressure": "Pa",
    "peak_force": "N",
    "impact_speed": "m/s",
    "spring_work": "J",
}


@dataclass(frozen=True)
class ShotBatch(Results):
    """Results of many shots, in the order of their builds.

    Attributes
    ----------
    parameters : Parameters of ndarrays, shape (n,) each [SI]
        What the integrator was given.
    outcome : Outcome of ndarrays, shape (n,) each [SI]
        What it found.
    state : ndarray, shape (states, n) [SI]
        Final states.
    complete : bool [-]
        False when the run was interrupted; what was done is kept.
    """

    parameters: Parameters
    outcome: Outcome
    state: Floats
    complete: bool

    def __len__(self) -> int:
        return self.state.shape[1]

    @property
    def exited(self) -> npt.NDArray[np.bool_]:
        """Which darts left the muzzle, shape (n,) [-]."""
        return np.equal(self.outcome.status, rules.EXITED)

    @property
    def status(self) -> list[str]:
        """How each ended, names in `rules.STATUS` [-]."""
        return [rules.STATUS[int(status)] for status in np.asarray(self.outcome.status)]

    @property
    def table(self) -> pd.DataFrame:
        """One row a shot: how it ended, and SI columns named with their units, ``muzzle_velocity_m_s``."""
        found = {f"{name}_{u.replace('/', '_')}": getattr(self, name).m_as(u) for name, u in _TABLE.items()}
        return pd.DataFrame({"status": self.status} | found)


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
    found = ShotBatch(Parameters(*rows.T), Outcome(*outcomes.T), states.T, True)
    np.asarray(found.outcome.status)[:] = rules.RUNNING
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
        return replace(found, complete=False)
    return found


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
    values = [build.si for build in builds]
    pressure = checked(charge, max((v["air.pressure"] for v in values), default=0.0), tolerance)
    return simulate_rows(packed(values, pressure), tolerance, progress)
