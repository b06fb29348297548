"""Where a shot leaves the ground that the model stands on: the assumption that breaks, and by how much.

What it is for: an answer outside the model's range is still an answer, but it comes with a warning that
names what it rests on (``report`` has the sentences).  What it leaves out: how wrong it then is, which the
comparison with the models that resolve waves says.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from blasterlab.shot import equations as k
from blasterlab.shot.integrate import Outcome
from blasterlab.shot.parameters import GAMMA, Floats, Parameters

#: Dart speed over the speed of sound behind it, from which the gas is no longer one pressure (own choice).
MACH = 0.5
#: Wave transit of a spring over the length of the shot, from which it no longer moves as one: beyond it the
#: rule of a third is off by more than 2 % in 42 of 46 builds (data/computed/model_grid.csv).
TRANSIT = 0.35


class Broken(NamedTuple):
    """A broken assumption, SI floats.

    Codes: ``"fast dart"``, speed over that of sound behind it; ``"heavy air"``, mass of the air in the barrel
    against the dart's; ``"slow spring"``, transit of a wave through a spring against the length of the shot.
    """

    code: str
    value: float
    limit: float


def strained(p: Parameters, x: Floats) -> tuple[float, float]:
    """Speed of the dart over that of sound behind it, and the heavier of the air both ways [-, kg]."""
    sound = math.sqrt(GAMMA * (GAMMA - 1.0) * x[k.E2] / x[k.M2])
    density = p.ambient_pressure / (p.gas_constant * p.ambient_temperature)
    ahead = density * p.barrel_area * max(p.length - p.dart_length, 0.0)
    return abs(x[k.W]) / sound, max(ahead, x[k.M2])


def broken_assumptions(
    p: Parameters, outcome: Outcome, state: Floats, springs: list[tuple[float, float]]
) -> list[Broken]:
    """The assumptions that one shot breaks.

    Parameters
    ----------
    p : Parameters [SI]
        The shot's parameters.
    outcome : Outcome [SI]
        Its result.
    state : ndarray, shape (states,) [SI]
        Its final state.
    springs : list of tuple of (float, float) [N/m, kg]
        Rate and mass of each spring that moves as one; none for a charged chamber.

    Returns
    -------
    list of Broken
        None when all hold [-].

    References
    ----------
    J. Corner, *Theory of the Interior Ballistics of Guns*, 1950: Lagrange's gradient.
    Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, sec. 156: a spring that moves as one.
    """
    mach, air = map(float, strained(p, state))
    found = []
    if mach > MACH:
        found.append(Broken("fast dart", mach, MACH))
    if air > p.dart_mass:
        found.append(Broken("heavy air", air, p.dart_mass))
    limit = TRANSIT * outcome.time
    transits = (math.sqrt(mass / rate) for rate, mass in springs)
    return found + [Broken("slow spring", transit, limit) for transit in transits if transit > limit]
