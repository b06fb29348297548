"""A chronograph string as a builder meets it: its data, and one door to each thing that it can be asked.

What it is for: `ChronoString`, the public face, and the invented strings that travel with the kit.
What it leaves out: everything else: the data and their reading (`string_data`), intervals (`summary`), the
cap (`cap_risk`), two strings (`comparison`), losses (`calibrate`).
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab import tables
from blasterlab.bench import summary as _summary
from blasterlab.bench.cap_risk import cap_risk
from blasterlab.bench.cells import StringError
from blasterlab.bench.comparison import compare
from blasterlab.bench.string_data import StringData
from blasterlab.doors import Spoken
from blasterlab.tables import pd


@dataclass(frozen=True)
class ChronoString(StringData, Spoken):
    """Shots over a chronograph, in the order they were shot; its fields are those of `StringData`.

    Examples
    --------
    >>> string = ChronoString.from_text("250, 252, 249, 251", unit="ft/s")
    >>> string.count, round(string.mean.m_as("ft/s"), 6)
    (4, 250.5)
    """

    @property
    def table(self) -> pd.DataFrame:
        """Shots in order: number, reading in its unit, muzzle velocity in m/s, odd or not."""
        columns = {"shot": self.numbers, f"reading_{self.unit.replace('/', '_')}": self.readings}
        odd = self.odd_shots().flags
        return pd.DataFrame({**columns, "muzzle_velocity_m_s": self.speeds_si, "odd": odd})

    odd_shots = _summary.odd_shots
    trend = property(_summary.run_order)
    summary = _summary.summarise
    cap_risk = cap_risk
    compare = compare


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
