"""The barrel length panel: how long should the barrel be, and how much does a wrong cut cost?

What it is for: a build's muzzle velocity against barrel length while the barrel, the tube, the stroke, the
wire, the dart and its losses are moved by hand; the best length, the lengths within 1 % of it, and where the
spring's energy goes, with the gravest findings on the moved build.  What it leaves out: the other findings,
which `Build.check` says.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from operator import attrgetter
from typing import Any

from blasterlab import units
from blasterlab.build import Build, BuildError
from blasterlab.figures.shot import SweptShot, VelocityView, best_words
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Control
from blasterlab.parts.coil import grown_diameter
from blasterlab.report.shot import reason, warnings
from blasterlab.shot.barrel_sweep import BarrelSweep, barrel_sweep
from blasterlab.shot.from_build import parameters
from blasterlab.shot.ledger import net_ledger
from blasterlab.shot.parameters import Parameters
from blasterlab.shot.simulate import Shot, simulate

CAUTION = (
    "Eye protection for everybody in range, always; never at faces, nor at people who have not agreed. "
    "Event rules and local law decide what may be shot, not this kit. A spring in its tube is loaded."
)
_LONGEST = "65 cm"
_POINTS = 16  # barrel lengths looked at, and some more around the best: that is mostly right to 0.1 mm
#: Name in the build, label, kind, range, step, and why.
CONTROLS = (
    ("barrel.length", "barrel length", "length", "50 mm", "600 mm", "1 mm", "tail of the dart to the muzzle"),
    ("barrel.bore", "barrel bore", "length", "12 mm", "14.5 mm", "0.05 mm", "measure the tube itself"),
    ("chamber.bore", "chamber bore", "length", "20 mm", "50 mm", "0.5 mm", "inside of the plunger tube"),
    ("chamber.stroke", "stroke", "length", "30 mm", "160 mm", "1 mm", "plunger travel, catch to front stop"),
    ("spring.wire_diameter", "spring wire", "length", "0.8 mm", "2.4 mm", "0.05 mm", "outer diameter kept"),
    ("dart.mass", "dart mass", "mass", "0.6 g", "3 g", "0.05 g", "weigh ten together"),
    ("losses.dart_friction", "dart friction", "force", "0 N", "10 N", "0.1 N",
     "sliding; pull a dart through with a kitchen scale"),
    ("losses.blowby_area", "blow-by area", "area", "0 mm^2", "10 mm^2", "0.1 mm^2",
     "open area of the gap around the dart"),
)  # fmt: skip
_KINDS = {name: kind for name, _, kind, *_ in CONTROLS}


def barrel_panel(build: Build) -> Panel:
    """The barrel length panel of a build.

    Parameters
    ----------
    build : Build [-]
        The build to start from; it is not changed.  ``panel.result.shot.build`` is the build as moved.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].

    Raises
    ------
    UnitError
        A build that cannot be shot as it is.
    """
    controls = build_controls(build, CONTROLS)
    return Panel("Barrel length", controls, partial(swept_shot, build), words, [VelocityView()], CAUTION)


def build_controls(build: Build, rows: Sequence[tuple[str, ...]]) -> list[Control]:
    """Controls that start from a build's own values, with ranges that hold them.

    Parameters
    ----------
    build : Build [-]
        The build.
    rows : sequence of tuple of str [-]
        Name in the build, label, kind, low, high, step, and why.

    Returns
    -------
    list of Control
        In the order of the rows [-].
    """
    return [
        Control(name, label, kind, low, high, attrgetter(name)(build), step, why).stretched()
        for name, label, kind, low, high, step, why in rows
    ]


def quantities(build: Build, state: Mapping[str, float]) -> dict[str, Any]:
    """The values that were moved away from a build's own, by dotted name, with their units.

    Parameters
    ----------
    build : Build [-]
        The build that the controls start from.
    state : mapping of str to float [SI]
        Of this panel's controls, by dotted name.

    Returns
    -------
    dict of str to Quantity
        What `Build.replace` takes, so that it reads no part again that stays as it is [SI].
    """
    start = {name: units.si(attrgetter(name)(build), _KINDS[name]) for name in state}
    return {
        name: units.quantity(value, units.KINDS[_KINDS[name]].si)
        for name, value in state.items()
        if value != start[name]
    }


def swept_shot(build: Build, state: Mapping[str, float]) -> SweptShot:
    """The shot and the barrel sweep of a build with the panel's values.

    Parameters
    ----------
    build : Build [-]
        The build to start from.
    state : mapping of str to float [SI]
        Changes by dotted name, of the panel's controls.

    Returns
    -------
    SweptShot
        ``.shot`` and ``.sweep`` [-].

    Raises
    ------
    BuildError
        Parts that cannot go together.
    """
    return shot_and_sweep(build.replace(quantities(build, state)))


def shot_and_sweep(build: Build) -> SweptShot:
    """The shot of a build and the sweep of its barrel lengths, as the panels show them.

    Parameters
    ----------
    build : Build [-]
        The build.

    Returns
    -------
    SweptShot
        ``.shot`` and ``.sweep`` [-].

    Raises
    ------
    BuildError
        The dart leaves no barrel at all, with the reason.
    """
    shot = simulate(build)
    try:
        return SweptShot(shot, _sweep(build))
    except BuildError:
        if shot.exited:
            raise
        raise BuildError(
            [f"barrel.length: no barrel up to {_LONGEST} lets the dart out; {reason(shot)}"]
        ) from None


#: The last sweep, by all that it rests on.
_SWEPT: dict[Parameters, BarrelSweep] = {}


def _sweep(build: Build) -> BarrelSweep:
    """The sweep of a build; a moved barrel length leaves it as it was, so the last one is kept."""
    key = parameters(build.si)._replace(length=0.0)
    found = _SWEPT.get(key)
    if found is None:
        found = barrel_sweep(build, "3 cm", _LONGEST, points=_POINTS, spacing="ratio")
        _SWEPT.clear()
        _SWEPT[key] = found
    return found


def words(result: SweptShot) -> list[str]:
    """The panel's sentences.

    Parameters
    ----------
    result : SweptShot [-]
        From `swept_shot`.

    Returns
    -------
    list of str
        The line of key numbers first [-].
    """
    shot, sweep, build = result.shot, result.sweep, result.shot.build
    short, long = sweep.flat_range(0.01)
    length, best = build.si["barrel.length"], units.si(sweep.best_length, "length")
    span = f"within 1 % {units.show(short, 'length', 3)} to {units.show(long, 'length', 3)}"
    speed, energy = units.show(shot.muzzle_velocity, "speed"), units.show(shot.muzzle_energy, "energy", 3)
    here = f"{speed}, {energy}" if shot.exited else "no exit"
    lines = [f"{units.show(length, 'length')}: {here}; {best_words(sweep)}; {span}"]
    if not shot.exited:
        return [*lines, reason(shot).capitalize() + ".", *cautions(shot)]
    lines += cautions(shot)
    lost = max(0.0, 1.0 - units.si(shot.muzzle_velocity, "speed") / units.si(sweep.best_velocity, "speed"))
    gap, side = units.show(abs(length - best), "length", 3), "longer" if length > best else "shorter"
    lines.append(f"This barrel is {gap} {side} than the best and gives away {100 * lost:.1f} % of the speed.")
    given = units.si(shot.energy_in, "energy")
    parts = sorted(
        net_ledger(shot.parameters, shot.outcome, shot.state).items(), key=lambda entry: -entry[1]
    )[:3]
    shares = ", ".join(f"{name} {100 * value / given:.0f} %" for name, value in parts)
    lines.append(f"The spring gave {units.show(given, 'energy', 3)} until the dart left: {shares}.")
    lines.append(f"Volume ratio, swept chamber over barrel: {build.volume_ratio:.2f}.")
    return lines


#: Findings by what they rest on: a check of a build costs more than the shot.
_FOUND: dict[tuple[Any, ...], list[str]] = {}
_KEPT = 256  # of them
_SHORT = 170  # characters of a finding: the sentences that fit into it are shown, the first one always


def cautions(shot: Shot) -> list[str]:
    """What a builder must hear beside the numbers: the two gravest findings and the model's own doubts.

    Parameters
    ----------
    shot : Shot [-]
        The shot; its build is checked.

    Returns
    -------
    list of str
        Two findings of `Build.check` at the most, none of them for information only, nor the one on the
        stored energy that every build has; then each of `report.shot.warnings` [-].
    """
    key = _rests_on(shot.build)
    if key not in _FOUND:
        if len(_FOUND) >= _KEPT:
            _FOUND.clear()
        grave = [
            f"{item.severity.capitalize()}: {_shortened(item.message)}"
            for item in shot.build.check()
            if item.severity != "info" and not (item.part == "prime" and item.limit is None)
        ]
        _FOUND[key] = grave[:2]
    return [*_FOUND[key], *(f"Trust the numbers less: {doubt}." for doubt in warnings(shot))]


def _rests_on(build: Build) -> tuple[Any, ...]:
    """Everything that `Build.check` looks at, as floats and words: barrel, dart and their losses are not."""
    springs = tuple(
        (s.name, *s.si_values(), s.si_wire, s.si_mean_diameter, s.active_coils, s.ends, s.material, s.guide,
         None if s.guide_diameter is None else s.guide_diameter.m_as("m"),
         s.measured_rate is None, s.measured_mass is None)
        for s in build.springs
    )  # fmt: skip
    parts = ("chamber.stroke", "chamber.plunger_mass", "losses.seal_friction")
    grown = max(grown_diameter(s.si_wire, s.si_mean_diameter, s.pitch.m_as("m")) for s in build.springs)
    bore = min(build.si["chamber.bore"], float(grown))  # a tube that no spring can touch is like any other
    return (units.use_units(), bore, *(build.si[name] for name in parts), *springs)


def _shortened(message: str) -> str:
    """The first sentences of a message, as many as are short."""
    first, *rest = message.split(". ")
    for sentence in rest:
        if len(first) + len(sentence) + 3 > _SHORT:
            return first + "."
        first += ". " + sentence
    return first
