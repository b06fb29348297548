"""What a string says, in numbers and in words: intervals, odd shots, drift, two strings side by side.

What it is for: the result objects behind `ChronoString.summary`, `.odd_shots` and `.compare`.  What it
leaves out: the sums (`statistics`, `significance`) and the cap (`cap_risk`).

References
----------
As for `statistics` and `significance`; JCGM 100:2008, annex G.4 (Welch-Satterthwaite), for the mean with
the chronograph's error.
"""

from __future__ import annotations

import html
import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from blasterlab import units
from blasterlab.bench import significance as sig
from blasterlab.bench import statistics as st

if TYPE_CHECKING:
    from blasterlab.bench.instrument import Chronograph
    from blasterlab.bench.strings import ChronoString

Rows = list[tuple[str, str]]
FEWEST_FOR_DRIFT = 6  # shots: with fewer a drift is not told; a choice of the kit
#: What moves the speed through a run: common practice, no source.
_CAUSES = {
    "rises": "a seal or its grease warming up, a chronograph drifting",
    "falls": "a spring settling, a seal beginning to leak, a chronograph drifting",
}


def chance_words(p: float) -> str:
    """A p value in words, no unit: ``"p = 0.03"``, or ``"p < 0.0001"``."""
    return f"p = {p:.2g}" if p >= 1e-4 else "p < 0.0001"


@dataclass(frozen=True)
class OddShots:
    """Shots that Grubbs' test calls odd.

    Attributes
    ----------
    shots : tuple of int [-]
        Their shot numbers; empty when none is odd.
    flags : tuple of bool [-]
        One for each shot of the string, in order.
    statistic, critical : float [-]
        G of the furthest shot, and the value it must exceed.
    furthest : int [-]
        Its shot number.
    mean_with, sd_with : Quantity [m/s]
        All shots.
    mean_without, sd_without : Quantity [m/s]
        The odd ones left out; the same as with when there are none.
    """

    shots: tuple[int, ...]
    flags: tuple[bool, ...]
    statistic: float
    critical: float
    furthest: int
    mean_with: Any
    sd_with: Any
    mean_without: Any
    sd_without: Any

    def __bool__(self) -> bool:
        return bool(self.shots)

    def __str__(self) -> str:
        test = f"G = {self.statistic:.3f} against {self.critical:.3f}"
        if not self.shots:
            return f"no odd shot (furthest: shot {self.furthest}, {test})"
        names = ", ".join(str(n) for n in self.shots)
        return (
            f"odd: shot {names} ({test}), kept in all numbers; "
            f"mean {units.show(self.mean_with, 'speed')}, SD {units.show(self.sd_with, 'speed', 3)} with, "
            f"{units.show(self.mean_without, 'speed')}, {units.show(self.sd_without, 'speed', 3)} without"
        )


def odd_shots(string: ChronoString, level: float, most: int) -> OddShots:
    """Grubbs' test on a string; see `ChronoString.odd_shots`."""
    st.check_level(level)
    speeds = string.speeds_si
    steps = sig.grubbs(speeds, level, most)
    odd = {step.position for step in steps if step.odd}
    rest = [v for i, v in enumerate(speeds) if i not in odd]
    means, sds = zip(*(st.mean_sd(v) for v in (speeds, rest)), strict=True)
    # the step that decides: the last one called odd, else the first
    shown = [step for step in steps if step.odd][-1:] or steps[:1]
    return OddShots(
        shots=tuple(string.numbers[i] for i in sorted(odd)),
        flags=tuple(i in odd for i in range(len(speeds))),
        statistic=shown[0].statistic,
        critical=shown[0].critical,
        furthest=string.numbers[steps[0].position],
        mean_with=units.quantity(means[0], "m/s"),
        sd_with=units.quantity(sds[0], "m/s"),
        mean_without=units.quantity(means[1], "m/s"),
        sd_without=units.quantity(sds[1], "m/s"),
    )


@dataclass(frozen=True)
class RunOrder:
    """A straight line through the shots in the order they were shot.

    Attributes
    ----------
    slope, slope_error : Quantity [m/s]
        Change from shot to shot, and its standard error.
    p : float [-]
        Chance of a slope this steep or steeper without any trend.
    lag : float [-]
        Lag-1 autocorrelation: near zero for independent shots.
    """

    slope: Any
    slope_error: Any
    p: float
    lag: float

    def __str__(self) -> str:
        return f"{units.show(self.slope, 'speed', 2)} a shot ({chance_words(self.p)})"


def run_order(string: ChronoString) -> RunOrder:
    """Trend of a string; see `ChronoString.trend`."""
    line = sig.trend(string.speeds_si)
    slope, error = (units.quantity(v, "m/s") for v in (line.slope, line.slope_error))
    return RunOrder(slope, error, line.p, line.lag)


@dataclass(frozen=True)
class Summary:
    """The numbers of a string.

    Attributes
    ----------
    string : ChronoString [m/s]
        The shots.
    title : str [-]
        Title, dart and build.
    count : int [-]
        Shots.
    level : float [-]
        Confidence of every interval.
    mean, mean_low, mean_high : Quantity [m/s]
        Mean and its interval, the chronograph's common error included when one is given.
    mean_uncertainty : Quantity [m/s]
        Combined standard uncertainty of the mean.
    sd, sd_low, sd_high : Quantity [m/s]
        SD of one shot and its interval.
    extreme_spread : Quantity [m/s]
        Fastest minus slowest.
    coefficient_of_variation : float [-]
        SD over mean.
    next_low, next_high : Quantity [m/s]
        Limits for the next single shot over the same chronograph; no lower limit is below zero.
    next_shots : int [-]
        Shots to come.
    largest_of_next : Quantity [m/s]
        Upper limit for the largest of them (one-sided).
    tolerance_low, tolerance_high : Quantity [m/s]
        Limits that hold 95 % of all shots, with confidence `level`.
    odd : OddShots [-]
        By Grubbs' test at 5 %.
    trend : RunOrder [-]
        Run order.
    shots_for_one_percent : int [-]
        Shots for a mean known to ±1 %, if the SD stays.
    remarks : tuple of str [-]
        What to mind.
    """

    string: ChronoString = field(repr=False)
    title: str
    count: int
    level: float
    mean: Any
    mean_low: Any
    mean_high: Any
    mean_uncertainty: Any
    sd: Any
    sd_low: Any
    sd_high: Any
    extreme_spread: Any
    coefficient_of_variation: float
    next_low: Any
    next_high: Any
    next_shots: int
    largest_of_next: Any
    tolerance_low: Any
    tolerance_high: Any
    odd: OddShots
    trend: RunOrder
    shots_for_one_percent: int
    remarks: tuple[str, ...]

    @property
    def drifts(self) -> bool:
        """True when 6 shots or more show a trend at 5 %."""
        return _drifts(self.trend, self.count)

    @property
    def rows(self) -> Rows:
        """Names and values in words, in the chosen units."""
        v = lambda q, digits=4: units.show(q, "speed", digits)  # noqa: E731
        sure = f"{100 * self.level:.4g} %"
        enough = self.count >= FEWEST_FOR_DRIFT
        return [
            ("shots", str(self.count)),
            ("mean", f"{v(self.mean)} ({sure}: {v(self.mean_low)} to {v(self.mean_high)})"),
            ("SD of one shot", f"{v(self.sd, 3)} ({sure}: {v(self.sd_low, 3)} to {v(self.sd_high, 3)})"),
            ("extreme spread", v(self.extreme_spread, 3)),
            ("coefficient of variation", f"{100 * self.coefficient_of_variation:.2g} %"),
            ("next shot", f"{v(self.next_low)} to {v(self.next_high)} ({sure})"),
            (f"largest of the next {self.next_shots}", f"below {v(self.largest_of_next)} ({sure})"),
            ("95 % of all shots", f"{v(self.tolerance_low)} to {v(self.tolerance_high)} ({sure} sure)"),
            ("odd shots", str(self.odd).removeprefix("odd: ").replace("no odd shot", "none")),
            ("run order", str(self.trend) if enough else f"{FEWEST_FOR_DRIFT} shots or more tell a drift"),
            ("shots for a mean to ±1 %", str(self.shots_for_one_percent)),
        ]

    def __str__(self) -> str:
        lines = [f"{name}: {value}" for name, value in self.rows]
        return "\n".join([*([self.title] if self.title else []), *lines, *self.remarks])

    def _repr_html_(self) -> str:
        cells = "".join(
            f'<tr><td style="text-align:left">{html.escape(name)}</td>'
            f'<td style="text-align:left">{html.escape(value)}</td></tr>'
            for name, value in self.rows
        )
        remarks = "".join(f"<br>{html.escape(text)}" for text in self.remarks)
        return f"<b>{html.escape(self.title)}</b><table>{cells}</table>{remarks}"


def summarise(
    string: ChronoString, level: float, next_shots: int, chronograph: Chronograph | None
) -> Summary:
    """All numbers of a string; see `ChronoString.summary`."""
    from blasterlab.bench.cap_risk import count_of_shots

    st.check_level(level)
    m = count_of_shots(next_shots, "next_shots")
    speeds, n = string.speeds_si, string.count
    mean, sd = st.mean_sd(speeds)
    common = chronograph.relative * mean if chronograph else 0.0
    error = math.hypot(sd / math.sqrt(n), common)
    dof = (n - 1) * (error / (sd / math.sqrt(n))) ** 4
    half = st.t_factor(level, dof) * error
    low, high = st.sd_factors(n, level)
    one = st.next_factor(n, level)
    tolerance = st.tolerance_factor(n, 0.95, level, sides=2)
    q = lambda value: units.quantity(value, "m/s")  # noqa: E731
    odd, drift = string.odd_shots(), string.trend
    return Summary(
        string=string,
        title=", ".join(text for text in (string.title, string.build, string.dart) if text),
        count=n,
        level=level,
        mean=q(mean),
        mean_low=q(max(mean - half, 0.0)),
        mean_high=q(mean + half),
        mean_uncertainty=q(error),
        sd=q(sd),
        sd_low=q(sd * low),
        sd_high=q(sd * high),
        extreme_spread=string.extreme_spread,
        coefficient_of_variation=sd / mean,
        next_low=q(max(mean - one * sd, 0.0)),
        next_high=q(mean + one * sd),
        next_shots=m,
        largest_of_next=q(mean + st.largest_factor(n, m, level) * sd),
        tolerance_low=q(max(mean - tolerance * sd, 0.0)),
        tolerance_high=q(mean + tolerance * sd),
        odd=odd,
        trend=drift,
        shots_for_one_percent=sig.shots_for_mean(0.01 * mean / sd, level),
        remarks=tuple(_remarks(string, odd, drift, chronograph, sd)),
    )


def _drifts(trend: RunOrder, count: int) -> bool:
    return count >= FEWEST_FOR_DRIFT and trend.p < 0.05


def _remarks(
    string: ChronoString, odd: OddShots, drift: RunOrder, chronograph: Chronograph | None, sd: float
) -> list[str]:
    words = []
    if not string.at_muzzle:
        words.append(
            f"speeds are those at {units.show(string.distance, 'distance')} from the muzzle: the dart's "
            "mass, diameter and drag coefficient are needed to carry them back"
        )
    elif string.muzzle_factor != 1.0:
        words.append(
            f"carried back {units.show(string.distance, 'distance')} to the muzzle with the dart's drag "
            f"(C_d {string.drag_coefficient:g}): {100 * (string.muzzle_factor - 1.0):+.2g} %"
        )
    if odd:
        words.append(
            "look at the odd shots (a bad seat, a torn dart, a chronograph misread) before trusting either SD"
        )
    if _drifts(drift, string.count):
        way = "rises" if drift.slope.m > 0 else "falls"
        words.append(
            f"the speed {way} through the run ({chance_words(drift.p)}): {_CAUSES[way]}; "
            "the limits suppose that it stays"
        )
    step = _step(string.readings)
    if step * string.muzzle_factor * (string.speeds_si[0] / string.readings[0]) > sd:
        words.append(f"the chronograph's steps of {step:g} {string.unit} are coarser than the SD")
    if chronograph is not None:
        share = chronograph.common(string.mean)
        words.append(
            f"the chronograph's common error of {units.show(share, 'speed', 2)} does not average out"
        )
    if string.unread:
        words.append(
            f"{len(string.unread)} line(s) not read: " + "; ".join(str(u) for u in string.unread[:3])
        )
    return [*words, *string.notes]


def _step(readings: tuple[float, ...]) -> float:
    """The coarsest power of ten (or 1) that every reading is a multiple of."""
    for digits in range(7):
        if all(abs(v - round(v, digits)) < 1e-9 * abs(v) for v in readings):
            return 10.0**-digits
    return 0.0


@dataclass(frozen=True)
class Comparison:
    """Two strings compared.

    Attributes
    ----------
    difference, low, high : Quantity [m/s]
        Second mean minus first, and its interval.
    relative : float [-]
        Difference over the first mean.
    level, p : float [-]
        Confidence; chance of a difference this large or larger between equal builds.
    dof : float [-]
        Welch's degrees of freedom.
    show : float [-]
        A relative difference worth knowing.
    shots_to_show : int [-]
        Shots in each string that would show it four times in five.
    """

    difference: Any
    low: Any
    high: Any
    relative: float
    level: float
    p: float
    dof: float
    show: float
    shots_to_show: int

    def __str__(self) -> str:
        sure = "shows" if self.p < 1.0 - self.level else "does not show"
        v = [units.show(q, "speed", 3) for q in (self.difference, self.low, self.high)]
        return (
            f"second minus first: {v[0]} ({100 * self.relative:+.1f} %), "
            f"{100 * self.level:.4g} % limits {v[1]} to {v[2]}, {chance_words(self.p)}: a difference {sure}\n"
            f"a difference of {100 * self.show:.2g} % would show four times in five with "
            f"{self.shots_to_show} shots in each string"
        )

    def _repr_html_(self) -> str:
        return "<br>".join(html.escape(line) for line in str(self).split("\n"))


def compare(first: ChronoString, second: ChronoString, level: float, show: float) -> Comparison:
    """Two strings by Welch's test; see `ChronoString.compare`."""
    st.check_level(level)
    a, b = ((*st.mean_sd(s.speeds_si), s.count) for s in (first, second))
    result = sig.welch(a, b, level)
    pooled = math.sqrt(0.5 * (a[1] ** 2 + b[1] ** 2))
    return Comparison(
        difference=units.quantity(result.difference, "m/s"),
        low=units.quantity(result.low, "m/s"),
        high=units.quantity(result.high, "m/s"),
        relative=result.difference / a[0],
        level=level,
        p=result.p,
        dof=result.dof,
        show=show,
        shots_to_show=sig.shots_to_show(show * a[0] / pooled, level),
    )
