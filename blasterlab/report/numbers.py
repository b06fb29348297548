"""Numbers in words: chances, p values, confidence, and values that keep their digits.

What it is for: the one way in which each kind of number is written, in sentences, tables, captions and
panels.  What it leaves out: the sentences.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.units import Quantity

#: What a range rests on, by the code of its source.
WHEN = {"prior": "before any chronograph", "strings": "after your strings"}


def chance(p: float) -> str:
    """A chance in words that do not promise too much.

    Parameters
    ----------
    p : float [-]
        0 to 1.

    Returns
    -------
    str
        Such as ``"3.2 %"``, ``"below 0.01 %"``, ``"above 99.9 %"`` [-].

    Examples
    --------
    >>> chance(0.0321), chance(0.321), chance(0.9932), chance(1e-9), chance(0.99999)
    ('3.2 %', '32 %', '99.3 %', 'below 0.01 %', 'above 99.9 %')
    """
    if p < 1e-4:
        return "below 0.01 %"
    if p > 0.999:
        return "above 99.9 %"
    if p < 0.0995:
        return f"{100 * p:.2g} %"
    return f"{100 * p:.{0 if p < 0.99 else 1}f} %"


def p_value(p: float) -> str:
    """A p value, and how often chance alone does as much.

    Parameters
    ----------
    p : float [-]
        0 to 1.

    Returns
    -------
    str
        Such as ``"p = 0.048 (1 in 20 by chance)"`` [-].

    Examples
    --------
    >>> p_value(0.048), p_value(0.006), p_value(0.8)
    ('p = 0.048 (1 in 20 by chance)', 'p = 0.006 (1 in 200 by chance)', 'p = 0.8 (mostly chance)')
    """
    if p < 1e-4:
        return "p < 0.0001 (less than 1 in 10 000 by chance)"
    if p > 0.4:
        return f"p = {p:.2g} (mostly chance)"
    rarity = 1.0 / p
    power = 10 ** math.floor(math.log10(rarity))
    return f"p = {p:.2g} (1 in {round(rarity / power) * power} by chance)"


def sentence(words: str) -> str:
    """Words as a sentence: a capital first and one full stop at the end; of nothing, nothing."""
    return f"{words[:1].upper()}{words[1:].rstrip('.')}." if words else ""


def share(part: float) -> str:
    """A part of a whole, such as ``"44 %"``, no unit of its own."""
    return f"{100 * part:.0f} %"


def confidence(level: float) -> str:
    """A confidence level, such as ``"95 %"``, no unit of its own."""
    return f"{100 * level:.4g} %"


def kept(value: Quantity | float, kind: str, digits: int = 4) -> str:
    """A measured or computed value in the chosen unit set, its last digits written also where they are zero.

    Parameters
    ----------
    value : Quantity, or float [SI]
        One value.
    kind : str [-]
        A name in `units.KINDS`.
    digits : int [-]
        Significant digits, 1 to 15.

    Returns
    -------
    str
        Number and unit [-].

    Examples
    --------
    >>> kept(54.1, "speed"), kept(9.99999, "speed", 3), kept(0.0, "speed")
    ('54.10 m/s', '10.0 m/s', '0 m/s')
    """
    shown = units.show(value, kind, digits)
    number, gap, unit = shown.partition(" ")
    exact = float(number.rstrip("°"))
    if exact == 0.0 or abs(exact) >= 10**digits or "e" in number:
        return shown
    return f"{exact:#.{digits}g}".rstrip(".") + number[len(number.rstrip("°")) :] + gap + unit


def as_typed(value: Quantity, kind: str) -> str:
    """A value in the unit in which it was typed, and in the chosen unit set beside it where that is another.

    Parameters
    ----------
    value : Quantity [unit of `kind`]
        Such as a cap.
    kind : str [-]
        A name in `units.KINDS`.

    Returns
    -------
    str
        Such as ``"190 ft/s (57.91 m/s)"`` [-].

    Examples
    --------
    >>> as_typed(units.parse("190 fps", "speed"), "speed"), as_typed(units.parse("58 m/s", "speed"), "speed")
    ('190 fps (57.91 m/s)', '58 m/s')
    """
    if math.isclose(value.m_as(units.display_unit(kind)), value.magnitude, rel_tol=1e-12):
        return f"{value.magnitude:.6g} {units.show_unit(kind)}"
    return f"{typed(value)} ({kept(value, kind)})"


def typed(value: Quantity) -> str:
    """A speed or an energy in the unit in which it was typed, such as ``"190 fps"`` [-]."""
    return f"{value.magnitude:.6g} {units.unit_text(value.units).replace('*', '·')}"
