"""The compiled loop over many shots: one row of parameters in, one row of results out, on all cores.

What it is for: ``batch``, which holds ``compiled.PARALLEL``.  What it leaves out: names, units and checks.
"""

from __future__ import annotations

import numpy as np

from blasterlab.compiled import compiled_parallel, prange
from blasterlab.shot.equations import Floats, Parameters
from blasterlab.shot.integrate import integrate


@compiled_parallel
def run_rows(rows: Floats, tolerance: float, out: Floats) -> None:
    """Integrate each row of parameters; out gets the 13 final states and seven of the outcome's numbers."""
    for i in prange(rows.shape[0]):
        r = rows[i]
        p = Parameters(
            r[0], r[1], r[2], r[3], r[4], r[5], r[6], r[7], r[8], r[9], r[10], r[11], r[12], r[13], r[14],
            r[15], r[16], r[17], r[18], r[19], r[20], r[21], r[22], r[23], r[24], r[25], r[26], r[27], r[28],
            r[29], r[30], r[31],
        )  # fmt: skip
        state = np.empty(13)
        record = np.empty((0, 17))
        outcome = integrate(p, tolerance, 1.0, state, record)
        for n in range(13):
            out[i, n] = state[n]
        out[i, 13] = outcome.status
        out[i, 14] = outcome.time
        out[i, 15] = outcome.chamber_peak
        out[i, 16] = outcome.barrel_peak
        out[i, 17] = outcome.spring_work
        out[i, 18] = outcome.impact_speed
        out[i, 19] = outcome.stop_energy
