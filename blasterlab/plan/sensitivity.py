"""What matters: what one step of each part does, and which tolerance or loss moves the speed most.

What it is for: `steps` in a builder's measures (a millimetre of stroke, the next wire), each with its range;
`what_matters`, a tornado and Sobol' indices over losses and tolerances.  What it leaves out: what the next
measurement would tell in numbers (``bench.next_measurement``).

References
----------
I. M. Sobol', *Mathematics and Computers in Simulation* 55, 271, 2001 (indices); A. Saltelli et al., *Computer
Physics Communications* 181, 259, 2010 (their estimators, as in scipy.stats.sobol_indices).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.assumed import si_name
from blasterlab.bench.predict import shot_factors
from blasterlab.build import Build, BuildError
from blasterlab.doors import Spoken
from blasterlab.plan.cutting import with_cut
from blasterlab.shot.barrel_sweep import best_lengths
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Floats
from blasterlab.shot.speed_range import TOLERANCE, Unknowns, independent, unknowns
from blasterlab.tables import pd
from blasterlab.units import QuantityLike
from blasterlab.values import kind_of

#: What a builder can change by one step, and the step: trade sizes and drills, common practice, no source.
STEPS: dict[str, QuantityLike] = {
    "spring.wire_diameter": "0.1 mm", "spring.active_coils": -1.0, "spring.preload": "1 mm",
    "chamber.stroke": "1 mm", "chamber.bore": "1 mm", "chamber.plunger_mass": "5 g",
    "chamber.dead_volume": "-1 cm^3", "chamber.port_diameter": "0.5 mm", "barrel.length": "-1 cm",
    "barrel.bore": "0.1 mm", "dart.mass": "0.1 g", "losses.seal_friction": "-1 N",
    "losses.dart_friction": "-0.5 N",
}  # fmt: skip
#: Half widths of careful measures, nine cases in ten: common practice, no source; without a unit, shares.
TOLERANCES: dict[str, QuantityLike] = {
    "chamber.bore": "0.1 mm", "chamber.stroke": "0.5 mm", "chamber.dead_volume": 0.1,
    "chamber.plunger_mass": "1 g", "chamber.port_diameter": "0.1 mm", "barrel.bore": "0.03 mm",
    "barrel.length": "1 mm", "barrel.dead_volume": 0.1, "dart.mass": 0.02,
}  # fmt: skip
#: Barrels among which the best one is looked for, and where a parabola finds it between them.
LENGTHS = np.geomspace(0.06, 0.7, 11)


@dataclass(frozen=True)
class Steps(Spoken):
    """What one step of each part does.

    Attributes
    ----------
    build : Build [-]
        The build.
    table : DataFrame [SI]
        One row a step, the largest change of speed first: name, step, muzzle_velocity_m_s (with the step),
        speed_m_s (change) with its range speed_low_m_s and speed_high_m_s, pull_N (change) with pull_low_N
        and pull_high_N, margin_m_s (to the cap from one shot's upper end; not a number without
        a cap), best_barrel_m with best_low_m and best_high_m (not numbers where
        none was looked for).  The first row, without a name, is the build
        as it is.
    cap : float or None [m/s]
        The cap.
    """

    build: Build
    table: pd.DataFrame
    cap: float | None


def steps(
    build: Build,
    cap: QuantityLike | None = None,
    sizes: Mapping[str, QuantityLike] | None = None,
    level: float = 0.9,
    barrels: bool = True,
) -> Steps:
    """What one available step of each part does to speed, pull, cap margin and best barrel.

    Parameters
    ----------
    build : Build [-]
        The build.
    cap : Quantity or str or None [speed]
        An event's cap.
    sizes : mapping of str to Quantity, str or float, or None [unit of each]
        Steps by dotted name; None takes the usual ones.  Coils are cut off, their end left open.
    level : float [-]
        Share of cases within each range, and the chance that one shot is below the upper end that the margin
        counts from.
    barrels : bool [-]
        Look for the best barrels too, which takes most of the time.

    Returns
    -------
    Steps
        One row a step; a step that cannot be built is left out.

    Raises
    ------
    UnitError
        A step or a cap that cannot be read.

    Notes
    -----
    A step and the build share each case of the unknown losses, so that the range of a change is narrower than
    that of either speed.  A best barrel is looked for from 6 to 70 cm.
    """
    most = None if cap is None else units.si_in(cap, "speed", "cap", 0.1, 400.0)
    asked, own_pull = unknowns(build), _pull(build)
    taken: list[tuple[str, float, Build, Unknowns]] = [("", 0.0, build, asked)]
    for name, size in (STEPS if sizes is None else sizes).items():
        step = units.si(size, kind_of(name) or "number", name)
        with suppress(BuildError, units.UnitError):  # a step that cannot be built
            known = unknowns(build, known=(name,)) if name.startswith("losses.") else asked
            taken.append((name, step, _stepped(build, name, step), known))
    lengths = LENGTHS if barrels else LENGTHS[:0]
    (now,) = _crowds([(asked, build)], lengths)
    lengths = lengths[near := _near(now.barrels) if barrels else slice(0)]
    pairs = [
        (known, one)
        for *_, other, known in taken[1:]
        for one in ((other,) if known is asked else (build, other))
    ]
    shot, base = iter(_crowds(pairs, lengths)), now._replace(barrels=now.barrels[:, near])
    rows: list[dict[str, float | str]] = []
    for name, step, other, known in taken:
        before = base if known is asked else next(shot)
        row = _row(before, next(shot) if name else base, lengths, level, most)
        rate = asked.names.index("spring0.rate") if "spring0.rate" in asked.names and known is asked else None
        factors = (1.0, 1.0) if rate is None else (asked.low[rate], asked.high[rate])
        pull = _pull(other) - own_pull
        low, high = sorted(pull * factor for factor in factors)
        rows.append(
            {"name": name, "step": step, **row, "pull_N": pull, "pull_low_N": low, "pull_high_N": high}
        )
    order = [0, *(1 + np.argsort([-abs(float(row["speed_m_s"])) for row in rows[1:]], kind="stable"))]
    return Steps(build, pd.DataFrame([rows[at] for at in order]), most)


def _stepped(build: Build, name: str, step: float) -> Build:
    if not name:
        return build
    if name.endswith("active_coils") and step < 0.0:
        return with_cut(build, coils=-step)
    unit = units.KINDS[kind_of(name) or "number"].si
    own = _own(build, name)
    if own + step <= 0.0:
        raise units.UnitError(f"{name}: nothing is left of it")
    return build.replace({name: own + step if unit == "dimensionless" else units.quantity(own + step, unit)})


def _own(build: Build, name: str) -> float:
    if (known := build.si.get(si_name(name))) is not None:
        return known
    part, _, key = name.partition(".")
    return units.si(getattr(getattr(build, part), key), kind_of(name) or "number")


def _pull(build: Build) -> float:
    return float(build.prime.peak_force.m_as("N"))


class _Crowd(NamedTuple):
    """A build's own speed, and those of a crowd of cases: mean, one shot, mean in each of some lengths."""

    own: float
    mean: Floats
    shot: Floats
    barrels: Floats


def _crowds(pairs: Sequence[tuple[Unknowns, Build]], lengths: Floats) -> list[_Crowd]:
    """Builds with their own barrel and with each of some lengths [m], all in one run."""
    if not pairs:
        return []
    count, rows = len(lengths) + 1, []
    for asked, build in pairs:
        values = build.si | {"barrel.length": np.array([build.si["barrel.length"], *lengths])}
        rows.append(asked.rows(values, count))
    shot = simulate_rows(np.vstack(rows), TOLERANCE).muzzle_velocity.m
    found = []
    for (asked, build), part in zip(pairs, np.split(shot, np.cumsum([*map(len, rows)])[:-1]), strict=True):
        speeds = part.reshape(count, -1).T
        crowd, scores = asked.crowd(speeds)
        once = crowd[:, 0] * shot_factors(scores, build.calibration)
        found.append(_Crowd(float(asked.readings(speeds)[0, 0]), crowd[:, 0], once, crowd[:, 1:]))
    return found


def _near(speeds: Floats) -> slice:
    """The places in `LENGTHS` about the best ones: a single step moves them by less than the next length."""
    low, high = np.quantile(np.argmax(speeds, axis=1), [0.02, 0.98], method="nearest")
    return slice(max(int(low) - 2, 0), int(high) + 3)


def _row(before: _Crowd, after: _Crowd, lengths: Floats, level: float, cap: float | None) -> dict[str, float]:
    """What a step does to speed, margin and best barrel [SI]."""
    ends = [0.5 - 0.5 * level, 0.5, 0.5 + 0.5 * level]
    speed = after.own - before.own
    low, _, high = np.quantile(after.mean - before.mean, ends)
    best = np.quantile(best_lengths(after.barrels, lengths), ends) if lengths.size else [np.nan] * 3
    return {
        "muzzle_velocity_m_s": after.own,
        "speed_m_s": speed,
        "speed_low_m_s": min(low, speed),
        "speed_high_m_s": max(high, speed),
        "margin_m_s": np.nan if cap is None else cap - float(np.quantile(after.shot, ends[2])),
        "best_barrel_m": best[1],
        "best_low_m": best[0],
        "best_high_m": best[2],
    }


@dataclass(frozen=True)
class Matters(Spoken):
    """Which unknowns and tolerances move the speed.

    Attributes
    ----------
    build : Build [-]
        The build.
    table : DataFrame [SI, or a factor]
        One row each, the widest first: name, low, best, high (nine cases in ten), speed_at_low_m_s and
        speed_at_high_m_s with all others at their best, and the Sobol' indices first (its own part of the
        variance) and total (with what it does together with others).
    speed : float [m/s]
        The model's, everything at its best.
    """

    build: Build
    table: pd.DataFrame
    speed: float


def what_matters(
    build: Build, tolerances: Mapping[str, QuantityLike] | None = None, samples: int = 256
) -> Matters:
    """A tornado over losses and tolerances, and their Sobol' indices.

    Parameters
    ----------
    build : Build [-]
        The build.
    tolerances : mapping of str to Quantity, str or float, or None [unit of each, or a share]
        Half widths of measures by dotted name; None takes the usual ones.
    samples : int [-]
        A power of two; the indices take samples × (names + 2) shots.

    Returns
    -------
    Matters
        Names, ends, speeds and indices.

    Raises
    ------
    UnitError
        A tolerance that cannot be read, or is as large as its value.

    Notes
    -----
    What strings learned together counts here as if each stood alone.
    """
    own = unknowns(build)
    ends = dict(zip(own.names, zip(own.low, own.best, own.high, strict=True), strict=True))
    for name, size in (TOLERANCES if tolerances is None else tolerances).items():
        value = _own(build, name)
        share = isinstance(size, (int, float))
        half = value * float(size) if share else units.si(size, kind_of(name) or "number", name)
        if not 0.0 <= half < value or si_name(name) not in build.si:
            raise units.UnitError(f"tolerance of {name}: got {size}; must be less than the value itself")
        if half > 0.0:
            ends.setdefault(si_name(name), (value - half, value, value + half))
    asked = independent(ends, own.source)

    def speeds(table: Floats) -> Floats:
        return np.asarray(simulate_rows(asked.rows(build.si, 1, table), TOLERANCE).muzzle_velocity.m)

    one_by_one = np.vstack([asked.best] * (1 + 2 * len(ends)))
    each = np.arange(len(ends))
    one_by_one[1 + 2 * each, each], one_by_one[2 + 2 * each, each] = asked.low, asked.high
    base, *swings = speeds(one_by_one).tolist()
    first, total = sobol(lambda scores: speeds(asked.values(scores)), len(ends), samples)
    table = pd.DataFrame(
        {"name": asked.names, "low": asked.low, "best": asked.best, "high": asked.high,
         "speed_at_low_m_s": swings[::2], "speed_at_high_m_s": swings[1::2], "first": first, "total": total}
    )  # fmt: skip
    width = (table["speed_at_high_m_s"] - table["speed_at_low_m_s"]).abs()
    table = table.iloc[np.argsort(-width, kind="stable")].reset_index(drop=True)
    return Matters(build, table, base)


def sobol(function: Callable[[Floats], Floats], count: int, samples: int) -> tuple[Floats, Floats]:
    """Sobol' indices of a function of standard normal scores.

    Parameters
    ----------
    function : callable [-]
        Scores, shape (n, count), to values, shape (n,).
    count : int [-]
        How many inputs.
    samples : int [-]
        A power of two.

    Returns
    -------
    tuple of ndarray, shape (count,) each
        First-order and total indices [-].
    """
    from scipy.stats import norm, sobol_indices

    normals: Any = [norm()] * count
    found = sobol_indices(func=lambda x: function(np.asarray(x).T), n=samples, dists=normals, random_state=1)
    return np.asarray(found.first_order), np.asarray(found.total_order)
