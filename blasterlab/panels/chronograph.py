"""The chronograph panel: paste a string, set a cap, and read the risk.

What it is for: `chronograph_panel`, which turns pasted shots into a picture of the string, the risk of a cap
and the mean to aim for.  What it leaves out: calibration, which needs builds and stays in code.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from blasterlab.bench.cap_curve import CapCurve, cap_curve
from blasterlab.bench.cells import StringError
from blasterlab.bench.instrument import Chronograph
from blasterlab.bench.kept import Start, my_strings, recall
from blasterlab.bench.strings import ChronoString
from blasterlab.bench.summary import Summary
from blasterlab.figures.chronograph import CapView, StringView
from blasterlab.panels.base import Panel
from blasterlab.panels.caps import Cap, typed_cap
from blasterlab.panels.controls import Choice, Control, Paste
from blasterlab.report import caps
from blasterlab.report.told import Told
from blasterlab.units import Quantity, QuantityLike, parse

WRITTEN = "as written"
#: The control that says the unit of pasted shots.
UNIT = Choice("unit", "unit of the shots", (WRITTEN, "ft/s", "m/s"), WRITTEN, "if the text does not say it")
_SHOTS = "with or without header; # starts a comment"
CONFIDENCES = {f"{100 * level:g} %": level for level in (0.5, 0.8, 0.9, 0.95, 0.99, 0.999)}
ERRORS = {f"{100 * limit:g} %": limit for limit in (0.0, 0.0025, 0.005, 0.01, 0.02, 0.03, 0.05)}
NOT_COUNTED = "not counted"
STEPS = (NOT_COUNTED, "1 ft/s", "0.1 ft/s", "1 m/s", "0.1 m/s", "0.01 m/s")
#: The cap where the box starts, invented.
EXAMPLE = "58 m/s"
#: What settles in the panel what an argument of `ChronoString.from_text` settles in code.
SETTLES = {
    "unit": 'choose it under "unit of the shots"',
    "decimal": "write decimals with a point",
    "column": "paste only the column of speeds",
}


@dataclass(frozen=True)
class StringResult:
    """What the chronograph panel shows: summary, risk against the mean, and how many were over the cap."""

    summary: Summary
    curve: CapCurve
    over: int = 0

    @property
    def cap(self) -> Quantity:
        """The cap as it was typed [m/s]."""
        return self.curve.risk.rules[0]


def chronograph_panel(
    shots: ChronoString | str | None = None, cap: QuantityLike | None = None
) -> Panel[StringResult]:
    """The panel that reads a chronograph string and says what it means for a cap.

    Parameters
    ----------
    shots : ChronoString, str or None [m/s]
        What stands in the box at first; None takes the string on the bench, or an invented one.
    cap : Quantity, str or None [m/s]
        The cap at first; None takes the one that a hand gave last, or an example.

    Returns
    -------
    Panel
        The panel; ``panel.result.summary`` and ``panel.result.curve.risk`` hold the numbers [-].
    """
    begun = my_strings.begin(given=shots)
    confidence = recall("confidence", CONFIDENCES) or "95 %"
    why = "set by the event's rules"
    asked_cap = Cap("cap", "cap", "speed", "5 m/s", "150 m/s", cap or EXAMPLE, "0.5 m/s", why)
    controls: list[Any] = [
        UNIT,
        asked_cap if cap else asked_cap.of_event(),
        Control("next", "shots still to fire", "number", 1, 200, 10, 1, "none of them may be over the cap"),
        Choice(
            "confidence",
            "confidence",
            tuple(CONFIDENCES),
            confidence,
            "chance you want of staying under",
            remembered="confidence",
        ),
        Choice(
            "error", "chronograph error, ±", tuple(ERRORS), "0 %", "how far yours and the event's may differ"
        ),
        Choice("step", "display step", STEPS, NOT_COUNTED, "the smallest step that your chronograph shows"),
    ]

    def asked(start: Start[ChronoString]) -> tuple[None, list[Any]]:
        return None, [Paste("shots", "shots, one per line", start.text, _SHOTS, rows=9), *controls]

    views: list[Any] = [StringView(), CapView()]
    return Panel(
        "Chronograph", asked, evaluate, string_words, views, f"{caps.CAUTION} {caps.BENCH}", start=begun,
        text=lambda state: read_string(state["shots"], state["unit"]).to_csv(),
    )  # fmt: skip


def read_string(shots: str, unit: str, box: str = "") -> ChronoString:
    """The string of a box, with the unit of `UNIT`; a StringError says which control would settle it."""
    try:
        return ChronoString.from_text(shots, unit=None if unit == WRITTEN else unit)
    except StringError as refused:
        raise settled(refused, box) from refused


def settled(refused: StringError, box: str = "") -> StringError:
    """A refusal that names the box, and the control which would settle it, where one would."""
    advice = SETTLES.get(refused.argument, "")
    return StringError(box + (refused.fault if advice else str(refused)), refused.argument, advice)


def evaluate(state: Mapping[str, Any]) -> StringResult:
    """The string and its risk with the panel's values.

    Parameters
    ----------
    state : mapping of str to float or str [SI]
        By the controls' names.

    Returns
    -------
    StringResult
        Summary and risk [-].

    Raises
    ------
    StringError
        Text that cannot be read; says which control would settle it, where one would.
    """
    string = read_string(state["shots"], state["unit"])
    count = round(state["next"])
    error, step = ERRORS[state["error"]], None if state["step"] == NOT_COUNTED else state["step"]
    screens = Chronograph.within(error, step) if error or step else None
    cap = typed_cap(state["cap"])
    curve = cap_curve(string, cap, count, chronograph=screens, confidence=CONFIDENCES[state["confidence"]])
    over = sum(speed > curve.risk.cap.m_as("m/s") for speed in string.speeds_si)
    return StringResult(string.summary(next_shots=count, chronograph=screens), curve, over)


def string_words(result: StringResult) -> Told:
    """What the chronograph panel says.

    Parameters
    ----------
    result : StringResult [-]
        From `evaluate`.

    Returns
    -------
    Told
        Verdict, key numbers, and the rest [-].
    """
    first = result.cap == parse(EXAMPLE, "speed", "cap")
    return caps.panel_words(result.summary, result.curve.risk, result.over, first)
