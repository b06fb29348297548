"""Words of the section drawing: labels by the build text's keys, sizes, and the caption.

What it leaves out: where they stand on the drawing (``figures.section``).
"""

from __future__ import annotations

from typing import NamedTuple

from blasterlab import units
from blasterlab.build import Build
from blasterlab.report.told import Told
from blasterlab.shot.simulate import Moment
from blasterlab.units import Quantity

#: Stands beside the moving section.
MOTION = (
    "Pressures are absolute; the darker the gas, the higher its pressure. The spring is drawn as if it moved "
    "as one; the shot model lets a wave run through it."
)
AT_REST, PRIMED = "At rest, plunger at its front stop", "Primed, plunger at the catch"


class Label(NamedTuple):
    """A label of the drawing: its text in one or two lines, and the place that it points to [-]."""

    text: str
    place: str


def _size(value: Quantity | float, kind: str = "length") -> str:
    return units.show(value, kind, 3)


def parts(build: Build) -> list[Label]:
    """Each part by its key in the build text, for the drawing at rest; lengths in the chosen units."""
    head = "spring" if len(build.springs) == 1 else "springs[0]"
    return [
        Label(f"{head}\n{_size(build.spring.wire_diameter)} wire", "spring"),
        Label(f"chamber.bore\n{_size(build.chamber.bore)}", "tube"),
        Label(f"chamber.tube_length\n{_size(build.chamber.tube_length)}", "tube end"),
        Label(f"plunger_mass\n{_size(build.chamber.plunger_mass, 'mass')}", "plunger"),
        Label(f"port_diameter\n{_size(build.chamber.port_diameter)}", "port"),
        Label(f"dart.diameter\n{_size(build.dart.diameter)}", "dart"),
        Label(f"barrel.bore\n{_size(build.barrel.bore)}", "barrel"),
    ]


def sizes(build: Build) -> list[Label]:
    """Lengths at rest in the chosen units."""
    spring = build.spring
    return [
        Label(f"{_size(spring.front_length)} installed\n{_size(spring.preload)} preload", "springs"),
        Label(f"dead_volume\n{_size(build.chamber.dead_volume, 'volume')}", "gap"),
        Label(f"barrel.dead_volume\n{_size(build.barrel.dead_volume, 'volume')}", "breech"),
        Label(f"barrel.length\n{_size(build.barrel.length)}", "muzzle"),
    ]


def primed(build: Build) -> list[Label]:
    """Lengths with the plunger at the catch, in the chosen units."""
    stroke = units.si(build.chamber.stroke, "length")
    at_catch = units.si(build.spring.front_length, "length") - stroke
    left = units.quantity(at_catch, "m") - build.spring.solid_length
    return [
        Label(f"{_size(at_catch)} at the catch\n{_size(left)} before the coils touch", "springs"),
        Label(f"chamber.stroke\n{_size(build.chamber.stroke)}", "gap"),
    ]


def caption(build: Build) -> str:
    """What the drawing shows, with the numbers that say whether it goes together; units as chosen."""
    stroke = units.si(build.chamber.stroke, "length")
    room = units.quantity(units.si(build.chamber.tube_length, "length") - stroke, "m")
    at_catch = units.quantity(units.si(build.spring.front_length, "length") - stroke, "m")
    left = at_catch - build.spring.solid_length
    return (
        f"{build.title}, cut along its axis: {_size(build.chamber.stroke)} of stroke in a tube of "
        f"{_size(build.chamber.tube_length)}, so {_size(room)} remain for the plunger; primed, the spring is "
        f"{_size(at_catch)} long and {_size(left)} remain before its coils touch; the barrel is "
        f"{_size(build.barrel.length)} long"
    )


def moment_words(now: Moment, short: bool = False) -> str:
    """A moment of a shot in numbers, in one line or, apart by a comma or the end of a line, in four."""
    first = f"{_size(now.time, 'time')}: {_size(now.chamber, 'pressure')} in the chamber"
    dart = f"dart {_size(now.dart)} at {_size(now.dart_speed, 'speed')}"
    if short:
        return f"{first}, plunger {_size(now.plunger)}, {dart}"
    behind = f"{_size(now.barrel, 'pressure')} behind the dart"
    return f"{first}, {behind}\nplunger {_size(now.plunger)} at {_size(now.plunger_speed, 'speed')}, {dart}"


def strip_caption(build: Build, moments: list[str]) -> str:
    """What the strip of moments shows."""
    return f"{build.title}, gas shaded by its pressure: " + "; ".join(moments)


def motion(now: Moment) -> Told:
    """What the panel of the moving shot says."""
    line = moment_words(now)
    return Told(moment_words(now, short=True), "", (line.replace("\n", "; ") + ".", MOTION))
