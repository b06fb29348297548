"""The shot's public face: simulate a build, its results, its energy ledger, its history and its moments.

What it is for: units in, units and codes out.  What it leaves out: the integration (``integrate``), many
shots at once (``many``), barrel lengths (``barrel_sweep``), words (``report``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.shot import equations as k
from blasterlab.shot import integrate as run
from blasterlab.shot import rules
from blasterlab.shot.assumptions import Broken, broken_assumptions
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import TOLERANCE, Outcome
from blasterlab.shot.ledger import ledger
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.results import Results
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

_HISTORY_STEPS = 500
_HISTORY_COLUMNS = {
    "plunger_travel_m": run.AT + k.S,
    "plunger_speed_m_s": run.AT + k.U,
    "dart_travel_m": run.AT + k.Y,
    "dart_speed_m_s": run.AT + k.W,
    "chamber_pressure_Pa": run.CHAMBER,
    "barrel_pressure_Pa": run.BARREL,
    "base_pressure_Pa": run.BASE,
    "chamber_gas_kg": run.AT + k.M1,
    "barrel_gas_kg": run.AT + k.M2,
}


@dataclass(frozen=True)
class Shot(Results, Spoken):
    """One shot.

    Attributes
    ----------
    build : Build [-]
        What was shot.
    charge : Quantity or None [pressure]
        The charged chamber's absolute pressure, None for a spring shot.
    parameters : Parameters [SI]
        What the integrator was given.
    outcome : Outcome [SI]
        What it found.
    state : ndarray, shape (states,) [SI]
        The state at the end.
    """

    build: Build
    charge: Quantity | None
    parameters: Parameters
    outcome: Outcome
    state: Floats

    @property
    def exited(self) -> bool:
        """Whether the dart left the muzzle [-]."""
        return bool(self.outcome.status == rules.EXITED)

    @property
    def status(self) -> str:
        """How it ended, a name in `rules.STATUS` [-]."""
        return rules.STATUS[self.outcome.status]

    @property
    def tolerance(self) -> float:
        """What the integrator was asked for in the end [-]."""
        return self.outcome.tolerance

    @property
    def dart_hold(self) -> Quantity:
        """Force that the dart needs to start, at ambient pressure [N]."""
        p = self.parameters
        return units.quantity(float(rules.dart_hold(p, p.ambient_pressure)), "N")

    @property
    def seal_hold(self) -> Quantity:
        """Force that the plunger needs to start, at ambient pressure [N]."""
        p = self.parameters
        return units.quantity(float(rules.seal_hold(p, p.ambient_pressure)), "N")

    @property
    def energy_in(self) -> Quantity:
        """Energy put in: the springs' work, or the charge's energy above ambient [J]."""
        return units.quantity(float(k.energy_in(self.parameters, self.state[k.S])), "J")

    @property
    def efficiency(self) -> float:
        """Muzzle energy over all the energy that the springs hold at the catch above their preload [-]."""
        whole = k.energy_in(self.parameters, self.parameters.stroke)
        return float(self.muzzle_energy.magnitude / whole) if whole > 0.0 else 0.0

    @property
    def ledger(self) -> Mapping[str, Quantity]:
        """Where the energy went; the entries sum to `energy_in` [J] (see `ledger_gap`).

        The atmosphere's entry is the work done against it by dart and plunger together, negative when the
        plunger took more room than the dart gave back; it belongs with the gas's internal energy.
        """
        entries = ledger(self.parameters, self.outcome, self.state)
        return MappingProxyType({name: units.quantity(value, "J") for name, value in entries.items()})

    @property
    def ledger_gap(self) -> float:
        """What the ledger leaves unexplained, as a share of the energy put in [-].

        Where hardly anything moved: as a share of a thousandth of what the springs hold at the catch.
        """
        return self.outcome.ledger_gap

    @property
    def broken_assumptions(self) -> list[Broken]:
        """Assumptions of the model that this shot breaks, by code, with value and limit [-]."""
        si, springs = self.build.si, []
        if self.charge is None and not self.build.losses.spring_waves:
            places = range(len(self.build.springs))
            springs = [(si[f"spring{place}.rate"], si[f"spring{place}.mass"]) for place in places]
        return broken_assumptions(self.parameters, self.outcome, self.state, springs)

    @cached_property
    def history(self) -> pd.DataFrame:
        """The shot in time: SI columns named with their units, indexed by time in s.

        It is integrated again with short steps, so every row is the solver's own and none is interpolated.
        """
        record = np.empty((40 * _HISTORY_STEPS, run.COLUMNS))
        step = max(self.outcome.time / _HISTORY_STEPS, 1e-9)
        outcome = run.integrate(self.parameters, self.tolerance, step, np.empty(k.STATES), record)
        rows = record[: outcome.records]
        index = pd.Index(rows[:, run.TIME], name="time_s")
        return pd.DataFrame({name: rows[:, place] for name, place in _HISTORY_COLUMNS.items()}, index=index)


def checked(charge: QuantityLike | None, ambient: float, tolerance: float) -> float:
    """The charge's pressure of a shot or of a batch, 0 without one, once it and the tolerance are found fit.

    Parameters
    ----------
    charge : Quantity or str or None [pressure]
        As in `simulate`.
    ambient : float [Pa]
        The highest ambient pressure that the charge must not lie below.
    tolerance : float [-]
        As in `simulate`.

    Returns
    -------
    float
        Absolute pressure [Pa].

    Raises
    ------
    UnitError
        A charge outside ambient pressure to 5 MPa, or a tolerance outside its range.
    """
    if not 1e-12 <= tolerance <= 1e-2:
        raise units.UnitError(f"tolerance: got {tolerance}; must be 1e-12 to 1e-2")
    if charge is None:
        return 0.0
    return units.si_in(charge, "pressure", "charge", ambient, 5e6, "absolute, from ambient upwards")


def simulate(build: Build, charge: QuantityLike | None = None, tolerance: float = TOLERANCE) -> Shot:
    """Simulate one shot of a build.

    Parameters
    ----------
    build : Build [-]
        The build.
    charge : Quantity or str or None [pressure]
        Start with the chamber's dead volume at this absolute pressure and the plunger held at its front
        stop, instead of releasing the spring.
    tolerance : float [-]
        Of the integrator, 1e-12 to 1e-2, relative to the size of each state: at 1e-6 half of the muzzle
        velocities of random builds lie within 2e-6 of the exact solution, nine in ten within 1e-5.  A shot
        whose ledger does not close to it (to 1e-6 at best) is shot again with a finer one, which
        `Shot.tolerance` then tells.

    Returns
    -------
    Shot
        The result; a dart that never leaves is a result too, `Shot.status` says how it ended.

    Raises
    ------
    UnitError
        A charge outside ambient pressure to 5 MPa, or a tolerance outside its range.

    Notes
    -----
    Assumes two well-mixed volumes of ideal gas; waves in the gas and in the spring are left out.  Energies
    and speeds are information, not a permit: eye protection for everybody in range; the event's rules and the
    local law decide.

    References
    ----------
    See ``blasterlab.shot.equations``.

    Examples
    --------
    >>> import blasterlab as bl
    >>> shot = bl.simulate(bl.demo_build("workhorse"))
    >>> bool(shot.exited and 30 < shot.muzzle_velocity.m_as("m/s") < 70)
    True
    """
    p = parameters(build.si, checked(charge, build.si["air.pressure"], tolerance))
    state = np.empty(k.STATES)
    kept = None if charge is None else units.parse(charge, "pressure", "charge")
    return Shot(build, kept, p, run.shoot(p, tolerance, state), state)


@dataclass(frozen=True)
class Moment:
    """A shot at a time.

    Attributes
    ----------
    shot : Shot [-]
        The shot.
    time : float [s]
        Since the release.
    plunger, plunger_speed, dart, dart_speed : float [m, m/s]
        Travels and speeds.
    chamber, barrel : float [Pa]
        Absolute pressures in front of the plunger and behind the dart.
    """

    shot: Shot
    time: float
    plunger: float
    plunger_speed: float
    dart: float
    dart_speed: float
    chamber: float
    barrel: float


def moment(shot: Shot, time: QuantityLike) -> Moment:
    """A shot at a time: the step of its history that is nearest.

    Parameters
    ----------
    shot : Shot [-]
        The shot.
    time : Quantity or str [time]
        Since the release; later than the end gives the end.

    Returns
    -------
    Moment
        Travels, speeds and pressures [SI].

    Raises
    ------
    UnitError
        A time that cannot be read, or before the release.
    """
    at = units.si_in(time, "time", "time", 0.0, 10.0)
    history = shot.history
    place = int(abs(history.index.to_numpy() - at).argmin())
    row = history.iloc[place]
    return Moment(shot, float(history.index[place]), *map(float, row.iloc[:6]))
