"""What a page needs so that its range is that of `bl.predict`, wherever its sliders stand.

What it is for: what is not known exactly about the build, with its ends at every position, and the rules
that lead from values to the shot's parameters, traced.  What it leaves out: how draws become a range, which
the page does by itself, as ``shot.speed_range`` does.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from blasterlab.assumed import DEFAULTS, about, general, known_of, si_name
from blasterlab.build import Build
from blasterlab.page.moves import KNOWN, Move
from blasterlab.page.traced import Traced, noted
from blasterlab.parts.priors import NINE_IN_TEN
from blasterlab.report.page import source
from blasterlab.shot.from_build import columns
from blasterlab.shot.speed_range import PRIOR, ROWS, TOLERANCE, Unknowns, drawn, ends_of, own_name, unknowns
from blasterlab.values import RULES, derive


def draws(build: Build, found: list[Move]) -> tuple[str, dict[str, Any]]:
    """The rules as JavaScript, and what else the page's script reads of values, positions and unknowns.

    Parameters
    ----------
    build : Build [-]
        The build.
    found : list of Move [-]
        From `moves`.

    Returns
    -------
    tuple of (str, dict)
        Functions of values v and draws d by name: parameters, those that draws change, ends of what is
        assumed of springs, what is impossible.  Data [SI]; after strings there are two sets of unknowns: what
        the strings told, and what counts once a learned loss is moved.
    """
    usual = max((asked for move in found for asked in move.asked), key=lambda asked: len(asked.names))
    sets = [*([unknowns(build, known=KNOWN)] if build.calibration else []), usual]
    rules = _rules(build, found, {name for asked in sets for name in asked.names})
    script = "".join(noted(name, "v, d", results) for name, results in rules.items())
    asked = [_set(one) for one in sets]
    read = {*re.findall(r'\bv\["([^"]+)"\]', script), *(own for one in asked for own in one["own"])}
    every = {name: ends for name, ends in _ends(usual).items() if f"{name} low" not in rules["endsOf"]}
    slim = []
    for move in found:
        columns = {key: column for key, column in move.columns.items() if key in read}
        tables = [_ends(one) for one in move.asked]
        moved = {
            name: [0 if table.get(name) == ends else table.get(name, ()) for table in tables]
            for name, ends in every.items()
        }  # 0: as the set has it
        ends = {name: table for name, table in moved.items() if len(set(table)) > 1}
        slim.append(move._asdict() | {"columns": columns, "asked": ends})
    base = {name: value for name, value in build.si.items() if name in read}
    return script, {"base": base, "moves": slim, "asked": asked, "range": (ROWS, NINE_IN_TEN, TOLERANCE)}


def _ends(asked: Unknowns) -> dict[str, tuple[float, ...]]:
    """Both ends of each unknown, to twelve digits [SI, or a factor]."""
    pairs = zip(asked.names, asked.low, asked.high, strict=True)
    return {name: tuple(float(f"{end:.12g}") for end in ends) for name, *ends in pairs}


def _set(asked: Unknowns) -> dict[str, Any]:
    """Unknowns as the page reads them; `own` tells where the best value of each stands, or is one."""
    best = zip(asked.names, asked.best.tolist(), strict=True)
    return {
        "names": asked.names,
        "own": [own_name(name) or value for name, value in best],
        "ends": list(_ends(asked).values()),
        "limits": np.clip([ends_of(name) for name in asked.names], -1e300, 1e300).tolist(),
        "root": None if asked.source == PRIOR else asked.root.tolist(),
        "setup": asked.setup,
        "source": source(asked),
    }


def _rules(build: Build, found: list[Move], names: set[str]) -> dict[str, Mapping[str, Any]]:
    """What each function of the page gives, traced."""
    moved = {key for move in found for key in move.columns} | set(filter(None, map(own_name, names)))
    values = derive(build.si | {key: Traced(f'v["{key}"]') for key in sorted(moved)})
    first, ends = f"{build.springs[0].name}.", {}
    known = known_of(build) | {move.name.replace("spring.", first): values[move.name] for move in found}
    for name, key in ((name, si_name(name)) for name in build.assumed):
        if key in names and key.endswith((".active_coils", ".preload")):  # the only ones that sliders change
            rule, own = DEFAULTS[general(name)], known[name]
            low, _, high = (rule.rule(about(known, name.partition(".")[0]), n) for n in rule.numbers)
            unit = own if own_name(key) is None else 1.0
            ends[f"{key} low"] = np.where(low < high, np.minimum(low, own), own) / unit
            ends[f"{key} high"] = np.where(low < high, np.maximum(high, own), own) / unit
    own, new = columns(values), columns(drawn(values, {name: Traced(f'd["{name}"]') for name in names}))
    return {
        "parametersOf": own,
        "drawnOf": {key: x for key, x in new.items() if isinstance(x, Traced) and x is not own[key]},
        "endsOf": ends,
        "refusedOf": {rule.field: rule.broken(values) for rule in RULES},
    }  # fmt: skip
