"""The invented demo strings that travel with the kit.

What it is for: shots to try things on.  What it leaves out: any claim; every one is invented and says so.
"""

from __future__ import annotations

from blasterlab import tables
from blasterlab.bench.cells import StringError
from blasterlab.bench.strings import ChronoString


def demo_strings() -> list[str]:
    """Names of the invented demo strings.

    Returns
    -------
    list of str
        For `demo_string` [-].

    Examples
    --------
    >>> len(demo_strings()) > 0
    True
    """
    return tables.names("strings", ".csv")


def demo_string(name: str) -> ChronoString:
    """An invented demo string by its name.

    Parameters
    ----------
    name : str [-]
        One of `demo_strings`.

    Returns
    -------
    ChronoString
        Invented shots [m/s].

    Raises
    ------
    StringError
        An unknown name.
    """
    if name not in demo_strings():
        raise StringError(f"name: got {str(name)[:60]!r}; must be one of {', '.join(demo_strings())}")
    return ChronoString.load(tables.data_folder() / "strings" / f"{name}.csv")
