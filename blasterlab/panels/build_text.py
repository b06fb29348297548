"""The build text panel: paste a build, see what it will shoot, or every fault of the text at once.

What it is for: the first thing a builder does with the kit; load a demo build or paste one's own, change a
line, read the answer.  What it leaves out: sliders, which the other panels have.
"""

from __future__ import annotations

from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build
from blasterlab.figures.shot import SweptShot, VelocityView
from blasterlab.panels.barrel_length import told
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Paste
from blasterlab.panels.moved_build import KeptResults
from blasterlab.report.shot import CAUTION

_WHY = "Change a line or paste a whole build, then click beside the box; every fault is listed by its name."


def build_panel(text: str | None = None) -> Panel[SweptShot]:
    """The panel with a box for a build text.

    Parameters
    ----------
    text : str or None [-]
        The text to start from; None takes the build on the bench, or a demo.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell; ``panel.set("build", text)`` pastes in code [-].

    Raises
    ------
    UnitError
        A text that is no build.
    """
    kept = KeptResults()

    def box(start: Start[Build]) -> tuple[None, list[Paste]]:
        return None, [Paste("build", "build text", start.text, _WHY, rows=18)]

    return Panel(
        "Build",
        box,
        lambda state: kept.swept_shot(Build.from_text(state["build"])),
        told,
        [VelocityView()],
        CAUTION,
        kept.finished,
        my_builds.begin(given=text),
        lambda state: str(state["build"]),
    )
