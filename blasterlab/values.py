"""What a build's values are in SI, what follows from several parts together, and what is impossible.

What it is for: the numbers behind a `Build`, for one build (floats) or many at once (arrays), by dotted name.
What it leaves out: a part's own checks (``parts``), text (``buildtext``).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from blasterlab import air, units
from blasterlab.air import Air
from blasterlab.assumed import FIELD_OF, general
from blasterlab.buildtext import MOST_SPRINGS, Part
from blasterlab.faults import fault
from blasterlab.fields import floats
from blasterlab.parts.losses import SWITCHES, Losses
from blasterlab.parts.spring import Spring

#: A dart may exceed the bore by this share of its diameter: foam is squashed (common practice, no source).
SQUASH = 0.15
#: Air between two parts that meet is no thinner than this over the bore, m (own choice: a hundredth of a
#: millimetre; below, the pressure there answers faster than a shot can be followed and balanced).
THINNEST = 1e-5
#: A dart weighs no less, over its bore, than office paper, kg/m^2 (grammage as in ISO 536; own choice): what
#: is lighter follows the air's every breath.
LIGHTEST = 0.08
_UNIT = "is one of them a radius, or in another unit?"


class Rule(NamedTuple):
    """Something impossible between parts: the field to blame, when, what it must be and why, all in SI."""

    field: str
    broken: Callable[[Mapping[str, Any]], Any]
    must: Callable[[Mapping[str, Any]], tuple[str, str]]
    kind: str = "length"  # of the field

    def fault(self, values: Mapping[str, Any], name: str) -> str:
        """The sentence on broken values [SI], with the field as the build text names it."""
        return fault(name, units.show(float(values[self.field]), self.kind), *self.must(values))


def _mm(value: Any) -> str:
    return units.show(float(value), "length")


def _disc(bore: Any) -> Any:
    return 0.25 * math.pi * bore * bore


def _thin_rule(part: str) -> Rule:
    """The dead volume of a part is a layer of air that is not too thin."""
    field, bore = f"{part}.dead_volume", f"{part}.bore"

    def least(v: Mapping[str, Any]) -> Any:
        return THINNEST * _disc(v[bore])

    def must(v: Mapping[str, Any]) -> tuple[str, str]:
        volume = units.show(float(least(v)), "volume")
        return f"at least {volume} in a bore of {_mm(v[bore])}", f"a layer of {_mm(THINNEST)}"

    return Rule(field, lambda v: v[field] < 0.999 * least(v), must, "volume")


def _room_rule(spring: str) -> Rule:
    """A spring must not go solid before the catch."""

    def broken(v: Mapping[str, Any]) -> Any:
        return v.get(f"{spring}.travel_to_solid", 1.0) < -1e-9

    def must(v: Mapping[str, Any]) -> tuple[str, str]:
        short, solid = -v[f"{spring}.travel_to_solid"], _mm(v[f"{spring}.solid_length"])
        return (
            f"at least {_mm(short)} longer",
            f"the spring is solid at {solid}, {_mm(short)} before the catch; or use less preload or stroke, "
            "fewer coils, thinner wire",
        )

    return Rule(f"{spring}.free_length", broken, must)


RULES = [
    Rule(
        "chamber.stroke",
        lambda v: v["chamber.stroke"] > v["chamber.tube_length"],
        lambda v: (f"at most {_mm(v['chamber.tube_length'])}", "the tube is no longer"),
    ),
    Rule(
        "chamber.port_diameter",
        lambda v: v["chamber.port_diameter"] > v["chamber.bore"],
        lambda v: (f"at most {_mm(v['chamber.bore'])}", "the bore that it opens from"),
    ),
    Rule(
        "dart.diameter",
        lambda v: v["dart.diameter"] - v["barrel.bore"] > SQUASH * v["dart.diameter"],
        lambda v: (
            f"at most {_mm(v['barrel.bore'] / (1.0 - SQUASH))} in a bore of {_mm(v['barrel.bore'])}, since "
            f"more than {100 * SQUASH:.0f} % of squash jams",
            _UNIT,
        ),
    ),
    Rule(
        "barrel.bore",
        lambda v: v["barrel.bore"] > 2.0 * v["dart.diameter"],
        lambda v: (
            f"at most {_mm(2.0 * v['dart.diameter'])}, or a dart of {_mm(v['dart.diameter'])} would rattle",
            _UNIT,
        ),
    ),
    Rule(
        "dart.mass",
        lambda v: v["dart.mass"] < 0.999 * LIGHTEST * _disc(v["barrel.bore"]),
        lambda v: (
            f"at least {units.show(float(LIGHTEST * _disc(v['barrel.bore'])), 'mass')} in a bore of "
            f"{_mm(v['barrel.bore'])}, the weight of a disc of paper",
            _UNIT,
        ),
        "mass",
    ),
    _thin_rule("chamber"),
    _thin_rule("barrel"),
    Rule(
        "losses.blowby_area",
        lambda v: v["losses.blowby_area"] > _disc(v["barrel.bore"]),
        lambda v: (
            f"at most {units.show(float(_disc(v['barrel.bore'])), 'area')}, the whole bore of "
            f"{_mm(v['barrel.bore'])}",
            _UNIT,
        ),
        "area",
    ),
    *(_room_rule(f"spring{index}") for index in range(MOST_SPRINGS)),
]


#: The parts beside the springs that the shot needs.
SHOT_PARTS = ("chamber", "barrel", "dart", "losses", "air")


def part_si(name: str, part: Part) -> dict[str, float]:
    """What the shot needs of a part, as floats by dotted name, ``spring0.rate`` for ``springs[0]``.

    Parameters
    ----------
    name : str [-]
        The part's name in a build.
    part : part [-]
        A checked part.

    Returns
    -------
    dict of str to float
        Values [SI].
    """
    values = floats(part)
    if isinstance(part, Spring):
        name, values = f"spring{name[8:-1]}", part.si_values()._asdict()
    elif isinstance(part, Air):
        values = {key: values[key] for key in ("temperature", "pressure")}
        values["gas_constant"] = float(part.gas_constant.magnitude)
    elif isinstance(part, Losses):
        values = values | {key: float(getattr(part, key)) for key in SWITCHES}
        values = {"seal_leak_length": 0.0, "blowby_length": 0.0} | values
        values["wall_heat"] = float(part.wall_heat == "conduction")
    return {f"{name}.{key}": value for key, value in values.items()}


#: Every dimensional or numeric name's kind of unit; spring names without their place.
KIND_OF: dict[str, str] = {
    name: field.kind
    for name, field in (FIELD_OF | {f"air.{name}": field for name, field in air.FIELDS.items()}).items()
}


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
    return KIND_OF.get(general(name))


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
            squeeze = max(travel, 0.0) if isinstance(travel, float) else np.maximum(travel, 0.0)
            result[f"spring{n}.catch_compression"] = squeeze
            result[f"spring{n}.travel_to_solid"] = (
                result[f"spring{n}.free_length"] - squeeze - result[f"spring{n}.solid_length"]
            )
    return result
