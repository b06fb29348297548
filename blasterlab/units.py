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
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, TypeAlias, TypeVar

import numpy as np
import pint

from blasterlab.faults import fault, shown


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

Shape = TypeVar("Shape", float, np.ndarray)


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
    Kind("length", "m", "mm", "in", '"36 mm" or "1 1/2 in"'),
    Kind("distance", "m", "m", "ft", '"10 m" or "33 ft"'),
    Kind("mass", "kg", "g", "g", '"0.9 g" or "14 grain"'),
    Kind("time", "s", "ms", "ms", '"8 ms" or "0.5 s"'),
    Kind("speed", "m/s", "m/s", "ft/s", '"40 m/s" or "130 ft/s"'),
    Kind("force", "N", "N", "lbf", '"40 N" or "9 lbf" or "4 kgf"'),
    Kind("energy", "J", "J", "ft*lbf", '"3 J" or "2 ft*lbf"'),
    Kind("pressure", "Pa", "kPa", "psi", '"101.325 kPa" or "14.7 psi"'),
    Kind("stress", "Pa", "MPa", "kpsi", '"900 MPa" or "130 kpsi"'),
    Kind("area", "m^2", "mm^2", "in^2", '"2 mm^2" or "0.003 in^2"'),
    Kind("volume", "m^3", "cm^3", "in^3", '"2 cm^3" or "2 ml" or "0.12 in^3"'),
    Kind("temperature", "K", "degC", "degF", '"20 degC" or "68 degF"'),
    Kind("density", "kg/m^3", "kg/m^3", "lb/ft^3", '"1.2 kg/m^3"'),
    Kind("spring rate", "N/m", "N/m", "lbf/in", '"600 N/m" or "3.4 lbf/in"'),
    Kind("pad rate", "N/m", "N/mm", "lbf/in", '"300 N/mm" or "1700 lbf/in"'),
    Kind("friction per pressure", "N/Pa", "N/kPa", "lbf/psi", '"0.02 N/kPa"'),
    Kind("energy per area", "J/m^2", "J/m^2", "J/m^2", '"2500 J/m^2"'),
    Kind("frequency", "Hz", "Hz", "Hz", '"80 Hz"'),
    Kind("acceleration", "m/s^2", "m/s^2", "ft/s^2", '"9.81 m/s^2"'),
    Kind("angle", "rad", "deg", "deg", '"30 deg" or "5 mrad"'),
    Kind("number", "dimensionless", "dimensionless", "dimensionless", "0.5"),
]
#: Every kind by its name.
KINDS: dict[str, Kind] = {kind.name: kind for kind in _KINDS}
#: The display sets, as a user chooses them; the last is metric but for these kinds.
UNIT_SETS = ("metric", "US customary", "mm and ft/s")
_IN_FEET = ("speed", "distance")
_LONGEST = 64
_SMALLER = "a smaller number (a digit too many, or another unit?)"
#: The units that values keep and are saved in; one typed in any other becomes the metric unit of its kind.
_WRITTEN = """m mm cm um km in ft yd mil thou kg g mg grain oz lb s ms us min m/s cm/s km/h kph ft/s fps
in/s mph N mN kN gf kgf ozf lbf J mJ kJ N*m ft*lbf in*lbf Pa hPa kPa MPa GPa bar mbar atm psi
kpsi ksi mmHg inHg N/mm^2 m^2 cm^2 mm^2 ft^2 in^2 m^3 cm^3 mm^3 l ml ul in^3 K degC degF
kg/m^3 g/cm^3 g/l lb/ft^3 N/m N/cm N/mm kN/m kgf/m kgf/cm kgf/mm gf/cm gf/mm lbf/in lbf/ft
ozf/in N/Pa N/kPa N/MPa N/bar lbf/psi J/m^2 J/cm^2 Hz kHz m/s^2 ft/s^2 rad mrad deg arcmin %
ppm"""

_NUMBER = re.compile(
    r"""\s*(?P<sign>[+-]?)\s*
        (?: (?:(?P<whole>\d{1,9})(?:\s+|-))?(?P<num>\d{1,9})\s*/\s*(?P<den>\d{1,9})
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
_HINT = "kgf and lbf are forces, kg and lb are masses"


def _refuse(name: str, value: object, kind: Kind, must: str, cause: str = "") -> UnitError:
    return UnitError(fault(name, shown(value), must, cause, kind.examples))


def _unitless(name: str, value: object, number: object, kind: Kind) -> UnitError:
    fit = dict.fromkeys((kind.metric, kind.us))  # the same unit once
    typed = " or ".join(f'"{number} {unit}"' for unit in fit)
    return UnitError(f"{name}: got {shown(value)}, which has no unit; try {typed}")


@lru_cache(maxsize=512)
def _unit(text: str) -> Any:
    """The pint unit behind a unit text; UnitError without a name when there is none."""
    text = _ALIASES.get(text, text)
    if not _UNIT_TEXT.match(text) or _TOWER.search(text):
        raise UnitError(f"{text!r} is not one")
    try:
        return ureg.parse_units(text)
    except Exception as error:  # pint reports unknown, malformed and tokenised text by many types
        raise UnitError(f"{text!r} is not one") from error


@lru_cache(maxsize=1024)
def _line(powers: Any, target: str) -> tuple[float, float] | None:
    """Slope and intercept from unit to unit (temperatures have an intercept); None between dimensions.

    The unit is given as pint keeps it inside, a container of powers: found again four times as quickly.
    """
    unit = ureg.Unit(powers)
    try:
        zero = Quantity(0.0, unit).m_as(_unit(target))
        return Quantity(1.0, unit).m_as(_unit(target)) - zero, zero
    except pint.PintError:
        return None


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

    Raises
    ------
    UnitError
        A unit that is not on the kit's list, which `parse` never returns.

    Examples
    --------
    >>> unit_text(parse("3 N/kPa", "friction per pressure").units)
    'N/kPa'
    """
    text = _written().get(getattr(units, "_units", None))
    if text is None:
        raise UnitError(fault("unit", str(units), "one of those that the kit writes", example=_WRITTEN))
    return text


@lru_cache(maxsize=1)
def _written() -> dict[Any, str]:
    """The text of each unit of the closed list, by what pint keeps inside."""
    return {_unit(text)._units: text for text in ("", *_WRITTEN.split())}


def parse(value: QuantityLike, kind: str, name: str = "value") -> Quantity:
    """Read a value with its unit, keeping the unit it came in where the kit can write it.

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
        The value in the unit that was written, or in the metric one of its kind [unit of `kind`].

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
    single = f"a single {kind}" + ("" if kind == "number" else " with its unit")
    if isinstance(value, str):
        quantity = _parse_text(value, wanted, name)
    elif isinstance(value, pint.Quantity):
        quantity = value if value._REGISTRY is ureg else Quantity(value.magnitude, str(value.units))
    elif isinstance(value, bool) or not isinstance(value, (int, float, np.integer, np.floating)):
        raise _refuse(name, value, wanted, single)
    elif kind == "number":
        quantity = Quantity(value, "dimensionless")
    elif isinstance(value, (int, np.integer)) or math.isfinite(value):
        raise _unitless(name, value, shown(value), wanted)
    else:
        raise _refuse(name, value, wanted, "a finite number with its unit")
    magnitude = quantity.magnitude
    if type(magnitude) is not float and (np.ndim(magnitude) or isinstance(magnitude, (complex, str))):
        raise _refuse(name, value, wanted, single)
    line = _line(quantity._units, wanted.si)
    if line is None:
        got = next((k.name for k in _KINDS if quantity.check(_unit(k.si).dimensionality)), "")
        hint = _HINT if {got, kind} == {"mass", "force"} else got and f"this is a {got}"
        raise _refuse(name, value, wanted, f"a {kind}", hint)
    try:
        finite = math.isfinite(line[1] + line[0] * float(magnitude))
    except OverflowError:
        raise _refuse(name, value, wanted, _SMALLER) from None
    if not finite:
        raise _refuse(name, value, wanted, "a finite number" if magnitude != magnitude else _SMALLER)
    try:
        return quantity if quantity._units in _written() else quantity.to(_unit(wanted.metric))
    except pint.PintError:  # a difference of temperatures
        raise _refuse(name, value, wanted, f"a {kind}") from None


def _parse_text(text: str, kind: Kind, name: str) -> Quantity:
    if len(text) > _LONGEST:
        raise _refuse(name, text, kind, f"at most {_LONGEST} characters", f"this has {len(text)}")
    if re.search(r"\d\s*,\s*\d", text):
        raise _refuse(name, text, kind, "written with a decimal point and no comma")
    match = _NUMBER.match(text)
    if not match:
        raise _refuse(name, text, kind, "a number" + (" and its unit" if kind.name != "number" else ""))
    part = match.groupdict()
    try:
        if part["den"]:
            magnitude = int(part["whole"] or 0) + int(part["num"]) / int(part["den"])
        else:
            magnitude = float(part["decimal"])
    except ZeroDivisionError:
        raise _refuse(name, text, kind, "a fraction that does not divide by zero") from None
    if part["sign"] == "-":
        magnitude = -magnitude
    if not part["unit"] and kind.name != "number":
        raise _unitless(name, text, text.strip(), kind)
    try:
        return Quantity(magnitude, _unit(part["unit"]))
    except UnitError as error:
        raise _refuse(name, text, kind, f"a {kind.name} in a unit known here", str(error)) from None


def si(value: QuantityLike, kind: str, name: str = "value") -> float:
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
    return zero + slope * float(quantity.magnitude)


def si_in(value: QuantityLike, kind: str, name: str, low: float, high: float, why: str = "") -> float:
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
        raise UnitError(fault(name, shown(value), f"{show(low, kind)} to {show(high, kind)}", why))
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
        One of `UNIT_SETS`; None only asks.

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
            raise UnitError(fault("units", shown(name), " or ".join(UNIT_SETS)))
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
    feet = _chosen[0] == "US customary" or (_chosen[0] == "mm and ft/s" and kind in _IN_FEET)
    return KINDS[kind].us if feet else KINDS[kind].metric


def display(value: Shape, kind: str) -> Shape:
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


def show(value: Quantity | float, kind: str, digits: int = 4) -> str:
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
