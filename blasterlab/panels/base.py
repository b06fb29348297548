"""The panel foundation: controls -> state -> pure function -> pictures and words.

What it is for: `Panel` joins controls with a function of their values, and shows the result as pictures,
as sentences and as one line of key numbers.  What it leaves out: physics and plotting; a panel is a list of
controls and three functions, not a subclass.

A panel in a notebook takes two lines; in code it is driven by the same values as by hand:

>>> from blasterlab.panels import Control, Panel
>>> controls = [Control("side", "side", "length", "10 mm", "90 mm", "40 mm", "1 mm", "what the saw can hold")]
>>> panel = Panel("Square", controls, lambda state: state["side"] ** 2, lambda a: [f"area {a * 1e4:.2f} cm²"])
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
import html
import threading
import weakref
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.figures.style import DPI, VERMILION, Painter, View
from blasterlab.panels.controls import Box, Choice, Control, Paste, Row

LONGEST = 110  # characters of the key-number line: a longer one is cut in a notebook's stored text
_TIGHT = "line-height:1.4"
_DIM_PICTURE, _DIM_WORDS = 0.35, 0.65  # words of 87 % black keep a contrast of 4.5:1 on white
_OLD = "Showing the last valid result:"
_WRAP = "repeat(auto-fit, minmax(330px, 1fr))"
_PANELS: weakref.WeakSet[Panel] = weakref.WeakSet()

State = Mapping[str, Any]


class Panel(W.VBox):
    """Controls, pictures and words on one result, redrawn as a control moves.

    Parameters
    ----------
    title : str [-]
        Heading, and the start of `text`.
    controls : sequence of Control, Choice or Paste [-]
        In the order shown.
    compute : callable [-]
        State (name -> SI float or text) to result; pure.  Its ValueError is shown as an input error.
    words : callable [-]
        Result to a list of plain sentences in the chosen unit set; the first is the line of key numbers.
    views : sequence of View [-]
        Pictures, each taking the result.
    caution : str [-]
        A caution that is always in sight under the words.

    Raises
    ------
    UnitError
        A default outside its range, or two controls of one name.

    Notes
    -----
    `set`, `reset` and `units` do in code what the controls do by hand, and raise ValueError where the hand
    would read the message line.  After an input error `text` says so, and picture and words of the last good
    values are dimmed under a line that says what they are.  An entry that cannot be read stays in its box
    and in `message`, with the value that is used instead, until that control gets another value: another
    control's move gives a result meanwhile.
    The unit set is one for the whole kit: choosing it here moves every panel, and writes every box anew.
    """

    def __init__(
        self,
        title: str,
        controls: Sequence[Control | Choice | Paste],
        compute: Callable[[State], Any],
        words: Callable[[Any], list[str]],
        views: Sequence[View] = (),
        caution: str = "",
    ) -> None:
        self.title, self._compute, self._words = title, compute, words
        self._controls = {control.name: control for control in controls}
        if len(self._controls) != len(controls):
            raise units.UnitError(f"{title}: two controls have the same name")
        self._state: dict[str, Any] = {c.name: c.read(c.default) for c in controls}
        self._painters = [Painter(view) for view in views]
        self._guard = threading.RLock()  # callbacks come from another thread, even while a cell runs
        self._moving = False
        self._result: Any = None
        self._fault = ""
        self._unread: dict[str, str] = {}  # why the entry that a control's box holds cannot be read
        self._line, self._told, self._pngs = "", "", [b""] * len(views)
        self._lines: list[str] = []
        self._rows: dict[str, Row] = {}
        for control in controls:
            self._rows[control.name] = Row(control, self._typed)
        self._unit_box = W.Dropdown(
            options=units.UNIT_SETS, value=units.use_units(), description="units",
            style={"description_width": "60px"}, layout=W.Layout(flex="1 1 auto", width="auto"),
            tooltip="the unit set of every panel and printed number",
        )  # fmt: skip
        self._unit_box.observe(self._unit_chosen, "value")
        self._reset_button = W.Button(
            description="Reset",
            tooltip="back to the values at the start",
            layout=W.Layout(width="84px", flex="none"),
        )
        self._reset_button.on_click(lambda _: self._by_hand(self.reset))
        self._sight = W.HTML()  # pictures and sentences: one message to the browser, painted in one go
        self._message = W.HTML(layout=W.Layout(min_height="2.4em", margin="0"))
        hand = W.HBox([self._unit_box, self._reset_button], layout=W.Layout(width="98%"))
        left = W.VBox([self._sight], layout=W.Layout(overflow="hidden"))
        right = W.VBox([self._message, *(row.box for row in self._rows.values()), hand], layout=left.layout)
        self._caution = W.HTML(f'<div style="{_TIGHT}">{html.escape(caution)}</div>' if caution else "")
        heading = W.HTML(f"<b>{html.escape(title)}</b>")
        grid = W.GridBox([left, right], layout=W.Layout(grid_template_columns=_WRAP, grid_gap="4px 16px"))
        super().__init__([heading, grid, self._caution])
        self._show_controls()
        self._refresh()
        if self._fault:
            raise units.UnitError(self._fault)
        _PANELS.add(self)

    # ---- what a notebook reads and sets -------------------------------------------------------------

    @property
    def text(self) -> str:
        """The one line of key numbers, or the input error that stands in its place."""
        return self._line

    @property
    def message(self) -> str:
        """The message line: the input error now in sight and every unread entry, one a line, or nothing."""
        with self._guard:
            unread = [
                f"{self._unread[name].rstrip('.')}; computed with {self._used(name)}"
                for name in self._controls
                if name in self._unread
            ]
            own = [self._fault] if self._fault and self._fault not in self._unread.values() else []
            return "\n".join(own + unread)

    @property
    def alert(self) -> str:
        """The message line as it is shown: HTML, or nothing."""
        return str(self._message.value)

    @property
    def lines(self) -> list[str]:
        """The sentences of the last good values, the line of key numbers first."""
        return list(self._lines)

    @property
    def pictures(self) -> list[bytes]:
        """The pictures in sight, in the views' order: PNG files."""
        return list(self._pngs)

    @property
    def views(self) -> list[View]:
        """What draws the pictures; ``view.figure.artist(name)`` is a line or a word in one."""
        return [painter.view for painter in self._painters]

    @property
    def sight(self) -> str:
        """Pictures and sentences as they are shown: HTML."""
        return str(self._sight.value)

    @property
    def result(self) -> Any:
        """What `compute` made of the last good values."""
        return self._result

    @property
    def values(self) -> dict[str, Any]:
        """The controls' values: a Quantity in SI, or text."""
        with self._guard:
            return {
                name: units.quantity(value, units.KINDS[control.kind].si)
                if isinstance(control, Control)
                else value
                for (name, value), control in zip(self._state.items(), self._controls.values(), strict=True)
            }

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

    def reset(self) -> None:
        """Back to the values at the start; the unit set stays.

        Raises
        ------
        ValueError
            No result with these values.
        """
        with self._guard:
            self._state = {name: control.read(control.default) for name, control in self._controls.items()}
            for painter in self._painters:
                painter.forget()
            self._show_controls()
            self._refresh()
            self._raise_fault()

    # ---- what a hand does and an eye sees, for tests ------------------------------------------------

    def box(self, name: str) -> Box:
        """What a control's box and slider show; the box of the unit set is named ``"units"``."""
        if name == "units":
            return Box(self._unit_box.value, "units", self._unit_box.tooltip)
        return self._row(name).shown()

    def type(self, name: str, text: str) -> None:
        """Type into a control's box, or choose from its list; what cannot be read stands in `message`."""
        entry = self._unit_box if name == "units" else self._row(name).entry
        entry.value = text

    def slide(self, name: str, place: float) -> None:
        """Move a control's slider to a place [unit of its label]."""
        self._row(name).slider.value = place

    def press(self, words: str) -> None:
        """Press the button on which these words stand; UnitError lists the buttons there are."""
        buttons = {each.description: each for each in _widgets(self) if isinstance(each, W.Button)}
        if words not in buttons:
            raise units.UnitError(f"{self.title} has no button {words!r:.64}; it has {', '.join(buttons)}")
        buttons[words].click()

    def _row(self, name: str) -> Row:
        if name not in self._rows:
            raise units.UnitError(
                f"{self.title} has no control {name!r:.64}; it has {', '.join(self._controls)}"
            )
        return self._rows[name]

    @property
    def units(self) -> str:
        """The unit set now in use; set it to ``"metric"`` or ``"US customary"``."""
        return units.use_units()

    @units.setter
    def units(self, name: str) -> None:
        units.use_units(name)
        for panel in [panel for panel in _PANELS if panel.comm is not None]:
            with panel._guard:
                panel._show_controls()
                panel._refresh()

    # ---- how a change travels -----------------------------------------------------------------------

    def _change(self, name: str, value: Any, by_hand: bool) -> None:
        try:
            self._state[name] = self._controls[name].read(value)
        except ValueError as error:
            if by_hand:
                self._unread[name] = str(error)
            self._say(str(error))
            raise
        self._unread.pop(name, None)
        self._refresh()
        self._moving = True
        try:
            self._rows[name].show(self._state[name])
            self._grey_out()
        finally:
            self._moving = False

    def _typed(self, name: str, value: object) -> None:
        """A control moved in the browser (or by this panel itself, then nothing is to do)."""
        with self._guard:
            if not self._moving:
                self._by_hand(lambda: self._change(name, value, by_hand=True))

    def _by_hand(self, action: Callable[[], None]) -> None:
        try:
            action()
        except ValueError:
            pass  # the message line shows it
        except Exception as error:
            self._say(f"this is a fault of the kit, not of the input: {type(error).__name__}: {error}")
            raise

    def _unit_chosen(self, change: Any) -> None:
        with self._guard:
            by_panel = self._moving
        if not by_panel and change["new"] != units.use_units():  # outside the lock: other panels take theirs
            self._by_hand(lambda: setattr(self, "units", change["new"]))

    def _used(self, name: str) -> str:
        """The value that stands in for an unread entry, in words."""
        control, value = self._controls[name], self._state[name]
        if isinstance(control, Control):
            return units.show(value, control.kind)
        return f"{value}" if isinstance(control, Choice) else "the text before it"

    def _show_controls(self) -> None:
        """The state into every box; what a box held unread is gone then."""
        self._unread.clear()
        self._moving = True
        try:
            self._unit_box.value = units.use_units()
            for name, row in self._rows.items():
                row.show(self._state[name])
            self._grey_out()
        finally:
            self._moving = False

    def _grey_out(self) -> None:
        for row in self._rows.values():
            row.grey_out(self._state)

    def _refresh(self) -> None:
        """State to result to pictures and words."""
        with self._guard:
            try:
                result = self._compute(dict(self._state))
                sentences = self._words(result)
            except ValueError as error:
                self._say(str(error))
                return
            line = f"{self.title}: {sentences[0]}"
            if len(line) > LONGEST or "\n" in line:
                raise RuntimeError(
                    f"the line of key numbers has {len(line)} characters; {LONGEST} at most: {line}"
                )
            self._result, self._line, self._lines, self._fault = result, line, sentences, ""
            self._pngs = [painter.png(result) for painter in self._painters]
            rest = "".join(f"<div>{html.escape(sentence)}</div>" for sentence in sentences[1:])
            self._told = f'<div style="{_TIGHT}"><b>{html.escape(sentences[0])}</b>{rest}</div>'
            self._put_in_sight(line)
            self._show_message()

    def _put_in_sight(self, alt: str, old: bool = False) -> None:
        """The pictures, under one alternative text, and the sentences; those of older values are dimmed."""
        opacity = _DIM_PICTURE if old else 1.0
        drawn = zip(self._pngs, self._painters, strict=True)
        images = [_image(png, alt, painter.view, opacity) for png, painter in drawn if png]
        told = f'<div style="{_TIGHT}">{_OLD}</div><div style="opacity:{_DIM_WORDS}">{self._told}</div>'
        self._sight.value = "".join(images) + (told if old else self._told)

    def _say(self, message: str) -> None:
        self._fault = message
        self._line = f"{self.title}: no result, " + " ".join(message.split())
        if len(self._line) > LONGEST:
            self._line = self._line[: LONGEST - 1] + "…"
        self._put_in_sight(f"{self.title}: the picture of the last good values", old=True)
        self._show_message()

    def _show_message(self) -> None:
        self._message.value = alert(self.message) if self.message else ""

    def _raise_fault(self) -> None:
        if self._fault:
            raise units.UnitError(self._fault)

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        data = dict(super()._repr_mimebundle_(**kwargs))
        data["text/plain"] = self._line
        if not self._pngs:
            return data, {}
        data["image/png"] = base64.b64encode(self._pngs[0]).decode()
        return data, {"image/png": {"alt": self._line}}


def alert(message: str) -> str:
    """A message as a panel shows it: marked, escaped, one line below the other.

    Parameters
    ----------
    message : str [-]
        In words.

    Returns
    -------
    str
        HTML [-].
    """
    lines = "<br>".join(html.escape(part) for part in message.splitlines())
    mark = f'role="alert" style="border-left:4px solid {VERMILION};padding-left:6px;{_TIGHT}"'
    return f"<div {mark}>{lines}</div>"


def _widgets(widget: W.Widget) -> Iterator[W.Widget]:
    """A widget and everything in it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from _widgets(child)


def _image(png: bytes, alt: str, view: View, opacity: float) -> str:
    """A picture that keeps its place in the page while it loads, and is painted with the words beside it."""
    data = base64.b64encode(png).decode()
    wide, tall = (round(DPI * inches) for inches in view.figure.get_size_inches())
    return (
        f'<img alt="{html.escape(alt)}" width="{wide}" height="{tall}" decoding="sync" '
        f'style="width:100%;max-width:{round(1.2 * wide)}px;height:auto;'
        f'opacity:{opacity}" src="data:image/png;base64,{data}">'
    )
