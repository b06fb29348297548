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
from typing import Any, NamedTuple, TypeAlias, TypedDict, Unpack

from blasterlab import units
from blasterlab.air import Air
from blasterlab.doors import Spoken
from blasterlab.flight.flat_fire import flat_fire
from blasterlab.flight.group_statistics import read_level
from blasterlab.flight.launch import SPEEDS, distance_si
from blasterlab.flight.projectile import Projectile, mass_and_size
from blasterlab.parts.dart import Dart
from blasterlab.units import Quantity, QuantityLike

_MOST = 1000
SCATTER = "the scatter from shot to shot"
Readings: TypeAlias = "QuantityLike | Sequence[QuantityLike]"
_Values: TypeAlias = Mapping[str, float]


@dataclass(frozen=True)
class MeasuredDrag(Spoken):
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
    drag_constant: Quantity
    method: str


class DartAndAir(TypedDict, total=False):
    """What each method may be told by name beside its own readings."""

    air: Air | None  # common laboratory air when None
    mass_uncertainty: QuantityLike | None  # standard uncertainties of the dart
    diameter_uncertainty: QuantityLike | None
    level: float  # of the interval, 0.95


class _Input(NamedTuple):
    """One input: its name in words, its readings in SI, one a shot or one for all, and its uncertainty.

    The uncertainty is a standard one that shifts all readings alike, relative to them where that is said.
    """

    name: str
    readings: list[float]
    uncertainty: float
    relative: bool = False


def _read(
    name: str,
    field: str,
    values: Readings,
    kind: str,
    span: tuple[float, float],
    uncertainty: QuantityLike | None,
    most: float,
) -> _Input:
    """Read one input; a speed's uncertainty is relative."""
    many: list[Any] = list(values) if isinstance(values, list | tuple) else [values]
    if not 1 <= len(many) <= _MOST:
        raise units.UnitError(f"{field}: got {len(many)} readings; must be 1 to {_MOST}")
    found = [units.si_in(one, kind, f"{field}[{i}]", *span) for i, one in enumerate(many)]
    relative = kind == "speed"
    unsure = _standard(name, uncertainty, "number" if relative else kind, most)
    return _Input(name, found, unsure, relative)


def _standard(name: str, value: QuantityLike | None, kind: str, most: float) -> float:
    """A standard uncertainty; None is none."""
    return 0.0 if value is None else units.si_in(value, kind, f"uncertainty of {name}", 0.0, most)


def _one(name: str, value: float, kind: str, uncertainty: QuantityLike | None) -> _Input:
    """An input that all shots share; its uncertainty is at most half of it."""
    return _Input(name, [value], _standard(name, uncertainty, kind, 0.5 * value))


def _solve(function: Callable[[float], float], wanted: float, what: str) -> float:
    """The u = k x at which a growing function has a wanted value."""
    from scipy.optimize import brentq

    low, high = -3.0, 6.0
    if not function(low) < wanted < function(high):
        raise units.UnitError(f"{what}; is a unit, a distance or an angle wrong?")
    return float(brentq(lambda u: function(u) - wanted, low, high, xtol=1e-14, rtol=1e-13))


def _measure(
    method: str,
    dart: Dart | Projectile,
    own: Mapping[str, _Input],
    constant: Callable[[_Values], float],
    given: DartAndAir,
) -> MeasuredDrag:
    """The mean coefficient of all shots, and its interval by JCGM 100; `constant` makes k of one shot."""
    level, (mass, diameter) = read_level(given.get("level", 0.95)), mass_and_size(dart)
    inputs = {
        **own,
        "mass": _one("the dart's mass", mass, "mass", given.get("mass_uncertainty")),
        "diameter": _one("the dart's diameter", diameter, "length", given.get("diameter_uncertainty")),
    }
    first, second = (len(one.readings) for one in list(own.values())[:2])
    if first != second:
        raise units.UnitError(
            f"{method}: got {first} and {second} readings; each shot needs both of its readings"
        )
    columns = {key: one.readings * (1 if key in list(own)[:2] else first) for key, one in inputs.items()}
    shots = [dict(zip(columns, shot, strict=True)) for shot in zip(*columns.values(), strict=True)]
    area = (given.get("air") or Air()).density.m_as("kg/m^3") * math.pi / 8.0

    def mean(moved: str = "", by: float = 0.0) -> tuple[float, list[float]]:
        each = []
        for shot in shots:
            v = dict(shot)
            if moved:
                v[moved] += by * (v[moved] if inputs[moved].relative else 1.0)
            each.append(constant(v) * v["mass"] / (area * v["diameter"] ** 2))
        return sum(each) / len(each), each

    centre, each = mean()
    if centre <= 0.0:
        raise units.UnitError(
            f"{method}: by these readings the air sped the dart up (C_d {centre:.3g}). Are two readings "
            "swapped, or is a distance or an angle wrong?"
        )
    parts = {SCATTER: sum((one - centre) ** 2 for one in each) / (first - 1) / first} if first > 1 else {}
    for key, one in inputs.items():
        if one.uncertainty > 0.0:
            parts[one.name] = ((mean(key, one.uncertainty)[0] - mean(key, -one.uncertainty)[0]) / 2.0) ** 2
    variance, half = _half(method, parts, first, level)
    return MeasuredDrag(
        drag_coefficient=centre,
        low=centre - half,
        high=centre + half,
        level=level,
        standard_uncertainty=math.sqrt(variance),
        shares={name: part / variance for name, part in parts.items()},
        readings=tuple(each),
        drag_constant=units.quantity(centre * area * diameter**2 / mass, "1/m"),
        method=method,
    )


def _half(method: str, parts: Mapping[str, float], shots: int, level: float) -> tuple[float, float]:
    """The variance, and half the width of the interval, with the degrees of freedom of JCGM 100, G.4."""
    from scipy.stats import t as student

    variance, scatter = sum(parts.values()), parts.get(SCATTER, 0.0)
    if variance <= 0.0:
        raise units.UnitError(
            f"{method}: one reading without a stated uncertainty has no interval; try several shots, or "
            "speed_uncertainty=0.005"
        )
    dof = (shots - 1) * (variance / scatter) ** 2 if scatter > 0.0 else math.inf
    return variance, math.sqrt(variance) * float(student(dof).ppf(0.5 + level / 2.0))


def drag_from_two_speeds(
    dart: Dart | Projectile,
    near: Readings,
    far: Readings,
    *,
    spacing: QuantityLike,
    speed_uncertainty: QuantityLike | None = None,
    spacing_uncertainty: QuantityLike | None = None,
    **given: Unpack[DartAndAir],
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
    speed_uncertainty : float, str or None [-]
        Relative standard uncertainty of each chronograph's scale, independent of the other's.
    spacing_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    **given : Air, Quantity, str or float [kg, m, -]
        ``air`` (common laboratory air without), ``mass_uncertainty`` and ``diameter_uncertainty`` (standard
        uncertainties of the dart), ``level`` of the interval (0.95).

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.5)
    >>> found = drag_from_two_speeds(
    ...     dart, ["40.0 m/s", "40.4 m/s"], ["30.7 m/s", "30.9 m/s"], spacing="5 m", speed_uncertainty="0.5 %"
    ... )
    >>> round(found.drag_coefficient, 3), round(found.low, 3), round(found.high, 3)
    (0.701, 0.664, 0.739)
    """
    own = {
        "near": _read("the near chronograph", "near", near, "speed", SPEEDS, speed_uncertainty, 0.2),
        "far": _read("the far chronograph", "far", far, "speed", SPEEDS, speed_uncertainty, 0.2),
        "x": _one("the spacing", distance_si(spacing, "spacing"), "length", spacing_uncertainty),
    }
    return _measure("two speeds", dart, own, lambda v: math.log(v["near"] / v["far"]) / v["x"], given)


def drag_from_time(
    dart: Dart | Projectile,
    speed: Readings,
    time: Readings,
    *,
    distance: QuantityLike,
    speed_uncertainty: QuantityLike | None = None,
    time_uncertainty: QuantityLike | None = None,
    distance_uncertainty: QuantityLike | None = None,
    **given: Unpack[DartAndAir],
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
    speed_uncertainty : float, str or None [-]
        Relative standard uncertainty of the chronograph's scale.
    time_uncertainty : Quantity, str or None [s]
        Standard uncertainty common to all times.
    distance_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    **given : Air, Quantity, str or float [kg, m, -]
        As in `drag_from_two_speeds`.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.5)
    >>> found = drag_from_time(dart, "40 m/s", "330 ms", distance="10 m", time_uncertainty="2 ms")
    >>> round(found.drag_coefficient, 2), round(found.low, 2), round(found.high, 2)
    (0.7, 0.67, 0.73)
    """
    own = {
        "speed": _read("the chronograph", "speed", speed, "speed", SPEEDS, speed_uncertainty, 0.2),
        "time": _read("the timing", "time", time, "time", (1e-4, 30.0), time_uncertainty, 1.0),
        "x": _one("the distance", distance_si(distance), "length", distance_uncertainty),
    }

    def constant(v: _Values) -> float:
        ratio = v["time"] * v["speed"] / v["x"]
        what = f"time: {ratio:.3g} times what the distance takes without air"
        return _solve(lambda u: flat_fire(u, 1.0, 1.0)[1], ratio, what) / v["x"]

    return _measure("time of flight", dart, own, constant, given)


def drag_from_drop(
    dart: Dart | Projectile,
    speed: Readings,
    drop: Readings,
    *,
    distance: QuantityLike,
    speed_uncertainty: QuantityLike | None = None,
    drop_uncertainty: QuantityLike | None = None,
    distance_uncertainty: QuantityLike | None = None,
    **given: Unpack[DartAndAir],
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
    speed_uncertainty : float, str or None [-]
        Relative standard uncertainty of the chronograph's scale.
    drop_uncertainty : Quantity, str or None [m]
        Standard uncertainty common to all drops; the bore's angle times the distance belongs in here.
    distance_uncertainty : Quantity, str or None [m]
        Standard uncertainty.
    **given : Air, Quantity, str or float [kg, m, -]
        As in `drag_from_two_speeds`.

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
    >>> from blasterlab.flight.projectile import Projectile
    >>> dart = Projectile("1.0 g", "12.7 mm", 0.5)
    >>> found = drag_from_drop(dart, "40 m/s", "45.2 cm", distance="10 m", drop_uncertainty="1 cm")
    >>> round(found.drag_coefficient, 2), round(found.low, 2), round(found.high, 2)
    (0.7, 0.63, 0.77)
    """
    own = {
        "speed": _read("the chronograph", "speed", speed, "speed", SPEEDS, speed_uncertainty, 0.2),
        "drop": _read("the drop", "drop", drop, "length", (1e-4, 50.0), drop_uncertainty, 1.0),
        "x": _one("the distance", distance_si(distance), "length", distance_uncertainty),
    }

    def constant(v: _Values) -> float:
        ratio = v["drop"] * (v["speed"] / v["x"]) ** 2
        what = f"drop: {ratio / flat_fire(0.0, 1.0, 1.0)[2]:.3g} times the drop without air"
        return _solve(lambda u: flat_fire(u, 1.0, 1.0)[2], ratio, what) / v["x"]

    return _measure("drop", dart, own, constant, given)
