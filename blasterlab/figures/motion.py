"""The section of the power train moving through a shot: gas shaded by its pressure, a gauge and a clock.

What it is for: `MotionView` for a panel, and `shot_strip`, a few moments below each other, for paper.  What
it leaves out: anything between plunger tube and barrel but the port; springs move as one.
"""

from __future__ import annotations

import math
from functools import partial
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.patches import Circle, Rectangle

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures import style
from blasterlab.figures.redrawn import Pen
from blasterlab.figures.section import FOAM, MARGIN, STEEL, SUPPOSED, Layout, draw_still, layout, limit, sheet
from blasterlab.figures.style import Drawing, Frame
from blasterlab.report import section as say
from blasterlab.shot.simulate import Moment, Shot, moment

_ROOM = 60.0  # px above the section, for gauge, clock and words
_SWEEP = 1.5 * math.pi  # of a needle, from lower left over the top to lower right


class _Train:
    """A section on axes: what stands still is drawn at once, the rest follows a moment."""

    def __init__(self, ax: Axes, shot: Shot, width: float, height: float) -> None:
        self.shot, self.ax, build = shot, ax, shot.build
        rest, start, long, tall = _extent(build)
        self.scale = (width - 2 * MARGIN) / long
        tall *= self.scale
        limit(ax, start, self.scale, width, height, tall, _ROOM - 22)
        self.peak = max(shot.outcome.chamber_peak, shot.outcome.barrel_peak, 1.0)
        draw_still(Pen(ax), build, rest, self.scale)
        self.pen = Pen(ax)
        level, size = (0.5 * tall + 31.0) / self.scale, 18.0 / self.scale
        right = start + (width - 2 * MARGIN) / self.scale
        self.dials = [
            self._dial(right - k * 66.0 / self.scale, level, size, word)
            for k, word in ((2, "pressure"), (1, "time"))
        ]
        self.corner = start, level

    def _gas(self, name: str) -> Rectangle:
        gas = Rectangle((0.0, 0.0), 0.0, 0.0, color=style.VERMILION, linewidth=0, zorder=0.5, gid=name)
        self.ax.add_patch(gas)
        return gas

    def _dial(self, x: float, y: float, size: float, word: str) -> tuple[str, float, float, float]:
        self.ax.add_patch(Circle((x, y), size, facecolor="white", edgecolor=style.BLACK, linewidth=0.8))
        self.ax.text(x + 1.2 * size, y, units.show_unit(word), fontsize=style.SMALL, va="center")
        return word, x, y, 0.8 * size

    def put(self, now: Moment) -> list[Artist]:
        """Move everything to a moment; what moved, in drawing order."""
        pen, build = self.pen, self.shot.build
        at, si = layout(build, now.plunger, now.dart, whole=True), build.si
        bore, barrel, dart = (0.5 * si[name] for name in ("chamber.bore", "barrel.bore", "dart.diameter"))
        plate = 0.06 * si["chamber.bore"]
        for name, pressure, x, end, half in (
            ("chamber", now.chamber, at.face, 0.0, bore), ("barrel", now.barrel, plate, at.tail, barrel),
        ):  # fmt: skip
            gas = pen.take(partial(self._gas, name), name)
            gas.set_bounds(x, -half, max(end - x, 0.0), 2 * half)
            gas.set_alpha(min(max(pressure / self.peak, 0.0), 1.0))
        edge: dict[str, Any] = {"edgecolor": style.BLACK, "linewidth": 0.8}
        pen.box(at.back, -bore, at.face - at.back, 2 * bore, facecolor=SUPPOSED, gid="plunger", **edge)
        pen.box(at.tail, -dart, si["dart.length"], 2 * dart, facecolor=FOAM, gid="dart", **edge)
        for spring in build.springs:
            mean, places = 0.5 * spring.si_mean_diameter, max(round(2 * spring.total_coils), 2)
            length = min(at.back - at.fixed, spring.si_values().free_length)
            wire = max(spring.si_wire * self.scale * 72.0 / style.DPI, 0.8)
            turns = [mean * (-1) ** k for k in range(places)]
            pen.line(np.linspace(at.back - length, at.back, places), turns, color=STEEL, linewidth=wire)
        parts = now.chamber / self.peak, now.time / self.shot.outcome.time
        for (word, x, y, size), part in zip(self.dials, parts, strict=True):
            angle = 1.25 * math.pi - _SWEEP * min(max(part, 0.0), 1.0)
            pen.line([x, x + size * math.cos(angle)], [y, y + size * math.sin(angle)], color=style.BLACK,
                     linewidth=1.6, gid=word)  # fmt: skip
        pen.words(*self.corner, say.moment_words(now).replace(", ", "\n"), fontsize=style.SMALL, va="center",
                  gid="words")  # fmt: skip
        return pen.lift()


def _extent(build: Build) -> tuple[Layout, float, float, float]:
    """An unbroken section with room for the dart ahead: places at rest, left end, length, height [m]."""
    si, rest = build.si, layout(build, build.si["chamber.stroke"], whole=True)
    start = min(rest.fixed, -si["chamber.tube_length"])
    long = 1.02 * (rest.muzzle + si["dart.length"] - start)
    return rest, start, long, si["chamber.bore"] + 2 * si["chamber.wall"]


def _height(shot: Shot, width: float) -> float:
    """Of its picture, with the room above [px]."""
    _, _, long, tall = _extent(shot.build)
    return _ROOM + 6.0 + tall * (width - 2 * MARGIN) / long


class MotionView:
    """The section at a moment of a shot, for a panel.

    Parameters
    ----------
    width : int [px]
        Of the picture.
    """

    def __init__(self, width: int = style.WIDTH) -> None:
        self._width = width
        self._train: _Train | None = None
        self.figure: Drawing = style.new_figure(width, 120)[0]

    def frame(self, result: Moment, old: Frame | None) -> Frame:
        """A new picture for another shot [-]."""
        if self._train is None or self._train.shot is not result.shot or old is None:
            height = _height(result.shot, self._width)
            self.figure, axes = sheet(self._width, [height])
            self._train = _Train(axes[0], result.shot, self._width, round(height))
        return (id(self._train),)

    def draw_full(self, frame: Frame) -> None:
        """Nothing more: what stands still is drawn."""

    def draw_live(self, result: Moment) -> list[Artist]:
        """Everything that moves."""
        return self._train.put(result) if self._train else []


def shot_strip(shot: Shot, width: int = 720, frames: int = 5) -> Drawing:
    """Moments of a shot below each other, evenly spaced in time from the release to the end.

    Parameters
    ----------
    shot : Shot [-]
        The shot.
    width : int [px]
        Of the picture, 320 to 1600.
    frames : int [-]
        How many, 2 to 12.

    Returns
    -------
    Drawing
        The picture, with the moments' numbers as its caption [-].

    Raises
    ------
    UnitError
        A width or a number of frames out of range.
    """
    wide = units.si_in(width, "number", "width", 320, 1600, "pixels")
    count = int(units.si_in(frames, "number", "frames", 2, 12))
    height = _height(shot, wide)
    figure, axes = sheet(round(wide), [height] * count)
    times = np.linspace(0.0, shot.outcome.time, count)
    found = [moment(shot, units.quantity(float(time), "s")) for time in times]
    for ax, now in zip(axes, found, strict=True):
        _Train(ax, shot, wide, height).put(now)
    figure.caption = say.strip_caption(shot.build, [say.moment_words(now, short=True) for now in found])
    return figure
