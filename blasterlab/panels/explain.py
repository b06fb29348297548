"""The panel of a difference: yesterday this, today that; is it real, and what explains it?

What it is for: two strings, or two means with their counts, and the build on the bench; how much of each
single cause would do what was measured.  What it leaves out: several causes at once (`calibrate`).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blasterlab.bench.cells import StringError
from blasterlab.bench.kept import Start, my_builds, my_strings
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.figures.plan import CausesView
from blasterlab.panels.base import Panel
from blasterlab.panels.chronograph import UNIT, WRITTEN, settled
from blasterlab.panels.controls import Paste
from blasterlab.plan.explain import MEAN_WRITTEN, Explanation, explain
from blasterlab.report.explain import told
from blasterlab.report.sensitivity import CAUTION

#: Invented, for a panel without strings of the builder's own.
BEFORE, NOW = "191 ft/s, SD 3 ft/s, 10 shots", "178 ft/s, SD 3 ft/s, 10 shots"
_SHOTS = f"one per line, or a mean with its count: {MEAN_WRITTEN}"


def explain_panel(
    build: Build | None = None,
    before: ChronoString | str | None = None,
    now: ChronoString | str | None = None,
) -> Panel[Explanation | None]:
    """The panel that asks what explains the difference of two strings.

    Parameters
    ----------
    build : Build or None [-]
        The build that shot them; None takes the one on the bench, or a demo.
    before, now : ChronoString, str or None [m/s]
        What stands in the boxes at first; None takes the string on the bench in both, else two
        invented means, or nothing for a build of the builder's own.

    Returns
    -------
    Panel
        The panel; ``panel.result`` is the `Explanation`, None before there are two strings of the builder's
        own for a build of the builder's own [-].

    Raises
    ------
    StringError
        Shots that cannot be read.
    """
    mine, start = my_strings.begin(), my_builds.begin(given=build)
    invented = ("", "") if start.saved else (BEFORE, NOW)
    first = (mine.text, mine.text) if mine.saved is not None else invented
    given = [own if one is None else one for one, own in zip((before, now), first, strict=True)]
    texts = [one if isinstance(one, str) else one.to_csv() for one in given]

    def asked(start: Start[Build]) -> tuple[Start[Build], list[Any]]:
        boxes = zip(("before", "now"), texts, strict=True)
        return start, [*(Paste(name, f"shots {name}", text, _SHOTS, rows=3) for name, text in boxes), UNIT]

    def compute(state: Mapping[str, Any]) -> Explanation | None:
        unit = "" if state["unit"] == WRITTEN else state["unit"]
        boxes = state["before"].strip(), state["now"].strip()
        if not all(boxes) or (state["start"].saved and boxes == (BEFORE, NOW)):
            return None
        try:
            return explain(state["start"].value, state["before"], state["now"], unit=unit)
        except StringError as refused:
            raise settled(refused) from refused

    return Panel(
        "What explains it", asked, compute, told, [CausesView()], CAUTION, start=start,
        text=lambda state: str(state["start"].text),
    )  # fmt: skip
