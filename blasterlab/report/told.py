"""What a panel says of a result, in the order in which a builder wants to hear it.

What it is for: `Told`, which every panel's words return.  What it leaves out: the sentences themselves.
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab.report.tables import Table, as_text


@dataclass(frozen=True)
class Told:
    """The answer as a person would give it, then its numbers, then the rest.

    Parameters
    ----------
    key : str [-]
        One line of key numbers; what a saved notebook stores.
    verdict : str [-]
        A sentence that answers the panel's question; "" says no more than the key line.
    heard : tuple of str [-]
        What must stay in sight: findings, warnings.
    more : tuple of str [-]
        What is folded away until it is asked for.
    table : Table or None [-]
        A short one that stays in sight under the pictures.
    """

    key: str
    verdict: str = ""
    heard: tuple[str, ...] = ()
    more: tuple[str, ...] = ()
    table: Table | None = None

    @property
    def lines(self) -> list[str]:
        """All of it, the line of key numbers first."""
        rows = as_text(self.table).splitlines() if self.table else []
        return [line for line in (self.key, self.verdict, *rows, *self.heard, *self.more) if line]
