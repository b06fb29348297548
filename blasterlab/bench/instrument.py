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

from blasterlab import units
from blasterlab.fields import Field, read_fields
from blasterlab.units import Quantity, QuantityLike


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
    display_step : Quantity, str or None [m/s]
        The smallest step that the display shows, such as ``"1 ft/s"``; None leaves it out.

    Raises
    ------
    UnitError
        A value without a unit, of the wrong kind or outside its range.

    Notes
    -----
    A display that rounds to a step adds step/√12 (rectangular).  It is taken as shared by all readings: where
    the speeds spread less than a step, all are rounded the same way, and no average takes that out; where
    they spread over several steps, most of it is in the spread already, and the sum is a little cautious.

    References
    ----------
    JCGM 100:2008, eq. 10: u²(v) = (v u_L/L)² + (v² u_t/L)² + step²/12 (4.3.7, F.2.2.1).

    Examples
    --------
    >>> screens = Chronograph("100 mm", "0.5 mm", "1 us")
    >>> round(screens.uncertainty("40 m/s").m_as("m/s"), 5)
    0.20064
    """

    spacing: QuantityLike = "100 mm"
    spacing_uncertainty: QuantityLike = "0 mm"
    timing_uncertainty: QuantityLike = "0 s"
    display_step: QuantityLike | None = None

    def __post_init__(self) -> None:
        length = units.si_in(self.spacing, "length", "chronograph.spacing", 0.01, 10.0)
        fields = {
            "spacing": Field("length", 0.01, 10.0, "from screen to screen"),
            "spacing_uncertainty": Field("length", 0.0, 0.2 * length, "more than a fifth of the spacing"),
            "timing_uncertainty": Field("time", 0.0, 1e-3, "a standard uncertainty of one time"),
            "display_step": Field("speed", 0.0, 10.0, "smallest step of the display", optional=True),
        }
        read_fields(self, "chronograph", fields)

    @classmethod
    def within(cls, limits: QuantityLike, display_step: QuantityLike | None = None) -> Chronograph:
        """A chronograph that its maker states to be right within ± limits, taken as common to all readings.

        Parameters
        ----------
        limits : str or float [-]
            Such as ``"0.5 %"`` or 0.005; at most 30 %.
        display_step : Quantity, str or None [m/s]
            As for `Chronograph`.

        Returns
        -------
        Chronograph
            With u_L/L = limits/√3 [-].

        Raises
        ------
        UnitError
            Not a number from 0 to 0.3, or no such step.

        References
        ----------
        JCGM 100:2008, 4.3.7: limits without a distribution are taken as rectangular.

        Examples
        --------
        >>> round(Chronograph.within("1 %").common("40 m/s").m_as("m/s"), 4)
        0.2309
        """
        share = units.si_in(limits, "number", "limits", 0.0, 0.3, "limits are a fraction, such as 0.5 %")
        return cls("1 m", units.quantity(share / math.sqrt(3.0), "m"), display_step=display_step)

    @property
    def relative(self) -> float:
        """Common relative standard uncertainty u_L/L [-]."""
        return units.si(self.spacing_uncertainty, "length") / units.si(self.spacing, "length")

    @property
    def step_si(self) -> float:
        """The display's step, 0 when it is left out [m/s]."""
        return 0.0 if self.display_step is None else units.si(self.display_step, "speed")

    def common(self, speed: QuantityLike) -> Quantity:
        """The part that every reading shares: √((v u_L/L)² + step²/12).

        Parameters
        ----------
        speed : Quantity or str [m/s]
            A speed.

        Returns
        -------
        Quantity
            Standard uncertainty [m/s].
        """
        shared = units.si(speed, "speed", "speed") * self.relative
        return units.quantity(math.hypot(shared, self.step_si / math.sqrt(12.0)), "m/s")

    def alone(self, speed: QuantityLike) -> Quantity:
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

    def uncertainty(self, speed: QuantityLike) -> Quantity:
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


def shared_error(chronograph: Chronograph | None, speed: float, spread: float) -> float:
    """What every reading of a string shares, at a speed; all in SI units.

    Parameters
    ----------
    chronograph : Chronograph or None [-]
        None shares nothing.
    speed : float [m/s]
        Where it counts: the mean, or a cap.
    spread : float [m/s]
        Extreme spread of the string.

    Returns
    -------
    float
        Standard uncertainty [m/s].

    Raises
    ------
    ValueError
        A display step above the extreme spread: two readings that differ lie a step apart at least.
    """
    if chronograph is None:
        return 0.0
    if chronograph.step_si > spread * (1.0 + 1e-9):
        raise ValueError(
            f"chronograph.display_step: got {units.show(chronograph.step_si, 'speed')}; must be at most the "
            f"string's extreme spread, {units.show(spread, 'speed')}, as two readings that differ lie a "
            "step or more apart (a step in another unit, or another chronograph?)"
        )
    return float(chronograph.common(units.quantity(speed, "m/s")).m_as("m/s"))
