"""Tolerances carried through: the worst case, the likely one, and each dimension's share.

What it is for: gaps, squeezes and lengths that depend on several dimensions, each with its half width.  What
it leaves out: where the half widths come from (a standard, a maker's drawing, callipers).

References
----------
JCGM 100:2008, *Guide to the expression of uncertainty in measurement*, 5.1.2: root of the sum of squares.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product

from blasterlab import units
from blasterlab.parts.fit import MOST_TOLERANCE
from blasterlab.units import QuantityLike

Sizes = Mapping[str, float]


@dataclass(frozen=True)
class Span:
    """A number with the range that tolerances give it: the worst case, and the root of the sum of squares.

    Attributes
    ----------
    value : float [-]
        At the nominal sizes.
    worst : tuple of float [-]
        Least and greatest, everything at its worst.
    likely : tuple of float [-]
        Value less and plus the root of the sum of squares.
    shares : mapping of str to float [-]
        Each dimension's share of that sum.
    """

    value: float
    worst: tuple[float, float]
    likely: tuple[float, float]
    shares: Mapping[str, float]


def half_widths(base: Sizes, given: Mapping[str, QuantityLike]) -> dict[str, float]:
    """Half widths of lengths as floats; a dimension without one has 0 [m].

    Parameters
    ----------
    base : mapping of str to float [m]
        The dimensions.
    given : mapping of str to Quantity or str [length]
        Half widths by the same names.

    Returns
    -------
    dict of str to float
        One for each dimension [m].

    Raises
    ------
    UnitError
        An unknown name, or a half width of more than a quarter of its dimension.
    """
    unknown = [name for name in given if name not in base]
    if unknown:
        got = ", ".join(map(units.shown, unknown))
        raise units.UnitError(f"tolerances: got {got}; must be {', '.join(base)}")
    why = "a half width, well below the dimension itself"
    told = {
        name: units.si_in(half, "length", f"tolerance of {name}", 0.0, MOST_TOLERANCE * abs(base[name]), why)
        for name, half in given.items()
    }
    return dict.fromkeys(base, 0.0) | told


def span(rule: Callable[[Sizes], float], base: Sizes, half: Sizes) -> Span:
    """A rule at the nominal sizes, at every corner of the tolerances, and by the root of squares [SI]."""
    moved = [name for name, width in half.items() if width > 0.0]

    def at(names: list[str], signs: tuple[float, ...]) -> float:
        return rule({**base, **{n: base[n] + s * half[n] for n, s in zip(names, signs, strict=True)}})

    value = rule(base)
    corners = [at(moved, signs) for signs in product((-1.0, 1.0), repeat=len(moved))]
    parts = {name: (0.5 * (at([name], (1.0,)) - at([name], (-1.0,)))) ** 2 for name in moved}
    total = sum(parts.values())
    root = math.sqrt(total)
    shares = {name: part / total if total > 0.0 else 0.0 for name, part in parts.items()}
    low, high = min(corners), max(corners)
    return Span(value, (low, high), (max(value - root, low), min(value + root, high)), shares)


def stack(sizes: Mapping[str, QuantityLike], tolerances: Mapping[str, QuantityLike], plus: set[str]) -> Span:
    """A chain of lengths: those named in `plus` count up, the others down.

    Parameters
    ----------
    sizes : mapping of str to Quantity or str [length]
        The lengths by name.
    tolerances : mapping of str to Quantity or str [length]
        Their half widths; a missing one counts as 0.
    plus : set of str [-]
        Which lengths count up.

    Returns
    -------
    Span
        What is left over [m].

    Raises
    ------
    UnitError
        Lengths or half widths that cannot be read.

    Examples
    --------
    >>> left = stack({"hole": "20.0105 mm", "shaft": "19.9865 mm"},
    ...              {"hole": "0.0105 mm", "shaft": "0.0065 mm"}, {"hole"})
    >>> [round(1e6 * v, 1) for v in left.worst]
    [7.0, 41.0]
    """
    base = {name: units.si(value, "length", name) for name, value in sizes.items()}

    def left(v: Sizes) -> float:
        return sum(value if name in plus else -value for name, value in v.items())

    return span(left, base, half_widths(base, tolerances))
