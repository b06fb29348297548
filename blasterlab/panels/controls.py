"""What a panel can be asked: values with units, choices and pasted text.

What it is for: `Control`, `Choice` and `Paste`, each of which reads and checks a value, and says it.  What it
leaves out: the widgets (``rows``), and what becomes of the values, which is the panel's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Self, TypeAlias

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.units import Quantity, QuantityLike

LONGEST_LABEL = 21  # characters, unit included, that fit beside a box; a longer label would be cut


@dataclass(frozen=True)
class Control:
    """A value with a unit: a number box and a slider that follow each other.

    Parameters
    ----------
    name : str [-]
        Dotted name, as in build text where it is one of those.
    label : str [-]
        In words; the unit is added.
    kind : str [-]
        A name in `units.KINDS`.
    low, high, default, step : str or Quantity [unit of `kind`]
        Range, first value and slider step.
    why : str [-]
        Why this range, or what the value means: one sentence of what its "?" opens.
    needs : tuple of str [-]
        Name and option of the choice with which alone the value counts; the control is greyed out without.
    fold : str [-]
        The heading under which it is folded away; "" leaves it in sight.
    assumed : bool [-]
        Nobody measured the first value: its box marks it until it is typed, be it with the same number.
    """

    name: str
    label: str
    kind: str
    low: QuantityLike
    high: QuantityLike
    default: QuantityLike
    step: QuantityLike
    why: str = ""
    needs: tuple[str, str] | None = None
    fold: str = ""
    assumed: bool = False

    @cached_property
    def reach(self) -> tuple[float, float, float]:
        """Lowest and highest value and slider step [SI].

        Raises
        ------
        UnitError
            An empty range, or a label too long to show.
        """
        step = units.parse(self.step, self.kind, self.name)
        zero = units.si(units.quantity(0.0, str(step.units)), self.kind)  # a step of 1 degC is no temperature
        low, high = (units.si(end, self.kind, self.name) for end in (self.low, self.high))
        if not (low < high and 0 < units.si(step, self.kind) - zero <= high - low):
            raise units.UnitError(f"{self.name}: the range {self.low} to {self.high} by {self.step} is empty")
        unit = "" if self.kind == "number" else f", {units.KINDS[self.kind].us}"
        if len(self.label + unit) > LONGEST_LABEL:
            raise units.UnitError(f"{self.name}: the label {self.label!r} is too long to show with its unit")
        return low, high, units.si(step, self.kind) - zero

    @property
    def span(self) -> str:
        """The range in words, in the chosen unit set."""
        return " to ".join(map(self.say, self.reach[:2]))

    @cached_property
    def labelled(self) -> Control:
        """The same control, which names itself in messages as the screen does."""
        return replace(self, name=self.label)

    def given(self, value: float) -> Quantity:
        """A value as read [SI], with its unit."""
        return units.quantity(value, units.KINDS[self.kind].si)

    def say(self, value: float) -> str:
        """A value as read [SI], in the chosen unit set."""
        return units.show(value, self.kind)

    def stretched(self) -> Control:
        """The same control with a range that is stretched, where needed, to hold the first value.

        Returns
        -------
        Control
            Its ends in the units in which they came [unit of `kind`].

        Raises
        ------
        UnitError
            An unreadable end or first value.
        """
        low, high, now = (
            units.parse(value, self.kind, self.name) for value in (self.low, self.high, self.default)
        )
        return replace(self, low=min(low, now), high=max(high, now), default=now)

    def read(self, value: QuantityLike) -> float:
        """The value as a float, checked against the range.

        Parameters
        ----------
        value : str or Quantity [unit of `kind`]
            As `units.parse` takes it.

        Returns
        -------
        float
            The value [SI].

        Raises
        ------
        UnitError
            Nothing, no such value, or outside the range.
        """
        low, high, _ = self.reach
        if isinstance(value, str) and not value.strip():
            raise units.UnitError(f"{self.name}: empty; type a number, {self.span}")
        result, slack = units.si(value, self.kind, self.name), 1e-9 * (high - low)
        if low - slack <= result <= high + slack:
            return min(max(result, low), high)
        return units.si_in(value, self.kind, self.name, low, high, self.why)  # refused, with the range


class _Words:
    """What a choice and pasted text have in common: their value is their text."""

    span = ""
    needs: tuple[str, str] | None = None
    assumed = False

    @property
    def labelled(self) -> Self:
        """The same: its label is no name."""
        return self

    def given(self, value: str) -> str:
        """A value as read."""
        return value


@dataclass(frozen=True)
class Choice(_Words):
    """One of a few names: a drop-down list.

    Parameters
    ----------
    name, label : str [-]
        As in `Control`.
    options : sequence of str [-]
        What can be chosen.
    default : str [-]
        What is chosen at first.
    why, fold : str [-]
        As in `Control`.
    remembered : str [-]
        Under which name a hand's choice is kept for the panels of other notebooks; "" keeps none.
    needs : tuple of str [-]
        As in `Control`.
    """

    name: str
    label: str
    options: Sequence[str]
    default: str
    why: str = ""
    fold: str = ""
    remembered: str = ""
    needs: tuple[str, str] | None = None

    def read(self, value: object) -> str:
        """The name, one of `options` or a UnitError."""
        if not isinstance(value, str) or value not in self.options:
            raise units.UnitError(fault(self.name, shown(value), f"one of {', '.join(self.options)}"))
        return value

    def say(self, value: str) -> str:
        """A value as read, in words."""
        return value


@dataclass(frozen=True)
class Paste(_Words):
    """A few lines of text: a box to paste into.

    Parameters
    ----------
    name, label, default, why : str [-]
        As in `Control`.
    rows : int [-]
        Lines that show.
    longest : int [-]
        Characters that are taken.
    fold : str [-]
        As in `Control`.
    """

    name: str
    label: str
    default: str
    why: str = ""
    rows: int = 6
    longest: int = 20_000
    fold: str = ""

    def read(self, value: object) -> str:
        """The text, or a UnitError where it is none or too long."""
        if not isinstance(value, str):
            raise units.UnitError(fault(self.name, shown(value), "text"))
        if len(value) > self.longest:
            most = f"at most {self.longest}"
            raise units.UnitError(fault(self.name, f"{len(value)} characters", most))
        return value

    def say(self, value: str) -> str:
        """What stands in for a text that cannot be read."""
        return "the text from before"


Asked: TypeAlias = Control | Choice | Paste
