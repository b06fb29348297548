"""The spring panels: a spring and its pull, and a spring on the kitchen scale.

What it is for: `spring_panel` moves wire, coil, count, preload and stroke by hand and shows force against
length, energy, pull and findings; `scale_panel` turns pasted readings into a rate.  What it leaves out: the
shot, which the barrel length panel shows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from blasterlab import units
from blasterlab.bench.spring_rate import RateFit, rate_from_readings, read_readings
from blasterlab.build import Build
from blasterlab.checks.finding import Finding
from blasterlab.checks.prime import prime_findings
from blasterlab.checks.spring_findings import spring_findings
from blasterlab.checks.spring_limits import ForceLine, SpringLimits, force_line, limits
from blasterlab.figures.spring import ScaleView, SpringView
from blasterlab.panels.base import LONGEST, Panel
from blasterlab.panels.controls import Choice, Control, Paste
from blasterlab.parts.coil import END_KINDS
from blasterlab.parts.prime import Prime, prime
from blasterlab.parts.spring import GUIDES, Spring
from blasterlab.parts.wire import MATERIALS
from blasterlab.report.scale import rate_fit
from blasterlab.units import Quantity

_TITLE = "Spring and prime"
CAUTION = (
    "A compressed spring is loaded: eye protection, and fingers out of its way. Cutters throw wire ends. "
    "Nothing here is approval by an engineer."
)
#: Name in the build, label, kind, range, step, first value, and why.  The first spring is invented.
_CONTROLS = (
    ("spring.wire_diameter", "wire", "length", "0.8 mm", "2.6 mm", "0.01 mm", "1.3 mm",
     "the rate goes with its fourth power"),
    ("spring.outer_diameter", "outer diameter", "length", "6 mm", "40 mm", "0.1 mm", "16 mm",
     "over the coils"),
    ("spring.active_coils", "coils", "number", 2, 80, 0.25, 24,
     "coils that deflect, without the ends' dead ones"),
    ("spring.free_length", "free length", "length", "30 mm", "400 mm", "1 mm", "180 mm", "unloaded"),
    ("spring.preload", "preload", "length", "0 mm", "150 mm", "1 mm", "30 mm",
     "compression left at the front stop"),
    ("chamber.stroke", "stroke", "length", "20 mm", "200 mm", "1 mm", "80 mm",
     "plunger travel, catch to front stop"),
    ("losses.seal_friction", "seal friction", "force", "0 N", "20 N", "0.1 N", "3 N",
     "running friction; pull the plunger with a scale"),
    ("ratio", "lever", "number", 0.5, 5, 0.1, 1, "hand travel over plunger travel; 1 pulls directly"),
)  # fmt: skip
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


@dataclass(frozen=True)
class SpringResult:
    """What the spring panel shows: the spring, its line, its limits at the catch, its pull, its findings."""

    spring: Spring
    line: ForceLine
    limits: SpringLimits
    pull: Prime
    findings: tuple[Finding, ...]


def spring_panel(build: Build | None = None) -> Panel:
    """The spring and prime panel.

    Parameters
    ----------
    build : Build or None [-]
        Whose first spring, stroke and seal friction to start from; None starts from an invented spring.
        ``panel.result.spring`` is the spring as moved.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].
    """
    start: dict[str, Any] = {name: first for name, *_, first, _ in _CONTROLS}
    ends, material, guide = "closed", "EN 10270-1 SH", "in a tube"
    measured: tuple[Quantity | None, Quantity | None] = (None, None)
    if build is not None:
        spring, ends, material = build.spring, build.spring.ends, build.spring.material
        start |= {name: getattr(spring, name[7:]) for name in (*_SHAPE, "spring.preload")}
        start |= {"chamber.stroke": build.chamber.stroke, "losses.seal_friction": build.losses.seal_friction}
        guide, measured = spring.guide, (spring.measured_rate, spring.measured_mass)
    controls: list[Any] = [
        Control(name, label, kind, low, high, start[name], step, why).stretched()
        for name, label, kind, low, high, step, _, why in _CONTROLS
    ]
    first = {control.name: control.read(control.default) for control in controls}
    kinds = list(dict.fromkeys([*END_KINDS, "closed / open", ends]))
    controls += [
        Choice("spring.ends", "ends", kinds, ends, "a cut end is open until it is bent closed"),
        Choice("spring.material", "material", list(MATERIALS), material, "it decides stiffness and strength"),
        Choice("spring.guide", "guided", GUIDES, guide, "what keeps a long spring from bowing out"),
    ]

    def compute(state: Mapping[str, Any]) -> SpringResult:
        still = all(state[name] == first[name] for name in _SHAPE)
        return evaluate(state, *(measured if still else (None, None)))

    return Panel(_TITLE, controls, compute, spring_words, [_LineView()], CAUTION)


def evaluate(state: Mapping[str, Any], measured_rate: Any = None, measured_mass: Any = None) -> SpringResult:
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
    SpringResult
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
    pull = prime(spring, stroke, units.quantity(state["losses.seal_friction"], "N"), state["ratio"])
    line = force_line(spring, stroke)
    catch = units.quantity(line.catch, "m")
    found = (*spring_findings(spring, catch), *prime_findings(pull))
    return SpringResult(spring, line, limits(spring, catch), pull, found)


def spring_words(result: SpringResult) -> list[str]:
    """What the spring panel says.

    Parameters
    ----------
    result : SpringResult [-]
        From `evaluate`.

    Returns
    -------
    list of str
        The line of key numbers first [-].
    """
    spring, pull, line = result.spring, result.pull, result.line
    static, unset = result.limits.use_at_length, result.limits.use_of_yield
    stress = "stress not judged"
    if static is not None and unset is not None:
        stress = f"{_share(static)} of static limit, {_share(unset)} of unset spring's"

    def numbers(digits: int) -> str:
        return (
            f"{units.show(spring.rate, 'spring rate', digits)}, "
            f"pull {units.show(pull.peak_force, 'force', digits)}, "
            f"{units.show(line.energy, 'energy', digits)}, {stress}"
        )

    key = numbers(3)
    if len(f"{_TITLE}: {key}") > LONGEST:  # a very soft spring in US units
        key = numbers(2)
    room = units.show(result.limits.travel_to_solid, "length", 3)
    return [
        key,
        f"The hand pulls {units.show(pull.start_force, 'force', 3)} at first, works "
        f"{units.show(pull.work, 'energy', 3)} over {units.show(pull.hand_travel, 'length', 3)}, and "
        f"{100 * pull.stored_share:.0f} % of that is stored.",
        f"At the catch {room} are left to solid; mass {units.show(spring.mass, 'mass', 3)}, index "
        f"{spring.index:.1f}, surge {units.show(spring.natural_frequency, 'frequency', 3)}.",
        *(f"{found.severity.capitalize()}: {found.message}" for found in result.findings),
    ]


def _share(use: float) -> str:
    return f"{100 * use:.0f} %" if use < 9.995 else ">999 %"


class _LineView(SpringView):
    """The spring picture, taking the panel's result."""

    def frame(self, result: Any, old: Any) -> Any:
        return super().frame(result.line, old)

    def draw_live(self, result: Any) -> Any:
        return super().draw_live(result.line)


def scale_panel(readings: str = READINGS) -> Panel:
    """The panel that turns readings on a kitchen scale into a spring rate.

    Parameters
    ----------
    readings : str [-]
        A reading a line, length and force, as in ``120 mm, 418 g``.

    Returns
    -------
    Panel
        The panel; ``panel.result`` is the `RateFit` [-].
    """
    controls: list[Any] = [
        Paste("readings", "readings", readings, "length of the spring and what the scale shows", rows=8),
        Choice("free", "free length", (FITTED, GIVEN), FITTED, "give it when you measured it"),
        Control("free_length", "measured free", "length", "20 mm", "500 mm", "180 mm", "0.5 mm", "unloaded",
                ("free", GIVEN)),
        Control("resolution", "ruler, ±", "length", "0 mm", "3 mm", "0.5 mm", "0.1 mm",
                "half width of what you can read"),
    ]  # fmt: skip
    return Panel("From the scale", controls, fit_readings, rate_fit, [ScaleView()], CAUTION)


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
