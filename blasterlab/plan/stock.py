"""Stock: lists of parts on sale, read from CSV with units in the header.

What it is for: springs, tubes, barrels, rings and darts with price and lead time, each row checked as a part
by itself.  What it leaves out: which of them go together (``search``), and any currency's rate.

References
----------
IETF RFC 4180, *Common Format and MIME Type for CSV Files*, 2005 (quoting).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from blasterlab import measured, tables, units
from blasterlab.bench.cells import UnreadLine, csv_cells
from blasterlab.bench.file_bytes import decode, read_file, refuse_no_text
from blasterlab.doors import Spoken
from blasterlab.faults import fault, guess, shown
from blasterlab.fields import Field
from blasterlab.parts import barrel, chamber, dart, spring
from blasterlab.parts.materials import material
from blasterlab.parts.rings import ring
from blasterlab.units import Quantity

_OUTER = Field("length", 2e-3, 0.5, "outside")
_SPRING = {field.key or name: field for name, field in spring.FIELDS.items()} | {
    "total_coils": Field("number", 1.0, 1000.0, "wire end to wire end"),
    "pitch": Field("length", 1e-4, 0.5, "coil to coil"),
}
_WORDS, _COUNTS = ("ends", "material", "ring"), ("active_coils", "total_coils", "pitch")


class Kind(NamedTuple):
    """A kind of part: the columns that it must have, and those that it may have, by key."""

    needs: tuple[str, ...]
    fields: Mapping[str, Field]


#: Kinds of part, each told from the others by the first column that it needs.
KINDS = {
    "spring": Kind(("wire_diameter", "outer_diameter", "free_length"), _SPRING),
    "tube": Kind(
        ("inner_diameter", "outer_diameter", "length"),
        {"inner_diameter": chamber.FIELDS["bore"], "outer_diameter": _OUTER,
         "length": chamber.FIELDS["tube_length"]},
    ),
    "barrel": Kind(("bore", "length"), {"bore": barrel.FIELDS["bore"], "length": barrel.FIELDS["length"]}),
    "ring": Kind(("ring",), {}),
    "dart": Kind(("mass", "diameter", "length"), dart.FIELDS),
}  # fmt: skip
#: Units of a lead time, in days.
DAYS = {"day": 1.0, "days": 1.0, "week": 7.0, "weeks": 7.0}
_HEADER = re.compile(r"\s*([^\[\]]+?)\s*(?:\[\s*([^\[\]]*?)\s*\])?\s*$")
_CURRENCY = re.compile(r"[A-Z]{3}$")
MOST_ROWS = 2000


class StockError(ValueError):
    """Stock that cannot be taken: says what, and what would do."""


@dataclass(frozen=True)
class Item:
    """A part on sale.

    Attributes
    ----------
    kind, name : str [-]
        A key of `KINDS`; the part's name in the list.
    values : mapping of str to Quantity, float or str [-]
        By the keys of its kind.
    price : float or None [currency]
        None where the list does not say.
    currency : str [-]
        Three letters; empty where no price is told.
    lead_time : float or None [days]
        None where the list does not say.
    """

    kind: str
    name: str
    values: Mapping[str, Quantity | float | str]
    price: float | None = None
    currency: str = ""
    lead_time: float | None = None


@dataclass(frozen=True)
class Stock(Spoken):
    """Parts on sale, and the lines that could not be read.

    Attributes
    ----------
    items : tuple of Item [-]
        Good rows, in their order.
    unread : tuple of UnreadLine [-]
        Bad rows, each with its reason.
    """

    items: tuple[Item, ...] = ()
    unread: tuple[UnreadLine, ...] = ()

    def __add__(self, other: Stock) -> Stock:
        return Stock(self.items + other.items, self.unread + other.unread)

    def of(self, kind: str) -> tuple[Item, ...]:
        """The parts of one kind, in their order.

        Parameters
        ----------
        kind : str [-]
            A key of `KINDS`.

        Returns
        -------
        tuple of Item
            Parts [-].
        """
        return tuple(item for item in self.items if item.kind == kind)

    @property
    def currency(self) -> str:
        """The one currency of all prices; empty without prices, a StockError with two [-]."""
        seen = sorted({item.currency for item in self.items if item.price is not None})
        if len(seen) > 1:
            must = "in one currency (the kit knows no exchange rates)"
            raise StockError(fault("price", " and ".join(seen), must, example="a list converted beforehand"))
        return seen[0] if seen else ""

    @classmethod
    def read(cls, source: str | Path) -> Stock:
        """Read a list of one kind of part: every bad row named, the good ones kept.

        Parameters
        ----------
        source : str or Path [-]
            CSV text (several lines), or the path of a file.  The first line names the columns with their
            units, such as ``name, bore [mm], length [cm], price [EUR], lead time [days]``; separated by
            comma, semicolon or tab; lines that start with # are remarks.

        Returns
        -------
        Stock
            Parts and unread lines [-].

        Raises
        ------
        StockError
            No header from which the kind of part is told, a unit that does not fit its column, a price
            without a currency or in two, no good row at all.
        StringError
            A file that cannot be read, or that is no text.

        Examples
        --------
        >>> Stock.read("name,bore [mm],length [cm]\\nB1,13.0,50\\nB2,13.0,long").unread[0].number
        3
        """
        if isinstance(source, Path) or (source.strip() and "\n" not in source):
            text, _ = decode(read_file(Path(source)))
        else:
            text = source
        refuse_no_text(text)
        lines = [
            (number, line)
            for number, line in enumerate(text.lstrip("\ufeff").splitlines(), start=1)
            if line.strip(" \t,;") and not line.lstrip('" ').startswith("#")
        ]
        if not 2 <= len(lines) <= MOST_ROWS + 1:
            raise StockError(fault("stock", f"{len(lines)} lines", f"a header and 1 to {MOST_ROWS} rows"))
        mark = next((each for each in "\t;" if each in lines[0][1]), ",")
        header, *rows = ((number, _cells(line, mark)) for number, line in lines)
        columns = [_column(cell) for cell in header[1]]
        kind, currency = _kind_of([key for key, _ in columns]), _currency_of(columns)
        items: list[Item] = []
        unread: list[UnreadLine] = []
        for (number, cells), (_, line) in zip(rows, lines[1:], strict=True):
            try:
                items.append(_item(kind, columns, cells, currency, {item.name for item in items}))
            except ValueError as error:
                reason = str(error).replace("\n", "; ")
                unread.append(UnreadLine(number, line.strip()[:80], reason))
        if not items:
            raise StockError(f"stock: no row can be read; line {unread[0].number}: {unread[0].reason}")
        return cls(tuple(items), tuple(unread))


def _cells(line: str, mark: str) -> list[str]:
    cells = csv_cells(line, mark)
    if mark != ",":  # then a comma between digits is a decimal mark
        cells = [re.sub(r"(?<=\d),(?=\d)", ".", cell) for cell in cells]
    return [" ".join(cell.split()) for cell in cells]


def _column(cell: str) -> tuple[str, str]:
    """Key and unit of a heading such as ``free length [mm]``."""
    match = _HEADER.match(cell)
    if match is None:
        raise StockError(fault("header", shown(cell), "a name and its unit", example='"free length [mm]"'))
    return match[1].lower().replace(" ", "_"), match[2] or ""


def _kind_of(keys: list[str]) -> str:
    """The kind that these columns tell; StockError for none, or for columns that are unknown or missing."""
    name = next((name for name, kind in KINDS.items() if kind.needs[0] in keys), None)
    if name is None:
        first = ", ".join(f"{kind.needs[0]} for a {name}" for name, kind in KINDS.items())
        raise StockError(fault("header", ", ".join(keys)[:80], f"columns that describe the part: {first}"))
    kind = KINDS[name]
    known = {"name", "price", "lead_time", *kind.needs, *kind.fields}
    known |= {"ends", "material"} if name == "spring" else {"material"} if name == "tube" else set()
    wrong = [f"{key}: no such column for a {name}; {guess(key, known)}" for key in keys if key not in known]
    wrong += [f"{key}: missing; a {name} needs it" for key in ("name", *kind.needs) if key not in keys]
    wrong += [f"{key}: given twice" for key in dict.fromkeys(keys) if key != "price" and keys.count(key) > 1]
    if name == "spring" and len(set(_COUNTS) & set(keys)) != 1:
        wrong.append("a spring needs one column of active coils, total coils or pitch")
    if wrong:
        raise StockError("\n".join(f"header: {each}" for each in wrong))
    return name


def _currency_of(columns: list[tuple[str, str]]) -> str:
    told = [unit for key, unit in columns if key == "price"]
    if len(told) > 1:
        raise StockError(fault("price", " and ".join(told), "one column in one currency"))
    if told and not _CURRENCY.match(told[0]):
        must = "a price with its currency, three letters"
        raise StockError(
            fault("price", f"[{told[0]}]" if told[0] else "no currency", must, example='"price [EUR]"')
        )
    return told[0] if told else ""


def _number(cell: str, name: str, unit: str) -> float | None:
    """A price or a lead time, None where the cell is empty."""
    if not cell:
        return None
    try:
        value = float(cell)
    except ValueError:
        value = math.nan
    if not 0.0 <= value < 1e6:
        raise StockError(
            fault(name, shown(cell), f"a number, 0 or more, without words ({unit} by the header)")
        )
    return value


def _item(
    kind: str, columns: list[tuple[str, str]], cells: list[str], currency: str, known: set[str]
) -> Item:
    """One row as a part, or a ValueError with everything that is wrong with it."""
    if len(cells) > len(columns):
        raise StockError(f"{len(cells)} cells under {len(columns)} headings (a comma too many?)")
    row = dict(zip(columns, [*cells, *[""] * (len(columns) - len(cells))], strict=True))
    values: dict[str, Any] = {}
    told: dict[str, float | None] = {}
    name, wrong = "", []
    for (key, unit), cell in row.items():
        try:
            if key == "name":
                name = cell
            elif key == "price":
                told[key] = _number(cell, key, unit)
            elif key == "lead_time":
                if unit not in DAYS:
                    raise StockError(fault("lead time", f"[{unit}]", "in days or weeks"))
                days = _number(cell, "lead time", unit)
                told[key] = None if days is None else days * DAYS[unit]
            elif cell or key in (*KINDS[kind].needs, *_COUNTS):
                values[key] = cell if key in _WORDS else _value(KINDS[kind].fields[key], key, cell, unit)
        except ValueError as error:
            wrong.append(str(error))
    if not name or name in known:
        wrong.append(fault("name", shown(name), "a name that no other row of the list has"))
    if wrong:
        raise StockError("\n".join(wrong))
    _whole(kind, values)
    price = told.get("price")
    return Item(kind, name, values, price, currency if price is not None else "", told.get("lead_time"))


def _value(field: Field, key: str, cell: str, unit: str) -> Quantity | float:
    """A cell in the unit of its heading, or in its own; checked against the field's range."""
    bare = re.fullmatch(r"[-+]?[\d./ ]+(?:[eE][-+]?\d+)?", cell) is not None
    given: Any = f"{cell} {unit}".strip() if bare else cell
    value = units.si_in(given, field.kind, key, field.low, field.high, field.why)
    return value if field.kind == "number" else units.parse(given, field.kind, key)


def _whole(kind: str, values: dict[str, Any]) -> None:
    """Refuse values that make no part together, and a ring or a material that is not known."""
    if kind == "spring":
        spring_of(values)
    elif kind == "ring":
        ring(values["ring"])
    elif kind == "tube":
        inner, outer = (units.si(values[f"{side}_diameter"], "length") for side in ("inner", "outer"))
        if not inner < outer:
            got, must = units.show(inner, "length"), f"less than the outer one, {units.show(outer, 'length')}"
            raise StockError(fault("inner_diameter", got, must, "columns mixed up?"))
        if "material" in values:
            material(values["material"])


def spring_of(values: Mapping[str, Any]) -> spring.Spring:
    """A listed spring as a part, without preload; UnitError or StockError with what is wrong; no units."""
    wrong: list[str] = []
    given = {"ends": "closed", **values}
    fields = {"rate": "measured_rate", "mass": "measured_mass"}
    read: dict[str, Any] = {"active_coils": 1.0, **measured.read("spring", given, given, wrong)}
    if wrong:
        raise StockError("\n".join(wrong))
    return spring.Spring(**{fields.get(key, key): value for key, value in read.items()})


def demo_stock(kinds: Iterable[str] = tuple(KINDS)) -> Stock:
    """The invented demo lists.

    Parameters
    ----------
    kinds : iterable of str [-]
        Some of ``spring``, ``tube``, ``barrel``, ``ring`` and ``dart``.

    Returns
    -------
    Stock
        Invented parts at invented prices [-].

    Raises
    ------
    StockError
        An unknown kind.

    Examples
    --------
    >>> len(demo_stock(["barrel"]).items)
    4
    """
    found = Stock()
    for kind in kinds:
        if kind not in KINDS:
            raise StockError(fault("kinds", shown(kind), f"among {', '.join(KINDS)}"))
        found += Stock.read(demo_list(kind))
    return found


def demo_list(kind: str) -> str:
    """The invented demo list of one of `KINDS` as CSV text, its units in its header."""
    return (tables.data_folder() / "stock" / f"{kind}s.csv").read_text(encoding="utf-8")
