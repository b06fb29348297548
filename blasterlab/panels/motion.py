"""The shot in slow motion: the section of the power train, moved by a time slider or played.

What it is for: `motion_panel`.  What it leaves out: the shot and its drawing.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.figures.motion import MotionView, shot_strip
from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Control
from blasterlab.report import section as words
from blasterlab.report.shot import CAUTION
from blasterlab.shot.simulate import Moment, Shot, moment

_FRAMES, _PAUSE = 100, 80  # about so many steps of the slider, and ms between two of them


def motion_panel(shot: Shot) -> Panel[Moment]:
    """A shot in slow motion, with play, pause and a time slider.

    Parameters
    ----------
    shot : Shot [-]
        The shot.

    Returns
    -------
    Panel
        The panel; ``panel.set("time", "3 ms")`` moves it in code, ``panel.result`` is the `Moment` [-].
        Where no kernel moves it, five moments stand in its place.
    """
    end = units.quantity(shot.outcome.time, "s")
    history = shot.history["chamber_pressure_Pa"]
    peak = units.quantity(float(history.index[int(history.argmax())]), "s")
    time = Control("time", "time", "time", "0 ms", end, peak, end / _FRAMES, "since the release")
    panel = Panel(
        "Shot in time", [time], lambda state: moment(shot, units.quantity(state["time"], "s")),
        words.motion, [MotionView()], CAUTION,
    )  # fmt: skip

    @lru_cache(maxsize=1)
    def strip(_: str) -> tuple[dict[str, Any], dict[str, Any]]:
        """As it is in one unit set: the moments stay, whatever the slider shows."""
        return shot_strip(shot).bundle()

    panel.still = lambda: strip(units.use_units())
    low, high, step = panel.box("time").grid
    play = W.Play(min=0, max=round((high - low) / step), interval=_PAUSE, description="play the shot")

    def moved(change: dict[str, Any]) -> None:
        panel.slide("time", low + change["new"] * step)

    def started(change: dict[str, Any]) -> None:
        place = round(((panel.box("time").place or low) - low) / step)
        if change["new"] and play.value != place < play.max:
            play.value = place

    play.observe(moved, "value")
    play.observe(started, "playing")
    panel.children = (*panel.children[:1], play, *panel.children[1:])
    return panel
