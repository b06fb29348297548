"""Words: numbers and codes in, sentences, captions and tables out.

What it is for: `words`, `html` and `table` find what any result of the kit says; each subject has its module,
with captions and alt texts of its pictures beside its sentences.  Leaves out: any computing, any drawing.
"""

from __future__ import annotations

from html import escape
from importlib import import_module
from operator import attrgetter
from typing import Any

from blasterlab.report import tables
from blasterlab.tables import pd

#: Class of a result -> the module and function of this room that says it; loaded when first used.
_SAYS: dict[str, str] = {
    "Calibration": "calibration.calibration",
    "Cut": "cutting.cut",
    "CapRisk": "caps.cap_risk",
    "CapRiskTogether": "caps.together",
    "Causes": "groups.causes",
    "ChronoString": "strings.string",
    "Comparison": "groups.comparison",
    "Dispersion": "groups.dispersion",
    "Explanation": "explain.explanation",
    "GroupOnTarget": "groups.on_target",
    "Hold": "flight.hold_words",
    "HoldCurve": "flight.aim",
    "LeakCost": "fit.leak",
    "MakeUp": "flight.make_up",
    "MeasuredDrag": "flight.measured_drag",
    "MeasuredGroup": "groups.measured_group",
    "Matters": "sensitivity.matters",
    "NextCut": "cutting.next_cut",
    "OddShots": "strings.odd_shots",
    "Plan": "plan.plan",
    "Prediction": "calibration.prediction",
    "RateFit": "scale.rate_fit",
    "RunOrder": "strings.run_order",
    "Shelf": "kept.shelf",
    "SpringUse": "spring.spring_use",
    "SpringWaveShot": "waves.beside",
    "Start": "kept.start",
    "Steps": "sensitivity.steps",
    "Stock": "plan.stock",
    "StringComparison": "strings.comparison",
    "Summary": "strings.summary",
    "UnreadLine": "strings.unread_line",
    "WaterCheck": "fit.water",
    "WaveShot": "waves.beside",
}
#: The same for results that have a short table: in HTML, and as words where the above has none for them.
_SHOWS: dict[str, str] = {
    "BarrelSweep": "barrel_length.lengths",
    "Build": "build.parts",
    "BuildComparison": "compare.side_by_side",
    "ChronoString": "strings.string_table",
    "Shot": "shot.numbers",
    "Summary": "strings.summary_table",
}
#: The same for results with a DataFrame of their own, and where it is; elsewhere it is called ``table``.
_FRAMES: dict[str, str] = {
    "GroupOnTarget": "corrected",
    "Order": "plan.table",
    "RateFit": "residuals",
    "SpringUse": "pull.curve",
    "StringResult": "summary.string.table",
    "SweptShot": "sweep.table",
    "TargetFlight": "zero.flight.table",
}


def _entry(table: dict[str, str], result: object) -> str:
    """What stands for the class of a result or for the nearest one that it inherits from, "" for nothing."""
    return next((table[kind.__name__] for kind in type(result).__mro__ if kind.__name__ in table), "")


def _find(table: dict[str, str], result: object) -> Any:
    entry = _entry(table, result)
    if not entry:
        return None
    module, function = entry.split(".")
    return getattr(import_module(f"blasterlab.report.{module}"), function)


def words(result: object) -> str:
    """A result in words, with its numbers in the chosen units.

    Parameters
    ----------
    result : object [-]
        Any result of the kit that has words, such as a shot, a summary of a string, a hold.

    Returns
    -------
    str
        One sentence or several lines.

    Raises
    ------
    TypeError
        Something that has no words.
    """
    say, show = _find(_SAYS, result), _find(_SHOWS, result)
    if say is None and show is None:
        raise TypeError(f"{type(result).__name__} has no words")
    found = say(result) if say else tables.as_text(show(result))
    return found if isinstance(found, str) else "\n".join(found)


def html(result: object) -> str:
    """A result as HTML: its table where it has one, else its words, escaped.

    Parameters
    ----------
    result : object [-]
        As for `words`.

    Returns
    -------
    str
        A fragment of HTML.

    Raises
    ------
    TypeError
        Something that has no words.
    """
    show = _find(_SHOWS, result)
    return tables.as_html(show(result)) if show else f"<p>{escape(words(result))}</p>".replace("\n", "<br>")


def table(result: object) -> pd.DataFrame:
    """A result's table as a DataFrame, whose ``to_csv`` writes it to a file.

    Parameters
    ----------
    result : object [-]
        A build, with every value of its text; a sweep, with its lengths; a shot, a string, a summary, or what
        a panel found.

    Returns
    -------
    DataFrame
        Columns that say their units.

    Raises
    ------
    TypeError
        Something that has no table.
    """
    if type(result).__name__ == "Build":
        return import_module("blasterlab.report.build").values(result)
    if isinstance(result, list) and result:
        numbered = {number: table(each) for number, each in enumerate(result, 1)}
        return pd.concat(numbered, names=["of"]).reset_index(level=0)
    where, show = _entry(_FRAMES, result) or "table", _find(_SHOWS, result)
    try:
        return attrgetter(where)(result)
    except AttributeError:
        if show is None:
            raise TypeError(f"{type(result).__name__} has no table") from None
    return tables.as_frame(show(result))
