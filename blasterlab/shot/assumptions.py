"""Where a shot leaves the ground that the model stands on: the assumption that breaks, and by how much.

What it is for: an answer outside the model's range is still an answer, but it comes with a warning that
names what it rests on.  What it leaves out: how wrong it then is, which the comparison with the model that
resolves waves says.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.shot import equations as k
from blasterlab.shot.integrate import Outcome

#: Dart speed over the speed of sound behind it, from which the gas is no longer one pressure (own choice).
MACH = 0.5
#: Wave transit of a spring over the length of the shot, from which it no longer moves as one: beyond it the
#: rule of the effective mass is off by more than 2 % in 42 of 46 builds (data/computed/model_grid.csv).
TRANSIT = 0.35


def warnings_of(
    p: k.Parameters, outcome: Outcome, state: k.Floats, springs: list[tuple[float, float]]
) -> list[str]:
    """Warnings for one shot.

    Parameters
    ----------
    p : Parameters [SI]
        The shot's parameters.
    outcome : Outcome [SI]
        Its result.
    state : ndarray, shape (13,) [SI]
        Its final state.
    springs : list of tuple of (float, float) [N/m, kg]
        Rate and mass of each spring; empty for a charged chamber.

    Returns
    -------
    list of str
        One sentence a broken assumption, none when all hold [-].

    References
    ----------
    J. Corner, *Theory of the Interior Ballistics of Guns*, 1950: Lagrange's gradient.
    Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, sec. 156: a spring that moves as one.
    """
    found = []
    specific = state[k.E2] / state[k.M2]
    sound = math.sqrt(k.GAMMA * (k.GAMMA - 1.0) * specific)
    mach = abs(float(state[k.W])) / sound
    if mach > MACH:
        found.append(
            f"the dart runs at {mach:.2f} of the speed of sound in the gas behind it; the model takes that "
            "gas as one pressure with a small gradient, and leaves out its waves"
        )
    density = p.ambient_pressure / (p.gas_constant * p.ambient_temperature)
    column = density * p.barrel_area * p.length
    heavier = max(column, float(state[k.M2]))
    if heavier > p.dart_mass:
        found.append(
            f"the air in the barrel weighs {units.show(heavier, 'mass', 3)}, more than the dart's "
            f"{units.show(p.dart_mass, 'mass', 3)}; the model takes it as a small addition to the dart"
        )
    for rate, mass in springs:
        transit = math.sqrt(mass / rate)
        if transit > TRANSIT * outcome.time:
            found.append(
                f"a wave needs {units.show(transit, 'time', 3)} through the spring and the shot takes "
                f"{units.show(outcome.time, 'time', 3)}; the model lets the spring move as one, with a share "
                "of its mass on the plunger"
            )
    return found
