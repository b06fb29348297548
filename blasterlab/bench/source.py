"""Where a string comes from and goes to: a list, the unit of its readings, exact CSV text.

What it is for: the edges of `ChronoString`.  What it leaves out: the parsing of lines (`reading`).

References
----------
IETF RFC 4180, *Common Format and MIME Type for CSV Files*, 2005 (quoting).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.bench.cells import MAX_SHOTS, SPEED_UNITS, StringError, speed_unit
from blasterlab.bench.reading import Reading

#: Speeds taken as such, m/s: common practice, no source; the upper end is short of the speed of sound.
SLOWEST, FASTEST = 1.0, 300.0
#: Between these (m/s) a number without a unit can only be ft/s: choices of the kit, far above any foam dart
#: as metres per second, and short of the speed of sound as feet per second.
_SURELY_FEET = (200.0, 980.0)


def read_list(source: Any) -> Reading:
    """Readings from numbers, Quantities or an array of either, in their order [unit of the source].

    Raises
    ------
    StringError
        No list, more than 5 000 items, mixed units, or an item that is no finite number.
    UnitError
        A Quantity or a text that is no speed.
    """
    if isinstance(source, Mapping) or not (hasattr(source, "__len__") and hasattr(source, "__iter__")):
        raise StringError(f"source: got {type(source).__name__}; must be a path, text, bytes or a list")
    if isinstance(source, units.Quantity):
        source = [units.quantity(float(v), str(source.units)) for v in np.ravel(source.magnitude)]
    if len(source) > MAX_SHOTS:
        raise StringError(f"source: got {len(source)} items; a string has at most {MAX_SHOTS} shots")
    reading = Reading()
    seen: dict[str, int] = {}
    for place, item in enumerate(source, start=1):
        value, unit = _item(item, f"item {place}")
        seen.setdefault(unit, place)
        reading.values.append(value)
        reading.numbers.append(place)
    if len(seen) > 1:
        places = " and ".join(f"{u or 'no unit'} (item {at})" for u, at in seen.items())
        raise StringError(f"source: mixed units, {places}; one string has one unit")
    reading.unit = next(iter(seen), "") or None
    return reading


def _item(item: object, name: str) -> tuple[float, str]:
    """A speed and the kit's word for its unit; the word is empty for a bare number."""
    if isinstance(item, str | units.Quantity):
        taken = units.parse(item, "speed", name)
        unit = SPEED_UNITS.get(units.unit_text(taken.units), "")
        return (float(taken.magnitude), unit) if unit else (float(taken.m_as("m/s")), "m/s")
    if isinstance(item, bool) or not isinstance(item, (int, float, np.integer, np.floating)):
        raise StringError(f"{name}: got {str(item)[:40]!r}; must be a number")
    if not math.isfinite(item):
        raise StringError(f"{name}: got {item}; must be a finite number")
    return float(item), ""


def choose_unit(reading: Reading, given: str | None) -> str:
    """The unit of the readings: written, given, or the only plausible one; StringError where it is open."""
    wanted = None if given is None else speed_unit(given)
    written = reading.unit
    if "unit" in reading.fields:
        told = SPEED_UNITS.get(reading.fields["unit"].lower())
        if told is None or (written and written != told):
            said = f"{reading.fields['unit']!r} and {written or 'nothing else'}"
            raise StringError(f"unit: the text says {said}; must be one of m/s, ft/s, km/h, mph")
        written = told
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
    fault = f"unit: no unit was given, and {middle:g} could be ft/s or m/s"
    raise StringError(fault, "unit", "say unit='ft/s' or unit='m/s'")


def csv_text(
    fields: Mapping[str, object], comments: Iterable[str], unit: str, shots: Iterable[tuple[int, float]]
) -> str:
    """CSV text of a string: named fields, comments, and number and reading of each shot [unit]."""
    lines = []
    for key, value in fields.items():
        if value is None or value == "":
            continue
        if isinstance(value, units.Quantity):
            value = f"{value.magnitude!r} {units.unit_text(value.units)}"
        lines.append(f"{key}: {value}")
    lines += [f"comment: {text}" for text in comments if text]
    quoted = ['"# ' + line.replace('"', '""') + '"' for line in lines]
    return "\n".join([*quoted, f"shot,speed [{unit}]", *(f"{n},{v!r}" for n, v in shots)]) + "\n"
