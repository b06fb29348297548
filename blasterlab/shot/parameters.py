"""Everything that a shot depends on, as the compiled code takes it: one list of names, SI floats.

What it is for: equations, rules and integration read it; ``from_build`` fills it.  What it leaves out: units,
ranges and judgement (``build``).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from blasterlab.compiled import from_row

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
GAMMA = 1.4  # ratio of specific heats of air (diatomic ideal gas)


class Parameters(NamedTuple):
    """Everything that a shot depends on, SI floats; one row of the batch's array, in this order."""

    rate1: float  # up to three springs in parallel: rate, and compression at the catch
    catch_compression1: float
    rate2: float
    catch_compression2: float
    rate3: float
    catch_compression3: float
    plunger_mass: float  # with the coils that move with it
    plunger_area: float
    stroke: float
    chamber_dead: float
    port_area: float  # discharge coefficient times area
    barrel_area: float
    length: float
    barrel_dead: float
    dart_mass: float
    dart_length: float
    seal_friction: float
    seal_breakaway: float
    seal_friction_per_pressure: float  # friction per pressure above ambient
    seal_leak_area: float  # effective area
    dart_friction: float
    dart_breakaway: float
    dart_friction_per_pressure: float
    blowby_area: float  # effective area
    gas_inertia: float  # 1 on, 0 off
    air_ahead: float
    wall_heat: float  # 0 off, 1 conduction, more for the limit of strong heat exchange
    stop_restitution: float
    ambient_pressure: float
    ambient_temperature: float
    gas_constant: float
    charge: float  # absolute pressure of a charged chamber with the plunger held at its stop; 0: spring shot
    wave_mass1: float = 0.0  # mass of each spring's coils along which waves run; 0: it moves as one
    wave_mass2: float = 0.0
    wave_mass3: float = 0.0
    # mass flow through a long gap per difference of squared pressures; 0: an orifice
    seal_laminar: float = 0.0
    blowby_laminar: float = 0.0


#: A row of numbers in the order of `Parameters` as such.
parameters_of = from_row(Parameters)
