"""The words of a page that is handed on: labels, headings, and the sentences that the page fills in itself.

What it is for: ``page``, whose numbers come from the kit while the page is made, and from the translated
equations afterwards.  What it leaves out: the numbers, and how the page looks.
"""

from __future__ import annotations

import re
from typing import Any

from blasterlab import units
from blasterlab.build import Build
from blasterlab.report.calibration import plain
from blasterlab.report.shot import ENDINGS, FAST_DART, HEAVY_AIR, here, reason
from blasterlab.shot.ledger import NET
from blasterlab.shot.rules import STATUS
from blasterlab.shot.simulate import Shot
from blasterlab.shot.speed_range import PRIOR, Unknowns, own_name
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
    "work": "Prime: work of the hand",
    "cap": "Against the cap",
    "there": "Down range, bore level",
}
#: Stands where there is no such number.
NONE = "–"
#: Sentences that the page fills in, {} by {}.
PHRASES: dict[str, Any] = {
    "said": "{}{} with a barrel of {}",
    "at": "{}, {}",
    "stays": "No shot: {}.",
    "stuck": "the dart stays in",
    "never": "the dart does not leave any barrel",
    "rising": "still rising at {}",
    "falling": "already falling at {}",
    "between": "{} to {}",
    "over": "{} over the cap",
    "over or under": "{} over the cap, but the range reaches below it",
    "reaches": "{} under the cap, but the range reaches over it",
    "under": "{} under the cap",
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


def said(shot: Shot, ends: str) -> str:
    """The answer in a line, with the range's ends as they are said; the dart left."""
    length = units.show(shot.build.barrel.length, "length")
    return str(PHRASES["said"].format(here(shot), f", {ends},", length))


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
