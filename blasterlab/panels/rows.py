"""The widgets of what a panel can be asked: a box and a slider that follow each other, a list, a box of text.

What it is for: `row_of` gives the widgets of one control; they show a value in the chosen unit set, and pass
on what the hand did, without the noise that a browser adds.  What it leaves out: reading and checking values
(``controls``).
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.assumed import DEFAULTS, general
from blasterlab.panels.controls import Asked, Choice, Control, Paste
from blasterlab.panels.look import ROW, guard, head
from blasterlab.report.asked import GUESS, about

LATE = 3.0  # s after code has set a value in which the browser may still report its own rounding of it


@dataclass(frozen=True)
class Box:
    """What stands in a control's box and at its slider.

    Parameters
    ----------
    text, label, tip : str [-]
        What the box holds, what stands before it, and the tooltip.
    grey : bool [-]
        It takes no entries now.
    place : float or None [unit of the label]
        Where the slider stands, None without one.
    grid : tuple of float [unit of the label]
        Lowest and highest place and step of the slider; empty without one.
    """

    text: str
    label: str
    tip: str
    grey: bool = False
    place: float | None = None
    grid: tuple[float, ...] = ()


class _Slider(W.FloatSlider):
    """A slider whose moves are not sent back to the browser that made them: one message less a move."""

    def trait_metadata(self, traitname: str, key: str, default: Any = None) -> Any:
        return False if key == "echo_update" else super().trait_metadata(traitname, key, default)


class Row:
    """The widgets of a choice or of pasted text; `Panel` puts values in and hears what the hand did.

    Before the entry stand its label, with the tooltip as title, and a "?" that opens the same in the page:
    with a mouse, a finger or the enter key, and without a kernel.

    Parameters
    ----------
    control : Asked [-]
        What it stands for.
    typed : callable [-]
        Takes the control's name, the value that a hand (or the panel) changed, and whether a slider is moved.
    """

    slider: Any = None

    def __init__(self, control: Asked, typed: Callable[[str, object, bool], None]) -> None:
        self.control, self._typed, self._label = control, typed, control.label
        self.head, self.entry = W.HTML(), self._entry()
        self.entry.observe(lambda change: typed(control.name, self._from_text(change["new"]), False), "value")
        self.box = W.HBox([self.head, self.entry])
        self.box.add_class(ROW)
        self._name()

    def _entry(self) -> Any:
        control = self.control
        if isinstance(control, Choice):
            return W.Dropdown(options=control.options, value=control.default, layout=W.Layout(width="auto"))
        rows = control.rows if isinstance(control, Paste) else 1
        return W.Textarea(rows=rows, continuous_update=False, layout=W.Layout(width="100%"))

    def _from_text(self, text: str) -> str:
        return text

    def _name(self, echo: str = "") -> None:
        """Label, tooltip and help; `echo` is what was typed, where the box shows it in another unit."""
        control, name = self.control, general(self.control.name)
        measure = DEFAULTS[name].measure if name in DEFAULTS else ""
        said = about(control.span, control.why, measure, control.assumed)
        self.entry.tooltip = " ".join([f"{self._label}:", *said])
        self.head.value = head(self._label, said, echo)
        if isinstance(control, Paste):
            self.head.value += guard(control.longest)

    def fit(self, control: Asked) -> None:
        """Stand for another control of the same name, which starts from another value."""
        self.control = control
        if isinstance(control, Choice):
            self.entry.options = control.options

    def show(self, value: Any, guess: bool = False) -> None:
        """Put a value into the box, marked where it is a guess."""
        self.entry.value = value

    def shown(self) -> Box:
        """What stands in the box and at the slider, as a user sees it."""
        own = (self.entry.value, self._label, self.entry.tooltip, self.entry.disabled)
        at = self.slider
        return Box(*own) if at is None else Box(*own, at.value, (at.min, at.max, at.step))

    def grey_out(self, state: Mapping[str, Any]) -> None:
        """Take no entries where the value does not count, with these values of all controls."""
        if self.control.needs:
            choice, option = self.control.needs
            for part in filter(None, (self.entry, self.slider)):
                part.disabled = state[choice] != option


class NumberRow(Row):
    """The box and the slider of a value with a unit, which follow each other."""

    control: Control

    def __init__(self, control: Control, typed: Callable[[str, object, bool], None]) -> None:
        self._place, self._chosen = 0, ""
        self._put: dict[int, float] = {}  # slider places that code has set, and when
        self._sliding = False
        self._heard, self._echo, self._value = "", "", math.nan  # typed with its unit; said; the value shown
        super().__init__(control, typed)

    def _entry(self) -> Any:
        return W.Text(continuous_update=False, layout=W.Layout(width="86px", flex="none"))

    def fit(self, control: Asked) -> None:
        """Stand for another control of the same name, whose range may differ."""
        super().fit(control)
        self._chosen = ""

    def show(self, value: float, guess: bool = False) -> None:
        """Put a value [SI] into box and slider, in the chosen unit set; a guess has its mark in the box."""
        shown, heard = float(units.display(value, self.control.kind)), self._heard
        low, high, step = self._grid()
        on_grid = round(round(shown / step) * step, 12)
        inside = min(max(on_grid, low), high)
        self._place = round(inside / step)
        if not self._sliding:
            self._put[self._place] = time.monotonic()
        if self._chosen != units.use_units():
            self._dress(low, high, step, inside)
        self.slider.value = inside
        text = _plain(on_grid if abs(shown - on_grid) < 1e-6 * step else shown, step)
        self.entry.value = GUESS * guess + text  # the same number typed over it is another text, and so heard
        if value != self._value and heard != self._echo:
            self._echo = heard
            self._name(heard)
        self._value, self._heard = value, ""

    def _dress(self, low: float, high: float, step: float, value: float) -> None:
        """Label, tooltip and slider for the chosen unit set.

        The slider is a new one: in the browser a new range snaps the old value, and reports that as a move.
        """
        control, old = self.control, self.slider
        self._chosen, unit = units.use_units(), units.show_unit(control.kind)
        self._label = f"{control.label}, {unit}" if unit else control.label
        self._name(self._echo)
        self.slider = _Slider(
            min=low, max=high, step=step, value=value, readout=False,
            layout=W.Layout(flex="1 1 70px", width="auto", min_width="70px"),
        )  # fmt: skip
        self.slider.observe(lambda change: self._slid(change["new"]), "value")
        self.box.children = [self.head, self.entry, self.slider]
        if old is not None:
            old.close()

    def _grid(self) -> tuple[float, float, float]:
        """Slider ends and step in display units: round numbers inside the control's range."""
        control = self.control
        low, high = (float(units.display(end, control.kind)) for end in control.reach[:2])
        slope = float(units.display(1.0, control.kind) - units.display(0.0, control.kind))
        step = _nice(slope * control.reach[2])
        first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
        return round(first * step, 12), round(last * step, 12), step

    def _slid(self, shown: float) -> None:
        """Pass on a slider's noisy float as a clean value with unit.

        The browser snaps a slider to its steps and reports that as a move; such a report changes no value
        that lies between two steps, and none that code has set since: it can come late.
        """
        _, _, step = self._grid()
        place = round(shown / step)
        clean = round(place * step, 12)
        late = shown != clean and time.monotonic() - self._put.get(place, -math.inf) < LATE
        if place == self._place or late:
            return
        self._sliding = True
        try:
            kind = self.control.kind
            self._typed(self.control.name, units.quantity(clean, units.display_unit(kind)), True)
        finally:
            self._sliding = False

    def _from_text(self, text: str) -> str:
        """A typed value; without a unit it is in the unit that the label shows."""
        control, text = self.control, text.replace(GUESS, "")
        if not text.strip():
            return ""
        bare = re.fullmatch(r"[\s\d.,/+-]*(?:\d[eE][+-]?\d+)?\s*", text)
        self._heard = "" if bare else text.strip()
        return f"{text} {units.display_unit(control.kind)}" if bare and control.kind != "number" else text


def row_of(control: Asked, typed: Callable[[str, object, bool], None]) -> Row:
    """The widgets of a control, which call `typed` with its name, the new value, and whether it slides."""
    return NumberRow(control, typed) if isinstance(control, Control) else Row(control, typed)


def _nice(step: float) -> float:
    """The nearest of 1, 2, 5 times a power of ten."""
    power = 10.0 ** math.floor(math.log10(step))
    return round(min((1, 2, 5, 10), key=lambda f: abs(math.log(f * power / step))) * power, 12)


def _plain(value: float, step: float) -> str:
    """A number for an entry box: the step's decimals when it lies on the grid, more when it does not."""
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    for digits in (places, places + 1, places + 2):
        if abs(round(value, digits) - value) < 1e-9 * max(1.0, abs(value)):
            return f"{value:.{digits}f}"
    return f"{value:.{places + 2}f}"
