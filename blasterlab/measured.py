"""What a builder can measure in place of a value that the equations ask for, read into that value.

What it is for: installed length for preload, coils as counted or by pitch, a rate from readings on a scale,
the stroke from tube and plunger.  What it leaves out: values that nobody measured (``assumed``).

References
----------
Budynas & Nisbett, *Shigley's Mechanical Engineering Design*, 9th ed., 2011, Table 10-1 (coils, pitch, ends).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.parts import coil
from blasterlab.parts.spring_rate import rate_from_readings, read_readings
from blasterlab.units import Quantity


class Way(NamedTuple):
    """A key that gives another one of its section, the keys that it needs for that, and how."""

    gives: str
    needs: tuple[str, ...]
    rule: Callable[..., Any]


def _less(long: Any, key: str, short: Any, name: str, what: str, cause: str) -> Quantity:
    """What is left of a length when a measured one is taken off it [mm]."""
    whole, part = units.si(long, "length", key), units.si_in(short, "length", name, 0.0, 5.0)
    if part > whole * (1.0 + 1e-9):
        must = f"at most {what}, {units.show(whole, 'length')}"
        raise units.UnitError(fault(name, units.show(part, "length"), must, cause))
    return units.quantity(round(1e3 * max(whole - part, 0.0), 9), "mm")


def _preload(installed: Any, free: Any) -> Quantity:
    cause = 'a loose spring has none; give gap = "5 mm" for what it is short of'
    return _less(free, "free_length", installed, "installed_length", "the free length", cause)


def _stroke(plunger: Any, tube: Any) -> Quantity:
    return _less(tube, "tube_length", plunger, "plunger_length", "the tube", "the part of it inside the tube")


def _counted(total: Any, ends: Any) -> float:
    count = units.si_in(total, "number", "total_coils", 1.0, 1000.0, "wire end to wire end")
    return float(coil.active_coils(count, ends))


def _pitched(pitch: Any, free: Any, wire: Any, ends: Any) -> float:
    d, long = units.si(wire, "length", "wire_diameter"), units.si(free, "length", "free_length")
    step = units.si_in(
        pitch, "length", "pitch", d, long, "coil to coil of the free spring, ten coils over ten"
    )
    return float(coil.active_from_pitch(long, step, d, ends))


def _weighed(readings: Any, free: Any) -> Quantity:
    """The rate from the readings alone; one reading needs the free length too."""
    lines = readings if isinstance(readings, list) else [readings]
    if not all(isinstance(line, str) for line in lines):
        raise units.UnitError(
            fault("readings", shown(readings), 'lines such as ["120 mm, 418 g", "90 mm, 2 kg"]')
        )
    pairs = read_readings("\n".join(lines))
    return rate_from_readings(pairs, free if len(pairs) == 1 else None).rate


#: By kind of part: key -> what it gives.
WAYS: dict[str, dict[str, Way]] = {
    "spring": {
        "installed_length": Way("preload", ("free_length",), _preload),
        "total_coils": Way("active_coils", ("ends",), _counted),
        "pitch": Way("active_coils", ("free_length", "wire_diameter", "ends"), _pitched),
        "readings": Way("rate", ("free_length",), _weighed),
    },
    "chamber": {"plunger_length": Way("stroke", ("tube_length",), _stroke)},
}


def ways(name: str) -> dict[str, Way]:
    """What can be measured of a part, by key [-]; the part by name, such as ``"springs[1]"``."""
    return WAYS.get("spring" if name.startswith("spring") else name, {})


def read(name: str, given: Mapping[str, Any], known: Mapping[str, Any], faults: list[str]) -> dict[str, Any]:
    """A part's values with each measured one in place of the value that it gives.

    Parameters
    ----------
    name : str [-]
        The part's name in messages.
    given : mapping of str to object [-]
        Values by key, as in the text.
    known : mapping of str to object [-]
        Values that stand where `given` has none.
    faults : list of str [-]
        Extended in place.

    Returns
    -------
    dict of str to object
        Values by the keys of the part alone [-].
    """
    result = dict(given)
    for key, way in ways(name).items():
        if key not in given:
            continue
        value = result.pop(key)
        if way.gives in result:
            faults.append(f"{name}.{key}: got {way.gives} as well; must be one of them")
            continue
        try:
            result[way.gives] = way.rule(value, *(given.get(need, known.get(need)) for need in way.needs))
        except ValueError as error:
            if not str(error).startswith(way.needs):  # a fault of what it needs is said where that is read
                faults.append(f"{name}.{'' if str(error).startswith(key) else f'{key}, '}{error}")
    return result
