"""Build text: TOML in, parts out, and back again exactly.

What it is for: the text form of a build, with every fault of a text listed at once by dotted name.  What it
leaves out: whether the parts go together (``build``).  Nothing in a text is ever evaluated.

References
----------
TOML v1.0.0, toml.io, 2021.
"""

from __future__ import annotations

import dataclasses
import re
import tomllib
from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, TypeAlias

from blasterlab import assumed, measured, units
from blasterlab.air import Air
from blasterlab.faults import fault, guess, shown
from blasterlab.parts.barrel import Barrel
from blasterlab.parts.chamber import Chamber
from blasterlab.parts.dart import Dart
from blasterlab.parts.fit import Fit
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.parts.losses import Losses
from blasterlab.parts.spring import Spring
from blasterlab.pasted import build_text_in

if TYPE_CHECKING:
    from blasterlab.build import Build

#: Longest build text that is read, in bytes.
LONGEST_TEXT = 64_000
#: Names in one dotted key, and brackets in brackets, that are read.
MOST_DOTS = 8
#: Springs in one build, at the most.
MOST_SPRINGS = 3
Part: TypeAlias = Spring | Chamber | Barrel | Dart | Losses | Air | Fit
#: The sections of a build text beside its springs.
PARTS: dict[str, type[Part]] = {
    "chamber": Chamber,
    "barrel": Barrel,
    "dart": Dart,
    "losses": Losses,
    "air": Air,
    "fit": Fit,
}
#: Words at the top of a build text, with their greatest lengths.
WORDS = {"title": 200, "author": 200, "note": 4000}
#: Plausible values that stand in for missing keys while the rest of a part is read for faults; never kept.
STAND_INS = {
    "wire_diameter": "1.3 mm", "outer_diameter": "16 mm", "free_length": "180 mm", "active_coils": 24,
    "bore": "16 mm", "wall": "2 mm", "tube_length": "110 mm", "stroke": "80 mm", "dead_volume": "2 cm^3",
    "plunger_mass": "30 g", "port_diameter": "9 mm", "length": "25 cm", "mass": "1 g", "diameter": "16 mm",
}  # fmt: skip
#: What no build can do without: everything else can be assumed.
NEEDED = {
    "spring.wire_diameter", "spring.outer_diameter", "spring.free_length", "chamber.bore",
    "chamber.tube_length", "barrel.bore", "dart.mass",
}  # fmt: skip
#: Comments and quoted texts of TOML; one without its end goes on to the end, so that each is scanned once.
_QUOTED = re.compile(
    r"""\"{3}(?:\\.|[^\\])*?(?:"{3,5}|\\?\Z) | '{3}.*?(?:'{3,5}|\Z)
        | "(?:\\[^\n]|[^"\\\n])*"? | '[^'\n]*'? | \#[^\n]*""",
    re.VERBOSE | re.DOTALL,
)


class BuildError(ValueError):
    """A build that cannot be: one line for each fault, by dotted name."""

    def __init__(self, faults: list[str]) -> None:
        self.faults = faults
        count = "one fault" if len(faults) == 1 else f"{len(faults)} faults"
        super().__init__(f"this build has {count}:\n" + "\n".join(f"  - {fault}" for fault in faults))


def word_faults(key: str, value: object, most: int) -> list[str]:
    """What is wrong with a title, a note or a name.

    Parameters
    ----------
    key : str [-]
        Its key.
    value : object [-]
        What was read.
    most : int [-]
        Greatest length in characters.

    Returns
    -------
    list of str
        Faults [-].
    """
    if not isinstance(value, str):
        return [fault(key, shown(value), "text in quotes")]
    if len(value) > most:
        return [fault(key, f"{len(value)} characters", f"at most {most}")]
    if re.search("[\x00-\x08\x0b-\x1f\x7f\ud800-\udfff]", value):
        return [fault(key, shown(value), "text without control characters")]
    return []


def keys_of(part: type[Part]) -> dict[str, str]:
    """The keys of a part in the text, and the fields that they fill.

    Parameters
    ----------
    part : type [-]
        A kind of part.

    Returns
    -------
    dict of str to str
        Field by key [-].
    """
    names = [field.name for field in dataclasses.fields(part) if field.name != "name"]
    return {name.removeprefix("measured_"): name for name in names}


def _made(make: Callable[..., Any], values: Mapping[str, Any], faults: list[str]) -> Any:
    try:
        return make(**values)
    except units.UnitError as error:
        faults += str(error).split("\n")
        return None


def changed(old: Part, name: str, values: Mapping[str, Any], faults: list[str]) -> Part | None:
    """A part with some values changed, or None with the reasons added to the faults.

    Parameters
    ----------
    old : part [-]
        The part as it is.
    name : str [-]
        Its name in messages.
    values : mapping of str to object [-]
        New values by key.
    faults : list of str [-]
        Extended in place.

    Returns
    -------
    part or None
        The new part [-].
    """
    keys = keys_of(type(old))
    values = measured.read(name, values, {key: getattr(old, field) for key, field in keys.items()}, faults)
    known = [*keys, *measured.ways(name)]
    faults += [f"{name}.{key}: no such name; {guess(key, known)}" for key in values if key not in keys]
    new = {keys[key]: value for key, value in values.items() if key in keys}
    made: Part | None = _made(partial(dataclasses.replace, old), new, faults)
    return made


def _plain_lines(text: str) -> list[str]:
    """The lines of a TOML text without its comments and without what is structure only in quotes."""

    def hide(match: re.Match[str]) -> str:
        return "" if match[0][0] == "#" else re.sub(r"[].=,{}[\n]", "_", match[0][:200])

    return _QUOTED.sub(hide, text).split("\n")


def _dotted(section: str, key: str) -> str:
    names = [name.strip(" \t\r\"'[{")[:64] for name in f"{section}.{key}".split(".")]
    names = [name for name in names if name]
    return ".".join(names[: 1 if names[:1] and names[0] in WORDS else 2]) or "the text"


def _wild_fault(text: str) -> str | None:
    """What the TOML reader would choke on: deep nesting (slow, or too deep for it) and endless integers."""
    section, key, depth = "", "", 0
    for line in _plain_lines(text):
        if depth == 0:
            heading = re.match(r"\s*\[+([^][=]*)\]+\s*$", line)
            section = heading[1] if heading else section
            key = "" if heading else line.partition("=")[0]
        deep = max(piece.count(".") for piece in re.split(r"[][=,{}]", line)) > MOST_DOTS
        for mark in re.findall(r"[][{}]", line):
            depth = max(depth + (1 if mark in "[{" else -1), 0)
            deep = deep or depth > MOST_DOTS
        if deep:
            return f"{_dotted(section, key)}: nested too deeply; must be one value, or one table of values"
        if re.search(r"(?<![\w.])[0-9_]{600}", line):
            return fault(_dotted(section, key), "a number of 600 digits", "a smaller number", "a slip?")
    return None


def _read_toml(text: str) -> dict[str, Any]:
    if not isinstance(text, str):
        raise BuildError([fault("build text", shown(text), "text")])
    if len(text.encode("utf-8", "replace")) > LONGEST_TEXT:
        raise BuildError([f"the text is longer than {LONGEST_TEXT} bytes, so it is not a build text"])
    if "\0" in text:
        raise BuildError(
            ["the text holds NUL bytes, so it is not a build text (a spreadsheet or a picture?)"]
        )
    text = text.lstrip("\ufeff")
    try:
        return _whole(text, text)
    except BuildError:
        inside = build_text_in(text)
        if not inside:
            raise
        return _whole(inside, text)


def _whole(text: str, typed: str) -> dict[str, Any]:
    """A text that is a build text from end to end; a fault shows the line as it was typed."""
    wild = _wild_fault(text)
    if wild:
        raise BuildError([wild])
    try:
        return tomllib.loads(text)
    except ValueError as error:
        hint = 'a value with a unit stands in quotes: length = "25 cm"'
        place, lines = re.search(r"at line (\d+)", str(error)), typed.rstrip().split("\n")
        line = "".join(lines[int(place[1]) - 1 :][:1] if place else lines[-1:]).strip()
        raise BuildError([f"not readable as build text: {error}: {shown(line)} ({hint})"]) from None


def read_text(text: str) -> tuple[dict[str, Any], list[str]]:
    """Read a build text into the parts of a build, as far as they can be read.

    Parameters
    ----------
    text : str [-]
        TOML.

    Returns
    -------
    tuple of (dict of str to object, list of str)
        The arguments of `blasterlab.build.Build`, with None for a part that cannot be read, and every fault
        of the text [-].

    Raises
    ------
    BuildError
        What is no TOML, or TOML too wild to read on.
    """
    table = _read_toml(text)
    known = ["spring", "springs", *PARTS, "calibration", *WORDS]
    faults = [f"{key[:64]}: unknown key; {guess(key, known)}" for key in table if key not in known]
    words = {key: table[key] for key in WORDS if key in table}
    for key, value in words.items():
        faults += word_faults(key, value, WORDS[key])
    sections = _springs(table, faults)
    heads = list(sections)
    sections |= {name: table.get(name, {}) for name in PARTS if _is_table(name, table.get(name, {}), faults)}
    sections = {
        name: measured.read(name, section, {"ends": "closed"}, faults) for name, section in sections.items()
    }
    filled = assumed.fill(sections)
    parts: dict[str, Any] = dict.fromkeys(PARTS)
    for name, section in sections.items():
        parts[name] = _section(PARTS.get(name, Spring), name, section, faults)
    if not faults:
        faults += [f"{name}: too little is known of it" for name in sections if parts[name] is None]
    springs = tuple(parts.pop(name) for name in heads)
    if "calibration" in table and _is_table("calibration", table["calibration"], faults):
        parts["calibration"] = _made(LossUncertainty.from_table, {"table": table["calibration"]}, faults)
    return {"springs": springs, **parts, **words, "assumed": filled}, faults


def _is_table(name: str, section: object, faults: list[str]) -> bool:
    if not isinstance(section, dict):
        faults.append(fault(name, shown(section), f"a table, [{name}]"))
    return isinstance(section, dict)


def _springs(table: Mapping[str, Any], faults: list[str]) -> dict[str, Any]:
    """The sections of the springs by their names."""
    coils = table.get("springs", [table["spring"]] if "spring" in table else [])
    if "spring" in table and "springs" in table:
        faults.append("spring: got both [spring] and [[springs]]; must be one of them")
    if not isinstance(coils, list) or not all(isinstance(coil, dict) for coil in coils):
        faults.append(fault("springs", shown(coils), "tables, one [spring] or several [[springs]]"))
        return {}
    if not 1 <= len(coils) <= MOST_SPRINGS:
        most = f"one [spring], or 2 to {MOST_SPRINGS} [[springs]]"
        faults.append(fault("spring", f"{len(coils)} of them", most))
    names = [f"springs[{index}]" if "springs" in table else "spring" for index in range(MOST_SPRINGS)]
    return dict(zip(names, coils, strict=False))


def _section(kind: type[Part], name: str, section: Mapping[str, Any], faults: list[str]) -> Any:
    part, keys = partial(kind, name=name) if kind is Spring else kind, keys_of(kind)
    needed = [f.name for f in dataclasses.fields(kind) if f.default is dataclasses.MISSING]
    missing = [key for key in needed if key not in section]
    known = [*keys, *measured.ways(name)]
    faults += [f"{name}.{key[:64]}: unknown key; {guess(key, known)}" for key in section if key not in keys]
    faults += [f"{name}.{key}: missing" for key in missing if f"{assumed.general(name)}.{key}" in NEEDED]
    values = {keys[key]: value for key, value in section.items() if key in keys}
    if not missing:
        return _made(part, values, faults)
    found: list[str] = []  # read the rest all the same, so that its faults are listed too
    _made(part, values | {key: STAND_INS[key] for key in missing}, found)
    faults += [fault for fault in found if not any(fault.startswith(f"{name}.{key}:") for key in missing)]
    return None


def _number(value: float) -> str:
    short = f"{value:.12g}"
    return short if float(short) == value else repr(float(value))


def _text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return _number(float(value))
    if isinstance(value, str):
        plain = value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
        return f'"{plain}"'
    unit = units.unit_text(value.units)
    number = _number(float(value.magnitude))
    return f'"{number} {unit}"' if unit else number


def _pairs(build: Build, name: str, part: Part) -> dict[str, str]:
    """The written values of a part by key, an assumed one with its mark."""
    values = {key: getattr(part, field) for key, field in keys_of(type(part)).items()}
    pairs = {key: _text(value) for key, value in values.items() if value is not None}
    for key in pairs:
        if f"{name}.{key}" in build.assumed:
            pairs[key] = '"' + pairs[key].strip('"') + f' {assumed.MARK}"'
    return pairs


def _lines(build: Build, name: str, part: Part, likely: assumed.Likely) -> list[str]:
    lines = []
    for key, text in _pairs(build, name, part).items():
        dotted = f"{name}.{key}"
        remark = assumed.remark(dotted, likely.get(dotted)) if dotted in build.assumed else ""
        lines.append(f"{key} = {text}{remark}")
    return lines


def _words(build: Build) -> list[str]:
    return [f"{key} = {_text(getattr(build, key))}" for key in WORDS if key == "title" or getattr(build, key)]


def write_lines(build: Build) -> list[str]:
    """A build as text in the fewest lines, one for each part; reading them gives an equal build.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    list of str
        Build text without structure at the start of a line, and without values that are read as they are when
        nothing is said [-].
    """
    springs = [_inline(build, spring.name, spring) for spring in build.springs]
    parts = {"spring": springs[0]} if len(springs) == 1 else {"springs": f"[{', '.join(springs)}]"}
    parts |= {name: _inline(build, name, getattr(build, name)) for name in PARTS}
    if build.calibration is not None:
        entries = re.split(r"\n(?=[a-z])", build.calibration.to_text())[1:]
        parts["calibration"] = f"{{ {', '.join(' '.join(entry.split()) for entry in entries)} }}"
    return [*_words(build), *(f"{name} = {text}" for name, text in parts.items() if text != _NOTHING)]


_NOTHING = "{  }"


def _inline(build: Build, name: str, part: Part) -> str:
    """A part in one line, without the defaults that reading gives back."""
    pairs = _pairs(build, name, part)
    for field in dataclasses.fields(part):
        key = field.name.removeprefix("measured_")
        if field.default is dataclasses.MISSING or assumed.can_be(f"{name}.{key}"):
            continue
        usual = dataclasses.replace(part, **{field.name: field.default})
        if getattr(usual, field.name) == getattr(part, field.name):
            pairs.pop(key, None)
    return f"{{ {', '.join(f'{key} = {text}' for key, text in pairs.items())} }}"


def write_text(build: Build) -> str:
    """A build as text; reading it gives an equal build.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    str
        A build text [-].
    """
    lines, likely = _words(build), assumed.likely(build)
    for spring in build.springs:
        lines += ["", "[spring]" if len(build.springs) == 1 else "[[springs]]"]
        lines += _lines(build, spring.name, spring, likely)
    for name in PARTS:
        given = getattr(build, name)
        if name != "fit" or given != Fit():  # most builds say nothing of it
            lines += ["", f"[{name}]", *_lines(build, name, given, likely)]
    if build.calibration is not None:
        lines += ["", build.calibration.to_text().rstrip("\n")]
    return "\n".join(lines).lstrip("\n") + "\n"
