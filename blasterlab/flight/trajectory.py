"""One flight: `fly` gives a `Trajectory` that answers for any distance or time.

What it is for: drop, time, drift, remaining speed and energy on the way.  What it leaves out: what
`blasterlab.flight.equations` leaves out; aiming, which is in `blasterlab.flight.aiming`.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.air import Air
from blasterlab.flight import equations as kernel
from blasterlab.flight.conditions import Conditions, Wind, conditions, distance_si
from blasterlab.flight.points import FlightPoint, point_table

if TYPE_CHECKING:
    import pandas as pd

#: Error tolerance of a single flight against metres and m/s; two orders finer than any printed digit.
TOLERANCE = 1e-11
#: Default height of the muzzle above the ground, a standing shooter's: the kit's own choice, no source.
MUZZLE_HEIGHT = "1.4 m"
_ENDS = {
    kernel.AT_PLANE: "reached the distance asked for",
    kernel.AT_GROUND: "landed",
    kernel.OUT_OF_TIME: "still in the air after 120 s",
}


class DragRangeWarning(UserWarning):
    """A flight left the drag table, whose end values were held."""


@dataclass(frozen=True)
class Trajectory:
    """A flight with dense output, from `fly`.

    Attributes
    ----------
    conditions : Conditions [SI]
        What it started from.
    angle : Quantity [rad]
        Of the bore above the line of sight.
    sight_height : Quantity [m]
        Of the line of sight above the bore at the muzzle.
    end : str [-]
        Why it ended, in words.
    outside_table : bool [-]
        Whether the drag table did not cover the flight, so that its end values were held.
    """

    conditions: Conditions
    angle: Any
    sight_height: Any
    end: str
    outside_table: bool
    _elevation: float = field(repr=False)
    _sight: float = field(repr=False)
    _times: np.ndarray = field(repr=False)
    _pieces: np.ndarray = field(repr=False)

    def _state(self, time: float) -> np.ndarray:
        out = np.zeros(7)
        kernel.at_time(self._times, self._pieces, time, out)
        return out

    def _point(self, time: float) -> FlightPoint:
        q = units.quantity
        x, y, z, vx, vy, vz, _ = self._state(time).tolist()
        speed = math.sqrt(vx * vx + vy * vy + vz * vz)
        bore = x * math.tan(self._elevation)
        if abs(self._elevation) > 1.5:  # nearly vertical: where the dart would be without air and weight
            bore = self.conditions.speed * math.sin(self._elevation) * time
        return FlightPoint(
            q(x, "m"), q(time, "s"), q(y - self._sight, "m"), q(bore - y, "m"), q(z, "m"), q(speed, "m/s"),
            q(0.5 * self.conditions.mass * speed * speed, "J"), q(math.atan2(-vy, vx), "rad"),
        )  # fmt: skip

    def _when(self, distance: Any) -> float:
        x = units.si(distance, "distance", "distance")
        if x == 0.0:
            return 0.0
        distance_si(distance)
        time = kernel.first_time(self._times, self._pieces, 0, x, 0.0, self._times[-1])
        end = float(self._state(self._times[-1])[0])
        if time < 0.0 and abs(x - end) < 1e-9 * (1.0 + x):  # where it was asked to stop, but for rounding
            return float(self._times[-1])
        if time < 0.0:
            final = units.show(end, "distance", 4)
            raise units.UnitError(
                f"distance: read {distance!s:.64}; this flight {self.end} at {final}. A higher angle, muzzle "
                "or speed would carry further"
            )
        return time

    def at(self, distance: Any) -> FlightPoint:
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

    def at_time(self, time: Any) -> FlightPoint:
        """The flight at a time after the muzzle.

        Parameters
        ----------
        time : Quantity or str [s]
            0 to the end of the flight.

        Returns
        -------
        FlightPoint
            Quantities.

        Raises
        ------
        UnitError
            Outside the flight.
        """
        return self._point(
            units.si_in(time, "time", "time", 0.0, float(self._times[-1]), "the flight ends there")
        )

    def time(self, distance: Any) -> Any:
        """Time of flight at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Time of flight [s].

        Raises
        ------
        UnitError
            As `at`.
        """
        return self.at(distance).time

    def drop(self, distance: Any) -> Any:
        """Drop below the line of the bore at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Drop below the line of the bore [m].

        Raises
        ------
        UnitError
            As `at`.
        """
        return self.at(distance).drop

    def height(self, distance: Any) -> Any:
        """Height above the line of sight at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Height above the line of sight [m].

        Raises
        ------
        UnitError
            As `at`.
        """
        return self.at(distance).height

    def drift(self, distance: Any) -> Any:
        """Drift to the right at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Drift to the right [m].

        Raises
        ------
        UnitError
            As `at`.
        """
        return self.at(distance).drift

    def speed(self, distance: Any) -> Any:
        """Remaining speed at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Remaining speed [m/s].

        Raises
        ------
        UnitError
            As `at`.
        """
        return self.at(distance).speed

    def energy(self, distance: Any) -> Any:
        """Remaining kinetic energy at a distance.

        Parameters
        ----------
        distance : Quantity or str [m]
            As in `at`.

        Returns
        -------
        Quantity
            Remaining kinetic energy [J].

        Raises
        ------
        UnitError
            As `at`.
        """
        return self.at(distance).energy

    @property
    def last(self) -> FlightPoint:
        """The last point: where it landed, or reached the distance asked for."""
        return self._point(float(self._times[-1]))

    @property
    def apex(self) -> FlightPoint:
        """The highest point over the line of sight."""
        time = 0.0
        if self._state(0.0)[4] > 0.0:
            time = kernel.first_time(self._times, self._pieces, 4, 0.0, 0.0, self._times[-1])
        return self._point(time if time >= 0.0 else float(self._times[-1]))

    @property
    def crossings(self) -> tuple[Any, Any]:
        """Near and far distance [m] where the path crosses the line of sight; None where it does not."""
        top = self.apex.time.m_as("s")
        found: list[Any] = []
        for start, stop in ((0.0, top), (top, float(self._times[-1]))):
            time = -1.0
            if stop > start:
                time = kernel.first_time(self._times, self._pieces, 1, self._sight, start, stop)
            found.append(units.quantity(float(self._state(time)[0]), "m") if time >= 0.0 else None)
        return found[0], found[1]

    @property
    def drag_work(self) -> Any:
        """Work done against the air over the whole flight [J]."""
        return units.quantity(self.conditions.mass * float(self._state(self._times[-1])[6]), "J")

    @property
    def table(self) -> pd.DataFrame:
        """The flight at 26 even distances (times, for a nearly vertical shot); SI, units in the names."""
        far = self._state(self._times[-1])[0]
        if abs(self._elevation) < 1.5 and far > 0.0:
            return self.table_at([units.quantity(x, "m") for x in np.linspace(0.0, far * (1 - 1e-12), 26)])
        return point_table([self._point(float(t)) for t in np.linspace(0.0, self._times[-1], 26)])

    def table_at(self, distances: Sequence[Any]) -> pd.DataFrame:
        """The flight at chosen distances.

        Parameters
        ----------
        distances : sequence of Quantity or str [m]
            Each as in `at`.

        Returns
        -------
        DataFrame
            One row a distance; SI, the units in the column names.

        Raises
        ------
        UnitError
            As `at`.
        """
        return point_table([self.at(distance) for distance in distances])

    def path(self, points: int = 101) -> dict[str, np.ndarray]:
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
        times = np.linspace(0.0, self._times[-1], points)
        states = np.array([self._state(t) for t in times])
        return {
            "time": times,
            "distance": states[:, 0],
            "height": states[:, 1] - self._sight,
            "drift": states[:, 2],
            "speed": np.sqrt((states[:, 3:6] ** 2).sum(axis=1)),
        }


def fly(
    dart: Any,
    speed: Any = None,
    *,
    air: Air | None = None,
    wind: Wind | str | None = None,
    angle: Any = "0 deg",
    sight_height: Any = "0 mm",
    slope: Any = "0 deg",
    muzzle_height: Any = MUZZLE_HEIGHT,
    distance: Any = None,
) -> Trajectory:
    """Fly one dart.

    m dv/dt = m g − ½ ρ A C_d |v − w| (v − w)

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        With a build, its dart, air and computed muzzle velocity are used unless given.
    speed : Quantity, str or None [m/s]
        At the muzzle, 0.1 to 300.
    air : Air or None [-]
        Common laboratory air (20 °C, 101.325 kPa, 50 %) when None.
    wind : Wind, str or None [m/s]
        Such as ``"3 m/s from 9 o'clock"``; still air when None.
    angle : Quantity or str [rad]
        Of the bore above the line of sight, -90 to 90°.
    sight_height : Quantity or str [m]
        Of the line of sight above the bore at the muzzle, -10 to 50 cm.
    slope : Quantity or str [rad]
        Of the line of sight above the horizontal, up to 80° either way.
    muzzle_height : Quantity or str [m]
        Above the ground, which runs along with the line of sight; above 0 to 300.
    distance : Quantity, str or None [m]
        Where the flight stops if it has not landed before; None flies on to the ground.

    Returns
    -------
    Trajectory
        `.at(distance)`, `.time(distance)`, `.drop(distance)`, `.table`, `.apex`, `.crossings`, ...

    Raises
    ------
    UnitError
        A value that is missing, of the wrong kind or out of range; a target behind the muzzle.

    Notes
    -----
    Distances run along the line of sight, heights square to it.  The dart flies nose first: an unstable one
    tumbles and loses far more (`blasterlab.flight.pitch`).

    References
    ----------
    R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 6.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> flight = fly(Projectile("1.0 g", "12.7 mm", 0.70), "40 m/s", distance="10 m")
    >>> round(flight.drop("10 m").m_as("cm"), 1), round(flight.time("10 m").m_as("ms"), 1)
    (45.1, 330.1)
    """
    start = conditions(dart, speed, air, wind, slope)
    elevation = units.si_in(angle, "angle", "angle", -math.pi / 2, math.pi / 2)
    sight = units.si_in(sight_height, "length", "sight_height", -0.1, 0.5)
    ground = units.si_in(muzzle_height, "distance", "muzzle_height", 0.0, 300.0)
    if ground == 0.0:
        raise units.UnitError('muzzle_height: a muzzle on the ground lands at once. Would do: "1.4 m"')
    plane = math.inf if distance is None else distance_si(distance)
    return _fly(start, elevation, sight, -ground, plane, units.parse(angle, "angle"), sight_height)


def _fly(
    start: Conditions,
    elevation: float,
    sight: float,
    ground: float,
    plane: float,
    angle: Any,
    sight_height: Any,
) -> Trajectory:
    reason, times, pieces = kernel.fly_dense(
        start.setup, *start.table, start.speed, elevation, 0.0, plane, ground, kernel.LONGEST, TOLERANCE, 0.0
    )
    if reason not in _ENDS:
        raise units.UnitError(
            "fly: the flight could not be integrated to its end; is the dart far too light for its size?"
        )
    outside = _outside(start, pieces)
    if outside:
        warnings.warn(
            "the flight leaves the drag table; its end values are held there", DragRangeWarning, stacklevel=3
        )
    return Trajectory(
        start,
        angle,
        units.parse(sight_height, "length"),
        _ENDS[reason],
        outside,
        elevation,
        sight,
        times,
        pieces,
    )


def _outside(start: Conditions, pieces: np.ndarray) -> bool:
    """Whether a flight's Mach or Reynolds numbers leave the drag table."""
    relative = np.sqrt(((pieces[:, 0, 3:6] - start.setup[3:6]) ** 2).sum(axis=1))
    machs, logs, _ = start.table
    for axis, number in ((machs, relative * start.setup[6]), (np.exp(logs), relative * start.setup[7])):
        if axis.size > 1 and (number.min() < axis[0] * (1 - 1e-9) or number.max() > axis[-1] * (1 + 1e-9)):
            return True
    return False
