"""Plans in words: stock on sale, what a search found, and why it refused the rest.

What it is for: the sentences of `Stock` and `Plan`.  What it leaves out: any computing.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blasterlab import units
from blasterlab.checks.cautions import EYES, LAW
from blasterlab.checks.finding import SEVERITIES
from blasterlab.plan.order import Order
from blasterlab.plan.search import Plan
from blasterlab.plan.stock import KINDS, Stock
from blasterlab.plan.wants import KINDS as WANTED
from blasterlab.report.numbers import chance, confidence, kept, share
from blasterlab.report.tables import Cell, Table
from blasterlab.report.told import Told

#: Rows of the table under a panel.
SHORT = 5
CAUTION = f"Predicted before any shot: if you order, order one set and chronograph it. {EYES} {LAW}"
STOPPED = "stopped before the end: what was found until then is kept"
#: Chance of meeting all requirements from which the panel says "order": a choice of the kit.
SURE = 0.5
LEARNED = ("before any chronograph", "with the losses you learned")
FIRST = (": measure your build first", ": ask for less, or shoot more strings first")
OTHER_BORE = (
    "The losses were learned with your dart in a bore of {}; another {} changes them: "
    "shoot a few and learn them again."
)
#: How a candidate is kept.
TAKE = "To keep candidate {} beside your build: type a name (a used one gets a number), then Save build."
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
    "cap_chance": "stay under the cap with less than {} confidence",
}


def stock(found: Stock) -> list[str]:
    """How many parts of each kind, in which currency, and which lines could not be read; no units."""
    counts = [f"{count} {kind}{'s' if count > 1 else ''}" for kind in KINDS if (count := len(found.of(kind)))]
    priced = f", prices in {found.currency}" if found.currency else ", no prices"
    lines = [", ".join(counts) + priced]
    return lines + [f"not read: line {bad.number}: {bad.reason}" for bad in found.unread]


def plan(found: Plan) -> list[str]:
    """How many meet all requirements, the best of them, and why the rest is refused; units as chosen."""
    met, count = len(found.order), len(found)
    lines = [f"{met} of {count} candidates meet all requirements"]
    if met:
        front = "no other is as good in everything and better in something"
        lines[0] += f", {len(found.front)} of them on the front ({front})"
        lines.append(f"best: {candidate(found.table.iloc[0].to_dict(), found.currency)}")
    else:
        lines += _nearest(found)
    lines += [f"{number} of {count} {_reason(found, code)}" for code, number in found.rejected.items()]
    lines += [] if found.complete else [STOPPED]
    if met and not found.ranged:
        lines.append(
            "only the best have a range and can be on the front; stricter requirements give all of them one"
        )
    if found.rings_left_out:
        lines.append("rings were left out: give fit.groove_diameter and fit.groove_width of the plunger")
    return [*lines, CAUTION]


def _parts(row: Mapping[Any, Any]) -> str:
    """The parts and cuts of one row of a plan's table, units as chosen."""
    cut = f"with {row['coils_cut_off']:g} coils cut off" if row["coils_cut_off"] else "uncut"
    named = {kind: f"your {kind}" if row[kind] == "own" else f"{kind} {row[kind]}" for kind in KINDS}
    parts = [f"{named['spring']} {cut}", named["tube"]]
    parts += [named["ring"]] * (row["ring"] != "own")
    how = "of {}" if row["barrel"] == "own" else "cut to {}" if row["barrel_cut_off_m"] else "as it is ({})"
    parts.append(f"{named['barrel']} {how.format(units.show(row['barrel_length_m'], 'length', 4))}")
    return f"{', '.join(parts)}, {named['dart']}"


def _range(row: Mapping[Any, Any], digits: int = 4) -> str:
    """The range of the speed of one row, nothing where none was shot, units as chosen."""
    ends = (kept(row[f"velocity_{end}_m_s"], "speed", digits) for end in ("low", "high"))
    return " to ".join(ends) if row["chance"] == row["chance"] else ""


def _cost(row: Mapping[Any, Any], currency: str) -> str:
    """Price and lead time of one row."""
    price, days = row.get(f"price_{currency}", float("nan")), row["lead_time_days"]
    told = f"{price:.2f} {currency}" if price == price else "no price given"
    return told + (f", {days:.0f} days" if days == days else ", no lead time given")


def candidate(row: Mapping[Any, Any], currency: str) -> str:
    """One row of a plan's table in a sentence, units as chosen."""
    text = f"{_parts(row)}: {kept(row['muzzle_velocity_m_s'], 'speed')}"
    if ends := _range(row):
        text += f" ({confidence(0.9)} range {ends}), chance to meet all requirements {chance(row['chance'])}"
    text += f"; prime {kept(row['prime_force_N'], 'force', 3)}, {kept(row['prime_work_J'], 'energy', 3)}"
    return f"{text}; {_cost(row, currency)}"


def _limit(found: Plan, code: str, value: float) -> str:
    """A limit, or by how much it is missed, in its unit."""
    if code in WANTED:
        return kept(value, WANTED[code][0], 3)
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
    return code.replace("_", " ") + " velocity" * (code in ("least", "target"))


def _nearest(found: Plan) -> list[str]:
    """Which requirement is the hardest where nothing meets all, and how far the nearest candidate misses."""
    if found.hardest is None:
        return ["no candidate can be built and shot at all"]
    (code, miss), at = found.hardest, found.nearest
    if code not in found.misses:
        by = f", by {chance(miss)}" if miss == miss else ""
        lines = [f"the nearest candidate meets every limit, but those like it {_reason(found, code)}{by}"]
    elif not miss < float("inf"):
        lines = [f"the hardest requirement is the {_want(code)}: the nearest candidate gives none"]
    else:
        alone = int((found.misses[code] <= 0.0).sum())
        said = f"the nearest candidate misses it by {_limit(found, code, miss)}"
        said += f"; {alone} would meet it alone, but none meets all" if alone else ""
        lines = [f"the hardest requirement is the {_want(code)}: {said}"]
    if at is not None:
        row, pairs = found.rows(at).iloc[0].to_dict(), found.misses.items()
        short = [f"the {_want(name)} by {_limit(found, name, by[at])}" for name, by in pairs if by[at] > 0.0]
        told = f"; it misses {' and '.join(short)}" if short else ""
        lines.append(f"nearest in all: {candidate(row, found.currency)}{told}")
    return lines


def front_caption(found: Plan) -> str:
    """What a picture of a plan shows, with its best candidate or the nearest one, units as chosen."""
    front = f"{len(found.order)} of {len(found)} meet all requirements, {len(found.front)} on the front"
    return f"Speed against pull: {front}; {plan(found)[1]}."


def order_told(asked: Order) -> Told:
    """What the search panel says: what to order, the best few with their cuts, why the rest is refused."""
    found, heard = asked.plan, [f"Not read: {line}" for line in asked.unread]
    if found is None:
        speed = kept(asked.shot.muzzle_velocity, "speed")
        sale = f"On sale: {stock(asked.stock)[0]}." if asked.stock.items else "Nothing is on sale."
        verdict = "Press Search: every combination of the parts on sale and their cuts is shot and checked."
        return Told(f"not searched yet; your build as it is: {speed}", verdict, (sale, *heard))
    heard += [] if found.complete else [f"{STOPPED.capitalize()}."]
    said = [line for line in plan(found)[1:-1] if line != STOPPED]
    if not len(found.order):
        verdict = f"None of {len(found)} combinations meets all requirements."
        return Told(said[0].partition("; ")[0], verdict, (*said[1:2], *heard), (said[0], *said[2:]))
    row = found.table.iloc[asked.chosen - 1].to_dict()
    speed, ends = kept(row["muzzle_velocity_m_s"], "speed"), _range(row)
    key = f"{speed}, pull {kept(row['prime_force_N'], 'force', 3)}, {_cost(row, found.currency)}"
    learned, sure = asked.own.calibration is not None, row["chance"] >= SURE
    verb = ("order" if sure else "nearest") if asked.chosen == 1 else f"candidate {asked.chosen}"
    verdict = f"{len(found.order)} of {len(found)} combinations meet all requirements; {verb}: {_parts(row)}"
    verdict += f"; {speed}"
    if ends:
        verdict += f", {ends} ({confidence(0.9)} range); {chance(row['chance'])} likely to meet them all "
        verdict += LEARNED[learned] + ("" if sure else FIRST[learned])
    most = sorted(found.rejected, key=lambda code: -found.rejected[code])[:2]
    told = "; ".join(f"{found.rejected[code]} {_reason(found, code)}" for code in most)
    heard += _other_bore(asked) * learned
    heard += [f"Of the rest, {told}."] * bool(most) + [TAKE.format(asked.chosen)]
    key = f"candidate {asked.chosen}: {key}"
    return Told(key, f"{verdict}.", tuple(heard), tuple(said[1:]), _short(found))


def _other_bore(asked: Order) -> list[str]:
    """That losses learned with one bore and dart are not those of others, where the candidate has others."""
    own, new = asked.own.si["barrel.bore"], asked.build.si["barrel.bore"]
    other = ["bore"] * (abs(new - own) > 1e-9) + ["dart"] * (asked.build.dart != asked.own.dart)
    return [OTHER_BORE.format(units.show(own, "length", 4), " or ".join(other))] if other else []


def _short(found: Plan) -> Table:
    """The best of a plan with their cuts, a line each, units as chosen."""
    (speed, pull), cost = map(units.show_unit, ("speed", "force")), found.currency
    heads = ["parts and cuts", f"{speed}, 90 %", "chance", f"pull, {pull}", f"{cost}, days"]
    rows: dict[str, Cell] = {"": heads}
    for number, row in enumerate(found.table[:SHORT].to_dict("records"), 1):
        cut = f" −{row['coils_cut_off']:g} coils" * bool(row["coils_cut_off"])
        length, ends = units.show(row["barrel_length_m"], "length", 4), f", {_range(row, 3)}"
        barrel = row["barrel"] + f" to {length}" * bool(row["barrel_cut_off_m"])
        named = row["spring"] + cut, row["tube"], row["ring"], barrel, row["dart"]
        rows[str(number)] = [
            ", ".join(name for name in named if name != "own"),
            (kept(row["muzzle_velocity_m_s"], "speed", 3) + ends).replace(f" {speed}", "").rstrip(", "),
            chance(row["chance"]) if row["chance"] == row["chance"] else "–",
            kept(row["prime_force_N"], "force", 3).split()[0],
            _cost(row, cost).replace(f" {cost}", "").replace(" days", ""),
        ]
    return Table("", rows, [])
