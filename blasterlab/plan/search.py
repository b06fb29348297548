"""Search: every combination of parts on sale and of their cuts, shot, checked, ranked.

What it is for: which parts to order.  Candidates are packed as columns and go through the compiled batch;
only those that meet every want at their own speed become builds, for the checks and for the range of speed.
What it leaves out: the parts themselves (``options``), the limits (``wants``), words (``report``).

References
----------
V. Pareto, *Manual of Political Economy*, 1906 (a candidate is on the front when none is better in one respect
and as good in all others).
"""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from blasterlab.bench.predict import shot_factors
from blasterlab.build import Build
from blasterlab.checks.all import CHECKS, check_build
from blasterlab.checks.finding import SEVERITIES
from blasterlab.checks.fit import check_loose_dart
from blasterlab.doors import Spoken
from blasterlab.faults import fault
from blasterlab.plan import options as o
from blasterlab.plan.options import COILS, PLACES, Option, build_of, gathered
from blasterlab.plan.shooting import Progress, loose_darts, shoot
from blasterlab.plan.stock import Stock, StockError
from blasterlab.plan.wants import Wants
from blasterlab.shot import from_build
from blasterlab.shot.integrate import TOLERANCE
from blasterlab.shot.parameters import Floats
from blasterlab.shot.speed_range import TOLERANCE as COARSE
from blasterlab.shot.speed_range import Unknowns, unknowns
from blasterlab.tables import pd
from blasterlab.units import QuantityLike
from blasterlab.values import RULES, part_si

#: Why a candidate is refused, the first that holds: parts, limits before the shot, the shot, what follows it.
REASONS = (
    "", "no_cut", "tube_short", "barrel_short", "ring", "solid", "misfit",
    "tube_diameter", "overall_length", "price", "lead_time", "prime_force", "prime_work",
    "not_shot", "stuck", "least", "target", "velocity_cap", "energy_cap", "finding", "cap_chance",
)  # fmt: skip
MOST, RANGED, GROUP = 500_000, 2000, 1024
#: Columns of a table -> names of a plan's values; {} is the currency.
_COLUMNS = {"muzzle_velocity_m_s": "speed", "velocity_low_m_s": "low", "velocity_high_m_s": "high",
            "chance": "chance", "cap_chance": "cap_chance", "velocity_margin_m_s": "margin",
            "prime_force_N": "force", "prime_work_J": "work", "price_{}": "price",
            "lead_time_days": "lead_time", "range_share": "robustness"}  # fmt: skip
#: All checks but that of a loose dart, which takes two shots: those are shot for many candidates at once.
ASKED = {check: names for check, names in CHECKS.items() if check is not check_loose_dart}
#: Whether any of them looks at a barrel's length: if none does, all cuts of a barrel have the same findings.
LENGTH_COUNTS = any(name in ("barrel", "barrel.length") for names in ASKED.values() for name in names)


@dataclass(frozen=True)
class Plan(Spoken):
    """What a search found.

    Attributes
    ----------
    wants : Wants [-]
        What was wanted.
    build : Build [-]
        What stays.
    choices : list of list of Option [-]
        The options of each place.
    index : ndarray, shape (places, n) [-]
        Which option stands at each place of each candidate.
    reason : ndarray, shape (n,) [-]
        Place in `REASONS` of the first reason against each; 0 for those that meet every want.
    values : dict of str to ndarray, shape (n,) each [SI, currency, days]
        speed, low, high, chance, cap_chance, margin, work, force, price, lead_time, diameter, length,
        robustness and gravest; not a number where nothing was computed.
    misses : dict of str to ndarray, shape (n,) each [SI]
        By how much each limit is missed; zero or less where it is met.
    order : ndarray [-]
        Candidates that meet every want, the best first.
    on_front : ndarray, shape (n,) [-]
        Which of them no other one dominates.
    currency : str [-]
        Of the prices.
    complete : bool [-]
        False after an interrupt; what was found stands.
    ranged : bool [-]
        False where more met the wants than ranges were asked for: the front is then of those with a range.
    rings_left_out : bool [-]
        Whether the stock has rings and the build no groove to judge them by.
    """

    wants: Wants
    build: Build
    choices: list[list[Option]]
    index: np.ndarray
    reason: np.ndarray
    values: dict[str, Floats]
    misses: dict[str, Floats]
    order: np.ndarray
    on_front: np.ndarray
    currency: str
    complete: bool
    ranged: bool
    rings_left_out: bool

    def __len__(self) -> int:
        return len(self.reason)

    @cached_property
    def table(self) -> pd.DataFrame:
        """The candidates that meet every want, the best first, SI columns named with their units."""
        return self.rows(*self.order)

    @cached_property
    def front(self) -> pd.DataFrame:
        """Those of `table` that no other one dominates, in its order."""
        return self.rows(*self.order[self.on_front[self.order]])

    def candidate(self, place: int = 0) -> Build:
        """The build of a candidate, with its cuts, as `simulate` shoots it to the last digit.

        Parameters
        ----------
        place : int [-]
            Row of `table`, from 0.

        Returns
        -------
        Build
            The build; its title names the parts.

        Raises
        ------
        StockError
            No such row.
        """
        if not 0 <= place < len(self.order):
            raise StockError(fault("place", str(place), f"0 to {len(self.order) - 1}, a row of the table"))
        return build_of(self._chosen(self.order[place]), self.build)

    @cached_property
    def rejected(self) -> dict[str, int]:
        """Code of the first reason -> how many candidates it refused, in the order of `REASONS`."""
        counts = np.bincount(self.reason, minlength=len(REASONS))
        return {name: int(count) for name, count in zip(REASONS, counts, strict=True) if name and count}

    @cached_property
    def hardest(self) -> tuple[str, float] | None:
        """Where nothing meets all: a want, and by how much the nearest candidate misses it [SI].

        It is the one that nobody meets, else the one that `nearest` misses most; where that misses no limit,
        the code of the reason against it, and how much confidence it lacks, if that is the reason.
        """
        if len(self.order) or not any(np.isfinite(miss).any() for miss in self.misses.values()):
            return None
        met = {name: np.sum(miss <= 0.0) for name, miss in self.misses.items()}
        name, at, limits = min(met, key=lambda key: met[key]), self.nearest, self.wants.limits()
        if met[name] == 0 or at is None:
            return name, float(np.nanmin(self.misses[name])) if met[name] == 0 else np.inf
        name = max(self.misses, key=lambda key: self.misses[key][at] / limits[key])
        short = float(self.misses[name][at]), float(self.wants.confidence - self.values["cap_chance"][at])
        return (name, short[0]) if short[0] > 0.0 else (REASONS[self.reason[at]], short[1])

    @cached_property
    def nearest(self) -> int | None:
        """The candidate whose worst miss is the smallest share of its limit; None where none can be built.

        Of several the one that misses less in all; of those that miss nothing the one that was refused last.
        """
        limits = self.wants.limits()
        share = np.array([miss / limits[name] for name, miss in self.misses.items()])
        if not share.size or not (whole := np.isfinite(share).all(axis=0)).any():
            return None
        short, sure = np.where(whole, np.maximum(share, 0.0), np.inf), self.values["cap_chance"]
        return int(np.lexsort((-np.nan_to_num(sure), -self.reason, short.sum(axis=0), short.max(axis=0)))[0])

    def _chosen(self, candidate: int) -> list[Option]:
        return [found[at] for found, at in zip(self.choices, self.index[:, candidate], strict=True)]

    def rows(self, *candidates: int) -> pd.DataFrame:
        """Some candidates as a table, also refused ones.

        Parameters
        ----------
        candidates : int [-]
            Their places among all.

        Returns
        -------
        DataFrame
            Columns as in `table` [SI].
        """
        which = np.array(candidates, dtype=int)
        chosen = [self._chosen(at) for at in which]
        spring, tube, barrel, dart = zip(*chosen, strict=True) if chosen else ((), (), (), ())
        return pd.DataFrame(
            {
                "spring": [each.names["spring"] for each in spring],
                "coils_cut_off": [each.cut for each in spring],
                "spring_free_length_m": [
                    part_si("springs[0]", s.part)["spring0.free_length"] for s in spring
                ],
                "tube": [each.names["tube"] for each in tube],
                "ring": [each.names.get("ring", "own") for each in tube],
                "barrel": [each.names["barrel"] for each in barrel],
                "barrel_length_m": [each.cut for each in barrel],
                "barrel_cut_off_m": [each.off for each in barrel],
                "dart": [each.names["dart"] for each in dart],
                **{
                    name.format(self.currency or "untold"): self.values[v][which]
                    for name, v in _COLUMNS.items()
                },
                "gravest_finding": [SEVERITIES[int(at)] for at in self.values["gravest"][which]],
                "on_front": self.on_front[which],
            }
        )


def plan_build(
    stock: Stock,
    wants: Wants,
    build: Build,
    *,
    coils: Sequence[float] = COILS,
    lengths: Sequence[QuantityLike] | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    most_ranges: int = RANGED,
) -> Plan:
    """Which parts to order: every combination of a stock and of its cuts against the wants.

    Parameters
    ----------
    stock : Stock [-]
        Parts on sale.
    wants : Wants [-]
        What the build must do, fit into and cost.
    build : Build [-]
        What stays: stroke, seat, port, losses, air, and the parts that are owned.
    coils : sequence of float [-]
        Coils that are cut off each spring.
    lengths : sequence of Quantity or str, or None [length]
        Barrel lengths; None takes every 2 cm from 10 cm to the barrel's own.
    executor : concurrent.futures.Executor or None [-]
        Who shoots; None shoots here.  The numbers are the same to the last digit.
    progress : callable or None [-]
        Called with the number done and of all: shots for speeds, candidates checked, shots for ranges.
    most_ranges : int [-]
        How many of those that meet every want get a range, for 25 shots each and for each dart.

    Returns
    -------
    Plan
        Table, front, and the first reason against each of the rest.

    Raises
    ------
    StockError
        No springs, tubes or barrels; unknown names; prices in two currencies; more than 500 000 combinations.
    UnitError
        A length that cannot be read, or that no barrel has.

    Notes
    -----
    A spring sits where the build's first spring sits, so that its preload is what its length leaves. In
    another tube the plunger's mass and the volume in front of it go with the area. The prime is that of the
    spring's own rate. Candidates rank by the chance to meet every want, then by price, lead time and their
    order in the stock. The chance uses the range of speeds before any chronograph (`predict`).
    """
    limits, currency = wants.limits(), stock.currency
    if currency and wants.currency and currency != wants.currency:
        raise StockError(fault("wants.price", wants.price or "", f"in {currency}, as the stock"))
    caps = o.cap_darts(stock, wants, build)
    choices = o.options(stock, wants, build, coils, lengths)
    sizes = [len(found) for found in choices]
    if (count := int(np.prod(sizes))) > MOST:
        each = " × ".join(f"{n} {kind}s" for n, kind in zip(sizes, PLACES.values(), strict=True))
        raise StockError(fault("stock", f"{count} combinations ({each})", f"at most {MOST}", "fewer cuts do"))
    index = np.indices(sizes).reshape(len(sizes), -1)
    last = len(REASONS)  # stands for no reason where parts are held against each other
    reason = gathered(choices, index, lambda o: REASONS.index(o.reason) or last).min(axis=0) % last
    values = {name: np.full(count, np.nan) for name in ("speed", "low", "high", "chance", "cap_chance",
              "margin", "work", "force", "diameter", "length", "robustness", "gravest")}  # fmt: skip
    values["price"] = gathered(choices, index, lambda option: option.price).sum(axis=0)
    values["lead_time"] = gathered(choices, index, lambda option: option.lead_time).max(axis=0)
    there = np.flatnonzero(reason == 0)
    si = o.columns(choices, index[:, there], build)
    for rule in RULES:
        broken = np.broadcast_to(np.asarray(rule.broken(si)), there.shape) & (reason[there] == 0)
        reason[there[broken]] = REASONS.index("solid" if rule.field.startswith("spring") else "misfit")
    fits = reason[there] == 0
    there, si = there[fits], {k: v[fits] if isinstance(v, np.ndarray) else v for k, v in si.items()}
    known = _before_shot(si, build, len(there)) | {
        "diameter": gathered(choices[1:2], index[1:2, there], lambda option: option.outer)[0]
    }
    rows = from_build.rows(si, len(there))
    known["speed"] = shoot(rows, TOLERANCE, executor, progress)
    for name, column in known.items():
        values[name][there] = column
    known |= {name: values[name][there] for name in ("price", "lead_time")}
    mass = np.broadcast_to(si["dart.mass"], there.shape)
    missed = _misses(known, limits, wants.within, mass)
    _refuse(reason, missed, known["speed"], there)
    values["margin"][there] = _margins(missed, known["speed"], mass, limits)
    misses = {name: np.full(count, np.nan) for name in missed}
    for name, miss in missed.items():
        misses[name][there] = miss
    left = np.flatnonzero(reason[there] == 0)
    values["gravest"][there[left]] = loose = loose_darts(si, known["speed"], left, executor)
    complete = not bool(np.isnan(known["speed"]).any() or np.isnan(loose).any())
    plan = Plan(
        wants, build, choices, index, reason, values, misses, np.array([], dtype=int), np.zeros(count, bool),
        currency, complete, True, bool(stock.of("ring")) and not o.judges_rings(build),
    )  # fmt: skip
    return _finished(plan, caps, executor, progress, most_ranges if complete else 0)


def _before_shot(si: dict[str, Any], build: Build, count: int) -> dict[str, Floats]:
    """Peak force and work of the prime, and overall length, as `parts.prime` and the build have them [SI]."""
    force = work = np.zeros(count)
    for n in range(len(build.springs)):
        rate, start, end = (si[f"spring{n}.{key}"] for key in ("rate", "preload", "catch_compression"))
        force, work = force + rate * end, work + 0.5 * rate * (end**2 - start**2)
    friction = si["losses.seal_friction"]
    length = si["chamber.tube_length"] + si["barrel.length"] + np.zeros(count)
    return {"force": force + friction, "work": work + friction * si["chamber.stroke"], "length": length}


def _misses(v: dict[str, Floats], limits: dict[str, float], within: float, mass: Floats) -> dict[str, Floats]:
    """By how much each limit is missed; infinite where a price or a lead time is not told [SI]."""
    speed, target = v["speed"], limits.get("target", 0.0)
    held = {
        "tube_diameter": v["diameter"],
        "overall_length": v["length"],
        "price": np.nan_to_num(v["price"], nan=np.inf),
        "lead_time": np.nan_to_num(v["lead_time"], nan=np.inf),
        "prime_force": v["force"],
        "prime_work": v["work"],
        "velocity_cap": speed,
        "energy_cap": 0.5 * mass * speed**2,
    }
    found = {name: column - limits[name] for name, column in held.items() if name in limits}
    found |= {"least": limits["least"] - speed} if "least" in limits else {}
    return found | ({"target": np.abs(speed - target) - within * target} if "target" in limits else {})


def _margins(misses: dict[str, Floats], speed: Floats, mass: Floats, limits: dict[str, float]) -> Floats:
    """From each speed to the nearest limit of speeds; below zero where one is missed [m/s]."""
    room = [-misses[name] for name in ("least", "target", "velocity_cap") if name in misses]
    if "energy_cap" in limits:
        room.append(np.sqrt(2.0 * limits["energy_cap"] / mass) - speed)
    return np.asarray(np.min(room, axis=0))


def _refuse(reason: np.ndarray, misses: dict[str, Floats], speed: Floats, there: np.ndarray) -> None:
    """The first limit that each candidate misses, into the reasons."""
    found = misses | {
        "not_shot": np.where(np.isnan(speed), 1.0, 0.0),
        "stuck": np.where(speed == 0.0, 1.0, 0.0),
    }
    for code, name in enumerate(REASONS):
        if name in found:
            reason[there[(reason[there] == 0) & (found[name] > 0.0)]] = code


def _finished(
    plan: Plan, caps: list[dict[str, float]], executor: Executor | None, progress: Progress | None, most: int
) -> Plan:
    """A plan with the checks, the ranges, the ranking and the front of those that meet every want so far."""
    v, reason, worst = plan.values, plan.reason, SEVERITIES.index(plan.wants.gravest)
    passed = np.flatnonzero(reason == 0)
    passed = passed[np.lexsort((passed, v["price"][passed], -v["margin"][passed]))]
    kept: dict[object, Any] = {}
    gravest: dict[tuple[object, ...], int] = {}
    builds: dict[int, Build] = {}
    complete, number = plan.complete, 0
    try:
        for number, at in enumerate(passed.tolist()):
            if progress is not None and complete and number % GROUP == GROUP - 1:
                progress(number, len(passed))
            chosen = plan._chosen(at)
            barrel = chosen[2].names["barrel"], chosen[2].cut if LENGTH_COUNTS else 0.0
            key = (id(chosen[0]), id(chosen[1]), id(chosen[3]), *barrel)
            grave, one = gravest.get(key), None
            if grave is None or (grave <= worst and len(builds) < most):
                one = build_of(chosen, plan.build)
            if grave is None and one is not None:
                found = check_build(one, kept, ASKED)
                grave = gravest[key] = SEVERITIES.index(found[0].severity) if found else 0
            v["gravest"][at] = max(grave or 0, v["gravest"][at])
            if v["gravest"][at] > worst:
                reason[at] = REASONS.index("finding")
            elif one is not None and len(builds) < most:
                builds[at] = one
    except KeyboardInterrupt:
        complete = False
        reason[passed[number:]] = REASONS.index("not_shot")
    v["gravest"][np.isnan(v["gravest"])] = 0
    met = int(np.sum(reason == 0))
    complete = _ranges(plan, builds, caps, executor, progress) and complete
    order = np.flatnonzero(reason == 0)
    last = [np.nan_to_num(column[order], nan=np.inf) for column in (v["price"], v["lead_time"], -v["margin"])]
    chance = np.nan_to_num(-v["chance"][order], nan=np.inf)
    order = order[np.lexsort((order, *reversed(last), chance))]
    asked = order[~np.isnan(v["chance"][order])] if len(builds) else order
    costs = np.array([-v["margin"], v["work"], v["price"], v["lead_time"], v["robustness"]]).T[asked]
    plan.on_front[asked[front_of(np.nan_to_num(costs, nan=np.inf))]] = True
    return dataclasses.replace(plan, order=order, complete=complete, ranged=len(builds) == met)


def _ranges(
    plan: Plan, builds: dict[int, Build], caps: list[dict[str, float]],
    executor: Executor | None, progress: Progress | None,
) -> bool:  # fmt: skip
    """The range and the chances of each build, into the plan; False after an interrupt."""
    places, done = list(builds), 0
    for first in range(0, len(places), GROUP):
        group = places[first : first + GROUP]
        asked = [unknowns(builds[at]) for at in group]
        darts = [[builds[at].si, *(builds[at].si | dart for dart in caps)] for at in group]
        rows = [one.rows(values) for one, several in zip(asked, darts, strict=True) for values in several]
        many = len(rows[0]) * len(darts[0]) * len(places)

        def tell(now: int, _: int, before: int = done, many: int = many) -> None:
            if progress is not None:
                progress(before + now, many)

        speeds = shoot(np.vstack(rows), COARSE, executor, tell)
        if np.isnan(speeds).any():
            return False
        done += len(speeds)
        shot = iter(np.split(speeds, np.cumsum([len(each) for each in rows])[:-1]))
        for at, one, several in zip(group, asked, darts, strict=True):
            _chance(plan, at, one, [(next(shot), values["dart.mass"]) for values in several], builds[at])
    return True


def _chance(plan: Plan, at: int, asked: Unknowns, shot: list[tuple[Floats, float]], build: Build) -> None:
    """Range, chance to meet all wants and chance to keep under the caps of one candidate, into the plan."""
    limits, v = plan.wants.limits(), plan.values
    band, (crowd, scores) = asked.range(shot[0][0]), asked.crowd(shot[0][0])
    factor, under = shot_factors(scores, build.calibration), np.ones(len(crowd), bool)
    for speeds, mass in shot:
        single = asked.crowd(speeds)[0] * factor
        under &= single <= limits.get("velocity_cap", np.inf)
        under &= 0.5 * mass * single**2 <= limits.get("energy_cap", np.inf)
    meets = under & (crowd >= limits.get("least", 0.0))
    if "target" in limits:
        meets &= np.abs(crowd - limits["target"]) <= plan.wants.within * limits["target"]
    v["low"][at], v["high"][at] = band.low, band.high
    v["robustness"][at] = (band.high - band.low) / (2.0 * band.best)
    v["chance"][at], v["cap_chance"][at] = meets.mean(), under.mean()
    if v["cap_chance"][at] < plan.wants.confidence and {"velocity_cap", "energy_cap"} & set(limits):
        plan.reason[at] = REASONS.index("cap_chance")


def front_of(costs: Floats) -> list[int]:
    """The rows that no other row dominates, exactly.

    Parameters
    ----------
    costs : ndarray, shape (n, objectives) [any unit]
        The less, the better; no value is missing.

    Returns
    -------
    list of int
        Rows; equal ones stand together on the front or not at all [-].
    """
    front: list[int] = []
    for at in np.lexsort(costs.T[::-1]).tolist():  # whatever dominates a row comes before it
        known = costs[front]
        if not np.any((known <= costs[at]).all(axis=1) & (known < costs[at]).any(axis=1)):
            front.append(at)
    return front
