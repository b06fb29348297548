"""A build that shoots down range: its computed muzzle velocity, and the controls that start from it.

What it is for: what the trajectory, wind and group panels share.  What it leaves out: the flights.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from blasterlab import units
from blasterlab.build import Build
from blasterlab.flight.drag import Projectile
from blasterlab.panels.controls import Control
from blasterlab.report.shot import reason
from blasterlab.shot.simulate import simulate

CAUTION = (
    "Eye protection for everybody in range; never at faces, nor at people who have not agreed. Know what is "
    "behind the target. Event rules and local law decide what may be shot, not this kit."
)


@dataclass(frozen=True)
class FlownBuild:
    """A build, its name, and what its shot computes as it is: m/s."""

    name: str
    build: Build
    speed: float

    @classmethod
    def of(cls, name: str, build: Build) -> FlownBuild:
        """Shoot a build once.

        Parameters
        ----------
        name : str [-]
            What it is called.
        build : Build [-]
            The build.

        Returns
        -------
        FlownBuild
            With its muzzle velocity [m/s].

        Raises
        ------
        UnitError
            The dart stays in the barrel.
        """
        shot = simulate(build)
        if not shot.exited:
            raise units.UnitError(f"{name}: {reason(shot)}; nothing flies down range")
        return cls(name, build, float(shot.muzzle_velocity.m_as("m/s")))

    def computed(self, mass: float) -> float:
        """Muzzle velocity with a dart of another mass; zero where it stays in.

        Parameters
        ----------
        mass : float [kg]
            Of the dart.

        Returns
        -------
        float
            Muzzle velocity [m/s].
        """
        if abs(mass - self.build.dart.mass.m_as("kg")) < 1e-9:
            return self.speed
        shot = simulate(self.build.replace({"dart.mass": units.quantity(mass, "kg")}))
        return float(shot.muzzle_velocity.m_as("m/s")) if shot.exited else 0.0

    def controls(self, before: str, label: str) -> list[Control]:
        """Velocity, mass and drag of this one.

        Parameters
        ----------
        before : str [-]
            Before the controls' names.
        label : str [-]
            Before the controls' labels.

        Returns
        -------
        list of Control
            Three [-].
        """
        dart = self.build.dart
        speed = units.quantity(self.speed, "m/s")
        found = [
            Control(f"{before}speed", f"{label}velocity", "speed", "5 m/s", "150 m/s", speed, "0.5 m/s",
                     "at the muzzle; it starts with what the build computes"),
            Control(f"{before}mass", f"{label}dart mass", "mass", "0.5 g", "4 g", dart.mass, "0.05 g",
                     "weigh ten together; the velocity above stays as it is"),
            Control(f"{before}drag", f"{label}C_d", "number", 0.1, 1.5, dart.drag_coefficient, 0.01,
                     "drag coefficient; nothing is published for foam darts: measure it"),
        ]  # fmt: skip
        return [control.stretched() for control in found]

    def projectile(self, state: Mapping[str, Any], before: str) -> Projectile:
        """The dart with the panel's values.

        Parameters
        ----------
        state : mapping of str to float [SI]
            By the controls' names.
        before : str [-]
            As in `controls`.

        Returns
        -------
        Projectile
            What flies [kg, m, -].
        """
        mass = units.quantity(state.get(f"{before}mass", self.build.dart.mass.m_as("kg")), "kg")
        return Projectile(mass, self.build.dart.diameter, state[f"{before}drag"], self.build.dart.length)


DISTANCE = Control("distance", "target at", "distance", "1 m", "41 m", "15 m", "0.5 m", "from the muzzle")
ZERO = Control("zero", "zero at", "distance", "1 m", "26 m", "10 m", "0.5 m",
                "where the path comes down to the line of sight")  # fmt: skip
SIGHT = Control("sight", "sight height", "length", "0 mm", "150 mm", "40 mm", "1 mm", "over the bore")
