"""The caps of an event, as controls that any panel can have.

What it is for: `cap_controls`, and `cap_of` their values; a cap is said in the unit in which it was typed.
What it leaves out: the chance of breaking one, which a chronograph string tells.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from typing import Any

from blasterlab import units
from blasterlab.bench.cap_risk import SpeedCap, speed_cap
from blasterlab.bench.kept import recall
from blasterlab.panels.controls import Control
from blasterlab.units import Quantity, QuantityLike


class Typed(float):
    """A value in SI that keeps the quantity as it was typed."""

    typed: Quantity


class Cap(Control):
    """A cap: metres per second that can only be feet per second are asked about.

    A hand's cap is kept: it is the event's, whatever the build.
    """

    @property
    def remembered(self) -> str:
        """Under which name it is kept."""
        return f"{self.kind}_cap"

    def of_event(self) -> Cap:
        """The same, starting from the cap that a hand gave last, in any notebook, where it is in range."""
        with suppress(units.UnitError):
            if found := recall(self.remembered):
                self.read(found)
                return replace(self, default=found)
        return self

    def read(self, value: QuantityLike) -> float:
        """The value as a float that keeps what was typed [SI]; a UnitError as `Control.read` has it."""
        try:
            found = Typed(super().read(value))
        except units.UnitError as refused:
            refused.args = (self._asked(value, str(refused)),)
            raise
        found.typed = units.parse(value, self.kind, self.name)
        return found

    def _asked(self, value: QuantityLike, refused: str) -> str:
        """A refusal that asks whether feet were meant, where that would do."""
        try:
            typed = units.parse(value, "speed", self.name)
        except units.UnitError:
            return refused
        feet = units.quantity(typed.m, "ft/s").m_as("m/s")
        if str(typed.units) != "meter / second" or not self.reach[0] <= feet <= self.reach[1]:
            return refused
        return f"{refused}; ft/s meant? write {typed.m:g} ft/s"


def typed_cap(value: float, unit: str = "m/s") -> Quantity:
    """A cap's value [SI, in `unit`] as it was typed."""
    return value.typed if isinstance(value, Typed) else units.quantity(value, unit)


def cap_controls() -> list[Control]:
    """A speed cap and an energy cap, none at the start unless a hand gave one before."""
    why = "set by the event's rules; 0 for none"
    return [
        Cap("cap", "speed cap", "speed", "0 m/s", "150 m/s", "0 m/s", "0.5 m/s", why).of_event(),
        Cap(
            "energy_cap", "energy cap", "energy", "0 J", "20 J", "0 J", "0.05 J", f"of one dart, {why}"
        ).of_event(),
    ]


def cap_of(state: Mapping[str, Any], dart_mass: Quantity) -> SpeedCap | None:
    """The stricter of the caps in a panel's values, for a dart of this mass; None where there is none.

    Parameters
    ----------
    state : mapping of str to float [SI]
        With the values of `cap_controls`.
    dart_mass : Quantity [mass]
        By which an energy becomes a speed.

    Returns
    -------
    SpeedCap or None
        The speed that counts, and the caps as typed [m/s].

    Raises
    ------
    UnitError
        No such cap.
    """
    given = [(state["cap"], "m/s"), (state["energy_cap"], "J")]
    rules = [typed_cap(value, unit) for value, unit in given if value > 0.0]
    return speed_cap(rules, dart_mass) if rules else None
