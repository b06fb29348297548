"""What explains a difference, in words: real or chance, then how much of each single cause would do it.

What it is for: the sentences of an `Explanation`.  What it leaves out: any
computing beyond rounding.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from blasterlab.assumed import general
from blasterlab.plan.explain import SCREENS, Explanation
from blasterlab.report.numbers import confidence, kept, p_value, share
from blasterlab.report.sensitivity import how_to_measure, unknown_name
from blasterlab.report.strings import comparison
from blasterlab.report.told import Told
from blasterlab.units import show
from blasterlab.values import kind_of

_TYPE = "Type two strings, or two means with their counts."
_NAMES = {SCREENS: "distance to the chronograph", "air.temperature": "air temperature"}
#: How each is looked at, from what takes a minute to what takes a bench test: own choice; "" as elsewhere.
_TESTS = {
    SCREENS: "lay a tape from the muzzle to the chronograph", "air.temperature": "read a thermometer",
    "dart.mass": "weigh ten of these darts together, and ten of those",
    "spring.preload": "callipers: has the free spring shortened, is a spacer gone?",
    "losses.port_discharge": "look for a burr or a crumb of foam in the port",
    "losses.dart_friction": "", "losses.dart_breakaway": "", "losses.seal_friction": "",
    "losses.seal_leak_area": "", "losses.blowby_area": "",
}  # fmt: skip
REST = (
    "One cause at a time, each from the build as it stands; several together need less of each.",
    "Left out: a worn or torn dart, an odd shot, a crack, and what warmth does to foam, grease and plastic; "
    "air temperature counts through the air alone.",
)
_FAR = 0.1  # of the speed: more than usual losses that nobody learned are off by; own choice
_FAR_OFF = (
    "In the model this build shoots {}, not the {} of {}: first check what was typed, then learn "
    "its losses (notebook 52)."
)
_BACK = (
    "Your build stands for the second string, {} against {} (the first had {}): each cause is what must have "
    "been different before."
)
_USUAL = "Without an SD the usual 2 % of a shot counts (common practice, no source)."


def cause_name(name: str) -> str:
    """A cause as it is said, no units."""
    return _NAMES.get(name) or unknown_name(name)


def _at(name: str, value: float) -> str:
    """A cause's value [SI], units as chosen."""
    if name == SCREENS:
        return f"{show(abs(value), 'distance', 2)} {'further off' if value > 0.0 else 'nearer'}"
    return show(value, kind_of(name) or "number", 3)


def _change(row: Mapping[Any, Any], back: bool, near: str = "") -> str:
    """A cause, and from what to what it would have to go; for the later build, what it was and is."""
    name, needed = row["name"], f"{_at(row['name'], row['needed'])}{near}"
    own, valued = _at(name, row["own"]), name != SCREENS
    went = f"{needed} before" + f", {own} now" * valued if back else f"{own} to " * valued + needed
    return f"{cause_name(name)}, {went}"


def cause_line(row: Mapping[Any, Any], back: bool = False) -> str:
    """How much of one cause would do it, or how much of it the cause can do, units as chosen."""
    name = row["name"]
    ends = f"{_at(name, row['low'])} to {_at(name, row['high'])}, {row['source']}"
    found = [_at(name, end) for end in (row["needed_low"], row["needed_high"]) if not math.isnan(end)]
    near = (f" ({' to '.join(found)})", f" ({found[0]} or further)" if found else "")[len(found) < 2]
    said = f"{_change(row, back, near)}, would do all of it; usual range {ends}."
    if math.isnan(row["needed"]):
        said = f"{cause_name(name)}: at most {share(max(row['share'], 0.0))} of it (usual range {ends})."
    return said[0].upper() + said[1:]


def told(found: Explanation | None) -> Told:
    """Real or chance, the causes that would do it and what to measure first, then the rest."""
    if found is None:
        return Told("nothing to compare yet", f"{_TYPE} What explains the difference will be shown here.")
    d, rows, back = found.difference, found.table.to_dict("records"), found.back
    enough = [row for row in rows if not math.isnan(row["needed"])]
    side = "slower" if d.difference.m < 0.0 else "faster"
    size = f"at {confidence(d.level)} confidence: {kept(abs(d.difference.m), 'speed', 3)} {side} "
    size += f"({100.0 * d.relative:+.1f} %)"
    means = " to ".join(kept(one.mean, "speed") for one in (found.before, found.after))
    key, heard = f"{means}, {p_value(d.p).partition(' (')[0]}", list[str]()
    key += f"; {_change(enough[0], back)}, would do it" if enough else ""
    if d.difference.m == 0.0:
        verdict = (
            "No difference: the two means are the same. Put the other day's shots into one of the boxes."
        )
    elif not d.differs:
        verdict = f"Perhaps only chance, {size}. "
        verdict += f"It would take about {d.shots_to_show or 'too many'} shots in each string to tell."
    elif found.reassembled:
        verdict = f"Real, but no more than putting the same parts together again usually does, {size}."
    else:
        order = [*_TESTS]
        quick = sorted((row["name"] for row in enough), key=lambda name: order.index(general(name)))[:2]
        tests = (_TESTS[general(one)] or how_to_measure(one.removeprefix("losses.")) for one in quick)
        ways = "; then ".join(f"{cause_name(one)} ({test})" for one, test in zip(quick, tests, strict=True))
        stands = (kept(one, "speed") for one in (found.speed, found.after.mean, found.before.mean))
        heard = [_BACK.format(*stands)] * back + [cause_line(row, back) for row in enough[:3]]
        heard += [f"Measure first what is quickest: {ways}."] * bool(enough)
        least = (
            f"The least that would do it alone: {_change(enough[0], back)}." if enough else "No single cause "
        )
        least += "" if enough else "within its usual range does all of it: look for two."
        verdict = f"Real, {size}. {least}"
    short = min(len(enough), 3) * bool(heard)
    its = found.after if back else found.before
    if abs(found.speed / its.mean - 1.0) > _FAR:
        speeds = (kept(one, "speed") for one in (found.speed, its.mean))
        heard += [_FAR_OFF.format(*speeds, "now" if back else "before")]
    heard += [_USUAL] * (found.before.assumed or found.after.assumed)
    lines = [f"{line[0].upper()}{line[1:]}." for line in comparison(d)]
    more = (*(cause_line(row, back) for row in rows[short:]), *lines, *REST)
    return Told(key, verdict, tuple(heard), more)


def explanation(found: Explanation) -> list[str]:
    """All of it, a line each, units as chosen."""
    return told(found).lines[1:]
