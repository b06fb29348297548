"""The energy ledger of a shot by name: where the energy went that was put in.

What it is for: `Shot.ledger`, and the same as a builder reads it.  What it leaves out: the entries
themselves, which stand beside the states in ``equations``; words and pictures.
"""

from __future__ import annotations

from blasterlab.shot import equations as k
from blasterlab.shot.integrate import Outcome
from blasterlab.shot.parameters import GAMMA, Floats, Parameters
from blasterlab.shot.rules import nose_out

#: The ledger's entries as a builder reads them, in the order of `net_entries`.
NET = (
    "dart",
    "plunger and stop",
    "coils still moving",
    "seal friction",
    "dart friction",
    "air left behind",
    "air pushed along",
    "leaks",
    "wall heat",
)


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
    entries = k.ledger(p, x, outcome.stop_energy, nose_out(p, x[k.Y], 1))
    return dict(zip(k.ENTRIES, map(float, entries), strict=True))


def net_entries(p: Parameters, x: Floats, stop_energy: float) -> tuple[float, ...]:
    """The ledger as a builder reads it: gas, leaks and atmosphere together as what stays in the air [J].

    Formula: the internal energy left, plus the atmosphere's work, plus what the leaks carried, all counted
    against the same gas at rest at ambient pressure and temperature.
    """
    dart, plunger, coils, stop, seal, grip, gas, behind, ahead, leaked, heat, atmosphere = k.ledger(
        p, x, stop_energy, nose_out(p, x[k.Y], 1)
    )
    first = p.ambient_pressure * (p.plunger_area * p.stroke + p.chamber_dead + p.barrel_dead)
    if p.charge > 0.0:
        first = p.charge * p.chamber_dead + p.ambient_pressure * p.barrel_dead
    warm = p.gas_constant * p.ambient_temperature
    moved = warm * GAMMA / (GAMMA - 1.0) * (first / warm - x[k.M1] - x[k.M2])  # with the gas that leaked
    air = gas + atmosphere + moved
    return dart, plunger + stop, coils, seal, grip, air, behind + ahead, leaked - moved, heat


def net_ledger(p: Parameters, outcome: Outcome, x: Floats) -> dict[str, float]:
    """The entries of `net_entries` by name.

    Parameters
    ----------
    p, outcome, x : Parameters, Outcome, ndarray [SI]
        As for `ledger`.

    Returns
    -------
    dict of str to float
        Dart, plunger and stop, coils still moving, seal friction, dart friction, air left behind, air pushed
        along, leaks, wall heat [J].
    """
    return dict(zip(NET, map(float, net_entries(p, x, outcome.stop_energy)), strict=True))
