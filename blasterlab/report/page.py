"""The words of a page that is handed on: labels, headings, and the sentences that the page fills in itself.

What it is for: ``page``, whose numbers come from the kit while the page is made, and from the translated
equations afterwards.  What it leaves out: the numbers, and how the page looks.
"""

from __future__ import annotations

import re
from typing import Any

from blasterlab import units
from blasterlab.bench.cap_risk import SpeedCap, speed_cap
from blasterlab.build import Build
from blasterlab.report.calibration import plain
from blasterlab.report.caps import as_given, cap_label
from blasterlab.report.numbers import kept
from blasterlab.report.shot import ENDINGS, FAST_DART, HEAVY_AIR, here, reason
from blasterlab.shot.ledger import NET
from blasterlab.shot.rules import STATUS
from blasterlab.shot.simulate import Shot
from blasterlab.shot.speed_range import PRIOR, Unknowns, own_name
from blasterlab.units import Quantity
from blasterlab.values import KIND_OF

#: What can be moved, by its name in the build.
LABELS = {
    "barrel.length": "Barrel length",
    "chamber.stroke": "Stroke",
    "spring.wire_diameter": "Spring wire",
    "spring.rate": "Spring rate",
    "dart.mass": "Dart mass",
    "losses.port_discharge": "Port discharge coefficient",
    "losses.seal_friction": "Seal friction",
    "losses.seal_leak_area": "Seal leak area",
    "losses.dart_breakaway": "Dart breakaway force",
    "losses.dart_friction": "Dart friction",
    "losses.blowby_area": "Blow-by area",
}
#: The key numbers, by the page's name of each.
FACTS = {
    "speed": "Muzzle velocity",
    "range": "Range, nine times in ten",
    "energy": "Muzzle energy",
    "best": "Best barrel length",
    "within": "Within 1 % of the best",
    "peak": "Peak pressure, absolute",
    "pull": "Prime: peak force",
    "work": "Work to prime",
    "cap": "Against the cap",
    "there": "Down range, bore level",
}
#: Stands where there is no such number.
NONE = "–"
#: Sentences that the page fills in, {} by {}.
PHRASES: dict[str, Any] = {
    "said": "{}{} with a barrel of {}{}",
    "likely": ", likely {},",
    "at": "{}, {}",
    "stays": "No shot: {}.",
    "stuck": "the dart stays in",
    "never": "the dart does not leave any barrel",
    "rising": "still rising at {}",
    "falling": "already falling at {}",
    "between": "{} to {}",
    "standing": [
        ["{} over the cap", ", over the cap of {}"],
        ["{} over the cap, but the range reaches below it", ", over the cap of {}"],
        ["{} under the cap, but the range reaches over it", ", perhaps over the cap of {}"],
        ["{} under the cap", ", on average under the cap of {}"],
    ],
    "this dart": "{}, {} with this dart",
    "mark": "cap {}",
    "there": "{} at {}, after {}, {} lower",
    "too far": "drops too far before {} for the flat-fire formula",
    "none": NONE,
    "no cap": "type a cap to compare",
    "doubt": "Less certain here: {}.",
    "fast": FAST_DART,
    "heavy": HEAVY_AIR,
    "solid": "Stroke: got {}; with this spring at most {} (beyond it all coils touch before the catch). "
    "Nothing is shown for these settings.",
    "sent": "For the build as sent:",
    "moved": "These cautions are those of the build as it was sent. What you have moved is not checked here: "
    "load the text below into the kit and run its checks.",
    "copied": "Copied.",
    "selected": "Selected: copy it with your keyboard or menu.",
    "ends": [ENDINGS[status] for status in STATUS],
    "net": list(NET),
    "facts": FACTS,
}


#: What a build text assumed that gave everything.
NOTHING = "Nothing: the build text gave every value."


def said(shot: Shot, ends: str, standing: str) -> str:
    """The answer in a line, with its range and how it stands to a cap as they are said; the dart left."""
    length = units.show(shot.build.barrel.length, "length")
    return str(PHRASES["said"].format(here(shot), PHRASES["likely"].format(ends), length, standing))


def _strictest(cap: SpeedCap, dart_mass: Quantity) -> Quantity:
    return min(cap.rules, key=lambda one: speed_cap(one, dart_mass).speed)


def mark(cap: SpeedCap | None, dart_mass: Quantity) -> str:
    """What stands at the line of the strictest cap, as it was typed."""
    return cap_label([_strictest(cap, dart_mass)]) if cap else ""


def standing(
    cap: SpeedCap | None, dart_mass: Quantity, speed: float, low: float, high: float
) -> tuple[str, str]:
    """How a speed with its range [m/s] stands to the strictest cap: on its own, and to end the answer."""
    if cap is None:
        return NONE, ""
    rule = _strictest(cap, dart_mass)
    name = as_given([rule])
    if rule.is_compatible_with("J"):
        name = PHRASES["this dart"].format(name, kept(cap.speed, "speed", 3))
    alone, end = PHRASES["standing"][int(low < cap.speed) if speed > cap.speed else 3 - int(high > cap.speed)]
    return alone.format(kept(abs(speed - cap.speed), "speed", 3)), end.format(name)


def stays(shot: Shot) -> str:
    """The answer in a line; the dart did not leave."""
    return str(PHRASES["stays"].format(reason(shot)))


def shown(speed: float) -> str:
    """A speed [m/s] in the chosen units, or that the dart stays in."""
    return units.show(speed, "speed") if speed > 0.0 else str(PHRASES["stuck"])


def there(speed: float, distance: float, time: float, drop: float) -> str:
    """What a dart does down range, SI in, in the chosen units."""
    told = (units.show(speed, "speed", 3), units.show(distance, "distance", 3), units.show(time, "time", 3))
    return str(PHRASES["there"].format(*told, units.show(drop, "length", 3)))


def not_known(build: Build, asked: Unknowns) -> list[str]:
    """What the range rests on: each value that is not known exactly, with its ends, in the chosen units."""
    found = []
    for name, low, high in zip(asked.names, asked.low, asked.high, strict=True):
        own = own_name(name)
        if own is None:  # a factor on what the build has
            ends = f"{100 * low - 100:+.1f} % to {100 * high - 100:+.1f} %"
        else:
            kind = KIND_OF[re.sub(r"^spring\d", "spring", own)]
            if name.endswith(".preload"):  # said as what can be measured
                free = build.si[name.replace("preload", "free_length")]
                low, high = free - high, free - low
            ends = f"{units.show(low, kind, 3)} to {units.show(high, kind, 3)}"
        found.append(f"{plain(name.removeprefix('losses.'))}: {ends}")
    return found


def source(asked: Unknowns) -> str:
    """Where the range of a speed comes from, in a sentence."""
    if asked.source == PRIOR:
        return "The range comes from the usual ranges of what nobody has measured here; no chronograph yet."
    return "The range comes from the chronograph strings that the losses were learned from."
