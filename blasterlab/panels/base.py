"""The panel foundation: controls -> state -> pure function -> pictures and words.

What it is for: `Panel` joins controls with a function of their values, and shows the result as pictures,
as sentences and as one line of key numbers.  What it leaves out: physics and plotting; a panel is a list of
controls and three functions, not a subclass.

A panel in a notebook takes two lines; in code it is driven by the same values as by hand:

>>> from blasterlab.panels import Control, Panel
>>> from blasterlab.report.told import Told
>>> controls = [Control("side", "side", "length", "10 mm", "90 mm", "40 mm", "1 mm", "what the saw can hold")]
>>> def words(area): return Told(f"area {area * 1e4:.2f} cm²")
>>> panel = Panel("Square", controls, lambda state: state["side"] ** 2, words)
>>> panel.text
'Square: area 16.00 cm²'
>>> panel.set("side", "2 in")
>>> panel.text
'Square: area 25.81 cm²'

References
----------
W3C, *Web Content Accessibility Guidelines 2.2*, 2023, 1.1.1 (text beside a picture), 2.1.1 (keyboard).
"""

from __future__ import annotations

import base64
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import replace
from html import escape
from typing import Any, Generic, TypeVar

import ipywidgets as W  # noqa: N812
from IPython.core.getipython import get_ipython

from blasterlab import units
from blasterlab.bench import kept
from blasterlab.buildtext import NEEDED
from blasterlab.figures.style import View
from blasterlab.panels.bench_row import BenchRow
from blasterlab.panels.controls import Asked, Choice, Paste
from blasterlab.panels.export import Export
from blasterlab.panels.history import History
from blasterlab.panels.keeping import PANELS, Keeping, Moment, State
from blasterlab.panels.last import LastSight
from blasterlab.panels.look import PANEL, STYLE, fold
from blasterlab.panels.rows import Box, Row, row_of
from blasterlab.panels.sight import Sight, alert
from blasterlab.report import asked
from blasterlab.report.told import Told

LONGEST = 110  # characters of the key-number line: what is longer is cut
Result = TypeVar("Result")
REST = 0.3  # s after a slider's last step in which it has come to rest


class Panel(Keeping, W.VBox, Generic[Result]):
    """Controls, pictures and words on one result, redrawn as a control moves.

    Parameters
    ----------
    title : str [-]
        Heading, and the start of `text`.
    controls : sequence of Control, Choice or Paste, or callable [-]
        In the order shown; or what makes them from the `Start`, after what `compute` then finds beside their
        values as ``state["start"]``.
    compute : callable [-]
        State (name -> SI float or text) to result; pure.  Its ValueError is shown as an input error.
    words : callable [-]
        Result to `Told`: plain sentences in the chosen unit set.
    views : sequence of View [-]
        Pictures, each taking the result.  Without any, the list of unit sets and the buttons are left out.
    caution : str [-]
        A caution that is always in sight under the words.
    finish : callable or None [-]
        Result to a result with what a slider's every step cannot wait for, added once the slider rests.
    start : Start or None [-]
        The build or string to start from (`Shelf.begin`), which others of its shelf can take the place of.
    text : callable or None [-]
        State to the text that is saved; None takes the build that ``state["start"].moved(state)`` gives.

    Raises
    ------
    UnitError
        A default outside its range, or two controls of one name.

    Notes
    -----
    `set`, `undo`, `redo`, `reset`, `save`, `start_from` and `units` do in code what is done by hand, and
    raise ValueError where the hand would read the message line.  After an input error `text` says so, and
    picture and words of the last good values are dimmed under a line that says what they are.  An entry that
    cannot be read stays in its box and in `message`, with the value that is used instead, until that control
    gets another value: another control's move gives a result meanwhile.
    In code, and for everything but a slider, the result is always a finished one.
    The unit set is one for the whole kit: choosing it here moves every panel, and writes every box anew.
    """

    #: Shows what stands in the panel's place where no kernel moves it, as `Drawing` does in a notebook; None
    #: takes the panel's own pictures.
    still: Callable[[], tuple[dict[str, Any], dict[str, Any]]] | None = None
    #: Waits for what a button has started and what goes on behind it.
    wait: Callable[[], None] = staticmethod(lambda: None)

    def __init__(
        self,
        title: str,
        controls: Sequence[Asked] | Callable[[Any], tuple[Any, Sequence[Asked]]],
        compute: Callable[[State], Result],
        words: Callable[[Result], Told],
        views: Sequence[View] = (),
        caution: str = "",
        finish: Callable[[Result], Result] | None = None,
        start: kept.Start | None = None,
        text: Callable[[State], str] | None = None,
    ) -> None:
        self.title, self._compute, self._words, self._finish = title, compute, words, finish
        self._make = controls if callable(controls) else lambda _: (None, controls)
        self._text = text or (lambda state: str(state["start"].moved(state).to_text()))
        self._take(self._begun(start))
        self._origin, self._history, self._note = start, History[Moment](), ""
        self._sight, self._message = Sight(views), W.HTML(layout=W.Layout(min_height="1.4em"))
        self._guard = threading.RLock()  # callbacks come from another thread, even while a cell runs
        self._moving = False
        self._result: Result
        self._told, self._fault = Told(""), ""
        self._pause = threading.Timer(0.0, self.rest)
        self._allowed: list[tuple[W.Button, Callable[[Result], bool]]] = []
        self._to_keep: dict[str, str] = {}  # by hand, to be kept for other notebooks
        self._unread: dict[str, str] = {}  # why the entry that a control's box holds cannot be read
        self._rows = {name: row_of(control, self._typed) for name, control in self.controls.items()}
        self._bench = None if start is None else BenchRow(start.shelf, self, {*self.controls} >= NEEDED)
        self._unit_row = row_of(
            Choice("units", "units", units.UNIT_SETS, units.use_units(), "of every panel and printed number"),
            self._unit_chosen,
        )
        self._heading = W.HTML()
        self._last = LastSight(lambda: self._kept_sight() + self._unsaved(), lambda: self.text)
        super().__init__(self._laid_out(caution))
        self._show_controls()
        self._refresh()
        self._raise_fault()
        PANELS.add(self)

    def _laid_out(self, caution: str) -> list[W.Widget]:
        """Heading, then pictures and words beside the controls, or above them where the page is narrow."""
        steps = [
            self._button("Undo", "64px", "take the last change back", self.undo),
            self._button("Redo", "64px", "make it again", self.redo),
            self._button("Reset", "64px", "back to the values at the start", self.reset),
        ]
        export = Export(self, self._guard)
        hand = W.HBox([self._unit_row.box, *steps, export.button])
        hand.add_class("bl-hand")
        below_rows = [hand, export] if self.views else []
        bench = [] if self._bench is None else [self._bench.box]
        left = W.VBox([self._sight.widget, W.HTML(STYLE + fold(asked.MORE))])
        right = W.VBox([self._message, *self._folded(), *below_rows, *bench])
        grid = W.Box([left, right])
        grid.add_class("bl-grid")
        self.add_class(PANEL)
        below = W.HTML(f"<div>{escape(caution)}</div>" if caution else "")
        return [self._heading, grid, below]

    def _folded(self) -> list[W.Widget]:
        """The rows in their order, those of one fold in a box that opens, where the first of them stands."""
        found: dict[str, list[W.Widget]] = {}
        for name, row in self._rows.items():
            found.setdefault(self.controls[name].fold or name, []).append(row.box)
        return [
            rows[0] if head in self._rows else W.Accordion([W.VBox(rows)], titles=[head])
            for head, rows in found.items()
        ]

    def _button(self, words: str, width: str, tip: str, action: Callable[[], None]) -> W.Button:
        button = W.Button(description=words, tooltip=tip, layout=W.Layout(width=width, flex="none"))
        button.on_click(lambda _: self._noted(action))
        return button

    def allow(self, button: W.Button, when: Callable[[Result], bool]) -> None:
        """Grey a button out, except for results with which it does something."""
        self._allowed.append((button, when))
        button.disabled = not when(self._result)

    def _put_over(self, *widgets: W.Widget) -> None:
        """Buttons and the like in a row over the picture."""
        panel: Any = self
        hand = W.HBox(widgets)
        hand.add_class("bl-hand")
        panel.children = (panel.children[0], hand, *panel.children[1:])

    # ---- what a notebook reads and sets -------------------------------------------------------------

    @property
    def text(self) -> str:
        """The one line of key numbers, or the input error that stands in its place."""
        fault = self._fault
        return asked.no_result(self.title, fault, LONGEST) if fault else f"{self.title}: {self._told.key}"

    @property
    def verdict(self) -> str:
        """The sentence that answers the panel's question for the last good values."""
        return self._told.verdict

    @property
    def message(self) -> str:
        """The message line: the input error now in sight and every unread entry, one a line, or nothing."""
        with self._guard:
            unread = [
                asked.unread(self._unread[name], control.say(self._state[name]))
                for name, control in self.controls.items()
                if name in self._unread
            ]
            own = [self._fault] if self._fault and self._fault not in self._unread.values() else []
            return "\n".join(own + unread + [self._note] * bool(self._note))

    @property
    def result(self) -> Result:
        """What `compute` made of the last good values."""
        return self._result

    @property
    def values(self) -> dict[str, units.Quantity | str]:
        """The controls' values: a Quantity in SI, or text."""
        with self._guard:
            return {name: control.given(self._state[name]) for name, control in self.controls.items()}

    def set(self, name: str, value: object) -> None:
        """Set one control, as by hand.

        Parameters
        ----------
        name : str [-]
            A control's name.
        value : str or Quantity [unit of the control]
            ``"36 mm"``, ``"9/16 in"``, or a choice's name.

        Raises
        ------
        ValueError
            Where the hand would read the message line: no such value, or no result with it.
        """
        self._row(name)
        with self._guard:
            self._change(name, value, by_hand=False)
            self._raise_fault()

    @property
    def units(self) -> str:
        """The unit set now in use; set it to ``"metric"`` or ``"US customary"``."""
        return units.use_units()

    @units.setter
    def units(self, name: str) -> None:
        units.use_units(name)
        _show_units()

    # ---- what an eye sees and a hand does, for tests ------------------------------------------------

    @property
    def lines(self) -> list[str]:
        """The sentences of the last good values, the line of key numbers first."""
        return self._told.lines

    @property
    def pictures(self) -> list[bytes]:
        """The pictures in sight, in the views' order: PNG files."""
        return list(self._sight.pictures)

    @property
    def views(self) -> list[View]:
        """What draws the pictures; ``view.figure.artist(name)`` is a line or a word in one."""
        return [painter.view for painter in self._sight.painters]

    @property
    def sight(self) -> str:
        """Pictures and sentences as they are shown: HTML."""
        return str(self._sight.widget.value)

    @property
    def alert(self) -> str:
        """The message line as it is shown: HTML, or nothing."""
        return str(self._message.value)

    def box(self, name: str) -> Box:
        """What a control's box and slider show; the box of the unit set is named ``"units"``."""
        return self._row(name).shown()

    def type(self, name: str, text: str) -> None:
        """Type into a control's box, or choose from its list; what cannot be read stands in `message`."""
        self._row(name).entry.value = text

    def slide(self, name: str, place: float) -> None:
        """Move a control's slider to a place [unit of its label]."""
        self._row(name).slider.value = place

    def press(self, words: str) -> None:
        """Press the button on which these words stand, and wait for what it starts.

        A UnitError lists the buttons there are.
        """
        buttons = {each.description: each for each in _widgets(self) if isinstance(each, W.Button)}
        if words not in buttons:
            raise units.UnitError(f"{self.title} has no button {words!r:.64}; it has {', '.join(buttons)}")
        buttons[words].click()
        self.wait()

    def _row(self, name: str) -> Row:
        if name == "units":
            return self._unit_row
        if name not in self._rows:
            raise units.UnitError(f"{self.title} has no control {name!r:.64}; it has {', '.join(self._rows)}")
        return self._rows[name]

    # ---- how a change travels -----------------------------------------------------------------------

    def _change(self, name: str, value: Any, by_hand: bool, sliding: bool = False) -> None:
        control, before = self.controls[name], self._moment
        try:
            self._state[name] = (control.labelled if by_hand else control).read(value)
        except ValueError as error:
            if by_hand:
                self._unread[name] = str(error)
                if isinstance(control, Paste) and len(str(value)) > control.longest:
                    with self._putting():
                        self._rows[name].show(before.state[name])  # the browser need not carry it any longer
            self._say(str(error))
            raise
        self._unread.pop(name, None)
        self._mine |= {name} if self._kept(name) else set()
        if self._state != before.state or self._confirmed - before.typed:
            self._history.leave(before, name if sliding else "")
        if by_hand and (key := getattr(control, "remembered", "")):
            self._to_keep[key] = str(getattr(self._state[name], "typed", self._state[name]))
            if not sliding:
                self._keep_choices()
        try:
            if sliding or not self._assumed_anew():
                self._refresh(sliding)
        finally:
            with self._putting():
                self._rows[name].show(self._state[name])
                self._grey_out()

    def _typed(self, name: str, value: object, sliding: bool) -> None:
        """A control moved in the browser (or by this panel itself, then nothing is to do)."""
        with self._guard:
            if self._moving:
                return
            self._by_hand(lambda: self._change(name, value, True, sliding))
        follow_units()  # outside the lock: other panels take theirs

    def _by_hand(self, action: Callable[[], None]) -> None:
        with suppress(ValueError):  # the message line shows it
            action()

    def rest(self) -> None:
        """What follows when a slider comes to rest: the result is finished."""
        with self._guard:
            self._by_hand(self._keep_choices)
            if not self._fault:
                self._refresh()

    def _keep_choices(self) -> None:
        """Keep for other notebooks what was chosen by hand."""
        while self._to_keep:
            kept.remember(*self._to_keep.popitem())

    def _unit_chosen(self, _: str, chosen: object, __: bool) -> None:
        with self._guard:
            by_panel = self._moving
        if not by_panel and chosen != units.use_units():  # outside the lock, as above
            self._by_hand(lambda: kept.remember("units", str(chosen)))
            self._by_hand(lambda: setattr(self, "units", chosen))

    @contextmanager
    def _putting(self) -> Iterator[None]:
        """While the panel itself writes into its boxes."""
        self._moving = True
        try:
            yield
        finally:
            self._moving = False

    def _show_controls(self) -> None:
        """The state into every box; what a box held unread is gone then."""
        self._unread.clear()
        self._in_units = units.use_units()
        with self._putting():
            self._unit_row.show(self._in_units)
            for name, row in self._rows.items():
                row.show(self._state[name], self.controls[name].assumed and name not in self._mine)
            self._grey_out()
        self._show_bench()

    def _grey_out(self) -> None:
        for row in self._rows.values():
            row.grey_out(self._state)

    def _refresh(self, sliding: bool = False) -> None:
        """State to result to pictures and words; a bug is said as one, and raised."""
        with self._guard:
            self._pause.cancel()
            self._note = ""
            self._show_place()
            try:
                try:
                    result = self._compute(self._asked())
                    if self._finish is not None and not sliding:
                        result = self._finish(result)
                    told = self._words(result)
                    line = asked.one_line(f"{self.title}: {told.key}", LONGEST)
                    told = replace(told, key=line[len(self.title) + 2 :])
                except ValueError as error:
                    self._say(str(error))
                    return
                self._sight.show(result, line, told)
            except Exception as error:
                self._say(asked.bug(error))
                raise
            self._result, self._told, self._fault = result, told, ""
            for button, when in self._allowed:
                button.disabled = not when(result)
            self._tell()
            if sliding and self._finish is not None:
                self._pause = threading.Timer(REST, self.rest)
                self._pause.daemon = True
                self._pause.start()

    def _say(self, fault: str) -> None:
        """A fault into the message line; what is in sight is dimmed."""
        self._fault = fault
        self._sight.dim(asked.old_picture(self.title))
        self._tell()

    def _tell(self) -> None:
        self._message.value = alert(self.message)
        self._last.changed()

    def _raise_fault(self) -> None:
        if self._fault:
            raise units.UnitError(self._fault)

    def _kept_sight(self) -> str:
        if self.still is None:
            return self.sight
        data, about = self.still()
        picture, alt = data["image/png"], escape(about["image/png"]["alt"])
        return f'<img alt="{alt}" src="data:image/png;base64,{picture}">'

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        data = dict(super()._repr_mimebundle_(**kwargs))
        data["text/plain"] = self.text
        if self._sight.pictures or kept.folder() is not None:
            self._last.show()
        if not self._sight.pictures:
            return data, {}
        if self.still is not None:
            drawn, about = self.still()
            return data | {"image/png": drawn["image/png"]}, dict(about)
        data["image/png"] = base64.b64encode(self._sight.pictures[0]).decode()
        return data, {"image/png": {"alt": self.text}}


_elsewhere = [kept.recall("units", units.UNIT_SETS)]  # what another notebook chose, when last looked at


def follow_units(ran: object = None) -> None:
    """Show the unit set that another notebook chose, whose kernel is another one, or a cell that `ran`."""
    chosen = kept.recall("units", units.UNIT_SETS)
    anew, _elsewhere[0] = chosen != _elsewhere[0], chosen
    if chosen and anew:
        units.use_units(chosen)
    if ran or anew:
        _show_units()


def _show_units() -> None:
    for panel in [one for one in PANELS if one.comm is not None and one._in_units != units.use_units()]:
        with panel._guard:
            panel._show_controls()
            panel._refresh()


if (shell := get_ipython()) is not None:
    shell.events.register("post_run_cell", follow_units)


def _widgets(widget: W.Widget) -> Iterator[W.Widget]:
    """A widget and everything in it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from _widgets(child)
