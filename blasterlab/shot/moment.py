"""One moment of a shot, from its history.

What it is for: what a picture of the shot at a time shows.  What it leaves out: anything between two steps of
the history, which are short enough.
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab import units
from blasterlab.shot.simulate import Shot
from blasterlab.units import QuantityLike


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
