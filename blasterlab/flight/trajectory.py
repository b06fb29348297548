"""One flight with dense output: it answers for any distance or time.

What it is for: drop, time, drift, remaining speed and energy on the way.  What it leaves out: how it is flown
(`blasterlab.flight.fly`), and words (`blasterlab.report.flight`).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np

from blasterlab import units
from blasterlab.flight import equations as eq
from blasterlab.flight.launch import Launch, distance_si
from blasterlab.shot.parameters import Floats
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

#: Why a flight ended: at the distance asked for, on the ground, or after 120 s without landing.
End: TypeAlias = Literal["at the distance", "landed", "in the air"]
_ENDED: dict[End, str] = {
    "at the distance": "was asked to stop",
    "landed": "landed",
    "in the air": "is still in the air",
}
_STEEP = 1.5  # rad from which on a shot counts as vertical


@dataclass(frozen=True)
class FlightPoint:
    """One point of a flight.

    Attributes
    ----------
    distance : Quantity [m]
        From the muzzle along the line of sight.
    time : Quantity [s]
        Since the muzzle.
    height : Quantity [m]
        Above the line of sight.
    drop : Quantity [m]
        Below the line of the bore.
    drift : Quantity [m]
        To the right.
    speed : Quantity [m/s]
        Over the ground.
    energy : Quantity [J]
        Kinetic.
    fall_angle : Quantity [rad]
        Downwards from the line of sight.
    """

    distance: Quantity
    time: Quantity
    height: Quantity
    drop: Quantity
    drift: Quantity
    speed: Quantity
    energy: Quantity
    fall_angle: Quantity


_COLUMNS = ("distance_m", "time_s", "height_m", "drop_m", "drift_m", "speed_m_s", "energy_J")


def point_table(points: Sequence[FlightPoint]) -> pd.DataFrame:
    """Points as a DataFrame, one row each; SI, the units in the column names."""
    return pd.DataFrame({name: [getattr(p, name.partition("_")[0]).m for p in points] for name in _COLUMNS})


@dataclass(frozen=True)
class Trajectory:
    """A flight with dense output, from `fly`.

    Attributes
    ----------
    launch : Launch [-]
        What it started from.
    angle : Quantity [rad]
        Of the bore above the line of sight.
    end : str [-]
        Why it ended: ``"landed"``, ``"at the distance"`` (that was asked for) or ``"in the air"`` (still,
        after 120 s).
    outside_table : bool [-]
        Whether the drag table did not cover the flight, so that its end values were held.
    """

    launch: Launch
    angle: Quantity
    end: End
    outside_table: bool
    _length: float = field(repr=False)
    _times: Floats = field(repr=False)
    _pieces: Floats = field(repr=False)

    def _state(self, time: float) -> Floats:
        state: Floats = eq.at_time(self._times, self._pieces, time)
        return state

    @property
    def _mass(self) -> float:
        return units.si(self.launch.dart.mass, "mass")

    def _first(self, column: int, target: float, after: float = 0.0, before: float = math.inf) -> float:
        """The first time [s] at which a component of the state passes a value; -1 when it does not."""
        before = min(before, self._length * (1.0 + 1e-12))  # the end is part of the flight, but for rounding
        time = float(eq.first_time(self._times, self._pieces, column, target, after, before))
        return min(time, self._length)

    def _point(self, time: float) -> FlightPoint:
        q, elevation = units.quantity, self.angle.m
        x, y, z, vx, vy, vz = self._state(time).tolist()
        speed = math.sqrt(vx * vx + vy * vy + vz * vz)
        bore = x * math.tan(elevation)
        if abs(elevation) > _STEEP:  # where the dart would be without air and weight
            bore = self.launch.parameters.speed * math.sin(elevation) * time
        return FlightPoint(
            q(x, "m"), q(time, "s"), q(y - self.launch.sight, "m"), q(bore - y, "m"), q(z, "m"),
            q(speed, "m/s"), q(0.5 * self._mass * speed * speed, "J"), q(math.atan2(-vy, vx), "rad"),
        )  # fmt: skip

    def _when(self, distance: QuantityLike) -> float:
        x = units.si(distance, "distance", "distance")
        if x == 0.0:
            return 0.0
        distance_si(distance)
        time = self._first(eq.X, x)
        if time < 0.0:
            raise units.UnitError(
                f"distance: got {distance!s:.64}; this flight {_ENDED[self.end]} at "
                f"{units.show(self.last.distance, 'distance', 4)}. A higher angle, muzzle or speed would "
                "carry further"
            )
        return time

    def at(self, distance: QuantityLike) -> FlightPoint:
        """The flight at a distance from the muzzle along the line of sight.

        Parameters
        ----------
        distance : Quantity or str [m]
            0 to the end of the flight.

        Returns
        -------
        FlightPoint
            Quantities.

        Raises
        ------
        UnitError
            Behind the muzzle, or beyond the end of the flight.
        """
        return self._point(self._when(distance))

    def time(self, distance: QuantityLike) -> Quantity:
        """Time of flight to a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`, which raises what is wrong with it.

        Returns
        -------
        Quantity
            Time [s].
        """
        return self.at(distance).time

    def drop(self, distance: QuantityLike) -> Quantity:
        """Drop below the line of the bore at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Drop [m].
        """
        return self.at(distance).drop

    @property
    def last(self) -> FlightPoint:
        """The last point: where it landed, or reached the distance asked for."""
        return self._point(self._length)

    @property
    def apex(self) -> FlightPoint:
        """The highest point over the line of sight."""
        time = self._first(eq.VY, 0.0) if self._state(0.0)[eq.VY] > 0.0 else 0.0
        return self._point(time if time >= 0.0 else self._length)

    def crossings_at(self, height: QuantityLike) -> tuple[Quantity | None, Quantity | None]:
        """Distances at which the path rises and falls through a height over the line of sight.

        Parameters
        ----------
        height : Quantity or str [m]
            Below zero for a height under the line of sight.

        Returns
        -------
        tuple of Quantity or None
            On the way up and on the way down [m]; None where it does not.
        """
        y = units.si(height, "length", "height") + self.launch.sight
        top = units.si(self.apex.time, "time")
        found: list[Quantity | None] = []
        for start, stop in ((0.0, top), (top, self._length)):
            time = self._first(eq.Y, y, start, stop) if stop > start else -1.0
            found.append(units.quantity(float(self._state(time)[eq.X]), "m") if time >= 0.0 else None)
        return found[0], found[1]

    @property
    def crossings(self) -> tuple[Quantity | None, Quantity | None]:
        """Near and far distance [m] where the path crosses the line of sight; None where it does not."""
        return self.crossings_at("0 m")

    @property
    def table(self) -> pd.DataFrame:
        """The flight at 26 even distances (times, for a nearly vertical shot); SI, units in the names."""
        far = self._state(self._length)[eq.X]
        if abs(self.angle.m) < _STEEP and far > 0.0:
            return self.table_at([units.quantity(x, "m") for x in np.linspace(0.0, far * (1 - 1e-12), 26)])
        return point_table([self._point(float(t)) for t in np.linspace(0.0, self._length, 26)])

    def table_at(self, distances: Sequence[QuantityLike]) -> pd.DataFrame:
        """The flight at chosen distances.

        Parameters
        ----------
        distances : sequence of Quantity or str [m]
            Each as in `at`.

        Returns
        -------
        DataFrame
            One row a distance; SI, the units in the column names.
        """
        return point_table([self.at(distance) for distance in distances])

    def path(self, points: int = 101) -> dict[str, Floats]:
        """The flight as arrays for drawing.

        Parameters
        ----------
        points : int [-]
            How many, evenly in time, both ends included.

        Returns
        -------
        dict of ndarray
            ``time`` [s], ``distance``, ``height`` (over the line of sight), ``drift`` [m], ``speed`` [m/s].
        """
        times = np.linspace(0.0, self._length, points)
        states = np.array([self._state(t) for t in times]).reshape(-1, eq.STATES)
        return {
            "time": times,
            "distance": states[:, eq.X],
            "height": states[:, eq.Y] - self.launch.sight,
            "drift": states[:, eq.Z],
            "speed": np.sqrt((states[:, eq.VX : eq.VZ + 1] ** 2).sum(axis=1)),
        }
