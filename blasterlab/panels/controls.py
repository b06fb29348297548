"""What a panel can be asked: values with units, choices and pasted text, and the widgets of each.

What it is for: `Control` (number box and slider that follow each other), `Choice` (a list), `Paste` (a box of
text), each of which reads and checks a value; `Row`, the widgets of one of them.  What it leaves out: what
becomes of the values, which is the panel's.
"""

from __future__ import annotations

import math
import re
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units

LABEL = "150px"
LONGEST_LABEL = 21  # characters, unit included, that fit into it; a longer label would be cut
LATE = 3.0  # s after code has set a value in which the browser may still report its own rounding of it


@dataclass(frozen=True)
class Control:
    """A value with a unit: a number box and a slider that follow each other.

    Parameters
    ----------
    name : str [-]
        Dotted name, as in build text where it is one of those.
    label : str [-]
        In words; the unit is added.
    kind : str [-]
        A name in `units.KINDS`.
    low, high, default, step : str or Quantity [unit of `kind`]
        Range, first value and slider step.
    why : str [-]
        Why this range, or what the value means: one sentence of the tooltip.
    needs : tuple of str [-]
        Name and option of the choice with which alone the value counts; the control is greyed out without.
    """

    name: str
    label: str
    kind: str
    low: Any
    high: Any
    default: Any
    step: Any
    why: str = ""
    needs: tuple[str, str] | None = None

    @cached_property
    def reach(self) -> tuple[float, float, float]:
        """Lowest and highest value and slider step [SI].

        Raises
        ------
        UnitError
            An empty range, or a label too long to show.
        """
        step = units.parse(self.step, self.kind, self.name)
        zero = units.si(units.quantity(0.0, str(step.units)), self.kind)  # a step of 1 degC is no temperature
        low, high = (units.si(end, self.kind, self.name) for end in (self.low, self.high))
        if not (low < high and 0 < units.si(step, self.kind) - zero <= high - low):
            raise units.UnitError(f"{self.name}: the range {self.low} to {self.high} by {self.step} is empty")
        unit = "" if self.kind == "number" else f", {units.KINDS[self.kind].us}"
        if len(self.label + unit) > LONGEST_LABEL:
            raise units.UnitError(f"{self.name}: the label {self.label!r} is too long to show with its unit")
        return low, high, units.si(step, self.kind) - zero

    @property
    def span(self) -> str:
        """The range in words, in the chosen unit set."""
        return " to ".join(units.show(end, self.kind) for end in self.reach[:2])

    def stretched(self) -> Control:
        """The same control with a range that is stretched, where needed, to hold the first value.

        Returns
        -------
        Control
            Its ends in the units in which they came [unit of `kind`].

        Raises
        ------
        UnitError
            An unreadable end or first value.
        """
        low, high, now = (
            units.parse(value, self.kind, self.name) for value in (self.low, self.high, self.default)
        )
        return replace(self, low=min(low, now), high=max(high, now), default=now)

    def read(self, value: units.QuantityLike) -> float:
        """The value as a float, checked against the range.

        Parameters
        ----------
        value : str or Quantity [unit of `kind`]
            As `units.parse` takes it.

        Returns
        -------
        float
            The value [SI].

        Raises
        ------
        UnitError
            Nothing, no such value, or outside the range.
        """
        low, high, _ = self.reach
        if isinstance(value, str) and not value.strip():
            raise units.UnitError(f"{self.name}: empty; type a number, {self.span}")
        result, slack = units.si(value, self.kind, self.name), 1e-9 * (high - low)
        if low - slack <= result <= high + slack:
            return min(max(result, low), high)
        return units.si_in(value, self.kind, self.name, low, high, self.why)  # refused, with the range


@dataclass(frozen=True)
class Choice:
    """One of a few names: a drop-down list.

    Parameters
    ----------
    name, label : str [-]
        As in `Control`.
    options : sequence of str [-]
        What can be chosen.
    default : str [-]
        What is chosen at first.
    why : str [-]
        The tooltip.
    """

    name: str
    label: str
    options: Sequence[str]
    default: str
    why: str = ""

    def read(self, value: object) -> str:
        """The name, checked against the options.

        Parameters
        ----------
        value : str [-]
            One of `options`.

        Returns
        -------
        str
            The same [-].

        Raises
        ------
        UnitError
            Another name.
        """
        if not isinstance(value, str) or value not in self.options:
            shown = value if isinstance(value, str) else type(value).__name__
            raise units.UnitError(f"{self.name}: got {shown!r:.64}; must be one of {', '.join(self.options)}")
        return value


@dataclass(frozen=True)
class Paste:
    """A few lines of text: a box to paste into.

    Parameters
    ----------
    name, label, default, why : str [-]
        As in `Control`.
    rows : int [-]
        Lines that show.
    longest : int [-]
        Characters that are taken.
    """

    name: str
    label: str
    default: str
    why: str = ""
    rows: int = 6
    longest: int = 20_000

    def read(self, value: object) -> str:
        """The text, checked for its length.

        Parameters
        ----------
        value : str [-]
            At most `longest` characters.

        Returns
        -------
        str
            The same [-].

        Raises
        ------
        UnitError
            No text, or too much of it.
        """
        if not isinstance(value, str):
            raise units.UnitError(f"{self.name}: got a {type(value).__name__}; must be text")
        if len(value) > self.longest:
            raise units.UnitError(f"{self.name}: {len(value)} characters; must be at most {self.longest}")
        return value


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
    """The widgets of one control; `Panel` puts values in and hears what the hand did.

    Parameters
    ----------
    control : Control, Choice or Paste [-]
        What it stands for.
    typed : callable [-]
        Takes the control's name and the value, when a hand (or the panel) changed it.
    """

    def __init__(self, control: Control | Choice | Paste, typed: Callable[[str, object], None]) -> None:
        self.control, self._typed = control, typed
        self.slider: Any = None
        self._place, self._chosen = 0, ""
        self._put: dict[int, float] = {}  # slider places that code has set, and when
        self._sliding = False
        name, style, wide = control.name, {"description_width": LABEL}, W.Layout(width="98%")
        if isinstance(control, Control):
            box = W.Layout(width="236px", flex="0 0 auto")
            self.entry: Any = W.Text(continuous_update=False, style=style, layout=box)
            self.entry.observe(lambda change: typed(name, self._from_text(change["new"])), "value")
            self.box: Any = W.HBox([self.entry], layout=wide)
            return
        given: dict[str, Any] = {
            "description": control.label,
            "tooltip": control.why,
            "style": style,
            "layout": wide,
        }
        if isinstance(control, Choice):
            self.entry = W.Dropdown(options=list(control.options), value=control.default, **given)
        else:
            given["style"] = {"description_width": "initial"}  # the room is the text's
            self.entry = W.Textarea(rows=control.rows, continuous_update=False, **given)
        self.entry.observe(lambda change: typed(name, change["new"]), "value")
        self.box = self.entry

    def show(self, value: Any) -> None:
        """Put a value into the widgets, in the chosen unit set.

        Parameters
        ----------
        value : float or str [SI]
            As the control reads it.
        """
        if not isinstance(self.control, Control):
            self.entry.value = value
            return
        shown = float(units.display(value, self.control.kind))
        low, high, step = self._grid()
        on_grid = round(round(shown / step) * step, 12)
        inside = min(max(on_grid, low), high)
        self._place = round(inside / step)
        if not self._sliding:
            self._put[self._place] = time.monotonic()
        if self._chosen != units.use_units():
            self._dress(low, high, step, inside)
        self.slider.value = inside
        self.entry.value = _plain(on_grid if abs(shown - on_grid) < 1e-6 * step else shown, step)

    def shown(self) -> Box:
        """What stands in the box and at the slider.

        Returns
        -------
        Box
            As a user sees it [-].
        """
        entry, slider = self.entry, self.slider
        own = (entry.value, entry.description, entry.tooltip, entry.disabled)
        return Box(*own) if slider is None else Box(*own, slider.value, (slider.min, slider.max, slider.step))

    def grey_out(self, state: Mapping[str, Any]) -> None:
        """Take no entries where the value does not count.

        Parameters
        ----------
        state : mapping of str to float or str [SI]
            The values of all controls, by name.
        """
        if isinstance(self.control, Control) and self.control.needs:
            choice, option = self.control.needs
            self.entry.disabled = self.slider.disabled = state[choice] != option

    def _dress(self, low: float, high: float, step: float, value: float) -> None:
        """Label, tooltip and slider for the chosen unit set.

        The slider is a new one: in the browser a new range snaps the old value, and reports that as a move.
        """
        control = self.control
        assert isinstance(control, Control)
        self._chosen, unit, old = units.use_units(), units.show_unit(control.kind), self.slider
        self.entry.description = f"{control.label}, {unit}" if unit else control.label
        self.entry.tooltip = f"{control.label}, {control.span}. {control.why}".strip()
        self.slider = _Slider(
            min=low, max=high, step=step, value=value, readout=False,
            layout=W.Layout(flex="1 1 90px", width="auto", min_width="90px"),
        )  # fmt: skip
        self.slider.observe(lambda change: self._slid(change["new"]), "value")
        self.box.children = [self.entry, self.slider]
        if old is not None:
            old.close()

    def _grid(self) -> tuple[float, float, float]:
        """Slider ends and step in display units: round numbers inside the control's range."""
        control = self.control
        assert isinstance(control, Control)
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
        control = self.control
        assert isinstance(control, Control)
        _, _, step = self._grid()
        place = round(shown / step)
        clean = round(place * step, 12)
        late = shown != clean and time.monotonic() - self._put.get(place, -math.inf) < LATE
        if place == self._place or late:
            return
        self._sliding = True
        try:
            self._typed(control.name, units.quantity(clean, units.display_unit(control.kind)))
        finally:
            self._sliding = False

    def _from_text(self, text: str) -> str:
        """A typed value; without a unit it is in the unit that the label shows."""
        control = self.control
        assert isinstance(control, Control)
        if not text.strip():
            return ""
        bare = re.fullmatch(r"[\s\d.,/+-]*(?:\d[eE][+-]?\d+)?\s*", text)
        return f"{text} {units.display_unit(control.kind)}" if bare and control.kind != "number" else text


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
