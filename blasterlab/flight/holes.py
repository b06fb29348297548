"""Holes on paper as text: right and up of the aim, one hole a line.

What it is for: typed and pasted holes become points.  What it leaves out: their statistics
(`measured_group`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TypeAlias

import numpy as np

from blasterlab import units
from blasterlab.shot.parameters import Floats
from blasterlab.units import QuantityLike

_MOST_TEXT = 100_000
#: Holes as they come: text, or pairs of lengths, right then up.
Holes: TypeAlias = "str | Sequence[tuple[QuantityLike, QuantityLike]]"


def point_lines(text: str) -> list[str]:
    """What of a text stands for a point each, without comments.

    Parameters
    ----------
    text : str [-]
        One point a line or between semicolons.

    Returns
    -------
    list of str
        One a point, none empty [-].

    Examples
    --------
    >>> point_lines("1 mm, 2 mm; 3 mm, 4 mm  # two")
    ['1 mm, 2 mm', '3 mm, 4 mm']
    """
    lines = [line.split("#")[0].strip() for line in re.split(r"[\n;]", text)]
    return [line for line in lines if line]


def read_points(source: Holes, unit: str | None = None) -> Floats:
    """Points on the paper from text or a list.

    Parameters
    ----------
    source : str or sequence [m]
        As in `MeasuredGroup.read`.
    unit : str or None [-]
        The unit of bare numbers.

    Returns
    -------
    ndarray, shape (n, 2)
        Right and up, one point a row, any number of them [m].

    Raises
    ------
    UnitError
        A line that is not two lengths, with its number.

    Examples
    --------
    >>> read_points("10, 5", unit="mm").tolist()
    [[0.01, 0.005]]
    """
    if isinstance(source, str):
        if len(source) > _MOST_TEXT:
            raise units.UnitError(f"group: {len(source)} characters; at most {_MOST_TEXT} are read")
        if re.search(r"\d,\d+\s*;\s*-?\d+,\d", source):
            raise units.UnitError(
                "group: a semicolon between numbers with commas can be one hole or two; write one hole a "
                "line, right and up, and decimals with a point; try 12.5, -3.2"
            )
        pairs: Sequence[Sequence[QuantityLike]] = [_split(line) for line in point_lines(source)]
    else:
        pairs = source
    points = []
    for i, pair in enumerate(pairs, 1):
        if isinstance(pair, str) or len(pair) != 2:
            raise units.UnitError(
                f"group, point {i}: got {pair!s:.64}; must be two lengths, right and up, decimals written "
                'with a point; try "10 mm, -5 mm"'
            )
        points.append([_length(one, unit, f"group, point {i}") for one in pair])
    return np.array(points, float).reshape(-1, 2)


def _split(line: str) -> Sequence[str]:
    """The two lengths of a line, or the line where it has not two."""
    parts = [part.strip() for part in line.split(",")]
    words = line.split()
    if len(parts) == 1 and len(words) == 4:  # "3 mm -4 mm"
        parts = [" ".join(words[:2]), " ".join(words[2:])]
    elif len(parts) == 1 and all(re.match(r"[-+.\d]", word) for word in words):
        parts = words
    decimal_commas = re.search(r"\d,\d+\s+-?\d+,\d", line)
    return parts if len(parts) == 2 and not decimal_commas else line


def _length(value: QuantityLike, unit: str | None, name: str) -> float:
    if unit is not None and not isinstance(value, units.Quantity):
        value = f"{value} {unit}"
    return units.si(value, "length", name)
