"""Wants: what a build must do, fit into and cost.

What it is for: the limits of a search, read once and held against each other.  What it leaves out: the
search (``search``).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from blasterlab import units
from blasterlab.bench.statistics import check_level
from blasterlab.checks.finding import SEVERITIES
from blasterlab.faults import fault, shown
from blasterlab.plan.stock import DAYS, StockError
from blasterlab.units import QuantityLike

#: A limit -> its kind of unit, and its range [SI].
KINDS = {
    "target": ("speed", 0.1, 400.0),
    "least": ("speed", 0.1, 400.0),
    "velocity_cap": ("speed", 0.1, 400.0),
    "energy_cap": ("energy", 1e-3, 1e3),
    "prime_force": ("force", 0.1, 1e4),
    "prime_work": ("energy", 1e-3, 1e3),
    "tube_diameter": ("length", 2e-3, 0.5),
    "overall_length": ("length", 1e-2, 5.0),
}
_AMOUNT = re.compile(r"\s*(\d+(?:\.\d*)?)\s*([A-Za-z]+)\s*$")


@dataclass(frozen=True)
class Wants:
    """What is wanted of a build; every limit may be left out, save one of the speeds.

    Attributes
    ----------
    target, least : Quantity or str or None [speed]
        Wanted muzzle velocity, met within a share of it; or the least that will do.
    within : float [-]
        That share, 0.001 to 0.5.
    velocity_cap, energy_cap : Quantity or str or None [speed, energy]
        Of an event, for single shots.
    confidence : float [-]
        Wanted chance that a shot keeps under both caps, with each of the darts.
    cap_darts : tuple of str [-]
        Darts of the stock, by name, with which the caps must hold beside the build's own.
    prime_force, prime_work : Quantity or str or None [force, energy]
        Most that the hand does in one prime.
    tube_diameter, overall_length : Quantity or str or None [length]
        Most outside diameter of the plunger tube; most length of plunger tube and barrel in one line.
    price, lead_time : str or None [-]
        Most, such as ``"40 EUR"`` for all parts together and ``"2 weeks"`` for the slowest of them.
    owned : tuple of str [-]
        What need not be ordered: names of parts in the stock, or kinds (``"tube"``), which the build at hand
        then keeps.
    gravest : str [-]
        The gravest finding of the checks that is accepted.

    Raises
    ------
    StockError
        Nothing wanted, wants that contradict each other, an unreadable price or lead time.
    UnitError
        A limit that cannot be read or is out of range.
    ValueError
        A confidence outside its range.
    """

    target: QuantityLike | None = None
    least: QuantityLike | None = None
    within: float = 0.03
    velocity_cap: QuantityLike | None = None
    energy_cap: QuantityLike | None = None
    confidence: float = 0.95
    cap_darts: tuple[str, ...] = ()
    prime_force: QuantityLike | None = None
    prime_work: QuantityLike | None = None
    tube_diameter: QuantityLike | None = None
    overall_length: QuantityLike | None = None
    price: str | None = None
    lead_time: str | None = None
    owned: tuple[str, ...] = ()
    gravest: str = "caution"

    def __post_init__(self) -> None:
        check_level(self.confidence)
        units.si_in(self.within, "number", "wants.within", 1e-3, 0.5, "a share of the target")
        if self.gravest not in SEVERITIES:
            must = f"one of {', '.join(SEVERITIES)}"
            raise StockError(fault("wants.gravest", shown(self.gravest), must))
        for name in ("cap_darts", "owned"):
            if isinstance(getattr(self, name), str):  # one name alone would be read letter by letter
                object.__setattr__(self, name, (getattr(self, name),))
        limits = self.limits()
        if not {"target", "least", "velocity_cap", "energy_cap"} & set(limits):
            raise StockError("wants: no speed is asked for; give target, least, velocity_cap or energy_cap")
        low = max(limits.get("least", 0.0), limits.get("target", 0.0) * (1.0 - self.within))
        for name, share in (("velocity_cap", 1.0), ("target", 1.0 + self.within)):
            if low > share * limits.get(name, math.inf):
                got, must = units.show(limits[name], "speed"), f"at least {units.show(low, 'speed')}"
                raise StockError(fault(f"wants.{name}", got, must, "another want asks for that much"))

    def limits(self) -> dict[str, float]:
        """The limits that are set, by name; price in its currency, lead time in days [SI].

        Returns
        -------
        dict of str to float
            Limits [SI].

        Raises
        ------
        UnitError
            A limit that cannot be read or is out of range.
        StockError
            A price or a lead time that cannot be read.
        """
        found = {
            name: units.si_in(getattr(self, name), kind, f"wants.{name}", low, high)
            for name, (kind, low, high) in KINDS.items()
            if getattr(self, name) is not None
        }
        if self.price is not None:
            found["price"] = self._amount("price", '"40 EUR"')[0]
        if self.lead_time is not None:
            days, unit = self._amount("lead_time", '"2 weeks"')
            if unit not in DAYS:
                raise StockError(fault("wants.lead_time", shown(self.lead_time), "in days or weeks"))
            found["lead_time"] = days * DAYS[unit]
        return found

    @property
    def currency(self) -> str:
        """The currency of the limit on the price; empty without one [-]."""
        return "" if self.price is None else self._amount("price", "")[1].upper()

    def _amount(self, name: str, example: str) -> tuple[float, str]:
        match = _AMOUNT.match(str(getattr(self, name)))
        if match is None:
            must = "a number and its unit"
            raise StockError(fault(f"wants.{name}", shown(getattr(self, name)), must, example=example))
        return float(match[1]), match[2]
