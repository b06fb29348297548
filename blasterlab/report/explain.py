"""What explains a difference, in words: real or chance, then how much of each single cause would do it.

What it is for: the sentences of an `Explanation` and the caption of its picture.  What it leaves out: any
computing beyond rounding.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from blasterlab.assumed import general
from blasterlab.plan.explain import ASSEMBLY, SCREENS, Explanation
from blasterlab.report.numbers import confidence, kept, p_value, share
from blasterlab.report.sensitivity import how_to_measure, unknown_name
from blasterlab.report.told import Told
from blasterlab.units import show
from blasterlab.values import kind_of

_NAMES = {
    SCREENS: "screens' distance", ASSEMBLY: "putting it together again", "air.temperature": "air temperature",
}  # fmt: skip
#: How each is looked at, from what takes a minute to what takes a bench test or a string: own choice.
_TESTS = {
    SCREENS: "lay a tape from the muzzle to the screens",
    "air.temperature": "read a thermometer",
    "dart.mass": "weigh ten of these darts together, and ten of those",
    "spring.preload": "callipers: has the free spring shortened, is a spacer gone?",
    "losses.dart_friction": "", "losses.dart_breakaway": "", "losses.seal_friction": "",
    "losses.seal_leak_area": "", "losses.blowby_area": "",
    ASSEMBLY: "take it apart, put it together and shoot ten again",
    "losses.port_discharge": "look for a burr or a crumb of foam in the port",
}  # fmt: skip
ALONE = "One cause at a time, each counted from the build as it stands; several together need less of each."
LEFT_OUT = (
    "Left out: a worn or torn dart, an odd shot, a crack, and what warmth does to foam, grease and plastic; "
    "air temperature counts through the air alone."
)


def cause_name(name: str) -> str:
    """A cause as it is said, no units."""
    return _NAMES.get(name) or unknown_name(name)


def _test(name: str) -> str:
    return _TESTS[general(name)] or how_to_measure(name.removeprefix("losses."))


def _at(name: str, value: float) -> str:
    """A cause's value [SI], units as chosen."""
    if name == ASSEMBLY:
        return f"{100.0 * (value - 1.0):+.1f} %"
    if name == SCREENS:
        return f"{show(abs(value), 'distance', 2)} {'further off' if value > 0.0 else 'nearer'}"
    return show(value, kind_of(name) or "number", 3)


def _change(row: Mapping[Any, Any]) -> str:
    """From what to what a cause would have to go."""
    name, needed = row["name"], _at(row["name"], row["needed"])
    return needed if name in (ASSEMBLY, SCREENS) else f"{_at(name, row['own'])} to {needed}"


def cause_line(row: Mapping[Any, Any]) -> str:
    """How much of one cause would do it, or how much of it the cause can do, units as chosen."""
    name, said = row["name"], cause_name(row["name"])
    said = said[0].upper() + said[1:]
    ends = f"{_at(name, row['low'])} to {_at(name, row['high'])}, {row['source']}"
    if math.isnan(row["needed"]):
        return f"{said}: at most {share(max(row['share'], 0.0))} of it within the usual range ({ends})."
    found = [_at(name, end) for end in (row["needed_low"], row["needed_high"]) if not math.isnan(end)]
    near = (f" ({' to '.join(found)})", f" ({found[0]} or further)" if found else "")[len(found) < 2]
    return f"{said}: {_change(row)} would do all of it{near}; usual range {ends}."


def _rows(found: Explanation) -> list[dict[Any, Any]]:
    return found.table.to_dict("records")


def _enough(found: Explanation) -> list[dict[Any, Any]]:
    return [row for row in _rows(found) if not math.isnan(row["needed"])]


def verdict(found: Explanation) -> str:
    """Whether the difference is real, how large, and the cause that it takes least of."""
    d, side = found.difference, "slower" if found.difference.difference.m < 0.0 else "faster"
    size = f"{kept(abs(d.difference.m), 'speed', 3)} {side} ({100.0 * d.relative:+.1f} %)"
    ends = (_signed(end) for end in (d.low, d.high))
    size += f", {confidence(d.level)} range {' to '.join(ends)}, {p_value(d.p)}"
    if not d.differs:
        shots = f"about {d.shots_to_show} shots in each string" if d.shots_to_show else "no bench day's shots"
        return f"Perhaps only chance: {size}. A difference of this size would show with {shots}."
    if found.reassembled:
        return f"Real, but no more than putting the same parts together again usually does: {size}."
    enough = _enough(found)
    first = "No single cause within its usual range does all of it: look for two."
    if enough:
        first = f"The least that would do it alone: {cause_name(enough[0]['name'])}, {_change(enough[0])}."
    return f"Real, not chance: {size}. {first}"


def _signed(speed: Any) -> str:
    text = kept(speed, "speed", 3)
    return text if speed.m < 0.0 else f"+{text}"


def to_measure(found: Explanation) -> str:
    """Which of the causes that would do it alone to look at first; nothing where none would."""
    names = sorted((row["name"] for row in _enough(found)), key=lambda name: [*_TESTS].index(general(name)))
    said = "; then ".join(f"{cause_name(name)} ({_test(name)})" for name in names[:2])
    return f"Measure first what is quickest: {said}." if said else ""


def told(found: Explanation) -> Told:
    """What the panel says: real or chance, the causes that would do it, what to measure, then the rest."""
    d, enough = found.difference, _enough(found)
    means = " to ".join(kept(mean, "speed") for mean in (found.before.mean, found.after.mean))
    key = f"{means}: {100.0 * d.relative:+.1f} %, {p_value(d.p).partition(' (')[0]}"
    if enough and d.differs:
        key += f"; {cause_name(enough[0]['name'])} {_change(enough[0])} would do it"
    lines = [cause_line(row) for row in _rows(found)]
    short = min(len(enough), 3) if d.differs and not found.reassembled else 0
    heard = [*lines[:short], *[to_measure(found)] * bool(short)]
    if found.before.assumed or found.after.assumed:
        heard.append("Without an SD the usual 2 % of a shot counts (common practice, no source).")
    return Told(key, verdict(found), tuple(filter(None, heard)), (*lines[short:], ALONE, LEFT_OUT))


def explanation(found: Explanation) -> list[str]:
    """All of it, a line each, units as chosen."""
    said = told(found)
    return [said.verdict, *said.heard, *said.more]


def caption(found: Explanation) -> str:
    """The caption of the causes' picture, with the difference and the two strongest causes."""
    strong = sorted(_rows(found), key=lambda row: -abs(row["speed_m_s"]))[:2]
    parts = (f"{cause_name(row['name'])} {show(row['speed_m_s'], 'speed', 3)}" for row in strong)
    seen = show(found.difference.difference, "speed", 3)
    return f"What each cause alone could do within its range; measured {seen}. Most: {', '.join(parts)}."
