"""A build that shoots down range: its predicted muzzle velocity, and the controls that start from it.

What it is for: what the trajectory, wind and group panels share.  What it leaves out: the flights.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Self, TypeVar

import numpy as np

from blasterlab import units
from blasterlab.build import Build
from blasterlab.checks.cautions import EYES, LAW
from blasterlab.flight.launch import Launch
from blasterlab.flight.projectile import Projectile
from blasterlab.panels.controls import Control
from blasterlab.report.shot import reason
from blasterlab.shot.simulate import simulate
from blasterlab.shot.speed_range import SpeedRange, range_of
from blasterlab.units import Quantity

CAUTION = f"{EYES} Know what is behind the target; an aim above a person's chest is a face. {LAW}"

Flight = TypeVar("Flight")


@dataclass(frozen=True)
class FlownBuild:
    """A build, its name, and the launch that it is predicted to give its dart."""

    name: str
    build: Build
    launch: Launch

    @classmethod
    def of(cls, name: str, build: Build) -> Self:
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
        return cls(name, build, Launch.of(build, shot.muzzle_velocity))

    def moved(self, state: Mapping[str, Any]) -> Build:
        """The build itself: these panels move its flight only."""
        return self.build

    def predicted(self, mass: float) -> Quantity:
        """Muzzle velocity with a dart of another mass [kg], zero where it stays in [m/s]."""
        if abs(mass - units.si(self.build.dart.mass, "mass")) < 1e-9:
            return self.launch.speed
        shot = simulate(self.build.replace({"dart.mass": units.quantity(mass, "kg")}))
        return shot.muzzle_velocity if shot.exited else units.quantity(0.0, "m/s")

    def controls(self, before: str = "", label: str = "") -> list[Control]:
        """Velocity, mass and drag of this one; texts that stand before their names and labels [-]."""
        dart = self.build.dart
        found = [
            Control(f"{before}speed", f"{label}velocity", "speed", "5 m/s", "150 m/s", self.launch.speed,
                    "0.5 m/s", "at the muzzle; it starts with what the build is predicted to shoot"),
            Control(f"{before}mass", f"{label}dart mass", "mass", "0.5 g", "4 g", dart.mass, "0.05 g",
                    "weigh ten together; the velocity above stays as it is"),
            Control(f"{before}drag", f"{label}C_d", "number", 0.1, 1.5, dart.drag_coefficient, 0.01,
                    "drag coefficient; nothing is published for foam darts: measure it"),
        ]  # fmt: skip
        return [control.stretched() for control in found]

    def launched(self, state: Mapping[str, float], before: str = "") -> Launch:
        """The launch with the panel's values.

        Parameters
        ----------
        state : mapping of str to float [SI]
            By the controls' names.
        before : str [-]
            As in `controls`.

        Returns
        -------
        Launch
            On the level, in still air.
        """
        q, dart = units.quantity, self.build.dart
        mass = q(state.get(f"{before}mass", units.si(dart.mass, "mass")), "kg")
        flown = Projectile(mass, dart.diameter, state[f"{before}drag"], dart.length)
        speed = q(state[f"{before}speed"], "m/s")
        sight = q(state["sight"], "m") if "sight" in state else self.launch.sight_height
        return Launch.of(flown, speed, air=self.build.air, sight_height=sight)

    @cached_property
    def near(self) -> SpeedRange:
        """Where the build's mean speed may lie [m/s]."""
        return range_of(self.build)

    def at_ends(
        self, state: Mapping[str, Any], fly: Callable[[Launch], Flight], before: str = ""
    ) -> tuple[SpeedRange, Flight | None, Flight | None] | None:
        """What comes of the ends of the speed's range; None for a speed or a dart that a hand set."""
        own = units.si(self.launch.speed, "speed"), units.si(self.build.dart.mass, "mass")
        if not np.allclose(own, (state[f"{before}speed"], state.get(f"{before}mass", own[1])), rtol=1e-6):
            return None
        start, near = self.launched(state, before), self.near

        def flight(speed: float) -> Flight | None:
            try:
                return fly(replace(start, speed=units.quantity(speed, "m/s"))) if speed else None
            except units.UnitError:  # too slow for the zero or the target
                return None

        return near, flight(near.low), flight(near.high)


DISTANCE = Control("distance", "target at", "distance", "1 m", "41 m", "15 m", "0.5 m", "from the muzzle")
ZERO = Control("zero", "zero at", "distance", "1 m", "26 m", "10 m", "0.5 m",
               "where the path comes down to the line of sight")  # fmt: skip
SIGHT = Control("sight", "sight height", "length", "0 mm", "150 mm", "40 mm", "1 mm", "over the bore")
