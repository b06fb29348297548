"""What a builder keeps from one notebook to the next: builds, strings of shots, and a few choices.

What it is for: `my_builds` and `my_strings`, texts saved under names in a folder of the builder's own, one of
each on the bench; `remember` and `recall` for choices such as the units.  What it leaves out: panels, which
offer all this by hand, and their words.

The folder is ``my_bench`` beside the notebook, or what the environment variable ``BLASTERLAB_BENCH`` names;
an empty one means no folder.  A test run has none unless that variable names it: it never sees a user's own.
"""

from __future__ import annotations

import itertools
import os
import re
from collections.abc import Callable, Collection
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Generic, TypeVar

from blasterlab.bench.cap_risk import speed_cap
from blasterlab.bench.strings import ChronoString, demo_string, demo_strings
from blasterlab.build import Build, demo_build, demo_builds
from blasterlab.doors import Spoken
from blasterlab.faults import fault, shown
from blasterlab.files import write_whole
from blasterlab.units import Quantity, UnitError

FOLDER, VARIABLE = "my_bench", "BLASTERLAB_BENCH"
#: A name is also a file's: it begins with a letter or a digit and holds nothing that a disk would refuse.
_NAME = re.compile(r"[^\W_](?:[\w .,+()'-]{0,58}[\w+)'-])?")
Value = TypeVar("Value")


def folder() -> Path | None:
    """The builder's own folder, which may not exist yet; None where nothing is kept.

    Returns
    -------
    Path or None
        Seen from the working directory [-].
    """
    tested = "PYTEST_VERSION" in os.environ  # a kernel that a test starts inherits it
    named = os.environ.get(VARIABLE, "" if tested else FOLDER)
    return Path(named).absolute() if named else None


def remember(key: str, value: str) -> None:
    """Keep a choice, such as ``"units"``; nothing happens where nothing is kept.

    Parameters
    ----------
    key, value : str [-]
        What it is called, and the choice.

    Raises
    ------
    UnitError
        A folder that cannot be written.
    """
    place = folder()
    if place is not None:
        _write(place / "chosen" / f"{key}.txt", value)


def recall(key: str, among: Collection[str] | None = None, place: Path | None = None) -> str | None:
    """A choice that was kept, None when there is none or it is not among those offered now.

    Parameters
    ----------
    key : str [-]
        As in `remember`.
    among : collection of str or None [-]
        What can be chosen; None takes any text.
    place : Path or None [-]
        Another folder than `folder`.

    Returns
    -------
    str or None
        The choice [-].
    """
    place = place or folder()
    try:
        kept = None if place is None else _as_it_is(place / "chosen" / f"{key}.txt")
    except (OSError, UnicodeDecodeError):
        return None
    return kept if among is None or kept in among else None


def event_caps(place: Path | None = None) -> tuple[str, ...]:
    """The event's caps that a hand gave last, as typed, in a folder as in `recall`; 0 is no cap."""
    found = []
    for text in (recall(f"{kind}_cap", place=place) for kind in ("speed", "energy")):
        with suppress(ValueError):
            if text and speed_cap(text, Quantity(1.0, "g")):
                found.append(text)
    return tuple(found)


def _as_it_is(path: Path) -> str:
    found = path.stat()
    return _read(path, found.st_mtime_ns, found.st_ino, found.st_size)


@lru_cache(maxsize=8)  # asked for at every move of a control
def _read(path: Path, *_: int) -> str:
    """A file's text, read again once it is another file or a changed one."""
    return path.read_text(encoding="utf-8")


def _write(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text)
    except OSError as error:
        raise UnitError(f"{path.name} cannot be saved: {error.strerror or error}") from error


@dataclass(frozen=True)
class Start(Spoken, Generic[Value]):
    """What a panel or a notebook starts from.

    Parameters
    ----------
    text : str [-]
        The build or the string as text, as it was typed.
    name : str [-]
        What it is called.
    shelf : Shelf [-]
        Where others of its kind are.
    saved : datetime or None [-]
        When the builder saved it, None for what is not the builder's own.
    demo : bool [-]
        One of the invented ones that come with the kit.
    trouble : str [-]
        Why the builder's own could not be read, where another stands in.
    """

    text: str = field(repr=False)
    name: str
    shelf: Shelf[Value] = field(repr=False)
    saved: datetime | None = None
    demo: bool = False
    trouble: str = ""

    @cached_property
    def value(self) -> Value:
        """The build or the string itself; a ValueError lists the faults of its text."""
        return self.shelf.read(self.text)


@dataclass(frozen=True)
class Shelf(Spoken, Generic[Value]):
    """Builds, or strings of shots, saved under names; one of them is the current one, on the bench.

    Parameters
    ----------
    kind, ending : str [-]
        ``"build"`` or ``"string"``, and the ending of its files.
    read, write : callable [-]
        From text, and to text.
    demos, demo : callable [-]
        Names of the invented ones that come with the kit, and one of them.
    otherwise : str [-]
        The demo to start from while there is no current one.
    control : str [-]
        What the control is called in which its text is typed.
    """

    kind: str
    ending: str
    read: Callable[[str], Value]
    write: Callable[[Value], str]
    demos: Callable[[], list[str]]
    demo: Callable[[str], Value]
    otherwise: str
    control: str

    def names(self) -> list[str]:
        """Names of what was saved.

        Returns
        -------
        list of str
            For `load`, in alphabetical order [-].
        """
        place = folder()
        files = [] if place is None else (place / f"{self.kind}s").glob(f"*{self.ending}")
        found = {path.stem for path in files if _NAME.fullmatch(path.stem)} - set(self.demos())
        return sorted(found, key=str.casefold)

    def free(self, name: str) -> str:
        """A name under which nothing is saved: this one, or with a number after it.

        Parameters
        ----------
        name : str [-]
            The one that is wished for.

        Returns
        -------
        str
            Such as ``"Garage 3"``, or ``"Garage 3 (2)"`` where that is used [-].
        """
        bare = re.sub(r" \(\d+\)$", "", name)[:54].rstrip()
        tried = (name if n == 1 else f"{bare} ({n})" for n in itertools.count(1))
        return next(one for one in tried if one not in self.names())

    def save(self, name: str, what: Value | str, current: bool = True) -> None:
        """Save under a name, wholly or not at all, and put it on the bench.

        Parameters
        ----------
        name : str [-]
            Letters, digits, spaces and the like; an older one of this name is replaced.
        what : Build, ChronoString or str [-]
            The build or the string, or its text, which is kept as it was typed; a build without a title is
            given its name.
        current : bool [-]
            Whether it is put on the bench; False leaves there what is there.

        Raises
        ------
        UnitError
            A name that no file can have, or a folder that cannot be written.
        ValueError
            A text that cannot be read; every fault of it.
        """
        text = what if isinstance(what, str) else self.write(what)
        text = self._titled(text, name)
        _write(self._path(name), text)
        if current:
            self.choose(name)

    def load(self, name: str) -> Value:
        """What was saved under a name.

        Parameters
        ----------
        name : str [-]
            One of `names`.

        Returns
        -------
        Build or ChronoString
            As saved [-].

        Raises
        ------
        UnitError
            No such name.
        ValueError
            A file that can no longer be read; every fault of it.
        """
        return self.start(name).value

    def current(self, otherwise: str | Value = "") -> Value:
        """What is on the bench, or a demo or what is given while nothing of the builder's own is.

        Parameters
        ----------
        otherwise : str, Build or ChronoString [-]
            The demo's name, "" for the kit's first one; or what to start from instead.

        Returns
        -------
        Build or ChronoString
            To start from [-].
        """
        start = self.begin(otherwise if isinstance(otherwise, str) else "")
        return otherwise if start.demo and not isinstance(otherwise, str) else start.value

    def choose(self, name: str) -> None:
        """Put something on the bench: every panel and notebook that starts after this starts from it.

        Parameters
        ----------
        name : str [-]
            One of `names`; "" clears the bench, so that all start from the demos again.

        Raises
        ------
        UnitError
            No such name, or a folder that cannot be written.
        """
        if name and name not in self.names():
            raise UnitError(fault("name", shown(name), f"one of {', '.join(self.names()) or 'those saved'}"))
        remember(self.kind, name)

    def chosen(self) -> str:
        """The name of what the builder put on the bench, "" for nothing [-]."""
        return recall(self.kind, self.names()) or ""

    def start(self, name: str) -> Start[Value]:
        """What was saved under a name, or a demo, and what is known of it.

        Parameters
        ----------
        name : str [-]
            One of `names`, or of the demos.

        Returns
        -------
        Start
            Its text, and when it was saved [-].

        Raises
        ------
        UnitError
            No such name.
        """
        if name in self.names():
            path = self._path(name)
            text = path.read_bytes().decode("utf-8-sig", "replace")
            return Start(text, name, self, datetime.fromtimestamp(path.stat().st_mtime))
        if name not in self.demos():
            raise UnitError(fault("name", shown(name), f"one of {', '.join([*self.names(), *self.demos()])}"))
        return Start(self.write(self.demo(name)), name, self, demo=True)

    def begin(self, otherwise: str = "", given: Value | str | None = None) -> Start[Value]:
        """What a panel starts from: what it was given, else what is on the bench, else a demo.

        Parameters
        ----------
        otherwise : str [-]
            The demo; "" for the kit's first one.
        given : Build, ChronoString, str or None [-]
            From a notebook's code, or its text; when it is what is on the bench, that is said.

        Returns
        -------
        Start
            With `trouble` set where what is on the bench can no longer be read [-].
        """
        trouble, name = "", self.chosen()
        if name:
            try:
                start = self.start(name)
                if given in (None, start.value, start.text):
                    return start
            except (ValueError, OSError) as error:
                trouble = f"{name}: {' '.join(str(error).split())}"
        if given is None:
            return replace(self.start(otherwise or self.otherwise), trouble=trouble)
        title = (
            "" if isinstance(given, str) else str(getattr(given, "title", ""))
        ) or f"untitled {self.kind}"
        text = given if isinstance(given, str) else self.write(given)
        return Start(text, title, self, trouble=trouble)

    def _titled(self, text: str, name: str) -> str:
        """A text that can be read; where it has no title, and can be given one, with this name for it."""
        untitled = f"untitled {self.kind}"
        if getattr(self.read(text), "title", "") == untitled:
            bare = re.sub(rf'^title = "{untitled}"\n', "", text, count=1, flags=re.MULTILINE)
            titled = re.sub(r"\A((?:[ \t]*(?:#.*)?\r?\n)*)", rf'\1title = "{name}"\n', bare, count=1)
            with suppress(ValueError):  # a post with words round its build stays as it is
                return titled if getattr(self.read(titled), "title", "") == name else text
        return text

    def _path(self, name: str) -> Path:
        place = folder()
        if place is None:
            raise UnitError(f"nothing is kept here: {VARIABLE} names no folder")
        if not isinstance(name, str) or not _NAME.fullmatch(name):
            must = "1 to 60 letters, digits or spaces, a letter or a digit first"
            raise UnitError(fault("name", shown(name), must, example=f"my {self.kind}"))
        if name in self.demos():
            raise UnitError(fault("name", shown(name), "another name: this is a demo's"))
        return place / f"{self.kind}s" / f"{name}{self.ending}"


my_builds = Shelf("build", ".toml", Build.from_text, Build.to_text, demo_builds, demo_build,
                  otherwise="workhorse", control="build")  # fmt: skip
my_strings = Shelf("string", ".csv", ChronoString.from_text, ChronoString.to_csv, demo_strings, demo_string,
                   otherwise="workhorse_settling", control="shots")  # fmt: skip
