"""Variants of one build: the values of many at once, and a table of what every combination shoots.

What it is for: lists of values by dotted name, each part made and checked once for every distinct
combination of its own.  What it leaves out: the shots themselves (``many``).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.shot import from_build
from blasterlab.shot.integrate import TOLERANCE
from blasterlab.shot.many import Progress, simulate_rows
from blasterlab.shot.speed_range import speeds_of, unknowns
from blasterlab.tables import pd
from blasterlab.values import RULES, derive, kind_of, part_si


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
        As `Build.si`, for ``from_build.rows`` [SI].

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
        raise BuildError([f"changes: lists of different lengths {sorted(count)}; must have one length"])
    size = count.pop() if count else 1
    by_part: dict[str, list[str]] = {}
    for name in changes:
        part = name.split(".")[0]
        by_part.setdefault("springs[0]" if part == "spring" else part, []).append(name)
    result: dict[str, Any] = dict(build.si)
    for part, names in by_part.items():
        combos = list(zip(*(changes[name] for name in names), strict=True))
        keys = [tuple(map(id, combo)) for combo in combos]  # the lists keep the values alive
        found: dict[tuple[int, ...], dict[str, float]] = {}
        for key, combo in zip(keys, combos, strict=True):
            if key not in found:
                found[key] = part_si(part, build.changed_part(part, dict(zip(names, combo, strict=True))))
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
                [f"{rule.fault(here, rule.field)}; with {which} ({int(broken.sum())} of {size})"]
            )
    return result


def _column(name: str, kind: str) -> str:
    """A column's name with its unit as chosen: ``barrel.length_mm``, ``muzzle_velocity_ft_s``."""
    return f"{name}_{re.sub('[/*]', '_', units.display_unit(kind)).replace('^', '')}"


def sweep(
    build: Build,
    changes: Mapping[str, Iterable[Any]],
    tolerance: float = TOLERANCE,
    progress: Progress | None = None,
    level: float | None = None,
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
    level : float or None [-]
        With a level, such as 0.9, the range of each muzzle velocity too, ``low`` and ``high``, for 25 shots
        more a build; the varied values count as known (see `predict`).

    Returns
    -------
    DataFrame
        Tidy, one row a build: the varied values and the results, units of the chosen display set in the
        column names; ``exited`` says whether the dart left, ``status`` how the shot ended.

    Raises
    ------
    BuildError
        An unknown name, an unreadable value, a combination that cannot be.

    Examples
    --------
    >>> import blasterlab as bl
    >>> table = bl.sweep(bl.demo_build("workhorse"), {"barrel.length": ["20 cm", "30 cm"]})
    >>> list(table.columns)[:2]
    ['barrel.length_mm', 'muzzle_velocity_m_s']
    """
    lists = {name: list(values) for name, values in changes.items()}
    if not lists or not all(lists.values()):
        raise BuildError(["changes: must have at least one name with at least one value"])
    combos = list(itertools.product(*lists.values()))
    flat = {name: [combo[place] for combo in combos] for place, name in enumerate(lists)}
    si = values_of(build, flat)
    many = simulate_rows(from_build.rows(si, len(combos)), tolerance, progress)
    table: dict[str, Any] = {}
    for name, values in flat.items():
        kind = kind_of(name)
        if kind is None or kind == "number":
            table[name] = values
        else:
            known = {id(value): units.display(units.si(value, kind, name), kind) for value in lists[name]}
            table[_column(name, kind)] = [known[id(value)] for value in values]
    for name, kind in (
        ("muzzle_velocity", "speed"),
        ("muzzle_energy", "energy"),
        ("exit_time", "time"),
        ("peak_pressure", "pressure"),
        ("spring_work", "energy"),
    ):
        found = getattr(many, name).m_as(units.KINDS[kind].si)
        table[_column(name, kind)] = units.display(found, kind)
    if level is not None:
        asked = unknowns(build, known=lists)
        band = asked.range(speeds_of(asked, si, len(combos)), level)
        for name, ends in (("low", band.low), ("high", band.high)):
            table[_column(name, "speed")] = units.display(ends, "speed")
    frame = pd.DataFrame(table | {"exited": many.exited, "status": many.status})
    return frame if many.complete else frame[frame["status"] != "not run"]
