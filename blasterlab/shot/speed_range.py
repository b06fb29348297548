"""The range beside a speed: what a build may shoot, as far as its losses and its springs are known.

What it is for: `range_of` a build; and `unknowns`, whose two dozen rows a panel, a sweep or a search adds to
its own shots, with `Unknowns.range` to turn their speeds into a range.  What it leaves out: the model's own
error, and measures taken wrongly, unless callipers are given for the springs.

References
----------
S. John, *Communications in Statistics: Theory and Methods* 11, 879, 1982 (a normal with two half widths).
H. Niederreiter, *Random Number Generation and Quasi-Monte Carlo Methods*, 1992, ch. 3 (Kronecker sequences).
T. J. Santner, B. J. Williams, W. I. Notz, *The Design and Analysis of Computer Experiments*, 2003, sections
3.3 (best linear unbiased prediction from few runs) and 5.2 (Latin hypercubes).
"""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from scipy.special import ndtr, ndtri

from blasterlab import units
from blasterlab.assumed import FIELD_OF, likely, si_name
from blasterlab.build import Build
from blasterlab.parts.loss_uncertainty import CHRONOGRAPH, LossUncertainty
from blasterlab.parts.losses import FIELDS
from blasterlab.parts.priors import NINE_IN_TEN, PRIORS, Prior, priors_for
from blasterlab.parts.rate_tolerance import as_bought
from blasterlab.shot import from_build
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike
from blasterlab.values import derive

#: Shots that a range needs, the build's own first; three for each value where more is unknown.
ROWS = 25
#: From one assembly to the next the mean moves by this share: common practice, no source.
SETUP = 0.005
#: Tolerance of the integrator: speeds to about 1e-6, far below what a string tells.
TOLERANCE = 1e-6
PRIOR, STRINGS = "prior", "strings"
_CROWD, _REACH = 1024, 3.0
Ranges = Mapping[str, Prior | tuple[QuantityLike, QuantityLike]]


def normal_scores(count: int, dimensions: int, first: int = 0) -> Floats:
    """Standard normal scores that fill their space evenly, always the same, shape (count, dimensions) [-].

    A Kronecker sequence from its term `first`, each column spread by rank like a Latin hypercube.
    """
    root = 2.0
    for _ in range(60):  # the root of x^(d+1) = x + 1: its powers are the sequence's irrational steps
        root = (1.0 + root) ** (1.0 / (dimensions + 1))
    steps = root ** -np.arange(1.0, dimensions + 1)
    spots = (0.5 + np.outer(np.arange(first + 1, first + count + 1), steps)) % 1.0
    return np.asarray(ndtri((np.argsort(np.argsort(spots, axis=0), axis=0) + 0.5) / count))


@lru_cache
def _grid(count: int) -> tuple[Floats, Floats, Floats]:
    """Scores of the rows but the first, of a crowd, and the weights that carry speeds from rows to crowd."""
    shots = max(ROWS, 3 * count) - 1
    rows = np.vstack([np.zeros(count), normal_scores(shots - 1, count, 7)])
    crowd = normal_scores(_CROWD, count + 2)

    def near(points: Floats) -> Floats:
        return np.asarray(np.exp(-0.5 * np.sum(((points[:, None] - rows) / _REACH) ** 2, axis=2)))

    trend, flat = np.column_stack([np.ones(shots), rows]), np.zeros((count + 1, count + 1))
    system = np.block([[near(rows) + 1e-6 * np.eye(shots), trend], [trend.T, flat]])
    wanted = np.column_stack([near(crowd[:, :count]), np.ones(_CROWD), crowd[:, :count]])
    return rows, crowd, np.linalg.solve(system, wanted.T).T[:, :shots]


@dataclass(frozen=True)
class SpeedRange:
    """A speed and where it may lie; floats, or arrays where many builds or lengths were asked about.

    Attributes
    ----------
    low, best, high : float or ndarray [m/s]
        Ends of the range, and the model's speed at the build's own values, which they always hold.
    level : float [-]
        Share of cases within the ends.
    source : str [-]
        ``"prior"``: from usual ranges, before any chronograph; ``"strings"``: from what was measured.
    shares : dict of str to float or ndarray [-]
        By name, the part of the variance that would go if this one were known; losses learned together
        share theirs, so that the sum may be more than 1.
    """

    low: Any
    best: Any
    high: Any
    level: float
    source: str
    shares: dict[str, Any]


@dataclass(frozen=True)
class Unknowns:
    """Values of a build that are not known exactly, with the rows of shots that a range needs.

    Attributes
    ----------
    names : tuple of str [-]
        Losses, ``"spring0.rate"`` and so on, assumed values by their dotted names, and perhaps
        ``"chronograph"``.
    low, best, high : ndarray, shape (names,) [SI, or a factor for rates, coils and the chronograph]
        Nine cases in ten lie between low and high; best is the most probable.
    root : ndarray, shape (names, names) [-]
        A square root of their correlation.
    source : str [-]
        ``"prior"`` or ``"strings"``.
    setup : float [-]
        Relative SD from one assembly to the next.
    """

    names: tuple[str, ...]
    low: Floats
    best: Floats
    high: Floats
    root: Floats
    source: str
    setup: float = SETUP

    def values(self, scores: Floats) -> Floats:
        """Values at standard normal scores, shape (n, names) [SI, or a factor], none where none can be."""
        left, right = self.best - self.low, self.high - self.best
        share, below = left / (left + right), ndtr(scores @ self.root.T)
        with np.errstate(divide="ignore", invalid="ignore"):
            under, over = ndtri(0.5 * below / share), -ndtri(0.5 * (1.0 - below) / (1.0 - share))
            found = self.best + np.where(below < share, left * under, right * over) / NINE_IN_TEN
        ends = np.array([ends_of(name) for name in self.names])
        return np.clip(found, ends[:, 0], ends[:, 1])

    @cached_property
    def table(self) -> Floats:
        """Values for the rows, shape (rows, names): the best ones first [SI, or a factor]."""
        return np.vstack([self.best, self.values(_grid(len(self.names))[0])])

    def rows(self, values: Mapping[str, Any], count: int = 1, table: Floats | None = None) -> Floats:
        """Rows of `Parameters` to be shot: as many as `table` has for each of `count` builds, its own first.

        Parameters
        ----------
        values : mapping of str to float or ndarray [SI]
            `Build.si`, or the same with arrays of `count` values for what differs between builds.
        count : int [-]
            How many builds.
        table : ndarray, shape (rows, names), or None [SI, or a factor]
            Values of the unknowns that are not those of `table`.

        Returns
        -------
        ndarray, shape (count * rows, parameters)
            For ``simulate_rows``; its speeds, reshaped to (count, rows) and transposed, go to `range` [SI].
        """
        table = self.table if table is None else table
        many = len(table)
        found = {k: np.repeat(v, many) if isinstance(v, np.ndarray) else v for k, v in values.items()}
        draws = dict(zip(self.names, np.tile(table, (count, 1)).T, strict=True))
        return from_build.rows(drawn(found, draws), count * many)

    def crowd(self, speeds: Floats) -> tuple[Floats, Floats]:
        """What as many builds like this one would read on average, and their scores.

        Parameters
        ----------
        speeds : ndarray, shape (rows, ...) [m/s]
            As the rows shot.

        Returns
        -------
        tuple of ndarray, shapes (1024, ...) and (1024, names + 2)
            Mean readings, the setup's part in them [m/s]; scores, behind the unknowns' that of the setup and
            a spare one [-].
        """
        scores, found = _grid(len(self.names))[1], self.spread(self.readings(speeds))
        found = np.maximum(found, min(float(np.min(speeds)), 0.0))  # a speed is never below none
        return (found.T * (1.0 + self.setup * scores[:, -2])).T, scores

    def carried(self, speeds: Floats) -> Floats:
        """Standard deviation of the mean speed from the unknowns alone, shape (...) [m/s]."""
        return np.asarray(np.std(self.spread(speeds), axis=0))

    def spread(self, found: Floats) -> Floats:
        """What was found of the rows, shape (rows, ...), of the crowd, shape (1024, ...) [the same unit]."""
        return np.asarray(np.tensordot(_grid(len(self.names))[2], found[1:], 1))

    def readings(self, speeds: Floats, table: Floats | None = None) -> Floats:
        """What the chronograph reads of the rows' speeds, shape (rows, ...), shot with `table` [m/s]."""
        if CHRONOGRAPH not in self.names:
            return speeds
        table = self.table if table is None else table
        return np.asarray((speeds.T * table[:, self.names.index(CHRONOGRAPH)]).T)

    def range(self, speeds: Floats, level: float = 0.9) -> SpeedRange:
        """The range of the mean speed from the shots of `rows`.

        Parameters
        ----------
        speeds : ndarray, shape (rows, ...) [m/s]
            Speeds of the rows; further axes are other builds or lengths, each with its own range.
        level : float [-]
            Share of cases within the range.

        Returns
        -------
        SpeedRange
            Floats, or arrays of the further axes [m/s].
        """
        crowd, scores = self.crowd(speeds)
        best = self.readings(speeds)[0]
        low, high = np.quantile(crowd, [0.5 - 0.5 * level, 0.5 + 0.5 * level], axis=0, method="hazen")
        known = np.column_stack([scores[:, :-2] @ self.root.T, scores[:, -2]])
        off = crowd - crowd.mean(axis=0)
        shared = np.tensordot(known.T, off, 1) ** 2 / len(crowd)
        shares = shared / np.maximum(np.sum(off**2, axis=0), 1e-300)
        named = dict(zip((*self.names, "setup"), shares, strict=True))
        return SpeedRange(np.minimum(low, best), best, np.maximum(high, best), level, self.source, named)


def unknowns(
    build: Build,
    ranges: Ranges | None = None,
    callipers: QuantityLike | None = None,
    learned: LossUncertainty | None = None,
    known: Collection[str] = (),
) -> Unknowns:
    """What is not known exactly about a build, before any chronograph or after strings.

    Parameters
    ----------
    build : Build [-]
        Its own values are the most probable ones.
    ranges : mapping of str to (low, high) or Prior, or None [-]
        Losses whose ranges, nine cases in ten, are better known than the usual ones of ``parts.priors``; a
        range that is not given stays usual.
    callipers : Quantity or str or None [length]
        Half width of your measures of wire and coil; None takes the standards' tolerances of a spring as
        bought. A spring with a measured rate has neither.
    learned : LossUncertainty or None [-]
        What strings told; None takes what the build carries. With it, `ranges` and `callipers` do not count.
    known : collection of str [-]
        Dotted names of values that are exact, such as those that a sweep sets itself. A learned loss among
        them ends what strings told, as setting it by hand does.

    Returns
    -------
    Unknowns
        For any build with the same losses and springs, such as the same with other barrels [SI].

    Raises
    ------
    UnitError
        A range that does not hold the build's own value, or is none; callipers that cannot be.

    Notes
    -----
    A spring outside the tables of tolerances, without callipers, is taken at its computed rate.
    """
    learned = learned or build.calibration
    if learned is not None and not any(f"losses.{name}" in known for name in learned.names):
        best = learned.at(build.si)
        half, root = NINE_IN_TEN * learned.sd_si, _root(np.array(learned.correlation))
        return Unknowns(learned.names, best - half, best, best + half, root, STRINGS, learned.setup)
    if callipers is not None:
        units.si_in(callipers, "length", "callipers", 0.0, 5e-4, "half width of a measure")
    given = {prior.name: prior for prior in priors_for(ranges)} if ranges else {}
    found: dict[str, tuple[float, float, float]] = {}
    for name, prior in ({prior.name: prior for prior in priors_for(None)} | given).items():
        if f"losses.{name}" in known:
            continue
        own = build.si[f"losses.{name}"]
        low, high = prior.si if name in given else prior.around(own)
        if not low <= own <= high:
            raise units.UnitError(
                f"{name}: got a range from {prior.low} to {prior.high}; must hold the build's own "
                f"{units.show(own, FIELDS[name].kind)} (correct the value in the build, or the range)"
            )
        found[name] = (low, own, high)
    for place, spring in enumerate(build.springs):
        told = {f"{spring.name}.rate", f"springs[{place}].rate"} & set(known)
        if spring.measured_rate is None and not told:
            try:
                share = 0.5 * NINE_IN_TEN * as_bought(spring, callipers, callipers).fraction
            except units.UnitError:  # no tolerance is tabulated for a spring like this
                continue
            found[f"spring{place}.rate"] = (1.0 - share, 1.0, 1.0 + share)
    found |= _assumed(build, known)
    return independent(found, PRIOR, SETUP)


def independent(ends: Mapping[str, tuple[float, float, float]], source: str, setup: float = 0.0) -> Unknowns:
    """Unknowns that have nothing to do with each other, of a build or of anything else.

    Parameters
    ----------
    ends : mapping of str to (low, best, high) [any unit]
        By name; nine cases in ten lie between low and high.
    source : str [-]
        ``"prior"`` or ``"strings"``.
    setup : float [-]
        Relative SD from one assembly to the next, in results that have one.

    Returns
    -------
    Unknowns
        Whose `Unknowns.table` has the rows of values, for a function of one's own [the same units].

    Examples
    --------
    What a speed and a drag coefficient within their ranges make of a result:

    >>> asked = independent({"speed": (57.0, 60.0, 63.0), "drag": (0.6, 0.7, 0.8)}, "prior")
    >>> speed, drag = asked.table.T
    >>> found = asked.range(speed * np.exp(-0.5 * drag))
    >>> f"{found.low:.1f} {found.best:.1f} {found.high:.1f}"
    '39.4 42.3 45.4'
    """
    low, best, high = np.array(list(ends.values())).T
    return Unknowns(tuple(ends), low, best, high, np.eye(len(ends)), source, setup)


def _assumed(build: Build, known: Collection[str]) -> dict[str, tuple[float, float, float]]:
    """Ends of the assumed values that count in a shot, by their names in `Build.si` [SI, or a factor]."""
    rated, found = {one.name for one in build.springs if one.measured_rate is not None}, {}
    for name, (low, own, high) in likely(build).items():
        part, _, key = name.partition(".")
        if low == high or key in PRIORS or {name, name.replace("spring.", "springs[0].")} & set(known):
            continue
        if key != "active_coils":
            found[si_name(name)] = (low, own, high)
        elif part not in rated:
            found[si_name(name)] = (low / own, 1.0, high / own)
    return found


def drawn(values: Mapping[str, Any], draws: Mapping[str, Any]) -> dict[str, Any]:
    """A build's values with those of unknowns, by their names, in place of its own [SI]."""
    found = dict(values)
    for name, column in draws.items():
        spring = name.partition(".")[0]
        if name in FIELDS:
            found[f"losses.{name}"] = column
        elif name.endswith(".rate"):
            found[name] = found[name] * column
        elif name.endswith(".active_coils"):
            found[f"{spring}.rate"] = found[f"{spring}.rate"] / column
            for key in ("mass", "active_mass", "solid_length"):
                found[f"{spring}.{key}"] = found[f"{spring}.{key}"] * column
        elif name != CHRONOGRAPH:
            found[name] = column
    if any("." in name and not name.endswith(".rate") for name in draws):
        found = _within(derive(found))
    return found


def _within(values: dict[str, Any]) -> dict[str, Any]:
    """Values with no spring squeezed beyond solid at the catch [SI]."""
    for name in [name for name in values if name.endswith(".travel_to_solid")]:
        squeeze = f"{name.partition('.')[0]}.catch_compression"
        values[squeeze] = np.maximum(values[squeeze] + np.minimum(values[name], 0.0), 0.0)
    return values


def own_name(name: str) -> str | None:
    """Where `Build.si` has an unknown's own value; None where it is a factor on what the build has."""
    if name == CHRONOGRAPH or name.endswith((".rate", ".active_coils")):
        return None
    return f"losses.{name}" if name in FIELDS else name


def ends_of(name: str) -> tuple[float, float]:
    """The least and greatest that a value can be [SI, or a factor]."""
    own = own_name(name)
    if own is None:
        return 0.2, 5.0
    field = FIELD_OF.get(re.sub(r"^spring\d", "spring", own))
    return field[1:3] if field else (-np.inf, np.inf)


def _root(correlation: Floats) -> Floats:
    sizes, axes = np.linalg.eigh(correlation)
    return np.asarray(axes * np.sqrt(np.maximum(sizes, 0.0)))[:, ::-1]


def speeds_of(asked: Unknowns, values: Mapping[str, Any], count: int = 1) -> Floats:
    """The speeds of `count` builds at the rows of what is not known of them, in one compiled run.

    Parameters
    ----------
    asked : Unknowns [-]
        What is not known of them.
    values : mapping of str to float or ndarray [SI]
        As for `Unknowns.rows`: `Build.si`, with arrays of `count` values for what differs.
    count : int [-]
        How many builds, or lengths of a barrel.

    Returns
    -------
    ndarray
        Speeds, shape (rows, count) [m/s]; `Unknowns.range` makes ranges of them.

    Examples
    --------
    A band over lengths, as a panel draws it:

    >>> import blasterlab as bl, numpy as np
    >>> build = bl.demo_build("workhorse")
    >>> asked, values = unknowns(build), {**build.si, "barrel.length": np.array([0.2, 0.3, 0.4])}
    >>> band = asked.range(speeds_of(asked, values, 3))
    >>> band.high.shape, bool((band.low <= band.best).all())
    ((3,), True)
    """
    return simulate_rows(asked.rows(values, count), TOLERANCE).muzzle_velocity.m.reshape(count, -1).T


def range_of(
    build: Build, level: float = 0.9, *, ranges: Ranges | None = None, callipers: QuantityLike | None = None
) -> SpeedRange:
    """The range of a build's mean muzzle velocity, from a few dozen shots in one compiled run.

    Parameters
    ----------
    build : Build [-]
        The build; after a calibration it carries what strings told.
    level : float [-]
        Share of cases within the range.
    ranges, callipers : mapping, Quantity or str [-]
        As in `unknowns`.

    Returns
    -------
    SpeedRange
        Floats; `bl.predict` says the same with units, and for one shot as well [m/s].

    Raises
    ------
    UnitError
        As in `unknowns`.

    Examples
    --------
    >>> from blasterlab.build import demo_build
    >>> found = range_of(demo_build("workhorse"))
    >>> bool(found.low < found.best < found.high), found.source
    (True, 'prior')
    """
    asked = unknowns(build, ranges, callipers)
    return asked.range(speeds_of(asked, build.si)[:, 0], level)
