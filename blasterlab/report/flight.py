"""Flights in words: heights, holds, leads, targets, drag coefficients, and how a dart settles.

What it is for: sentences, captions and labels from the results of `blasterlab.flight`.  What it leaves out:
groups (`report.groups`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import TypeVar

from blasterlab import units
from blasterlab.checks.cautions import in_an_eye
from blasterlab.flight.aiming_results import Hold
from blasterlab.flight.hold_curve import HoldCurve
from blasterlab.flight.measured_drag import MeasuredDrag
from blasterlab.flight.stability import MakeUp
from blasterlab.flight.target_flight import TargetFlight
from blasterlab.flight.trajectory import FlightPoint
from blasterlab.report.numbers import WHEN, confidence, kept, share
from blasterlab.report.shot import reach
from blasterlab.report.told import Told
from blasterlab.shot.speed_range import SpeedRange
from blasterlab.units import Quantity

_Flight = TypeVar("_Flight")
_NOTHING = 5e-4  # m: less is no height and no side
_UNTOUCHED = 0.005  # a velocity within half a percent of the predicted one needs no word


def height(value: Quantity | float) -> str:
    """A height over the line of sight, such as ``"212 mm low"``, from metres or a Quantity [m].

    Examples
    --------
    >>> height(-0.2123), height(0.0)
    ('212 mm low', 'on the mark')
    """
    metres = _metres(value)
    return f"{kept(abs(metres), 'length', 3)} {_high(metres)}" if abs(metres) >= _NOTHING else "on the mark"


def side(value: Quantity | float, none: str = "not to the side") -> str:
    """A place to the side, such as ``"264 mm right"``, or what is said of none, from metres [m].

    Examples
    --------
    >>> side(-0.2123), side(0.0, "no lead")
    ('212 mm left', 'no lead')
    """
    metres = _metres(value)
    return f"{kept(abs(metres), 'length', 3)} {_way(metres)}" if abs(metres) >= _NOTHING else none


def _metres(value: Quantity | float) -> float:
    return units.si(value, "length") if isinstance(value, units.Quantity) else float(value)


def _high(metres: float) -> str:
    return "high" if metres >= 0.0 else "low"


def _way(metres: float) -> str:
    return "right" if metres >= 0.0 else "left"


def hold_words(result: Hold) -> str:
    """A hold in one sentence, such as ``"hold 591 mm high (39.4 mrad) and 399 mm left (26.6 mrad)"`` [-]."""
    parts = [
        f"{kept(abs(metres), 'length', 3)} {word(metres)} ({_mrad(angle)})"
        for metres, angle, word in (
            (_metres(result.up), result.up_angle, _high),
            (_metres(result.right), result.right_angle, _way),
        )
    ]
    return f"hold {parts[0]} and {parts[1]}"


def aim(curve: HoldCurve) -> str:
    """Where to aim in one line [-]."""
    right, up = curve.aim
    return f"At {units.show(curve.distance, 'distance', 3)} aim {height(up)}, {side(right)}"


def aim_labels(curve: HoldCurve) -> dict[str, str]:
    """The labels of the target's picture, by what they stand at [-]."""
    right, up = curve.aim
    wind, lead = side(curve.hold.right, ""), side(curve.towards * curve.lead.length, "")
    return {
        "aim": f"x  aim here: {height(up)}, {side(right)}",
        "drop": f"drop {height(up)}",
        "wind": f"wind {wind}" if wind else "no wind hold",
        "lead": f"lead {lead}" if lead else "no lead",
    }


def aim_words(curve: HoldCurve) -> Told:
    """What the wind panel says [-]."""
    drift, lead = -_metres(curve.hold.right), curve.lead
    blown = f"The wind carries the dart {kept(abs(drift), 'length', 3)} to the {_way(drift)}."
    right, up = curve.aim
    lines = [
        blown if abs(drift) > _NOTHING else "No drift to the side.",
        f"For drop and wind {hold_words(curve.hold)}.",
    ]
    if _metres(lead.length) > _NOTHING:
        lines.append(
            f"The target walks {kept(lead.length, 'length', 3)} to the {_way(curve.towards)} in "
            f"{_seconds(lead.time)}: aim {_mrad(lead.angle)} ahead of it."
        )
    verdict = f"Aim {height(up)} and {side(right)} of where you want to hit."
    heard = _at_ends(curve.ends, lambda one: f"aim {height(one.aim[1])} and {side(one.aim[0])}")
    return Told(f"{aim(curve)}, flight {_seconds(curve.hold.time)}", verdict, tuple(heard), tuple(lines))


def _at_ends(
    ends: tuple[SpeedRange, _Flight | None, _Flight | None] | None, said: Callable[[_Flight], str]
) -> list[str]:
    """What both ends of a speed's range make of a flight with the same zero; nothing where it was set."""
    if ends is None:
        return []
    near, *flights = ends
    slow, fast = ("it falls short" if one is None else said(one) for one in flights)
    return [
        f"{_first(WHEN[near.source])} the speed may be {reach(near.low, near.high)}. With the same zero, "
        f"{slow} at the low end, and {fast} at the high end."
    ]


def _mrad(angle: Quantity) -> str:
    return f"{abs(angle.m_as('mrad')):#.3g}".rstrip(".") + " mrad"


def _seconds(time: Quantity) -> str:
    return f"{time.m_as('s'):.2f} s"


def at_target(flights: Sequence[TargetFlight]) -> str:
    """Height, time and speed at the target in one line: the caption of `trajectory_chart` [-]."""
    parts = []
    for one in flights:
        words = f"out of reach, lands at {kept(one.zero.flight.last.distance, 'distance', 3)}"
        if one.point is not None:
            words = ", ".join(point_labels(one.point))
        parts.append(f"{one.name} {words}".strip())
    return f"At {units.show(flights[0].distance, 'distance', 3)}, " + "; ".join(parts)


def point_labels(point: FlightPoint) -> tuple[str, str]:
    """The labels of a point: height with time, and speed [-]."""
    return f"{height(point.height)}, {_seconds(point.time)}", kept(point.speed, "speed", 3)


def target_words(flights: Sequence[TargetFlight]) -> Told:
    """What the trajectory panel says [-]."""
    single = len(flights) == 1
    short = [replace(one, name="" if single else f"{number}:") for number, one in enumerate(flights, 1)]
    verdicts, heard, more = list[str](), list[str](), list[str]()
    for number, one in enumerate(flights, 1):
        who = "" if single else f"number {number}, {one.name.partition(': ')[2]}"
        named = (lambda said: said) if single else (lambda said, who=who: f"{_first(who)}: {said}")
        verdict, notes, rest = _target(one, f"{who}," if who else "it")
        verdicts.append(verdict)
        heard += map(named, notes)
        more += map(named, rest)
    return Told(at_target(short), " ".join(verdicts), tuple(heard), tuple(more))


def _first(who: str) -> str:
    return who[0].upper() + who[1:]


def _target(one: TargetFlight, who: str) -> tuple[str, list[str], list[str]]:
    """The verdict on one flight, what must be heard of it, and the rest."""
    flight, zero = one.zero.flight, one.zero
    start, there = flight.at("0 m"), one.point
    if there is None:
        land = kept(flight.last.distance, "distance", 3)
        verdict = f"{_first(who)} lands at {land}, before it reaches the target."
        said, notes = list[str](), list[str]()
    else:
        speed, energy = (share(float(getattr(there, n) / getattr(start, n))) for n in ("speed", "energy"))
        past = abs(_metres(there.height)) - 0.5 * _metres(one.target_height)
        where = "on the target" if past <= 0.0 else f"{kept(past, 'length', 3)} past the target's edge"
        at = units.show(one.distance, "distance", 3)
        verdict = (
            f"At {at} {who} strikes {height(there.height)}, {where}: hold {height(-_metres(there.height))}."
        )
        notes = _at_ends(one.ends, _struck)
        said = [
            f"It leaves at {kept(start.speed, 'speed', 3)} with {kept(start.energy, 'energy', 3)}; "
            f"{speed} of the speed and {energy} of the energy remain at the target.",
            f"{in_an_eye(start.energy, flight.launch.dart.diameter)}.",
        ]
    crossings = [kept(x, "distance", 3) for x in (zero.near, zero.far) if x is not None]
    said.append(
        f"The path crosses the line of sight at {' and '.join(crossings) or 'no distance'} and is highest at "
        f"{kept(zero.top.distance, 'distance', 2)} ({height(zero.top.height)})."
    )
    if one.span is not None:
        best, near, far = (
            kept(x or 0.0, "distance", 3) for x in (one.span.zero, one.span.near, one.span.far)
        )
        said.append(
            f"With the zero at {best} instead, you hit this target from {near} to {far} without changing the "
            "hold."
        )
    if one.predicted is not None and abs(start.speed - one.predicted) > _UNTOUCHED * start.speed:
        words = (
            f"shoot {kept(one.predicted, 'speed', 3)}" if one.predicted.m else "keep the dart in the barrel"
        )
        notes.append(
            f"Note: the build is predicted to {words} with this dart, not the "
            f"{kept(start.speed, 'speed', 3)} set here."
        )
    return verdict, notes, said


def _struck(one: TargetFlight) -> str:
    return "it falls short" if one.point is None else f"it strikes {height(one.point.height)}"


def measured_drag(result: MeasuredDrag) -> str:
    """A measured drag coefficient in one sentence [-]."""
    largest = max(result.shares.values())
    names = [name for name, part in result.shares.items() if part > 0.99 * largest]  # two may be alike
    shots = len(result.readings)
    text = (
        f"C_d {result.drag_coefficient:.3f} ({confidence(result.level)} confidence: {result.low:.3f} to "
        f"{result.high:.3f}) from {shots} shot{'s' * (shots > 1)} by {result.method}; "
        f"{share(largest)} of the variance comes from {' and as much from '.join(names)}"
    )
    return text + ("; it could still be zero: measure over a longer distance" if result.low <= 0.0 else "")


def make_up(dart: MakeUp) -> str:
    """Whether a dart flies nose first, in one sentence [-]."""
    centre = dart.centre_of_mass
    start = (
        f"centre of mass {kept(centre, 'length', 3)} behind the nose "
        f"({share(float(centre / dart.length))} of the length)"
    )
    settle = dart.wobble_angle
    if settle is None:
        times = dart.tumbling_drag / dart.drag_coefficient
        return f"{start}: it turns over and tumbles at {times:.1f} times the drag; try more mass in the tip"
    more = share(dart.drag_at(settle) / dart.drag_coefficient - 1.0)
    return (
        f"{start}: the forces balance at {_degrees(settle)} to the path; held at that angle it has {more} "
        "more drag"
    )


def _degrees(angle: Quantity) -> str:
    return f"{math.degrees(units.si(angle, 'angle')):.0f}°"


def balances(darts: Mapping[str, MakeUp]) -> str:
    """Where each dart settles: the caption of `margin_chart` [-]."""
    found = {name: dart.wobble_angle for name, dart in darts.items()}
    return "; ".join(
        f"{name} turns over" if angle is None else f"{name} balances at {_degrees(angle)}"
        for name, angle in found.items()
    )
