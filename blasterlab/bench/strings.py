"""A chronograph string as a builder meets it: its data, and one door to each thing that it can be asked.

What it is for: `ChronoString`, the public face.  What it leaves out: everything else: the data and their
reading (`string_data`), intervals (`summary`), the cap (`cap_risk`), two strings (`comparison`), losses
(`calibrate`).
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab.bench import summary as _summary
from blasterlab.bench.cap_risk import cap_risk
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
