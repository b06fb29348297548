"""The panels of notebook 40: which ring, does the seal stay in the tube at both ends, does the tube bear it.

What it is for: `seal_panel`, `ends_panel` and `strength_panel`, each from a build or from nothing but what
callipers show.  What it leaves out: the answers (``checks.fit_use``) and their words (``report.fit``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from operator import attrgetter
from typing import Any

from blasterlab import units
from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build
from blasterlab.checks.cautions import EYES, SPRING, WORKSHOP
from blasterlab.checks.finding import Finding
from blasterlab.checks.fit_use import BothEnds, SealPick, TubeUse, both_ends, pick_seal, tube_use
from blasterlab.checks.seal import MOST_WRAPS
from blasterlab.checks.strength import FACTORS
from blasterlab.figures.fit import SealView, TubeView
from blasterlab.figures.section import SectionView
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Choice, Control, Paste
from blasterlab.panels.moved_build import MovedBuild
from blasterlab.parts.materials import adhesives, material, materials
from blasterlab.report import fit as words
from blasterlab.shot.simulate import simulate

PLACES = ("plunger, it slides", "tube end, it stays")
NEEDED, SET = "as needed", "as set below"
_RING = "dash number, or inside by section: 216, or 29 x 3.5 mm"
#: What can be moved: label, range, step, why.
_ROWS = {
    "chamber.bore": ("bore", "8 mm", "60 mm", "0.05 mm", "inside of the tube; measure it crosswise"),
    "fit.groove_diameter": ("groove", "4 mm", "58 mm", "0.05 mm", "diameter at the groove's bottom"),
    "fit.groove_width": ("groove width", "1 mm", "12 mm", "0.05 mm", "along the plunger"),
    "fit.diameter_tolerance": ("bore, groove ±", "0 mm", "0.5 mm", "0.01 mm", "half width of your reading"),
    "chamber.tube_length": ("tube", "30 mm", "300 mm", "0.5 mm", "inside, where the plunger can run"),
    "chamber.stroke": ("stroke", "20 mm", "250 mm", "0.5 mm", "plunger travel, catch to front stop"),
    "fit.setback": ("face to seal", "0 mm", "60 mm", "0.1 mm", "plunger's face to the middle of the seal"),
    "fit.front_gap": ("front gap", "0 mm", "20 mm", "0.1 mm", "plunger's face at its stop to the tube's end"),
    "fit.over_travel": ("over-travel", "0 mm", "15 mm", "0.1 mm", "drawn past the catch so that it engages"),
    "fit.length_tolerance": ("lengths ±", "0 mm", "3 mm", "0.1 mm", "half width of tube, stroke and setback"),
    "spring.free_length": ("spring", "40 mm", "400 mm", "1 mm", "unloaded"),
    "spring.active_coils": ("active coils", 2, 80, 0.25, "without the dead ones at the ends"),
    "spring.preload": ("preload", "0 mm", "150 mm", "1 mm", "compression left at the front stop"),
    "fit.rod_diameter": ("rod", "1 mm", "40 mm", "0.1 mm", "that the spring runs on"),
    "chamber.wall": ("wall", "0.3 mm", "10 mm", "0.05 mm", "of the plunger tube"),
    "fit.design_factor": ("design factor", 1, 50, 0.5, "what the strength is divided by: yours to choose"),
    "fit.pad_thickness": ("pad", "0.5 mm", "20 mm", "0.5 mm", "at the front stop"),
    "fit.pad_stiffness": ("pad rate", "5 N/mm", "3000 N/mm", "5 N/mm", "put 20 kg on it, measure its crush"),
    "fit.catch_area": ("catch", "1 mm^2", "300 mm^2", "0.5 mm^2", "what would shear off: width by thickness"),
}
_SEAL, _ENDS, _TUBE = list(_ROWS)[:4], list(_ROWS)[4:14], ["chamber.bore", *list(_ROWS)[14:]]


class _FitBuild(MovedBuild):
    """A build with all that a panel needs of [fit]; what it does not tell is put in, and said until moved."""

    def __init__(self, build: Build, names: Sequence[str]) -> None:
        inside = build.spring.inside_diameter.m_as("mm")
        supposed: dict[str, Any] = {
            "fit.groove_diameter": build.chamber.bore - units.parse("6.2 mm", "length"),
            "fit.groove_width": "4.75 mm", "fit.diameter_tolerance": "0.05 mm",
            "fit.length_tolerance": "0.5 mm", "fit.front_gap": "2 mm", "fit.setback": "6 mm",
            "fit.rod_diameter": f"{0.8 * inside:.1f} mm", "fit.pad_thickness": "5 mm",
            "fit.pad_stiffness": "300 N/mm", "fit.catch_area": "20 mm^2",
            "fit.design_factor": FACTORS[material(build.fit.tube_material or "acrylic").kind],
        }  # fmt: skip
        told = {name: attrgetter(name)(build) for name in names}
        missing = {name: value for name, value in supposed.items() if name in names and not told[name]}
        self.origin, filled = build, build.replace(missing)
        self.guessed = [name for name in names if name in missing or name in build.assumed]
        super().__init__(filled, {name: _ROWS[name] for name in names})

    def note(self, state: Mapping[str, Any]) -> str:
        """What nobody has measured of what the panel shows."""
        left = [
            name
            for name in self.guessed
            if state[name] == self.first[name] and name not in state.get("typed", ())
        ]
        return words.supposed({_ROWS[name][0]: attrgetter(name)(self.build) for name in left})

    def changes(self, state: Mapping[str, Any]) -> dict[str, Any]:
        """As for any moved build, with its ring, tape and material."""
        said = {
            name: state[name]
            for name in ("fit.ring", "fit.wraps", "fit.tube_material", "fit.catch_material")
            if state.get(name)
        }
        return super().changes(state) | said


def seal_panel(build: Build | None = None) -> Panel[SealPick]:
    """The ring picker: a ring for a bore and a groove, with the tape that it needs.

    Parameters
    ----------
    build : Build or None [-]
        Whose tube and groove to start from; None takes the one on the bench, or a demo.

    Returns
    -------
    Panel
        The panel; ``panel.result`` is the `SealPick`; what it saves has the ring and the tape [-].
    """

    def asked(start: Start[Build]) -> tuple[_FitBuild, list[Any]]:
        moved, fit, more = _FitBuild(start.value, _SEAL), start.value.fit, "Tolerances and tape"
        *sizes, half = moved.controls
        return moved, [
            Paste("fit.ring", "your ring", fit.ring or "", f"{_RING}; empty: the best", rows=1),
            Choice("place", "ring at the", PLACES, PLACES[0], "a ring that stays put is squeezed more"),
            *sizes,
            Choice("wound", "tape", (NEEDED, SET), SET if fit.wraps else NEEDED, "under the ring"),
            Control("fit.wraps", "turns", "number", 0, MOST_WRAPS, fit.wraps, 1, "of tape", ("wound", SET)),
            replace(half, fold=more),
            Control("section", "section ±", "length", "0 mm", "0.5 mm", "0.1 mm", "0.01 mm", "half width",
                    fold=more),
            Control("tape", "tape", "length", "0.03 mm", "0.3 mm", "0.09 mm", "0.005 mm", "one turn",
                    fold=more),
            Control("tape_stretch", "tape stretch", "number", 0, 1, 0, 0.05, "as it is wound", fold=more),
        ]  # fmt: skip

    def compute(state: Mapping[str, Any]) -> SealPick:
        across, deep, wide, off, section, tape = (
            units.quantity(state[name], "m") for name in (*_SEAL, "section", "tape")
        )
        wraps = None if state["wound"] == NEEDED else int(state["fit.wraps"])
        found = pick_seal(
            across, deep, wide, state["fit.ring"], wraps, tape, state["tape_stretch"],
            state["place"] == PLACES[0], {"bore": off, "groove": off, "section": section},
        )  # fmt: skip
        return replace(found, note=state["start"].note(state))

    def text(state: Mapping[str, Any]) -> str:
        pick, head = compute(state), "fit." if state["place"] == PLACES[0] else "fit.end_"
        ring = {"ring": pick.fit.ring.name, "wraps": pick.fit.wraps,
                "groove_diameter": pick.groove, "groove_width": pick.width}  # fmt: skip
        bore = {"chamber.bore": pick.bore, "fit.diameter_tolerance": f"{state['fit.diameter_tolerance']} m"}
        kept = bore | {f"{head}{key}": value for key, value in ring.items()}
        return str(state["start"].origin.replace(kept).to_text())

    return Panel("Ring and groove", asked, compute, words.seal, [SealView()], SPRING,
                 start=my_builds.begin(given=build), text=text)  # fmt: skip


def ends_panel(build: Build | None = None) -> Panel[BothEnds]:
    """Both ends of the stroke: does the seal stay in the tube, the spring clear solid, the rod pass?

    Parameters
    ----------
    build : Build or None [-]
        The build to start from; None takes the one on the bench, or a demo.

    Returns
    -------
    Panel
        The panel; ``panel.result.build`` is the build as moved [-].
    """
    kept: dict[object, list[Finding]] = {}

    def asked(start: Start[Build]) -> tuple[_FitBuild, list[Any]]:
        moved, size = _FitBuild(start.value, _ENDS), start.value.fit.ring or "216"
        box = Paste("fit.ring", "seal's ring", size, f"{_RING}; its section counts here", rows=1)
        return moved, [*moved.controls, box]

    def compute(state: Mapping[str, Any]) -> BothEnds:
        return replace(both_ends(state["start"].moved(state), kept), note=state["start"].note(state))

    start = my_builds.begin(given=build)
    return Panel("Both ends", asked, compute, words.ends, [SectionView()], SPRING, start=start)


def strength_panel(build: Build | None = None) -> Panel[TubeUse]:
    """What the tube bears, with which margin; what reaches the front stop; what the glue line carries.

    Parameters
    ----------
    build : Build or None [-]
        The build to start from; None takes the one on the bench, or a demo.

    Returns
    -------
    Panel
        The panel; ``panel.result`` is the `TubeUse` [-].
    """

    def asked(start: Start[Build]) -> tuple[_FitBuild, list[Any]]:
        moved, glues = _FitBuild(start.value, _TUBE), list(adhesives())
        own = material(start.value.fit.tube_material or "acrylic").name
        catch = material(start.value.fit.catch_material or "aluminium 6061-T6").name
        return moved, [
            Choice("fit.tube_material", "material", list(materials()), own, "of the tube"),
            *moved.controls,
            Choice("fit.catch_material", "catch of", list(materials()), catch, "what it is made of"),
            Choice("adhesive", "glue of the end", glues, glues[0], "between tube and plug"),
            Control(
                "overlap", "glued length", "length", "2 mm", "60 mm", "15 mm", "0.5 mm", "along the tube"
            ),
        ]

    def compute(state: Mapping[str, Any]) -> TubeUse:
        shot = simulate(state["start"].moved(state))
        found = tube_use(shot, state["adhesive"], units.quantity(state["overlap"], "m"))
        return replace(found, note=state["start"].note(state))

    return Panel("Strength", asked, compute, words.strength, [TubeView()], f"{EYES} {WORKSHOP}",
                 start=my_builds.begin(given=build))  # fmt: skip
