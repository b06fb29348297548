"""The panel of the losses: what a builder's own strings say about friction, leaks and the port of the build.

What it is for: `losses_panel`, a build as text, one or two strings of it, what was changed for the second, a
fit that starts at its button, and the learned losses for the build on the bench.  What it leaves out: the fit
itself (``bench.calibrate``), and several changes at once, which `calibrate` takes in code.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from blasterlab import units
from blasterlab.assumed import general
from blasterlab.bench.kept import Start, my_builds, my_strings
from blasterlab.bench.predict import predict
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build, BuildError
from blasterlab.figures.calibration import LearningView
from blasterlab.panels.base import Panel
from blasterlab.panels.behind import Behind
from blasterlab.panels.chronograph import UNIT, read_string
from blasterlab.panels.controls import Asked, Choice, Paste
from blasterlab.panels.moved_build import ROWS
from blasterlab.plan.compare import differing
from blasterlab.plan.learning import MATTER, Learning, learn
from blasterlab.report.calibration import learning_told
from blasterlab.report.shot import CAUTION

NOTHING, FOLD, _VALUE = "nothing", "String 2: with one thing changed", "its new value"
#: What can be changed for the second string: as it is said -> its name in the build.
CHANGES = {row[0]: name for name, row in ROWS.items() if not name.startswith("losses.")}
_SHOTS = "one speed per line; a comment # distance: 2 m says how far away the chronograph stands"


def losses_panel(
    build: Build | str | None = None, shots: ChronoString | str | None = None
) -> Panel[Learning]:
    """The panel that learns a build's losses from its strings.

    Parameters
    ----------
    build : Build, str or None [-]
        What stands in its box at first; None takes the build on the bench, or a demo.
    shots : ChronoString, str or None [m/s]
        String 1 at first; None takes the one on the bench, or with a demo build two invented strings.

    Returns
    -------
    Panel
        The panel; ``panel.press("Learn")`` learns and waits, ``panel.result.fit`` is the `Calibration` [-].

    Raises
    ------
    BuildError
        A text that is no build.
    StringError
        Shots that cannot be read.
    UnitError
        Losses asked for that are not learned, or are in the build already.
    """
    start, mine = my_builds.begin(given=build), my_strings.begin(given=shots)
    texts, change = ["" if mine.demo else mine.text, ""], (NOTHING, "")
    if start.demo and mine.demo:
        texts = [my_strings.start(f"workhorse_wire_{n}").text for n in (15, 14)]
        change = "spring wire", "1.4 mm"

    def asked(begun: Start[Build]) -> tuple[Start[Build], list[Asked]]:
        return begun, [
            Paste("build", "build text", begun.text, "of the build that shot string 1", rows=4),
            Paste("string_1", "string 1", texts[0], _SHOTS, rows=4),
            UNIT,
            Paste("string_2", "string 2", texts[1], f"{_SHOTS}; may stay empty", rows=4, fold=FOLD),
            Choice("changed", "changed", (NOTHING, *CHANGES), change[0], "for string 2, alone", FOLD),
            Paste("value", _VALUE, change[1], "with its unit: 1.4 mm", rows=1, fold=FOLD),
        ]  # fmt: skip

    behind = Behind(lambda state, told: learn(_asked(state), told), _boxes)
    panel = Panel(
        "Losses", asked, lambda state: behind.found(state) or _asked(state), learning_told, [LearningView()],
        CAUTION, start=start, text=lambda state: str(state["build"]),
    )  # fmt: skip

    def use() -> None:
        panel._raise_fault()
        found = panel.result
        if found.fit is None:
            raise units.UnitError("nothing is learned yet: press Learn first")
        if found.used:
            raise units.UnitError("this build carries them already")
        name = panel.beside("with learned losses")
        text = found.fit.build(found.build).replace({"title": name}).to_text()
        behind.keep({**panel._asked(), "build": text}, replace(found, used=name))
        panel.save_beside(name, text)

    tip = "saved beside the build as it was, once they are learned"
    keep = panel._button("Use these losses in my build", "210px", tip, use)
    panel.allow(keep, lambda found: found.fit is not None and not found.used)
    behind.add_to(panel, "Learn", "fit friction, leaks and the port to the strings", "", keep)
    return panel


def _boxes(state: Mapping[str, Any]) -> tuple[Any, ...]:
    return tuple(value for name, value in state.items() if name != "start")


def _asked(state: Mapping[str, Any]) -> Learning:
    """The build and its strings; a ValueError names the box that cannot be read."""
    build, other = (Build.from_text(state["build"]),) * 2
    if state["changed"] != NOTHING:
        if not (value := state["value"].strip()):
            raise units.UnitError(f"{_VALUE}: empty; type what string 2 was shot with, such as 1.4 mm")
        try:
            other = build.replace({CHANGES[state["changed"]]: value})
        except BuildError as refused:
            raise units.UnitError(f"{_VALUE}: {'; '.join(refused.faults)}") from refused
    texts = ((one, state[f"string_{n}"], f"string {n}: ") for n, one in enumerate((build, other), 1))
    pairs = tuple((one, read_string(text, state["unit"], box)) for one, text, box in texts if text.strip())
    start, invented = state["start"], [my_strings.start(name).text for name in my_strings.demos()]
    demo = set[str]()
    if start.demo and not {state["string_1"], state["string_2"]} <= {"", *invented}:
        demo = {*MATTER} - {general(name) for name in differing([build, start.value])}
    return Learning(build, pairs, predict(build), demo=tuple(name for name in MATTER if name in demo))
