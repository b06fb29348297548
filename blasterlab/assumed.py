"""What a build assumes where nobody measured: a value, its likely range, its source, how to measure it.

What it is for: a build text with only what callipers found gives a build, which names what it assumed.  What
it leaves out: what the ranges cost in speed (``shot.speed_range``).

The values are in ``data/tables/assumed.csv``, each with its source; none is a measurement.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from blasterlab import units
from blasterlab.fields import Field, floats
from blasterlab.parts import barrel, chamber, coil, dart, fit, losses, spring
from blasterlab.parts.losses import Losses
from blasterlab.parts.priors import PRIORS
from blasterlab.parts.wire import material
from blasterlab.tables import data_folder

if TYPE_CHECKING:
    from blasterlab.build import Build

#: Stands behind an assumed value in a build text.
MARK = "assumed"
#: Every dimensional or numeric value of these parts by its name in the text, with its kind and its range.
FIELD_OF: dict[str, Field] = {
    f"{module.__name__.rpartition('.')[2]}.{field.key or name}": field
    for module in (chamber, barrel, dart, losses, fit, spring)
    for name, field in module.FIELDS.items()
}
Values = Mapping[str, Any]
Likely = dict[str, tuple[float, float, float]]


class Default(NamedTuple):
    """A rule of what is known [SI], its numbers for low, assumed and high, its source, how to measure it."""

    rule: Callable[[Values, float], float]
    numbers: tuple[float, ...]
    source: str
    measure: str

    def at(self, known: Values) -> tuple[float, ...]:
        """Low end, assumed value and high end, from what is known; KeyError where too little is [SI]."""
        return tuple(float(self.rule(known, number)) for number in self.numbers)


def _stroke(v: Values, head: float) -> float:
    """The tube less a head that is a share of the bore long, and no more than the spring has room for."""
    tube, free = v["chamber.tube_length"], v.get("spring.free_length") or math.inf
    return float(min(tube - min(head * v["chamber.bore"], 0.5 * tube), (0.7 - 0.2 * head) * free))


def _coils(v: Values, pitch: float) -> Any:
    """The count of a measured rate; else by a pitch that is a share of the mean diameter, never solid."""
    d, ends, free = v["spring.wire_diameter"], v["spring.ends"], v["spring.free_length"]
    mean = v["spring.outer_diameter"] - d
    if "spring.rate" in v:  # the law of the rate solved for the count, which stands where the rate does
        return float(coil.rate(d, mean, v["spring.rate"], material(v["spring.material"]).shear_modulus(d)))
    most = 0.85 * (free - v["chamber.stroke"]) / d - coil.end_sum(ends).solid_wires
    found = np.minimum(coil.active_from_pitch(free, pitch * mean, d, ends), coil.active_coils(most, ends))
    return np.maximum(found, 1.0)


def _preload(v: Values, share: float) -> Any:
    """A share of the free length, less where the spring would be solid at the catch."""
    ends, free = v["spring.ends"], v["spring.free_length"]
    total = coil.total_coils(v["spring.active_coils"], ends)
    room = free - coil.solid_length(v["spring.wire_diameter"], total, ends) - v["chamber.stroke"]
    return np.maximum(np.minimum(share * free, 0.9 * room), 0.0)


def _blowby(v: Values, area: float) -> float:
    """The gap around a dart that lies loose, where that is more; the low end of the range stays."""
    loose = float(barrel.gap_area(v.get("barrel.bore", 0.0), v.get("dart.diameter", math.inf)))
    return area if area == PRIORS["blowby_area"].si[0] else max(area, loose)


#: The rules of ``data/tables/assumed.csv``: the kind of their numbers, and how they give a value.
_RULES: dict[str, tuple[str, Callable[[Values, float], float]]] = {
    "value": ("", lambda _, value: value),
    "bores beyond the stroke": ("number", lambda v, head: v["chamber.stroke"] + head * v["chamber.bore"]),
    "tube less bores": ("number", _stroke),
    "pitch over mean diameter": ("number", _coils),
    "share of the free length": ("number", _preload),
    "depth of the bore": ("length", lambda v, depth: depth * math.pi / 4.0 * v["chamber.bore"] ** 2),
    "in a bore of 35 mm": ("mass", lambda v, mass: mass * (v["chamber.bore"] / 35e-3) ** 2),
    "share of the barrel's bore": (
        "number", lambda v, share: min(share * v["barrel.bore"], 0.9 * v["chamber.bore"])),
}  # fmt: skip


def _read() -> Iterator[tuple[str, Default]]:
    """The table of assumed values, then the losses with a usual range: the order in which they are taken."""
    with (data_folder() / "tables" / "assumed.csv").open(encoding="utf-8") as lines:
        for row in csv.DictReader(line for line in lines if not line.startswith("#")):
            kind, rule = _RULES[row["rule"]]
            kind = kind or FIELD_OF[row["name"]].kind
            numbers = tuple(units.si(row[end], kind, row["name"]) for end in ("low", "best", "high"))
            yield row["name"], Default(rule, numbers, row["source"], row["measure"])
    for name, prior in PRIORS.items():
        low, high = prior.si
        numbers = low, units.si(getattr(Losses, name), losses.FIELDS[name].kind), high
        source = prior.source if prior.source == _PRACTICE else f"published: {prior.source}"
        rule = _blowby if name == "blowby_area" else _RULES["value"][1]
        yield f"losses.{name}", Default(rule, numbers, source, "a chronograph string tells")


_PRACTICE = "common practice, no source"
#: By dotted name; a rule that lacks a value assumes nothing.
DEFAULTS: dict[str, Default] = dict(_read())
#: Words that stand where none are given.
_WORDS = {"spring.ends": "closed", "spring.material": "EN 10270-1 SH"}
_ASSUMABLE = (*_WORDS, *DEFAULTS)


def can_be(name: str) -> bool:
    """Whether a value, by its dotted name, is assumed where a build text leaves it out."""
    return general(name) in _ASSUMABLE


@lru_cache(1024)
def general(name: str) -> str:
    """A dotted name without the place of a spring: ``springs[1].preload`` is ``spring.preload``."""
    return re.sub(r"^springs?\[?\d\]?\.", "spring.", name)


def si_name(name: str) -> str:
    """A dotted name as `Build.si` has it: ``springs[1].preload`` is ``spring1.preload``."""
    return re.sub(r"^spring(?:s\[(\d)\])?\.", lambda found: f"spring{found[1] or 0}.", name)


def fill(sections: Mapping[str, dict[str, Any]]) -> tuple[str, ...]:
    """Fill what is missing, as far as what is there allows, and take the mark off what was assumed before.

    Parameters
    ----------
    sections : mapping of str to dict [-]
        Values by part and key, completed in place.

    Returns
    -------
    tuple of str
        Dotted names of the assumed values [-].
    """
    found, known = set(), {}
    for part, section in sections.items():
        for key, value in section.items():
            name = f"{part}.{key}"
            if isinstance(value, str) and value.endswith(f" {MARK}") and general(name) in _ASSUMABLE:
                section[key] = value = value.removesuffix(f" {MARK}")
                found.add(name)
            known[name] = _si(name, value)
    for rule, part in ((rule, part) for rule in _ASSUMABLE for part in sections):
        name = f"{part}.{rule.partition('.')[2]}"
        if general(name) == rule and name not in known:
            with suppress(KeyError, TypeError, ValueError, ZeroDivisionError):  # for want of a readable value
                value = (
                    _WORDS[rule]
                    if rule in _WORDS
                    else _rounded(rule, DEFAULTS[rule].at(about(known, part))[1])
                )
                sections[part][rule.partition(".")[2]] = value
                known[name] = _si(name, value)
                found.add(name)
    return tuple(sorted(found))


def _si(name: str, value: Any) -> Any:
    """A value in SI, None where it cannot be read, words as they are."""
    field = FIELD_OF.get(general(name))
    try:
        return units.si(value, field.kind) if field else value
    except units.UnitError:
        return None


def _rounded(rule: str, value: float) -> Any:
    """A value [SI] to three digits in the metric unit of its kind."""
    kind = units.KINDS[FIELD_OF[rule].kind]
    short = float(f"{units.quantity(value, kind.si).m_as(kind.metric):.3g}")
    return short if kind.name == "number" else units.quantity(short, kind.metric)


def about(known: Values, part: str) -> dict[str, Any]:
    """What is known beside one spring, that spring as ``spring``; for the other parts the first one [SI]."""
    own = f"{part}." if part.startswith("spring") else ("spring.", "springs[0].")
    return {general(n): v for n, v in known.items() if n.startswith(own) or not n.startswith("spring")}


def source(name: str) -> str:
    """Where an assumed value comes from [-]; words are common practice."""
    default = DEFAULTS.get(general(name))
    return default.source if default else _PRACTICE


def remark(name: str, ends: tuple[float, float, float] | None) -> str:
    """What stands behind an assumed value in a build text: likely range, source, how to measure it."""
    if ends is None:
        return f"  # {source(name)}"
    low, _, high = ends
    kind = FIELD_OF[general(name)].kind
    reach = f"{units.show(low, kind, 3)} to {units.show(high, kind, 3)} likely; " if low < high else ""
    return f"  # {reach}{source(name)}; {DEFAULTS[general(name)].measure}"


def known_of(build: Build) -> dict[str, Any]:
    """What the rules know of a build, by dotted names as its text has them [SI]; see `about`."""
    parts = {one.name: one for one in build.springs} | {
        name: getattr(build, name) for name in ("chamber", "barrel", "dart", "losses")
    }
    return {
        f"{name}.{key.removeprefix('measured_')}": value
        for name, part in parts.items()
        for key, value in (
            floats(part) | {word: getattr(part, word, "") for word in ("ends", "material")}
        ).items()
    }


def likely(build: Build) -> Likely:
    """The likely range of every assumed value of a build, about the value that it has.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    dict of str to tuple of float
        By dotted name: low, the build's own, high; words have none [SI].
    """
    known, found = known_of(build), {}
    for name in build.assumed:
        if general(name) in DEFAULTS and name in known:
            default, own, v = DEFAULTS[general(name)], known[name], about(known, name.partition(".")[0])
            low, _, high = default.at(v)
            found[name] = (min(low, own), own, max(high, own)) if low < high else (own, own, own)
    return found
