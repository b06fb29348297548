"""Reading of a part's fields: each with its kind, its range and what the range is for.

What it is for: one way to read and refuse values before anything is computed from them, so that every part
reports all of its faults at once by dotted name.  Ranges are choices of the kit, wider than any blaster and
far from where arithmetic fails.  What it leaves out: what the values mean.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

from blasterlab import units
from blasterlab.faults import fault, shown


class Field(NamedTuple):
    """A field of a part: its kind, the ends of its range in SI, why, its name in the text, if it has another.

    An optional one may be None, which says that nothing was measured.
    """

    kind: str
    low: float
    high: float
    why: str = ""
    key: str = ""
    optional: bool = False


def read_fields(part: Any, name: str, fields: Mapping[str, Field], others: Iterable[str] = ()) -> None:
    """Parse and check the fields of a frozen dataclass in place, from its ``__post_init__``.

    Parameters
    ----------
    part : dataclass instance [-]
        Its attributes are replaced by parsed Quantities (plain floats for the kind ``number``); what they are
        in SI is kept beside them for `floats`.
    name : str [-]
        The part's name in messages.
    fields : mapping of str to Field [SI]
        What to read.
    others : iterable of str [-]
        Faults that were found already.

    Raises
    ------
    UnitError
        One message with a line for every fault.
    """
    wrong, floats = [], {}
    for field, spec in fields.items():
        given, dotted = getattr(part, field), f"{name}.{spec.key or field}"
        if given is None and spec.optional:
            continue
        try:
            floats[field] = units.si_in(given, spec.kind, dotted, spec.low, spec.high, spec.why)
            value = units.parse(given, spec.kind, dotted)
        except units.UnitError as error:
            wrong.append(str(error))
        else:
            object.__setattr__(part, field, floats[field] if spec.kind == "number" else value)
    refuse([*wrong, *others])
    object.__setattr__(part, "_si", floats)


def refuse(wrong: list[str]) -> None:
    """One UnitError with a line for every fault, whatever its units; nothing where there is none."""
    if wrong:
        raise units.UnitError("\n".join(wrong))


def choice_faults(value: object, name: str, choices: Iterable[str]) -> list[str]:
    """The fault of a word that is not on a short list, or none [-]."""
    known = list(choices)
    if isinstance(value, str) and value in known:
        return []
    return [fault(name, shown(value), " or ".join(f'"{word}"' for word in known))]


def switch_faults(value: object, name: str) -> list[str]:
    """The fault of a switch that is neither true nor false, or none [-]."""
    return [] if isinstance(value, bool) else [fault(name, shown(value), "true or false")]


def floats(part: Any) -> dict[str, float]:
    """The fields of a part that `read_fields` has read, as floats by their names.

    Parameters
    ----------
    part : dataclass instance [-]
        A checked part.

    Returns
    -------
    dict of str to float
        Values [SI]; do not change it.
    """
    found: dict[str, float] = part._si
    return found


def cylinder(part: Any, length: str) -> units.Quantity:
    """What a bore holds over one of the part's lengths [cm³]."""
    si = floats(part)
    return units.quantity(1e6 * math.pi / 4 * si["bore"] ** 2 * si[length], "cm^3")
