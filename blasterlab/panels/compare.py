"""The comparison panel: two build texts, their curves overlaid, and what made the difference.

What it is for: paste your build and a friend's, or the old one and the new one.  What it leaves out: more
than two builds, which `bl.compare_builds` takes.
"""

from __future__ import annotations

from functools import lru_cache

from blasterlab.bench.kept import Start, my_builds
from blasterlab.build import Build, demo_build
from blasterlab.figures.compare import CompareView
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Paste
from blasterlab.plan.compare import BuildComparison, compare_builds
from blasterlab.report.compare import panel_words
from blasterlab.report.shot import CAUTION

_WHY = "Paste a whole build text, then click beside the box."


def compare_panel(first: Build | None = None, second: Build | None = None) -> Panel[BuildComparison]:
    """The panel that compares two builds.

    Parameters
    ----------
    first, second : Build or None [-]
        What the boxes hold at the start; the second is compared with the first.  None takes the build on the
        bench, or a demo, and a demo.

    Returns
    -------
    Panel
        The panel; ``panel.set("second", text)`` pastes in code, ``panel.result`` is the comparison [-].
    """
    read = lru_cache(maxsize=2)(Build.from_text)  # the one that stays is not read again
    other = (demo_build(my_builds.otherwise) if second is None else second).to_text()

    def boxes(start: Start[Build]) -> tuple[None, list[Paste]]:
        return None, [
            Paste("build", "first build", start.text, _WHY, rows=8),
            Paste("second", "second build", other, _WHY, rows=8),
        ]

    return Panel(
        "Two builds",
        boxes,
        lambda state: compare_builds([read(state[name]) for name in ("build", "second")]),
        panel_words,
        [CompareView()],
        CAUTION,
        start=my_builds.begin(given=first),
        text=lambda state: str(state["build"]),
    )
