"""Builds side by side: what differs, what each shoots, and what made the difference.

What it is for: two to five builds in one table, and the velocity difference between the first and each other
one shared out among the changes.  What it leaves out: words (``report.compare``) and pictures.

References
----------
L. S. Shapley, "A value for n-person games", in *Contributions to the Theory of Games II*, 1953, 307: the one
way to share out that gives equal changes equal shares, a change that does nothing none, and that sums up.
M. D. McKay, R. J. Beckman, W. J. Conover, *Technometrics* 21, 239, 1979 (Latin hypercubes).
"""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, TypeAlias

import numpy as np

from blasterlab import units
from blasterlab.bench.loss_model import CalibrationError
from blasterlab.bench.predict import Prediction, predict
from blasterlab.build import Build, BuildError
from blasterlab.buildtext import PARTS, Part, keys_of
from blasterlab.doors import Spoken
from blasterlab.faults import fault
from blasterlab.parts.priors import PRIORS
from blasterlab.parts.spring import Spring
from blasterlab.shot.barrel_sweep import BarrelSweep, barrel_sweep
from blasterlab.shot.many import simulate_many, simulate_rows
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.simulate import Shot, simulate
from blasterlab.shot.speed_range import PRIOR, normal_scores, unknowns
from blasterlab.units import Quantity
from blasterlab.values import kind_of

#: Changes that are shared out one by one; where more values differ, all of a part are one change.
MOST_CHANGES = 8
#: Builds side by side, at most.
MOST = 5
#: Pairs of builds that are shot for the range of a difference: its ends to about 5 % of its width (measured).
_DRAWS = 1024
#: Of their integration: speeds to 0.1 m/s at worst, to 0.01 m/s as a rule (measured), in half the time.
_ROUGH = 1e-4
_SWEEP = ("3 cm", "65 cm")
#: Dotted names of the values that change together.
Change: TypeAlias = tuple[str, ...]
#: A value of a build text; None where the build says nothing.
Value: TypeAlias = Quantity | str | float | None


@dataclass(frozen=True)
class BuildComparison(Spoken):
    """Two to five builds side by side, the first one as the reference.

    Attributes
    ----------
    builds : tuple of Build [-]
        As given.
    differing : dict of str to tuple of Quantity, str, float or None [unit of each]
        By dotted name, the value in each build.
    shots : tuple of Shot [-]
        What each shoots.
    expected : tuple of Prediction or None [-]
        The same with its range; None for a dart that never leaves.
    pulls : tuple of tuple of Quantity [N]
        Where each pull at the catch lies at `level`, by the springs' tolerances, what is assumed of them, and
        the seal's usual friction.
    sweeps : tuple of BarrelSweep or None [-]
        Each with other barrels; None where the dart does not leave any barrel.
    shares : tuple of dict of tuple of str to Quantity [m/s]
        For each build after the first, by the names that change together, what that change did to the muzzle
        velocity; they sum to the whole difference, in which a dart that stays in counts as 0 m/s.
    ranges : tuple of tuple of Quantity [m/s]
        For each build after the first, where its difference of mean velocities to the first lies, at `level`.
    level : float [-]
        Of every range.
    """

    builds: tuple[Build, ...]
    differing: dict[str, tuple[Value, ...]]
    shots: tuple[Shot, ...]
    expected: tuple[Prediction | None, ...]
    pulls: tuple[tuple[Quantity, Quantity], ...]
    sweeps: tuple[BarrelSweep | None, ...]
    shares: tuple[dict[Change, Quantity], ...]
    ranges: tuple[tuple[Quantity, Quantity], ...]
    level: float

    def difference(self, place: int) -> Quantity:
        """What one build shoots more than the first.

        Parameters
        ----------
        place : int [-]
            Of the one build, from 0.

        Returns
        -------
        Quantity
            A difference of muzzle velocities [m/s].
        """
        return self.shots[place].muzzle_velocity - self.shots[0].muzzle_velocity


def compare_builds(builds: Sequence[Build], level: float = 0.9) -> BuildComparison:
    """Two to five builds side by side, and what made the difference.

    Parameters
    ----------
    builds : sequence of Build [-]
        The first is the one that the others are compared with.
    level : float [-]
        Of the ranges.

    Returns
    -------
    BuildComparison
        Differing values, shots with ranges, and shares of the velocity difference [m/s].

    Raises
    ------
    BuildError
        Fewer than two builds or more than five.
    ValueError
        A level outside its range.

    Notes
    -----
    A change's share is the mean of what it does over all orders in which the changes could be made (Shapley):
    every mixture of the two builds is shot, 256 for eight changes.  A mixture that cannot be, such as a
    longer stroke before the longer spring, joins the changes that only go together.  Where more than eight
    values differ, those of a part are one change.  What no shot reads (``fit``, words) has no share.
    What is unknown of both builds alike, such as the losses, is drawn once for both, so that a difference is
    better known than either speed.

    References
    ----------
    Shapley 1953.

    Examples
    --------
    >>> import blasterlab as bl
    >>> old = bl.demo_build("workhorse")
    >>> found = compare_builds([old, old.replace({"chamber.bore": "40 mm", "barrel.length": "30 cm"})])
    >>> list(found.differing)
    ['chamber.bore', 'barrel.length']
    """
    if not 2 <= len(builds) <= MOST:
        raise BuildError([fault("builds", f"{len(builds)} of them", f"2 to {MOST}")])
    first, *others = builds
    shots, known, pulls, sweeps = zip(*(_alone(build, level) for build in builds), strict=True)
    return BuildComparison(
        tuple(builds),
        differing(builds),
        shots,
        known,
        pulls,
        sweeps,
        tuple(shared_out(first, other) for other in others),
        tuple(_range(first, other, level) for other in others),
        level,
    )


@lru_cache(maxsize=MOST)  # where one of two builds is changed, the other is not shot again
def _alone(
    build: Build, level: float
) -> tuple[Shot, Prediction | None, tuple[Quantity, Quantity], BarrelSweep | None]:
    return simulate(build), expected(build, level), pull_range(build, level), _sweep(build)


def shared_out(first: Build, other: Build) -> dict[Change, Quantity]:
    """What each change from one build to another does to the muzzle velocity, as `compare_builds` shares it.

    Parameters
    ----------
    first, other : Build [-]
        The builds.

    Returns
    -------
    dict of tuple of str to Quantity
        By the names that change together; the sum is the whole difference [m/s].
    """
    changes, made = _mixtures(first, other)
    found = shapley(simulate_many(made).muzzle_velocity.m_as("m/s"))
    return {change: units.quantity(v, "m/s") for change, v in zip(changes, found, strict=True)}


def _range(first: Build, other: Build, level: float) -> tuple[Quantity, Quantity]:
    """Where the difference of two mean velocities lies: what is unknown of both alike is drawn once for both.

    Common are what strings told where both builds carry it, losses before any strings (where one is changed,
    it is as far off in both), values that both assume, and springs that are the same; each build is an
    assembly of its own.
    """
    one, two = unknowns(first), unknowns(other)
    here, there = (
        dict(zip(who.names, zip(who.low, who.best, who.high, strict=True), strict=True)) for who in (one, two)
    )
    alike = {*first.assumed} & {*other.assumed} | ({*PRIORS} if one.source == two.source == PRIOR else set())
    both = {name for name in here if here[name] == there.get(name) or (name in alike and name in there)}
    if first.springs != other.springs:
        both = {name for name in both if not name.startswith("spring")}
    own = [name for name in two.names if name not in both]
    places = (
        tuple(range(len(here))),
        tuple(len(here) + own.index(name) if name in own else one.names.index(name) for name in two.names),
    )
    columns = len(here) + len(own) + 2
    means = [_means(*each, columns) for each in zip((first, other), places, (-1, -2), strict=True)]
    ends = np.quantile(means[1] - means[0], [0.5 - 0.5 * level, 0.5 + 0.5 * level], method="hazen")
    return units.quantity(float(ends[0]), "m/s"), units.quantity(float(ends[1]), "m/s")


@lru_cache(maxsize=2)
def _means(build: Build, at: tuple[int, ...], setup: int, columns: int) -> Floats:
    """Mean readings of many builds like this one [m/s], its unknowns and its setup at these scores.

    A Latin hypercube (McKay, Beckman and Conover 1979): without the shuffle, pairs of so many columns line
    up, and an end can be wrong by a fifth of the width.
    """
    asked = unknowns(build)
    scores = np.random.default_rng(0).permuted(normal_scores(_DRAWS, columns), axis=0)
    table = asked.values(scores[:, at])
    speeds = simulate_rows(asked.rows(build.si, 1, table), _ROUGH).muzzle_velocity.m
    return np.asarray(asked.readings(speeds, table) * (1.0 + asked.setup * scores[:, setup]))


def expected(build: Build, level: float = 0.9) -> Prediction | None:
    """What a build will shoot, with its range at a level; None for a dart that never leaves [m/s]."""
    try:
        return predict(build, level=level)
    except CalibrationError:
        return None


def pull_range(build: Build, level: float = 0.9) -> tuple[Quantity, Quantity]:
    """Where the pull at the catch lies before any pull test.

    Sum of k_i x_i at the catch, and the seal's friction, over what is unknown of springs and losses.

    Parameters
    ----------
    build : Build [-]
        The build; a spring with a measured rate has no tolerance.
    level : float [-]
        Share of cases within the range.

    Returns
    -------
    tuple of (Quantity, Quantity)
        Ends of the range [N].
    """
    asked = dataclasses.replace(unknowns(dataclasses.replace(build, calibration=None)), setup=0.0)
    column = dict(zip(Parameters._fields, asked.rows(build.si).T, strict=True))
    springs = sum(column[f"rate{n}"] * column[f"catch_compression{n}"] for n in (1, 2, 3))
    found = asked.range(column["seal_friction"] + springs, level)
    return units.quantity(float(found.low), "N"), units.quantity(float(found.high), "N")


def _sweep(build: Build) -> BarrelSweep | None:
    try:
        return barrel_sweep(build, *_SWEEP, points=16, spacing="ratio")
    except BuildError:
        return None


def differing(builds: Sequence[Build]) -> dict[str, tuple[Value, ...]]:
    """Every value in which builds differ.

    Parameters
    ----------
    builds : sequence of Build [-]
        The builds.

    Returns
    -------
    dict of str to tuple of Quantity, str, float or None
        By dotted name, in the order of the build text, the value in each build.
    """
    most = max(len(build.springs) for build in builds)
    found: dict[str, tuple[Value, ...]] = {}
    for head in (*(["spring"] if most == 1 else (f"springs[{place}]" for place in range(most))), *PARTS):
        parts = [_part(build, head) for build in builds]
        for key, field in keys_of(PARTS.get(head, Spring)).items():
            values = tuple(getattr(part, field, None) for part in parts)
            if not all(_same(f"{head}.{key}", values[0], value) for value in values[1:]):
                found[f"{head}.{key}"] = values
    return found


def _part(build: Build, head: str) -> Part | None:
    """A part by its name; None for a spring that this build does not have."""
    if not head.startswith("spring"):
        return getattr(build, head)
    return build.springs[_place(head)] if _place(head) < len(build.springs) else None


def _place(head: str) -> int:
    return int(head[8:-1]) if head != "spring" else 0


def _same(name: str, one: Value, other: Value) -> bool:
    kind = kind_of(name)
    if kind is None or one is None or other is None:
        return one == other
    return math.isclose(units.si(one, kind), units.si(other, kind), rel_tol=1e-12)


def mixed(first: Build, other: Build, names: Iterable[str]) -> Build:
    """A build with some values taken from another.

    Parameters
    ----------
    first, other : Build [-]
        The build, and where the values come from.
    names : iterable of str [-]
        Dotted names out of `differing` of the two; where the springs differ in number, one takes all.

    Returns
    -------
    Build
        The mixture.

    Raises
    ------
    BuildError, UnitError
        Parts that cannot be, or cannot go together.
    """
    by_head: dict[str, dict[str, object]] = {}
    springs, new = list(first.springs), dict[str, Any]()
    for name in names:
        head, _, key = name.partition(".")
        if len(first.springs) != len(other.springs) and head.startswith("spring"):
            springs = list(other.springs)  # one of them has no counterpart
        else:
            field = keys_of(PARTS.get(head, Spring))[key]
            by_head.setdefault(head, {})[field] = getattr(_part(other, head), field)
    for head, values in by_head.items():
        part: Any = dataclasses.replace(_part(first, head), **values)  # type: ignore[type-var]
        if head in PARTS:
            new[head] = part
        else:
            springs[_place(head)] = part
    return dataclasses.replace(first, springs=tuple(springs), **new)


def _mixtures(first: Build, other: Build) -> tuple[list[Change], list[Build]]:
    """Changes from one build to another, and all mixtures: bit i of a place is whether change i is made."""
    names = [name for name in differing([first, other]) if not name.startswith("fit.")]
    heads = {name: name.partition(".")[0] for name in names}
    if len(first.springs) != len(other.springs):  # a spring has no counterpart: all of them are one change
        heads = {name: "springs" if head.startswith("spring") else head for name, head in heads.items()}
    for keys in ({n: head if head == "springs" else n for n, head in heads.items()}, heads):
        changes = [tuple(n for n in names if keys[n] == key) for key in dict.fromkeys(keys.values())]
        if len(changes) <= MOST_CHANGES:
            break
    while True:
        made = [_mixture(first, other, changes, bits) for bits in range(2 ** len(changes))]
        broken = [bits for bits, build in enumerate(made) if build is None]
        if not broken:
            return changes, [build for build in made if build is not None]
        least = min(broken, key=int.bit_count)  # and the fewest more changes with which it can be
        whole = [bits for bits, build in enumerate(made) if build is not None and bits & least == least]
        joined = min(whole, key=int.bit_count)
        together = tuple(name for i, change in enumerate(changes) if joined >> i & 1 for name in change)
        changes = [together, *(change for i, change in enumerate(changes) if not joined >> i & 1)]


def _mixture(first: Build, other: Build, changes: Sequence[Change], bits: int) -> Build | None:
    if bits == 2 ** len(changes) - 1:
        return other
    try:
        return mixed(
            first, other, (name for i, change in enumerate(changes) if bits >> i & 1 for name in change)
        )
    except (BuildError, units.UnitError):
        return None


def shapley(values: Floats) -> Floats:
    """Each change's share in the difference that all changes make: the mean over all orders of making them.

    Parameters
    ----------
    values : ndarray, shape (2**n,) [any unit]
        At place p, with the changes made whose bits are set in p.

    Returns
    -------
    ndarray, shape (n,) [the same unit]
        Shares; they sum to the last value less the first.

    References
    ----------
    Shapley 1953.

    Examples
    --------
    Two changes of 1 and 2 that together make 5, so that 2 come from both:

    >>> shapley(np.array([0.0, 1.0, 2.0, 5.0])).tolist()
    [2.0, 3.0]
    """
    count = len(values).bit_length() - 1
    places = np.arange(len(values))
    made = np.array([place.bit_count() for place in range(len(values))])
    weights = np.array([1.0 / (count * math.comb(count - 1, size)) for size in range(count)])
    shares = np.zeros(count)
    for one in range(count):
        without = places[places >> one & 1 == 0]
        shares[one] = np.sum(weights[made[without]] * (values[without | 1 << one] - values[without]))
    if count:  # rounding left over, some 1e-15 of it, goes to the largest
        shares[np.argmax(np.abs(shares))] += values[-1] - values[0] - math.fsum(shares)
    return shares
