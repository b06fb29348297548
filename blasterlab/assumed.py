"""What a build counts with where nobody measured: a value, its likely range, its source, how to measure it.

What it is for: a build text with only what callipers found gives a build, which names what it assumed.  What
it leaves out: what the ranges cost in speed (``shot.speed_range``).

Every rule is common practice or the kit's own choice, as its source says, and none is a measurement.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from typing import TYPE_CHECKING, Any, NamedTuple

from blasterlab import units
from blasterlab.fields import Field, floats
from blasterlab.parts import barrel, chamber, coil, dart, fit, losses, spring
from blasterlab.parts.losses import Losses
from blasterlab.parts.priors import PRIORS
from blasterlab.parts.wire import material

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


class Default(NamedTuple):
    """The likely range about the assumed value, from what is known [SI]; its source; how to measure it."""

    low: Callable[[Values], float]
    best: Callable[[Values], float]
    high: Callable[[Values], float]
    source: str
    measure: str


_PRACTICE, _OWN = "common practice, no source", "the kit's own choice"


def _each(rule: Callable[[Values, float], float], *shares: float) -> tuple[Any, Any, Any]:
    """A rule with its three shares; one share gives no range."""
    low, best, high = shares if len(shares) == 3 else 3 * shares
    return lambda v: rule(v, low), lambda v: rule(v, best), lambda v: rule(v, high)


def _fixed(_: Values, value: float) -> float:
    return value


def _stroke(v: Values, head: float) -> float:
    """The tube without the plunger's head, which is a share of the bore long, at most half of the tube."""
    return float(v["chamber.tube_length"] - min(head * v["chamber.bore"], 0.5 * v["chamber.tube_length"]))


def _coils(v: Values, pitch: float) -> float:
    """The count of a measured rate; else by a pitch that is a share of the mean diameter, never solid."""
    d, ends, free = v["spring.wire_diameter"], v["spring.ends"], v["spring.free_length"]
    mean = v["spring.outer_diameter"] - d
    if "spring.rate" in v:  # the law of the rate solved for the count, which stands where the rate does
        return float(coil.rate(d, mean, v["spring.rate"], material(v["spring.material"]).shear_modulus(d)))
    most = 0.85 * (free - v["chamber.stroke"]) / d - coil.end_sum(ends).solid_wires
    found = min(coil.active_from_pitch(free, pitch * mean, d, ends), coil.active_coils(most, ends))
    return float(max(found, 1.0))


def _preload(v: Values, share: float) -> float:
    """A share of the free length, less where the spring would be solid at the catch."""
    ends, free = v["spring.ends"], v["spring.free_length"]
    total = coil.total_coils(v["spring.active_coils"], ends)
    room = free - coil.solid_length(v["spring.wire_diameter"], total, ends) - v["chamber.stroke"]
    return float(max(min(share * free, 0.9 * room), 0.0))


def _area(diameter: float) -> float:
    return math.pi / 4.0 * diameter**2


#: In the order in which they are taken; a rule that lacks a value assumes nothing.
DEFAULTS: dict[str, Default] = {
    "chamber.tube_length": Default(
        *_each(lambda v, head: v["chamber.stroke"] + head * v["chamber.bore"], 0.5), _OWN, "measure inside"),
    "chamber.stroke": Default(
        *_each(_stroke, 1.0, 0.5, 0.25), _PRACTICE,
        "give plunger_length, what the plunger takes of the tube"),
    "spring.active_coils": Default(
        *_each(_coils, 0.65, 0.5, 0.4), _PRACTICE,
        "give total_coils, wire end to wire end, or two readings on a scale"),
    "spring.preload": Default(
        *_each(_preload, 0.0, 0.15, 0.35), _OWN,
        "give installed_length, its room with the plunger forward"),
    "chamber.wall": Default(*_each(_fixed, 2e-3), _PRACTICE, "callipers tell"),
    "chamber.dead_volume": Default(
        *_each(lambda v, gap: gap * _area(v["chamber.bore"]), 1e-3, 3e-3, 6e-3), _OWN,
        "fill it from a syringe, the plunger forward"),
    "chamber.plunger_mass": Default(
        *_each(lambda v, mass: mass * (v["chamber.bore"] / 35e-3) ** 2, 18e-3, 35e-3, 70e-3), _OWN,
        "weigh plunger and rod together"),
    "chamber.port_diameter": Default(
        *_each(lambda v, share: min(share * v["barrel.bore"], 0.9 * v["chamber.bore"]), 0.5, 0.75, 1.0),
        _PRACTICE, "try drill shanks in it"),
    "barrel.length": Default(
        *_each(_fixed, 0.15, 0.3, 0.45), _OWN, "measure from the seated dart's tail to the muzzle"),
    "barrel.dead_volume": Default(
        *_each(_fixed, 0.3e-6, 1e-6, 3e-6), _OWN, "fill it from a syringe, from the port to the dart's tail"),
    "dart.diameter": Default(
        *_each(lambda v, share: share * v["barrel.bore"], 1.005), _OWN, "callipers tell"),
    "dart.length": Default(*_each(_fixed, 30e-3, 36e-3, 75e-3), _PRACTICE, "callipers tell"),
    "dart.drag_coefficient": Default(*_each(_fixed, 0.7), "from memory", "two chronographs tell"),
    "losses.dart_breakaway": Default(
        *_each(_fixed, 1.0, 3.0, 6.0), _PRACTICE, "pull a seated dart with a scale"),
    **{
        f"losses.{name}": Default(
            *_each(_fixed, prior.si[0], units.si(getattr(Losses, name), FIELD_OF[f"losses.{name}"].kind),
                   prior.si[1]),
            prior.source if prior.source == _PRACTICE else f"published: {prior.source}",
            "a chronograph string tells")
        for name, prior in PRIORS.items()
    },
}  # fmt: skip
#: Words that stand where none are given.
_WORDS = {"spring.ends": "closed", "spring.material": "EN 10270-1 SH"}
_ASSUMABLE = (*_WORDS, *DEFAULTS)


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
                    _WORDS[rule] if rule in _WORDS else _rounded(rule, DEFAULTS[rule].best(_of(known, part)))
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


def _of(known: Values, part: str) -> dict[str, Any]:
    """What is known beside one spring, that spring as ``spring`` [SI]."""
    return {general(n): v for n, v in known.items() if n.startswith(f"{part}.") or not n.startswith("spring")}


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


def likely(build: Build) -> dict[str, tuple[float, float, float]]:
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
    parts = {one.name: one for one in build.springs} | {
        name: getattr(build, name) for name in ("chamber", "barrel", "dart", "losses")
    }
    known: dict[str, Any] = {
        f"{name}.{key.removeprefix('measured_')}": value
        for name, part in parts.items()
        for key, value in (
            floats(part) | {word: getattr(part, word, "") for word in ("ends", "material")}
        ).items()
    }
    found = {}
    for name in build.assumed:
        if general(name) in DEFAULTS and name in known:
            default, own, v = DEFAULTS[general(name)], known[name], _of(known, name.partition(".")[0])
            low, high = default.low(v), default.high(v)
            found[name] = (min(low, own), own, max(high, own)) if low < high else (own, own, own)
    return found
