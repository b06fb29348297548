"""Cap risk: the chance that a shot, or any of a string, is faster than a velocity cap.

What it is for: what a short string says about a cap, how unsure that is, and what mean to aim for; also
for several dart types together.  What it leaves out: any permission.  The event's chronograph, its rules
and local law decide, and a small computed chance is not a promise.

References
----------
G. J. Hahn, W. Q. Meeker, *Statistical Intervals*, 1991, sections 4.5, 4.8.  A. Gelman et al., *Bayesian
Data Analysis*, 3rd ed., 2013, section 3.2: with the prior 1/σ² the predictive law is Student's t, the same
as the classical prediction interval.
"""

from __future__ import annotations

import html
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import special

from blasterlab import units
from blasterlab.bench.statistics import check_level, largest_factor, mean_sd, normal_nodes, scale_nodes, solve

if TYPE_CHECKING:
    from blasterlab.bench.instrument import Chronograph
    from blasterlab.bench.strings import ChronoString

CAUTION = (
    "A computed chance is no permit: the event's chronograph, its rules and local law decide. "
    "Check with every dart you will shoot, and everybody in range wears eye protection."
)
TOO_FEW = "no speed would do with so few shots and this spread; shoot more"
MAX_NEXT = 10_000
FEW = 8  # shots: with fewer the words say first that they are few; a choice of the kit


def chance_any(margin: float, sd: float, n: int, m: int, common: float = 0.0) -> float:
    """Chance that any of the next m shots lies more than a margin above the sample mean.

    1 − E[Φ(x)^m], x = margin·u/s − z √(1/n + (common·u/s)²), over u = s/σ and a standard normal z

    Parameters
    ----------
    margin : float [m/s]
        Cap minus sample mean.
    sd : float [m/s]
        Sample SD.
    n : int [-]
        Shots in the sample.
    m : int [-]
        Shots to come.
    common : float [m/s]
        Standard uncertainty that all shots share (the chronograph's).

    Returns
    -------
    float
        Probability [-].

    References
    ----------
    Hahn & Meeker 1991, section 4.8; Gelman et al. 2013, section 3.2.

    Examples
    --------
    >>> round(chance_any(2.886778, 1.0, 10, 5), 6)
    0.05
    """
    u, wu = scale_nodes(n - 1)
    z, wz = normal_nodes(min(64 + 16 * int(25.0 * common / sd), 400))  # closer where the step is steeper
    scale = u[:, None] / sd
    x = margin * scale - z[None, :] * np.sqrt(1.0 / n + (common * scale) ** 2)
    return float(wu @ -np.expm1(m * special.log_ndtr(x)) @ wz)


def chance_limits(margin: float, sd: float, n: int, level: float, common: float = 0.0) -> tuple[float, float]:
    """Limits for the true share of single shots above the cap.

    Y = (cap − μ)/σ, P(Y < y) = 1 − E[Φ((margin − y σ)/√(σ²/n + common²))], share = Φ(−Y)

    Parameters
    ----------
    margin, sd : float [m/s]
        As `chance_any`.
    n : int [-]
        Shots in the sample.
    level : float [-]
        Confidence of the two limits together.
    common : float [m/s]
        As `chance_any`.

    Returns
    -------
    tuple of float
        Lower and upper limit of the share [-].

    Notes
    -----
    With `common` zero these are the exact classical limits from the non-central t distribution.

    References
    ----------
    Hahn & Meeker 1991, section 4.5.
    """
    u, wu = scale_nodes(n - 1)
    sigma = sd / u
    spread = np.sqrt(sigma**2 / n + common**2)

    def below(y: float) -> float:
        return float(wu @ special.ndtr((y * sigma - margin) / spread))

    far = 60.0 + 10.0 * abs(margin) / sd
    tail = 0.5 * (1.0 - level)
    low = solve(lambda y: below(y) - tail, -far, far)
    high = solve(lambda y: below(y) + tail - 1.0, -far, far)
    return float(special.ndtr(-high)), float(special.ndtr(-low))


def aim_margin(sd: float, n: int, m: int, confidence: float, common: float = 0.0) -> float:
    """How far below the cap the mean must be so that a string of m stays under with a confidence.

    Parameters
    ----------
    sd : float [m/s]
        As `chance_any`.
    n, m : int [-]
        Shots in the sample, shots to come.
    confidence : float [-]
        Wanted chance that all m stay under.
    common : float [m/s]
        As `chance_any`.

    Returns
    -------
    float
        Cap minus mean [m/s].

    References
    ----------
    Hahn & Meeker 1991, section 4.8.
    """
    if common == 0.0:
        return sd * largest_factor(n, m, confidence)
    wide = math.hypot(sd, common)
    return solve(lambda d: 1.0 - confidence - chance_any(d, sd, n, m, common), -20.0 * wide, 5e3 * wide)


@dataclass(frozen=True)
class CapRisk:
    """What a string says about a velocity cap.

    Attributes
    ----------
    name : str [-]
        Dart or title.
    cap : Quantity [m/s]
        The cap.
    shots : int [-]
        Shots to come.
    level, confidence : float [-]
        Of the limits; of staying under.
    one_shot, one_low, one_high : float [-]
        Chance that the next shot breaks the cap; limits for the true share of such shots, widened where
        needed to hold the chance (see `cap_risk`).
    any_shot, any_low, any_high : float [-]
        The same for any of `shots`.
    any_without_odd : float or None [-]
        `any_shot` with the odd shots left out; None when there are none.
    aim_mean : Quantity or None [m/s]
        The highest mean that would do, if the spread stays as it is; None when no mean above zero would.
    aim_change : float or None [-]
        That mean over the present one, minus 1; above zero it is room to keep, no call to go faster.
    mean : Quantity [m/s]
        The present mean.
    fired : int [-]
        Shots in the string.
    caution : str [-]
        In plain words; it belongs beside the numbers.
    """

    name: str
    cap: Any
    shots: int
    level: float
    confidence: float
    one_shot: float
    one_low: float
    one_high: float
    any_shot: float
    any_low: float
    any_high: float
    any_without_odd: float | None
    aim_mean: Any
    aim_change: float | None
    mean: Any
    fired: int
    caution: str = CAUTION

    @property
    def advice(self) -> str:
        """What to do about the mean, in words that never ask for more speed; no unit of its own."""
        if self.aim_change is None:
            return TOO_FEW
        top = units.show(self.aim_mean, "speed")
        if self.aim_change >= 0.0:
            return f"do not go above a mean of {top}"
        return f"aim for a mean of {top} ({100 * self.aim_change:+.1f} %)"

    @property
    def short_advice(self) -> str:
        """The same for a line or a picture, nothing when no mean would do; no unit of its own."""
        if self.aim_change is None:
            return ""
        return f"{'not above' if self.aim_change >= 0.0 else 'aim'} {units.show(self.aim_mean, 'speed')}"

    @property
    def few(self) -> str:
        """A sentence when the string is too short to be trusted, else nothing; no unit."""
        return f"only {self.fired} shots: shoot ten before you trust this" if self.fired < FEW else ""

    def __str__(self) -> str:
        lines = [
            f"cap {units.show(self.cap, 'speed')}, {self.name or 'this string'}",
            *([self.few] if self.few else []),
            f"next shot over the cap: {percent(self.one_shot)} "
            f"({100 * self.level:.4g} % limits {percent(self.one_low)} to {percent(self.one_high)})",
            f"any of {self.shots} over the cap: {percent(self.any_shot)} "
            f"({100 * self.level:.4g} % limits {percent(self.any_low)} to {percent(self.any_high)})",
        ]
        if self.any_without_odd is not None:
            lines.append(f"any of {self.shots}, odd shots left out: {percent(self.any_without_odd)}")
        wanted = f"to keep {self.shots} under with {100 * self.confidence:.4g} % confidence"
        lines.append(f"{wanted}: {self.advice}")
        return "\n".join([*lines, self.caution])

    def _repr_html_(self) -> str:
        return "<br>".join(html.escape(line) for line in str(self).split("\n"))


@dataclass(frozen=True)
class CapRiskTogether:
    """Cap risk of several dart types shot on one day.

    Attributes
    ----------
    each : tuple of CapRisk [-]
        One for each string.
    any_shot : float [-]
        Chance that any shot of all breaks the cap.
    worst : str [-]
        The dart that adds most.
    confidence : float [-]
        Wanted chance that all stay under.
    aim_change : float or None [-]
        Change of all means that gives it, as a fraction (negative is slower, above zero is room to keep and
        no call to go faster); None when no change would do.
    caution : str [-]
        In plain words.
    """

    each: tuple[CapRisk, ...]
    any_shot: float
    worst: str
    confidence: float
    aim_change: float | None
    caution: str = CAUTION

    @property
    def advice(self) -> str:
        """What to do about the speeds, in words that never ask for more; no unit of its own."""
        if self.aim_change is None:
            return TOO_FEW
        if self.aim_change < 0.0:
            return f"change the speed by {100 * self.aim_change:+.1f} %"
        tops = [(units.show(risk.mean * (1.0 + self.aim_change), "speed"), risk.name) for risk in self.each]
        return "do not go above a mean of " + ", ".join(f"{top} with {name}" for top, name in tops)

    def __str__(self) -> str:
        total = sum(risk.shots for risk in self.each)
        lines = [
            f"cap {units.show(self.each[0].cap, 'speed')}, {len(self.each)} dart types, {total} shots",
            f"any shot over the cap: {percent(self.any_shot)}; most of it from {self.worst}",
            *[f"  {risk.name}: {percent(risk.any_shot)} in {risk.shots} shots" for risk in self.each],
            *[f"{risk.name}: {risk.few}" for risk in self.each if risk.few],
            f"to keep all under with {100 * self.confidence:.4g} % confidence: {self.advice}",
        ]
        return "\n".join([*lines, self.caution])

    def _repr_html_(self) -> str:
        return "<br>".join(html.escape(line) for line in str(self).split("\n"))


def percent(chance: float) -> str:
    """A chance in words that do not promise too much.

    Parameters
    ----------
    chance : float [-]
        0 to 1.

    Returns
    -------
    str
        Such as ``"3.2 %"``, ``"below 0.01 %"``, ``"above 99.9 %"`` [-].

    Examples
    --------
    >>> percent(0.0321), percent(1e-9), percent(0.99999)
    ('3.2 %', 'below 0.01 %', 'above 99.9 %')
    """
    if chance < 1e-4:
        return "below 0.01 %"
    if chance > 0.999:
        return "above 99.9 %"
    return (
        f"{100 * chance:.2g} %"
        if chance < 0.1
        else f"{100 * chance:.0f} %"
        if chance < 0.99
        else f"{100 * chance:.1f} %"
    )


def count_of_shots(shots: object, name: str = "shots") -> int:
    """A whole number of shots, no units; ValueError outside 1 to 10 000."""
    if isinstance(shots, bool) or not isinstance(shots, (int, np.integer)) or not 1 <= shots <= MAX_NEXT:
        raise ValueError(f"{name}: read {shots!r}; allowed is a whole number from 1 to {MAX_NEXT}")
    return int(shots)


def _cap(cap: Any) -> float:
    return units.si_in(cap, "speed", "cap", 1.0, 300.0, "a cap is a speed such as 130 ft/s")


def cap_risk(
    string: ChronoString,
    cap: Any,
    shots: int = 1,
    *,
    level: float = 0.95,
    confidence: float = 0.95,
    chronograph: Chronograph | None = None,
) -> CapRisk:
    """The chance that one shot, or any of several, breaks a cap.

    Parameters
    ----------
    string : ChronoString [m/s]
        The shots; all of them count, odd ones too.
    cap : Quantity or str [m/s]
        The cap; a shot breaks it when it is faster.
    shots : int [-]
        Shots to come, 1 to 10 000.
    level : float [-]
        Confidence of the limits.
    confidence : float [-]
        Wanted chance of staying under, for the mean to aim for.
    chronograph : Chronograph or None [-]
        How far this chronograph and the event's may differ (a common error); None: not at all.

    Returns
    -------
    CapRisk
        Chances, their limits and the mean to aim for [-], [m/s].

    Raises
    ------
    ValueError
        A cap that is no speed from 1 to 300 m/s, shots or levels outside their ranges.

    Notes
    -----
    Shots are taken as normal, alike and independent, and the spread as unchanged at the mean aimed for.

    The chance is the predictive one (Student's t): the mean of the share over all that μ and σ may be.  Its
    limits are the classical ones of the share (non-central t).  Far below the cap and with few shots the
    share is so skew that its mean lies above the classical upper limit (far above the cap: below the lower
    one); the limits are then widened to the chance itself, so that they always hold it and cover at least
    `level`.

    References
    ----------
    Hahn & Meeker 1991, sections 4.5 and 4.8.
    """
    limit, m = _cap(cap), count_of_shots(shots)
    check_level(level)
    check_level(confidence, "confidence")
    speeds = string.speeds_si
    mean, sd = mean_sd(speeds)
    common = chronograph.relative * limit if chronograph else 0.0
    n = len(speeds)
    one, many = (chance_any(limit - mean, sd, n, count, common) for count in (1, m))
    low, high = chance_limits(limit - mean, sd, n, level, common)
    any_low, any_high = (-math.expm1(m * math.log1p(-end)) if end < 1.0 else 1.0 for end in (low, high))
    rest = [v for v, odd in zip(speeds, string.odd_shots().flags, strict=True) if not odd]
    without = None
    if 3 <= len(rest) < n:
        mean_rest, sd_rest = mean_sd(rest)
        if sd_rest > 0.0:
            without = chance_any(limit - mean_rest, sd_rest, len(rest), m, common)
    aim = limit - aim_margin(sd, n, m, confidence, common)
    return CapRisk(
        name=string.dart or string.title,
        cap=units.quantity(limit, "m/s"),
        shots=m,
        level=level,
        confidence=confidence,
        one_shot=one,
        one_low=min(low, one),
        one_high=max(high, one),
        any_shot=many,
        any_low=min(any_low, many),
        any_high=max(any_high, many),
        any_without_odd=without,
        aim_mean=units.quantity(aim, "m/s") if aim > 0.0 else None,
        aim_change=aim / mean - 1.0 if aim > 0.0 else None,
        mean=units.quantity(mean, "m/s"),
        fired=n,
    )


def cap_risk_together(
    strings: Sequence[ChronoString] | Mapping[str, ChronoString],
    cap: Any,
    shots: int | Sequence[int] = 10,
    *,
    level: float = 0.95,
    confidence: float = 0.95,
    chronograph: Chronograph | None = None,
) -> CapRiskTogether:
    """The chance that any shot of several dart types breaks the cap.

    1 − E[Π chance that dart i stays under], over the chronograph's common error

    Parameters
    ----------
    strings : sequence or mapping of ChronoString [m/s]
        One string for each dart type; a mapping gives their names.
    cap : Quantity or str [m/s]
        The cap.
    shots : int or sequence of int [-]
        Shots to come of each, or of each in turn.
    level, confidence : float [-]
        As `cap_risk`.
    chronograph : Chronograph or None [-]
        As `cap_risk`; its error is the same for all dart types.

    Returns
    -------
    CapRiskTogether
        Each, together, and the change of speed that keeps all under [-].

    Raises
    ------
    ValueError
        No string, a number of `shots` that does not fit, or as `cap_risk`.

    References
    ----------
    As `cap_risk`.
    """
    named = dict(strings) if isinstance(strings, Mapping) else {}
    if not named:
        for i, string in enumerate(strings if isinstance(strings, Sequence) else [], start=1):
            name = string.dart or string.title or f"string {i}"
            named[name if name not in named else f"{name} ({i})"] = string
    if not named:
        raise ValueError("strings: none given; one for each dart type is wanted")
    counts = [shots] * len(named) if isinstance(shots, (int, np.integer)) else list(shots)
    if len(counts) != len(named):
        raise ValueError(f"shots: read {len(counts)} numbers for {len(named)} strings")
    each = tuple(
        replace(
            cap_risk(s, cap, m, level=level, confidence=confidence, chronograph=chronograph),
            name=str(name),
        )
        for (name, s), m in zip(named.items(), counts, strict=True)
    )
    limit = _cap(cap)
    common = chronograph.relative * limit if chronograph else 0.0
    sets = [(*mean_sd(s.speeds_si), s.count, m) for s, m in zip(named.values(), counts, strict=True)]
    z, wz = normal_nodes(60, 6.0) if common else (np.zeros(1), np.ones(1))

    def any_over(factor: float) -> float:
        stay = np.ones_like(z)
        for mean, sd, n, m in sets:
            stay *= [1.0 - chance_any(limit - factor * mean - common * shift, sd, n, m) for shift in z]
        return float(1.0 - wz @ stay)

    change = None
    if any_over(0.01) < 1.0 - confidence:
        change = solve(lambda f: any_over(f) - (1.0 - confidence), 0.01, 100.0, 1e-6) - 1.0
    worst = max(each, key=lambda risk: risk.any_shot).name
    return CapRiskTogether(each, any_over(1.0), worst, confidence, change)
