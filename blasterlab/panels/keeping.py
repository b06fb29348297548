"""What a panel starts from, where it was, and what of it is kept: undo, redo, reset, save, load.

What it is for: `Keeping`, the part of every `Panel` that does this, with no code in the panels themselves.
What it leaves out: controls, pictures and words (``base``), widgets (``bench_row``), files (``bench.kept``).
"""

from __future__ import annotations

import re
import threading
import weakref
from collections.abc import Callable, Mapping, Sequence
from contextlib import AbstractContextManager, suppress
from dataclasses import dataclass, replace
from html import escape
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.bench import kept
from blasterlab.buildtext import NEEDED
from blasterlab.panels.bench_row import BenchRow
from blasterlab.panels.controls import Asked
from blasterlab.panels.history import History
from blasterlab.panels.rows import Row
from blasterlab.panels.sight import Sight
from blasterlab.report import asked
from blasterlab.report import kept as words

State = Mapping[str, Any]
#: Every panel there is.
PANELS: weakref.WeakSet[Any] = weakref.WeakSet()


@dataclass(frozen=True)
class Moment:
    """Where a panel stands: what it started from, what was made of that, the controls, and their values."""

    start: kept.Start | None
    behind: Any
    controls: Mapping[str, Asked]
    state: dict[str, Any]
    chosen: str | None = None  # what is on the bench, from the first time that this panel clears it
    typed: frozenset[str] = frozenset()  # controls whose values are the builder's, since the start was a demo


class Keeping:
    """What a panel starts from and where it was; `Panel` fills in what is only declared here."""

    title: str
    #: Whether what it saves is a build of its own making, which is kept beside what is on the bench.
    makes = False
    _beside = ""  # the text of the last one
    _make: Callable[[kept.Start | None], tuple[Any, Sequence[Asked]]]
    _text: Callable[[State], str]
    _origin: kept.Start | None
    _bench: BenchRow | None
    _history: History[Moment]
    _rows: dict[str, Row]
    _unread: dict[str, str]
    _sight: Sight
    _heading: W.HTML
    _guard: threading.RLock
    _moving: bool
    _note: str
    _chosen: str | None
    _mine: frozenset[str]
    _fault: str
    _putting: Callable[[], AbstractContextManager[None]]
    _show_controls: Callable[[], None]
    _refresh: Callable[[], None]
    _raise_fault: Callable[[], None]
    _tell: Callable[[], None]
    _first: dict[str, Any]

    def reset(self) -> None:
        """Back to the values at the start; the unit set stays.

        Raises
        ------
        ValueError
            No result with these values.
        """
        with self._guard:
            self._history.leave(self._moment)
            self._state, self._mine = dict(self._first), self._mine if self._measured_only else frozenset()
            self._show_anew()

    def undo(self) -> None:
        """Take the last change back: a control's, a reset, another start; first an entry that is unread.

        Raises
        ------
        ValueError
            Nothing to take back, or no result with these values.
        """
        with self._guard:
            if not self._unread:
                self._step(self._history.back)
            self._show_anew()

    def redo(self) -> None:
        """Make the change again that was taken back last.

        Raises
        ------
        ValueError
            None was, or no result with these values.
        """
        with self._guard:
            self._step(self._history.forward)
            self._show_anew()

    @property
    def kept_text(self) -> str:
        """The build or the string that the panel shows, as text: what `save` keeps."""
        with self._guard:
            return self._text(self._asked())

    def save(self, name: str) -> None:
        """Save what the panel shows under a name, and put it on the bench: panels elsewhere start from it.

        What a panel `makes` is kept beside: the bench stays as it is, and the panel starts from what it did.

        Parameters
        ----------
        name : str [-]
            What it is called; the name of what the panel started from replaces that, or gets a number where
            the panel `makes` what it saves.

        Raises
        ------
        ValueError
            A name that will not do or is another's, or a build that cannot be.
        """
        with self._guard:
            shelf, text, made = self._shelf(), self.kept_text, self._made
            name = shelf.free(name) if made else name
            if name in shelf.names() and (self.start is None or name != self.start.name):
                raise units.UnitError(asked.taken(shelf.kind, name))
            shelf.save(name, text, current=not made)
            if made:
                self._beside = text
                self._show_place()
                self._tell()
            else:
                self._start_anew(shelf.start(name))
        self._show_benches()
        if self._bench is not None:
            self._bench.whose.value = escape(words.saved(name, shelf.begin()))

    def start_from(self, name: str) -> None:
        """Start from another build or string; one that the builder saved is then on the bench.

        Parameters
        ----------
        name : str [-]
            One that was saved, a demo, or "" for what the panel was made with.

        Raises
        ------
        ValueError
            No such name, or nothing to show of it.
        """
        with self._guard:
            shelf = self._shelf()
            start = shelf.start(name) if name else self._origin
            self._start_anew(start)
            if start is not None and start.saved is not None:
                shelf.choose(name)

    def clear_bench(self) -> None:
        """Start from a demo, here and wherever a panel is made anew; what was saved stays, `undo` goes back.

        Raises
        ------
        ValueError
            A folder that cannot be written.
        """
        shelf = self._shelf()
        self._bench_anew(lambda: shelf.choose(""), lambda: words.cleared(shelf.begin()))

    def beside(self, learned: str) -> str:
        """A free name for what becomes of the start.

        Parameters
        ----------
        learned : str [-]
            What is added to its name, such as ``"with learned losses"``.

        Returns
        -------
        str
            For `save_beside` [-].
        """
        old, shelf = self.start.name if self.start and self.start.saved else "", self._shelf()
        name = re.sub(rf" {learned}( \(?\d+\)?)?$", "", old)[:40].rstrip(" .,('-") or f"my {shelf.kind}"
        return shelf.free(f"{name} {learned}")

    def save_beside(self, name: str, text: str) -> None:
        """Save what became of the start, and start from that; `undo` goes back.

        Parameters
        ----------
        name, text : str [-]
            A name from `beside`, and the build as text.

        Raises
        ------
        ValueError
            A build that cannot be, or a folder that cannot be written.
        """
        shelf = self._shelf()
        self._bench_anew(lambda: shelf.save(name, text), lambda: words.saved(name, shelf.begin()))

    def _bench_anew(self, put: Callable[[], None], said: Callable[[], str]) -> None:
        """Start from what is put on the bench, or from a demo, and say so; `undo` puts that back."""
        with self._guard:
            shelf = self._shelf()
            self._chosen = shelf.chosen()
            put()
            self._start_anew(shelf.begin())
            self._chosen = shelf.chosen()
        self._show_benches()
        if self._bench is not None:
            self._bench.whose.value = escape(said())

    def from_callipers(self) -> None:
        """Start from what was typed alone: all else is assumed, and shown as that, not the demo's any more.

        Raises
        ------
        ValueError
            Typed values that no build can have together.
        """
        with self._guard:
            self._start_anew(self._typed_alone(), self._mine)

    def _typed_alone(self) -> kept.Start:
        return kept.Start(self._behind.typed_text(self._state, self._mine), words.CALLIPERS, self._shelf())

    def _assumed_anew(self) -> bool:
        """After an entry, assume again what follows from what was typed, where nothing else counts."""
        with suppress(ValueError):  # where the typed values cannot be, the build as moved says so
            if self._measured_only and self._typed_alone().value:
                self._start_anew(self._typed_alone(), self._mine, step=False)
                return True
        return False

    @property
    def _measured_only(self) -> bool:
        return self.start is not None and self.start.name == words.CALLIPERS and self.start.saved is None

    def _whose(self) -> str:
        """Which values are still the demo's, once some are the builder's."""
        start = self.start
        boxes = {name for name in self.controls if self._kept(name)}
        if start is None or not self._mine or not (start.demo or self._measured_only) or not boxes >= NEEDED:
            return ""
        left = (boxes if start.demo else NEEDED) - self._mine
        return words.demos([one.label for name, one in self.controls.items() if name in left], start.demo)

    # ---- what it starts from, and where it was --------------------------------------------------------

    def _begun(self, start: kept.Start | None) -> Moment:
        """A panel that starts from this."""
        behind, controls = self._make(start)
        named = {control.name: control for control in controls}
        if len(named) != len(controls):
            raise units.UnitError(f"{self.title}: two controls have the same name")
        return Moment(start, behind, named, {c.name: c.read(c.default) for c in controls})

    @property
    def _moment(self) -> Moment:
        return Moment(self.start, self._behind, self.controls, dict(self._state), self._chosen, self._mine)

    def _take(self, moment: Moment) -> None:
        self.start, self._behind, self.controls = moment.start, moment.behind, moment.controls
        self._state, self._chosen, self._mine = dict(moment.state), moment.chosen, moment.typed
        self._first = {name: control.read(control.default) for name, control in self.controls.items()}

    def _step(self, step: Callable[[Moment], Moment]) -> None:
        before = self._chosen
        try:
            self._restore(step(self._moment))
        except IndexError:
            raise units.UnitError(asked.NO_STEP) from None
        if None not in (before, self._chosen) and before != self._chosen:
            self._shelf().choose(str(self._chosen))
            self._show_benches()

    def _restore(self, moment: Moment) -> None:
        anew = moment.controls is not self.controls
        self._take(moment)
        if anew:
            self._sight.forget()
            with self._putting():
                for name, row in self._rows.items():
                    row.fit(self.controls[name])

    def _start_anew(
        self, start: kept.Start | None, mine: frozenset[str] = frozenset(), step: bool = True
    ) -> None:
        """Start from this; what has nothing to do with the build, or the string, stays as it was set."""
        begun, now = self._begun(start), self._moment
        stays = {
            name: now.state[name]
            for name, control in begun.controls.items()
            if control == now.controls[name] and not self._kept(name)
        }
        if step:
            self._history.leave(now)
        self._restore(replace(begun, state=begun.state | stays, typed=mine))
        self._show_anew()

    def _show_anew(self) -> None:
        self._sight.forget()
        self._show_controls()
        self._refresh()
        self._raise_fault()

    def _shelf(self) -> kept.Shelf:
        if self.start is None:
            raise units.UnitError(f"{self.title} has no build and no string to keep")
        return self.start.shelf

    def _show_bench(self) -> None:
        """The list of what can be started from, and the name of what was."""
        if self._bench is not None and self.start is not None:
            with self._guard, self._putting():
                self._bench.show(self.start)

    def _show_benches(self) -> None:
        for panel in [panel for panel in PANELS if panel.comm is not None]:
            panel._show_bench()

    def _start_chosen(self, name: str) -> None:
        if not self._moving:
            self._noted(lambda: self.start_from(name))

    def _noted(self, action: Callable[[], None]) -> None:
        """Do what the hand asked of the bench; a fault goes to the message line, the picture still holds."""
        try:
            action()
        except ValueError as error:
            with self._guard:
                self._note = "" if str(error) == self._fault else str(error)
                self._tell()
        self._show_bench()

    def _kept(self, name: str) -> bool:
        """Whether a control's value is part of what is saved."""
        return self.start is not None and ("." in name or name == self.start.shelf.control)

    @property
    def _made(self) -> bool:
        """Whether what would be saved is of the panel's own making, and not what it started from."""
        return self.makes and self.start is not None and self.kept_text != self.start.text

    @property
    def _moved(self) -> bool:
        """Whether what would be saved has changed since it was started from, or kept beside that."""
        changed = (now != self._first[name] for name, now in self._state.items() if self._kept(name))
        with suppress(Exception):  # what cannot be, or a bug, is said where the result is made
            if self._made and self.kept_text != self._beside:
                return True
        return self._measured_only or bool(self._confirmed) or any(changed)

    def _unsaved(self) -> str:
        """The text of a change that is not saved, folded, for when no kernel is left to save it: HTML."""
        with suppress(ValueError):
            if self.start is not None and self._moved:
                text = escape(self.kept_text)
                return f"<details><summary>{words.unsaved(self.start)}</summary><pre>{text}</pre></details>"
        return ""

    def _asked(self) -> dict[str, Any]:
        """The values of the controls, and what stands behind them."""
        behind = {"start": self._behind, "typed": self._confirmed}
        return dict(self._state) if self._behind is None else {**self._state, **behind}

    @property
    def _confirmed(self) -> frozenset[str]:
        """Controls of assumed values that were typed, be it with the same number."""
        return frozenset(name for name in self._mine if self.controls[name].assumed)

    def _show_place(self) -> None:
        """What the panel started from, beside its title."""
        place = ""
        if self.start is not None:
            moved = f"; {words.CHANGED}" if self._moved else ""
            place = f" · {escape(words.start(self.start))}{moved}"
        self._heading.value = f"<b>{escape(self.title)}</b>{place}"
        if self._bench is not None:
            self._bench.whose.value = escape(self._whose())
