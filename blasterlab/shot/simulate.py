"""The shot's public face: simulate a build, its energy ledger and its history.

What it is for: units in, units out, and a reason when the dart does not leave.  What it leaves out: the
equations (``kernel``), many shots at once (``batch``), barrel lengths (``sweep``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.shot import equations as k
from blasterlab.shot import integrate as stepper
from blasterlab.shot import rules
from blasterlab.shot.assumptions import warnings_of
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import Outcome

if TYPE_CHECKING:
    import pandas as pd

#: Default tolerance of the integrator: muzzle velocity to about one part in a million.
TOLERANCE = 1e-6
_HISTORY_STEPS = 500
_FINER = (1.0, 0.1, 1e-2, 1e-3)  # one shot in some thousands needs a second, finer go until its ledger closes
_NO_RECORD = np.empty((0, stepper.COLUMNS))
_HISTORY_COLUMNS = {
    "plunger_travel_m": 1 + k.S,
    "plunger_speed_m_s": 1 + k.U,
    "dart_travel_m": 1 + k.Y,
    "dart_speed_m_s": 1 + k.W,
    "chamber_pressure_Pa": 14,
    "barrel_pressure_Pa": 15,
    "base_pressure_Pa": 16,
    "chamber_gas_kg": 1 + k.M1,
    "barrel_gas_kg": 1 + k.M2,
}


@dataclass(frozen=True)
class Shot:
    """One shot.

    Attributes
    ----------
    build : Build [-]
        What was shot.
    exited : bool [-]
        Whether the dart left the muzzle.
    reason : str [-]
        Why not, in words; empty when it left.
    tolerance : float [-]
        What the integrator was asked for.
    charge : Quantity or None [pressure]
        The charged chamber's absolute pressure, None for a spring shot.
    outcome : Outcome [SI]
        The kernel's own result.
    state : ndarray, shape (13,) [SI]
        The kernel's state at the end.
    """

    build: Build
    exited: bool
    reason: str
    tolerance: float
    charge: Any
    outcome: Outcome
    state: Any
    _p: k.Parameters

    @property
    def muzzle_velocity(self) -> Any:
        """Speed of the dart as its tail leaves the muzzle; 0 when it never leaves [m/s]."""
        return units.quantity(float(self.state[k.W]) if self.exited else 0.0, "m/s")

    @property
    def muzzle_energy(self) -> Any:
        """Kinetic energy of the dart at the muzzle; 0 when it never leaves [J]."""
        speed = float(self.state[k.W]) if self.exited else 0.0
        return units.quantity(0.5 * self._p.dart_mass * speed**2, "J")

    @property
    def exit_time(self) -> Any:
        """Time from the release to the exit, or to the end when the dart never leaves [ms]."""
        return units.quantity(1e3 * self.outcome.time, "ms")

    @property
    def peak_pressure(self) -> Any:
        """Highest absolute pressure in the chamber [kPa]."""
        return units.quantity(1e-3 * self.outcome.chamber_peak, "kPa")

    @property
    def peak_barrel_pressure(self) -> Any:
        """Highest absolute pressure behind the dart [kPa]."""
        return units.quantity(1e-3 * self.outcome.barrel_peak, "kPa")

    @property
    def impact_speed(self) -> Any:
        """Fastest that the plunger hit its front stop; 0 when it did not before the dart left [m/s]."""
        return units.quantity(self.outcome.impact_speed, "m/s")

    @property
    def spring_work(self) -> Any:
        """Work that the springs gave until the end (0 for a charged chamber) [J]."""
        return units.quantity(self.outcome.spring_work, "J")

    @property
    def energy_in(self) -> Any:
        """Energy put in: the springs' work, or the charge's energy above ambient [J]."""
        return units.quantity(energy_in(self._p, self.outcome), "J")

    @property
    def efficiency(self) -> float:
        """Muzzle energy over all the energy that the springs hold at the catch above their preload [-]."""
        whole = (
            k.spring_work(self._p, self._p.stroke)
            if self.charge is None
            else energy_in(self._p, self.outcome)
        )
        return float(self.muzzle_energy.magnitude / whole) if whole > 0.0 else 0.0

    @property
    def ledger(self) -> Mapping[str, Any]:
        """Where the energy went; the entries sum to `energy_in` [J] (see `ledger_gap`).

        The atmosphere's entry is the work done against it by dart and plunger together, negative when the
        plunger took more room than the dart gave back; it belongs with the gas's internal energy.
        """
        entries = ledger(self._p, self.outcome, self.state)
        return MappingProxyType({name: units.quantity(value, "J") for name, value in entries.items()})

    @property
    def ledger_gap(self) -> float:
        """What the ledger leaves unexplained, as a share of the energy put in [-].

        Where hardly anything moved: as a share of a thousandth of what the springs hold at the catch.
        """
        return ledger_gap(self._p, self.outcome, self.state)

    @property
    def warnings(self) -> list[str]:
        """Assumptions of the model that this shot breaks, in words; empty when all hold [-]."""
        si = self.build.si
        springs = [(si[f"spring{n}.rate"], si[f"spring{n}.mass"]) for n in range(len(self.build.springs))]
        return warnings_of(self._p, self.outcome, self.state, [] if self._p.charge else springs)

    @cached_property
    def history(self) -> pd.DataFrame:
        """The shot in time: SI columns named with their units, indexed by time in s.

        It is integrated again with short steps, so every row is the solver's own and none is interpolated.
        """
        import pandas as pd

        record = np.empty((40 * _HISTORY_STEPS, stepper.COLUMNS))
        state = np.empty(k.STATES)
        step = max(self.outcome.time / _HISTORY_STEPS, 1e-9)
        outcome = stepper.integrate(self._p, self.tolerance, step, state, record)
        rows = record[: outcome.records]
        index = pd.Index(rows[:, 0], name="time_s")
        return pd.DataFrame({name: rows[:, place] for name, place in _HISTORY_COLUMNS.items()}, index=index)


def energy_in(p: k.Parameters, outcome: Outcome) -> float:
    """Energy put into a shot: the springs' work so far, or the charge's energy above ambient.

    Parameters
    ----------
    p : Parameters [SI]
        The shot's parameters.
    outcome : Outcome [SI]
        Its result.

    Returns
    -------
    float
        Energy [J].
    """
    if p.charge > 0.0:
        return (p.charge - p.ambient_pressure) * p.chamber_dead / (k.GAMMA - 1.0)
    return outcome.spring_work


def ledger(p: k.Parameters, outcome: Outcome, x: Any) -> dict[str, float]:
    """The energy ledger of a shot's final state.

    Parameters
    ----------
    p : Parameters [SI]
        The shot's parameters.
    outcome : Outcome [SI]
        Its result.
    x : ndarray, shape (13,) [SI]
        Its final state.

    Returns
    -------
    dict of str to float
        Entries that sum to `energy_in` [J].

    Notes
    -----
    First law on both gas volumes with the moving parts; the internal energy is counted from the gas that
    was there at the start, the atmosphere by the volumes that plunger and dart changed.
    """
    pa, share = p.ambient_pressure, 1.0 / (k.GAMMA - 1.0)
    travelled = x[k.S] if p.charge == 0.0 else 0.0
    start = (
        pa
        * (p.plunger_area * (p.stroke if p.charge == 0.0 else 0.0) + p.chamber_dead + p.barrel_dead)
        * share
    )
    column = p.air_ahead * pa / (p.gas_constant * p.ambient_temperature) * p.barrel_area * (p.length - x[k.Y])
    return {
        "dart": float(0.5 * p.dart_mass * x[k.W] ** 2),
        "plunger": 0.5 * p.plunger_mass * x[k.U] ** 2,
        "front stop": outcome.stop_energy,
        "seal friction": float(x[k.SEAL_WORK]),
        "dart friction": float(x[k.DART_WORK]),
        "gas internal energy": float(x[k.E1] + x[k.E2]) - start,
        "gas motion": p.gas_inertia * x[k.M2] * x[k.W] ** 2 / 6.0,
        "air ahead": 0.5 * column * x[k.W] ** 2 + float(x[k.JET]),
        "leaks": float(x[k.LEAKED]),
        "wall heat": float(x[k.HEAT]),
        "atmosphere": pa * (p.barrel_area * x[k.Y] - p.plunger_area * travelled),
    }


def ledger_gap(p: k.Parameters, outcome: Outcome, state: Any) -> float:
    """What a ledger leaves unexplained; see `Shot.ledger_gap`.

    Parameters
    ----------
    p : Parameters [SI]
        The shot's parameters.
    outcome : Outcome [SI]
        Its result.
    state : ndarray, shape (13,) [SI]
        The state at its end.

    Returns
    -------
    float
        Share of the energy put in [-].
    """
    put_in = energy_in(p, outcome)
    least = max(1e-3 * k.spring_work(p, p.stroke), 1e-12)
    return abs(sum(ledger(p, outcome, state).values()) - put_in) / max(put_in, least)


def net_ledger(shot: Shot) -> dict[str, float]:
    """The ledger as a builder reads it: gas, leaks and atmosphere together as what stays in the air.

    Formula: the internal energy left, plus the atmosphere's work, plus what the leaks carried, all counted
    against the same gas at rest at ambient pressure and temperature.

    Parameters
    ----------
    shot : Shot [-]
        A shot.

    Returns
    -------
    dict of str to float
        dart, plunger and front stop, seal friction, dart friction, air pushed out, air left warm or
        compressed, leaks, wall heat [J].
    """
    p, x = shot._p, shot.state
    entries = ledger(p, shot.outcome, x)
    specific = p.gas_constant * p.ambient_temperature * k.GAMMA / (k.GAMMA - 1.0)
    first = p.ambient_pressure * (p.plunger_area * p.stroke + p.chamber_dead + p.barrel_dead)
    if p.charge:
        first = p.charge * p.chamber_dead + p.ambient_pressure * p.barrel_dead
    lost = first / (p.gas_constant * p.ambient_temperature) - x[k.M1] - x[k.M2]
    return {
        "dart": entries["dart"],
        "plunger and stop": entries["plunger"] + entries["front stop"],
        "seal friction": entries["seal friction"],
        "dart friction": entries["dart friction"],
        "air pushed along": entries["gas motion"] + entries["air ahead"],
        "air left behind": entries["gas internal energy"] + entries["atmosphere"] + specific * lost,
        "leaks": entries["leaks"] - specific * lost,
        "wall heat": entries["wall heat"],
    }


def _reason(p: k.Parameters, outcome: Outcome, x: Any) -> str:
    peak = units.show(max(outcome.barrel_peak - p.ambient_pressure, 0.0) * p.barrel_area, "force", 3)
    hold = units.show(p.dart_breakaway, "force", 3)
    if outcome.status == rules.NO_BREAKAWAY:
        return f"the dart never broke away: the gas pushed with {peak} at most, and {hold} hold it"
    if outcome.status == rules.STALLED:
        place = units.show(float(x[k.Y]), "length", 3)
        return f"the dart stalled {place} down the barrel: too much friction or leak, or too long a barrel"
    if outcome.status == rules.NO_RELEASE:
        friction = units.show(p.seal_breakaway, "force", 3)
        return f"the plunger never moved: the spring pushes with less than the seal's {friction}"
    if outcome.status == rules.TIME_OUT:
        return f"the dart was still in the barrel after {units.show(rules.TIME_LIMIT, 'time', 3)}"
    return "the integration did not converge; please report this build"


def simulate(build: Build, charge: Any = None, tolerance: float = TOLERANCE) -> Shot:
    """Simulate one shot of a build.

    Parameters
    ----------
    build : Build [-]
        The build.
    charge : Quantity or str or None [pressure]
        Start with the chamber's dead volume at this absolute pressure and the plunger held at its front
        stop, instead of releasing the spring.
    tolerance : float [-]
        Of the integrator, 1e-12 to 1e-2, relative to the size of each state.  A shot whose ledger does not
        close to it (to 1e-6 at best) is shot again with a finer one, which `Shot.tolerance` then tells.

    Returns
    -------
    Shot
        The result; a dart that never leaves is a result with a reason.

    Raises
    ------
    UnitError
        A charge outside ambient pressure to 5 MPa, or a tolerance outside its range.

    Notes
    -----
    Assumes two well-mixed volumes of ideal gas; waves in the gas and in the spring are left out.  See
    ``kernel`` for the equations.  Energies and speeds are information, not a permit: eye protection for
    everybody in range; the event's rules and the local law decide.

    References
    ----------
    See ``blasterlab.shot.equations``.

    Examples
    --------
    >>> import blasterlab as bl
    >>> shot = bl.simulate(bl.demo_build("workhorse"))
    >>> shot.exited and 30 < shot.muzzle_velocity.m_as("m/s") < 70
    True
    """
    if not 1e-12 <= tolerance <= 1e-2:
        raise units.UnitError(f"tolerance: read {tolerance}; allowed is 1e-12 to 1e-2")
    pressure = 0.0
    if charge is not None:
        low = build.si["air.pressure"]
        pressure = units.si_in(charge, "pressure", "charge", low, 5e6, "absolute, from ambient upwards")
    p = parameters(build.si, pressure)
    state = np.empty(k.STATES)
    for used in (tolerance * finer for finer in _FINER):
        outcome = stepper.integrate(p, used, 1.0, state, _NO_RECORD)
        if ledger_gap(p, outcome, state) <= max(TOLERANCE, tolerance) or outcome.status == rules.FAILED:
            break
    exited = outcome.status == rules.EXITED
    reason = "" if exited else _reason(p, outcome, state)
    kept = None if charge is None else units.parse(charge, "pressure", "charge")
    return Shot(build, exited, reason, used, kept, outcome, state, p)
