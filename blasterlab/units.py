"""Units: the one pint registry, reading of values with units, and the two display sets.

What it is for: turn ``"1 1/2 in"``, ``"250 fps"`` or a pint ``Quantity`` into a checked value, and turn a
result back into words in the unit set that the user chose.  What it leaves out: any physics, and any
guessing.  A bare number for a dimensional value is refused, because "12" is a different blaster in inches.

References
----------
BIPM, *The International System of Units*, 9th ed., 2019; inch, pound and pound-force by the 1959
international yard and pound agreement (as in pint's definitions).
"""

from __future__ import annotations

import math
import re
import reprlib
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import pint


def _registry() -> pint.UnitRegistry:
    try:
        return pint.UnitRegistry(cache_folder=":auto:")
    except OSError:  # a read-only home: slower start, same registry
        return pint.UnitRegistry()


ureg: pint.UnitRegistry = _registry()
pint.set_application_registry(ureg)
if TYPE_CHECKING:
    Quantity: TypeAlias = pint.Quantity[Any]
else:
    Quantity = ureg.Quantity
#: What public functions take: a Quantity, text with a unit, or a number where there is no dimension.
QuantityLike: TypeAlias = "Quantity | str | float"


class UnitError(ValueError):
    """A value that cannot be taken: says which, what was read, and what would do."""


@dataclass(frozen=True)
class Kind:
    """A physical kind: its SI unit, its unit in each display set, and examples for messages."""

    name: str
    si: str
    metric: str
    us: str
    examples: str


_KINDS = [
    Kind("length", "m", "mm", "in", '"36 mm", "1 1/2 in"'),
    Kind("distance", "m", "m", "ft", '"10 m", "33 ft"'),
    Kind("mass", "kg", "g", "g", '"0.9 g", "14 grain"'),
    Kind("time", "s", "ms", "ms", '"8 ms", "0.5 s"'),
    Kind("speed", "m/s", "m/s", "ft/s", '"40 m/s", "130 ft/s"'),
    Kind("force", "N", "N", "lbf", '"40 N", "9 lbf", "4 kgf"'),
    Kind("energy", "J", "J", "ft*lbf", '"3 J", "2 ft*lbf"'),
    Kind("pressure", "Pa", "kPa", "psi", '"101.325 kPa", "14.7 psi"'),
    Kind("stress", "Pa", "MPa", "kpsi", '"900 MPa", "130 kpsi"'),
    Kind("area", "m^2", "mm^2", "in^2", '"2 mm^2", "0.003 in^2"'),
    Kind("volume", "m^3", "cm^3", "in^3", '"2 cm^3", "2 ml", "0.12 in^3"'),
    Kind("temperature", "K", "degC", "degF", '"20 degC", "68 degF"'),
    Kind("density", "kg/m^3", "kg/m^3", "lb/ft^3", '"1.2 kg/m^3"'),
    Kind("spring rate", "N/m", "N/m", "lbf/in", '"600 N/m", "3.4 lbf/in"'),
    Kind("friction per pressure", "N/Pa", "N/kPa", "lbf/psi", '"0.02 N/kPa"'),
    Kind("energy per area", "J/m^2", "J/m^2", "J/m^2", '"2500 J/m^2"'),
    Kind("frequency", "Hz", "Hz", "Hz", '"80 Hz"'),
    Kind("acceleration", "m/s^2", "m/s^2", "ft/s^2", '"9.81 m/s^2"'),
    Kind("angle", "rad", "deg", "deg", '"30 deg", "5 mrad"'),
    Kind("number", "dimensionless", "dimensionless", "dimensionless", "0.5"),
]
#: Every kind by its name.
KINDS: dict[str, Kind] = {kind.name: kind for kind in _KINDS}
#: The two display sets, as a user chooses them.
UNIT_SETS = ("metric", "US customary")
_LONGEST = 64
_TOO_LARGE = "it is too large a number (a digit too many, or another unit?)"

_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
        (?: (?P<whole>\d{1,9})(?:\s+|-)(?P<num>\d{1,9})\s*/\s*(?P<den>\d{1,9})
          | (?P<fnum>\d{1,9})\s*/\s*(?P<fden>\d{1,9})
          | (?P<decimal>(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?) )
        \s*(?P<unit>.*?)\s*$""",
    re.VERBOSE | re.DOTALL,
)
_UNIT_TEXT = re.compile(r"[A-Za-zµμ°²³·*/^()._ 0-9-]*$")
_TOWER = re.compile(r"\d\s*(\^|\*\*)|(\^|\*\*)\s*(\(|-?\s*\d{2})")  # 9^9^9^9 would be computed for ever
_ALIASES = {
    '"': "in",
    "″": "in",
    "''": "in",
    "inches": "in",
    "'": "ft",
    "%": "percent",
    "f/s": "ft/s",
    "cc": "cm^3",
}
_HINTS = {
    ("mass", "force"): "a force is wanted: kgf and lbf are forces, kg and lb are masses",
    ("force", "mass"): "a mass is wanted: kg and lb are masses, kgf and lbf are forces",
}


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
    elif isinstance(value, pint.Quantity):
        number = value.magnitude
        text = f"{_shortener.repr(number) if isinstance(number, int) else number} {value.units}"
    elif isinstance(value, (np.number, np.ndarray)):
        text = str(value)
    else:
        text = _shortener.repr(value)
    return text if len(text) <= _LONGEST else text[:_LONGEST] + "…"


def _refuse(name: str, value: object, kind: Kind, why: str) -> UnitError:
    return UnitError(f"{name}: read {shown(value)}; {why}. Would do: {kind.examples}")


@lru_cache(maxsize=512)
def _unit(text: str) -> Any:
    """The pint unit behind a unit text; UnitError without a name when there is none."""
    text = _ALIASES.get(text, text)
    if not _UNIT_TEXT.match(text) or _TOWER.search(text):
        raise UnitError(f"{text!r} is no unit")
    try:
        return ureg.parse_units(text)
    except Exception as error:  # pint reports unknown, malformed and tokenised text by many types
        raise UnitError(f"{text!r} is no unit that is known here") from error


@lru_cache(maxsize=1024)
def _line(powers: Any, target: str) -> tuple[float, float] | None:
    """Slope and intercept from unit to unit (temperatures have an intercept); None between dimensions.

    The unit is given as pint keeps it inside, a container of powers: found again four times as quickly.
    """
    unit = ureg.Unit(powers)
    if not unit.is_compatible_with(_unit(target)):
        return None
    zero = Quantity(0.0, unit).m_as(_unit(target))
    return Quantity(1.0, unit).m_as(_unit(target)) - zero, zero


def unit_text(units: object) -> str:
    """A unit as build text writes it (``mm``, ``N/kPa``, ``cm^3``, ``degC``), parsed back exactly.

    Parameters
    ----------
    units : pint Unit
        The unit to write [unit].

    Returns
    -------
    str
        Its text; "" for a plain number [-].

    Examples
    --------
    >>> unit_text(parse("3 N/kPa", "friction per pressure").units)
    'N/kPa'
    """
    text = format(units, "~C")
    return text.replace("**", "^").replace("Δ", "delta_").replace("°C", "degC").replace("°F", "degF")


def parse(value: object, kind: str, name: str = "value") -> Any:
    """Read a value with its unit, keeping the unit it came in.

    Parameters
    ----------
    value : Quantity or str [unit of `kind`]
        Text such as ``"36mm"``, ``"1 1/2 in"``, ``"250 fps"``, ``"20 degC"``; for the kind
        ``number`` a bare number will do.
    kind : str [-]
        A name in `KINDS`.
    name : str [-]
        The field's dotted name, for the message.

    Returns
    -------
    Quantity
        The value in the unit that was written [unit of `kind`].

    Raises
    ------
    UnitError
        A bare number, a decimal comma, an unknown unit, a wrong dimension, or a value that is not finite.

    Examples
    --------
    >>> round(parse("1 1/2 in", "length").m_as("mm"), 9)
    38.1
    >>> round(parse("250 fps", "speed").m_as("m/s"), 9)
    76.2
    """
    wanted = KINDS[kind]
    if isinstance(value, str):
        quantity = _parse_text(value, wanted, name)
    elif isinstance(value, pint.Quantity):
        quantity = value if value._REGISTRY is ureg else Quantity(value.magnitude, str(value.units))
    elif isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        got = "a table" if isinstance(value, dict) else type(value).__name__
        raise _refuse(name, value, wanted, f"a {kind} as text with a unit is wanted, not {got}")
    elif kind == "number":
        try:
            quantity = Quantity(float(value), "dimensionless")
        except OverflowError:
            raise _refuse(name, value, wanted, _TOO_LARGE) from None
    else:
        raise _refuse(name, value, wanted, f"a bare number has no unit, and a {kind} needs one")
    magnitude = quantity.magnitude
    if type(magnitude) is not float and (np.ndim(magnitude) or isinstance(magnitude, complex)):
        raise _refuse(name, value, wanted, "one single real value is wanted here")
    if _line(quantity._units, wanted.si) is None:
        got = next((k.name for k in _KINDS if quantity.check(_unit(k.si).dimensionality)), "something else")
        hint = _HINTS.get((got, kind), f"a {kind} is wanted")
        raise _refuse(name, value, wanted, f"that is a {got}; {hint}")
    try:
        finite = math.isfinite(magnitude)
    except OverflowError:
        raise _refuse(name, value, wanted, _TOO_LARGE) from None
    if not finite:
        raise _refuse(name, value, wanted, "it is not a finite number")
    return quantity


def _parse_text(text: str, kind: Kind, name: str) -> Any:
    if len(text) > _LONGEST:
        raise _refuse(name, text, kind, f"a value has at most {_LONGEST} characters, this one {len(text)}")
    if re.search(r"\d\s*,\s*\d", text):
        raise _refuse(name, text, kind, "write decimals with a point and no thousands mark, as in 12.5 mm")
    match = _NUMBER.match(text)
    if not match:
        raise _refuse(name, text, kind, "it does not start with a plain number")
    part = match.groupdict()
    try:
        if part["den"]:
            magnitude = int(part["whole"]) + int(part["num"]) / int(part["den"])
        elif part["fden"]:
            magnitude = int(part["fnum"]) / int(part["fden"])
        else:
            magnitude = float(part["decimal"])
    except ZeroDivisionError:
        raise _refuse(name, text, kind, "a fraction with a zero below the line") from None
    if part["sign"] == "-":
        magnitude = -magnitude
    if not part["unit"] and kind.name != "number":
        raise _refuse(name, text, kind, f"a bare number has no unit, and a {kind.name} needs one")
    try:
        return Quantity(magnitude, _unit(part["unit"]))
    except UnitError as error:
        raise _refuse(name, text, kind, str(error)) from None


def si(value: object, kind: str, name: str = "value") -> float:
    """Read a value with its unit as a float in SI; see `parse` for what is accepted.

    Parameters
    ----------
    value : Quantity or str [unit of `kind`]
        As in `parse`.
    kind : str [-]
        A name in `KINDS`.
    name : str [-]
        The field's dotted name, for the message.

    Returns
    -------
    float
        The value in the kind's SI unit [SI].

    Raises
    ------
    UnitError
        As in `parse`.

    Examples
    --------
    >>> si("20 degC", "temperature")
    293.15
    """
    quantity = parse(value, kind, name)
    slope, zero = _line(quantity._units, KINDS[kind].si) or (math.nan, 0.0)  # parse has refused all others
    result = zero + slope * float(quantity.magnitude)
    if not math.isfinite(result):
        raise _refuse(name, value, KINDS[kind], "it is not a finite number")
    return result


def si_in(value: object, kind: str, name: str, low: float, high: float, why: str = "") -> float:
    """Read a value as an SI float and check that it lies in a closed range.

    Parameters
    ----------
    value : Quantity or str [unit of `kind`]
        As in `parse`.
    kind, name : str [-]
        As in `parse`.
    low, high : float [SI]
        The range, ends included.
    why : str [-]
        The likely cause, added to the message.

    Returns
    -------
    float
        The value [SI].

    Raises
    ------
    UnitError
        As in `parse`, or outside the range.
    """
    result = si(value, kind, name)
    slack = 1e-12 * max(abs(low), abs(high))  # 0.7 cm is 7 mm, whatever the last digit says
    if not low - slack <= result <= high + slack:
        span = f"{show(Quantity(low, KINDS[kind].si), kind)} to {show(Quantity(high, KINDS[kind].si), kind)}"
        raise UnitError(f"{name}: read {shown(value)}; allowed is {span}" + (f" ({why})" if why else ""))
    return min(max(result, low), high)


def quantity(value: Any, unit: str) -> Quantity:
    """A Quantity of the kit's registry from a float or an array.

    Parameters
    ----------
    value : float or ndarray [unit]
        The magnitude, any shape.
    unit : str [-]
        Its unit.

    Returns
    -------
    Quantity
        Value with unit [unit].
    """
    return Quantity(value, _unit(unit))


_chosen = ["metric"]


def use_units(name: str | None = None) -> str:
    """Choose the display set once for everything that is printed or drawn.

    Parameters
    ----------
    name : str or None [-]
        ``"metric"`` or ``"US customary"``; None only asks.

    Returns
    -------
    str
        The set now in use [-].

    Raises
    ------
    UnitError
        A name that is no display set.
    """
    if name is not None:
        if name not in UNIT_SETS:
            raise UnitError(f"units: read {shown(name)}; would do: {' or '.join(UNIT_SETS)}")
        _chosen[0] = name
    return _chosen[0]


def display_unit(kind: str) -> str:
    """The unit text of a kind in the chosen display set.

    Parameters
    ----------
    kind : str [-]
        A name in `KINDS`.

    Returns
    -------
    str
        A unit text [-].
    """
    return KINDS[kind].metric if _chosen[0] == "metric" else KINDS[kind].us


def display(value: Any, kind: str) -> Any:
    """An SI float or array as a plain magnitude in the chosen display unit.

    Parameters
    ----------
    value : float or ndarray [SI]
        Any shape.
    kind : str [-]
        A name in `KINDS`.

    Returns
    -------
    float or ndarray
        Same shape [display unit].
    """
    line = _line(_unit(KINDS[kind].si)._units, display_unit(kind))
    slope, zero = line or (math.nan, 0.0)  # one dimension: never None
    return zero + slope * value


_PRETTY = {"mm^2": "mm²", "in^2": "in²", "cm^3": "cm³", "in^3": "in³", "m/s^2": "m/s²", "ft/s^2": "ft/s²",
           "kg/m^3": "kg/m³", "lb/ft^3": "lb/ft³", "J/m^2": "J/m²", "degC": "°C", "degF": "°F", "deg": "°",
           "ft*lbf": "ft·lbf", "dimensionless": ""}  # fmt: skip


def show_unit(kind: str) -> str:
    """The display unit of a kind in print (``mm²``, ``°C``), for labels.

    Parameters
    ----------
    kind : str [-]
        A name in `KINDS`.

    Returns
    -------
    str
        A printed unit [-].
    """
    unit = display_unit(kind)
    return _PRETTY.get(unit, unit)


def show(value: Any, kind: str, digits: int = 4) -> str:
    """A value in words in the chosen display set.

    Parameters
    ----------
    value : Quantity, or float [SI]
        One value.
    kind : str [-]
        A name in `KINDS`.
    digits : int [-]
        Significant digits, 1 to 15.

    Returns
    -------
    str
        Number and unit [-].

    Examples
    --------
    >>> show(0.036, "length")
    '36 mm'
    """
    number = float(display(si(value, kind) if isinstance(value, pint.Quantity) else value, kind))
    if 10**digits <= abs(number) < 1e15:
        text = f"{number:.0f}"
    else:
        text = f"{number:.{digits}g}"
    unit = show_unit(kind)
    return f"{text}{'' if unit in ('°', '') else ' '}{unit}"
