"""Hold the models with waves against answers from outside, some seconds::

    python tests/bench/make_validation.py

What it is for: ``data/computed/validation.csv``, anew.  What it leaves out: reading it
(``waves.model_grid.validation``); convergence and conservation, which the tests hold.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import numpy as np
import pandas as pd

from blasterlab import tables
from blasterlab.closed_forms.readers import DRY_AIR
from blasterlab.closed_forms.reservoir_gun import reservoir_build, reservoir_velocity
from blasterlab.files import write_whole
from blasterlab.shot.from_build import parameters
from blasterlab.shot.parameters import GAMMA
from blasterlab.waves.gas_shot import wave_run
from blasterlab.waves.spring_chain import chain_rates

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from gas_tube import OPEN, PISTON, PistonMoment, run_tube
from wave_limits import lagrange_problem, moving_fraction, piston_shock

_T, _PA = 293.15, 101_325.0
_C = math.sqrt(GAMMA * DRY_AIR * _T)


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
    echo = lagrange_problem("500 kPa", "30 cm", "12.9 mm", "1 g")
    gas = np.tile([[500e3 / (DRY_AIR * _T)], [0.0], [500e3]], (1, 200))
    area = math.pi / 4.0 * 0.0129**2
    tube = run_tube(gas, 0.30, echo.time.m_as("s"), area=area, right=PISTON, piston_mass=1e-3)
    return float(echo.speed.m_as("m/s")), float(tube.piston_speed)


def _shock() -> tuple[float, float]:
    """Pressure ratio on a piston that is set moving into still air at 100 m/s."""
    rho = _PA / (DRY_AIR * _T)
    air = np.tile([[rho], [0.0], [_PA]], (1, 100))
    tube = run_tube(air, 0.3, 4e-4, left=PISTON, push=(100.0, 0.0), right=OPEN, air=(rho, _PA))
    return piston_shock(100.0 / _C), float(PistonMoment(*tube.piston_history[-1]).left_pressure) / _PA


def _reservoir() -> tuple[float, float]:
    """A slow dart of 100 g from 50 cm³ at 300 kPa: the adiabatic closed form, the gas mixed at first."""
    build = reservoir_build().replace({"dart.mass": "100 g"})
    volume, dead = build.si["chamber.dead_volume"], build.si["barrel.dead_volume"]
    mixed = (300e3 * volume + _PA * dead) / (volume + dead)
    exact = reservoir_velocity(f"{mixed} Pa", f"{volume + dead} m^3", "12.9 mm", "100 g", "40 cm")
    speed = wave_run(parameters(build.si, 300e3), 4e-3).outcome.muzzle_velocity
    return float(exact.m_as("m/s")), speed


def _chain(links: int = 40) -> tuple[float, float]:
    """Lowest frequency of a mass on a spring of the same mass, over sqrt(k/M)."""
    system = np.zeros((links, links))
    for j in range(links):
        z, dz, dv = np.zeros(links), np.zeros(links), np.zeros(links)
        z[j] = 1.0
        force = chain_rates(z, np.zeros(links), links, 1.0, 0.0, 1.0, dz, dv)
        dv[-1] = force / (1.0 + 0.5 / links)
        system[:, j] = dv
    exact = (1.0 + moving_fraction(1.0)) ** -0.5
    return exact, math.sqrt(-float(np.linalg.eigvals(system).real.max()))


def validation() -> pd.DataFrame:
    """The models with waves against answers from outside; the sources are those of `bl.validation`."""
    pressure, speed = _sod()
    rows = [
        ("shock tube, pressure", 0.30313, pressure, "Toro 2009, Table 4.3"),
        ("shock tube, speed", 0.92745, speed, "Toro 2009, Table 4.3"),
        ("piston into a vacuum, m/s", *_lagrange(), "Love and Pidduck 1922"),
        ("piston into air, p/p_a", *_shock(), "Liepmann and Roshko 1957"),
        ("slow dart, adiabatic, m/s", *_reservoir(), "Rohrbach et al. 2012, eq. 3"),
        ("mass on a heavy spring", *_chain(), "y tan y = 1 (Graff 1975)"),
    ]
    return pd.DataFrame(rows, columns=["case", "outside", "model", "source"])


def main() -> None:
    """Write the table."""
    head = (
        "# Computed by this kit, not measured: the models with waves against answers from outside. "
        "Make it again: python tests/bench/make_validation.py\n"
    )
    text = validation().to_csv(index=False, float_format="%.10g", lineterminator="\n")
    write_whole(tables.data_folder() / "computed" / "validation.csv", head + text)


if __name__ == "__main__":
    main()
