"""A build that panels move by hand: its controls, the build as moved, and what is shown of it.

What it is for: `MovedBuild`, which the barrel length and volume ratio panels start from, and `KeptResults`,
which shoots the builds that follow one another and keeps what a move leaves as it was.  What it leaves out:
words, pictures, and what a panel adds of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import replace
from operator import attrgetter
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator

from blasterlab import units
from blasterlab.bench.kept import Start
from blasterlab.build import Build, BuildError
from blasterlab.buildtext import NEEDED
from blasterlab.checks.all import check_build
from blasterlab.checks.finding import Finding
from blasterlab.faults import fault
from blasterlab.figures.shot import SweptShot
from blasterlab.panels.controls import Control
from blasterlab.parts import coil
from blasterlab.report.barrel_length import no_barrel
from blasterlab.shot.barrel_sweep import BarrelSweep, barrel_sweep, best_lengths
from blasterlab.shot.from_build import parameters
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.simulate import simulate
from blasterlab.shot.speed_range import SpeedRange, speeds_of, unknowns
from blasterlab.units import Quantity, QuantityLike
from blasterlab.values import kind_of

LONGEST = "65 cm"  # of the barrels that are looked at
BAND = 10  # lengths at which the range of the speed is looked at
POINTS = 16  # of them, and some more around the best: that is mostly right to 0.1 mm
#: What can be moved, by its name in the build: label, range, step, and why.
ROWS: dict[str, tuple[str, QuantityLike, QuantityLike, QuantityLike, str]] = {
    "barrel.length": ("barrel length", "50 mm", LONGEST, "1 mm", "tail of the dart to the muzzle"),
    "barrel.bore": ("barrel bore", "12 mm", "14.5 mm", "0.05 mm", "measure the tube itself"),
    "chamber.bore": ("chamber bore", "20 mm", "50 mm", "0.5 mm", "inside of the plunger tube"),
    "chamber.stroke": ("stroke", "30 mm", "160 mm", "1 mm", "plunger travel, catch to front stop"),
    "spring.wire_diameter": ("spring wire", "0.8 mm", "2.4 mm", "0.05 mm", "outer diameter kept"),
    "dart.mass": ("dart mass", "0.6 g", "3 g", "0.05 g", "weigh ten together"),
    "losses.dart_friction": ("dart friction", "0 N", "10 N", "0.1 N",
                             "sliding; pull a dart through with a kitchen scale"),
    "losses.blowby_area": ("blow-by area", "0 mm^2", "10 mm^2", "0.1 mm^2",
                           "open area of the gap around the dart"),
    "spring.outer_diameter": ("outer diameter", "6 mm", "40 mm", "0.1 mm", "over the coils"),
    "spring.total_coils": ("total coils", 2, 80, 0.25, "wire end to wire end, the ends' dead ones too"),
    "spring.free_length": ("free length", "30 mm", "400 mm", "1 mm", "unloaded, on the table"),
    "spring.installed_length": ("installed length", "20 mm", "400 mm", "1 mm",
                                "its room, plunger forward; a spacer shortens it and makes the shot faster"),
    "chamber.tube_length": ("tube length", "40 mm", "400 mm", "1 mm", "inside of the plunger tube"),
    "dart.diameter": ("dart diameter", "11 mm", "16 mm", "0.05 mm", "a loose one leaks and wanders"),
    "dart.length": ("dart length", "15 mm", "90 mm", "1 mm", "tail to tip"),
}  # fmt: skip
#: The values that are folded away under one heading.
FOLDED, FOLD = tuple(ROWS)[-7:], "More from your callipers: spring, tube, dart"


class KeptResults:
    """Shots, sweeps and findings of builds that follow one another, each taken once while it holds.

    A moved barrel length leaves the last sweep as it was; a move of what no check reads leaves the findings.
    """

    def __init__(self) -> None:
        self._swept: tuple[Parameters | None, BarrelSweep | None] = (None, None)
        self._found: dict[object, list[Finding]] = {}

    def swept_shot(self, build: Build) -> SweptShot:
        """The shot of a build, the sweep of its barrel lengths, and its findings.

        Parameters
        ----------
        build : Build [-]
            The build.

        Returns
        -------
        SweptShot
            What the panels show [-].

        Raises
        ------
        BuildError
            The dart leaves no barrel at all, with the reason.
        """
        shot = simulate(build)
        try:
            swept = self._sweep(build)
        except BuildError:
            if shot.exited:
                raise
            raise BuildError([no_barrel(shot, LONGEST)]) from None
        if len(self._found) > 2000:
            self._found.clear()
        return SweptShot(shot, swept, tuple(check_build(build, self._found)))

    def finished(self, result: SweptShot) -> SweptShot:
        """The same with the range of its speed, of the speeds along the curve, and of its best length."""
        build, (lengths, speeds) = result.shot.build, result.sweep.smooth()
        asked = unknowns(
            build, known=["barrel.length"]
        )  # also where it was assumed: each has a range of its own
        places = np.append(np.linspace(lengths[0], lengths[-1], BAND), build.si["barrel.length"])

        def look(at: Floats) -> Floats:
            return speeds_of(asked, {**build.si, "barrel.length": at}, len(at))

        shots = look(places)
        near, places, shots = asked.range(shots[:, -1]), places[:-1], shots[:, :-1]
        if (cells := np.flatnonzero(_ends(asked.range(shots)))).size:  # there it looks closer
            more = np.linspace(places[cells], places[cells + 1], 5)[1:-1].ravel()
            order = np.argsort(places := np.append(places, more))
            places, shots = places[order], np.hstack([shots, look(more)])[:, order]
        found = asked.range(shots)
        ended = _ends(found)[np.clip(np.searchsorted(places, lengths) - 1, 0, places.size - 2)]
        low, high = (
            np.where(ended, PchipInterpolator(places, end)(lengths),
                     speeds + PchipInterpolator(places, end - found.best)(lengths))
            for end in (found.low, found.high)
        )  # fmt: skip
        band = lengths, np.clip(low, 0.0, speeds), np.maximum(high, speeds)
        curves = speeds + PchipInterpolator(places, shots - shots[0], axis=1)(lengths)
        cases = np.exp(asked.spread(np.log(best_lengths(curves, lengths)))).clip(*lengths[[0, -1]])
        short, long = np.quantile(cases, (0.05, 0.95)).tolist()
        own = units.si(result.sweep.best_length, "length")
        return replace(result, near=near, band=band, best=(min(short, own), max(long, own)))

    def _sweep(self, build: Build) -> BarrelSweep:
        rests = parameters(build.si)._replace(length=0.0)
        known, found = self._swept
        if found is None or known != rests:
            found = barrel_sweep(build, "3 cm", LONGEST, points=POINTS, spacing="ratio")
            self._swept = rests, found
        return found


class MovedBuild:
    """A build, controls that start from its own values, and the build as they move it.

    Parameters
    ----------
    build : Build [-]
        The build to start from; it is not changed.
    names : iterable of str, or mapping [-]
        What can be moved, out of `ROWS`; or rows like those.
    """

    def __init__(self, build: Build, names: Iterable[str] = ROWS) -> None:
        self.build = build
        self.controls: list[Control] = []
        rows = names if isinstance(names, Mapping) else ROWS
        guesses = {name.replace("springs[0].", "spring.") for name in build.assumed}
        for name in names:
            label, low, high, step, why = rows[name]
            kind, own = _kind(name), _own(build, name)
            fold = FOLD if rows is ROWS and name in FOLDED else ""
            guess = _GIVES.get(name, name) in guesses
            found = Control(name, label, kind, low, high, own, step, why, fold=fold, assumed=guess)
            self.controls.append(found.stretched())
        self.first = {control.name: control.read(control.default) for control in self.controls}

    @classmethod
    def by(
        cls, *more: Control, names: Iterable[str] = ROWS
    ) -> Callable[[Start[Build]], tuple[MovedBuild, list[Control]]]:
        """What a `Panel` makes its controls with: any build, moved by all of `ROWS` or a few, and more."""

        def made(start: Start[Build]) -> tuple[MovedBuild, list[Control]]:
            moved = cls(start.value, names)
            return moved, [*moved.controls, *more]

        return made

    def changes(self, state: Mapping[str, Any]) -> dict[str, Any]:
        """What was moved away from the build's own values, or typed where those are assumed.

        Parameters
        ----------
        state : mapping of str to float [SI]
            Values by dotted name; others than these controls' are passed over, but for ``"typed"``, the names
            of assumed values that were typed.

        Returns
        -------
        dict of str to Quantity
            What `Build.replace` takes, so that it reads no part again that stays as it is, in the units that
            builders write where that is the same value but for the noise of a conversion.
        """
        typed = state.get("typed", ())
        moved = {
            name: state[name] for name, first in self.first.items() if state[name] != first or name in typed
        }
        if "spring.free_length" in moved and _ROOM in self.first:
            moved[_ROOM] = state[_ROOM]  # the room stays, whatever spring is put into it
        return {name: _written(value, _kind(name)) for name, value in moved.items()}

    def moved(self, state: Mapping[str, Any]) -> Build:
        """The build with these values [SI]; a BuildError names the parts that cannot go together."""
        return self.build.replace(self.changes(state))

    def typed_text(self, state: Mapping[str, Any], typed: Collection[str]) -> str:
        """A build text of what was typed, and of what no build can do without; all else is to be assumed.

        Parameters
        ----------
        state : mapping of str to float [SI]
            Values by dotted name.
        typed : collection of str [-]
            Names of those that count.

        Returns
        -------
        str
            The text [-].

        Raises
        ------
        UnitError
            More springs than there are boxes for.
        """
        if len(self.build.springs) > 1:
            must = "one spring (a nest is typed as build text)"
            raise units.UnitError(fault("springs", f"{len(self.build.springs)} of them", must))
        names = [name for name in self.first if name in typed or name in NEEDED]
        values = ((name, _written(state[name], _kind(name))) for name in names)
        return "\n".join(
            f"{name} = {value.m:.15g}" if _kind(name) == "number"
            else f'{name} = "{value.m:.15g} {units.unit_text(value.units)}"'
            for name, value in values
        )  # fmt: skip


def _ends(found: SpeedRange) -> Any:
    """Between which neighbouring lengths the curve ends, or there is none: its shape says nothing there."""
    stays = np.asarray(found.best <= 0.0)
    return stays[1:] | stays[:-1]


_ROOM, _COILS = "spring.installed_length", "spring.total_coils"
_GIVES = {_ROOM: "spring.preload", _COILS: "spring.active_coils"}


def _written(value: float, kind: str) -> Quantity:
    """A value [SI] of a kind in its metric unit: 2 mm, and not 0.002 m."""
    exact = units.quantity(value, units.KINDS[kind].si)
    short = units.quantity(float(f"{exact.m_as(units.KINDS[kind].metric):.12g}"), units.KINDS[kind].metric)
    return short if math.isclose(short.m_as(exact.units), value, rel_tol=1e-15) else exact


def _own(build: Build, name: str) -> Any:
    """A build's own value by its dotted name, or the room and the coils as counted of its first spring."""
    if name == _COILS:
        return coil.total_coils(build.spring.active_coils, build.spring.ends)
    return build.spring.front_length if name == _ROOM else attrgetter(name)(build)


def _kind(name: str) -> str:
    return "length" if name == _ROOM else kind_of(name) or "number"
