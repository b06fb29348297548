"""Reading of chronograph text: what a builder pastes, exports or types, line by line.

What it is for: text in, numbers out.  Every line that is not blank is a shot, a comment, the header, or
stands in the list of unread lines with its reason.  What it leaves out: units conversion, statistics and any
guess that could be wrong: where two readings of the text are plausible it asks.

References
----------
IETF RFC 4180, *Common Format and MIME Type for CSV Files*, 2005 (quoting).
"""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass, field
from itertools import pairwise

from blasterlab.bench import cells as c
from blasterlab.bench.cells import KEYS, MAX_FIELD, MAX_SHOTS, StringError, UnreadLine
from blasterlab.bench.file_bytes import refuse_no_text

_NUMBERED = re.compile(r"^(?:shot\s*)?#?([0-9]{1,7})\s*[:).]\s+(?=\S)", re.IGNORECASE)
_QUOTED_COMMENT = re.compile(r'"(#(?:[^"]|"")*)"[\s,;]*')
_SEPARATORS = ",;\t "


@dataclass(frozen=True)
class Row:
    """A line that is neither blank nor a comment: its number, what stands there, and its cells."""

    number: int
    text: str
    cells: list[str]


@dataclass
class Reading:
    """What a text gave, before any meaning is put on it; `lines` and `header` are line numbers."""

    values: list[float] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    header: list[int] = field(default_factory=list)
    unit: str | None = None
    fields: dict[str, str] = field(default_factory=dict)
    comments: list[str] = field(default_factory=list)
    unread: list[UnreadLine] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def skip(self, row: Row, reason: str) -> None:
        """Put a line on the list of unread ones."""
        text = row.text if len(row.text) <= 80 else row.text[:79] + "…"
        self.unread.append(UnreadLine(row.number, text, reason))

    def remark(self, text: str) -> None:
        """Keep a comment, a long one in several pieces."""
        self.comments += textwrap.wrap(c.one_line(text), MAX_FIELD)


def read_text(text: str, decimal: str | None = None, column: str | int | None = None) -> Reading:
    """Read pasted text; nothing is dropped without being listed.

    Parameters
    ----------
    text : str [-]
        One speed a line or several separated by comma, semicolon, tab or space; a header, shot numbers,
        units and ``# key: value`` lines are understood.
    decimal : str or None [-]
        ``"."`` or ``","``; None takes a comma as the decimal mark only where it can be nothing else.
    column : str, int or None [-]
        Which column holds the speeds, by its header or counted from 1; None finds it.

    Returns
    -------
    Reading
        Values in the unit of the text, and all that was noticed [unit of the text].

    Raises
    ------
    StringError
        Too large, binary, mixed units, more than one possible column, decimal commas that could be
        separators, or one shot number with two speeds.
    """
    refuse_no_text(text)
    if decimal not in (None, ".", ","):
        raise StringError(f"decimal: got {decimal!r}; must be '.' or ','")
    reading = Reading()
    lines = _content(text.lstrip("\ufeff"), reading)
    if len(lines) > MAX_SHOTS + 10:
        raise StringError(f"the text: {len(lines)} lines; at most {MAX_SHOTS} shots are taken")
    delimiter = _delimiter([body for _, _, body in lines], decimal)
    rows = [Row(number, raw, _split(body, delimiter)) for number, raw, body in lines]
    header, rows = _take_header(rows, reading)
    rows = [row for row in (_shots_of(row, not header and column is None, reading) for row in rows) if row]
    width = max((len(row.cells) for row in rows), default=0)
    if not rows:
        return reading
    if delimiter == " " and len(header) > width:  # words of one heading
        header = [*header[: width - 1], " ".join(header[width - 1 :])]
    mark = _decimal_mark(rows, decimal)
    shot, speed = _find_columns(rows, header, column, mark, delimiter == "," and decimal is None)
    header += [""] * ((speed or 0) + 1 - len(header) if header else 0)  # a column beyond the header
    _take_values(rows, header, (shot, speed), mark, reading)
    return reading


def _content(text: str, reading: Reading) -> list[tuple[int, str, str]]:
    """Lines that are neither blank nor comment: number, as they stand, and without a remark."""
    rows = []
    for number, raw in enumerate(text.splitlines(), start=1):
        line = raw.replace("\u00a0", " ").replace("\u202f", " ").strip(" ")
        if not line.strip():
            continue
        if quoted := _QUOTED_COMMENT.fullmatch(line.strip()):
            line = quoted[1].replace('""', '"')
        line = _NUMBERED.sub(r"\1 ", line)
        if re.match(r"\s*(#(?!\s*[,;\t])|//)", line):
            _comment(line.strip().lstrip("#/").strip(), number, reading)
            continue
        body, mark, remark = line.partition(" #")
        if mark:
            reading.remark(f"line {number}: {remark}")
        rows.append((number, line.strip(), body))
    return rows


def _comment(text: str, number: int, reading: Reading) -> None:
    key, colon, value = text.partition(":")
    key = " ".join(key.lower().split())
    if colon and key in KEYS and key not in reading.fields:
        reading.fields[key] = c.plain(value, f"{key} (line {number})")
        return
    said = value.strip() if colon and key == "comment" else text
    reading.remark(said)
    if said[:1].isdigit():
        reading.notes.append(f"line {number} starts with # and was left out: {c.one_line(said)[:60]!r}")


def _delimiter(rows: list[str], decimal: str | None) -> str:
    """The separator that most lines hold, if it separates anything; a tab or a semicolon before a comma."""
    counts = {mark: sum(mark in row for row in rows) for mark in ("\t;" if decimal == "," else "\t;,")}
    mark = max(counts, key=lambda found: counts[found])  # the first of equals
    parts = any(mark in row.rstrip(_SEPARATORS) for row in rows)
    return mark if parts and 2 * counts[mark] >= len(rows) else " "


def _split(row: str, delimiter: str) -> list[str]:
    row = row.rstrip(_SEPARATORS)
    if delimiter == " ":
        return c.join_units(row).split()
    cells = [cell.strip() for cell in c.csv_cells(row, delimiter)]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _take_header(rows: list[Row], reading: Reading) -> tuple[list[str], list[Row]]:
    """Split off leading lines without a number; the first is the header, a second may hold units."""
    header: list[str] = []
    while rows and not any(c.is_number(cell) for cell in rows[0].cells):
        row, *rows = rows
        words = [cell for cell in row.cells if not re.match(r"[+-]?[.,]?[0-9]", cell)]
        names = rows and any(c.names_speed(word) or c.names_shots(word) for word in words)
        if names and not header:
            header = row.cells
        elif names and any(cell.strip("()[]").lower() in c.SPEED_UNITS for cell in row.cells):
            pairs = zip(header, row.cells + [""] * len(header), strict=False)
            header = [f"{name} {below}".strip() for name, below in pairs]
        else:
            reading.skip(row, "no number in it")
            continue
        reading.header.append(row.number)
    return header, rows


def _shots_of(row: Row, alone: bool, reading: Reading) -> Row | None:
    """The row as far as it can hold shots; None, and on the list, when it sums them up or says nothing.

    `alone`: no header and no column says where the speeds stand, so a word before a number decides.
    """
    first = next((at for at, cell in enumerate(row.cells) if c.is_number(cell)), None)
    said = [word for word in row.cells if c.is_summary(word)]
    before = row.cells[:first] if alone and first else []
    if not row.cells:
        reading.skip(row, "no number in it")
    elif said and first is not None:
        reading.skip(row, f"{said[0]!r} is a summary of shots, not a shot")
    elif not all(c.introduces(word) for word in before):
        why = "stands before the number, so this may not be a shot; if it is, add a header line"
        reading.skip(row, f"{before[0][:40]!r} {why}")
    else:
        return Row(row.number, row.text, row.cells[len(before) :])
    return None


def _decimal_mark(rows: list[Row], decimal: str | None) -> str:
    if decimal:
        return decimal
    cells = [cell for row in rows for cell in row.cells]
    comma = [cell for cell in cells if "," in cell and c.number_of(cell, ",")]
    if not comma:
        return "."
    if any("." in cell and c.number_of(cell) for cell in cells):
        fault = f"the text: both {comma[0]!r} with a comma and numbers with a point"
        raise StringError(fault, "decimal", "say decimal='.' or ','")
    return ","


def _find_columns(
    rows: list[Row], header: list[str], column: str | int | None, mark: str, doubtful: bool
) -> tuple[int | None, int | None]:
    """Positions of shot numbers and of speeds; speeds None means that every cell is one."""
    width = max([len(header), *(len(row.cells) for row in rows)])
    names = ", ".join(repr(cell[:40]) for cell in header) or f"{width} columns without a header"
    shot = next((i for i, cell in enumerate(header) if c.names_shots(cell)), None)
    if not header and width > 1 and len(rows) > 1:
        counted = [n for n in (c.shot_number(row.cells[0]) for row in rows) if n is not None]
        rising = all(a <= b for a, b in pairwise(counted))
        if 2 * len(counted) > len(rows) and counted[0] in (0, 1) and rising and counted[-1] > 1:
            shot = 0
    if column is not None:
        return shot, _named_column(column, header, width, names)
    if header:
        named = [i for i, cell in enumerate(header) if c.names_speed(cell) and i != shot]
        if len(named) != 1:
            why = "no column that says speed" if not named else "more than one column of speeds"
            raise StringError(f"the header: {why} in {names}", "column", "say which with column=")
        return shot, named[0]
    others = [i for i in range(width) if i != shot]
    if len(others) == 1:
        return shot, others[0]
    if doubtful and width == 2 and len(rows) > 1 and shot is None:
        fault = f"the text: {rows[0].text[:80]!r} could be two speeds or one with a decimal comma"
        raise StringError(fault, "decimal", "say decimal='.' or decimal=','")
    values = [cell[0] for row in rows for cell in (c.number_of(text, mark) for text in row.cells) if cell]
    if shot is None and values and max(values) <= 3.0 * max(min(values), 0.0):
        return None, None
    fault = f"the text: it does not say which of its columns holds the speeds ({names})"
    raise StringError(fault, "column", "say which with column=")


def _named_column(column: str | int, header: list[str], width: int, names: str) -> int:
    if isinstance(column, int) and 1 <= column <= width:
        return column - 1
    matches = [
        i for i, cell in enumerate(header) if isinstance(column, str) and cell.lower() == column.lower()
    ]
    if len(matches) != 1:
        raise StringError(f"column: got {column!r}; there are {names}, counted from 1")
    return matches[0]


def _take_values(
    rows: list[Row], header: list[str], columns: tuple[int | None, int | None], mark: str, reading: Reading
) -> None:
    shot, speed = columns
    width = len(header) or max(len(row.cells) for row in rows)
    units: dict[str, int] = {}
    if header and speed is not None and (unit := c.header_unit(header[speed])):
        units[unit] = 0
    if header and (spare := [name for i, name in enumerate(header) if name and i not in columns]):
        spared = ", ".join(repr(c.plain(name[:80], "header")) for name in spare)
        reading.notes.append(f"columns not used: {spared}")
    seen: dict[int, tuple[float, int]] = {}
    for row in rows:
        taken, count, bad = _row_values(row, shot, speed, width, mark)
        if bad:
            reading.skip(row, "; ".join(bad)[:200] + ("; its numbers were taken" if taken else ""))
        if not taken:
            continue
        if count is not None and count in seen:
            _repeated(row, count, taken[0][0], seen[count], reading)
            continue
        if count is not None:
            seen[count] = (taken[0][0], row.number)
        if len(taken) > 1 and not any("several" in note for note in reading.notes):
            reading.notes.append("several speeds a line: read line by line from left to right")
        for value, unit in taken:
            if unit:
                units.setdefault(unit, row.number)
            reading.values.append(value)
            reading.numbers.append(len(reading.values) if count is None else count)
            reading.lines.append(row.number)
    if len(units) > 1:
        places = " and ".join(f"{u} ({f'line {at}' if at else 'header'})" for u, at in units.items())
        raise StringError(f"the text: mixed units, {places}; one string has one unit")
    reading.unit = next(iter(units), None)


def _row_values(
    row: Row, shot: int | None, speed: int | None, width: int, mark: str
) -> tuple[list[tuple[float, str | None]], int | None, list[str]]:
    """Speeds and shot number of a row, and what is wrong with it."""
    cells = row.cells
    if len(cells) > width:
        return [], None, [f"{len(cells)} values where {width} columns are expected"]
    if speed is None:
        bad = [_why(cell, mark) for cell in cells if not c.number_of(cell, mark)]
        return [found for cell in cells if (found := c.number_of(cell, mark))], None, bad
    count = None if shot is None or shot >= len(cells) else c.shot_number(cells[shot])
    found, bad = None, [f"{len(cells)} value(s) where {width} columns are expected"]
    if speed < len(cells):
        found = c.number_of(cells[speed], mark)
        bad = [] if found else [_why(cells[speed], mark)]
    if shot is not None and count is None:
        bad.append("the shot number is not a whole number")
    return ([found] if found and not bad else []), count, bad


def _repeated(row: Row, shot: int, value: float, before: tuple[float, int], reading: Reading) -> None:
    if before[0] != value:
        raise StringError(
            f"line {row.number}: shot {shot} has {value:g}, but line {before[1]} gives it {before[0]:g}; "
            "correct one, or read two strings apart"
        )
    reading.skip(row, f"the same shot and speed as line {before[1]}, counted once")


def _why(text: str, mark: str) -> str:
    """Why a cell is no speed."""
    if not text:
        return "the speed is empty"
    if c.number_of(text, "," if mark == "." else "."):
        return f"{text!r} has the other decimal mark"
    return f"{text[:40]!r} is not a number"
