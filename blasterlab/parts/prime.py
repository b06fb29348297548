"""The prime: what the hand feels while it draws the plunger back to the catch.

What it is for: force along the stroke, its peak, the work, and how much of it is stored.  What it leaves
out: the air that is drawn in through the barrel (slow priming), breakaway of the seal, the weight of the
parts, and how a hand holds the handle.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from blasterlab import units
from blasterlab.faults import fault
from blasterlab.parts.nest import as_springs, beyond_solid, compressions, rates
from blasterlab.parts.spring import Spring
from blasterlab.tables import pd
from blasterlab.units import Quantity, QuantityLike

_POINTS = 101


@dataclass(frozen=True)
class Prime:
    """The pull from the front stop to the catch.

    Attributes
    ----------
    peak_force : Quantity [N]
        Largest force of the hand, at the catch.
    start_force : Quantity [N]
        Force as the plunger leaves the front stop.
    work : Quantity [J]
        Work of the hand.
    stored : Quantity [J]
        What of it is in the springs.
    stored_share : float [-]
        Stored over work; the rest is friction.
    hand_travel : Quantity [m]
        Travel of the hand, ratio times the stroke.
    """

    peak_force: Quantity
    start_force: Quantity
    work: Quantity
    stored: Quantity
    stored_share: float
    hand_travel: Quantity
    _columns: dict[str, np.ndarray]

    @cached_property
    def curve(self) -> pd.DataFrame:
        """Force along the pull: back_m, hand_m, spring_force_N, hand_force_N; 101 rows."""
        return pd.DataFrame(self._columns)


def prime(
    springs: Spring | Sequence[Spring],
    stroke: QuantityLike,
    seal_friction: QuantityLike = "0 N",
    ratio: float = 1.0,
    linkage_efficiency: float = 1.0,
) -> Prime:
    """The pull that draws the plunger back to the catch.

    F_hand = (F_springs + F_seal) / (ratio * efficiency), over ratio times the stroke.

    Parameters
    ----------
    springs : Spring or sequence of Spring [-]
        One spring, or nested springs.
    stroke : Quantity or str [length]
        Plunger travel from front stop to catch.
    seal_friction : Quantity or str [force]
        Running friction of the seal.
    ratio : float [-]
        Hand travel over plunger travel, 0.1 to 20: 1 for a direct pull, more for a lever or a pump.
    linkage_efficiency : float [-]
        0.2 to 1; a direct pull has 1.

    Returns
    -------
    Prime
        Peak, work, stored share and curve.

    Raises
    ------
    UnitError
        A value out of range, or a spring that is solid before the catch.

    Notes
    -----
    Energy and work are exact (each spring is linear), the curve is sampled.

    Examples
    --------
    >>> spring = Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm", measured_rate="400 N/m")
    >>> pull = prime(spring, "80 mm", seal_friction="4 N")
    >>> round(pull.peak_force.m_as("N"), 9), round(pull.work.m_as("J"), 9)
    (48.0, 2.56)
    """
    every = as_springs(springs)
    length = units.si_in(stroke, "length", "stroke", 1e-4, 2.0, "plunger travel")
    friction = units.si_in(seal_friction, "force", "seal_friction", 0.0, 1e4, "running friction of the seal")
    lever = units.si_in(ratio, "number", "ratio", 0.1, 20.0, "hand travel over plunger travel")
    good = units.si_in(linkage_efficiency, "number", "linkage_efficiency", 0.2, 1.0, "1 for a direct pull")
    back = np.linspace(0.0, length, _POINTS)
    squeezed = compressions(every, back)
    for spring, amount in zip(every, squeezed[:, -1].tolist(), strict=True):
        refuse_solid(spring, length, amount)
    each = rates(every)
    pull = each @ squeezed
    stored = float(0.5 * each @ (squeezed[:, -1] ** 2 - squeezed[:, 0] ** 2))
    work = (stored + friction * length) / good
    hand = (pull + friction) / (lever * good)
    return Prime(
        units.quantity(float(hand[-1]), "N"),
        units.quantity(float(hand[0]), "N"),
        units.quantity(work, "J"),
        units.quantity(stored, "J"),
        stored / work if work > 0 else 0.0,
        units.quantity(lever * length, "m"),
        {"back_m": back, "hand_m": lever * back, "spring_force_N": pull, "hand_force_N": hand},
    )


def most_stroke(spring: Spring) -> str:
    """The largest stroke that a spring's preload leaves until all coils touch, in words, rounded down.

    free length - solid length - preload + gap

    Parameters
    ----------
    spring : Spring [-]
        The spring.

    Returns
    -------
    str
        Such as ``"at most 114.9 mm with this preload"`` [-].

    Examples
    --------
    >>> most_stroke(Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm"))
    'at most 114.9 mm with this preload'
    """
    v = spring.si_values()
    most = float(units.display(v.free_length - v.solid_length - v.preload + v.gap, "length"))
    places = 3 if units.use_units() == "US customary" else 1
    down = math.floor(most * 10**places + 1e-6) / 10**places
    return f"at most {down:.{places}f} {units.show_unit('length')} with this preload"


def refuse_solid(spring: Spring, stroke: float, squeezed: float) -> None:
    """Refuse a stroke that presses a spring beyond solid.

    Parameters
    ----------
    spring : Spring [-]
        The spring.
    stroke : float [m]
        Plunger travel, for the message.
    squeezed : float [m]
        Compression of the spring at the catch.

    Raises
    ------
    UnitError
        A spring that is solid before the catch; says by how much, and which stroke would do.
    """
    if beyond := beyond_solid(spring, squeezed):
        solid = f"{spring.name} is solid {units.show(beyond, 'length')} before the catch"
        raise units.UnitError(fault("stroke", units.show(stroke, "length"), most_stroke(spring), solid))
