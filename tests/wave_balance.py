"""Where the energy and the mass of a shot with gas waves went: the balance that its tests hold."""

from typing import NamedTuple

from blasterlab.shot import equations as eq
from blasterlab.shot.equations import S, U, W, Y
from blasterlab.shot.parameters import Parameters
from blasterlab.waves.gas_rates import FRONT_WORK
from blasterlab.waves.gas_shot import ENERGY, MASS, MOTION, WaveRun


class Balance(NamedTuple):
    """Energies in J at the end of a shot."""

    spring_work: float
    dart_energy: float
    plunger_energy: float
    coil_energy: float  # in the waves along the springs
    stop_energy: float
    seal_work: float
    dart_work: float
    gas_energy: float  # gain of the gas behind the dart, internal and kinetic
    gas_motion: float  # of which kinetic
    leaked: float
    heat: float
    air_ahead: float  # work on the air ahead beyond that against the still atmosphere
    atmosphere: float  # work against the still atmosphere
    residual: float  # spring work (or charge) less all the rest
    mass_error: float  # gas that appeared, as a share of all


def balance(p: Parameters, run: WaveRun) -> Balance:
    """The balance of a run of `wave_run` with these parameters."""
    x, (before, after) = run.state, run.gas
    work, swept = (0.0, 0.0) if p.charge > 0.0 else (eq.spring_work(p, x[S]), p.plunger_area * x[S])
    dart, plunger = 0.5 * p.dart_mass * x[W] ** 2, 0.5 * p.plunger_mass * x[U] ** 2
    gas, stop, coil = after[ENERGY] - before[ENERGY], run.outcome.stop_energy, eq.coil_energy(p, x)
    atmosphere = p.ambient_pressure * (p.barrel_area * x[Y] - swept)
    seal, grip, leaked, heat, front = (
        x[place] for place in (eq.SEAL_WORK, eq.DART_WORK, eq.LEAKED, eq.HEAT, FRONT_WORK)
    )
    spent = dart + plunger + coil + stop + seal + grip + gas + leaked + heat + front + atmosphere
    return Balance(
        work, dart, plunger, coil, stop, seal, grip, gas, after[MOTION], leaked, heat, front, atmosphere,
        work - spent, after[MASS] / before[MASS] - 1.0,
    )  # fmt: skip
