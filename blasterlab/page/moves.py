"""What a reader may move on a page: every position of every slider, worked out here, by the kit itself.

What it is for: parts, units and limits are looked at when the page is made, so that the page itself knows no
more than the shot: a position is the text of a value and the shot's parameters that go with it.  What it
leaves out: how they look (``page.html``), and what they are called (``report.page``).
"""

from __future__ import annotations

from bisect import bisect_left
from operator import attrgetter
from typing import Any, NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.report.page import LABELS
from blasterlab.shot.from_build import parameters
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


class Move(NamedTuple):
    """One slider: what it moves, its positions in rising order, and what each sets."""

    name: str
    label: str
    kind: str
    values: list[float]  # SI
    own: int  # the position of the build as it is
    columns: dict[str, list[float]]  # parameters of the shot that it changes, SI
    line: int  # of the build text
    before: str  # what stands in that line before the number and behind it, where it is moved
    texts: list[str]
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
    for name in names:
        start = build
        if name == wire:  # the least stroke leaves room for most springs; see `longest_strokes`
            stroke = next(move for move in found if move.name == STROKE)
            start = build.replace({STROKE: units.quantity(stroke.values[0], "m")})
        found.append(_move(start, name, lines))
    return found


def named(build: Build, name: str) -> str:
    """A slider's name as `Build.replace` takes it: the first of several springs."""
    return name.replace("spring.", "springs[0].") if len(build.springs) > 1 else name


def _move(build: Build, name: str, lines: list[str]) -> Move:
    low, high, step, unit = RANGES[name]
    kind = kind_of(name) or "number"
    own = units.si(attrgetter(name)(build), kind)
    found: list[tuple[float, str, Any]] = [(own, "", parameters(build.si))]
    for number in np.arange(low, high + 0.5 * step, step).tolist():
        text = f"{number:.6g} {unit}".strip()
        value = units.si(text if unit else float(text), kind)
        if abs(value - own) > 1e-9 * abs(own):
            try:
                moved = build.replace({named(build, name): text if unit else float(text)})
            except BuildError:
                continue
            found.append((value, f"{number:.6g}", parameters(moved.si)))
    found.sort(key=lambda entry: entry[0])
    shots = [shot for _, _, shot in found]
    columns = {
        key: [getattr(shot, key) for shot in shots]
        for key in shots[0]._fields
        if len({getattr(shot, key) for shot in shots}) > 1
    }
    part, _, key = name.partition(".")
    line = _line_of(lines, (f"[{part}]", f"[[{part}s]]"), f"{key} = ")
    before, behind = (f'{key} = "', f' {unit}"') if unit else (f"{key} = ", "")
    values, texts = [value for value, _, _ in found], [text for _, text, _ in found]
    return Move(name, LABELS[name], kind, values, texts.index(""), columns, line, before, texts, behind)


def _line_of(lines: list[str], heads: tuple[str, str], start: str) -> int:
    """The place of the first line that begins like this below one of these heads."""
    head = next(place for place, line in enumerate(lines) if line in heads)
    return next(place for place in range(head, len(lines)) if lines[place].startswith(start))


def longest_strokes(build: Build, found: list[Move]) -> list[int]:
    """The last position of the stroke that each position of the spring allows, by the build's own rules.

    Parameters
    ----------
    build : Build [-]
        The build.
    found : list of Move [-]
        From `moves`.

    Returns
    -------
    list of int
        A place in the stroke's positions for each of the spring's [-].
    """
    stroke, spring = (next(m for m in found if m.name.startswith(name)) for name in (STROKE, "spring."))

    def refused(wire: float, length: float) -> bool:
        changes = {
            named(build, spring.name): units.quantity(wire, units.KINDS[spring.kind].si),
            STROKE: units.quantity(length, "m"),
        }
        try:
            build.replace(changes)
        except BuildError:
            return True
        return False

    return [
        bisect_left(stroke.values, True, key=lambda length: refused(wire, length)) - 1
        for wire in spring.values
    ]
