"""Plans in words: stock on sale, what a search found, and why it refused the rest.

What it is for: the sentences of `Stock` and `Plan`.  What it leaves out: any computing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blasterlab import units
from blasterlab.checks.cautions import EYES, LAW
from blasterlab.checks.finding import SEVERITIES
from blasterlab.plan.search import Plan
from blasterlab.plan.stock import KINDS, Stock
from blasterlab.report.numbers import chance, confidence, kept, share

CAUTION = f"Predicted before any shot: order one set, shoot it, and let the chronograph speak. {EYES} {LAW}"
#: Code of a reason -> what the refused ones do; {} is the limit.
_REASONS = {
    "no_cut": "ask for a cut longer than the part",
    "tube_short": "have a tube shorter than the build needs",
    "barrel_short": "ask for a cut longer than the barrel",
    "ring": "have a ring that does not suit the groove in that tube",
    "solid": "go solid before the catch",
    "misfit": "have a dart, bore or port that cannot go together",
    "tube_diameter": "are thicker than {}",
    "overall_length": "are longer than {}",
    "price": "cost more than {}, or give no price",
    "lead_time": "take longer than {}, or give no lead time",
    "prime_force": "need more than {} to prime",
    "prime_work": "need more than {} to prime",
    "not_shot": "were not shot before you stopped the run",
    "stuck": "leave the dart in the barrel",
    "least": "are slower than {}",
    "target": "miss the target of {}",
    "velocity_cap": "are faster than the cap of {}",
    "energy_cap": "have more energy than the cap of {}",
    "finding": "have {} or worse",
    "cap_chance": "are less than {} sure to stay under the cap",
}
#: Code of a limit -> its kind of unit, and what it is called.
_LIMITS = {
    "tube_diameter": ("length", "tube diameter"),
    "overall_length": ("length", "overall length"),
    "prime_force": ("force", "prime force"),
    "prime_work": ("energy", "prime work"),
    "least": ("speed", "least velocity"),
    "target": ("speed", "target velocity"),
    "velocity_cap": ("speed", "velocity cap"),
    "energy_cap": ("energy", "energy cap"),
}


def stock(found: Stock) -> list[str]:
    """How many parts of each kind, in which currency, and which lines could not be read; no units."""
    counts = [f"{count} {kind}{'s' if count > 1 else ''}" for kind in KINDS if (count := len(found.of(kind)))]
    priced = f", prices in {found.currency}" if found.currency else ", no prices"
    lines = [", ".join(counts) + priced]
    return lines + [f"not read: line {bad.number}: {bad.reason}" for bad in found.unread]


def plan(found: Plan) -> list[str]:
    """How many meet every want, the best of them, and why the rest is refused; units as chosen."""
    met, count = len(found.order), len(found)
    lines = [f"{met} of {count} candidates meet every want"]
    if met:
        lines[0] += (
            f", {len(found.front)} of them on the front"
            " (no other is as good in everything and better in something)"
        )
        lines.append(f"best: {candidate(found.table.iloc[0].to_dict(), found.currency)}")
    else:
        lines += _nearest(found)
    lines += [f"{number} of {count} {_reason(found, code)}" for code, number in found.rejected.items()]
    if not found.complete:
        lines.append("stopped before the end: what was found until then is kept")
    if met and not found.ranged:
        lines.append(
            "only the best have a range and can be on the front; narrower wants would give all of them one"
        )
    if found.rings_left_out:
        lines.append("rings were left out: give fit.groove_diameter and fit.groove_width of the plunger")
    return [*lines, CAUTION]


def candidate(row: Mapping[Any, Any], currency: str) -> str:
    """One row of a plan's table in a sentence, units as chosen."""
    cut = f"{row['coils_cut_off']:g} coils cut off" if row["coils_cut_off"] else "uncut"
    named = {kind: f"your {kind}" if row[kind] == "own" else f"{kind} {row[kind]}" for kind in KINDS}
    parts = [f"{named['spring']} {cut}", named["tube"]]
    parts += [named["ring"]] * (row["ring"] != "own")
    parts.append(f"{named['barrel']} of {units.show(row['barrel_length_m'], 'length', 4)}")
    text = f"{', '.join(parts)}, {named['dart']}: {kept(row['muzzle_velocity_m_s'], 'speed')}"
    if row["chance"] == row["chance"]:
        low, high = (kept(row[f"velocity_{end}_m_s"], "speed") for end in ("low", "high"))
        text += (
            f" ({confidence(0.9)} range {low} to {high}), chance to meet every want {chance(row['chance'])}"
        )
    text += f"; prime {kept(row['prime_force_N'], 'force', 3)}, {kept(row['prime_work_J'], 'energy', 3)}"
    price, days = row.get(f"price_{currency}", float("nan")), row["lead_time_days"]
    text += f"; {price:.2f} {currency}" if price == price else "; no price given"
    return text + (f", {days:.0f} days" if days == days else ", no lead time given")


def _limit(found: Plan, code: str, value: float) -> str:
    """A limit, or by how much it is missed, in its unit."""
    if code in _LIMITS:
        return kept(value, _LIMITS[code][0], 3)
    return f"{value:.2f} {found.currency}" if code == "price" else f"{value:.0f} days"


def _reason(found: Plan, code: str) -> str:
    if code == "finding":
        said = f"a {SEVERITIES[SEVERITIES.index(found.wants.gravest) + 1]}"
    elif code == "cap_chance":
        said = confidence(found.wants.confidence)
    else:
        limits = found.wants.limits()
        said = _limit(found, code, limits[code]) if code in limits else ""
    text = _REASONS[code].format(said)
    return f"{text} by more than {share(found.wants.within)}" if code == "target" else text


def _want(code: str) -> str:
    return _LIMITS[code][1] if code in _LIMITS else code.replace("_", " ")


def _nearest(found: Plan) -> list[str]:
    """Which want is the hardest where nothing meets all, and how far the nearest candidate misses."""
    if found.hardest is None:
        return ["no candidate can be built and shot at all"]
    code, miss = found.hardest
    name = _want(code)
    if not miss < float("inf"):
        return [f"the hardest want is the {name}: no candidate gives one"]
    lines = [
        f"the hardest want is the {name}: the nearest candidate misses it by {_limit(found, code, miss)}"
        if miss > 0.0
        else f"the hardest want is the {name}: some candidates meet it, but none of them meets the rest"
    ]
    if found.nearest is not None:
        row = found.rows(found.nearest).iloc[0].to_dict()
        short = {
            code: miss[found.nearest] for code, miss in found.misses.items() if miss[found.nearest] > 0.0
        }
        told = " and ".join(f"the {_want(code)} by {_limit(found, code, by)}" for code, by in short.items())
        lines.append(f"nearest in all: {candidate(row, found.currency)}{told and f'; it misses {told}'}")
    return lines


def front_caption(found: Plan) -> str:
    """What a picture of the front shows, with its first candidate, units as chosen."""
    best = candidate(found.front.iloc[0].to_dict(), found.currency)
    return (
        f"{len(found.order)} candidates by price and chance, {len(found.front)} on the front. First: {best}."
    )
