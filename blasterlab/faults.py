"""Faults: the one form in which the kit says that a value will not do.

What it is for: the sentence of every error about a value that somebody gave, short however long the value is.
What it leaves out: what is right, so any units.
"""

from __future__ import annotations

import difflib
import reprlib
from collections.abc import Iterable

_LONGEST = 64


class _Shortener(reprlib.Repr):
    """Shows two levels of nesting at the most, and no integer that Python refuses to print."""

    def repr_int(self, x: int, level: int) -> str:
        return repr(x) if x.bit_length() < 4000 else f"a whole number of {x.bit_length()} bits"


_shortener = _Shortener()
_shortener.maxlevel, _shortener.maxother = 2, 2 * _LONGEST
_shortener.maxstring = _shortener.maxlong = 2 * _LONGEST


def shown(value: object) -> str:
    """What was read, short enough for a message, however long or deeply nested it is.

    Parameters
    ----------
    value : object [-]
        Anything at all.

    Returns
    -------
    str
        Its text, at most 65 characters [-].

    Examples
    --------
    >>> shown({"a": {"b": {"c": 1}}})
    "{'a': {'b': {...}}}"
    """
    if isinstance(value, str):
        text = repr(value[: 2 * _LONGEST])
    elif hasattr(value, "magnitude") and hasattr(value, "units"):
        number = value.magnitude
        number = _shortener.repr(number) if isinstance(number, int) else number
        text = f"{number} {value.units:~C}".rstrip()
    elif type(value).__module__ == "numpy":
        text = str(value)
    else:
        text = _shortener.repr(value)
    return text if len(text) <= _LONGEST else text[:_LONGEST] + "…"


def fault(name: str, got: str, must: str, cause: str = "", example: str = "") -> str:
    """What is wrong with a value: ``name: got VALUE; must be WHAT (CAUSE); try EXAMPLE``.

    Parameters
    ----------
    name : str [-]
        The field's dotted name.
    got : str [-]
        What was read, as `shown` or with its unit.
    must : str [-]
        What the value must be.
    cause, example : str [-]
        The likely cause and what would do; left out where they are empty.

    Returns
    -------
    str
        One line [-].
    """
    text = f"{name}: got {got}; must be {must}" + (f" ({cause})" if cause else "")
    return text + (f"; try {example}" if example else "")


def guess(name: str, known: Iterable[str]) -> str:
    """A question for somebody who mistyped a name, or the names that there are.

    Parameters
    ----------
    name : str [-]
        What was read.
    known : iterable of str [-]
        What would do.

    Returns
    -------
    str
        The end of a message [-].
    """
    names = list(known)
    close = difflib.get_close_matches(name[:80], names, 1, 0.5)
    return f'did you mean "{close[0]}"?' if close else f"known are {', '.join(names[:12])}"
