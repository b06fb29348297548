"""What a panel can be asked: values with units, choices and pasted text, and the widgets of each.

What it is for: `Control` (number box and slider that follow each other), `Choice` (a list), `Paste` (a box of
text), each of which reads and checks a value; `Row`, the widgets of one of them.  What it leaves out: what
becomes of the values, which is the panel's.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units

LABEL = "150px"
LONGEST_LABEL = 21  # characters, unit included, that fit into it; a longer label would be cut


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
    """

    name: str
    label: str
    kind: str
    low: Any
    high: Any
    default: Any
    step: Any
    why: str = ""

    @cached_property
    def reach(self) -> tuple[float, float, float]:
        """Lowest and highest value and slider step [SI]."""
        step = units.parse(self.step, self.kind, self.name)
        zero = units.si(units.quantity(0.0, str(step.units)), self.kind)  # a step of 1 degC is no temperature
        low, high = (units.si(end, self.kind, self.name) for end in (self.low, self.high))
        if not (low < high and 0 < units.si(step, self.kind) - zero <= high - low):
            raise units.UnitError(f"{self.name}: the range {self.low} to {self.high} by {self.step} is empty")
        if len(self.label) + 2 + len(units.KINDS[self.kind].us) > LONGEST_LABEL:
            raise units.UnitError(f"{self.name}: the label {self.label!r} is too long to show with its unit")
        return low, high, units.si(step, self.kind) - zero

    def read(self, value: object) -> float:
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
            No such value, or outside the range.
        """
        low, high, _ = self.reach
        slack = 1e-9 * (high - low)
        result = units.si_in(value, self.kind, self.name, low - slack, high + slack, self.why)
        return min(max(result, low), high)


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
            raise units.UnitError(f"{self.name}: read {shown!r:.64}; would do: {', '.join(self.options)}")
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
            raise units.UnitError(f"{self.name}: read a {type(value).__name__}; text is wanted")
        if len(value) > self.longest:
            raise units.UnitError(f"{self.name}: {len(value)} characters; allowed are {self.longest}")
        return value


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
        self.control, self.slider = control, None
        style, wide = {"description_width": LABEL}, W.Layout(width="98%")
        if isinstance(control, Control):
            self.entry: Any = W.Text(
                continuous_update=False, style=style, layout=W.Layout(width="236px", flex="0 0 auto")
            )
            self.slider = W.FloatSlider(
                readout=False, layout=W.Layout(flex="1 1 90px", width="auto", min_width="90px")
            )
            self.slider.observe(lambda change: typed(control.name, self._from_slider(change["new"])), "value")
            self.entry.observe(lambda change: typed(control.name, self._from_text(change["new"])), "value")
            self.box: Any = W.HBox([self.entry, self.slider], layout=wide)
        elif isinstance(control, Choice):
            self.box = self.entry = W.Dropdown(
                options=list(control.options), value=control.default, description=control.label,
                tooltip=control.why, style=style, layout=wide,
            )  # fmt: skip
            self.entry.observe(lambda change: typed(control.name, change["new"]), "value")
        else:
            self.box = self.entry = W.Textarea(
                description=control.label, rows=control.rows, continuous_update=False, tooltip=control.why,
                style=style, layout=wide,
            )  # fmt: skip
            self.entry.observe(lambda change: typed(control.name, change["new"]), "value")

    def dress(self) -> None:
        """Label, tooltip, range and step in the chosen unit set."""
        control, slider = self.control, self.slider
        if not isinstance(control, Control) or slider is None:
            return
        low, high, step = self._grid()
        unit = units.show_unit(control.kind)
        self.entry.description = f"{control.label}, {unit}" if unit else control.label
        reach = " to ".join(units.show(end, control.kind) for end in control.reach[:2])
        self.entry.tooltip = slider.tooltip = f"{control.label}, {reach}. {control.why}".strip()
        with slider.hold_trait_notifications():
            slider.min, slider.max, slider.step = low, high, step
            slider.value = min(max(slider.value, low), high)

    def show(self, value: Any) -> None:
        """Put a value into the widgets."""
        if self.slider is None or not isinstance(self.control, Control):
            self.entry.value = value
            return
        shown = float(units.display(value, self.control.kind))
        _, _, step = self._grid()
        on_grid = round(round(shown / step) * step, 12)
        text = _plain(on_grid if abs(shown - on_grid) < 1e-6 * step else shown, step)
        self.slider.value = min(max(shown, self.slider.min), self.slider.max)
        self.entry.value = text

    def _grid(self) -> tuple[float, float, float]:
        """Slider ends and step in display units: round numbers inside the control's range."""
        control = self.control
        assert isinstance(control, Control)
        low, high = (float(units.display(end, control.kind)) for end in control.reach[:2])
        slope = float(units.display(1.0, control.kind) - units.display(0.0, control.kind))
        step = _nice(slope * control.reach[2])
        first, last = math.ceil(low / step - 1e-6), math.floor(high / step + 1e-6)
        return round(first * step, 12), round(last * step, 12), step

    def _from_slider(self, shown: float) -> Any:
        """A slider's noisy float as a clean value with unit."""
        control = self.control
        assert isinstance(control, Control)
        _, _, step = self._grid()
        return units.quantity(round(round(shown / step) * step, 12), units.display_unit(control.kind))

    def _from_text(self, text: str) -> str:
        """A typed value; without a unit it is in the unit that the label shows."""
        control = self.control
        assert isinstance(control, Control)
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
    return f"{value:.{places + 3}f}"
