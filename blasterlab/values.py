"""What a build's values are in SI, what follows from several parts together, and what is impossible.

What it is for: the numbers behind a `Build`, for one build (floats) or many at once (arrays), by dotted name.
What it leaves out: a part's own checks (``parts``), text (``buildtext``).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.buildtext import MOST_SPRINGS, SPRING_KEYS
from blasterlab.parts import barrel as _barrel
from blasterlab.parts import chamber as _chamber
from blasterlab.parts import dart as _dart
from blasterlab.parts import losses as _losses
from blasterlab.parts.fields import si_fields
from blasterlab.parts.spring import _FIELDS as SPRING_KINDS
from blasterlab.parts.spring import Spring

#: A dart may exceed the bore by this share of its diameter: foam is squashed (common practice, no source).
SQUASH = 0.15


class Rule(NamedTuple):
    """Something impossible between parts: the field to blame, when, and the words for it, all in SI."""

    field: str
    broken: Callable[[Mapping[str, Any]], Any]
    words: Callable[[Mapping[str, Any]], str]


def _mm(value: Any) -> str:
    return units.show(float(value), "length")


def _room_rule(spring: str) -> Rule:
    """A spring must not go solid before the catch."""

    def broken(v: Mapping[str, Any]) -> Any:
        return v.get(f"{spring}.travel_to_solid", 1.0) < -1e-9

    def words(v: Mapping[str, Any]) -> str:
        solid, room = v[f"{spring}.solid_length"], v[f"{spring}.travel_to_solid"]
        return (
            f"goes solid {_mm(-room)} before the catch: at the catch only {_mm(solid + room)} is left, and "
            f"its coils touch at {_mm(solid)} (less preload or stroke, fewer coils, thinner wire)"
        )

    return Rule(f"{spring}.free_length", broken, words)


RULES = [
    Rule(
        "chamber.stroke",
        lambda v: v["chamber.stroke"] > v["chamber.tube_length"],
        lambda v: f"read {_mm(v['chamber.stroke'])}; the tube is only {_mm(v['chamber.tube_length'])} long",
    ),
    Rule(
        "chamber.port_diameter",
        lambda v: v["chamber.port_diameter"] > v["chamber.bore"],
        lambda v: (
            f"read {_mm(v['chamber.port_diameter'])}; the bore that it opens from is {_mm(v['chamber.bore'])}"
        ),
    ),
    Rule(
        "dart.diameter",
        lambda v: v["dart.diameter"] - v["barrel.bore"] > SQUASH * v["dart.diameter"],
        lambda v: (
            f"read {_mm(v['dart.diameter'])}; it must slide in a bore of {_mm(v['barrel.bore'])}, and more "
            f"than {100 * SQUASH:.0f} % of squash jams (is one of them a radius, or in another unit?)"
        ),
    ),
    Rule(
        "barrel.bore",
        lambda v: v["barrel.bore"] > 2.0 * v["dart.diameter"],
        lambda v: (
            f"read {_mm(v['barrel.bore'])}; a dart of {_mm(v['dart.diameter'])} would rattle through it "
            "(is one of them a radius, or in another unit?)"
        ),
    ),
    *(_room_rule(f"spring{index}") for index in range(MOST_SPRINGS)),
]


def spring_si(spring: Spring, index: int) -> dict[str, float]:
    """What the shot needs of a spring, as SI floats named ``spring0.rate`` and so on.

    Parameters
    ----------
    spring : Spring [-]
        A checked spring.
    index : int [-]
        Its place, 0 to 2.

    Returns
    -------
    dict of str to float
        rate, mass, solid_length, free_length, preload, gap [SI].
    """
    return {f"spring{index}.{key}": value for key, value in spring.si_values()._asdict().items()}


PART_SI: dict[str, Callable[[Any], dict[str, float]]] = {
    "chamber": si_fields,
    "barrel": si_fields,
    "dart": si_fields,
    "losses": lambda part: (
        si_fields(part)
        | {
            "losses.gas_inertia": float(part.gas_inertia),
            "losses.air_ahead": float(part.air_ahead),
            "losses.wall_heat": float(part.wall_heat == "conduction"),
        }
    ),
    "air": lambda part: {
        "air.temperature": part.si[0],
        "air.pressure": part.si[1],
        "air.gas_constant": float(part.gas_constant.magnitude),
    },
}


#: Every dimensional or numeric name's kind of unit; spring names without their place.
KIND_OF: dict[str, str] = {
    f"{part}.{name}": field.kind
    for part, fields in (
        ("chamber", _chamber.FIELDS),
        ("barrel", _barrel.FIELDS),
        ("dart", _dart.FIELDS),
        ("losses", _losses.FIELDS),
    )
    for name, field in fields.items()
}
KIND_OF |= {
    f"spring.{key}": SPRING_KINDS[field] for key, field in SPRING_KEYS.items() if field in SPRING_KINDS
}
KIND_OF |= {"spring.active_coils": "number", "air.temperature": "temperature", "air.pressure": "pressure"}
KIND_OF["air.relative_humidity"] = "number"


def kind_of(name: str) -> str | None:
    """The kind of unit of a dotted name, None for words and switches.

    Parameters
    ----------
    name : str [-]
        Such as ``"barrel.length"`` or ``"springs[1].preload"``.

    Returns
    -------
    str or None
        A name in `blasterlab.units.KINDS` [-].
    """
    return KIND_OF.get(re.sub(r"^springs\[\d\]", "spring", name))


def derive(values: Mapping[str, Any]) -> dict[str, Any]:
    """Add what follows from several parts: each spring's compression at the catch and its room before solid.

    Parameters
    ----------
    values : mapping of str to float or ndarray [SI]
        By dotted name, from the parts.

    Returns
    -------
    dict of str to float or ndarray
        The same with ``springN.catch_compression`` and ``springN.travel_to_solid`` added [SI].
    """
    result = dict(values)
    for n in range(MOST_SPRINGS):
        if f"spring{n}.rate" in result:
            travel = result[f"spring{n}.preload"] + result["chamber.stroke"] - result[f"spring{n}.gap"]
            squeeze = np.maximum(travel, 0.0) if isinstance(travel, np.ndarray) else max(travel, 0.0)
            result[f"spring{n}.catch_compression"] = squeeze
            result[f"spring{n}.travel_to_solid"] = (
                result[f"spring{n}.free_length"] - squeeze - result[f"spring{n}.solid_length"]
            )
    return result
