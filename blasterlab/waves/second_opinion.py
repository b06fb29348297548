"""A second opinion on a shot: the waves in the gas, or the waves in the spring, resolved for one build.

What it is for: the public face of ``waves`` and ``spring_waves``; units in, units out, and the lumped model's
answer beside it.  What it leaves out: the equations, and judgement over many builds (``trust``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.from_build import parameters
from blasterlab.shot.simulate import Shot, simulate
from blasterlab.waves.gas_shot import HISTORY, WaveOutcome, wave_run
from blasterlab.waves.spring_chain import ChainOutcome, chain_run

if TYPE_CHECKING:
    import pandas as pd

_ROWS = 400
_POINTS = 160
_NAMES = {
    "s": "plunger_travel_m",
    "u": "plunger_speed_m_s",
    "y": "dart_travel_m",
    "w": "dart_speed_m_s",
    "chamber": "chamber_pressure_Pa",
    "barrel": "barrel_pressure_Pa",
    "plunger": "plunger_face_pressure_Pa",
    "port": "port_pressure_Pa",
    "breech": "breech_pressure_Pa",
    "base": "base_pressure_Pa",
    "nose": "nose_pressure_Pa",
}


def _speed(status: int, value: float) -> Any:
    return units.quantity(value if status == rules.EXITED else 0.0, "m/s")


@dataclass(frozen=True)
class WaveShot:
    """One shot with the waves in the gas resolved.

    Attributes
    ----------
    build : Build [-]
        What was shot.
    cell : float [m]
        Length of a cell.
    outcome : WaveOutcome [SI]
        The solver's own result.
    lumped : Shot [-]
        The same build in the lumped model.
    """

    build: Build
    cell: float
    outcome: WaveOutcome
    lumped: Shot
    _p: k.Parameters

    @property
    def exited(self) -> bool:
        """Whether the dart left the muzzle."""
        return self.outcome.status == rules.EXITED

    @property
    def muzzle_velocity(self) -> Any:
        """Speed of the dart as its tail leaves the muzzle; 0 when it never leaves [m/s]."""
        return _speed(self.outcome.status, self.outcome.muzzle_velocity)

    @property
    def exit_time(self) -> Any:
        """Time from the release to the exit, or to the end [ms]."""
        return units.quantity(1e3 * self.outcome.time, "ms")

    @property
    def peak_pressure(self) -> Any:
        """Highest mean absolute pressure in the chamber, as the lumped model has it [kPa]."""
        return units.quantity(1e-3 * self.outcome.chamber_peak, "kPa")

    @property
    def velocity_error(self) -> float:
        """What the lumped muzzle velocity is off by, as a share of this one; NaN when nothing left [-]."""
        if not (self.exited and self.lumped.exited):
            return math.nan
        return float(self.lumped.muzzle_velocity / self.muzzle_velocity) - 1.0

    @cached_property
    def _run(self) -> Any:
        every = max(self.outcome.time / _ROWS, 1e-7)
        return wave_run(self._p, self.cell, every, _ROWS + 2, _POINTS)

    @property
    def history(self) -> pd.DataFrame:
        """The shot in time: SI columns named with their units, indexed by time in s; pressures absolute."""
        import pandas as pd

        rows = self._run.history
        index = pd.Index(rows[:, 0], name="time_s")
        return pd.DataFrame({_NAMES[name]: rows[:, i] for i, name in enumerate(HISTORY) if i}, index=index)

    @property
    def field(self) -> tuple[Any, Any, Any]:
        """Pressure in space and time: time [s], places [m] in chamber and barrel (2, n), pressure [Pa].

        Places run from the plunger's place at the catch to the port, and from the port to the muzzle.  The
        pressure has the shape (times, 2, n) and is NaN where there is no gas behind the dart.
        """
        p, run = self._p, self._run
        middle = (np.arange(_POINTS) + 0.5) / _POINTS
        chamber = p.stroke + p.chamber_dead / p.plunger_area
        start = p.barrel_dead / p.barrel_area
        places = np.array([middle * chamber, middle * (p.length + start)])
        return run.history[:, 0], places, run.field


def wave_shot(build: Build, charge: Any = None, cell: Any = "2 mm") -> WaveShot:
    """Shoot a build with the waves in its gas resolved: slow, and the judge of `simulate`.

    Parameters
    ----------
    build : Build [-]
        The build.
    charge : Quantity or str or None [pressure]
        As for `simulate`.
    cell : Quantity or str [length]
        Length of a cell, 0.2 mm to 10 mm.

    Returns
    -------
    WaveShot
        The result, with the lumped model's beside it [-].

    Raises
    ------
    UnitError
        A charge or a cell outside its range.
    ValueError
        A cell longer than the stroke or the barrel.

    Notes
    -----
    The first call compiles for some ten seconds; then a shot takes about half a second.

    References
    ----------
    See ``blasterlab.waves.gas_shot``.

    Examples
    --------
    >>> import blasterlab as bl
    >>> abs(bl.wave_shot(bl.demo_build("workhorse"), cell="5 mm").velocity_error) < 0.02
    True
    """
    size = units.si_in(cell, "length", "cell", 0.2e-3, 10e-3, "finer takes too long, coarser says too little")
    lumped = simulate(build, charge)
    pressure = 0.0 if charge is None else units.si(charge, "pressure", "charge")
    p = parameters(build.si, pressure)
    return WaveShot(build, size, wave_run(p, size).outcome, lumped, p)


@dataclass(frozen=True)
class SpringWaveShot:
    """One shot with the waves in its springs resolved.

    Attributes
    ----------
    build : Build [-]
        What was shot.
    elements : int [-]
        Links of each spring's chain.
    outcome : ChainOutcome [SI]
        The solver's own result.
    lumped : Shot [-]
        The same build with a share of the springs' mass on the plunger.
    """

    build: Build
    elements: int
    outcome: ChainOutcome
    lumped: Shot
    _rows: Any

    @property
    def exited(self) -> bool:
        """Whether the dart left the muzzle."""
        return self.outcome.status == rules.EXITED

    @property
    def muzzle_velocity(self) -> Any:
        """Speed of the dart as its tail leaves the muzzle; 0 when it never leaves [m/s]."""
        return _speed(self.outcome.status, self.outcome.muzzle_velocity)

    @property
    def transit(self) -> Any:
        """The longest time that a wave needs along a spring [ms]."""
        si = self.build.si
        times = [
            math.sqrt(si[f"spring{n}.mass"] / si[f"spring{n}.rate"]) for n in range(len(self.build.springs))
        ]
        return units.quantity(1e3 * max(times), "ms")

    @property
    def velocity_error(self) -> float:
        """What the rule of the effective mass is off by, as a share; NaN when nothing left [-]."""
        if not (self.exited and self.lumped.exited):
            return math.nan
        return float(self.lumped.muzzle_velocity / self.muzzle_velocity) - 1.0

    @property
    def history(self) -> pd.DataFrame:
        """The shot in time: SI columns named with their units, indexed by time in s; pressures absolute."""
        import pandas as pd

        names = [
            "plunger_travel_m",
            "plunger_speed_m_s",
            "dart_travel_m",
            "dart_speed_m_s",
            "chamber_pressure_Pa",
            "barrel_pressure_Pa",
            "spring_force_N",
        ]
        index = pd.Index(self._rows[:, 0], name="time_s")
        return pd.DataFrame({name: self._rows[:, i + 1] for i, name in enumerate(names)}, index=index)


def spring_wave_shot(build: Build, elements: int = 40) -> SpringWaveShot:
    """Shoot a build with the waves in its springs resolved.

    Parameters
    ----------
    build : Build [-]
        The build; the springs' own masses are used, ``spring_mass_fraction`` is not.
    elements : int [-]
        Links of each spring's chain, 1 to 400.

    Returns
    -------
    SpringWaveShot
        The result, with the lumped model's beside it [-].

    Raises
    ------
    ValueError
        A number of elements out of range.

    Notes
    -----
    The spring is taken as fixed behind and only pressing on the plunger; coils that touch are left out.

    References
    ----------
    See ``blasterlab.waves.spring_chain``.

    Examples
    --------
    >>> import blasterlab as bl
    >>> shot = bl.spring_wave_shot(bl.demo_build("workhorse"))
    >>> shot.exited and shot.velocity_error > 0.0
    True
    """
    lumped = simulate(build)
    si = build.si
    masses = tuple(si[f"spring{n}.mass"] for n in range(len(build.springs)))
    p = parameters(si)._replace(plunger_mass=si["chamber.plunger_mass"])
    every = max(lumped.outcome.time, 1e-3) / _ROWS
    outcome, rows = chain_run(p, masses, elements, rows=_ROWS, every=every)
    return SpringWaveShot(build, elements, outcome, lumped, rows)
