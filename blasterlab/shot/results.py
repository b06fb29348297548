"""The numbers of a shot with their units: floats for one shot, arrays for many.

What it is for: ``simulate`` and ``many``, whose results hold the same named fields.  What it leaves out: what
only one shot has (ledger, history), words.
"""

from __future__ import annotations

import numpy as np

from blasterlab import units
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.integrate import Outcome
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.units import Quantity


class Results:
    """One shot, or many: fields are floats, or arrays of one length; `state[n]` is state n."""

    parameters: Parameters
    outcome: Outcome
    state: Floats

    @property
    def _exit_speed(self) -> Floats:
        return self.state[k.W] * np.equal(self.outcome.status, rules.EXITED)

    @property
    def muzzle_velocity(self) -> Quantity:
        """Speed of the dart as its tail leaves the muzzle; 0 when it never leaves [m/s]."""
        return units.quantity(self._exit_speed, "m/s")

    @property
    def muzzle_energy(self) -> Quantity:
        """Kinetic energy of the dart at the muzzle; 0 when it never leaves [J]."""
        return units.quantity(0.5 * self.parameters.dart_mass * self._exit_speed**2, "J")

    @property
    def exit_time(self) -> Quantity:
        """Time from the release to the exit, or to the end when the dart never leaves [ms]."""
        return units.quantity(1e3 * self.outcome.time, "ms")

    @property
    def dart_travel(self) -> Quantity:
        """How far the dart's tail is from its seat at the end [mm]."""
        return units.quantity(1e3 * self.state[k.Y], "mm")

    @property
    def peak_pressure(self) -> Quantity:
        """Highest absolute pressure in the chamber [kPa]."""
        return units.quantity(1e-3 * self.outcome.chamber_peak, "kPa")

    @property
    def peak_barrel_pressure(self) -> Quantity:
        """Highest absolute pressure behind the dart [kPa]."""
        return units.quantity(1e-3 * self.outcome.barrel_peak, "kPa")

    @property
    def peak_force(self) -> Quantity:
        """Largest force of the gas on the dart [N]."""
        p = self.parameters
        return units.quantity((self.outcome.barrel_peak - p.ambient_pressure) * p.barrel_area, "N")

    @property
    def impact_speed(self) -> Quantity:
        """Fastest that the plunger hit its front stop; 0 when it did not before the dart left [m/s]."""
        return units.quantity(self.outcome.impact_speed, "m/s")

    @property
    def spring_work(self) -> Quantity:
        """Work that the springs gave until the end (0 for a charged chamber) [J]."""
        return units.quantity(self.outcome.spring_work, "J")
