"""Many shots at once: struct of arrays in and out, compiled and parallel, the same numbers as one by one.

What it is for: maps, searches, fits and Monte Carlo.  What it leaves out: histories (simulate the few builds
that matter once more) and widgets.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.compiled import PARALLEL
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot import rules
from blasterlab.shot.parallel import run_rows
from blasterlab.shot.simulate import TOLERANCE
from blasterlab.values import PART_SI, RULES, derive, kind_of, spring_si

if TYPE_CHECKING:
    import pandas as pd

#: Shots in one parallel call; between two of them progress is told and an interrupt is heard.
CHUNK = 2048
NOT_RUN = -1
_STATUS, _TIME, _PEAK1, _PEAK2, _WORK, _IMPACT, _STOP = range(k.STATES, k.STATES + 7)
_WIDTH = k.STATES + 7
WORDS = {
    rules.EXITED: "",
    rules.NO_BREAKAWAY: "the dart never broke away",
    rules.STALLED: "the dart stalled in the barrel",
    rules.NO_RELEASE: "the plunger never moved",
    rules.TIME_OUT: "the dart was still in the barrel at the time limit",
    rules.FAILED: "the integration did not converge",
    NOT_RUN: "interrupted before its turn",
}


@dataclass(frozen=True)
class ShotBatch:
    """Results of many shots, in the order of their builds.

    Attributes
    ----------
    rows : ndarray, shape (n, 32) [SI]
        The kernel's parameters.
    out : ndarray, shape (n, 20) [SI]
        Final states and outcome.
    complete : bool [-]
        False when the run was interrupted; what was done is kept.
    """

    rows: Any
    out: Any
    complete: bool

    def __len__(self) -> int:
        return len(self.out)

    @property
    def exited(self) -> Any:
        """Which darts left the muzzle, shape (n,) [-]."""
        return self.out[:, _STATUS] == rules.EXITED

    @property
    def reasons(self) -> list[str]:
        """Why not, in words, "" where it left."""
        return [WORDS[int(status)] for status in self.out[:, _STATUS]]

    @property
    def muzzle_velocity(self) -> Any:
        """Muzzle velocities, shape (n,); 0 where the dart never left [m/s]."""
        return units.quantity(np.where(self.exited, self.out[:, k.W], 0.0), "m/s")

    @property
    def muzzle_energy(self) -> Any:
        """Muzzle energies, shape (n,) [J]."""
        mass = self.rows[:, k.Parameters._fields.index("dart_mass")]
        return units.quantity(0.5 * mass * self.muzzle_velocity.magnitude**2, "J")

    @property
    def exit_time(self) -> Any:
        """Times to the exit or the end, shape (n,) [ms]."""
        return units.quantity(1e3 * self.out[:, _TIME], "ms")

    @property
    def peak_pressure(self) -> Any:
        """Highest absolute chamber pressures, shape (n,) [kPa]."""
        return units.quantity(1e-3 * self.out[:, _PEAK1], "kPa")

    @property
    def peak_barrel_pressure(self) -> Any:
        """Highest absolute pressures behind the dart, shape (n,) [kPa]."""
        return units.quantity(1e-3 * self.out[:, _PEAK2], "kPa")

    @property
    def spring_work(self) -> Any:
        """Work of the springs, shape (n,) [J]."""
        return units.quantity(self.out[:, _WORK], "J")

    @property
    def impact_speed(self) -> Any:
        """Plunger speeds at the front stop, shape (n,); 0 where it was not reached before the exit [m/s]."""
        return units.quantity(self.out[:, _IMPACT], "m/s")


def simulate_rows(
    rows: Any, tolerance: float = TOLERANCE, progress: Callable[[int, int], None] | None = None
) -> ShotBatch:
    """Simulate rows of the kernel's parameters (see ``pack.rows``).

    Parameters
    ----------
    rows : ndarray, shape (n, 32) [SI]
        Parameters, one shot a row.
    tolerance : float [-]
        As in ``simulate``.
    progress : callable or None [-]
        Called with the number done and the number of all, now and then.

    Returns
    -------
    Many
        Results; after a keyboard interrupt those that were done, marked as not complete.
    """
    out = np.zeros((len(rows), _WIDTH))
    out[:, _STATUS] = NOT_RUN
    rows = np.ascontiguousarray(rows, dtype=float)
    complete = True
    try:
        for first in range(0, len(rows), CHUNK):
            last = min(first + CHUNK, len(rows))
            part = np.empty((last - first, _WIDTH))
            with PARALLEL:
                run_rows(rows[first:last], tolerance, part)
            out[first:last] = part
            if progress is not None:
                progress(last, len(rows))
    except KeyboardInterrupt:
        complete = False
    return ShotBatch(rows, out, complete)


def simulate_many(
    builds: Sequence[Build],
    charge: Any = None,
    tolerance: float = TOLERANCE,
    progress: Callable[[int, int], None] | None = None,
) -> ShotBatch:
    """Simulate many builds in one compiled, parallel run.

    Parameters
    ----------
    builds : sequence of Build [-]
        The builds.
    charge : Quantity or str or None [pressure]
        As in ``simulate``, the same for all.
    tolerance : float [-]
        As in ``simulate``.
    progress : callable or None [-]
        Called with the number done and the number of all, now and then.

    Returns
    -------
    Many
        Results in the builds' order, equal to those of ``simulate`` to the last digit.

    Raises
    ------
    UnitError
        A charge that is unreadable or out of range.

    Examples
    --------
    >>> import blasterlab as bl
    >>> many = bl.simulate_many([bl.demo_build(name) for name in bl.demo_builds()])
    >>> many.muzzle_velocity.shape
    (3,)
    """
    pressure = 0.0 if charge is None else units.si_in(charge, "pressure", "charge", 1e3, 5e6, "absolute")
    rows = np.array([pack.parameters(build.si, pressure) for build in builds]).reshape(-1, pack.WIDTH)
    return simulate_rows(rows, tolerance, progress)


def values_of(build: Build, changes: Mapping[str, Sequence[Any]]) -> dict[str, Any]:
    """SI values of many variants of a build: arrays for what varies, floats for the rest, all checked.

    Parameters
    ----------
    build : Build [-]
        What stays.
    changes : mapping of str to sequence [-]
        By dotted name, lists of one common length: variant i takes the i-th value of each.

    Returns
    -------
    dict of str to float or ndarray
        As `Build.si`, for ``pack.rows`` [SI].

    Raises
    ------
    BuildError
        A variant that cannot be, the first of them named.

    Notes
    -----
    Each part is made and checked once for every distinct combination of its own values, so that a
    map of 100 × 100 over a spring's wire and a barrel's length makes 100 springs and 100 barrels.
    """
    count = {len(values) for values in changes.values()}
    if len(count) > 1:
        raise BuildError(
            [f"changes: lists of different lengths {sorted(count)}; one common length is wanted"]
        )
    size = count.pop() if count else 1
    by_part: dict[str, list[str]] = {}
    for name in changes:
        part = name.split(".")[0]
        by_part.setdefault("springs[0]" if part == "spring" else part, []).append(name)
    result: dict[str, Any] = {
        key: value
        for key, value in build.si.items()
        if not key.endswith(("travel_to_solid", "catch_compression"))
    }
    for part, names in by_part.items():
        combos = list(zip(*(changes[name] for name in names), strict=True))
        keys = [tuple(map(id, combo)) for combo in combos]  # the lists keep the values alive
        found: dict[tuple[int, ...], dict[str, float]] = {}
        for key, combo in zip(keys, combos, strict=True):
            if key not in found:
                found[key] = _part_si(build, part, dict(zip(names, combo, strict=True)))
        for column in next(iter(found.values())):
            result[column] = np.array([found[key][column] for key in keys])
    result = derive(result)
    for rule in RULES:
        broken = np.broadcast_to(np.asarray(rule.broken(result)), (size,))
        if broken.any():
            first = int(np.argmax(broken))
            here = {key: np.broadcast_to(value, (size,))[first] for key, value in result.items()}
            which = ", ".join(f"{name} = {values[first]}" for name, values in changes.items())
            raise BuildError(
                [f"{rule.field}: {rule.words(here)}; with {which} ({int(broken.sum())} of {size})"]
            )
    return result


def _part_si(build: Build, part: str, changes: dict[str, Any]) -> dict[str, float]:
    made, index = build.changed_part(part, changes)
    return spring_si(made, index) if index is not None else PART_SI[part](made)


def sweep(
    build: Build,
    changes: Mapping[str, Iterable[Any]],
    tolerance: float = TOLERANCE,
    progress: Callable[[int, int], None] | None = None,
) -> pd.DataFrame:
    """Simulate every combination of some values.

    Parameters
    ----------
    build : Build [-]
        What stays.
    changes : mapping of str to iterable [-]
        Lists of values by dotted name, ``{"spring.wire_diameter": ["1.2 mm", "1.4 mm"]}``; a Quantity
        array will do.
    tolerance : float [-]
        As in ``simulate``.
    progress : callable or None [-]
        Called with the number done and the number of all, now and then.

    Returns
    -------
    DataFrame
        Tidy, one row a build: the varied values and the results, units of the chosen display set in the
        column names; ``exited`` says whether the dart left.

    Raises
    ------
    BuildError
        An unknown name, an unreadable value, a combination that cannot be.

    Examples
    --------
    >>> import blasterlab as bl
    >>> table = bl.sweep(bl.demo_build("workhorse"), {"barrel.length": ["20 cm", "30 cm"]})
    >>> list(table.columns)[:2]
    ['barrel.length [mm]', 'muzzle_velocity [m/s]']
    """
    import pandas as pd

    lists = {name: list(values) for name, values in changes.items()}
    if not lists or not all(lists.values()):
        raise BuildError(["changes: at least one name with at least one value is wanted"])
    combos = list(itertools.product(*lists.values()))
    flat = {name: [combo[place] for combo in combos] for place, name in enumerate(lists)}
    many = simulate_rows(pack.rows(values_of(build, flat), len(combos)), tolerance, progress)
    table: dict[str, Any] = {}
    for name, values in flat.items():
        kind = kind_of(name)
        if kind is None or kind == "number":
            table[name] = values
        else:
            known = {id(value): units.display(units.si(value, kind, name), kind) for value in lists[name]}
            table[f"{name} [{units.show_unit(kind)}]"] = [known[id(value)] for value in values]
    for name, kind in (
        ("muzzle_velocity", "speed"),
        ("muzzle_energy", "energy"),
        ("exit_time", "time"),
        ("peak_pressure", "pressure"),
        ("spring_work", "energy"),
    ):
        si = getattr(many, name).m_as(units.KINDS[kind].si)
        table[f"{name} [{units.show_unit(kind)}]"] = units.display(si, kind)
    table["exited"] = many.exited
    table["reason"] = many.reasons
    frame = pd.DataFrame(table)
    return frame if many.complete else frame[many.out[:, _STATUS] != NOT_RUN]
