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
from functools import partial
from typing import Any, NamedTuple, TypeAlias, TypedDict, Unpack

from blasterlab import units
from blasterlab.air import Air
from blasterlab.doors import Spoken
from blasterlab.flight.flat_fire import flat_fire, retardation
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


class Given(TypedDict, total=False):
    """What a measurement may be told by name: standard uncertainties, and what the methods share.

    The uncertainty of speeds is relative, that of a chronograph's scale; those of times and drops are common
    to all shots.  Each method takes those of its own readings, of the dart, and `air` and `level`.
    """

    speed_uncertainty: QuantityLike | None
    time_uncertainty: QuantityLike | None
    drop_uncertainty: QuantityLike | None
    spacing_uncertainty: QuantityLike | None
    distance_uncertainty: QuantityLike | None
    mass_uncertainty: QuantityLike | None
    diameter_uncertainty: QuantityLike | None
    air: Air | None
    level: float


class _Input(NamedTuple):
    """What can be read: its name in words, kind and range in SI, and which uncertainty it has, up to what.

    A largest uncertainty of 0 stands for half of the reading.
    """

    name: str
    kind: str
    low: float
    high: float
    uncertainty: str
    most: float = 0.0


_INPUTS = {
    "near": _Input("the near chronograph", "speed", *SPEEDS, "speed", 0.2),
    "far": _Input("the far chronograph", "speed", *SPEEDS, "speed", 0.2),
    "speed": _Input("the chronograph", "speed", *SPEEDS, "speed", 0.2),
    "time": _Input("the timing", "time", 1e-4, 30.0, "time", 1.0),
    "drop": _Input("the drop", "length", 1e-4, 50.0, "drop", 1.0),
    "spacing": _Input("the spacing", "distance", 1e-3, 1000.0, "spacing"),
    "distance": _Input("the distance", "distance", 1e-3, 1000.0, "distance"),
    "mass": _Input("the dart's mass", "mass", 0.0, 1.0, "mass"),
    "diameter": _Input("the dart's diameter", "length", 0.0, 1.0, "diameter"),
}


def _read(field: str, values: Any) -> list[float]:
    many, one = list(values) if isinstance(values, list | tuple) else [values], _INPUTS[field]
    if not 1 <= len(many) <= _MOST:
        raise units.UnitError(f"{field}: got {len(many)} readings; must be 1 to {_MOST}")
    if one.kind == "distance":
        return [distance_si(many[0], field)]
    return [units.si_in(value, one.kind, f"{field}[{i}]", one.low, one.high) for i, value in enumerate(many)]


def _unsure(field: str, reading: float, given: Given) -> float:
    """A standard uncertainty in the unit of the reading, relative for a speed; none where it is not given."""
    one = _INPUTS[field]
    value: Any = given.get(f"{one.uncertainty}_uncertainty")
    if value is None:
        return 0.0
    kind = "number" if one.kind == "speed" else one.kind
    return units.si_in(value, kind, f"uncertainty of {one.name}", 0.0, one.most or 0.5 * reading)


def _flat(field: str, power: int, usual: str, v: _Values) -> float:
    """k [1/m] of the flat fire with such a time or drop; they grow with a power of distance over speed."""
    from scipy.optimize import brentq

    def grown(u: float) -> float:
        return flat_fire(u, 1.0, 1.0)[power]

    low, high, wanted = -3.0, 6.0, v[field] * (v["speed"] / v["distance"]) ** power
    if not grown(low) < wanted < grown(high):
        raise units.UnitError(
            f"{field}: {wanted / grown(0.0):.3g} times {usual} without air; is a unit, a distance or an "
            "angle wrong?"
        )
    found = brentq(lambda u: grown(u) - wanted, low, high, xtol=1e-14, rtol=1e-13)
    return float(found) / v["distance"]


def _measure(
    method: str,
    dart: Dart | Projectile,
    own: Mapping[str, Readings],
    constant: Callable[[_Values], float],
    given: Given,
) -> MeasuredDrag:
    """The mean coefficient of all shots, and its interval by JCGM 100; `constant` makes k of one shot."""
    level, (mass, diameter) = read_level(given.get("level", 0.95)), mass_and_size(dart)
    readings = {field: _read(field, values) for field, values in own.items()}
    readings |= {"mass": [mass], "diameter": [diameter]}
    known = {f"{_INPUTS[field].uncertainty}_uncertainty" for field in readings} | {"air", "level"}
    if unknown := given.keys() - known:
        raise TypeError(f"{method}: unexpected {', '.join(sorted(unknown))}")
    first, second = (len(readings[field]) for field in list(own)[:2])
    if first != second:
        raise units.UnitError(
            f"{method}: got {first} and {second} readings; each shot needs both of its readings"
        )
    columns = {field: found * (1 if field in list(own)[:2] else first) for field, found in readings.items()}
    shots = [dict(zip(columns, shot, strict=True)) for shot in zip(*columns.values(), strict=True)]
    density = (given.get("air") or Air()).density.m_as("kg/m^3")

    def mean(moved: str = "", by: float = 0.0) -> tuple[float, list[float]]:
        each = []
        for shot in shots:
            v = dict(shot)
            if moved:
                v[moved] += by * (v[moved] if _INPUTS[moved].kind == "speed" else 1.0)
            each.append(constant(v) / retardation(density, v["mass"], v["diameter"]))
        return sum(each) / first, each

    centre, each = mean()
    if centre <= 0.0:
        raise units.UnitError(
            f"{method}: by these readings the air sped the dart up (C_d {centre:.3g}). Are two readings "
            "swapped, or is a distance or an angle wrong?"
        )
    parts = {SCATTER: sum((one - centre) ** 2 for one in each) / (first - 1) / first} if first > 1 else {}
    for field, found in readings.items():
        if by := _unsure(field, found[0], given):
            parts[_INPUTS[field].name] = ((mean(field, by)[0] - mean(field, -by)[0]) / 2.0) ** 2
    variance, half = _half(method, parts, first, level)
    return MeasuredDrag(
        drag_coefficient=centre,
        low=centre - half,
        high=centre + half,
        level=level,
        standard_uncertainty=math.sqrt(variance),
        shares={name: part / variance for name, part in parts.items()},
        readings=tuple(each),
        drag_constant=units.quantity(centre * retardation(density, mass, diameter), "1/m"),
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
    dart: Dart | Projectile, near: Readings, far: Readings, *, spacing: QuantityLike, **given: Unpack[Given]
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
    **given : Air, Quantity, str or float [kg, m, -]
        ``speed_uncertainty`` (relative, of each chronograph's scale, independent of the other's),
        ``spacing_uncertainty``, ``mass_uncertainty``, ``diameter_uncertainty``: standard uncertainties;
        ``air``, common laboratory air without; ``level`` of the interval, 0.95 without.

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
    own = {"near": near, "far": far, "spacing": spacing}
    return _measure("two speeds", dart, own, lambda v: math.log(v["near"] / v["far"]) / v["spacing"], given)


def drag_from_time(
    dart: Dart | Projectile,
    speed: Readings,
    time: Readings,
    *,
    distance: QuantityLike,
    **given: Unpack[Given],
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
    **given : Air, Quantity, str or float [kg, m, s, -]
        As in `drag_from_two_speeds`, with ``time_uncertainty``, common to all times, and
        ``distance_uncertainty`` in place of that of the spacing.

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
    own = {"speed": speed, "time": time, "distance": distance}
    constant = partial(_flat, "time", 1, "what the distance takes")
    return _measure("time of flight", dart, own, constant, given)


def drag_from_drop(
    dart: Dart | Projectile,
    speed: Readings,
    drop: Readings,
    *,
    distance: QuantityLike,
    **given: Unpack[Given],
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
    **given : Air, Quantity, str or float [kg, m, -]
        As in `drag_from_two_speeds`, with ``drop_uncertainty``, common to all drops (the bore's angle times
        the distance belongs in here), and ``distance_uncertainty`` in place of that of the spacing.

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
    own = {"speed": speed, "drop": drop, "distance": distance}
    return _measure("drop", dart, own, partial(_flat, "drop", 2, "the drop"), given)
