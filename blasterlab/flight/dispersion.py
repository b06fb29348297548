"""The predicted group: Monte Carlo over what differs from shot to shot, and which cause makes the spread.

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
from typing import Any, NamedTuple, Unpack

import numpy as np

from blasterlab import units
from blasterlab.flight.aiming import elevation_to
from blasterlab.flight.dispersion_result import Dispersion
from blasterlab.flight.equations import Varied, fly_to_planes
from blasterlab.flight.group_statistics import read_level
from blasterlab.flight.launch import SPEEDS, Flying, Launch, Settings, distance_si
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike

_TOLERANCE = 1e-6  # of a metre and a m/s: far below any spread
_LEAST = 0.05  # of a dart's mass and drag that a wild draw leaves it


class Spread(NamedTuple):
    """Standard deviations from shot to shot, SI; mass and drag relative; one row of draws each."""

    speed: float
    mass: float
    drag: float
    up: float
    right: float
    along: float
    across: float


#: Cause -> the rows of standard normal draws that belong to it.
CAUSES: dict[str, tuple[str, ...]] = {
    "muzzle velocity": ("speed",),
    "dart mass": ("mass",),
    "dart drag": ("drag",),
    "pointing": ("up", "right"),
    "gusts": ("along", "across"),
}


def _speed_and_sd(speed: Any) -> tuple[QuantityLike | None, QuantityLike]:
    """Mean speed, and its standard deviation from shot to shot where a string or a prediction brings one."""
    if hasattr(speed, "from_shots"):  # of a prediction: what moves all shots alike moves no group apart
        return speed.speed, speed.from_shots
    if isinstance(speed, units.Quantity) or not hasattr(speed, "sd"):
        return speed, "0 m/s"
    return speed.mean, speed.sd


def group(
    dart: Flying,
    speed: object = None,
    *,
    distance: QuantityLike,
    shots: int = 10,
    speed_spread: QuantityLike | None = None,
    mass_spread: QuantityLike = 0.0,
    drag_spread: QuantityLike = 0.0,
    pointing: QuantityLike | tuple[QuantityLike, QuantityLike] = "0 mrad",
    gust: QuantityLike = "0 m/s",
    distances: Sequence[QuantityLike] | None = None,
    draws: int = 10_000,
    level: float = 0.9,
    seed: int = 1,
    **launch: Unpack[Settings],
) -> Dispersion:
    """Predict a group: where thousands of shots land that differ as the real ones do.

    Parameters
    ----------
    dart : Build, Dart, Projectile or Launch [kg, m, -]
        As `Launch.of` takes it: a build brings its dart, its air and its computed muzzle velocity.
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
    gust : Quantity or str [m/s]
        Standard deviation of the wind along and across, each; one gust a shot.
    distances : sequence or None [m]
        For `hit_table`; twelve up to 1.5 times the distance when None.
    draws : int [-]
        200 to 100 000.
    level : float [-]
        Of every interval.
    seed : int [-]
        Same seed, same draws.
    **launch : Air, Wind, Quantity or str [m/s, rad, m]
        As `Launch.of` takes it; the wind is the mean wind, which the aim allows for.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.70)
    >>> found = group(dart, "40 m/s", distance="10 m", speed_spread="1 m/s", pointing="3 mrad", draws=2000)
    >>> print(found.causes)
    vertical spread 37.6 mm: 62 % pointing, 37 % muzzle velocity; horizontal spread 30.0 mm: 100 % pointing
    """
    mean, own = _speed_and_sd(speed)
    start, x = Launch.of(dart, mean, **launch), distance_si(distance)
    for name, value, low, high in (("shots", shots, 2, 100), ("draws", draws, 200, 100_000)):
        if not isinstance(value, int) or not low <= value <= high:
            raise units.UnitError(f"{name}: got {value!r:.64}; must be a whole number, {low} to {high}")
    level = read_level(level)
    speed_sd = own if speed_spread is None else speed_spread
    spread = _spread(start, speed_sd, mass_spread, drag_spread, pointing, gust)
    planes = _planes(x, distances)
    elevation, azimuth = _aim(start, x)
    normal = np.random.default_rng(seed).standard_normal((len(spread), draws + 1))
    normal[:, -1] = 0.0  # the last flight is the one without spread
    darts = _varied(start, elevation, azimuth, normal, spread)
    hits = fly_to_planes(start.parameters, darts, planes, _TOLERANCE)
    hits.y[:] -= start.sight
    time, right, up = (column[:-1, planes == x][:, 0] for column in (hits.time, hits.z, hits.y))
    if late := int((time < 0.0).sum()):
        raise units.UnitError(
            f"distance: {late} of {draws} darts never get to {units.show(x, 'distance')}; try a nearer "
            "target, or less spread"
        )
    shares = _shares(normal[:, :-1], spread, right, up)
    return Dispersion(units.quantity(x, "m"), shots, shares, level, planes, hits)


def _planes(x: float, distances: Sequence[QuantityLike] | None) -> Floats:
    if distances is None:
        return np.array([x * (i + 1) / 8.0 for i in range(12)])
    return np.array(sorted({x, *(distance_si(one, "distances") for one in distances)}))


def _spread(
    start: Launch,
    speed: QuantityLike,
    mass: QuantityLike,
    drag: QuantityLike,
    pointing: QuantityLike | tuple[QuantityLike, QuantityLike],
    gust: QuantityLike,
) -> Spread:
    up, right = pointing if isinstance(pointing, list | tuple) else (pointing, pointing)
    most = 0.3 * units.si(start.speed, "speed")
    wind = units.si_in(gust, "speed", "gust", 0.0, 10.0)
    return Spread(
        units.si_in(speed, "speed", "speed_spread", 0.0, most, "30 % of the speed"),
        units.si_in(mass, "number", "mass_spread", 0.0, 0.3, "relative to the mass"),
        units.si_in(drag, "number", "drag_spread", 0.0, 0.5, "relative to the drag coefficient"),
        units.si_in(up, "angle", "pointing", 0.0, 0.1),
        units.si_in(right, "angle", "pointing", 0.0, 0.1),
        wind,
        wind,
    )


def _aim(start: Launch, x: float) -> tuple[float, float]:
    """The direction of the bore that brings a shot without spread to the middle in the mean wind."""
    elevation, azimuth = elevation_to(start, x, "distance"), 0.0
    still = np.zeros((len(Spread._fields), 1))
    for _ in range(6):
        one = _varied(start, elevation, azimuth, still, Spread(*still[:, 0]))
        hits = fly_to_planes(start.parameters, one, np.array([x]), _TOLERANCE)
        elevation -= math.atan2(hits.y[0, 0] - start.sight, x)
        azimuth -= math.atan2(hits.z[0, 0], x)
    return elevation, azimuth


def _varied(start: Launch, elevation: float, azimuth: float, normal: Floats, spread: Spread) -> Varied:
    """What varies from dart to dart, by draws of each cause."""
    p, slope = start.parameters, units.si(start.slope, "angle")
    speed, mass, drag, up, right, along, across = normal * np.array(spread)[:, None]
    lighter = np.maximum(1.0 + drag, _LEAST) / np.maximum(1.0 + mass, _LEAST)
    return Varied(
        p.retardation * lighter,
        p.wind_x + along * math.cos(slope),
        p.wind_y - along * math.sin(slope),
        p.wind_z + across,
        np.maximum(p.speed + speed, SPEEDS[0]),
        elevation + up,
        azimuth + right,
    )


def _shares(normal: Floats, spread: Spread, right: Floats, up: Floats) -> dict[str, tuple[float, float]]:
    """Shares of the horizontal and vertical variance by squared standardised regression coefficients."""
    part = np.zeros((len(spread), 2))
    live = np.flatnonzero(np.array(spread) > 0.0)
    design = np.column_stack([np.ones(normal.shape[1]), normal[live].T])
    for axis, values in enumerate((right, up)):
        total = values.var()
        if live.size and total > 1e-18:
            slopes = np.linalg.lstsq(design, values, rcond=None)[0][1:]
            part[live, axis] = slopes**2 * normal[live].var(axis=1) / total
    found = {}
    for cause, names in CAUSES.items():
        both = part[[Spread._fields.index(name) for name in names]].sum(axis=0)
        found[cause] = (float(both[0]), float(both[1]))
    return found
