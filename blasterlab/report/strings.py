"""Words for chronograph strings: the summary, odd shots, a drift, two strings compared.

What it is for: sentences, the table and the caption of a string, in the chosen unit set.  What it leaves out:
caps (`caps`), and every computation.
"""

from __future__ import annotations

from blasterlab.bench.cells import UnreadLine
from blasterlab.bench.comparison import StringComparison
from blasterlab.bench.strings import ChronoString
from blasterlab.bench.summary import FEWEST_FOR_DRIFT, OddShots, RunOrder, Summary
from blasterlab.report.numbers import as_typed, confidence, kept, p_value
from blasterlab.report.tables import Table
from blasterlab.units import Quantity, show

_MANY = "more than 100 000"
#: What moves the speed through a run: common practice, no source.
_CAUSES = {
    "rises": "a seal or its grease warming up, or a chronograph that drifts",
    "falls": "a settling spring, a seal that begins to leak, or a chronograph that drifts",
}


def _speed(value: Quantity, digits: int = 4) -> str:
    return kept(value, "speed", digits)


def unread_line(line: UnreadLine) -> str:
    """A line that was not read, and why."""
    return f"line {line.number}: {line.text!r}: {line.reason}"


def odd_shots(odd: OddShots) -> str:
    """Which shots are odd, how odd, and mean and SD with and without them."""
    if not odd.shots:
        furthest = f"the furthest, shot {odd.furthest}"
        return f"no odd shot ({furthest}: G = {odd.statistic:.3f}; above {odd.critical:.3f} would be odd)"
    names = ", ".join(str(n) for n in odd.shots)
    them = "it" if len(odd.shots) == 1 else "them"
    return (
        f"odd: shot {names} (G = {odd.statistic:.3f}; above {odd.critical:.3f} is odd), kept in all numbers; "
        f"with {them} mean {_speed(odd.mean_with)}, SD {_speed(odd.sd_with, 3)}; "
        f"without {them} {_speed(odd.mean_without)}, {_speed(odd.sd_without, 3)}"
    )


def run_order(trend: RunOrder) -> str:
    """How the speed changes from shot to shot."""
    return f"{_speed(trend.slope, 2)} a shot, {p_value(trend.p)}"


def summary_rows(summary: Summary) -> dict[str, str]:
    """Names and values of a string's table."""
    s, sure = summary, confidence(summary.level)
    drift = run_order(s.trend)
    if s.count < FEWEST_FOR_DRIFT:
        drift = f"a drift needs at least {FEWEST_FOR_DRIFT} shots to show"
    return {
        "shots": str(s.count),
        "mean": f"{_speed(s.mean)} ({sure}: {_speed(s.mean_low)} to {_speed(s.mean_high)})",
        "SD of one shot": f"{_speed(s.sd, 3)} ({sure}: {_speed(s.sd_low, 3)} to {_speed(s.sd_high, 3)})",
        "extreme spread": _speed(s.extreme_spread, 3),
        "coefficient of variation": f"{100 * s.coefficient_of_variation:.2g} %",
        "next shot": f"{_speed(s.next_low)} to {_speed(s.next_high)} ({sure})",
        f"fastest of the next {s.next_shots}": f"below {_speed(s.largest_of_next)} ({sure})",
        "95 % of all shots": f"{_speed(s.tolerance_low)} to {_speed(s.tolerance_high)} ({sure} confidence)",
        "odd shots": odd_shots(s.odd).removeprefix("odd: ").replace("no odd shot", "none"),
        "drift": drift,
        "shots for a mean to ±1 %": str(s.shots_for_one_percent or _MANY),
    }


def remarks(summary: Summary) -> list[str]:
    """What to bear in mind about a string."""
    string, words = summary.string, []
    away = show(string.distance or 0.0, "distance")
    if not string.at_muzzle:
        words.append(
            f"these are the speeds {away} from the muzzle; to carry them back, "
            "give the dart's mass, diameter and drag coefficient"
        )
    elif string.muzzle_factor != 1.0:
        words.append(
            f"carried back {away} to the muzzle with the dart's drag "
            f"(C_d {string.drag_coefficient:g}): {100 * (string.muzzle_factor - 1.0):+.2g} %"
        )
    if summary.odd:
        words.append(
            "before you trust either SD, look at the odd shots: a torn or badly seated dart, a misread speed?"
        )
    if summary.drifts:
        way = "rises" if summary.trend.slope.magnitude > 0 else "falls"
        words.append(
            f"the speed {way} through the string, {p_value(summary.trend.p)}: {_CAUSES[way]}; "
            "the limits hold only once the drift has ended"
        )
    if summary.coarse:
        words.append(
            f"the readings come in steps of {as_typed(summary.step, 'speed')}, more than the SD: the true SD "
            "may be anything up to a step"
        )
    if summary.chronograph is not None:
        share = summary.chronograph.common(summary.mean)
        words.append(f"the chronograph's common error of {_speed(share, 2)} does not average out")
    if string.unread:
        lines = "1 line" if len(string.unread) == 1 else f"{len(string.unread)} lines"
        words.append(f"{lines} not read: " + "; ".join(unread_line(line) for line in string.unread[:3]))
    return [*words, *string.notes]


def _title(summary: Summary) -> str:
    string = summary.string
    return ", ".join(text for text in (string.title, string.build, string.dart) if text)


def summary(told: Summary) -> list[str]:
    """All that a string says, line by line."""
    title = _title(told)
    rows = [f"{name}: {value}" for name, value in summary_rows(told).items()]
    return [*([title] if title else []), *rows, *remarks(told)]


def summary_table(told: Summary) -> Table:
    """The same as a table."""
    return Table(_title(told), dict(summary_rows(told)), remarks(told))


def string(shots: ChronoString) -> list[str]:
    """A string in words: its summary."""
    return summary(shots.summary())


def string_table(shots: ChronoString) -> Table:
    """A string's table: its summary's."""
    return summary_table(shots.summary())


def comparison(told: StringComparison) -> list[str]:
    """Two strings compared."""
    difference, low, high = (_speed(value, 3) for value in (told.difference, told.low, told.high))
    return [
        f"second minus first: {difference} ({100 * told.relative:+.1f} %), {confidence(told.level)} limits "
        f"{low} to {high}; {p_value(told.p)}: {'a' if told.differs else 'no'} difference shows",
        f"a difference of {100 * told.show:.2g} % would show four times in five with "
        f"{told.shots_to_show or _MANY} shots in each string",
    ]


def string_labels(told: Summary) -> dict[str, str]:
    """What stands at the lines of a string's picture."""
    limit = f"next shot {confidence(told.level)}"
    drift = f"drift, {p_value(told.trend.p).partition(' (')[0]}"
    return {"mean": f"mean {_speed(told.mean)}", "low": limit, "high": limit, "trend": drift}


def string_caption(told: Summary) -> str:
    """The caption of a string's picture."""
    odd = f"shot {', '.join(map(str, told.odd.shots))} odd" if told.odd else "no odd shot"
    return (
        f"{told.count} shots: mean {_speed(told.mean)}, SD {_speed(told.sd, 3)}, next shot "
        f"{_speed(told.next_low)} to {_speed(told.next_high)} ({confidence(told.level)}), {odd}"
    )
