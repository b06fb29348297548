"""Words for the risk of breaking a cap: chances, advice that never asks for more speed, and the caution.

What it is for: sentences and captions in the chosen unit set, a cap also in the unit in which it was typed.
What it leaves out: every computation, and any permission.
"""

from __future__ import annotations

from collections.abc import Sequence

from blasterlab.bench.cap_curve import CapCurve
from blasterlab.bench.cap_risk import CapRisk, SpeedCap
from blasterlab.bench.cap_together import CapRiskTogether
from blasterlab.bench.summary import Summary
from blasterlab.checks.cautions import EYES, LAW
from blasterlab.report import strings
from blasterlab.report.numbers import as_typed, chance, confidence, kept, sentence, typed
from blasterlab.report.told import Told
from blasterlab.units import Quantity, show

CAUTION = (
    "A computed chance is not permission: check on the event's chronograph with every dart you will shoot. "
    f"{LAW} {EYES}"
)
BENCH = "On the bench too, no muzzle ever points at an eye."
_TOO_FEW = "no mean would do with so few shots and this spread; shoot more"


def _speed(value: Quantity | None) -> str:
    return "none" if value is None else kept(value, "speed")


def caps(risk: CapRisk) -> str:
    """The caps as they were typed, and the speed that counts where that is another number."""
    rules = as_given(risk.rules)
    name = "cap" if len(risk.rules) == 1 else "caps"
    if risk.dart_mass is not None:
        return f"{name} {rules}: {_speed(risk.cap)} with a dart of {show(risk.dart_mass, 'mass')}"
    return f"{name} {rules}" if len(risk.rules) == 1 else f"{name} {rules}: {_speed(risk.cap)} counts"


def standing(cap: SpeedCap, speed: Quantity, high: float | None) -> str:
    """How a predicted mean stands to a cap: over, perhaps over, or under; `high` ends its range [m/s]."""
    mine = f"your cap of {_rule(cap.rules[0])}"
    if cap.energy:
        name = mine if len(cap.rules) == 1 else "the stricter of your caps"
        mine = f"{name}, {kept(cap.speed, 'speed', 3)} with this dart"
    if speed.m_as("m/s") > cap.speed:
        return f"over {mine}"
    perhaps = high is not None and high > cap.speed
    return f"{'perhaps over' if perhaps else 'on average under'} {mine}"


def advice(risk: CapRisk) -> str:
    """What to do about the mean, in words that never ask for more speed."""
    if risk.aim_change is None:
        return _TOO_FEW
    if risk.aim_change >= 0.0:
        return f"do not go above a mean of {_speed(risk.aim_mean)}"
    return f"aim for a mean of {_speed(risk.aim_mean)} ({100 * risk.aim_change:+.1f} %)"


def short_advice(risk: CapRisk) -> str:
    """The same for a line or a picture."""
    if risk.aim_change is None:
        return "no mean would do"
    return f"{'not above' if risk.aim_change >= 0.0 else 'aim for'} {_speed(risk.aim_mean)}"


def mean_advice(risk: CapRisk) -> str:
    """The same where no mean has been spoken of: a limit on the mean is none on a shot."""
    if risk.aim_change is None or risk.aim_change < 0.0:
        return short_advice(risk)
    return f"keep your mean at or below {_speed(risk.aim_mean)}"


def few(risk: CapRisk) -> str:
    """A sentence when the string is too short to be trusted, else nothing."""
    return f"only {risk.fired} shots: shoot ten before you trust this" if risk.few else ""


def _display(risk: CapRisk) -> list[str]:
    """What the display's step does to the numbers."""
    if risk.whole:
        return [
            f"all readings are whole {risk.whole}; if the display shows no finer step, its rounding is not "
            "counted here yet"
        ]
    if risk.step is None:
        return []
    step = as_typed(risk.step, "speed")
    if risk.step > risk.sd:
        return [
            f"the display's step of {step} is larger than the spread (SD {kept(risk.sd, 'speed', 3)}): "
            "the true spread is not known; use a finer display"
        ]
    return [f"the display's step of {step} is counted"]


def _risk_lines(risk: CapRisk) -> list[str]:
    limits = f"{confidence(risk.level)} limits"
    lines = [
        *filter(None, [few(risk)]),
        f"next shot over the cap: {chance(risk.one_shot)} "
        f"({limits} {chance(risk.one_low)} to {chance(risk.one_high)})",
        f"any of the next {risk.shots} over the cap: {chance(risk.any_shot)} "
        f"({limits} {chance(risk.any_low)} to {chance(risk.any_high)})",
    ]
    if risk.any_without_odd is not None:
        lines.append(f"any of the next {risk.shots}, odd shots left out: {chance(risk.any_without_odd)}")
    wanted = f"to keep {risk.shots} under with {confidence(risk.confidence)} confidence"
    return [*lines, f"{wanted}: {advice(risk)}", *_display(risk)]


def cap_risk(risk: CapRisk) -> list[str]:
    """The risk of one string, with the caution."""
    return [f"{caps(risk)}, {risk.name or 'this string'}", *_risk_lines(risk), CAUTION]


def together(told: CapRiskTogether) -> list[str]:
    """The risk of several dart types together, with the caution."""
    total, energy = sum(risk.shots for risk in told.each), any(risk.dart_mass for risk in told.each)
    head = caps(told.each[0]).partition(": ")[0]
    rows = []
    for risk in told.each:
        own = f", cap {_speed(risk.cap)}" if energy else ""
        rows.append(f"  {risk.name}: {chance(risk.any_shot)} in {risk.shots} shots{own}")
    return [
        f"{head}, {len(told.each)} dart types, {total} shots",
        f"any shot over the cap: {chance(told.any_shot)}; most of it from {told.worst}",
        *rows,
        *(f"{risk.name}: {line}" for risk in told.each for line in [few(risk), *_display(risk)] if line),
        f"to keep all under with {confidence(told.confidence)} confidence: {together_advice(told)}",
        CAUTION,
    ]


def together_advice(told: CapRiskTogether) -> str:
    """What to do about the speeds, in words that never ask for more."""
    if told.aim_change is None:
        return _TOO_FEW
    if told.aim_change < 0.0:
        return f"change the speed by {100 * told.aim_change:+.1f} %"
    tops = [f"{_speed(risk.mean * (1.0 + told.aim_change))} with {risk.name}" for risk in told.each]
    return "do not go above a mean of " + ", ".join(tops)


def cap_label(rules: Sequence[Quantity]) -> str:
    """What stands at the line of a cap in a picture: the caps in the units in which they were typed."""
    return f"cap {' and '.join(map(typed, rules))}"


def curve_labels(curve: CapCurve) -> dict[str, str]:
    """What stands at the marks of the risk's picture."""
    risk = curve.risk
    allowed = f": {chance(1.0 - risk.confidence)}" if risk.aim_change is not None else ""
    return {
        "cap": cap_label(risk.rules),
        "here": f"● now {_speed(risk.mean)}: {chance(risk.any_shot)}",
        "aim": f"▲ {short_advice(risk)}{allowed}",
    }


def cap_caption(curve: CapCurve) -> str:
    """The caption of the risk's picture."""
    risk = curve.risk
    said = caps(risk)
    return (
        f"{said[0].upper()}{said[1:]}; any of the next {risk.shots} over it {chance(risk.any_shot)} "
        f"at a mean of {_speed(risk.mean)}; "
        f"{short_advice(risk).replace('not above', 'do not go above')} to stay under with "
        f"{confidence(risk.confidence)} confidence"
    )


def panel_words(summary: Summary, risk: CapRisk, over: int, example: bool = False) -> Told:
    """What the panel says; `over` counts shots over the cap, which may be the example that it starts with."""
    likely = f"any of {risk.shots} over: {chance(risk.any_shot)}"
    if risk.few:  # the SD of a few shots says little; the upper limit says how little
        limit = chance(risk.any_high)
        limit = "limit too" if limit == chance(risk.any_shot) else f"limit {limit}"
        key = (
            f"only {risk.fired} shots, mean {_speed(summary.mean)}, {likely} ({limit}), {short_advice(risk)}"
        )
    else:
        spread = f"SD {kept(summary.sd, 'speed', 3)}"
        key = f"{summary.count} shots, mean {_speed(summary.mean)}, {spread}, {likely}, {short_advice(risk)}"
    rows = strings.summary_rows(summary)
    names = ("mean", "SD of one shot", "next shot", "95 % of all shots", "odd shots", "drift")
    said = [*_risk_lines(risk), *(f"{name}: {rows[name]}" for name in names), *strings.remarks(summary)]
    heard = filter(None, [sentence(few(risk)), example * _example(risk)])
    return Told(key, verdict(risk, over), tuple(heard), tuple(sentence(line.rstrip(".?")) for line in said))


def _example(risk: CapRisk) -> str:
    """A cap that nobody may have typed."""
    return f"{as_given(risk.rules)} is where the panel starts: type the cap of your event."


def verdict(risk: CapRisk, over: int) -> str:
    """What a string says about its cap, as a person would; it never asks for more speed."""
    shots, limit = risk.fired, as_given(risk.rules)
    first = f"{over or 'None'} of these {shots} shots {'was' if over == 1 else 'were'} over {limit}"
    next_ones = "the next one" if risk.shots == 1 else f"the next {risk.shots}"
    words = next(said for least, said in _LIKELY if risk.any_shot >= least)
    return f"{first}; {next_ones} {words}: {mean_advice(risk)}."


#: How likely a cap is broken, in words, from the likeliest.
_LIKELY = (
    (0.95, "will almost surely break it"),
    (0.5, "will probably break it"),
    (0.05, "may well break it"),
    (0.001, "will probably stay under it"),
    (0.0, "will almost surely stay under it"),
)


def as_given(rules: Sequence[Quantity]) -> str:
    """Caps as they were typed, each also in the chosen units where those differ."""
    return " and ".join(map(_rule, rules))


def _rule(rule: Quantity) -> str:
    return as_typed(rule, "energy" if rule.is_compatible_with("J") else "speed")
