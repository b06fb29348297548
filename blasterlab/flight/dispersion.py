"""The predicted group: Monte Carlo over what differs from shot to shot, and who is to blame for the spread.

What it is for: `group` flies thousands of darts with their own speed, mass, drag, pointing and gust, and says
how large a group to expect, how often a target is hit, and which cause makes the vertical and the horizontal
spread.  What it leaves out: drift of the aim during a string, tumbling darts, and the effect of a dart's mass
on its muzzle velocity (it is inside the measured velocity spread).

References
----------
A. Saltelli et al., *Global Sensitivity Analysis: The Primer*, 2008, section 1.2.5 (squared standardised
regression coefficients as shares of variance).  R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 5.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.air import Air
from blasterlab.flight import elevation_search as seek
from blasterlab.flight import equations as kernel
from blasterlab.flight.conditions import SPEEDS, Conditions, Wind, conditions, distance_si
from blasterlab.flight.dispersion_result import Dispersion

_TOLERANCE = 1e-6  # of a metre and a m/s: far below any spread
#: Cause -> the rows of standard normal draws that belong to it.
CAUSES: dict[str, tuple[int, ...]] = {
    "muzzle velocity": (0,),
    "dart mass": (1,),
    "dart drag": (2,),
    "pointing": (3, 4),
    "gusts": (5, 6),
}


def _speed_and_spread(speed: Any, spread: Any) -> tuple[Any, float]:
    """Mean speed, and its standard deviation in m/s, from a value, a string of shots or a prediction."""
    sd = None
    if hasattr(
        speed, "from_shots"
    ):  # a calibrated prediction: what moves all shots alike moves no group apart
        speed, sd = speed.speed, speed.from_shots
    elif hasattr(speed, "sd") and hasattr(speed, "mean") and not isinstance(speed, units.Quantity):
        speed, sd = speed.mean, speed.sd
    if spread is not None:
        sd = spread
    return speed, 0.0 if sd is None else units.si_in(sd, "speed", "speed_spread", 0.0, 0.3 * SPEEDS[1])


def group(
    dart: Any,
    speed: Any = None,
    *,
    distance: Any,
    shots: int = 10,
    speed_spread: Any = None,
    mass_spread: Any = 0.0,
    drag_spread: Any = 0.0,
    pointing: Any = "0 mrad",
    air: Air | None = None,
    wind: Wind | str | None = None,
    gust: Any = "0 m/s",
    slope: Any = "0 deg",
    distances: Sequence[Any] | None = None,
    draws: int = 10_000,
    level: float = 0.9,
    seed: int = 1,
) -> Dispersion:
    """Predict a group: where thousands of shots land that differ as the real ones do.

    Parameters
    ----------
    dart : Build, Dart or Projectile [kg, m, -]
        With a build, its dart, air and computed muzzle velocity are used unless given.
    speed : Quantity, str, ChronoString, prediction or None [m/s]
        Muzzle velocity; a string and a calibrated prediction bring their own spread from shot to shot.
    distance : Quantity or str [m]
        Of the target; the aim is set so that a shot without any spread hits its middle in the mean wind.
    shots : int [-]
        In one group, 2 to 100.
    speed_spread : Quantity, str or None [m/s]
        Standard deviation from shot to shot, up to 30 % of the speed.
    mass_spread : float or str [-]
        Relative standard deviation from dart to dart, up to 0.3.
    drag_spread : float or str [-]
        Relative standard deviation of the drag coefficient, up to 0.5.
    pointing : Quantity, str, or pair of them [rad]
        Standard deviation of the bore's direction along each axis; a pair is (up, right); up to 100 mrad.
    air : Air or None [-]
        As in `fly`.
    wind : Wind, str or None [m/s]
        The mean wind, allowed for by the aim.
    gust : Quantity or str [m/s]
        Standard deviation of the wind along and across, each; one gust a shot.
    slope : Quantity or str [rad]
        As in `fly`.
    distances : sequence or None [m]
        For `hit_table`; twelve up to 1.5 times the distance when None.
    draws : int [-]
        200 to 100 000.
    level : float [-]
        Of every interval.
    seed : int [-]
        Same seed, same draws.

    Returns
    -------
    Dispersion
        Impacts, spreads, shares of the causes, chances of a hit.

    Raises
    ------
    UnitError
        A value out of range; a distance that cannot be reached, or that some of the darts do not reach.

    Notes
    -----
    All causes are normal and independent.  A flight is short against a gust, so that the wind is steady
    during one shot and independent of the last one's.  The ground is left out: a dart that would touch it
    first simply passes below the target.

    References
    ----------
    Saltelli et al. 2008, section 1.2.5.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.70)
    >>> found = group(dart, "40 m/s", distance="10 m", speed_spread="1 m/s", pointing="3 mrad", draws=2000)
    >>> found.blame.split(":")[0][:19]
    'vertical spread 37.'
    """
    mean, sd = _speed_and_spread(speed, speed_spread)
    start = conditions(dart, mean, air, wind, slope)
    if sd > 0.3 * start.speed:
        raise units.UnitError(
            f"speed_spread: read {units.show(sd, 'speed')}; allowed is up to 30 % of the speed, "
            f"{units.show(start.speed, 'speed')}"
        )
    _counts(shots, draws, level)
    x = distance_si(distance)
    planes = _planes(x, distances)
    status, elevation, _ = seek.elevation_for(start.setup, *start.table, start.speed, x, 0.0)
    if status != seek.FOUND:
        raise units.UnitError(
            f"distance: {units.show(x, 'distance')} cannot be reached at {units.show(start.speed, 'speed')}; "
            "would do: a nearer target, or more speed"
        )
    elevation, azimuth = _aim(start, elevation, x)
    sds = _sds(sd, mass_spread, drag_spread, pointing, gust)
    normal = np.random.default_rng(seed).standard_normal((7, draws + 1))
    normal[:, -1] = 0.0  # the last flight is the one without spread
    hits = _fly_all(start, elevation, azimuth, planes, normal, sds)
    plane = int(np.flatnonzero(planes == x)[0])
    late = int((hits[:, plane, 0] <= 0.0).sum())
    if late:
        raise units.UnitError(
            f"distance: {late} of {draws} darts never get to {units.show(x, 'distance')}; would do: a nearer "
            "target, or less spread"
        )
    cloud, straight = hits[:-1], hits[-1, :, 1:3]
    q = units.quantity
    return Dispersion(
        distance=q(x, "m"),
        shots=shots,
        right=q(cloud[:, plane, 2], "m"),
        up=q(cloud[:, plane, 1], "m"),
        speed=q(cloud[:, plane, 3], "m/s"),
        nominal=(q(float(straight[plane, 1]), "m"), q(float(straight[plane, 0]), "m")),
        shares=_shares(normal[:, :-1], sds, cloud[:, plane, 2], cloud[:, plane, 1]),
        level=level,
        _planes=planes,
        _hits=cloud,
        _straight=straight,
    )


def _aim(start: Conditions, elevation: float, x: float) -> tuple[float, float]:
    """The direction of the bore that brings a shot without spread to the middle in the mean wind."""
    azimuth = 0.0
    for _ in range(6):
        ahead = (
            start.setup[None, :],
            *start.table,
            *(np.array([v]) for v in (start.speed, elevation, azimuth, x)),
        )
        _, up, right, _ = kernel.fly_to_planes(*ahead, _TOLERANCE)[0, 0]
        elevation, azimuth = elevation - math.atan2(up, x), azimuth - math.atan2(right, x)
    return elevation, azimuth


def _counts(shots: int, draws: int, level: float) -> None:
    for name, value, low, high in (("shots", shots, 2, 100), ("draws", draws, 200, 100_000)):
        if not isinstance(value, int) or not low <= value <= high:
            raise units.UnitError(f"{name}: read {value!r:.64}; allowed is a whole number, {low} to {high}")
    if not 0.5 <= level < 1.0:
        raise units.UnitError(f"level: read {level:.6g}; allowed is 0.5 to below 1, such as 0.9")


def _planes(x: float, distances: Sequence[Any] | None) -> np.ndarray:
    if distances is None:
        found = [x * (i + 1) / 8.0 for i in range(12)]
    else:
        found = [distance_si(one, "distances") for one in distances]
    return np.array(sorted({*found, x}))


def _sds(speed: float, mass: Any, drag: Any, pointing: Any, gust: Any) -> np.ndarray:
    """Standard deviations of the seven rows of draws, in SI; mass and drag relative."""
    up, right = pointing if isinstance(pointing, list | tuple) else (pointing, pointing)
    wind = units.si_in(gust, "speed", "gust", 0.0, 10.0)
    return np.array(
        [
            speed,
            units.si_in(mass, "number", "mass_spread", 0.0, 0.3, "relative to the mass"),
            units.si_in(drag, "number", "drag_spread", 0.0, 0.5, "relative to the drag coefficient"),
            units.si_in(up, "angle", "pointing", 0.0, 0.1),
            units.si_in(right, "angle", "pointing", 0.0, 0.1),
            wind,
            wind,
        ]
    )


def _fly_all(
    start: Conditions,
    elevation: float,
    azimuth: float,
    planes: np.ndarray,
    normal: np.ndarray,
    sds: np.ndarray,
) -> np.ndarray:
    """All flights through all planes, shape (draws, planes, 4): time, up, right, speed."""
    speed, mass, drag, up, right, along, across = normal * sds[:, None]
    speeds = np.maximum(start.speed + speed, SPEEDS[0])
    setups = start.scaled(np.maximum(1.0 + mass, 0.05), np.maximum(1.0 + drag, 0.05))
    setups[:, 3] += along * math.cos(start.slope)
    setups[:, 4] -= along * math.sin(start.slope)
    setups[:, 5] += across
    hits: np.ndarray = kernel.fly_to_planes(
        setups, *start.table, speeds, elevation + up, azimuth + right, planes, _TOLERANCE
    )
    return hits


def _shares(
    normal: np.ndarray, sds: np.ndarray, right: np.ndarray, up: np.ndarray
) -> dict[str, tuple[float, float]]:
    """Shares of the variance by squared standardised regression coefficients."""
    live = np.flatnonzero(sds > 0.0)
    found = {cause: [0.0, 0.0] for cause in CAUSES}
    if live.size:
        design = np.column_stack([np.ones(normal.shape[1]), normal[live].T])
        for axis, values in enumerate((right, up)):
            total = values.var()
            if total <= 1e-18:
                continue
            slopes = np.linalg.lstsq(design, values, rcond=None)[0][1:]
            for row, slope in zip(live, slopes, strict=True):
                cause = next(name for name, rows in CAUSES.items() if row in rows)
                found[cause][axis] += float(slope**2 * normal[row].var() / total)
    return {cause: (both[0], both[1]) for cause, both in found.items()}
