"""One finding of a check: what is wrong or worth knowing, where, by how much, and who says so.

What it leaves out: the checks themselves, and any verdict.  A finding is information for the builder.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from blasterlab.units import Quantity

#: From worth knowing to stop and think.
SEVERITIES = ("info", "caution", "warning", "danger")


@dataclass(frozen=True)
class Finding:
    """One line of a build check.

    Attributes
    ----------
    severity : str [-]
        One of `SEVERITIES`.
    part : str [-]
        The part by its dotted name, ``"spring"`` or ``"springs[1]"``.
    message : str [-]
        One sentence in plain words.
    value : Quantity or float or None [unit of the check]
        What this build has.
    limit : Quantity or float or None [unit of the check]
        What it is held against.
    source : str [-]
        Where the limit comes from: a publication, ``"common practice, no source"`` or ``"from memory"``.

    Raises
    ------
    ValueError
        A severity that is none.
    """

    severity: str
    part: str
    message: str
    value: Quantity | float | None = None
    limit: Quantity | float | None = None
    source: str = ""

    def __post_init__(self) -> None:
        if self.severity not in SEVERITIES:
            raise ValueError(f"severity: got {self.severity!r}; must be one of {', '.join(SEVERITIES)}")


def gravest_first(found: Iterable[Finding]) -> list[Finding]:
    """Findings by falling severity, equals in their order; the numbers in them stay in their units.

    Parameters
    ----------
    found : iterable of Finding [-]
        In any order.

    Returns
    -------
    list of Finding
        The gravest first [-].
    """
    return sorted(found, key=lambda item: -SEVERITIES.index(item.severity))
