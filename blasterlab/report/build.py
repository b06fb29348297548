"""A build in words: its parts in a short table, what was assumed, what that costs, and what to measure first.

What it is for: a printed build, its table, and the sentences beside an answer that rests on assumed values.
What it leaves out: findings (``findings``) and the build text, which ``buildtext`` writes.
"""

from __future__ import annotations

import math
import operator
import re
from collections.abc import Collection, Mapping, Sequence

from blasterlab import assumed
from blasterlab.build import Build
from blasterlab.buildtext import PARTS, keys_of
from blasterlab.report.numbers import kept
from blasterlab.report.tables import Cell, Table
from blasterlab.tables import pd
from blasterlab.units import Quantity, display, show, show_unit, si
from blasterlab.values import kind_of

_PLAIN = {
    "spring.preload": "installed length", "spring.active_coils": "coils", "spring.ends": "spring's ends",
    "spring.material": "wire material", "chamber.port_diameter": "port", "chamber.wall": "tube wall",
    "barrel.dead_volume": "barrel's dead volume", "barrel.length": "barrel length",
    "dart.diameter": "dart's diameter", "dart.length": "dart's length", "dart.mass": "dart's mass",
    "barrel.bore": "bore of the barrel", "chamber.bore": "bore of the plunger tube",
}  # fmt: skip
#: Named first among what is assumed, whatever it costs.
_MEASURED_IN_A_MINUTE = ("barrel.length", "spring.preload", "spring.active_coils", "chamber.stroke")


def plain(name: str) -> str:
    """A build's value as it is said, by its dotted name; every loss is one of the losses."""
    short = _PLAIN.get(assumed.general(name), name.partition(".")[2].replace("_", " "))
    place = re.match(r"springs\[(\d)|spring([1-9])", name)
    if place:
        return f"{short} of spring {int(place[1] or place[2]) + 1}"
    return "losses" if name.startswith("losses.") else short


def loss(name: str) -> str:
    """A loss as it is said, by its bare name."""
    return name.replace("_", " ").replace("blowby", "blow-by")


def parts(build: Build) -> Table:
    """A build as a short table, what was assumed marked as that, units as chosen."""
    tube, barrel, dart, pull = build.chamber, build.barrel, build.dart, build.prime
    rows: dict[str, Cell] = {}

    def mark(name: str) -> str:
        return " (assumed)" * (name in build.assumed)

    for one in build.springs:
        rows[one.name] = (
            f"{_length(one.wire_diameter)} wire, {_length(one.outer_diameter)} outside, "
            f"{one.active_coils:.3g} active coils{mark(f'{one.name}.active_coils')}, "
            f"{show(one.rate, 'spring rate', 3)}"
        )
        catch = si(one.front_length, "length") + si(one.gap, "length") - si(tube.stroke, "length")
        rows[f"{one.name}, lengths"] = (
            f"{_length(one.free_length)} free, {show(one.front_length, 'length', 3)} installed"
            f"{mark(f'{one.name}.preload')}, "
            f"{show(catch, 'length', 3)} at the catch, {show(one.solid_length, 'length', 3)} solid"
        )
    rows |= {
        "plunger tube": f"{_length(tube.bore)} bore, {_length(tube.tube_length)} long"
        f"{mark('chamber.tube_length')}, {_length(tube.stroke)} stroke{mark('chamber.stroke')}; "
        f"plunger {show(tube.plunger_mass, 'mass', 3)}{mark('chamber.plunger_mass')}",
        "port": f"{_length(tube.port_diameter)}{mark('chamber.port_diameter')}; dead volume "
        f"{show(tube.dead_volume, 'volume', 3)} behind it{mark('chamber.dead_volume')}, "
        f"{show(barrel.dead_volume, 'volume', 3)} in front of it{mark('barrel.dead_volume')}",
        "barrel": f"{_length(barrel.bore)} bore, {_length(barrel.length)} long{mark('barrel.length')}; "
        f"volume ratio {build.volume_ratio:.2f}",
        "dart": f"{show(dart.mass, 'mass', 3)}, {_length(dart.diameter)} wide{mark('dart.diameter')}, "
        f"{_length(dart.length)} long{mark('dart.length')}",
        "prime": f"{show(pull.peak_force, 'force', 3)} at the catch, {show(pull.stored, 'energy', 3)} stored",
    }
    return Table(build.title, rows, sources(build))


def _length(value: Quantity) -> str:
    return show(value, "length", 4)


def sources(build: Build) -> list[str]:
    """What a build assumes, by where it comes from: each value with its likely range, units as chosen."""
    likely, found = assumed.likely(build), dict[str, list[str]]()
    for name in build.assumed:
        found.setdefault(assumed.source(name), []).append(valued(build, name, likely.get(name)))
    return [f"Assumed, {source}: {', '.join(values)}." for source, values in found.items()]


def valued(build: Build, name: str, ends: tuple[float, float, float] | None = None) -> str:
    """A value of a build by its dotted name, perhaps with its likely range, units as chosen."""
    kind, si_name = kind_of(name), assumed.si_name(name)
    low, own, high = ends or 3 * (build.si.get(si_name, math.nan),)
    if assumed.general(name) == "spring.preload":  # said as what can be measured
        free = build.si[f"{si_name.partition('.')[0]}.free_length"]
        low, own, high = free - high, free - own, free - low
    value = operator.attrgetter(name)(build) if kind is None else show(own, kind, 3)
    reach = f" ({show(low, kind, 3)} to {show(high, kind, 3)})" if kind and low < high else ""
    label = loss(name.partition(".")[2]) if name.startswith("losses.") else plain(name)
    return f"{label} {value}{reach}"


def values(build: Build) -> pd.DataFrame:
    """Every value of a build, units as chosen; of assumed ones also source, range and how to measure them."""
    likely, rows = assumed.likely(build), []
    named = [(one.name, one) for one in build.springs]
    for part, one in [*named, *((name, getattr(build, name)) for name in PARTS)]:
        for key, field in keys_of(type(one)).items():
            name, value = f"{part}.{key}", getattr(one, field)
            if value is None:
                continue
            kind = kind_of(name) or ""
            shown = display(si(value, kind), kind) if kind else value
            row = {"name": name, "value": shown, "unit": show_unit(kind) if kind else ""}
            row["assumed"] = assumed.source(name) if name in build.assumed else ""
            if name in likely:
                row["low"], _, row["high"] = (display(end, kind) for end in likely[name])
                row["measure"] = assumed.DEFAULTS[assumed.general(name)].measure
            rows.append(row)
    return pd.DataFrame(rows)


def cost(names: Collection[str], ends: Sequence[float], shares: Mapping[str, float]) -> list[str]:
    """What assumed values cost a speed, and which of them to measure first; nothing where none was assumed.

    Parameters
    ----------
    names : collection of str [-]
        `Build.assumed`.
    ends : sequence of float [m/s]
        Low end, speed, high end, nine cases in ten.
    shares : mapping of str to float [-]
        `SpeedRange.shares`.

    Returns
    -------
    list of str
        Sentences [-].
    """
    parts: dict[str, float] = {}
    for name in names:
        share = shares.get(name.removeprefix("losses."), shares.get(assumed.si_name(name), 0.0))
        parts[plain(name)] = parts.get(plain(name), 0.0) + float(share)
    easy, words = (
        {plain(name) for name in names if assumed.general(name) in some}
        for some in (_MEASURED_IN_A_MINUTE, ("spring.material",))
    )
    order = sorted((short for short in parts if parts[short] > 5e-4), key=lambda short: -parts[short])
    listed = sorted({*order, *easy}, key=lambda short: (short not in easy, -parts[short], short))
    if not listed:
        return []
    low, best, high = ends
    reach = f"{kept(best, 'speed')}, {show(low, 'speed', 3)} to {show(high, 'speed', 3)}"
    said = [f"Assumed: {', '.join([*listed, *sorted(words)])}: {reach} nine times in ten."]
    if not order:
        return said
    left = math.sqrt(max(1.0 - parts[order[0]], 0.0))
    low_left, high_left = (show(best + left * (end - best), "speed", 3) for end in (low, high))
    first = next(name for name in names if plain(name) == order[0])
    return [
        *said,
        f"What would narrow it most: {order[0]} ({assumed.DEFAULTS[assumed.general(first)].measure}); about "
        f"{low_left} to {high_left} would remain.",
    ]


def short_tube(build: Build, stroke: float) -> list[str]:
    """That a stroke [m] runs past the build's own tube, where it does."""
    own = build.si["chamber.tube_length"]
    if stroke <= own * (1.0 + 1e-9):
        return []
    needed, said = show(stroke, "length"), show(own, "length")
    return [f"Warning: This stroke needs a tube of at least {needed}; the build's is {said} long."]
