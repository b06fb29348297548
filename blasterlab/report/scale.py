"""Words for a spring on the kitchen scale: its rate, where the interval comes from, the worst reading.

What it is for: the sentences of a `RateFit` and the caption of its picture, in the chosen unit set.  What it
leaves out: every computation.
"""

from __future__ import annotations

from blasterlab.parts.spring_rate import RateFit
from blasterlab.report.numbers import confidence, kept, sentence
from blasterlab.report.told import Told
from blasterlab.shot.simulate import Shot
from blasterlab.units import Quantity, show

INVENTED_READINGS = "these readings are invented: put your own in their place first"


def _rate(fit: RateFit) -> str:
    span = ""
    if fit.rate_low is not None and fit.rate_high is not None:
        span = f" ({show(fit.rate_low, 'spring rate', 3)} to {show(fit.rate_high, 'spring rate', 3)})"
    return f"{show(fit.rate, 'spring rate', 3)}{span}, free length {show(fit.free_length, 'length')}"


def interval_from(fit: RateFit) -> str:
    """Where the interval comes from, or why there is none."""
    if not fit.interval_from:
        return "no spare reading and no resolution given, so no interval; take one more reading"
    if fit.interval_from == "resolution":
        return "interval from the ruler's resolution"
    return f"interval from {fit.spare} reading{'s' if fit.spare != 1 else ''} more than needed"


def rate_fit(fit: RateFit) -> list[str]:
    """A rate from readings: the line of key numbers first, then sentences."""
    count = len(fit.lengths)
    source = interval_from(fit) + (f"; confidence {confidence(fit.level)}" if fit.interval_from else "")
    worst = max(fit.residuals.to_dict("records"), key=lambda row: abs(row["residual_m"]))
    lines = [f"{_rate(fit)}, {count} reading{'s' if count != 1 else ''}", sentence(source)]
    if fit.free_low is not None and fit.free_high is not None and fit.free_high > fit.free_low:
        low, high = show(fit.free_low, "length"), show(fit.free_high, "length")
        lines.append(f"Free length between {low} and {high}.")
    lines.append(
        f"The reading at {show(worst['force_N'], 'force', 3)} is farthest from the line, by "
        f"{show(abs(worst['residual_m']), 'length', 2)}."
    )
    return lines


def scale_words(fit: RateFit) -> Told:
    """What the scale panel says."""
    key, *more = rate_fit(fit)
    verdict = f"This spring has a rate of {show(fit.rate, 'spring rate', 3)}"
    if fit.rate_low is not None and fit.rate_high is not None:
        half = 0.5 * float((fit.rate_high - fit.rate_low) / fit.rate)
        verdict += f", give or take {100 * half:.2g} %"
    else:
        verdict += "; one more reading would tell how sure that is"
    return Told(key, f"{verdict}.", (), tuple(more))


def in_build(rate: Quantity, before: Shot, after: Shot) -> str:
    """What a measured rate changes in a build, before and after, in a sentence."""
    own, new = (show(one, "spring rate", 3) for one in (before.build.spring.rate, rate))
    if own == new:
        return "This build has it."
    again = " Then learn its losses again: they were learned with the old one." * bool(
        before.build.calibration
    )
    speeds = [kept(shot.muzzle_velocity, "speed") for shot in (before, after)]
    return f"This build assumes {own} and shoots {speeds[0]}; with this rate it shoots {speeds[1]}.{again}"


def scale_caption(fit: RateFit) -> str:
    """The caption of the readings' picture."""
    miss = float(fit.residuals["residual_m"].abs().max())
    return f"Readings on the scale: {_rate(fit)}; the worst reading is {show(miss, 'length', 2)} off the line"
