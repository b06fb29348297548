"""The judges themselves, held against answers from outside: one short table.

What it is for: `validation`, which shoots the wave-resolving models at problems with a known answer, so
that a reader need not take their word for it.  What it leaves out: convergence and conservation, which the
tests hold.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from blasterlab.shot.parameters import GAMMA, Parameters
from blasterlab.waves.gas_column import OPEN, PISTON, run_tube
from blasterlab.waves.gas_shot import wave_run
from blasterlab.waves.spring_chain import chain_rates

if TYPE_CHECKING:
    import pandas as pd

_GAS, _T, _PA = 287.05, 293.15, 101_325.0
_C = math.sqrt(GAMMA * _GAS * _T)


def _sod() -> tuple[float, float]:
    """Pressure and speed between the waves of Sod's tube."""
    cells = 400
    x = (np.arange(cells) + 0.5) / cells
    state = np.where(x < 0.5, np.array([[1.0], [0.0], [1.0]]), np.array([[0.125], [0.0], [0.1]]))
    tube = run_tube(state, 1.0, 0.2)
    between = (tube.x > 0.56) & (tube.x < 0.64)
    return float(tube.p[between].mean()), float(tube.u[between].mean())


def _lagrange() -> tuple[float, float]:
    """A piston of 1 g driven into a vacuum by 30 cm of gas at 500 kPa, bore 12.9 mm: speed at the echo."""
    p0, depth, mass, area = 500e3, 0.30, 1e-3, math.pi / 4.0 * 0.0129**2
    rho = p0 / (_GAS * _T)
    scale = 2.0 * mass * _C / ((GAMMA + 1.0) * area * p0)
    echo = depth / _C * (2.0 + (GAMMA + 1.0) * rho * area * depth / (2.0 * GAMMA * mass))
    exact = 2.0 * _C / (GAMMA - 1.0) * (1.0 - (1.0 + echo / scale) ** (-(GAMMA - 1.0) / (GAMMA + 1.0)))
    gas = np.tile([[rho], [0.0], [p0]], (1, 200))
    tube = run_tube(gas, depth, echo, area=area, right=PISTON, piston_mass=mass)
    return exact, float(tube.piston_speed)


def _shock() -> tuple[float, float]:
    """Pressure ratio on a piston that is set moving into still air at 100 m/s."""
    mach = 100.0 / _C
    root = math.sqrt(1.0 + ((GAMMA + 1.0) * mach / 4.0) ** 2)
    exact = 1.0 + GAMMA * (GAMMA + 1.0) / 4.0 * mach**2 + GAMMA * mach * root
    rho = _PA / (_GAS * _T)
    air = np.tile([[rho], [0.0], [_PA]], (1, 100))
    tube = run_tube(air, 0.3, 4e-4, left=PISTON, push=(100.0, 0.0), right=OPEN, air=(rho, _PA))
    return exact, float(tube.piston_history[-1, 3]) / _PA


def _reservoir() -> tuple[float, float]:
    """A slow dart of 100 g from 50 cm³ at 300 kPa: the adiabatic closed form."""
    area, length, mass, charge, volume, dead = math.pi / 4.0 * 0.013**2, 0.4, 0.1, 300e3, 50e-6, 1e-7
    numbers = dict.fromkeys(Parameters._fields, 0.0) | {
        "rate1": 1.0, "catch_compression1": 0.1, "plunger_mass": 0.03, "plunger_area": 8e-4, "stroke": 0.08,
        "chamber_dead": volume, "port_area": 1.0, "barrel_area": area, "length": length, "barrel_dead": dead,
        "dart_mass": mass, "ambient_pressure": _PA, "ambient_temperature": _T, "gas_constant": _GAS,
        "charge": charge,
    }  # fmt: skip
    whole = volume + dead
    mixed = (charge * volume + _PA * dead) / whole
    work = mixed * whole / (GAMMA - 1.0) * (1.0 - (whole / (whole + area * length)) ** (GAMMA - 1.0))
    exact = math.sqrt(2.0 * (work - _PA * area * length) / mass)
    return exact, wave_run(Parameters(**numbers), 4e-3).outcome.muzzle_velocity


def _chain(links: int = 40) -> float:
    """Lowest frequency of a mass on a spring of the same mass, over sqrt(k/M)."""
    system = np.zeros((links, links))
    for j in range(links):
        z, dz, dv = np.zeros(links), np.zeros(links), np.zeros(links)
        z[j] = 1.0
        force = chain_rates(z, np.zeros(links), links, 1.0, 0.0, 1.0, dz, dv)
        dv[-1] = force / (1.0 + 0.5 / links)
        system[:, j] = dv
    return math.sqrt(-float(np.linalg.eigvals(system).real.max()))


def validation() -> pd.DataFrame:
    """The wave-resolving models against answers from outside.

    Returns
    -------
    DataFrame
        One row a case: the answer from outside, the model's, the difference [%], the source.

    References
    ----------
    E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, Table 4.3.
    A. E. H. Love and F. B. Pidduck, *Phil. Trans. R. Soc. A* 222, 167 (1922).
    H. W. Liepmann and A. Roshko, *Elements of Gasdynamics*, 1957, ch. 3.
    Z. J. Rohrbach, T. R. Buresh and M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eq. 3.
    K. F. Graff, *Wave Motion in Elastic Solids*, 1975, ch. 2.

    Examples
    --------
    >>> bool((validation().off_percent.abs() < 0.1).all())
    True
    """
    import pandas as pd

    pressure, speed = _sod()
    rows = [
        ("shock tube, pressure", 0.30313, pressure, "Toro 2009, Table 4.3"),
        ("shock tube, speed", 0.92745, speed, "Toro 2009, Table 4.3"),
        ("piston into a vacuum, m/s", *_lagrange(), "Love and Pidduck 1922"),
        ("piston into air, p/p_a", *_shock(), "Liepmann and Roshko 1957"),
        ("slow dart, adiabatic, m/s", *_reservoir(), "Rohrbach et al. 2012, eq. 3"),
        ("mass on a heavy spring", 0.8603336, _chain(), "y tan y = 1 (Graff 1975)"),
    ]
    table = pd.DataFrame(rows, columns=["case", "outside", "model", "source"])
    table.insert(3, "off_percent", 100.0 * (table.model / table.outside - 1.0))
    return table.set_index("case")
