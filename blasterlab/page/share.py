"""One file that answers a reader's questions about a build: no Python, no request, no library.

What it is for: `Build.share_page` and ``python -m blasterlab share``.  The page holds the kit's own shot,
translated (``translate``), the positions of its sliders (``moves``), and what needs no script: a picture,
numbers, a table.  What it leaves out: checks of what the reader moves, which need the kit.
"""

from __future__ import annotations

import base64
import hashlib
import json
import math
import os
import re
from collections.abc import Sequence
from contextlib import suppress
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from blasterlab import units
from blasterlab.bench.cap_risk import Caps, SpeedCap, speed_cap
from blasterlab.bench.kept import event_caps
from blasterlab.build import Build, BuildError
from blasterlab.files import write_whole
from blasterlab.flight.flat_fire import flat_fire, retardation
from blasterlab.page.draws import draws
from blasterlab.page.moves import KNOWN, RANGES, moves
from blasterlab.page.translate import HELPERS, javascript
from blasterlab.report import page as words
from blasterlab.report.barrel_length import band, best
from blasterlab.report.build import sources
from blasterlab.report.findings import to_hear
from blasterlab.report.numbers import typed
from blasterlab.report.shot import CAUTION, carried, energy_rows, here, reach, warnings
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.assumptions import MACH, strained
from blasterlab.shot.barrel_sweep import barrel_sweep
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import TOLERANCE, shoot
from blasterlab.shot.ledger import net_entries
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.simulate import Shot, simulate
from blasterlab.shot.speed_range import Unknowns, speeds_of, unknowns
from blasterlab.units import Quantity

#: Barrels of the page's curve; every second one begins its sweep, as in the panels (own choice).
LENGTHS = np.geomspace(0.03, 1e-3 * RANGES["barrel.length"][1], 31)
LONGEST = float(LENGTHS[-1])
SHOWN = ("length", "distance", "time", "mass", "speed", "force", "energy", "pressure", "area", "spring rate",
         "number")  # fmt: skip


#: Where the dart is looked at down range until the reader says otherwise [m], and the drop as a share of the
#: distance beyond which a path is no longer flat (own choices).
FAR, FLAT = 10.0, 0.05


def flight(
    p: Parameters, speed: float, x: float, density: float, diameter: float, drag: float
) -> tuple[float, float, float]:
    """Remaining speed, time and drop of a dart at x, by `flat_fire` [m/s, s, m]."""
    return flat_fire(retardation(density, p.dart_mass, diameter) * drag, speed, x)


def pull(p: Parameters) -> tuple[float, float]:
    """Peak force and work of a direct pull that primes the springs, as in `parts.prime` [N, J]."""
    force = p.rate1 * p.catch_compression1 + p.rate2 * p.catch_compression2 + p.rate3 * p.catch_compression3
    return force + p.seal_friction, k.spring_work(p, p.stroke) + p.seal_friction * p.stroke


def share_page(build: Build, path: str | os.PathLike[str], cap: Caps | None = None) -> None:
    """Write a page that shoots: see `Build.share_page`."""
    write_whole(path, page(build, event_caps() if cap is None else cap))


def page(build: Build, cap: Caps = ()) -> str:
    """The page as text.

    Parameters
    ----------
    build : Build [-]
        The build.
    cap : Quantity, str, or a sequence of these [m/s or J]
        Where the page begins; an empty tuple for none.

    Returns
    -------
    str
        HTML; the same for the same build and cap [-].
    """
    template = (Path(__file__).parent / "page.html").read_text(encoding="utf-8")
    style, script = (template.split(f"<{tag}>")[1].split(f"</{tag}>")[0] for tag in ("style", "script"))
    engine = javascript(shoot, net_entries, strained, pull, k.energy_in, rules.lost)
    engine += javascript(flight, nearly=True).removeprefix(HELPERS)
    filled = _filled(build, None if cap == () else speed_cap(cap, build.dart.mass))
    filled["engine"] = engine + filled["engine"]
    hashes = (
        f"script-src '{_hash(script.replace('{{engine}}', filled['engine']))}'; style-src '{_hash(style)}'"
    )
    filled["policy"] = f"default-src 'none'; {hashes}; base-uri 'none'; form-action 'none'"
    return re.sub(r"\{\{(\w+)\}\}", lambda found: filled[found[1]], template)


def _hash(text: str) -> str:
    return f"sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}"


def _items(lines: list[str]) -> str:
    return "".join(f"<li>{escape(line)}</li>" for line in lines)


def _data(build: Build, cap: SpeedCap | None) -> tuple[str, dict[str, Any]]:
    """The rules of this build as JavaScript, and all that the script reads, SI."""
    found = moves(build)
    lines = build.to_text().splitlines()
    learned = build.calibration.names if build.calibration else ()
    script, drawn = draws(build, found)
    return script, drawn | {
        "lengths": LENGTHS.tolist(),
        "units": _sets(),
        "caps": _typed(cap.rules if cap else ()),
        "set": units.use_units(),
        "learned": [f"losses.{name}" for name in learned],
        "learned_from": lines.index("[calibration]") - 1 if learned else len(lines),
        "words": words.PHRASES,
        "air": _air(build),
        "fixed": (TOLERANCE, k.STATES, k.S, k.W, rules.EXITED, MACH, FAR, FLAT),
    }


def _air(build: Build) -> tuple[float, float, float]:
    """For `flight`: density of the air [kg/m^3], diameter of the dart [m], its drag coefficient."""
    return (
        float(build.air.density.m_as("kg/m^3")),
        build.si["dart.diameter"],
        build.si["dart.drag_coefficient"],
    )


def _typed(rules: Sequence[Quantity]) -> dict[str, tuple[float, float, str]]:
    """The strictest cap of each kind: value [SI], factor to the unit in which it was typed, that unit."""
    found = {}
    for rule in sorted(rules, key=lambda one: one.to_base_units().m, reverse=True):
        kind = "energy" if rule.is_compatible_with("J") else "speed"
        value = units.si(rule, kind)
        found[kind] = (value, rule.m / value, typed(rule).partition(" ")[2])
    return found


def _sets() -> dict[str, dict[str, tuple[float, str]]]:
    """Factor from SI and unit as it is shown, by unit set and kind."""
    chosen, found = units.use_units(), {}
    try:
        for name in units.UNIT_SETS:
            units.use_units(name)
            found[name] = {kind: (units.display(1.0, kind), units.show_unit(kind)) for kind in SHOWN}
    finally:
        units.use_units(chosen)
    return found


def _points(speeds: Floats, cap: float) -> tuple[float, str]:
    """The top of the picture's scale [m/s], and the curve in it: 600 wide, 300 high."""
    top = 10.0 * math.ceil(0.12 * max(float(speeds.max()), cap, 1.0))
    x, y = 600.0 * LENGTHS / LONGEST, 300.0 * (1.0 - speeds / top)
    return top, " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x.tolist(), y.tolist(), strict=True))


def _filled(build: Build, cap: SpeedCap | None) -> dict[str, str]:
    """What stands in the template's places, escaped; numbers in the chosen units."""
    shot, asked = simulate(build), unknowns(build, known=KNOWN)
    speed = asked.range(speeds_of(asked, {**build.si, "barrel.length": LENGTHS}, len(LENGTHS)))
    top, curve = _points(speed.best, cap.speed if cap else 0.0)
    speeds = zip(LENGTHS.tolist(), speed.best.tolist(), speed.low.tolist(), speed.high.tolist(), strict=True)
    findings = build.check()
    loud = to_hear(findings)[:2]
    grave, lines = (
        [f"{item.severity.capitalize()}: {item.message}" for item in findings if (item in loud) == top]
        for top in (True, False)
    )
    said, facts = _answers(build, shot, asked, cap)
    rules, data = _data(build, cap)
    return {
        "title": escape(build.title),
        "note": escape(build.note),
        "author": escape(build.author),
        "said": escape(said),
        "facts": "".join(
            f'<div><dt>{escape(label)}</dt><dd id="{name}">{escape(facts.get(name, words.NONE))}</dd></div>'
            for name, label in words.FACTS.items()
        ),
        "up": units.show_unit("speed"),
        "along": units.show_unit("length"),
        "top": units.show(top, "speed", 3).split()[0],
        "end": units.show(LONGEST, "length", 3).split()[0],
        "curve": curve,
        "limit": "hidden" if cap is None else "visible",
        "limit_y": f"{300.0 * (1.0 - cap.speed / top) if cap else 0.0:.1f}",
        "mark": escape(words.mark(cap, build.dart.mass)),
        "rows": "".join(
            f"<tr><th scope=row>{units.show(length, 'length', 3)}</th><td>{words.shown(best)}</td>"
            f"<td>{reach(under, over)}</td></tr>"
            for length, best, under, over in speeds
        ),
        "ledger": "".join(
            f"<tr><th scope=row>{name}</th><td>{text}</td></tr>" for name, _, text in energy_rows(shot)
        ),
        "caution": escape(CAUTION),
        "grave": _items([*([carried(shot)] if shot.exited else []), *grave]),
        "doubts": _items([words.PHRASES["doubt"].format(doubt) for doubt in warnings(shot)]),
        "cautions": _items(lines),
        "known": escape(words.source(asked)),
        "unknown": _items(words.not_known(build, asked)),
        "assumed": _items(sources(build) or [words.NOTHING]),
        "text": escape(build.to_text()),
        "data": json.dumps(data, separators=(",", ":"), ensure_ascii=False).replace("<", "\\u003c"),
        "engine": rules,
    }


def _answers(build: Build, shot: Shot, asked: Unknowns, cap: SpeedCap | None) -> tuple[str, dict[str, str]]:
    """The answer in a line, and the key numbers as far as a page says them without a script."""
    p = parameters(build.si)
    force, work = pull(p)
    facts = {"pull": units.show(force, "force", 3), "work": units.show(work, "energy", 3)}
    facts["peak"] = units.show(shot.peak_pressure, "pressure", 3)
    facts["speed"] = here(shot)
    with suppress(BuildError):  # the dart leaves no barrel
        short, long = (units.quantity(float(LENGTHS[end]), "m") for end in (0, -1))
        found = barrel_sweep(build, short, long, points=len(LENGTHS[::2]), spacing="ratio")
        facts |= {"best": best(found, "").strip(), "within": band(found).removeprefix("within 1 % from ")}
    if not shot.exited:
        return words.stays(shot), facts
    near, v = asked.range(speeds_of(asked, build.si)[:, 0]), float(shot.muzzle_velocity.m_as("m/s"))
    left, time, drop = flight(p, v, FAR, *_air(build))
    facts["there"] = words.there(left, FAR, time, drop)
    facts |= {
        "range": reach(near.low, near.high),
        "energy": units.show(shot.muzzle_energy, "energy", 3),
    }
    facts["cap"], end = words.standing(cap, build.dart.mass, v, near.low, near.high)
    return words.said(shot, facts["range"], end), facts
