"""Cap risk: the chance that a shot, or any of a string, breaks a velocity or an energy cap.

What it is for: what a short string says about a cap, how unsure that is, and what mean to aim for.  What it
leaves out: the sums (`cap_chance`), several darts (`cap_together`), words, and any permission.  The event's
chronograph, its rules and local law decide, and a small computed chance is not a promise.

References
----------
G. J. Hahn, W. Q. Meeker, *Statistical Intervals*, 1991, sections 4.5, 4.8.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from blasterlab import units
from blasterlab.bench.cap_chance import aim_margin, chance_any, chance_limits
from blasterlab.bench.instrument import Chronograph, shared_error
from blasterlab.bench.statistics import check_level, mean_sd, shots_to_fire
from blasterlab.bench.string_data import StringData
from blasterlab.bench.summary import odd_shots, read_step
from blasterlab.doors import Spoken
from blasterlab.units import Quantity, QuantityLike

FEW = 8  # shots: with fewer the words say first that they are few; a choice of the kit
#: One cap, or several of which the strictest counts.
Caps: TypeAlias = "QuantityLike | Sequence[QuantityLike]"


@dataclass(frozen=True)
class CapRisk(Spoken):
    """What a string says about a cap.

    Attributes
    ----------
    name : str [-]
        Dart or title.
    rules : tuple of Quantity [m/s or J]
        The caps as they were given.
    cap : Quantity [m/s]
        The speed of this dart at the strictest of them.
    dart_mass : Quantity or None [kg]
        By which an energy was turned into a speed; None when all caps are speeds.
    shots : int [-]
        Shots still to fire.
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
    mean, sd : Quantity [m/s]
        The present mean and SD.
    fired : int [-]
        Shots in the string.
    step : Quantity or None [m/s]
        The display's step that is counted; None when none was given.
    whole : str [-]
        The unit when all readings are whole numbers and no step is counted; else empty.
    """

    name: str
    rules: tuple[Quantity, ...]
    cap: Quantity
    dart_mass: Quantity | None
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
    aim_mean: Quantity | None
    aim_change: float | None
    mean: Quantity
    sd: Quantity
    fired: int
    step: Quantity | None
    whole: str

    @property
    def few(self) -> bool:
        """True when the string is too short to be trusted."""
        return self.fired < FEW


class SpeedCap(NamedTuple):
    """The strictest of some caps as a speed of one dart [m/s], the caps as given, any energy among them."""

    speed: float
    rules: tuple[Quantity, ...]
    energy: bool


def speed_cap(caps: Caps, dart_mass: Quantity | None) -> SpeedCap:
    """The strictest of one or more caps as a speed of this dart: v = √(2 E/m) for an energy.

    Parameters
    ----------
    caps : Quantity, str, or a sequence of these [m/s or J]
        Speeds from 1 to 300 m/s, energies from 0.01 to 100 J.
    dart_mass : Quantity or None [kg]
        Of the dart; needed for an energy.

    Returns
    -------
    SpeedCap
        The speed, the caps as given, and whether any is an energy [m/s].

    Raises
    ------
    ValueError
        No cap, no such speed or energy, or an energy for a dart of unknown mass.
    """
    given = [caps] if isinstance(caps, str | units.Quantity) or not isinstance(caps, Sequence) else list(caps)
    speeds, rules, energy = [], [], False
    for cap in given:
        try:
            rules.append(units.parse(cap, "energy", "cap"))
        except units.UnitError:
            why = "a cap is a speed such as 130 ft/s, or an energy such as 1.5 J"
            speeds.append(units.si_in(cap, "speed", "cap", 1.0, 300.0, why))
            rules.append(units.parse(cap, "speed", "cap"))
            continue
        joules, energy = units.si_in(cap, "energy", "cap", 0.01, 100.0, "an energy of one dart"), True
        if dart_mass is None:
            raise ValueError(
                f"cap: got {units.shown(cap)}, an energy, but the dart's mass is not known; "
                'give dart_mass="1 g", or the dart, with the string'
            )
        speeds.append(math.sqrt(2.0 * joules / dart_mass.m_as("kg")))
    if not speeds:
        raise ValueError("cap: got none; must be a speed such as 130 ft/s, or an energy such as 1.5 J")
    return SpeedCap(min(speeds), tuple(rules), energy)


def cap_risk(
    string: StringData,
    cap: Caps,
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
    cap : Quantity, str, or a sequence of these [m/s or J]
        The cap; a shot breaks it when it is faster.  An energy needs the string's dart mass; of several caps
        the strictest for this dart counts.
    shots : int [-]
        Shots still to fire, 1 to 10 000.
    level : float [-]
        Confidence of the limits.
    confidence : float [-]
        Wanted chance of staying under, for the mean to aim for.
    chronograph : Chronograph or None [-]
        How far this chronograph and the event's may differ (a common error), and the step of its display;
        None: not at all.

    Returns
    -------
    CapRisk
        Chances, their limits and the mean to aim for [-], [m/s].

    Raises
    ------
    ValueError
        A cap, shots or levels outside their ranges, an energy without a dart mass, or a display step above
        the string's extreme spread.

    Notes
    -----
    Shots are taken as normal, alike and independent, and the spread as unchanged at the mean aimed for.  The
    dart mass behind an energy cap is taken as exact: a dart that is 2 % heavier reaches it 1 % slower.

    The chance is the predictive one (Student's t): the mean of the share over all that μ and σ may be.  Its
    limits are the classical ones of the share (non-central t).  Far below the cap and with few shots the
    share is so skew that its mean lies above the classical upper limit (far above the cap: below the lower
    one); the limits are then widened to the chance itself, so that they always hold it and cover at least
    `level`.

    References
    ----------
    Hahn & Meeker 1991, sections 4.5 and 4.8.
    """
    m = shots_to_fire(shots)
    limit, rules, energy = speed_cap(cap, string.dart_mass)
    check_level(level)
    check_level(confidence, "confidence")
    speeds = string.speeds_si
    mean, sd = mean_sd(speeds)
    common = shared_error(chronograph, limit, max(speeds) - min(speeds))
    n = len(speeds)
    one, many = (chance_any(limit - mean, sd, n, count, common) for count in (1, m))
    low, high = chance_limits(limit - mean, sd, n, level, common)
    any_low, any_high = (-math.expm1(m * math.log1p(-end)) if end < 1.0 else 1.0 for end in (low, high))
    rest = [v for v, odd in zip(speeds, odd_shots(string).flags, strict=True) if not odd]
    without = None
    if 3 <= len(rest) < n:
        mean_rest, sd_rest = mean_sd(rest)
        if sd_rest > 0.0:
            without = chance_any(limit - mean_rest, sd_rest, len(rest), m, common)
    aim = limit - aim_margin(sd, n, m, confidence, common)
    step = chronograph.display_step if chronograph else None
    return CapRisk(
        name=string.dart or string.title,
        rules=rules,
        cap=units.quantity(limit, "m/s"),
        dart_mass=string.dart_mass if energy else None,
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
        sd=units.quantity(sd, "m/s"),
        fired=n,
        step=None if step is None else units.parse(step, "speed"),
        whole=string.unit if step is None and read_step(string).magnitude == 1.0 else "",
    )
