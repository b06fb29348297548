"""Where a string comes from and goes to: a file, pasted text, a list; its unit; exact CSV text.

What it is for: the edges of `ChronoString`.  What it leaves out: the parsing of lines (`reading`).

References
----------
IETF RFC 4180, *Common Format and MIME Type for CSV Files*, 2005 (quoting).
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from blasterlab import units
from blasterlab.bench.reading import (
    KEYS,
    MAX_SHOTS,
    SPEED_UNITS,
    Reading,
    StringError,
    decode,
    read_file,
    read_text,
)

if TYPE_CHECKING:
    from blasterlab.bench.strings import ChronoString

#: Speeds taken as such, m/s: common practice, no source; the upper end is short of the speed of sound.
SLOWEST, FASTEST = 1.0, 300.0
#: Between these (m/s) a number without a unit can only be ft/s: choices of the kit, far above any foam dart
#: as metres per second, and short of the speed of sound as feet per second.
_SURELY_FEET = (200.0, 980.0)
_FILES = (".csv", ".txt", ".tsv", ".dat")


def si_factor(unit: str) -> float:
    """A unit in m/s."""
    return float(units.si(units.quantity(1.0, unit), "speed"))


def read_source(source: Any, decimal: str | None, column: str | int | None) -> Reading:
    """Read a path, text, bytes or list; see `ChronoString.read`."""
    noticed: list[str] = []
    if isinstance(source, Path):
        source, noticed = read_file(source)
    elif isinstance(source, bytes):
        source, noticed = decode(source)
    elif isinstance(source, str) and "\n" not in source and len(source) < 300 and "\0" not in source:
        try:
            there = Path(source).is_file()
        except OSError:
            there = False
        if there or source.lower().endswith(_FILES):
            source, noticed = read_file(Path(source))
    if isinstance(source, list | tuple) and source and all(isinstance(item, str) for item in source):
        source = "\n".join(source)
    if not isinstance(source, str):
        return _read_list(source)
    reading = read_text(source, decimal, column)
    reading.notes[:0] = noticed
    return reading


def _read_list(source: Any) -> Reading:
    if isinstance(source, dict) or not (hasattr(source, "__len__") and hasattr(source, "__iter__")):
        raise StringError(f"source: read {type(source).__name__}; a path, text, bytes or a list is wanted")
    if hasattr(source, "units"):
        units.si(units.quantity(1.0, str(source.units)), "speed", "source")
        source = [units.quantity(float(v), str(source.units)) for v in np.ravel(source.magnitude)]
    reading = Reading()
    seen: dict[str, int] = {}
    if len(source) > MAX_SHOTS:
        raise StringError(f"source: read {len(source)} items; at most {MAX_SHOTS} shots are taken")
    for place, item in enumerate(source, start=1):
        name = f"item {place}"
        if isinstance(item, str) or hasattr(item, "units"):
            taken = units.parse(item, "speed", name)
            unit = SPEED_UNITS.get(units.unit_text(taken.units), "")
            value = float(taken.magnitude if unit else taken.m_as("m/s"))
            unit = unit or "m/s"
        else:
            unit, value = "", _number(item, name)
        seen.setdefault(unit, place)
        reading.values.append(value)
        reading.numbers.append(place)
    if len(seen) > 1:
        places = " and ".join(f"{u or 'no unit'} (item {at})" for u, at in seen.items())
        raise StringError(f"source: mixed units, {places}; one string has one unit")
    reading.unit = next(iter(seen), "") or None
    return reading


def _number(item: Any, name: str) -> float:
    if isinstance(item, bool) or not isinstance(item, (int, float, np.integer, np.floating)):
        raise StringError(f"{name}: read {str(item)[:40]!r}; a number is wanted")
    if not math.isfinite(item):
        raise StringError(f"{name}: read {item}; a finite number is wanted")
    return float(item)


def choose_unit(reading: Reading, given: str | None) -> str:
    """The unit of the readings: written, given, or the only plausible one; StringError where it is open."""
    wanted = None
    if given is not None:
        wanted = SPEED_UNITS.get(str(given).strip().lower())
        if wanted is None:
            raise StringError(f"unit: read {str(given)[:40]!r}; would do: m/s, ft/s, km/h, mph")
    written = reading.unit
    if "unit" in reading.fields:
        field_unit = SPEED_UNITS.get(reading.fields["unit"].lower())
        if field_unit is None or (written and written != field_unit):
            raise StringError(
                f"unit: the text says {reading.fields['unit']!r} and {written or 'nothing else'}"
            )
        written = field_unit
    if wanted and written and wanted != written:
        raise StringError(f"unit: {wanted} was asked for, but the text says {written}")
    if wanted or written or not reading.values:
        return wanted or written or "m/s"
    middle = sorted(reading.values)[len(reading.values) // 2]
    if _SURELY_FEET[0] < middle < _SURELY_FEET[1]:
        reading.notes.append(
            f"no unit given: taken as ft/s, since {middle:g} m/s is too fast for a foam dart"
        )
        return "ft/s"
    if not SLOWEST <= middle < _SURELY_FEET[1]:
        return "m/s"  # no speed in any unit: the check of the range says so
    raise StringError(
        f"unit: the source does not say, and {middle:g} could be ft/s or m/s",
        "unit",
        "say unit='ft/s' or unit='m/s'",
    )


def check(string: ChronoString) -> None:
    """StringError for a string that says nothing or cannot be speeds, whatever units; see `ChronoString`."""
    count = len(string.readings)
    more = "; not read: " + "; ".join(str(line) for line in string.unread[:5]) if string.unread else ""
    if string.unit not in SPEED_UNITS.values():
        raise StringError(f"unit: read {str(string.unit)[:40]!r}; would do: m/s, ft/s, km/h, mph")
    if not 3 <= count <= MAX_SHOTS:
        raise StringError(f"shots: read {count}; a string has 3 to {MAX_SHOTS}{more}")
    if len(string.numbers) != count or len(set(string.numbers)) != count:
        raise StringError(f"numbers: {len(set(string.numbers))} different shot numbers for {count} shots")
    factor = si_factor(string.unit)
    wrong = [
        f"shot {n} {v:g}"
        for n, v in zip(string.numbers, string.readings, strict=True)
        if not SLOWEST <= v * factor <= FASTEST
    ]
    if wrong:
        raise StringError(
            f"speeds: {', '.join(wrong[:5])}{' …' if len(wrong) > 5 else ''} {string.unit}; allowed is "
            f"{SLOWEST / factor:.3g} to {FASTEST / factor:.4g} {string.unit} "
            "(a missed shot or another unit? A # before a line leaves it out)"
        )
    if min(string.readings) == max(string.readings):
        raise StringError(
            f"shots: all {count} read {string.readings[0]:g} {string.unit}; a spread of zero says nothing "
            "(the chronograph repeats its last reading, or shows too few digits)"
        )
    if string.muzzle_factor > 3.0:
        raise StringError(
            f"distance: over {units.show(string.distance, 'distance')} this dart loses "
            f"{100 * (1.0 - 1.0 / string.muzzle_factor):.0f} % of its speed; too much to carry back "
            "(mass in grams, diameter in millimetres?)"
        )


def csv_text(string: ChronoString) -> str:
    """A string as CSV text; see `ChronoString.to_csv`."""
    lines = []
    for key in KEYS:
        value = getattr(string, key.replace(" ", "_"), None) if key != "unit" else None
        if value is None or value == "":
            continue
        if not isinstance(value, str):
            kept = units.quantity(value, "dimensionless") if isinstance(value, float) else value
            value = f"{kept.magnitude!r} {units.unit_text(kept.units)}".strip()
        lines.append(_comment_cell(f"{key}: {value}"))
    lines += [_comment_cell(f"comment: {text}") for text in string.comments if text]
    lines.append(f"shot,speed [{string.unit}]")
    lines += [f"{n},{v!r}" for n, v in zip(string.numbers, string.readings, strict=True)]
    return "\n".join(lines) + "\n"


def _comment_cell(text: str) -> str:
    return '"# ' + text.replace('"', '""') + '"'
