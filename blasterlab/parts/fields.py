"""Reading of a part's fields: each with its kind, its range and what the range is for.

What it is for: one way to read and refuse values, so that every part reports all of its faults at once by
dotted name.  What it leaves out: what the values mean.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from blasterlab import units


class Field(NamedTuple):
    """A field of a part: its kind, the ends of its range in SI, and why."""

    kind: str
    low: float
    high: float
    why: str = ""


def read_fields(part: Any, name: str, fields: Mapping[str, Field]) -> None:
    """Parse and check the fields of a frozen dataclass in place, from its ``__post_init__``.

    Parameters
    ----------
    part : dataclass instance [-]
        Its attributes are replaced by parsed Quantities (plain floats for the kind ``number``); what they are
        in SI is kept beside them for `si_fields`.
    name : str [-]
        The part's name in messages.
    fields : mapping of str to Field [SI]
        What to read.

    Raises
    ------
    UnitError
        One message with a line for every fault.
    """
    wrong = []
    floats: dict[str, float] = {}
    for field, spec in fields.items():
        dotted = f"{name}.{field}"
        try:
            value = units.parse(getattr(part, field), spec.kind, dotted)
            floats[dotted] = units.si_in(value, spec.kind, dotted, spec.low, spec.high, spec.why)
        except units.UnitError as error:
            wrong.append(str(error))
            continue
        object.__setattr__(part, field, floats[dotted] if spec.kind == "number" else value)
    if wrong:
        raise units.UnitError("\n".join(wrong))
    object.__setattr__(part, "_si", floats)


def read_choice(value: Any, name: str, choices: tuple[str, ...]) -> str:
    """A word out of a short list.

    Parameters
    ----------
    value : str [-]
        What was read.
    name : str [-]
        The field's dotted name.
    choices : tuple of str [-]
        What would do.

    Returns
    -------
    str
        The choice [-].

    Raises
    ------
    UnitError
        Anything else.
    """
    if not isinstance(value, str) or value not in choices:
        raise units.UnitError(f"{name}: read {units.shown(value)}; would do: {', '.join(choices)}")
    return value


def read_switch(value: Any, name: str) -> bool:
    """A true or false.

    Parameters
    ----------
    value : bool [-]
        What was read.
    name : str [-]
        The field's dotted name.

    Returns
    -------
    bool
        The switch [-].

    Raises
    ------
    UnitError
        Anything but true or false.
    """
    if not isinstance(value, bool):
        raise units.UnitError(f"{name}: read {units.shown(value)}; would do: true or false")
    return value


def si_fields(part: Any) -> dict[str, float]:
    """The fields of a checked part as SI floats by dotted name.

    Parameters
    ----------
    part : dataclass instance [-]
        Read by `read_fields` before.

    Returns
    -------
    dict of str to float
        Values by dotted name [SI].
    """
    return dict(part._si)
