"""What a reader may move on a page: every position of every slider, worked out here, by the kit itself.

What it is for: parts, units and limits are looked at when the page is made, so that the page itself knows no
more than the shot: a position is the text of a value, and the values of the build that go with it.  What it
leaves out: how they look (``page.html``), and what they are called (``report.page``).
"""

from __future__ import annotations

from dataclasses import replace
from operator import attrgetter
from typing import NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.report.page import LABELS
from blasterlab.shot.speed_range import Unknowns, unknowns
from blasterlab.values import kind_of

#: From, to and step in a unit of the build text; a build's own value is always among them (own choice).
RANGES = {
    "barrel.length": (50, 650, 5, "mm"),
    "chamber.stroke": (20, 160, 1, "mm"),
    "spring.wire_diameter": (0.8, 2.4, 0.02, "mm"),
    "spring.rate": (100, 1500, 10, "N/m"),
    "dart.mass": (0.5, 3, 0.05, "g"),
    "losses.port_discharge": (0.4, 1, 0.01, ""),
    "losses.seal_friction": (0, 20, 0.25, "N"),
    "losses.seal_leak_area": (0, 5, 0.1, "mm^2"),
    "losses.dart_breakaway": (0, 10, 0.1, "N"),
    "losses.dart_friction": (0, 10, 0.1, "N"),
    "losses.blowby_area": (0, 10, 0.1, "mm^2"),
}
STROKE = "chamber.stroke"
#: A page's ranges hold at each barrel length, whether it was measured or not.
KNOWN = ("barrel.length",)


class Move(NamedTuple):
    """One slider: what it moves, its positions in rising order, and what each sets."""

    name: str
    label: str
    kind: str
    values: list[float]  # SI
    own: int  # the position of the build as it is
    columns: dict[str, list[float] | None]  # what changes in `Build.si`, SI; None: as `values`
    asked: list[Unknowns]  # what is not known exactly there
    line: int  # of the build text
    before: str  # what stands in that line before the number and behind it, where it is moved
    per: float  # what stands there is a value [SI] times this, to six digits
    behind: str


def moves(build: Build) -> list[Move]:
    """Every slider of a page.

    Parameters
    ----------
    build : Build [-]
        The build that the page starts from.

    Returns
    -------
    list of Move
        Positions that the build refuses are left out [SI].
    """
    wire = "spring.wire_diameter" if build.spring.measured_rate is None else "spring.rate"
    names = [name for name in RANGES if not name.startswith("spring.") or name == wire]
    lines = build.to_text().splitlines()
    found: list[Move] = []
    plain = replace(build, calibration=None)  # what counts when a learned loss is moved
    for name in names:
        start = plain
        if name == wire:  # the least stroke leaves room for most springs
            stroke = next(move for move in found if move.name == STROKE)
            short = plain.replace({STROKE: units.quantity(stroke.values[0], "m")})
            start = replace(short, assumed=plain.assumed)
        found.append(_move(start, name, lines))
    return found


def _move(build: Build, name: str, lines: list[str]) -> Move:
    low, high, step, unit = RANGES[name]
    kind = kind_of(name) or "number"
    own = units.si(attrgetter(name)(build), kind)
    target = name.replace("spring.", "springs[0].") if len(build.springs) > 1 else name
    found = [(own, build)]
    for number in np.arange(low, high + 0.5 * step, step).tolist():
        text = f"{number:.6g} {unit}".strip()
        value = units.si(text if unit else float(text), kind)
        if abs(value - own) > 1e-9 * abs(own):
            try:
                found.append((value, build.replace({target: text if unit else float(text)})))
            except BuildError:
                continue
    found.sort(key=lambda entry: entry[0])
    values = [value for value, _ in found]
    columns: dict[str, list[float] | None] = {name: None}
    for key in build.si:
        column = [moved.si[key] for _, moved in found]
        if len(set(column)) > 1 and not key.endswith((".catch_compression", ".travel_to_solid")):
            columns[key] = None if column == values else column
    asked = [unknowns(moved, known=KNOWN) for _, moved in found]
    part, _, key = name.partition(".")
    head = next(place for place, line in enumerate(lines) if line in (f"[{part}]", f"[[{part}s]]"))
    place = next(place for place in range(head, len(lines)) if lines[place].startswith(f"{key} = "))
    before, behind = (f'{key} = "', f' {unit}"') if unit else (f"{key} = ", "")
    per = 1.0 / units.si(f"1 {unit}", kind) if unit else 1.0
    return Move(
        name, LABELS[name], kind, values, values.index(own), columns, asked, place, before, per, behind
    )
