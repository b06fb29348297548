"""Cap risk of several dart types shot on one day, over one chronograph.

What it is for: the chance that any dart of a mixed bag breaks a cap.  What it leaves out: one string alone
(`cap_risk`), words, and any permission.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from blasterlab.bench.cap_chance import chance_any
from blasterlab.bench.cap_risk import CapRisk, Caps, cap_risk
from blasterlab.bench.instrument import Chronograph, shared_error
from blasterlab.bench.statistics import mean_sd, normal_nodes, solve
from blasterlab.bench.string_data import StringData
from blasterlab.doors import Spoken


@dataclass(frozen=True)
class CapRiskTogether(Spoken):
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
    """

    each: tuple[CapRisk, ...]
    any_shot: float
    worst: str
    confidence: float
    aim_change: float | None


def cap_risk_together(
    strings: Sequence[StringData] | Mapping[str, StringData],
    cap: Caps,
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
    cap : Quantity, str, or a sequence of these [m/s or J]
        As `cap_risk`; an energy is another speed for each dart mass.
    shots : int or sequence of int [-]
        Shots still to fire of each, or of each in turn.
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
    named = _named(strings)
    counts = [shots] * len(named) if isinstance(shots, (int, np.integer)) else list(shots)
    if len(counts) != len(named):
        raise ValueError(f"shots: got {len(counts)} numbers for {len(named)} strings")
    each = tuple(
        replace(cap_risk(s, cap, m, level=level, confidence=confidence, chronograph=chronograph), name=name)
        for (name, s), m in zip(named.items(), counts, strict=True)
    )
    sets = []
    for risk, string in zip(each, named.values(), strict=True):
        limit, spread = risk.cap.m_as("m/s"), string.extreme_spread.m_as("m/s")
        sets.append((risk, limit, shared_error(chronograph, limit, spread), *mean_sd(string.speeds_si)))
    z, wz = normal_nodes(60, 6.0) if any(common for _, _, common, _, _ in sets) else (np.zeros(1), np.ones(1))

    def any_over(factor: float) -> float:
        stay = np.ones_like(z)
        for risk, limit, common, mean, sd in sets:
            margin = limit - factor * mean
            stay *= [1.0 - chance_any(margin - common * at, sd, risk.fired, risk.shots) for at in z]
        return float(1.0 - wz @ stay)

    change = None
    if any_over(0.01) < 1.0 - confidence:
        change = solve(lambda f: any_over(f) - (1.0 - confidence), 0.01, 100.0, 1e-6) - 1.0
    worst = max(each, key=lambda risk: risk.any_shot).name
    return CapRiskTogether(each, any_over(1.0), worst, confidence, change)


def _named(strings: Sequence[StringData] | Mapping[str, StringData]) -> dict[str, StringData]:
    """Strings by the names of their darts, no name twice."""
    if isinstance(strings, Mapping):
        named = {str(name): string for name, string in strings.items()}
    else:
        named = {}
        for i, string in enumerate(strings, start=1):
            name = string.dart or string.title or f"string {i}"
            named[name if name not in named else f"{name} ({i})"] = string
    if not named:
        raise ValueError("strings: got none; must be one for each dart type")
    return named
