"""What a builder asks of a search, and what it found: lists on sale, wants, and one candidate of them.

What it is for: `Order`, the answer to "which parts do I order" as a panel holds it, and `read_lists`.  What
it leaves out: the search itself (``search``), and words.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from blasterlab.build import Build
from blasterlab.plan.search import Plan
from blasterlab.plan.stock import Stock, StockError
from blasterlab.plan.wants import Wants
from blasterlab.shot.simulate import Shot, simulate


@dataclass(frozen=True)
class Order:
    """What is asked, and the plan that answers it, once there is one.

    Attributes
    ----------
    stock, wants, own : Stock, Wants, Build [-]
        What is on sale, what is wanted, and what stays.
    unread : tuple of str [-]
        Each line of the lists that could not be read, and why.
    plan : Plan or None [-]
        None before the search.
    chosen : int [-]
        Which candidate is looked at, from 1, in the order of the plan's table.
    """

    stock: Stock
    wants: Wants
    own: Build
    unread: tuple[str, ...] = ()
    plan: Plan | None = None
    chosen: int = 1

    @property
    def place(self) -> int | None:
        """The chosen candidate's place among all; the nearest one's where none meets the wants."""
        if self.plan is None:
            return None
        return int(self.plan.order[self.chosen - 1]) if len(self.plan.order) else self.plan.nearest

    @property
    def build(self) -> Build:
        """The chosen candidate that meets the wants; before there is one, what one started from."""
        found = self.plan
        return self.own if found is None or not len(found.order) else found.candidate(self.chosen - 1)

    @cached_property
    def shot(self) -> Shot:
        """What that build shoots."""
        return simulate(self.build)


def read_lists(lists: Mapping[str, str]) -> tuple[Stock, tuple[str, ...]]:
    """Several lists of parts: all their good rows, and each bad one with its list, its line and the reason.

    Parameters
    ----------
    lists : mapping of str to str [-]
        What a list is called -> its CSV text, or the path of a file; an empty one holds nothing.

    Returns
    -------
    tuple of (Stock, tuple of str)
        All parts, and the lines that could not be read [-].

    Raises
    ------
    StockError
        A list without sense; says which.
    """
    found, unread = Stock(), list[str]()
    for name, text in lists.items():
        try:
            one = Stock.read(text) if text.strip() else Stock()
        except ValueError as error:
            raise StockError("\n".join(f"{name}: {line}" for line in str(error).splitlines())) from error
        found += one
        unread += [f"{name}, line {bad.number}: {bad.reason}" for bad in one.unread]
    return found, tuple(unread)
