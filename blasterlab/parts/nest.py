"""Several springs at once: nested (side by side, equal travel) or stacked (end to end, equal force).

What it is for: force, stored energy and clearances of up to a few springs.  What it leaves out: friction
between the springs, and whether each survives (``checks.spring_limits`` looks at each on its own).
Neighbouring nested springs should be wound with opposite hands, so that their coils cannot mesh.

References
----------
V. B. Bhandari, *Design of Machine Elements*, 3rd ed., 2010, ch. 10, concentric springs.
R. G. Budynas, J. K. Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, ch. 4 and 10.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.parts.spring import Spring
from blasterlab.units import Quantity, QuantityLike


def as_springs(springs: Spring | Sequence[Spring]) -> tuple[Spring, ...]:
    """One spring or a sequence of them as a tuple.

    Parameters
    ----------
    springs : Spring or sequence of Spring [-]
        At least one.

    Returns
    -------
    tuple of Spring
        The springs [-].

    Raises
    ------
    UnitError
        None at all, or something that is no spring.
    """
    result = (springs,) if isinstance(springs, Spring) else tuple(springs)
    if not result or not all(isinstance(spring, Spring) for spring in result):
        raise units.UnitError(fault("springs", shown(result), "one Spring or a list of them"))
    return result


def compressions(springs: Spring | Sequence[Spring], back: ArrayLike) -> np.ndarray:
    """Compression of each nested spring with the plunger drawn back from its front stop.

    c = max(0, preload + back - gap)

    Parameters
    ----------
    springs : Spring or sequence of Spring [-]
        The springs that act side by side.
    back : float or ndarray [m]
        Plunger travel back from the front stop, SI floats.

    Returns
    -------
    ndarray
        One row a spring, then the shape of `back` [m].
    """
    travel = np.asarray(back, dtype=float)
    rows = [values.preload + travel - values.gap for values in (s.si_values() for s in as_springs(springs))]
    return np.maximum(np.stack(rows), 0.0)


def rates(springs: Sequence[Spring]) -> np.ndarray:
    """The rate of each spring [N/m]."""
    return np.array([spring.si_values().rate for spring in springs])


def nested_force(springs: Spring | Sequence[Spring], back: QuantityLike) -> Quantity:
    """Force of springs side by side at a plunger travel back from the front stop.

    Parameters
    ----------
    springs : Spring or sequence of Spring [-]
        The springs that act side by side.
    back : Quantity or str [length]
        Travel back from the front stop.

    Returns
    -------
    Quantity
        Sum of the forces of the springs that are touched [N].

    Raises
    ------
    UnitError
        A travel at which one of them is solid.

    Examples
    --------
    >>> outer = Spring("1.4 mm", "20 mm", "150 mm", 20, preload="20 mm", measured_rate="500 N/m")
    >>> inner = Spring("1.0 mm", "14 mm", "120 mm", 20, gap="30 mm", measured_rate="300 N/m")
    >>> nested_force([outer, inner], "50 mm").m_as("N")
    41.0
    """
    every = as_springs(springs)
    squeezed = compressions(every, units.si(back, "length", "back"))
    for spring, amount in zip(every, squeezed, strict=True):
        _refuse_solid(spring, float(amount))
    return units.quantity(float(rates(every) @ squeezed), "N")


def nested_energy(
    springs: Spring | Sequence[Spring], from_back: QuantityLike, to_back: QuantityLike
) -> Quantity:
    """Work put into springs side by side between two plunger positions.

    Parameters
    ----------
    springs : Spring or sequence of Spring [-]
        The springs that act side by side.
    from_back, to_back : Quantity or str [length]
        Travel back from the front stop, first and last.

    Returns
    -------
    Quantity
        Energy stored on the way; negative when it is given back [J].

    Raises
    ------
    UnitError
        A travel at which one of them is solid.
    """
    every = as_springs(springs)
    ends = [units.si(from_back, "length", "from_back"), units.si(to_back, "length", "to_back")]
    squeezed = compressions(every, ends)
    for spring, amounts in zip(every, squeezed, strict=True):
        _refuse_solid(spring, float(amounts.max()))
    return units.quantity(0.5 * float(rates(every) @ (squeezed[:, 1] ** 2 - squeezed[:, 0] ** 2)), "J")


def beyond_solid(spring: Spring, compression: float) -> float:
    """How far a compression goes beyond the one at which all coils touch.

    Parameters
    ----------
    spring : Spring [-]
        The spring.
    compression : float [m]
        From the free length.

    Returns
    -------
    float
        0 up to solid, rounding aside [m].
    """
    values = spring.si_values()
    room = values.free_length - values.solid_length
    return compression - room if compression > room * (1 + 1e-9) else 0.0


def _refuse_solid(spring: Spring, compression: float) -> None:
    if beyond := beyond_solid(spring, compression):
        most = f"at most {units.show(compression - beyond, 'length')}"
        got = f"{units.show(compression, 'length')} of compression"
        raise units.UnitError(fault(spring.name, got, most, "there its coils touch"))


def radial_gaps(springs: Sequence[Spring]) -> list[Quantity]:
    """Room between neighbouring nested springs, from the outermost inwards, all of them solid.

    Half of (inner diameter of the outer spring - outer diameter of the inner one, grown as it goes solid).

    Parameters
    ----------
    springs : sequence of Spring [-]
        In any order.

    Returns
    -------
    list of Quantity
        One a pair of neighbours; negative when they do not fit into each other [m].
    """
    order = sorted(as_springs(springs), key=lambda s: -s.si_mean_diameter)
    return [(outer.inside_diameter - inner.grown_diameter) / 2 for outer, inner in pairwise(order)]


@dataclass(frozen=True)
class Stack:
    """Springs end to end: the same force in each, the compressions add.

    Attributes
    ----------
    rate : Quantity [N/m]
        1/k = sum of 1/k_i, while none is solid.
    free_length, solid_length : Quantity [m]
        Sums.
    mass : Quantity [kg]
        Sum.
    first_solid : Quantity [m]
        Compression at which the first of them is solid; the rate rises there.
    """

    rate: Quantity
    free_length: Quantity
    solid_length: Quantity
    mass: Quantity
    first_solid: Quantity
    _bends: tuple[np.ndarray, np.ndarray]

    def force(self, length: QuantityLike) -> Quantity:
        """Force at a length of the whole stack.

        Parameters
        ----------
        length : Quantity or str [length]
            From solid length upwards.

        Returns
        -------
        Quantity
            Zero beyond the free length [N].

        Raises
        ------
        UnitError
            A length below solid.
        """
        value, solid = units.si(length, "length", "length"), self.solid_length.m_as("m")
        if value < solid * (1 - 1e-9):
            least = f"at least {units.show(solid, 'length')}"
            raise units.UnitError(
                fault("length", units.show(value, "length"), least, "there the stack is solid")
            )
        squeezed, force = self._bends
        return units.quantity(float(np.interp(self.free_length.m_as("m") - value, squeezed, force)), "N")


def stacked(springs: Sequence[Spring]) -> Stack:
    """Springs end to end on one rod.

    Parameters
    ----------
    springs : sequence of Spring [-]
        In any order; their preloads and gaps are not used.

    Returns
    -------
    Stack
        Rate, lengths, mass, and the force at a length [N/m, m, m, kg, m].

    Examples
    --------
    >>> one = Spring("1.3 mm", "16 mm", "90 mm", 12, measured_rate="600 N/m")
    >>> stacked([one, one]).rate.m_as("N/m")
    300.0
    """
    values = [spring.si_values() for spring in as_springs(springs)]
    rooms = np.array([v.free_length - v.solid_length for v in values])
    each = rates(as_springs(springs))
    force = np.concatenate(([0.0], np.sort(rooms * each)))
    squeezed = np.minimum(force[:, None] / each, rooms).sum(axis=1)
    return Stack(
        units.quantity(float(1.0 / np.sum(1.0 / each)), "N/m"),
        units.quantity(sum(v.free_length for v in values), "m"),
        units.quantity(sum(v.solid_length for v in values), "m"),
        units.quantity(sum(v.mass for v in values), "kg"),
        units.quantity(float(squeezed[1]), "m"),
        (squeezed, force),
    )
