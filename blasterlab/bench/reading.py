"""Reading of chronograph text: what a builder pastes, exports or types, line by line.

What it is for: bytes or text in, numbers out, with a list of every line that could not be read and why.
What it leaves out: units conversion, statistics and any guess that could be wrong: where two readings of
the text are plausible it asks.

References
----------
IETF RFC 4180, *Common Format and MIME Type for CSV Files*, 2005 (quoting).
"""

from __future__ import annotations

import csv
import math
import re
import unicodedata
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

#: Most characters of a text, and most shots of a string: choices of the kit, far above any bench day.
MAX_TEXT, MAX_SHOTS, MAX_FIELD = 1_000_000, 5_000, 500
#: Unit words, as chronographs and builders write them, to the kit's unit text.
SPEED_UNITS = {
    "m/s": "m/s", "mps": "m/s", "ms-1": "m/s", "m.s-1": "m/s", "m s-1": "m/s", "m/sec": "m/s",
    "ft/s": "ft/s", "fps": "ft/s", "f/s": "ft/s", "ft/sec": "ft/s", "feet/s": "ft/s",
    "feet per second": "ft/s", "metres per second": "m/s", "meters per second": "m/s",
    "km/h": "km/h", "kph": "km/h", "kmh": "km/h", "mph": "mph", "mi/h": "mph",
}  # fmt: skip
#: What a comment line ``# key: value`` may say about the string.
KEYS = ("title", "note", "dart", "build", "date", "temperature", "distance", "unit", "dart mass",
        "dart diameter", "drag coefficient", "air density")  # fmt: skip

_BINARY = {
    b"PK\x03\x04": "a spreadsheet or another zip file",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"\x1f\x8b": "a compressed file",
}
_HOW = "in the spreadsheet, save as CSV (text) or copy the column of speeds and paste that"
_UNIT = "|".join(re.escape(word) for word in sorted(SPEED_UNITS, key=len, reverse=True))
_CELL = re.compile(
    rf"([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:e[+-]?[0-9]+)?)\s*({_UNIT})?", re.IGNORECASE
)
_LOOSE_UNIT = re.compile(rf"([0-9.,])\s+({_UNIT})(?=\s|$)", re.IGNORECASE)
_IN_HEADER = re.compile(rf"(?:^|[\s(\[,_])({_UNIT})(?:$|[\s)\]_])", re.IGNORECASE)
_NUMBERED = re.compile(r"^(?:shot\s*)?#?([0-9]{1,7})\s*[:).]\s+(?=\S)", re.IGNORECASE)
_SHOT = re.compile(r"(#|n|no\.?|nr\.?|num|number|shot|index|id)( ?(no\.?|nr\.?|number|#))?", re.IGNORECASE)
_SPEED = re.compile(r"speed|velocity|\bvel\b|\bv0?\b|muzzle", re.IGNORECASE)


class StringError(ValueError):
    """A chronograph string that cannot be taken: says which line, what was read, and what would do.

    Where an argument of `ChronoString.read` would settle it, `argument` has its name and `fault` the message
    without that advice, so that a panel can name its control instead.
    """

    def __init__(self, fault: str, argument: str = "", advice: str = "") -> None:
        super().__init__(f"{fault}; {advice}" if advice else fault)
        self.fault, self.argument = fault, argument


@dataclass(frozen=True)
class UnreadLine:
    """A line that gave no shot.

    Attributes
    ----------
    number : int [-]
        Line number, from 1.
    text : str [-]
        What stands there, at most 80 characters.
    reason : str [-]
        Why it was not read.
    """

    number: int
    text: str
    reason: str

    def __str__(self) -> str:
        return f"line {self.number}: {self.text!r}: {self.reason}"


@dataclass
class Reading:
    """What a text gave, before any meaning is put on it."""

    values: list[float] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    unit: str | None = None
    fields: dict[str, str] = field(default_factory=dict)
    comments: list[str] = field(default_factory=list)
    unread: list[UnreadLine] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def skip(self, number: int, text: str, reason: str) -> None:
        """Put a line on the list of unread ones."""
        self.unread.append(UnreadLine(number, text if len(text) <= 80 else text[:79] + "…", reason))


def plain(text: object, name: str) -> str:
    """One line of text without control characters; longer than 500 characters is refused.

    Parameters
    ----------
    text : str [-]
        A title, note or name.
    name : str [-]
        The field, for the message.

    Returns
    -------
    str
        The text; line ends and other control characters become single spaces [-].

    Raises
    ------
    StringError
        Something that is no text, or too long a one.

    Examples
    --------
    >>> plain(" two\\nlines ", "title")
    'two lines'
    """
    if not isinstance(text, str):
        raise StringError(f"{name}: read {type(text).__name__}; a text is wanted")
    if len(text) > MAX_FIELD:
        raise StringError(f"{name}: read {len(text)} characters; at most {MAX_FIELD} are taken")
    shown = "".join(" " if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") else c for c in text)
    return " ".join(shown.split())


def decode(data: bytes) -> tuple[str, list[str]]:
    """Text from bytes: by byte-order mark, else UTF-8, else Windows-1252 with a note.

    Parameters
    ----------
    data : bytes [-]
        A file's content.

    Returns
    -------
    tuple of str and list of str
        The text and what was noticed [-].

    Raises
    ------
    StringError
        Binary content: a spreadsheet, a picture, a PDF, or bytes no text has.
    """
    for mark, what in _BINARY.items():
        if data.startswith(mark):
            raise StringError(f"the text: this is {what}, not text; {_HOW}")
    for mark, coding in ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if data.startswith(mark):
            try:
                return data[len(mark) :].decode(coding), []
            except UnicodeDecodeError as error:
                raise StringError(f"the text: it starts as {coding} but breaks off; {_HOW}") from error
    if b"\x00" in data:
        raise StringError(f"the text: it holds zero bytes, so it is no text; {_HOW}")
    try:
        return data.decode("utf-8"), []
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
        return text, [
            "the text is not UTF-8; it was read as Windows-1252 (names may look odd, numbers do not)"
        ]


def read_file(path: Path) -> tuple[str, list[str]]:
    """The text of a file, refused when it is no plain file or too large.

    Parameters
    ----------
    path : Path [-]
        A file.

    Returns
    -------
    tuple of str and list of str
        As `decode` [-].

    Raises
    ------
    StringError
        No such file, a folder or a device, more than 1 MB, or binary content.
    """
    if not path.is_file():
        raise StringError(f"the file: {str(path)[:200]!r} is no file that can be read here")
    with path.open("rb") as stream:
        data = stream.read(MAX_TEXT + 1)
    if len(data) > MAX_TEXT:
        raise StringError(f"the file: more than {MAX_TEXT // 1_000_000} MB; a string of shots is far smaller")
    return decode(data)


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
    if len(text) > MAX_TEXT:
        raise StringError(f"the text: {len(text)} characters; at most {MAX_TEXT} are taken")
    head = text[:8].encode("latin-1", errors="replace")
    what = next((w for mark, w in _BINARY.items() if head.startswith(mark)), "")
    if what or "\x00" in text or text.count("�") > 20:
        raise StringError(f"the text: this is {what or 'binary data'}, not text; {_HOW}")
    if decimal not in (None, ".", ","):
        raise StringError(f"decimal: read {decimal!r}; would do: '.' or ','")
    reading = Reading()
    rows = _content(text.lstrip("\ufeff"), reading)
    delimiter = _delimiter([row for _, row in rows], decimal)
    if len(rows) > MAX_SHOTS + 10:
        raise StringError(f"the text: {len(rows)} lines; at most {MAX_SHOTS} shots are taken")
    table = [(number, row, _split(row, delimiter)) for number, row in rows]
    header, table = _take_header(table, reading)
    width = max((len(cells) for _, _, cells in table), default=0)
    if delimiter == " " and len(header) > width > 0:  # words of one heading
        header = [*header[: width - 1], " ".join(header[width - 1 :])]
    mark = _decimal_mark([cells for _, _, cells in table], delimiter, decimal)
    if not table:
        return reading
    columns = _find_columns(table, header, column, mark, delimiter == "," and decimal is None)
    _take_values(table, header, columns, mark, reading)
    return reading


def _content(text: str, reading: Reading) -> list[tuple[int, str]]:
    """Numbered lines that are neither blank nor comment; comments and their fields go to the reading."""
    rows = []
    for number, raw in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), start=1):
        line = raw.replace("\u00a0", " ").replace("\u202f", " ").strip()
        if not line:
            continue
        if line.startswith('"#'):
            line = next(csv.reader([line], strict=False))[0]
        line = _NUMBERED.sub(r"\1 ", line)
        if line.startswith(("#", "//")) and not re.match(r"#\s*[,;\t]", line):
            _comment(line.lstrip("#/").strip(), number, reading)
            continue
        body, mark, remark = line.partition(" #")
        if mark:
            reading.comments.append(plain(f"line {number}: {remark}"[:MAX_FIELD], "comment"))
        rows.append((number, body.strip()))
    return rows


def _comment(text: str, number: int, reading: Reading) -> None:
    key, colon, value = text.partition(":")
    key = " ".join(key.lower().split())
    if colon and key in KEYS and key not in reading.fields:
        reading.fields[key] = plain(value[: MAX_FIELD + 1], f"{key} (line {number})")
    elif text := value.strip() if key == "comment" else text:
        reading.comments.append(plain(text[:MAX_FIELD], "comment"))
        if text[0].isdigit():
            reading.notes.append(
                f"line {number} starts with # and was left out: {reading.comments[-1][:60]!r}"
            )


def _delimiter(rows: list[str], decimal: str | None) -> str:
    """The separator that most lines hold; a semicolon or a tab before a comma, else white space."""
    marks = "\t;" if decimal == "," else "\t;,"
    counts = [(sum(mark in row for row in rows), mark) for mark in marks]
    best = max(count for count, _ in counts)
    return next(mark for count, mark in counts if count == best) if 2 * best >= max(len(rows), 1) else " "


def _split(row: str, delimiter: str) -> list[str]:
    if delimiter == " ":
        return _LOOSE_UNIT.sub(lambda m: m[1] + SPEED_UNITS[m[2].lower()], row).split()
    try:
        cells = next(csv.reader([row], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:
        cells = row.split(delimiter)
    cells = [cell.strip() for cell in cells]
    while cells and not cells[-1]:
        cells.pop()
    return cells


def _cell(text: str, mark: str = ".") -> tuple[float, str | None] | None:
    """Number and unit of a cell, or None."""
    match = _CELL.fullmatch(text) if len(text) <= 40 else None
    if not match or (mark == "." and "," in text) or (mark == "," and "." in match[1]):
        return None
    value = float(match[1].replace(",", "."))
    unit = SPEED_UNITS[match[2].lower()] if match[2] else None
    return (value, unit) if math.isfinite(value) else None


def _whole(text: str) -> int | None:
    """A shot number, or None."""
    return int(text.lstrip("#")) if re.fullmatch(r"#?[0-9]{1,7}", text) else None


def _take_header(
    table: list[tuple[int, str, list[str]]], reading: Reading
) -> tuple[list[str], list[tuple[int, str, list[str]]]]:
    """Split off leading lines without a number; the first is the header, a second may hold units."""
    header: list[str] = []
    while table and not any(_cell(cell) or _cell(cell, ",") for cell in table[0][2]):
        number, row, cells = table[0]
        wanted = len(table) > 1 and any(
            _SPEED.search(c) or _SHOT.fullmatch(c) or _header_unit(c) for c in cells
        )
        if wanted and not header:
            header = cells
        elif wanted and any(cell.strip("()[]").lower() in SPEED_UNITS for cell in cells):
            pairs = zip(header, cells + [""] * len(header), strict=False)
            header = [f"{name} {below}".strip() for name, below in pairs]
        else:
            reading.skip(number, row, "no number in it")
        table = table[1:]
    return header, table


def _header_unit(text: str) -> str | None:
    found = {SPEED_UNITS[unit.lower()] for unit in _IN_HEADER.findall(text)}
    if len(found) > 1:
        raise StringError(f"the header: {text[:80]!r} names two units; which one?")
    return found.pop() if found else None


def _decimal_mark(rows: list[list[str]], delimiter: str, decimal: str | None) -> str:
    if decimal:
        return decimal
    cells = [cell for row in rows for cell in row]
    comma = [cell for cell in cells if "," in cell and _cell(cell, ",")]
    if not comma:
        return "."
    if any("." in cell and _cell(cell, ".") for cell in cells):
        raise StringError(
            f"the text: both {comma[0]!r} with a comma and numbers with a point",
            "decimal",
            "say decimal='.' or ','",
        )
    return ","


def _find_columns(
    table: list[tuple[int, str, list[str]]],
    header: list[str],
    column: str | int | None,
    mark: str,
    doubtful: bool,
) -> tuple[int | None, int | None]:
    """Positions of shot numbers and of speeds; speeds None means that every cell is one."""
    width = max([len(header), *(len(cells) for _, _, cells in table)], default=0)
    names = ", ".join(repr(cell) for cell in header) or f"{width} columns without a header"
    shot = next((i for i, cell in enumerate(header) if _SHOT.fullmatch(cell.strip())), None)
    if not header and width > 1 and len(table) > 1:
        counted = [n for n in (_whole(cells[0]) for _, _, cells in table) if n is not None]
        rising = all(a <= b for a, b in pairwise(counted))
        if 2 * len(counted) > len(table) and counted[0] in (0, 1) and rising and counted[-1] > 1:
            shot = 0
    if column is not None:
        return shot, _named_column(column, header, width, names)
    if header:
        named = [i for i, cell in enumerate(header) if _SPEED.search(cell) or _header_unit(cell)]
        named = [i for i in named if i != shot]
        if len(named) != 1:
            why = "no column that says speed" if not named else "more than one column of speeds"
            raise StringError(f"the header: {why} in {names}", "column", "say which with column=")
        return shot, named[0]
    others = [i for i in range(width) if i != shot]
    if len(others) == 1:
        return shot, others[0]
    if doubtful and width == 2 and len(table) > 1 and shot is None:
        raise StringError(
            f"the text: {table[0][1][:80]!r} could be two speeds or one with a decimal comma",
            "decimal",
            "say decimal='.' or decimal=','",
        )
    values = [c[0] for _, _, cells in table for c in (_cell(cell, mark) for cell in cells) if c]
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
        raise StringError(f"column: read {column!r}; there are {names}, counted from 1")
    return matches[0]


def _take_values(
    table: list[tuple[int, str, list[str]]],
    header: list[str],
    columns: tuple[int | None, int | None],
    mark: str,
    reading: Reading,
) -> None:
    shot, speed = columns
    width = len(header) or max((len(cells) for _, _, cells in table), default=0)
    units: dict[str, int] = {}
    if header and speed is not None and (unit := _header_unit(header[speed])):
        units[unit] = 0
    if header and (spare := [c for i, c in enumerate(header) if c and i not in columns]):
        reading.notes.append("columns not used: " + ", ".join(repr(plain(c[:80], "header")) for c in spare))
    seen: dict[int, tuple[float, int]] = {}
    for number, row, cells in table:
        if header and len(cells) > width:
            reading.skip(number, row, f"{len(cells)} values where {width} columns are expected")
            continue
        count = None if shot is None else _whole(cells[shot]) if shot < len(cells) else None
        where = range(len(cells)) if speed is None else [speed]
        bad = [why for at in where if (why := _why(cells, at, width, mark))]
        if shot is not None and count is None:
            bad.append("the shot number is no whole number")
        if bad:
            some = speed is None and len(bad) < len(cells)
            reading.skip(number, row, "; ".join(bad)[:200] + ("; its numbers were taken" if some else ""))
            if not some:
                continue
        taken = [cell for at in where if (cell := _cell(cells[at], mark))]
        if speed is None and len(taken) > 1 and not any("several" in note for note in reading.notes):
            reading.notes.append("several speeds a line: read line by line from left to right")
        if count is not None and count in seen:
            _repeated(number, row, count, taken[0][0], seen[count], reading)
            continue
        if count is not None:
            seen[count] = (taken[0][0], number)
        for value, unit in taken:
            if unit:
                units.setdefault(unit, number)
            reading.values.append(value)
            reading.numbers.append(len(reading.values) if count is None else count)
            reading.lines.append(number)
    if len(units) > 1:
        places = " and ".join(f"{u} ({f'line {at}' if at else 'header'})" for u, at in units.items())
        raise StringError(f"the text: mixed units, {places}; one string has one unit")
    reading.unit = next(iter(units), None)


def _repeated(
    number: int, row: str, shot: int, value: float, before: tuple[float, int], reading: Reading
) -> None:
    if before[0] != value:
        raise StringError(
            f"line {number}: shot {shot} has {value:g}, but line {before[1]} gives it {before[0]:g}; "
            "correct one, or read two strings apart"
        )
    reading.skip(number, row, f"the same shot and speed as line {before[1]}, counted once")


def _why(cells: list[str], at: int, width: int, mark: str) -> str:
    """Why a cell is no speed; empty when it is one."""
    if at >= len(cells):
        return f"{len(cells)} value(s) where {width} columns are expected"
    text = cells[at]
    if _cell(text, mark):
        return ""
    if not text:
        return "the speed is empty"
    if _cell(text, "," if mark == "." else "."):
        return f"{text!r} has the other decimal mark"
    return f"{text[:40]!r} is no number that is known here"
