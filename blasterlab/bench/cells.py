"""What stands in a chronograph's text: numbers, units and words, and how a text is refused.

What it is for: the smallest pieces, shared by all that read shots.  What it leaves out: lines and columns
(`reading`), and the conversion of units.
"""

from __future__ import annotations

import csv
import math
import re
import unicodedata
from dataclasses import dataclass

from blasterlab import units
from blasterlab.doors import Spoken

#: Most characters of a text, shots of a string, and characters of a word: choices of the kit, far above any
#: bench day.
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

_UNIT = "|".join(re.escape(word) for word in sorted(SPEED_UNITS, key=len, reverse=True))
_CELL = re.compile(
    rf"([+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:e[+-]?[0-9]+)?)\s*({_UNIT})?", re.IGNORECASE
)
_LOOSE_UNIT = re.compile(rf"([0-9.,])\s*({_UNIT})(?=\s|$)", re.IGNORECASE)
_IN_HEADER = re.compile(rf"(?:^|[\s(\[,_])({_UNIT})(?:$|[\s)\]_])", re.IGNORECASE)
_SPEED = re.compile(r"speed|velocity|\bvel\b|\bv0?\b|muzzle", re.IGNORECASE)
_SHOT = re.compile(r"(#|n|no\.?|nr\.?|num|number|shot|index|id)( ?(no\.?|nr\.?|number|#))?", re.IGNORECASE)
_SUMMARY = re.compile(
    r"(average|avg|mean|median|sd|s\.d|st\.?\s?dev|std|standard deviation|es|extreme spread|spread|"
    r"min|max|minimum|maximum)[.:=]*",
    re.IGNORECASE,
)


class StringError(ValueError):
    """A chronograph string that cannot be taken: says which line, what was read, and what would do.

    Where an argument of `ChronoString.from_text` would settle it, `argument` has its name and `fault` the
    message without that advice, so that a panel can name its control instead.
    """

    def __init__(self, fault: str, argument: str = "", advice: str = "") -> None:
        super().__init__(f"{fault}; {advice}" if advice else fault)
        self.fault, self.argument = fault, argument


@dataclass(frozen=True)
class UnreadLine(Spoken):
    """A line that gave no shot, or not all of it.

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


def si_factor(unit: str) -> float:
    """A unit in m/s."""
    return float(units.si(units.quantity(1.0, unit), "speed"))


def speed_unit(given: str) -> str:
    """The kit's unit text for a unit word, any case; StringError for another."""
    unit = SPEED_UNITS.get(str(given).strip().lower())
    if unit is None:
        raise StringError(f"unit: got {str(given)[:40]!r}; must be m/s, ft/s, km/h or mph")
    return unit


def one_line(text: str) -> str:
    """Text without control characters, no units; line ends and the like become single spaces."""
    return " ".join(
        "".join(" " if unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") else c for c in text).split()
    )


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
        raise StringError(f"{name}: got {type(text).__name__}; must be text")
    if len(text) > MAX_FIELD:
        raise StringError(f"{name}: got {len(text)} characters; must be at most {MAX_FIELD}")
    return one_line(text)


def csv_cells(row: str, delimiter: str) -> list[str]:
    """The cells of one line, quotes undone, no units; one that csv refuses is only cut."""
    try:
        return next(csv.reader([row], delimiter=delimiter, skipinitialspace=True), [])
    except csv.Error:  # a cell of 100 000 characters
        return row.split(delimiter)


def number_of(text: str, mark: str = ".") -> tuple[float, str | None] | None:
    """Number and unit of a cell with this decimal mark, no unit of its own; None when it is no number."""
    match = _CELL.fullmatch(text) if len(text) <= 40 else None
    if not match or (mark == "." and "," in text) or (mark == "," and "." in match[1]):
        return None
    value = float(match[1].replace(",", "."))
    unit = SPEED_UNITS[match[2].lower()] if match[2] else None
    return (value, unit) if math.isfinite(value) else None


def is_number(text: str) -> bool:
    """Whether a cell is a number with either decimal mark, any unit."""
    return bool(number_of(text) or number_of(text, ","))


def shot_number(text: str) -> int | None:
    """A cell as a shot number, or None; no units."""
    return int(text.lstrip("#")) if re.fullmatch(r"#?[0-9]{1,7}", text) else None


def join_units(row: str) -> str:
    """A row with the space between a number and its unit taken out, no units of its own."""
    return _LOOSE_UNIT.sub(lambda m: m[1] + SPEED_UNITS[m[2].lower()], row)


def header_unit(text: str) -> str | None:
    """The unit in a column's heading, or None; StringError when there are two units."""
    found = {SPEED_UNITS[unit.lower()] for unit in _IN_HEADER.findall(text)}
    if len(found) > 1:
        raise StringError(f"the header: {text[:80]!r} names two units; which one?")
    return found.pop() if found else None


def names_speed(text: str) -> bool:
    """Whether a heading says that a column holds speeds, in any unit."""
    return bool(_SPEED.search(text) or header_unit(text))


def names_shots(text: str) -> bool:
    """Whether a heading says that a column holds shot numbers, no units."""
    return bool(_SHOT.fullmatch(text.strip()))


def introduces(word: str) -> bool:
    """Whether a word may stand before a shot on its line, as in "shot 1 speed: 60.2", no units."""
    said = word.rstrip(":=.").lower()
    return bool(_SHOT.fullmatch(said)) or said in ("speed", "velocity", "v", "v0")


def is_summary(word: str) -> bool:
    """Whether a word says that its line sums up shots (average, SD and the like), no units."""
    return bool(_SUMMARY.fullmatch(word))
