"""The compiled loop over many shots: one row of parameters in, one row of results out, on all cores.

What it is for: ``many``, which holds ``compiled.PARALLEL``.  What it leaves out: names, units and checks.
"""

from __future__ import annotations

from blasterlab.compiled import compiled_parallel, into_row, prange
from blasterlab.shot.equations import Floats
from blasterlab.shot.integrate import Outcome, shoot
from blasterlab.shot.parameters import parameters_of

_write = into_row(Outcome)


@compiled_parallel
def run_rows(rows: Floats, tolerance: float, states: Floats, outcomes: Floats) -> None:
    """Each row of `Parameters`: its final state into a row of states, its `Outcome` into one of outcomes."""
    for i in prange(rows.shape[0]):
        _write(shoot(parameters_of(rows[i]), tolerance, states[i]), outcomes[i])
