"""A chronograph string as a builder meets it: its data, and one door to each thing that it can be asked.

What it is for: `ChronoString`, the public face.  What it leaves out: everything else: the data and their
reading (`string_data`), intervals (`summary`), the cap (`cap_risk`), two strings (`comparison`), losses
(`calibrate`).
"""

from __future__ import annotations

from dataclasses import dataclass

from blasterlab.bench import cap_risk as _cap
from blasterlab.bench import comparison as _comparison
from blasterlab.bench import summary as _summary
from blasterlab.bench.instrument import Chronograph
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

    def odd_shots(self, level: float = 0.05, most: int = 1) -> _summary.OddShots:
        """Odd shots by Grubbs' test: flagged, with the numbers both ways, never dropped.

        Parameters
        ----------
        level : float [-]
            Chance of calling a shot odd when none is.
        most : int [-]
            The most odd shots looked for; two close together hide each other from 1.

        Returns
        -------
        OddShots
            Which, how odd, and mean and SD with and without [m/s].

        Raises
        ------
        ValueError
            A level or `most` outside its range.
        """
        return _summary.odd_shots(self, level, most)

    @property
    def trend(self) -> _summary.RunOrder:
        """Straight line through the shots in order, whatever their number [m/s a shot]."""
        return _summary.run_order(self)

    def summary(
        self, level: float = 0.95, next_shots: int = 10, chronograph: Chronograph | None = None
    ) -> _summary.Summary:
        """All that the string says, with intervals.

        Parameters
        ----------
        level : float [-]
            Confidence.
        next_shots : int [-]
            Shots still to fire, for the largest among them.
        chronograph : Chronograph or None [-]
            Its common error is added to the mean's uncertainty after averaging.

        Returns
        -------
        Summary
            Numbers that print as sentences [m/s].

        Raises
        ------
        ValueError
            A level or a number of shots outside its range, or a display step above the extreme spread.
        """
        return _summary.summarise(self, level, next_shots, chronograph)

    def cap_risk(
        self,
        cap: _cap.Caps,
        shots: int = 1,
        *,
        level: float = 0.95,
        confidence: float = 0.95,
        chronograph: Chronograph | None = None,
    ) -> _cap.CapRisk:
        """The chance that one shot, or any of several, breaks a velocity or an energy cap.

        Parameters
        ----------
        cap : Quantity, str, or a sequence of these [m/s or J]
            As in `cap_risk.cap_risk`.
        shots : int [-]
            Shots still to fire.
        level, confidence : float [-]
            As in `cap_risk.cap_risk`.
        chronograph : Chronograph or None [-]
            As in `cap_risk.cap_risk`.

        Returns
        -------
        CapRisk
            Chances, their limits and the mean to aim for [-], [m/s].

        Raises
        ------
        ValueError
            As `cap_risk.cap_risk`.
        """
        return _cap.cap_risk(self, cap, shots, level=level, confidence=confidence, chronograph=chronograph)

    def compare(
        self, other: StringData, level: float = 0.95, show: float = 0.02
    ) -> _comparison.StringComparison:
        """This string against another, by Welch's test.

        Parameters
        ----------
        other : ChronoString [m/s]
            The second string.
        level : float [-]
            Confidence.
        show : float [-]
            Relative difference for which the shots needed are given; 0.02 is 2 %.

        Returns
        -------
        StringComparison
            Difference, interval, and how many shots would show one [m/s].

        Raises
        ------
        ValueError
            A level or a difference outside its range.
        """
        return _comparison.compare(self, other, level, show)
