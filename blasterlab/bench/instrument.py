"""The chronograph as an instrument: what part of its error averages out and what part does not.

What it is for: the uncertainty of a speed from two screens a distance apart, split into a part that all
readings share and a part of each reading alone.  What it leaves out: how a dart triggers a screen.

References
----------
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, sections 4.3.7 and 5.1.2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from blasterlab import units


@dataclass(frozen=True)
class Chronograph:
    """Two screens a distance apart: v = L/t.

    Parameters
    ----------
    spacing : Quantity or str [m]
        Distance L between the screens, 1 cm to 10 m.
    spacing_uncertainty : Quantity or str [m]
        Standard uncertainty of L; the same in every reading, so it does not average out.
    timing_uncertainty : Quantity or str [s]
        Standard uncertainty of one time; new in every reading, so it is part of the spread seen.

    Raises
    ------
    UnitError
        A value without a unit, of the wrong kind or outside its range.

    References
    ----------
    JCGM 100:2008, eq. 10: u²(v) = (v u_L/L)² + (v² u_t/L)².

    Examples
    --------
    >>> screens = Chronograph("100 mm", "0.5 mm", "1 us")
    >>> round(screens.uncertainty("40 m/s").m_as("m/s"), 5)
    0.20064
    """

    spacing: Any = "100 mm"
    spacing_uncertainty: Any = "0 mm"
    timing_uncertainty: Any = "0 s"

    def __post_init__(self) -> None:
        length = units.si_in(self.spacing, "length", "chronograph.spacing", 0.01, 10.0)
        own = "chronograph.spacing_uncertainty"
        units.si_in(
            self.spacing_uncertainty, "length", own, 0.0, 0.2 * length, "more than a fifth of the spacing"
        )
        own = "chronograph.timing_uncertainty"
        units.si_in(self.timing_uncertainty, "time", own, 0.0, 1e-3, "a standard uncertainty of one time")
        for name in ("spacing", "spacing_uncertainty"):
            object.__setattr__(self, name, units.parse(getattr(self, name), "length", name))
        object.__setattr__(self, "timing_uncertainty", units.parse(self.timing_uncertainty, "time", own))

    @classmethod
    def within(cls, limits: Any) -> Chronograph:
        """A chronograph that its maker states to be right within ± limits, taken as common to all readings.

        Parameters
        ----------
        limits : str or float [-]
            Such as ``"0.5 %"`` or 0.005; at most 30 %.

        Returns
        -------
        Chronograph
            With u_L/L = limits/√3 [-].

        Raises
        ------
        UnitError
            Not a number from 0 to 0.3.

        References
        ----------
        JCGM 100:2008, 4.3.7: limits without a distribution are taken as rectangular.

        Examples
        --------
        >>> round(Chronograph.within("1 %").common("40 m/s").m_as("m/s"), 4)
        0.2309
        """
        share = units.si_in(limits, "number", "limits", 0.0, 0.3, "limits are a fraction, such as 0.5 %")
        return cls("1 m", units.quantity(share / math.sqrt(3.0), "m"))

    @property
    def relative(self) -> float:
        """Common relative standard uncertainty u_L/L [-]."""
        return units.si(self.spacing_uncertainty, "length") / units.si(self.spacing, "length")

    def common(self, speed: Any) -> Any:
        """The part that every reading shares: v u_L/L.

        Parameters
        ----------
        speed : Quantity or str [m/s]
            A speed.

        Returns
        -------
        Quantity
            Standard uncertainty [m/s].
        """
        return units.quantity(units.si(speed, "speed", "speed") * self.relative, "m/s")

    def alone(self, speed: Any) -> Any:
        """The part of one reading alone: v² u_t/L.

        Parameters
        ----------
        speed : Quantity or str [m/s]
            A speed.

        Returns
        -------
        Quantity
            Standard uncertainty [m/s].
        """
        value = units.si(speed, "speed", "speed")
        time = units.si(self.timing_uncertainty, "time")
        return units.quantity(value**2 * time / units.si(self.spacing, "length"), "m/s")

    def uncertainty(self, speed: Any) -> Any:
        """Both parts together, for one reading.

        Parameters
        ----------
        speed : Quantity or str [m/s]
            A speed.

        Returns
        -------
        Quantity
            Standard uncertainty [m/s].
        """
        parts = self.common(speed).m_as("m/s"), self.alone(speed).m_as("m/s")
        return units.quantity(math.hypot(*parts), "m/s")
