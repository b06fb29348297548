"""Short tables: a heading, named values and sentences, as plain text, as HTML and as a DataFrame.

What it is for: the one way in which a build, a shot, a sweep or a string stands in a cell.  What it leaves
out: which values those are, which each subject says.
"""

from __future__ import annotations

import re
from html import escape
from textwrap import wrap
from typing import NamedTuple, TypeAlias

from blasterlab import units
from blasterlab.report.numbers import kept
from blasterlab.tables import pd
from blasterlab.units import Quantity

#: Words, a value with its kind and its digits, or the words of several columns.
Cell: TypeAlias = "str | tuple[Quantity | float, str, int] | list[str]"

#: Characters of a line; a longer sentence goes on in the next one.
WIDE = 100


class Table(NamedTuple):
    """A heading, named values, and what stands below them."""

    title: str
    rows: dict[str, Cell]
    rest: list[str]


def said(cell: Cell) -> list[str]:
    """A value in words, its unit as chosen, or the words of its columns."""
    return [cell] if isinstance(cell, str) else cell if isinstance(cell, list) else [kept(*cell)]


def as_text(table: Table) -> str:
    """A table as lines of text, its values below each other, units as chosen."""
    lines = [[name, *said(cell)] for name, cell in table.rows.items()]
    wide = [max(map(len, column)) for column in zip(*lines, strict=True)]
    rows = ["".join(f"  {text:{w}}" for text, w in zip(line, wide, strict=True)).rstrip() for line in lines]
    rest = [
        line for text in table.rest for line in wrap(re.sub(r"(?<=\d) (?=[^\W\d]|%)", "\xa0", text), WIDE)
    ]
    return "\n".join([*filter(None, [table.title]), *rows, *rest]).replace("\xa0", " ")


def as_html(table: Table) -> str:
    """A table as a fragment of HTML, escaped, units as chosen."""
    cell = '<td style="text-align:left">{}</td>'.format
    rows = "".join(
        f"<tr>{''.join(cell(escape(text)) for text in (name, *said(value)))}</tr>"
        for name, value in table.rows.items()
    )
    rest = "".join(f"<br>{escape(text)}" for text in table.rest)
    return f"<b>{escape(table.title)}</b><table>{rows}</table>{rest}"


def as_frame(table: Table) -> pd.DataFrame:
    """A table as name, value and unit (as chosen); words have no unit; columns have heads."""
    if any(isinstance(cell, list) for cell in table.rows.values()):
        columns, *lines = ([name, *said(cell)] for name, cell in table.rows.items())
        return pd.DataFrame(lines, columns=["name", *columns[1:]])
    rows: list[tuple[str, str | float, str]] = []
    for name, cell in table.rows.items():
        if isinstance(cell, str):
            rows.append((name, cell, ""))
        elif isinstance(cell, tuple):
            value, kind, _ = cell
            rows.append((name, units.display(units.si(value, kind), kind), units.show_unit(kind)))
    return pd.DataFrame(rows, columns=["name", "value", "unit"])
