"""The build: all parts together, read from and written to text that a person can read.

What it is for: load, check, change and save a build.  Everything wrong with a text is reported in one
message, by dotted name.  What it leaves out: what the build will do (``interior``) and whether it is wise
(``checks``).
"""

from __future__ import annotations

import dataclasses
import os
import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import import_module
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from blasterlab import tables, units
from blasterlab.air import Air
from blasterlab.buildtext import (
    LONGEST_TEXT,
    MOST_SPRINGS,
    PARTS,
    SPRING_KEYS,
    WORDS,
    BuildError,
    changed,
    nearest,
    read_text,
    word_faults,
    write_text,
)
from blasterlab.parts import barrel as _barrel
from blasterlab.parts import chamber as _chamber
from blasterlab.parts import dart as _dart
from blasterlab.parts import losses as _losses
from blasterlab.parts.barrel import Barrel
from blasterlab.parts.chamber import Chamber
from blasterlab.parts.dart import Dart
from blasterlab.parts.fields import si_fields
from blasterlab.parts.losses import Losses
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
        return v.get(f"{spring}.room", 1.0) < -1e-9

    def words(v: Mapping[str, Any]) -> str:
        solid, room = v[f"{spring}.solid_length"], v[f"{spring}.room"]
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
            f"than {SQUASH:.0%} of squash jams (is one of them a radius, or in another unit?)"
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
    "chamber": lambda part: si_fields(part, "chamber", _chamber.FIELDS),
    "barrel": lambda part: si_fields(part, "barrel", _barrel.FIELDS),
    "dart": lambda part: si_fields(part, "dart", _dart.FIELDS),
    "losses": lambda part: (
        si_fields(part, "losses", _losses.FIELDS)
        | {
            "losses.gas_inertia": float(part.gas_inertia),
            "losses.air_ahead": float(part.air_ahead),
            "losses.wall_heat": float(part.wall_heat == "conduction"),
        }
    ),
    "air": lambda part: {
        "air.temperature": units.si(part.temperature, "temperature"),
        "air.pressure": units.si(part.pressure, "pressure"),
        "air.gas_constant": float(part.gas_constant.m_as("J/(kg*K)")),
    },
}


def derive(values: Mapping[str, Any]) -> dict[str, Any]:
    """Add what follows from several parts: each spring's compression at the catch and its room before solid.

    Parameters
    ----------
    values : mapping of str to float or ndarray [SI]
        By dotted name, from the parts.

    Returns
    -------
    dict of str to float or ndarray
        The same with ``springN.squeeze`` and ``springN.room`` added [SI].
    """
    result = dict(values)
    for n in range(MOST_SPRINGS):
        if f"spring{n}.rate" in result:
            travel = result[f"spring{n}.preload"] + result["chamber.stroke"] - result[f"spring{n}.gap"]
            squeeze = np.maximum(travel, 0.0) if isinstance(travel, np.ndarray) else max(travel, 0.0)
            result[f"spring{n}.squeeze"] = squeeze
            result[f"spring{n}.room"] = (
                result[f"spring{n}.free_length"] - squeeze - result[f"spring{n}.solid_length"]
            )
    return result


@dataclass(frozen=True)
class Build:
    """A build: springs, chamber, barrel, dart, losses and air, with a title and a note.

    Parameters
    ----------
    springs : tuple of Spring [-]
        One to three, acting in parallel once each is engaged.
    chamber : Chamber [-]
        Tube, plunger and port.
    barrel : Barrel [-]
        The barrel.
    dart : Dart [-]
        The dart.
    losses : Losses [-]
        Friction, leaks and the rest.
    air : Air [-]
        Ambient air.
    title, note, author : str [-]
        Words; escaped wherever they are shown.

    Raises
    ------
    BuildError
        Parts that cannot go together.

    Examples
    --------
    >>> from blasterlab.build import demo_build
    >>> demo_build("workhorse").replace({"barrel.length": "20 cm"}).barrel.length.m_as("mm")
    200.0
    """

    springs: tuple[Spring, ...]
    chamber: Chamber
    barrel: Barrel
    dart: Dart
    losses: Losses = dataclasses.field(default_factory=Losses)
    air: Air = dataclasses.field(default_factory=Air)
    title: str = "untitled build"
    note: str = ""
    author: str = ""

    def __post_init__(self) -> None:
        faults = [
            fault for key, most in WORDS.items() for fault in word_faults(key, getattr(self, key), most)
        ]
        if not 1 <= len(self.springs) <= MOST_SPRINGS:
            faults.append(f"springs: read {len(self.springs)} of them; would do: 1 to {MOST_SPRINGS}")
        else:
            faults += self._impossible()
        if faults:
            raise BuildError(faults)

    def _impossible(self) -> list[str]:
        faults = []
        for rule in RULES:
            if rule.broken(self.si):
                name = rule.field
                if name.startswith("spring"):
                    part, field = name.split(".")
                    name = f"{self.springs[int(part[6:])].name}.{field}"
                faults.append(f"{name}: {rule.words(self.si)}")
        return faults

    @property
    def spring(self) -> Spring:
        """The spring, or the first of several."""
        return self.springs[0]

    @cached_property
    def si(self) -> dict[str, float]:
        """Every value that the shot needs as an SI float by dotted name."""
        values: dict[str, float] = {}
        for index, spring in enumerate(self.springs):
            values |= spring_si(spring, index)
        for name, give in PART_SI.items():
            values |= give(getattr(self, name))
        return derive(values)

    @property
    def volume_ratio(self) -> float:
        """Swept chamber volume over barrel volume, both without their dead volumes."""
        return float((self.chamber.swept_volume / self.barrel.volume).m_as("dimensionless"))

    @property
    def prime(self) -> Any:
        """Force and work to prime it: see `blasterlab.checks.prime`."""
        return _upstairs("checks.prime", "prime")(self)

    def check(self) -> list[Any]:
        """Everything worth knowing before ordering parts: see `blasterlab.checks`."""
        return list(_upstairs("checks", "check")(self))

    def replace(self, changes: Mapping[str, Any]) -> Build:
        """A new build with some values changed, checked again.

        Parameters
        ----------
        changes : mapping of str to Quantity, str, float or bool [-]
            By dotted name, as in the build text: ``{"barrel.length": "22 cm", "springs[1].gap": "5 mm"}``.

        Returns
        -------
        Build
            The changed build.

        Raises
        ------
        BuildError
            Unknown names, unreadable values, parts that cannot go together; all of them at once.
        """
        faults: list[str] = []
        words: dict[str, Any] = {}
        parts: dict[str, dict[str, Any]] = {}
        for name, value in changes.items():
            match = re.fullmatch(r"(?:(springs)\[(\d)\]|(\w+))(?:\.(\w+))?", str(name))
            part = match and (f"springs[{match[2]}]" if match[1] else match[3])
            if part == "spring":
                part = "springs[0]"
            if part in WORDS and match and not match[4]:
                words[str(part)] = value
            elif match and match[4] and (part in PARTS or part in self._spring_names()):
                parts.setdefault(str(part), {})[match[4]] = value
            else:
                faults.append(f"{name}: no such name{nearest(str(name), self.names())}")
        springs = list(self.springs)
        new: dict[str, Any] = {}
        for part, values in parts.items():
            if part in PARTS:
                new[part] = changed(getattr(self, part), part, values, {}, faults)
            else:
                index = int(part[8:-1])
                springs[index] = changed(springs[index], springs[index].name, values, SPRING_KEYS, faults)
        if faults:
            raise BuildError(faults)
        return dataclasses.replace(self, springs=tuple(springs), **new, **words)

    def _spring_names(self) -> list[str]:
        return [f"springs[{index}]" for index in range(len(self.springs))]

    def names(self) -> list[str]:
        """Every dotted name that `replace` takes.

        Returns
        -------
        list of str
            Names [-].
        """
        heads = ["spring"] if len(self.springs) == 1 else self._spring_names()
        result = [*WORDS, *(f"{head}.{key}" for head in heads for key in SPRING_KEYS)]
        return result + [
            f"{part}.{field.name}" for part in PARTS for field in dataclasses.fields(PARTS[part])
        ]

    @classmethod
    def from_text(cls, text: str) -> Build:
        """Read a build from its text (TOML).

        Parameters
        ----------
        text : str [-]
            A build text; see the demo builds for its keys.

        Returns
        -------
        Build
            The build.

        Raises
        ------
        BuildError
            Every fault of the text at once.

        Notes
        -----
        Nothing in the text is evaluated.

        References
        ----------
        TOML v1.0.0, toml.io, 2021.
        """
        return cls(**read_text(text))

    @classmethod
    def load(cls, path: str | os.PathLike[str]) -> Build:
        """Read a build from a file.

        Parameters
        ----------
        path : str or path [-]
            A text file in UTF-8.

        Returns
        -------
        Build
            The build.

        Raises
        ------
        BuildError
            No text, or any fault of the text.
        OSError
            A file that cannot be opened.
        """
        with Path(path).open("rb") as file:
            raw = file.read(LONGEST_TEXT + 1)
        if len(raw) > LONGEST_TEXT:
            raise BuildError([f"{path}: longer than {LONGEST_TEXT} bytes, so it is no build text"])
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            raise BuildError(
                [f"{path}: not a text in UTF-8 (a picture, a spreadsheet, another encoding?)"]
            ) from None
        return cls.from_text(text)

    def to_text(self) -> str:
        """The build as text; reading it gives an equal build.

        Returns
        -------
        str
            A build text [-].
        """
        return write_text(self)

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the build to a file, wholly or not at all.

        Parameters
        ----------
        path : str or path [-]
            The file; an older one is replaced only once the new one is complete on the disk.

        Raises
        ------
        OSError
            A file that cannot be written; the old one is then still there.
        """
        target = Path(path)
        handle, name = tempfile.mkstemp(prefix=f".{target.name}.", dir=target.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(self.to_text())
                file.flush()
                os.fsync(file.fileno())
            if target.exists():
                os.chmod(name, target.stat().st_mode & 0o777)
            else:
                os.chmod(name, 0o644)
            os.replace(name, target)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise


def _upstairs(room: str, name: str) -> Any:
    """A convenience of `Build` that lives on a higher floor, found by name when it is called."""
    return getattr(import_module(f"blasterlab.{room}"), name)


def demo_builds() -> list[str]:
    """Names of the invented demo builds.

    Returns
    -------
    list of str
        Names for `demo_build` [-].
    """
    return tables.names("builds", ".toml")


def demo_build(name: str) -> Build:
    """One of the invented demo builds, found whatever the working directory.

    Parameters
    ----------
    name : str [-]
        A name out of `demo_builds`.

    Returns
    -------
    Build
        The build.

    Raises
    ------
    BuildError
        An unknown name.
    """
    if name not in demo_builds():
        raise BuildError([f"demo build: read {name[:64]!r}; would do: {', '.join(demo_builds())}"])
    return Build.load(tables.data_folder() / "builds" / f"{name}.toml")
