"""The energy ledger of a shot by name: where the energy went that was put in.

What it is for: `Shot.ledger`, and the same as a builder reads it.  What it leaves out: the entries
themselves, which stand beside the states in ``equations``; words and pictures.
"""

from __future__ import annotations

from blasterlab.shot import equations as k
from blasterlab.shot.integrate import Outcome
from blasterlab.shot.parameters import GAMMA, Floats, Parameters
from blasterlab.shot.rules import nose_out

#: Entries that a builder reads as one; the others stay as they are.
TOGETHER = {
    "plunger": "plunger and stop",
    "front stop": "plunger and stop",
    "gas motion": "air pushed along",
    "air ahead": "air pushed along",
    "gas internal energy": "air left behind",
    "atmosphere": "air left behind",
}


def ledger(p: Parameters, outcome: Outcome, x: Floats) -> dict[str, float]:
    """The energy ledger of a shot's final state.

    Parameters
    ----------
    p : Parameters [SI]
        The shot's parameters.
    outcome : Outcome [SI]
        Its result.
    x : ndarray, shape (states,) [SI]
        Its final state.

    Returns
    -------
    dict of str to float
        Entries that sum to the energy put in [J].
    """
    return dict(
        zip(k.ENTRIES, map(float, k.ledger(p, x, outcome.stop_energy, nose_out(p, x[k.Y], 1))), strict=True)
    )


def net_ledger(p: Parameters, outcome: Outcome, x: Floats) -> dict[str, float]:
    """The ledger as a builder reads it: gas, leaks and atmosphere together as what stays in the air.

    Formula: the internal energy left, plus the atmosphere's work, plus what the leaks carried, all counted
    against the same gas at rest at ambient pressure and temperature.

    Parameters
    ----------
    p, outcome, x : Parameters, Outcome, ndarray [SI]
        As for `ledger`.

    Returns
    -------
    dict of str to float
        dart, plunger and stop, coils still moving, seal friction, dart friction, air pushed along, air left
        behind, leaks, wall heat [J].
    """
    found: dict[str, float] = {}
    for name, value in ledger(p, outcome, x).items():
        name = TOGETHER.get(name, name)
        found[name] = found.get(name, 0.0) + value
    first = p.ambient_pressure * (p.plunger_area * p.stroke + p.chamber_dead + p.barrel_dead)
    if p.charge:
        first = p.charge * p.chamber_dead + p.ambient_pressure * p.barrel_dead
    heat = p.gas_constant * p.ambient_temperature
    moved = heat * GAMMA / (GAMMA - 1.0) * float(first / heat - x[k.M1] - x[k.M2])  # with the gas that leaked
    found["air left behind"] += moved
    found["leaks"] -= moved
    return found
