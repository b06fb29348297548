"""Staged cuts: a barrel or a spring that can only get shorter, cut in steps, each after five shots.

What it is for: cut to here, shoot, type the mean; the next cut follows from what was learned.  What it leaves
out: which part to cut (``search``), and shots one by one (``bench.calibrate``).

No cut goes past the target at the safe end of the range: what is cut off does not grow again.

References
----------
G. Evensen, *Data Assimilation: The Ensemble Kalman Filter*, 2nd ed., 2009, ch. 4 (a crowd of cases corrected
by a measured mean).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.bench.predict import shot_spread
from blasterlab.bench.statistics import check_level
from blasterlab.build import Build
from blasterlab.doors import Spoken
from blasterlab.faults import fault, shown
from blasterlab.plan.cutting import reach, with_cut
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Floats
from blasterlab.shot.speed_range import TOLERANCE, normal_scores, unknowns
from blasterlab.units import Quantity, QuantityLike

#: Lengths that are looked at; the least that a saw takes off; shots behind a typed mean.
POINTS, KERF, SHOTS = 60, 1e-3, 5
PARTS = ("barrel", "spring")
_SHORTEST = 0.03


@dataclass(frozen=True)
class NextCut(Spoken):
    """What to do next with a part that can only get shorter.

    Attributes
    ----------
    part, code : str [-]
        ``"barrel"`` or ``"spring"``; ``"shoot"`` (no mean at this length yet), ``"cut"``, ``"done"`` (the
        range holds the target, or no cut is safe any more) or ``"unreachable"``.
    target : Quantity [m/s]
        The wanted mean.
    length : Quantity [mm]
        The part's length now.
    to : Quantity or None [mm]
        Cut to here; None without a cut.
    now, then : tuple of Quantity [m/s]
        Low end, middle and high end of the mean now, and after the cut.
    build : Build [-]
        The build with the part at `to`, or as it is now.
    """

    part: str
    code: str
    target: Quantity
    length: Quantity
    to: Quantity | None
    now: tuple[Quantity, Quantity, Quantity]
    then: tuple[Quantity, Quantity, Quantity]
    build: Build


def next_cut(
    build: Build,
    target: QuantityLike,
    part: str = "barrel",
    means: Sequence[tuple[QuantityLike, QuantityLike]] = (),
    level: float = 0.9,
) -> NextCut:
    """The next cut of a barrel or a spring on the way to a wanted velocity.

    Parameters
    ----------
    build : Build [-]
        With the part as it was before the first cut.
    target : Quantity or str [speed]
        The wanted mean.
    part : str [-]
        ``"barrel"`` or ``"spring"``, the first of several.
    means : sequence of (length, speed) [length, speed]
        Lengths so far, each shorter than the one before, and the mean of five shots at each.
    level : float [-]
        Share of cases within the range.

    Returns
    -------
    NextCut
        Where to cut, or why not.

    Raises
    ------
    UnitError
        A length longer than the part or than the one before, a part that is neither, values out of range.

    Notes
    -----
    A cut stays on this side of the target over its whole way: a barrel that is too long first gains speed by
    a cut.  A typed mean gets the usual spread of five shots and of an assembly.
    """
    check_level(level)
    if part not in PARTS:
        raise units.UnitError(fault("part", shown(part), " or ".join(PARTS)))
    wanted = units.si_in(target, "speed", "target", 0.1, 400.0)
    whole = build.si["barrel.length" if part == "barrel" else "spring0.free_length"]
    shot = _read(means, whole, part)
    now = shot[-1][0] if shot else whole
    shortest = _SHORTEST if part == "barrel" else whole - reach(build, "open", 0)[1]
    ways = np.linspace(now, min(shortest, now), POINTS)
    if part == "spring" and len(ways) > 1:  # the end's own coil comes off at once
        first = whole - reach(build, "open", 0)[0]
        ways = np.concatenate([[now], np.linspace(min(now, first), min(shortest, now), POINTS - 1)])
    crowd = _learned(build, part, ways, shot)
    low, middle, high = np.quantile(crowd, [0.5 - 0.5 * level, 0.5, 0.5 + 0.5 * level], axis=0)
    code, to = _decided(ways, low, high, wanted, bool(shot))
    at = ways if to is None else np.array([now, to])
    ends = [np.interp(-at[:2], -ways, each) for each in (low, middle, high)]
    pairs = [tuple(units.quantity(float(end[k]), "m/s") for end in ends) for k in (0, 0 if to is None else 1)]
    done = _cut(build, part, now if to is None else to, whole)
    mm = None if to is None else units.quantity(1e3 * to, "mm")
    goal, length = units.quantity(wanted, "m/s"), units.quantity(1e3 * now, "mm")
    return NextCut(part, code, goal, length, mm, pairs[0], pairs[1], done)  # type: ignore[arg-type]


def _read(
    means: Sequence[tuple[QuantityLike, QuantityLike]], whole: float, part: str
) -> list[tuple[float, float]]:
    """Lengths and means so far, checked [m, m/s]."""
    found: list[tuple[float, float]] = []
    most = whole
    for place, (length, mean) in enumerate(means):
        at = units.si_in(length, "length", f"means[{place}] length", 1e-3, 5.0)
        if at > most * (1 + 1e-9) or (found and at >= most):
            what = f"the {part} as it was" if most == whole else "the one before"
            must = f"at most {units.show(most, 'length')}, {what}"
            raise units.UnitError(
                fault(f"means[{place}] length", units.show(at, "length"), must, "a cut only shortens")
            )
        found.append((at, units.si_in(mean, "speed", f"means[{place}]", 0.1, 400.0)))
        most = at
    return found


def _cut(build: Build, part: str, length: float, whole: float) -> Build:
    if length >= whole * (1 - 1e-9):
        return build
    to = units.quantity(length, "m")
    return build.replace({"barrel.length": to}) if part == "barrel" else with_cut(build, to_length=to)


def _learned(build: Build, part: str, ways: Floats, shot: list[tuple[float, float]]) -> Floats:
    """Mean speeds of a crowd of cases at each length, corrected by the means, shape (cases, n) [m/s]."""
    whole = build.si["barrel.length" if part == "barrel" else "spring0.free_length"]
    lengths = np.array([*ways, *(length for length, _ in shot)])
    each = [_cut(build, part, float(length), whole).si for length in lengths]
    values = {name: np.array([one[name] for one in each]) for name in each[0]}
    asked = unknowns(build)
    speeds = simulate_rows(asked.rows(values, len(lengths)), TOLERANCE).muzzle_velocity.m
    crowd, _ = asked.crowd(speeds.reshape(len(lengths), -1).T)
    count = len(shot)
    if not count:
        return crowd
    measured = np.array([mean for _, mean in shot])
    error = np.hypot(shot_spread(build.calibration)[0] / math.sqrt(SHOTS), asked.setup) * measured
    seen = crowd[:, -count:]
    off = crowd - crowd.mean(axis=0)
    shared = off.T @ off[:, -count:] / len(crowd)
    gain = shared @ np.linalg.inv(shared[-count:] + np.diag(error**2))
    corrected = crowd + (measured + error * normal_scores(len(crowd), count, 3) - seen) @ gain.T
    return np.asarray(corrected[:, :-count])


def _decided(ways: Floats, low: Floats, high: Floats, wanted: float, shot: bool) -> tuple[str, float | None]:
    """What to do, and the length to cut to: the shortest whose range, all the way, is on this side [m]."""
    if not shot:
        return "shoot", None
    if low[0] <= wanted <= high[0]:
        return "done", None
    near, side = (low, 1.0) if low[0] > wanted else (high, -1.0)
    room = side * (near - wanted)  # above zero on this side of the target
    past = np.flatnonzero(room <= 0.0)
    if not past.size:
        return "unreachable", None
    last = int(past[0]) - 1
    share = room[last] / (room[last] - room[last + 1])
    to = math.ceil(1e3 * (ways[last] + share * (ways[last + 1] - ways[last]))) / 1e3
    return ("cut", to) if to <= ways[0] - KERF else ("done", None)
