"""The build: all parts together, read from and written to text that a person can read.

What it is for: load, check, change and save a build.  Everything wrong with a text is reported in one
message, by dotted name.  What it leaves out: what the build will do (``shot``) and whether it is wise
(``checks``).
"""

from __future__ import annotations

import dataclasses
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from blasterlab import measured, tables
from blasterlab.air import Air
from blasterlab.buildtext import (
    LONGEST_TEXT,
    MOST_SPRINGS,
    PARTS,
    WORDS,
    BuildError,
    Part,
    changed,
    keys_of,
    read_text,
    word_faults,
    write_text,
)
from blasterlab.doors import Spoken, through
from blasterlab.faults import fault, guess, shown
from blasterlab.files import write_whole
from blasterlab.parts.barrel import Barrel
from blasterlab.parts.chamber import Chamber
from blasterlab.parts.dart import Dart
from blasterlab.parts.fit import Fit, fit_faults
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.parts.losses import Losses
from blasterlab.parts.prime import Prime, prime
from blasterlab.parts.spring import Spring
from blasterlab.units import QuantityLike
from blasterlab.values import RULES, SHOT_PARTS, derive, part_si

if TYPE_CHECKING:
    from blasterlab.checks.finding import Finding


@dataclass(frozen=True)
class Build(Spoken):
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
    fit : Fit [-]
        Seal, rod and tube material, as far as they are known.
    calibration : LossUncertainty or None [-]
        What the losses were learned from, so that predictions show their interval.
    title, note, author : str [-]
        Words; escaped wherever they are shown.
    assumed : tuple of str [-]
        Dotted names of the values that nobody measured: see `blasterlab.assumed`.

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
    fit: Fit = dataclasses.field(default_factory=Fit)
    calibration: LossUncertainty | None = None
    title: str = "untitled build"
    note: str = ""
    author: str = ""
    assumed: tuple[str, ...] = ()

    def __hash__(self) -> int:
        return self._hash

    @cached_property
    def _hash(self) -> int:
        """Taken once: hashing quantities is slow, and panels ask for what is kept by build."""
        return hash(tuple(getattr(self, field.name) for field in dataclasses.fields(self)))

    def __post_init__(self) -> None:
        faults = [
            fault for key, most in WORDS.items() for fault in word_faults(key, getattr(self, key), most)
        ]
        if not 1 <= len(self.springs) <= MOST_SPRINGS:
            faults.append(fault("springs", f"{len(self.springs)} of them", f"1 to {MOST_SPRINGS}"))
        else:
            faults += _impossible(self.springs, self.si) + fit_faults(self.fit, self.springs, self.chamber)
        if faults:
            raise BuildError(faults)

    @property
    def spring(self) -> Spring:
        """The spring, or the first of several."""
        return self.springs[0]

    @cached_property
    def si(self) -> dict[str, float]:
        """Every value that the shot needs as a float by dotted name [SI]."""
        return _values(vars(self))

    @property
    def volume_ratio(self) -> float:
        """Swept chamber volume over barrel volume, both without their dead volumes [-]."""
        return float(self.chamber.swept_volume / self.barrel.volume)

    @property
    def prime(self) -> Prime:
        """Force and work of a direct pull that primes it: see `blasterlab.parts.prime` [N, J]."""
        return prime(self.springs, self.chamber.stroke, self.losses.seal_friction)

    def check(self) -> list[Finding]:
        """Everything worth knowing before ordering parts: see `blasterlab.checks`.

        Returns
        -------
        list of Finding
            The gravest first [-].
        """
        return list(through("check")(self))

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
        words = {name: value for name, value in changes.items() if name in WORDS}
        faults = [fault for name, value in words.items() for fault in word_faults(name, value, WORDS[name])]
        by_part: dict[str, dict[str, Any]] = {}
        for name, value in changes.items():
            part = self._part_of(str(name))
            if part is not None:
                by_part.setdefault(part, {})[str(name)] = value
            elif name not in WORDS:
                faults.append(f"{name}: no such name; {guess(str(name), self.names())}")
        new: dict[str, Any] = {part: self._changed(part, values, faults) for part, values in by_part.items()}
        springs = [new.pop(name, spring) for name, spring in self._springs().items()]
        if faults:
            raise BuildError(faults + _impossible(springs, _values(vars(self) | new | {"springs": springs})))
        if self.calibration is not None and any(
            f"losses.{name}" in changes for name in self.calibration.names
        ):
            new["calibration"] = None  # a loss that was set by hand is not the one that was learned
        kept = self.assumed and tuple(name for name in self.assumed if name not in self._told(by_part))
        return dataclasses.replace(self, springs=tuple(springs), assumed=kept, **new, **words)

    def changed_part(self, part: str, changes: Mapping[str, Any]) -> Part:
        """One part with some of its values changed.

        Parameters
        ----------
        part : str [-]
            Such as ``"barrel"`` or ``"springs[0]"``.
        changes : mapping of str to Quantity, str, float or bool [-]
            By dotted name, all of this part.

        Returns
        -------
        part
            The new part [-].

        Raises
        ------
        BuildError
            Unknown names or unreadable values, all of them at once.
        """
        if part not in PARTS and part not in self._springs():
            raise BuildError([f"{name}: no such name; {guess(name, self.names())}" for name in changes])
        faults: list[str] = []
        made = self._changed(part, changes, faults)
        if faults or made is None:
            raise BuildError(faults)
        return made

    def _changed(self, part: str, changes: Mapping[str, Any], faults: list[str]) -> Part | None:
        """As `changed_part` for a known part, with the faults added to a list; None if it cannot be made."""
        old = self._springs()[part] if part not in PARTS else getattr(self, part)
        values = {name.split(".", 1)[-1]: value for name, value in changes.items()}
        return changed(old, getattr(old, "name", part), values, faults)

    def _part_of(self, name: str) -> str | None:
        """The part that a dotted name belongs to, None when there is none."""
        part, dot, field = name.partition(".")
        part = "springs[0]" if part == "spring" else part
        return part if dot and field and (part in PARTS or part in self._springs()) else None

    def _springs(self) -> dict[str, Spring]:
        return {f"springs[{index}]": spring for index, spring in enumerate(self.springs)}

    def _told(self, by_part: Mapping[str, Mapping[str, Any]]) -> set[str]:
        """Names of the values that changes set, as the build text has them."""
        springs, told = self._springs(), set()
        for part, values in by_part.items():
            for key in (name.split(".", 1)[1] for name in values):
                way = measured.ways(part).get(key)
                told.add(f"{springs[part].name if part in springs else part}.{way.gives if way else key}")
        return told

    def names(self) -> list[str]:
        """Every dotted name that `replace` takes.

        Returns
        -------
        list of str
            Names [-].
        """
        heads = ["spring"] if len(self.springs) == 1 else list(self._springs())
        kinds = dict.fromkeys(heads, Spring) | PARTS
        return [*WORDS, *(f"{name}.{key}" for name, kind in kinds.items() for key in keys_of(kind))]

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
        parts, faults = read_text(text)
        if faults:
            raise BuildError(faults + _impossible(parts["springs"], _values(parts)))
        return cls(**parts)

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

    def to_post(self) -> str:
        """The build for a forum: what it shoots, then its text in the fewest lines, in a block of code.

        Returns
        -------
        str
            A post; `from_text` finds the build in it, also quoted, wrapped, with words round it [-].
        """
        return str(through("post")(self))

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the build to a file, wholly or not at all.

        Parameters
        ----------
        path : str or path [-]
            The file; an older one is replaced only once the new one is complete on the disk, and keeps its
            permissions.  Through a symbolic link the file that it points to is written.

        Raises
        ------
        OSError
            A file that cannot be written; the old one is then still there.
        """
        write_whole(path, self.to_text())

    def sheet_page(self, path: str | os.PathLike[str], **asked: Any) -> None:
        """Write the build sheet, one self-contained HTML page that prints on two or three sheets of paper.

        Parameters
        ----------
        path : str or path [-]
            The file; as in `save`.
        **asked : object [-]
            ``string``, ``cap``, ``shots``, ``bought``: see `blasterlab.report.sheet.build_sheet`.

        Raises
        ------
        ValueError
            An unknown part, a cap or shots outside their ranges.
        OSError
            A file that cannot be written; the old one is then still there.
        """
        write_whole(path, through("sheet")(self, **asked))

    def share_page(
        self, path: str | os.PathLike[str], cap: QuantityLike | Sequence[QuantityLike] | None = None
    ) -> None:
        """Write a page that shoots this build in a reader's browser: one file, no Python, no request.

        Parameters
        ----------
        path : str or path [-]
            The HTML file, written as by `save`; its static numbers are in the chosen units.
        cap : Quantity, str, a sequence of these, or None [m/s or J]
            Of an event, where the page begins; None takes what a panel was given last, ``()`` no cap.

        Raises
        ------
        ValueError
            A cap that is neither a speed nor an energy, or outside its range.
        OSError
            A file that cannot be written.

        Notes
        -----
        The reader moves barrel length, stroke, spring, dart and losses; every shot there is the kit's own, to
        the last digit.  What was moved is not checked there.
        """
        through("share")(self, path, cap)


def _values(parts: Mapping[str, Any]) -> dict[str, float]:
    """Every value that the shot needs, of the parts that are there [SI]."""
    named = {f"springs[{index}]": spring for index, spring in enumerate(parts["springs"])}
    named |= {name: parts[name] for name in SHOT_PARTS}
    values = {
        key: value
        for name, part in named.items()
        if part is not None
        for key, value in part_si(name, part).items()
    }
    return derive(values) if "chamber.stroke" in values else values


def _impossible(springs: Sequence[Any], values: Mapping[str, float]) -> list[str]:
    """What cannot go together, as far as the parts could be made (None for a spring that could not)."""
    faults = []
    for rule in RULES:
        try:
            broken = rule.broken(values)
        except KeyError:  # a value of a part that could not be made
            continue
        if broken:
            name = rule.field
            if name.startswith("spring"):
                part, field = name.split(".")
                name = f"{springs[int(part[6:])].name}.{field}"
            faults.append(rule.fault(values, name))
    return faults


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
        raise BuildError([fault("demo build", shown(name), f"one of {', '.join(demo_builds())}")])
    return Build.load(tables.data_folder() / "builds" / f"{name}.toml")
