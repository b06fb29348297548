"""The spring panels: a spring and its pull, and a spring on the kitchen scale.

What it is for: `spring_panel` moves wire, coil, count, preload and stroke by hand and shows force against
length, energy, pull and findings; `scale_panel` turns pasted readings into a rate.  What it leaves out: the
shot, which the barrel length panel shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from blasterlab import units
from blasterlab.assumed import likely, si_name
from blasterlab.bench.cap_risk import SpeedCap
from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build, demo_build
from blasterlab.checks.cautions import SPRING, WORKSHOP
from blasterlab.checks.spring_use import SpringUse, spring_use
from blasterlab.figures.spring import ScaleView, SpringView
from blasterlab.panels.base import Panel
from blasterlab.panels.caps import cap_controls, cap_of
from blasterlab.panels.controls import Choice, Control, Paste
from blasterlab.panels.moved_build import MovedBuild
from blasterlab.parts.coil import END_KINDS
from blasterlab.parts.spring import GUIDES, Spring
from blasterlab.parts.spring_rate import RateFit, rate_from_readings, read_readings
from blasterlab.parts.wire import MATERIALS
from blasterlab.plan.compare import pull_range
from blasterlab.report import spring as words
from blasterlab.report.build import short_tube
from blasterlab.report.scale import INVENTED_READINGS, in_build, scale_words
from blasterlab.report.told import Told
from blasterlab.shot.simulate import Shot, simulate
from blasterlab.shot.speed_range import SpeedRange, range_of
from blasterlab.units import Quantity

_TITLE = "Spring and prime"
CAUTION = f"{SPRING} Cut one only out of the blaster, with eye protection on. {WORKSHOP}"
SCALE_CAUTION = (
    "A spring pressed on a scale bows and jumps: put it over a rod or in a tube, and wear eye protection."
)
#: What can be moved, by its name in the build: label, range, step, and why.
_ROWS = {
    "spring.wire_diameter": ("wire", "0.8 mm", "2.6 mm", "0.01 mm", "the rate goes with its fourth power"),
    "spring.outer_diameter": ("outer diameter", "6 mm", "40 mm", "0.1 mm", "over the coils"),
    "spring.active_coils": ("active coils", 2, 80, 0.25, "those that deflect; closed ends take 2 off"),
    "spring.free_length": ("free length", "30 mm", "400 mm", "1 mm", "unloaded"),
    "spring.preload": ("preload", "0 mm", "150 mm", "1 mm",
                       "free length less installed length, at the front stop"),
    "chamber.stroke": ("stroke", "20 mm", "200 mm", "1 mm", "plunger travel, catch to front stop"),
    "losses.seal_friction": ("seal friction", "0 N", "20 N", "0.1 N",
                             "running friction; pull the plunger with a scale"),
}  # fmt: skip
_LEVER = Control(
    "ratio", "lever", "number", 0.5, 5, 1, 0.1, "hand travel over plunger travel; 1 pulls directly"
)
#: The invented spring to start from, and its stroke and seal.
_FIRST = {
    "spring.wire_diameter": "1.3 mm", "spring.outer_diameter": "16 mm", "spring.active_coils": 24,
    "spring.free_length": "180 mm", "spring.preload": "30 mm", "chamber.stroke": "80 mm",
    "losses.seal_friction": "3 N",
}  # fmt: skip
_PRELOAD, _MATERIAL = "spring0.preload", "spring0.material"
#: A measured rate or mass holds as long as none of these is moved.
_SHAPE = ("spring.wire_diameter", "spring.outer_diameter", "spring.active_coils", "spring.free_length")
FITTED, GIVEN = "fitted", "given below"
#: Invented readings: no measured data behind them.
READINGS = """# invented: length, scale
150 mm, 1180 g
130 mm, 2010 g
110 mm, 2790 g
90 mm, 3620 g
70 mm, 4400 g"""


def spring_panel(build: Build | None = None) -> Panel[SpringInBuild]:
    """The spring and prime panel.

    Parameters
    ----------
    build : Build or None [-]
        Whose first spring, stroke and seal friction to start from; None takes the build on the bench, or an
        invented spring.
        ``panel.result.spring`` is the spring as moved.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].
    """
    begun = my_builds.begin(given=build)
    begun = my_builds.begin(given=_invented()) if build is None and begun.demo else begun

    def compute(state: Mapping[str, Any]) -> SpringInBuild:
        start, shot, near, pulls = state["start"], None, None, list[Quantity]()
        measured, ends, wire = start.measured(state), list[SpringUse](), state["spring.material"]
        if wire != start.build.spring.material or _MATERIAL not in map(si_name, start.build.assumed):
            wire = ""
        with suppress(ValueError):  # a spring that this build has no room for is still a spring
            moved = start.moved(state)
            for low, _, high in (at for name, at in likely(moved).items() if si_name(name) == _PRELOAD):
                ends = [evaluate({**state, "spring.preload": end}, *measured) for end in (low, high)]
            shot, near = simulate(moved), range_of(moved)
            if len(moved.springs) == 1:  # of a nest, the panel pulls the first alone
                pulls = [end / state["ratio"] for end in pull_range(moved)]
        use, cap = evaluate(state, *measured), cap_of(state, start.build.dart.mass)
        return SpringInBuild(
            **vars(use),
            build=start.build,
            shot=shot,
            near=near,
            cap=cap,
            ends=tuple(ends),
            guessed=wire,
            pulls=tuple(pulls),
        )

    def controls(start: Start[Build]) -> tuple[_SpringBuild, list[Any]]:
        moved = _SpringBuild(start.value)
        return moved, moved.asked

    return Panel(_TITLE, controls, compute, told, [SpringView()], CAUTION, start=begun)


@dataclass(frozen=True)
class SpringInBuild(SpringUse):
    """A spring in its stroke, its build as at the start, what that shoots with it, its range, and a cap.

    `ends` are the same spring at both ends of a preload that is assumed, `guessed` a wire
    material that is; `pulls` the ends of the pull at the catch.
    """

    build: Build
    shot: Shot | None
    near: SpeedRange | None
    cap: SpeedCap | None
    ends: tuple[SpringUse, ...]
    guessed: str
    pulls: tuple[Quantity, ...]


def told(use: SpringInBuild) -> Told:
    """The spring's words, and before the findings that its stroke runs past the build's tube."""
    said = words.panel_words(use, use.pulls)
    short = short_tube(use.build, use.line.front - use.line.catch)
    shoots = words.shoots(use.shot, use.near, use.cap)
    heard = (*words.preload_assumed(use.ends), *short, *said.heard, words.as_measured(use.spring))
    return replace(said, verdict=f"{words.if_it_is(use.guessed, said.verdict)} {shoots}", heard=heard)


def _invented() -> Build:
    """The invented spring, in a demo build."""
    return demo_build("workhorse").replace({"title": "an invented spring", **_FIRST})


class _SpringBuild(MovedBuild):
    """A build whose first spring, stroke and seal friction are moved."""

    def __init__(self, build: Build) -> None:
        super().__init__(build, _ROWS)
        spring = build.spring
        kinds = tuple(dict.fromkeys([*END_KINDS, "closed / open", spring.ends]))
        self.choices = [
            Choice("spring.ends", "ends", kinds, spring.ends, "a cut end is open until it is bent closed"),
            Choice("spring.material", "material", tuple(MATERIALS), spring.material,
                   "it decides stiffness and strength; a magnet barely holds stainless; if you bought it as "
                   "music wire, choose A228 or SH; if you do not know, take the weakest you would believe"),
            Choice("spring.guide", "guided", GUIDES, spring.guide,
                   "what keeps a long spring from bowing out"),
        ]  # fmt: skip
        self.asked: list[Any] = [*self.controls, _LEVER, *self.choices, *cap_controls()]

    def measured(self, state: Mapping[str, Any]) -> tuple[Quantity | None, Quantity | None]:
        """A measured rate and mass, as long as they hold."""
        spring, still = self.build.spring, all(state[name] == self.first[name] for name in _SHAPE)
        return (spring.measured_rate, spring.measured_mass) if still else (None, None)

    def changes(self, state: Mapping[str, Any]) -> dict[str, Any]:
        """As for any moved build; a measured rate and mass go with the shape that they were measured on."""
        moved: dict[str, Any] = {c.name: state[c.name] for c in self.choices if state[c.name] != c.default}
        moved |= super().changes(state)
        shaped = any(state[name] != self.first[name] for name in _SHAPE)
        return moved | {"spring.rate": None, "spring.mass": None} if shaped else moved


def evaluate(state: Mapping[str, Any], measured_rate: Any = None, measured_mass: Any = None) -> SpringUse:
    """A spring with the panel's values, and what follows.

    Parameters
    ----------
    state : mapping of str to float or str [SI]
        By the controls' names.
    measured_rate : Quantity or None [spring rate]
        A measured rate that still holds.
    measured_mass : Quantity or None [mass]
        A measured mass that still holds.

    Returns
    -------
    SpringUse
        Spring, line, limits, pull and findings [-].

    Raises
    ------
    UnitError
        A spring that cannot be built, or is solid before the catch.
    """
    lengths = ("wire_diameter", "outer_diameter", "free_length", "preload")
    sizes: dict[str, Any] = {name: units.quantity(state[f"spring.{name}"], "m") for name in lengths}
    spring = Spring(
        **sizes,
        active_coils=state["spring.active_coils"],
        ends=state["spring.ends"],
        material=state["spring.material"],
        guide=state["spring.guide"],
        measured_rate=measured_rate,
        measured_mass=measured_mass,
    )
    stroke = units.quantity(state["chamber.stroke"], "m")
    friction = units.quantity(state["losses.seal_friction"], "N")
    return spring_use(spring, stroke, friction, state["ratio"])


@dataclass(frozen=True)
class RateInBuild(RateFit):
    """A rate from readings, perhaps invented, and what the build shoots as it is and with this rate."""

    shots: tuple[Shot, Shot]
    invented: bool


def scale_panel(readings: str = READINGS, build: Build | None = None) -> Panel[RateInBuild]:
    """The panel that turns readings on a kitchen scale into a spring rate, and puts it into the build.

    Parameters
    ----------
    readings : str [-]
        A reading a line, length and force, as in ``120 mm, 418 g``.
    build : Build or None [-]
        Whose first spring was on the scale; None takes the build on the bench, or a demo.

    Returns
    -------
    Panel
        The panel; ``panel.result`` is the `RateFit` [-].

    Raises
    ------
    UnitError
        Readings that cannot be read, or at the button such as are invented.
    """
    controls: list[Any] = [
        Paste("readings", "readings", readings, "length of the spring and what the scale shows", rows=8),
        Choice("free", "free length", (FITTED, GIVEN), FITTED, "give it when you measured it"),
        Control("free_length", "measured free", "length", "20 mm", "500 mm", "180 mm", "0.5 mm", "unloaded",
                ("free", GIVEN)),
        Control("resolution", "ruler, ±", "length", "0 mm", "3 mm", "0.5 mm", "0.1 mm",
                "half width of what you can read"),
    ]  # fmt: skip

    def compute(state: Mapping[str, Any]) -> RateInBuild:
        fit, own = fit_readings(state), state["start"].value
        shots = simulate(own), simulate(own.replace({"spring.rate": fit.rate}))
        return RateInBuild(**vars(fit), shots=shots, invented=state["readings"].strip() == READINGS)

    panel = Panel(
        "From the scale", lambda start: (start, controls), compute, rate_told, [ScaleView()], SCALE_CAUTION,
        start=my_builds.begin(given=build), text=lambda state: str(state["start"].text),
    )  # fmt: skip
    tip = "a measured rate wins over the computed one; saved beside the build as it was"

    def use() -> None:
        panel._raise_fault()
        if panel.result.invented:
            raise units.UnitError(INVENTED_READINGS)
        name = panel.beside("with measured rate")
        panel.save_beside(name, panel.result.shots[1].build.replace({"title": name}).to_text())

    panel._put_over(panel._button("Use this rate in my build", "210px", tip, use))
    return panel


def rate_told(found: RateInBuild) -> Told:
    """The scale's words, and after the verdict what the rate does to the build."""
    said = scale_words(found)
    verdict = f"{said.verdict} {in_build(found.rate, *found.shots)}"
    if found.invented:
        verdict = f"Invented readings: {verdict[0].lower()}{verdict[1:]}"
    return replace(said, verdict=verdict)


def fit_readings(state: Mapping[str, Any]) -> RateFit:
    """The rate that the scale panel's readings give.

    Parameters
    ----------
    state : mapping of str to float or str [SI]
        By the controls' names.

    Returns
    -------
    RateFit
        Rate, free length, intervals, residuals [-].

    Raises
    ------
    UnitError
        Readings that cannot be read, or that give no rate.
    """
    known = units.quantity(state["free_length"], "m") if state["free"] == GIVEN else None
    ruler = units.quantity(state["resolution"], "m") if state["resolution"] > 0 else None
    return rate_from_readings(read_readings(state["readings"]), known, ruler)
