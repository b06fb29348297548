"""Short tables: a heading, named values and sentences, as plain text, as HTML and as a DataFrame.

What it is for: the one way in which a build, a shot, a sweep or a string stands in a cell.  What it leaves
out: which values those are, which each subject says.
"""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, NamedTuple, TypeAlias

from blasterlab import units
from blasterlab.report.numbers import kept
from blasterlab.units import Quantity

if TYPE_CHECKING:
    import pandas as pd

#: Words, or a value with its kind and its digits.
Cell: TypeAlias = "str | tuple[Quantity | float, str, int]"


class Table(NamedTuple):
    """A heading, named values, and what stands below them."""

    title: str
    rows: dict[str, Cell]
    rest: list[str]


def said(cell: Cell) -> str:
    """A value in words, its unit as chosen."""
    return cell if isinstance(cell, str) else kept(*cell)


def as_text(table: Table) -> str:
    """A table as lines of text, its values below each other, units as chosen."""
    wide = max(map(len, table.rows), default=0)
    rows = [f"  {name:{wide}}  {said(cell)}" for name, cell in table.rows.items()]
    return "\n".join([*filter(None, [table.title]), *rows, *table.rest])


def as_html(table: Table) -> str:
    """A table as a fragment of HTML, escaped, units as chosen."""
    cell = '<td style="text-align:left">{}</td>'.format
    rows = "".join(
        f"<tr>{cell(escape(name))}{cell(escape(said(value)))}</tr>" for name, value in table.rows.items()
    )
    rest = "".join(f"<br>{escape(text)}" for text in table.rest)
    return f"<b>{escape(table.title)}</b><table>{rows}</table>{rest}"


def as_frame(table: Table) -> pd.DataFrame:
    """A table as name, value and unit (as chosen); words have no unit."""
    import pandas as pd

    rows: list[tuple[str, str | float, str]] = []
    for name, cell in table.rows.items():
        if isinstance(cell, str):
            rows.append((name, cell, ""))
        else:
            value, kind, _ = cell
            rows.append((name, units.display(units.si(value, kind), kind), units.show_unit(kind)))
    return pd.DataFrame(rows, columns=["name", "value", "unit"])
