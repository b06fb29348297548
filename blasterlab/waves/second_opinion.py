"""A second opinion on a shot: the waves in its gas, or in its springs, resolved for one build.

What it is for: the public face of ``gas_shot`` and ``chain_shot``; units in, units out, and the shot model's
answer beside it.  What it leaves out: the equations, and how far off the model is over many builds
(``model_grid``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.shot.from_build import with_end_coils
from blasterlab.shot.parameters import Floats
from blasterlab.shot.rules import EXITED
from blasterlab.shot.simulate import Shot, simulate
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike
from blasterlab.waves.chain_shot import ChainMoment, ChainOutcome, chain_run
from blasterlab.waves.gas_shot import GasMoment, WaveOutcome, WaveRun, wave_run

_ROWS = 400
_POINTS = 160
_UNITS = {"time": "s", "travel": "m", "speed": "m_s", "pressure": "Pa", "force": "N"}


class PressureField(NamedTuple):
    """Pressure in space and time, SI: the shape of the pressure is (times, 2, places)."""

    time: Floats
    places: Floats  # in chamber and barrel, (2, n): from the plunger at the catch, and from the port
    pressure: Floats  # NaN where there is no gas behind the dart


class _Opinion(Spoken):
    """What both second opinions say about a shot."""

    outcome: WaveOutcome | ChainOutcome
    shot_model: Shot

    @property
    def exited(self) -> bool:
        """Whether the dart left the muzzle."""
        return self.outcome.status == EXITED

    @property
    def muzzle_velocity(self) -> Quantity:
        """Speed of the dart as its tail leaves the muzzle; 0 when it never leaves [m/s]."""
        return units.quantity(self.outcome.muzzle_velocity if self.exited else 0.0, "m/s")

    @property
    def exit_time(self) -> Quantity:
        """Time from the release to the exit, or to the end when the dart never leaves [ms]."""
        return units.quantity(1e3 * self.outcome.time, "ms")

    @property
    def velocity_error(self) -> float:
        """What the shot model's muzzle velocity is off by, as a share of this one; NaN without both [-]."""
        if not (self.exited and self.shot_model.exited):
            return math.nan
        return float(self.shot_model.muzzle_velocity / self.muzzle_velocity) - 1.0


def _table(rows: Floats, columns: tuple[str, ...]) -> pd.DataFrame:
    """The samples as a table whose columns say their units, such as ``dart_speed_m_s``."""
    names = [f"{name}_{_UNITS[name.rpartition('_')[2]]}" for name in columns]
    return pd.DataFrame(rows, columns=names).set_index("time_s")


@dataclass(frozen=True)
class WaveShot(_Opinion):
    """One shot with the waves in the gas resolved.

    Attributes
    ----------
    build : Build [-]
        What was shot.
    cell : Quantity [mm]
        Length of a cell.
    outcome : WaveOutcome [SI]
        The solver's own result.
    shot_model : Shot [-]
        The same build in the shot model.
    """

    build: Build
    cell: Quantity
    outcome: WaveOutcome
    shot_model: Shot

    @property
    def peak_pressure(self) -> Quantity:
        """Highest mean absolute pressure in the chamber, which the shot model's compares with [kPa]."""
        return units.quantity(1e-3 * self.outcome.chamber_peak, "kPa")

    @cached_property
    def _run(self) -> WaveRun:
        every = max(self.outcome.time / _ROWS, 1e-7)
        return wave_run(self.shot_model.parameters, float(self.cell.m_as("m")), every, _ROWS + 2, _POINTS)

    @property
    def history(self) -> pd.DataFrame:
        """The shot in time: SI columns named with their units, indexed by time in s; pressures absolute."""
        return _table(self._run.history, GasMoment._fields)

    @property
    def field(self) -> PressureField:
        """Pressure in space and time: time [s], places [m], pressure [Pa]."""
        p, run = self.shot_model.parameters, self._run
        middle = (np.arange(_POINTS) + 0.5) / _POINTS
        chamber = p.stroke + p.chamber_dead / p.plunger_area
        barrel = p.length + p.barrel_dead / p.barrel_area
        return PressureField(run.history[:, 0], np.outer([chamber, barrel], middle), run.field)


def wave_shot(build: Build, charge: QuantityLike | None = None, cell: QuantityLike = "2 mm") -> WaveShot:
    """Shoot a build with the waves in its gas resolved: slow, a second opinion on `simulate`.

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
        The result, with the shot model's beside it [-].

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
    model = simulate(build, charge)
    return WaveShot(build, units.quantity(1e3 * size, "mm"), wave_run(model.parameters, size).outcome, model)


@dataclass(frozen=True)
class SpringWaveShot(_Opinion):
    """One shot with the waves in its springs resolved.

    Attributes
    ----------
    build : Build [-]
        What was shot.
    outcome : ChainOutcome [SI]
        The solver's own result.
    shot_model : Shot [-]
        The same build in the shot model.
    """

    build: Build
    outcome: ChainOutcome
    shot_model: Shot
    _rows: Floats

    @property
    def transit(self) -> Quantity:
        """The longest time that a wave needs along a spring [ms]."""
        si = self.build.si
        count = len(self.build.springs)
        longest = max(math.sqrt(si[f"spring{n}.active_mass"] / si[f"spring{n}.rate"]) for n in range(count))
        return units.quantity(1e3 * longest, "ms")

    @property
    def history(self) -> pd.DataFrame:
        """The shot in time: SI columns named with their units, indexed by time in s; pressures absolute."""
        return _table(self._rows, ChainMoment._fields)


def spring_wave_shot(build: Build, elements: int = 40) -> SpringWaveShot:
    """Shoot a build with the waves in its springs resolved.

    Parameters
    ----------
    build : Build [-]
        The build; its losses ``spring_waves`` and ``spring_mass_fraction`` are not used.
    elements : int [-]
        Links of each spring's chain, 1 to 400.

    Returns
    -------
    SpringWaveShot
        The result, with the shot model's beside it [-].

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
    >>> shot.exited and abs(shot.velocity_error) < 1e-4
    True
    """
    model = simulate(build)
    si = build.si
    masses = tuple(si[f"spring{n}.active_mass"] for n in range(len(build.springs)))
    p = model.parameters._replace(plunger_mass=float(with_end_coils(si)))
    every = max(model.outcome.time, 1e-3) / _ROWS
    outcome, rows = chain_run(p, masses, elements, rows=_ROWS, every=every)
    return SpringWaveShot(build, outcome, model, rows)
