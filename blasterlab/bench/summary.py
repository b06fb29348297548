"""What a string says, as numbers: intervals, odd shots and drift.

What it is for: the results behind `ChronoString.summary`, `.odd_shots` and `.trend`.  What it leaves out: the
sums (`statistics`, `significance`), the cap (`cap_risk`), and words.

References
----------
As for `statistics` and `significance`; JCGM 100:2008, annex G.4 (Welch-Satterthwaite), for the mean with
the chronograph's error.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from blasterlab import units
from blasterlab.bench import significance as sig
from blasterlab.bench import statistics as st
from blasterlab.bench.cap_chance import largest_factor
from blasterlab.bench.instrument import Chronograph, shared_error
from blasterlab.bench.string_data import StringData
from blasterlab.doors import Spoken
from blasterlab.flight.group_statistics import sigma_ends
from blasterlab.units import Quantity

FEWEST_FOR_DRIFT = 6  # shots: with fewer a drift is not told; a choice of the kit


@dataclass(frozen=True)
class OddShots(Spoken):
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
    mean_with: Quantity
    sd_with: Quantity
    mean_without: Quantity
    sd_without: Quantity

    def __bool__(self) -> bool:
        return bool(self.shots)


def odd_shots(string: StringData, level: float = 0.05, most: int = 1) -> OddShots:
    """Odd shots by Grubbs' test: flagged, with the numbers both ways, never dropped.

    Parameters
    ----------
    string : ChronoString [m/s]
        The shots.
    level : float [-]
        Chance of calling a shot odd when none is.
    most : int [-]
        The most odd shots looked for; two close together hide each other from 1.

    Returns
    -------
    OddShots
        Which, how odd, and mean and SD with and without [m/s].

    Raises
    ------
    ValueError
        A level or `most` outside its range.
    """
    st.check_level(level)
    speeds = string.speeds_si
    steps = sig.grubbs(speeds, level, most)
    odd = {step.position for step in steps if step.odd}
    rest = [v for i, v in enumerate(speeds) if i not in odd]
    # the step that decides: the last one called odd, else the first
    shown = [step for step in steps if step.odd][-1:] or steps[:1]
    numbers = (units.quantity(v, "m/s") for values in (speeds, rest) for v in st.mean_sd(values))
    return OddShots(
        tuple(string.numbers[i] for i in sorted(odd)),
        tuple(i in odd for i in range(len(speeds))),
        shown[0].statistic,
        shown[0].critical,
        string.numbers[steps[0].position],
        *numbers,
    )


@dataclass(frozen=True)
class RunOrder(Spoken):
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

    slope: Quantity
    slope_error: Quantity
    p: float
    lag: float


def run_order(string: StringData) -> RunOrder:
    """Straight line through the shots in order, whatever their number [m/s a shot]."""
    line = sig.trend(string.speeds_si)
    slope, error = (units.quantity(v, "m/s") for v in (line.slope, line.slope_error))
    return RunOrder(slope, error, line.p, line.lag)


@dataclass(frozen=True)
class Summary(Spoken):
    """The numbers of a string.

    Attributes
    ----------
    string : ChronoString [m/s]
        The shots.
    chronograph : Chronograph or None [-]
        Whose common error is included.
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
        Shots still to fire.
    largest_of_next : Quantity [m/s]
        Upper limit for the largest of them (one-sided).
    tolerance_low, tolerance_high : Quantity [m/s]
        Limits that hold 95 % of all shots, with confidence `level`.
    odd : OddShots [-]
        By Grubbs' test at 5 %.
    trend : RunOrder [-]
        Run order.
    shots_for_one_percent : int or None [-]
        Shots for a mean known to ±1 %, if the SD stays; None when more than 100 000.
    step : Quantity [m/s]
        The display's step when the chronograph has one, else the coarsest that the readings allow, in their
        unit.
    """

    string: StringData = field(repr=False)
    chronograph: Chronograph | None
    count: int
    level: float
    mean: Quantity
    mean_low: Quantity
    mean_high: Quantity
    mean_uncertainty: Quantity
    sd: Quantity
    sd_low: Quantity
    sd_high: Quantity
    extreme_spread: Quantity
    coefficient_of_variation: float
    next_low: Quantity
    next_high: Quantity
    next_shots: int
    largest_of_next: Quantity
    tolerance_low: Quantity
    tolerance_high: Quantity
    odd: OddShots
    trend: RunOrder
    shots_for_one_percent: int | None
    step: Quantity

    @property
    def drifts(self) -> bool:
        """True when 6 shots or more show a trend at 5 %."""
        return self.count >= FEWEST_FOR_DRIFT and self.trend.p < 0.05

    @property
    def coarse(self) -> bool:
        """True when the step of the readings is larger than the SD."""
        return bool(self.step.m_as("m/s") * self.string.muzzle_factor > self.sd.m_as("m/s"))


def summarise(
    string: StringData, level: float = 0.95, next_shots: int = 10, chronograph: Chronograph | None = None
) -> Summary:
    """All that a string says, with intervals.

    Parameters
    ----------
    string : ChronoString [m/s]
        The shots.
    level : float [-]
        Confidence.
    next_shots : int [-]
        Shots still to fire, for the largest among them.
    chronograph : Chronograph or None [-]
        Its common error is added to the mean's uncertainty after averaging.

    Returns
    -------
    Summary
        Numbers that print as sentences [m/s].

    Raises
    ------
    ValueError
        A level or a number of shots outside its range, or a display step above the extreme spread.
    """
    st.check_level(level)
    m = st.shots_to_fire(next_shots, "next_shots")
    speeds, n = string.speeds_si, string.count
    mean, sd = st.mean_sd(speeds)
    common = shared_error(chronograph, mean, max(speeds) - min(speeds))
    error = math.hypot(sd / math.sqrt(n), common)
    dof = (n - 1) * (error / (sd / math.sqrt(n))) ** 4
    half = st.t_factor(level, dof) * error
    low, high = sigma_ends(n - 1, level)
    one = st.next_factor(n, level)
    tolerance = st.tolerance_factor(n, 0.95, level)
    step = chronograph.display_step if chronograph else None

    def q(value: float) -> Quantity:
        return units.quantity(value, "m/s")

    return Summary(
        string=string,
        chronograph=chronograph,
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
        largest_of_next=q(mean + largest_factor(n, m, level) * sd),
        tolerance_low=q(max(mean - tolerance * sd, 0.0)),
        tolerance_high=q(mean + tolerance * sd),
        odd=odd_shots(string),
        trend=run_order(string),
        shots_for_one_percent=sig.shots_for_mean(0.01 * mean / sd, level),
        step=read_step(string) if step is None else units.parse(step, "speed"),
    )


def read_step(string: StringData) -> Quantity:
    """The coarsest power of ten, 1 at most, that every reading is a multiple of, in their unit [m/s]."""
    step = next(
        (10.0**-digits for digits in range(7) if all(
            abs(v - round(v, digits)) < 1e-9 * abs(v) for v in string.readings
        )),
        0.0,
    )  # fmt: skip
    return units.quantity(step, string.unit)
