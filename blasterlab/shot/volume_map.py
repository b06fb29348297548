"""Chamber volume against barrel length: a map of muzzle velocity, its ridge, and what a fixed ratio costs.

What it is for: how large a chamber wants how long a barrel, for one spring, one dart and its losses; the
price of a rule of thumb.  What it leaves out: pictures, whether the parts fit and survive (``Build.check``),
and the closed form (``full_chamber``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.buildtext import MOST_SPRINGS
from blasterlab.parts.barrel import FIELDS as BARREL
from blasterlab.parts.chamber import FIELDS as CHAMBER
from blasterlab.shot import from_build
from blasterlab.shot.barrel_sweep import barrel_sweep
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Floats
from blasterlab.shot.simulate import simulate
from blasterlab.tables import pd
from blasterlab.units import QuantityLike
from blasterlab.values import derive

VARIED = ("stroke", "bore")
#: Reach of a map unless it is given: of the build's own swept volume, and of its own barrel.
VOLUME_REACH, LENGTH_REACH = (0.25, 1.6), (0.1, 1.6)
#: Share of a velocity by which a cell that was read off its neighbours may be wrong; most are far better.
ERROR = 5e-3
_BEND = 4e-4  # of v²: how far a parabola through three neighbours may lie from the cubic through four
_FAST = 0.25  # of the highest velocity; below it, near the darts that stay in, each cell is shot
#: Cubic through four points in a row, halfway between the first, the middle, the last two of them.
_MIDWAY = np.array([[5.0, 15.0, -5.0, 1.0], [-1.0, 9.0, 9.0, -1.0], [1.0, -5.0, 15.0, 5.0]]) / 16.0
_SQUARE = math.pi / 4.0


@dataclass(frozen=True, eq=False)
class VolumeMap:
    """Muzzle velocity over chamber volume and barrel length.

    Attributes
    ----------
    build : Build [-]
        The build; its own volume and length are one point of the map.
    vary : str [-]
        ``"stroke"`` or ``"bore"``: what makes the volume.
    volumes : ndarray, shape (m,) [m^3]
        Swept chamber volumes, up to `highest` or to where the spring is solid.
    lengths : ndarray, shape (n,) [m]
        Barrel lengths.
    velocities : ndarray, shape (m, n) [m/s]
        NaN where the dart stays in.
    highest : float [m^3]
        Largest volume that was asked for.
    solid_from : float [m^3]
        Volume at which a spring's coils touch at the catch; infinite where the volume does not squeeze it.
    shots : int [-]
        Shots that the map took; the other cells were read off their neighbours (see `volume_map`).
    """

    build: Build
    vary: str
    volumes: Floats
    lengths: Floats
    velocities: Floats
    highest: float
    solid_from: float
    shots: int

    @property
    def bore_area(self) -> float:
        """Cross section of the barrel [m^2]."""
        return _SQUARE * float(self.build.si["barrel.bore"]) ** 2

    @property
    def stays_in(self) -> npt.NDArray[np.bool_]:
        """Where the dart never leaves, shape (m, n) [-]."""
        return np.isnan(self.velocities)

    @cached_property
    def _ridge(self) -> tuple[Floats, Floats]:
        """Best length and its velocity, shape (m,): the top of a parabola through three energies."""
        square = np.nan_to_num(self.velocities, nan=0.0) ** 2
        top = np.argmax(square, axis=1)
        middle = np.clip(top, 1, len(self.lengths) - 2)
        rows = np.arange(len(self.volumes))
        a, b, c = square[rows, middle - 1], square[rows, middle], square[rows, middle + 1]
        bend = a - 2.0 * b + c
        inside = (top == middle) & (bend < 0.0) & (a > 0.0) & (c > 0.0)
        shift = np.where(inside, 0.5 * (a - c) / np.where(inside, bend, 1.0), 0.0)
        best = self.lengths[top] + shift * (self.lengths[1] - self.lengths[0])
        speed = np.sqrt(np.where(inside, b - 0.25 * (a - c) * shift, square[rows, top]))
        found = square.max(axis=1) > 0.0
        return np.where(found, best, np.nan), np.where(found, speed, np.nan)

    @property
    def best_lengths(self) -> Floats:
        """Best barrel length for each volume, shape (m,); NaN where no dart leaves [m]."""
        return self._ridge[0]

    @property
    def best_velocities(self) -> Floats:
        """Velocity at the best length, shape (m,); NaN where no dart leaves [m/s]."""
        return self._ridge[1]

    @property
    def best_ratios(self) -> Floats:
        """Volume ratio at the best length, shape (m,); NaN where no dart leaves [-]."""
        return self.volumes / (self.bore_area * self.best_lengths)

    @property
    def at_end(self) -> npt.NDArray[np.bool_]:
        """Where the best length is an end of the map and may lie beyond it, shape (m,) [-]."""
        return np.isin(self.best_lengths, self.lengths[[0, -1]])


def volume_map(
    build: Build,
    vary: str = "stroke",
    low: QuantityLike | None = None,
    high: QuantityLike | None = None,
    start: QuantityLike | None = None,
    stop: QuantityLike | None = None,
    points: tuple[int, int] = (60, 60),
) -> VolumeMap:
    """Muzzle velocity over chamber volume and barrel length, with the build's springs, dart and losses.

    Parameters
    ----------
    build : Build [-]
        What stays.
    vary : str [-]
        What makes the volume.  ``"stroke"``: same tube; each spring keeps its preload, so its compression at
        the catch, and its energy, grow with the volume, until it is solid.  ``"bore"``: same stroke, so each
        spring gives the same; plunger mass, seal friction and port stay as they are.
    low, high : Quantity or str or None [volume]
        Smallest and largest swept volume; None for a quarter of, and 1.6 times, the build's own.
    start, stop : Quantity or str or None [length]
        Shortest and longest barrel, 5 mm to 3 m; None for a tenth of, and 1.6 times, the build's own.
    points : tuple of int [-]
        Volumes and lengths, evenly spaced, 8 to 400 each.

    Returns
    -------
    VolumeMap
        The map.

    Raises
    ------
    UnitError
        An unknown `vary`, volumes, lengths or points that are out of range.
    BuildError
        No cell lets a dart out, or the spring is solid in all of them.
    KeyboardInterrupt
        Interrupted while it shot.

    Notes
    -----
    Every second volume and length is shot.  Between them, a cell is read off by a cubic in v² where the
    neighbours agree, and keeps the dart in where both sides do; else it is shot too.  A cell that is read off
    is right to 0.5 % of its velocity at worst, found over the demo builds with many changes; at the edge of
    the darts that stay in, a single cell may be on the wrong side.  The length of the tube is not looked at:
    a longer stroke is taken to have its tube.

    Examples
    --------
    >>> import blasterlab as bl
    >>> found = bl.volume_map(bl.demo_build("workhorse"), points=(12, 12))
    >>> found.velocities.shape, int(found.stays_in.sum())
    ((12, 12), 28)
    """
    if vary not in VARIED:
        raise units.UnitError(f"vary: got {vary!r:.64}; must be one of {', '.join(VARIED)}")
    if len(points) != 2 or not all(8 <= count <= 400 for count in points):
        raise units.UnitError(f"points: got {points}; must be 8 to 400 volumes and lengths")
    v, spec = build.si, CHAMBER[vary]
    narrowest = max(spec.low, v["chamber.port_diameter"]) if vary == "bore" else spec.low
    ends = tuple(_swept(v | {f"chamber.{vary}": end}) for end in (narrowest, spec.high))
    least, most = _range(("low", "high"), "volume", (low, high), ends, _swept(v), VOLUME_REACH)
    own, given = v["barrel.length"], (start, stop)
    first, last = _range(("start", "stop"), "length", given, BARREL["length"][1:3], own, LENGTH_REACH)
    solid_from = math.inf
    if vary == "stroke":
        solid_from = _swept(v | {"chamber.stroke": _solid_stroke(build)})
    if solid_from <= least:
        raise BuildError([
            f"{build.spring.name}.free_length: it is solid at the catch from "
            f"{units.show(solid_from, 'volume')} on, and the map starts with {units.show(least, 'volume')}"
        ])  # fmt: skip
    volumes = np.linspace(least, min(most, solid_from), points[0])
    lengths = np.linspace(first, last, points[1])
    speeds, shots = _shoot_map(build, vary, volumes, lengths)
    if not speeds.any():
        raise BuildError(["chamber: the dart does not leave any of these barrels"])
    return VolumeMap(
        build, vary, volumes, lengths, np.where(speeds > 0.0, speeds, np.nan), most, solid_from, shots
    )


def _solid_stroke(build: Build) -> float:
    """The stroke at which the first spring is solid at the catch [m]."""
    v = build.si
    return min(
        v[f"spring{n}.free_length"]
        - v[f"spring{n}.solid_length"]
        - v[f"spring{n}.preload"]
        + v[f"spring{n}.gap"]
        for n in range(MOST_SPRINGS)
        if f"spring{n}.rate" in v
    )


def _swept(values: Mapping[str, Any]) -> Any:
    """The volume that a plunger sweeps [m^3]."""
    return _SQUARE * values["chamber.bore"] ** 2 * values["chamber.stroke"]


def _range(
    names: tuple[str, str], kind: str, given: tuple[Any, Any], allowed: tuple[float, float],
    own: float, reach: tuple[float, float],
) -> tuple[float, float]:  # fmt: skip
    """Two ends in SI, each given or a share of the build's own, within what is allowed and in order."""
    usual = (min(max(own * share, allowed[0]), allowed[1]) for share in reach)
    low, high = (
        other if value is None else units.si_in(value, kind, name, *allowed)
        for name, value, other in zip(names, given, usual, strict=True)
    )
    if not low < high:
        got, least = units.show(high, kind), units.show(low, kind)
        raise units.UnitError(f"{names[1]}: got {got}; must be more than {names[0]}, {least}")
    return low, high


def _shoot_map(build: Build, vary: str, volumes: Floats, lengths: Floats) -> tuple[Floats, int]:
    """Velocities of all cells, 0 where the dart stays in, and the number of shots [m/s]."""
    square = np.full((len(volumes), len(lengths)), np.nan)  # of the velocities
    shots = 0

    def shoot(wanted: tuple[slice, slice]) -> None:
        nonlocal shots
        cells = np.zeros(square.shape, bool)
        cells[wanted] = True
        rows, columns = np.nonzero(cells & np.isnan(square))
        if rows.size:
            square[rows, columns] = _shoot(build, vary, volumes[rows], lengths[columns]) ** 2
            shots += rows.size

    every, second = slice(None), slice(None, None, 2)
    shoot((second, second))
    _between(square[:, second])
    shoot((every, second))
    _between(square.T)
    shoot((every, every))
    return np.sqrt(square), shots


def _between(table: Floats) -> None:
    """Fill in the odd rows of a table of v², where the even ones tell them.

    Between two darts that stay in, so does this one.  Between fast darts, a cubic through the nearest four,
    where the parabola through three of them says the same.
    """
    known = table[::2]
    if len(known) < 4:
        return
    gaps = np.arange(len(known) - 1)
    first = np.clip(gaps - 1, 0, len(known) - 4)
    four = np.stack([known[first + n] for n in range(4)])
    weights = _MIDWAY[gaps - first].T[:, :, None]
    value = (weights * four).sum(axis=0)
    bend = np.abs(four[3] - 3.0 * four[2] + 3.0 * four[1] - four[0]) / 16.0
    sure = (four > _FAST**2 * np.nanmax(table)).all(axis=0) & (bend <= _BEND * value)
    stuck = (known[:-1] == 0.0) & (known[1:] == 0.0)
    table[1::2][: len(gaps)] = np.where(sure, value, np.where(stuck, 0.0, np.nan))


def _shoot(build: Build, vary: str, volumes: Floats, lengths: Floats) -> Floats:
    """Velocities at pairs of volume and length, 0 where the dart stays in [m/s]."""
    values: dict[str, Any] = dict(build.si)
    if vary == "stroke":
        values["chamber.stroke"] = volumes / (_SQUARE * values["chamber.bore"] ** 2)
    else:
        values["chamber.bore"] = np.sqrt(volumes / (_SQUARE * values["chamber.stroke"]))
    values["barrel.length"] = lengths
    many = simulate_rows(from_build.rows(derive(values), len(volumes)))
    if not many.complete:
        raise KeyboardInterrupt("interrupted while the map was shot")
    return many.muzzle_velocity.magnitude


def ratio_rule(builds: Mapping[str, Build], ratio: float) -> pd.DataFrame:
    """What a fixed volume ratio costs: each build's barrel cut by the rule against its best barrel.

    Parameters
    ----------
    builds : mapping of str to Build [-]
        Builds by name; each keeps its chamber and gets the barrel of the rule.
    ratio : float [-]
        Swept chamber volume over barrel volume, by the rule, 0.05 to 100.

    Returns
    -------
    DataFrame
        By name: best_ratio, low_ratio and high_ratio (within 1 % of the best velocity) [-], best_length_mm,
        rule_length_mm, best_speed_m_s, rule_speed_m_s (0 where the dart stays in), lost_percent.

    Raises
    ------
    UnitError
        A ratio out of range, or one whose barrel is out of range.
    BuildError
        A dart that leaves no barrel up to 1 m, or whose best barrel is longer than that.

    Examples
    --------
    >>> import blasterlab as bl
    >>> table = bl.ratio_rule({"workhorse": bl.demo_build("workhorse")}, 2.0)
    >>> bool(0.0 <= table.lost_percent.iloc[0] < 1.0)
    True
    """
    if not 0.05 <= ratio <= 100.0:
        raise units.UnitError(f"ratio: got {ratio}; must be 0.05 to 100")
    spec, rows = BARREL["length"], {}
    for name, build in builds.items():
        one = _swept(build.si) / (_SQUARE * build.si["barrel.bore"] ** 2)  # ratio times length, m
        cut = one / ratio
        if not spec.low <= cut <= spec.high:
            raise units.UnitError(
                f"ratio: got {ratio}; the barrel of {name} would be {units.show(cut, 'length')}; must be "
                f"{units.show(spec.low, 'length')} to {units.show(spec.high, 'length')}"
            )
        sweep = barrel_sweep(build, "3 cm", "100 cm", points=50)
        if sweep.at_end:
            raise BuildError([f"barrel.length: the best for {name} lies outside 3 cm to 100 cm"])
        by_rule = simulate(build.replace({"barrel.length": units.quantity(cut, "m")}))
        speed = by_rule.muzzle_velocity.m_as("m/s") if by_rule.exited else 0.0
        best, top = sweep.best_length, sweep.best_velocity.m_as("m/s")
        short, long = sweep.flat_range(0.01)
        rows[name] = {
            "best_ratio": sweep.ratio_at(best),
            "low_ratio": sweep.ratio_at(long),
            "high_ratio": sweep.ratio_at(short),
            "best_length_mm": best.m_as("mm"),
            "rule_length_mm": 1e3 * cut,
            "best_speed_m_s": top,
            "rule_speed_m_s": speed,
            "lost_percent": max(0.0, 100.0 * (1.0 - speed / top)),
        }
    return pd.DataFrame.from_dict(rows, orient="index")
