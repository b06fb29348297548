"""A drag coefficient from measurements: two chronographs, time of flight, or drop, each with its interval.

What it is for: nothing is published for foam darts, so the builder measures.  The closed forms of flat fire
are turned round; against the full flight they are off by less than 0.3 % of the coefficient at 10 m.  What
it leaves out: a coefficient that changes with speed (the result is the mean over the distance).

References
----------
R. L. McCoy, *Modern Exterior Ballistics*, 1999, ch. 5 (flat fire).  JCGM 100:2008, 5.1.2 and G.4 (combined
standard uncertainty, effective degrees of freedom).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from blasterlab import units
from blasterlab.air import Air
from blasterlab.flight.conditions import SPEEDS, distance_si
from blasterlab.flight.drag import mass_and_size
from blasterlab.flight.limits import flat_fire

_MOST = 1000
_SCATTER = "the scatter from shot to shot"


@dataclass(frozen=True)
class MeasuredDrag:
    """A drag coefficient with its interval.

    Attributes
    ----------
    drag_coefficient : float [-]
        The mean of all readings.
    low, high : float [-]
        The interval.
    level : float [-]
        The chance that it covers the coefficient.
    standard_uncertainty : float [-]
        Combined, of the mean.
    shares : Mapping [-]
        Input -> its share of the variance.
    readings : tuple of float [-]
        The coefficient of each shot.
    drag_constant : Quantity [1/m]
        The mean k.
    method : str [-]
        What was measured.
    """

    drag_coefficient: float
    low: float
    high: float
    level: float
    standard_uncertainty: float
    shares: Mapping[str, float]
    readings: tuple[float, ...]
    drag_constant: Any
    method: str

    @property
    def words(self) -> str:
        """The result in one sentence."""
        largest = max(self.shares, key=lambda name: self.shares[name])
        text = (
            f"C_d {self.drag_coefficient:.3f}, {100 * self.level:.0f} % interval {self.low:.3f} to "
            f"{self.high:.3f} from {len(self.readings)} reading(s) of {self.method}; "
            f"{100 * self.shares[largest]:.0f} % of the variance is {largest}"
        )
        return text + ("; it cannot be told from zero" if self.low <= 0.0 else "")


def _readings(values: Any, kind: str, name: str, low: float, high: float) -> list[float]:
    many = list(values) if isinstance(values, list | tuple) else [values]
    if not 1 <= len(many) <= _MOST:
        raise units.UnitError(f"{name}: {len(many)} readings; allowed are 1 to {_MOST}")
    return [units.si_in(one, kind, f"{name}[{i}]", low, high) for i, one in enumerate(many)]


def _pairs(one: list[float], two: list[float], names: str) -> list[tuple[float, float]]:
    if len(one) != len(two):
        raise units.UnitError(
            f"{names}: {len(one)} and {len(two)} readings; each shot is wanted with both of its readings"
        )
    return list(zip(one, two, strict=True))


def _solve(function: Callable[[float], float], wanted: float, what: str) -> float:
    """The u = k x at which a growing function has a wanted value."""
    from scipy.optimize import brentq

    low, high = -3.0, 6.0
    if not function(low) < wanted < function(high):
        raise units.UnitError(f"{what}; is a unit, a distance or an angle wrong?")
    return float(brentq(lambda u: function(u) - wanted, low, high, xtol=1e-14, rtol=1e-13))


class _Error(NamedTuple):
    """A standard uncertainty that shifts one input of all readings alike."""

    name: str
    key: str
    size: float
    relative: bool = False


def _error(name: str, key: str, value: Any, kind: str, high: float) -> _Error:
    """Read a stated uncertainty; None is none, and a plain number is relative."""
    size = 0.0 if value is None else units.si_in(value, kind, name, 0.0, high)
    return _Error(name, key, size, kind == "number")


def _result(
    method: str,
    readings: Sequence[Mapping[str, float]],
    common: Mapping[str, float],
    constant: Callable[[Mapping[str, float]], float],
    errors: Sequence[_Error],
    level: float,
) -> MeasuredDrag:
    """The mean coefficient of all readings, and its interval by JCGM 100."""
    from scipy.stats import norm
    from scipy.stats import t as student

    if not 0.5 <= level < 1.0:
        raise units.UnitError(f"level: read {level:.6g}; allowed is 0.5 to below 1, such as 0.95")

    def coefficients(key: str = "", add: float = 0.0, times: float = 1.0) -> list[float]:
        found = []
        for reading in readings:
            v = {**common, **reading}
            if key:
                v[key] = v[key] * times + add
            found.append(constant(v) * 8.0 * v["mass"] / (v["density"] * math.pi * v["diameter"] ** 2))
        return found

    each = coefficients()
    n, centre = len(each), sum(each) / len(each)
    if centre <= 0.0:
        raise units.UnitError(
            f"{method}: by these readings the air sped the dart up (C_d {centre:.3g}). Are two readings "
            "swapped, or is a distance or an angle wrong?"
        )
    parts: dict[str, float] = {}
    if n > 1:
        parts[_SCATTER] = sum((one - centre) ** 2 for one in each) / (n - 1) / n
    for error in errors:
        if error.size > 0.0:
            if error.relative:
                up, down = (sum(coefficients(error.key, times=1 + s * error.size)) for s in (1, -1))
            else:
                up, down = (sum(coefficients(error.key, add=s * error.size)) for s in (1, -1))
            parts[error.name] = ((up - down) / (2 * n)) ** 2
    variance = sum(parts.values())
    if variance <= 0.0:
        raise units.UnitError(
            f"{method}: one reading without a stated uncertainty has no interval. Would do: several shots, "
            "or speed_uncertainty=0.005"
        )
    scatter = parts.get(_SCATTER, 0.0)
    dof = (n - 1) * (variance / scatter) ** 2 if scatter > 0.0 else math.inf
    half = math.sqrt(variance) * float((student(dof) if dof < 1e8 else norm).ppf(0.5 + level / 2.0))
    return MeasuredDrag(
        drag_coefficient=centre,
        low=centre - half,
        high=centre + half,
        level=level,
        standard_uncertainty=math.sqrt(variance),
        shares={name: part / variance for name, part in parts.items()},
        readings=tuple(each),
        drag_constant=units.quantity(sum(constant({**common, **one}) for one in readings) / n, "1/m"),
        method=method,
    )


def _common(dart: Any, air: Air | None) -> dict[str, float]:
    mass, diameter = mass_and_size(dart)
    return {"mass": mass, "diameter": diameter, "density": (air or Air()).density.m_as("kg/m^3")}


def _dart_errors(common: Mapping[str, float], mass: Any, diameter: Any) -> list[_Error]:
    return [
        _error("the dart's mass", "mass", mass, "mass", 0.5 * common["mass"]),
        _error("the dart's diameter", "diameter", diameter, "length", 0.5 * common["diameter"]),
    ]


def drag_from_two_speeds(
    dart: Any,
    near: Any,
    far: Any,
    *,
    spacing: Any,
    air: Air | None = None,
    speed_uncertainty: Any = None,
    spacing_uncertainty: Any = None,
    mass_uncertainty: Any = None,
    diameter_uncertainty: Any = None,
    level: float = 0.95,
) -> MeasuredDrag:
    """Drag coefficient from two chronographs a distance apart.

    k = ln(v_near/v_far)/Δx,  C_d = 8 m k/(ρ π d²)

    Parameters
    ----------
    dart : Dart or Projectile [kg, m, -]
        Mass and diameter count; its own coefficient does not.
    near, far : Quantity, str, or list of them [m/s]
        One or more shots, each with both readings.
    spacing : Quantity or str [m]
        Between the middles of the two chronographs.
    air : Air or None [-]
        Common laboratory air when None.
    speed_uncertainty : float, str or None [-]
        Relative standard uncertainty of each chronograph's scale, independent of the other's.
    spacing_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    mass_uncertainty : Quantity, str or None [kg]
        Standard uncertainty.
    diameter_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    level : float [-]
        Of the interval.

    Returns
    -------
    MeasuredDrag
        Coefficient, interval, shares of the variance.

    Raises
    ------
    UnitError
        Unequal counts, swapped readings, a single reading without uncertainty, values out of range.

    References
    ----------
    McCoy 1999, ch. 5; JCGM 100:2008, 5.1.2.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.5)
    >>> found = drag_from_two_speeds(
    ...     dart, ["40.0 m/s", "40.4 m/s"], ["30.7 m/s", "30.9 m/s"], spacing="5 m", speed_uncertainty="0.5 %"
    ... )
    >>> found.words[:49]
    'C_d 0.701, 95 % interval 0.664 to 0.739 from 2 re'
    """
    one, two = (_readings(v, "speed", n, *SPEEDS) for v, n in ((near, "near"), (far, "far")))
    common = _common(dart, air) | {"x": distance_si(spacing, "spacing")}
    readings = [{"near": a, "far": b} for a, b in _pairs(one, two, "near and far")]
    errors = [
        _error("the near chronograph", "near", speed_uncertainty, "number", 0.2),
        _error("the far chronograph", "far", speed_uncertainty, "number", 0.2),
        _error("the spacing", "x", spacing_uncertainty, "length", 0.5 * common["x"]),
        *_dart_errors(common, mass_uncertainty, diameter_uncertainty),
    ]
    return _result(
        "two speeds", readings, common, lambda v: math.log(v["near"] / v["far"]) / v["x"], errors, level
    )


def drag_from_time(
    dart: Any,
    speed: Any,
    time: Any,
    *,
    distance: Any,
    air: Air | None = None,
    speed_uncertainty: Any = None,
    time_uncertainty: Any = None,
    distance_uncertainty: Any = None,
    mass_uncertainty: Any = None,
    diameter_uncertainty: Any = None,
    level: float = 0.95,
) -> MeasuredDrag:
    """Drag coefficient from muzzle velocity and time of flight (a microphone hears muzzle and target).

    t = (exp(k x) − 1)/(k v₀), solved for k

    Parameters
    ----------
    dart : Dart or Projectile [kg, m, -]
        Mass and diameter count; its own coefficient does not.
    speed, time : Quantity, str, or list of them [m/s, s]
        One or more shots, each with both readings.  The sound's way back is not in `time`: take it off.
    distance : Quantity or str [m]
        From muzzle to target.
    air : Air or None [-]
        Common laboratory air when None.
    speed_uncertainty : float, str or None [-]
        Relative standard uncertainty of the chronograph's scale.
    time_uncertainty : Quantity, str or None [s]
        Standard uncertainty common to all times.
    distance_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    mass_uncertainty : Quantity, str or None [kg]
        Standard uncertainty.
    diameter_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    level : float [-]
        Of the interval.

    Returns
    -------
    MeasuredDrag
        Coefficient, interval, shares of the variance.

    Raises
    ------
    UnitError
        As `drag_from_two_speeds`; a time shorter than without air.

    References
    ----------
    McCoy 1999, ch. 5; JCGM 100:2008, 5.1.2.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.5)
    >>> found = drag_from_time(dart, "40 m/s", "330 ms", distance="10 m", time_uncertainty="2 ms")
    >>> round(found.drag_coefficient, 2), round(found.low, 2), round(found.high, 2)
    (0.7, 0.67, 0.73)
    """
    one = _readings(speed, "speed", "speed", *SPEEDS)
    two = _readings(time, "time", "time", 1e-4, 30.0)
    common = _common(dart, air) | {"x": distance_si(distance)}
    readings = [{"speed": a, "time": b} for a, b in _pairs(one, two, "speed and time")]
    errors = [
        _error("the chronograph", "speed", speed_uncertainty, "number", 0.2),
        _error("the timing", "time", time_uncertainty, "time", 1.0),
        _error("the distance", "x", distance_uncertainty, "length", 0.5 * common["x"]),
        *_dart_errors(common, mass_uncertainty, diameter_uncertainty),
    ]

    def constant(v: Mapping[str, float]) -> float:
        ratio = v["time"] * v["speed"] / v["x"]
        what = f"time: {ratio:.3g} times what the distance takes without air"
        return _solve(lambda u: flat_fire(u, 1.0, 1.0)[1], ratio, what) / v["x"]

    return _result("time of flight", readings, common, constant, errors, level)


def drag_from_drop(
    dart: Any,
    speed: Any,
    drop: Any,
    *,
    distance: Any,
    air: Air | None = None,
    speed_uncertainty: Any = None,
    drop_uncertainty: Any = None,
    distance_uncertainty: Any = None,
    mass_uncertainty: Any = None,
    diameter_uncertainty: Any = None,
    level: float = 0.95,
) -> MeasuredDrag:
    """Drag coefficient from muzzle velocity and drop below the line of the bore.

    drop = g (exp(2 k x) − 2 k x − 1)/(4 k² v₀²), solved for k

    Parameters
    ----------
    dart : Dart or Projectile [kg, m, -]
        Mass and diameter count; its own coefficient does not.
    speed, drop : Quantity, str, or list of them [m/s, m]
        One or more shots, each with both readings.
    distance : Quantity or str [m]
        From muzzle to target, with the bore level.
    air : Air or None [-]
        Common laboratory air when None.
    speed_uncertainty : float, str or None [-]
        Relative standard uncertainty of the chronograph's scale.
    drop_uncertainty : Quantity, str or None [m]
        Standard uncertainty common to all drops; the bore's angle times the distance belongs in here.
    distance_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    mass_uncertainty : Quantity, str or None [kg]
        Standard uncertainty.
    diameter_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    level : float [-]
        Of the interval.

    Returns
    -------
    MeasuredDrag
        Coefficient, interval, shares of the variance.

    Raises
    ------
    UnitError
        As `drag_from_two_speeds`; a drop smaller than without air.

    Notes
    -----
    The weakest of the three: most of the drop is there without any air, so that 1 % of the drop is several
    percent of the coefficient.

    References
    ----------
    McCoy 1999, ch. 5; JCGM 100:2008, 5.1.2.

    Examples
    --------
    >>> from blasterlab.flight.drag import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.5)
    >>> found = drag_from_drop(dart, "40 m/s", "45.2 cm", distance="10 m", drop_uncertainty="1 cm")
    >>> round(found.drag_coefficient, 2), round(found.low, 2), round(found.high, 2)
    (0.7, 0.63, 0.77)
    """
    one = _readings(speed, "speed", "speed", *SPEEDS)
    two = _readings(drop, "length", "drop", 1e-4, 50.0)
    common = _common(dart, air) | {"x": distance_si(distance)}
    readings = [{"speed": a, "drop": b} for a, b in _pairs(one, two, "speed and drop")]
    errors = [
        _error("the chronograph", "speed", speed_uncertainty, "number", 0.2),
        _error("the drop", "drop", drop_uncertainty, "length", 1.0),
        _error("the distance", "x", distance_uncertainty, "length", 0.5 * common["x"]),
        *_dart_errors(common, mass_uncertainty, diameter_uncertainty),
    ]

    def constant(v: Mapping[str, float]) -> float:
        ratio = v["drop"] * (v["speed"] / v["x"]) ** 2
        what = f"drop: {ratio / flat_fire(0.0, 1.0, 1.0)[2]:.3g} times the drop without air"
        return _solve(lambda u: flat_fire(u, 1.0, 1.0)[2], ratio, what) / v["x"]

    return _result("drop", readings, common, constant, errors, level)
