"""The power train cut along its axis and drawn to scale: at rest and primed, one above the other.

What it is for: see that the parts go together, and which key of the build text means which part.  A long
barrel is shortened by a break, as on any drawing (ISO 128-3); everything else is to one scale.  What it
leaves out: what the build text does not say (plunger head and end plate are supposed, and grey).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.collections import EllipseCollection

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures import style
from blasterlab.figures.redrawn import Pen
from blasterlab.figures.style import Drawing, Frame
from blasterlab.parts.rings import ring
from blasterlab.parts.spring import Spring
from blasterlab.report import section as say

STEEL, _TUBE, FOAM, SUPPOSED = style.BLUE, style.PALE, style.ORANGE, "#B0B0B0"
_LINE, _LETTER = 15.0, 6.0  # px: a line of small text, and a letter of it
_ROW, _PITCH = 2 * _LINE + 4.0, 12.5  # px: of labels, and from one of their lines to the next
_BREAK = 0.55  # a barrel longer than this share of what lies behind it is shortened
MARGIN = 8  # px
_EDGE: dict[str, Any] = {"linewidth": 0.8, "edgecolor": style.BLACK}


@dataclass(frozen=True)
class Layout:
    """Where things stand along the axis, m from the front of the plunger tube, the muzzle to the right [SI].

    Attributes
    ----------
    face : float [m]
        The plunger's front face.
    back : float [m]
        Its back, on which the springs press.
    seal : float [m]
        The middle of its seal.
    fixed : float [m]
        The springs' fixed end.
    tail : float [m]
        The dart's tail.
    muzzle : float [m]
        The muzzle, where it would be without the break.
    cut : tuple of float [m]
        Where the barrel is broken: from, and by how much it is shortened.
    """

    face: float
    back: float
    seal: float
    fixed: float
    tail: float
    muzzle: float
    cut: tuple[float, float]

    def drawn(self, x: float) -> float:
        """A place along the axis as it is drawn, behind the break shifted back [SI]."""
        return x if x <= self.cut[0] else max(self.cut[0], x - self.cut[1])


def layout(build: Build, travel: float, dart: float = 0.0, whole: bool = False) -> Layout:
    """Places along the axis with the plunger and the dart moved by so much.

    Parameters
    ----------
    build : Build [-]
        The build.
    travel : float [m]
        Of the plunger from the catch; the stroke at rest.
    dart : float [m]
        Of the dart from its place in the breech.
    whole : bool [-]
        Leave a long barrel unbroken.

    Returns
    -------
    Layout
        Places [m].
    """
    si, fit = build.si, build.fit
    area = 0.25 * np.pi * si["chamber.bore"] ** 2
    front = -si["chamber.dead_volume"] / area
    if fit.front_gap is not None:
        front = -units.si(fit.front_gap, "length")
    head = 0.3 * si["chamber.bore"]
    face = front - si["chamber.stroke"] + travel
    longest = max(units.si(spring.front_length, "length") for spring in build.springs)
    fixed = front - head - longest
    plate = 0.06 * si["chamber.bore"]
    tail = plate + si["barrel.dead_volume"] / (0.25 * np.pi * si["barrel.bore"] ** 2)
    muzzle = tail + si["barrel.length"]
    behind = plate - min(fixed, -si["chamber.tube_length"])
    spare = 0.0 if whole else max(si["barrel.length"] - max(_BREAK * behind, 2.5 * si["dart.length"]), 0.0)
    place = tail + 0.5 * (si["barrel.length"] - spare) + 0.4 * si["dart.length"]
    seal = face - (0.5 * head if fit.setback is None else units.si(fit.setback, "length"))
    return Layout(face, face - head, seal, fixed, tail + dart, muzzle, (place, spare))


_MARKED = ("warning", "danger")


def power_train(build: Build, width: int = 720, findings: Sequence[Any] | None = None) -> Drawing:
    """The section of a build, at rest above and primed below.

    Parameters
    ----------
    build : Build [-]
        The build.
    width : int [px]
        Of the picture, 320 to 1600.
    findings : sequence of Finding or None [-]
        From ``build.check()``: marked at the part they speak of; None marks nothing.

    Returns
    -------
    Drawing
        The picture, with its caption [-].

    Raises
    ------
    UnitError
        A width out of range.

    References
    ----------
    ISO 128-3:2022, *Technical product documentation: Views, sections and cuts*: sections, breaks.
    """
    wide = round(units.si_in(width, "number", "width", 320, 1600, "pixels"))
    found = SimpleNamespace(build=build, findings=findings or ())
    return style.still(SectionView(wide, names=True), found, say.caption(build))


class SectionView:
    """The section, at rest above and primed below; takes anything with a `build` and its `findings`.

    Parameters
    ----------
    width : int [px]
        Of the picture.
    names : bool [-]
        Whether each part carries its key in the build text.
    """

    figure: Drawing

    def __init__(self, width: int = style.WIDTH, names: bool = False) -> None:
        self._width, self._names = width, names
        self._heights: tuple[int, ...] = ()

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """Left end and scale [m, px/m]; heights of the section, of both drawings, and above them [px]."""
        build, stroke = result.build, result.build.si["chamber.stroke"]
        rest, primed = layout(build, stroke), layout(build, 0.0)
        start = min(rest.fixed, -build.si["chamber.tube_length"])
        scale = (self._width - 2 * MARGIN) / (1.04 * (rest.drawn(rest.muzzle) - start))
        tall = (build.si["chamber.bore"] + 2 * build.si["chamber.wall"]) * scale

        def placed(at: Layout, *sides: list[say.Label]) -> list[Placed]:
            return [_levels(_targets(words, build, at), start, scale, self._width) for words in sides]

        self._states = (
            (say.AT_REST, rest, placed(rest, say.parts(build) if self._names else [], say.sizes(build))),
            (say.PRIMED, primed, placed(primed, [], say.primed(build))),
        )
        rooms = [[_room(side) for side in sides] for *_, sides in self._states]
        heights = tuple(math.ceil(tall + sum(room) + 22) for room in rooms)
        if old and all(new <= was <= new + _ROW for new, was in zip(heights, old[3], strict=True)):
            heights = old[3]  # no jump of the page where a label needs a row more, or less
        if heights != self._heights:  # another size is another picture
            self.figure, axes = sheet(self._width, heights)
            self._heights, self._pens = heights, [Pen(ax) for ax in axes]
        return start, scale, tall, heights, tuple(above for above, _ in rooms)

    def draw_full(self, frame: Frame) -> None:
        """Limits, from `frame`."""
        start, scale, tall, heights, above = self._frame = frame
        for pen, height, room in zip(self._pens, heights, above, strict=True):
            limit(pen.ax, start, scale, self._width, height, tall, room)

    def draw_live(self, result: Any) -> list[Artist]:
        """Both drawings whole, as `frame` has laid them out: any part may have moved."""
        start, scale, tall, _, above = self._frame
        drawn: list[Artist] = []
        for pen, (title, at, sides), room in zip(self._pens, self._states, above, strict=True):
            _draw(pen, result.build, at, scale)
            pen.words(start, (0.5 * tall + room) / scale, title, fontsize=style.FONT, va="bottom",
                      fontweight="bold")  # fmt: skip
            for side, sign in zip(sides, (1.0, -1.0), strict=True):
                _label(pen, side, sign, 0.5 * tall, scale)
            if title == say.PRIMED:
                _mark(pen, at, result.findings, scale)
            drawn += pen.lift()
        return drawn


def sheet(width: int, heights: Sequence[float]) -> tuple[Drawing, list[Axes]]:
    """A figure of rows of the heights given, without axes' frames [px]."""
    total = round(sum(heights))
    figure, axes = style.new_figure(
        width, total, rows=len(heights), left=0, right=0, top=0, bottom=0, gap=(0, 0), heights=heights
    )
    for ax in axes:
        ax.axis("off")
    return figure, axes


def limit(ax: Axes, start: float, scale: float, wide: float, high: float, tall: float, room: float) -> None:
    """Limits that give one scale along and across, in metres per pixel both ways."""
    ax.set_xlim(start - MARGIN / scale, start + (wide - MARGIN) / scale)
    top = 0.5 * tall + room + 22
    ax.set_ylim((top - high) / scale, top / scale)


def box(pen: Pen, x: float, y: float, wide: float, tall: float, **look: Any) -> None:
    """A rectangle and its mirror image below the axis."""
    for low in (y, -y - tall):
        pen.box(x, low, wide, tall, **_EDGE | look)


def draw_still(pen: Pen, build: Build, at: Layout, scale: float) -> None:
    """What does not move: tube, plate with port, barrel, the springs' fixed end, the axis."""
    si = build.si
    bore, wall = 0.5 * si["chamber.bore"], si["chamber.wall"]
    barrel, port = 0.5 * si["barrel.bore"], 0.5 * si["chamber.port_diameter"]
    thick = max(0.25 * wall, 1.2 / scale)
    plate = 0.06 * si["chamber.bore"]
    box(pen, -si["chamber.tube_length"], bore, si["chamber.tube_length"], wall, facecolor=_TUBE, hatch="////")
    box(pen, 0.0, port, plate, max(bore + wall - port, 0.0), facecolor=SUPPOSED, hatch="\\\\\\\\")
    end = at.drawn(at.muzzle)
    box(pen, plate, barrel, end - plate, max(thick, 0.5 * wall), facecolor=_TUBE, hatch="////")
    pen.line([at.fixed, at.fixed], [-bore, bore], color=style.BLACK, linewidth=2.0, solid_capstyle="butt")
    if at.cut[1] > 0.0:
        _break(pen, at.cut[0], 1.6 * barrel, scale)
    pen.line([at.fixed, end], [0.0, 0.0], color=style.GREY, linewidth=0.6, dashes=(8, 2, 2, 2))


def _draw(pen: Pen, build: Build, at: Layout, scale: float) -> None:
    """The whole section: what stands still, plunger with seal, springs, dart."""
    draw_still(pen, build, at, scale)
    si, bore = build.si, 0.5 * build.si["chamber.bore"]
    if build.fit.rod_diameter is not None:
        rod = units.si(build.fit.rod_diameter, "length")
        grey: dict[str, Any] = {"facecolor": SUPPOSED, "edgecolor": "none", "zorder": 0.9}
        box(pen, at.fixed, 0.0, at.back - at.fixed, 0.5 * rod, **grey)
    pen.box(at.back, -bore, at.face - at.back, 2 * bore, facecolor=SUPPOSED, **_EDGE | {"linewidth": 1.0})
    thick = 0.1 * bore if build.fit.ring is None else units.si(ring(build.fit.ring).section, "length")
    across = bore - 0.5 * thick
    _rounds(pen, [(at.seal, across), (at.seal, -across)], thick, style.BLACK, scale)
    for spring in build.springs:
        _spring(pen, spring, at, scale)
    dart, tail = 0.5 * si["dart.diameter"], at.drawn(at.tail)
    pen.box(tail, -dart, si["dart.length"], 2 * dart, facecolor=FOAM, **_EDGE)


def _rounds(pen: Pen, places: Sequence[tuple[float, float]], size: float, colour: str, scale: float) -> None:
    """Circles of one diameter, never thinner than a pixel."""
    look: dict[str, Any] = {"facecolors": colour, "edgecolors": style.BLACK, "linewidths": 0.5, "units": "xy"}
    look["offset_transform"], one = pen.ax.transData, [max(size, 1.2 / scale)]
    dots = pen.take(lambda: pen.ax.add_collection(EllipseCollection(one, one, 0, **look)), ("dots", colour))
    dots.set(offsets=places, widths=one, heights=one)


def _spring(pen: Pen, spring: Spring, at: Layout, scale: float) -> None:
    """The wire cut above and below the axis, as many times as there are coils."""
    wire, free = spring.si_wire, units.si(spring.free_length, "length")
    first = max(at.fixed, at.back - free)
    places = np.linspace(first + 0.5 * wire, at.back - 0.5 * wire, max(round(2 * spring.total_coils), 2))
    across = [0.5 * spring.si_mean_diameter * (-1) ** n for n in range(len(places))]
    pen.line(places, across, color=STEEL, linewidth=0.5, alpha=0.6)
    _rounds(pen, list(zip(places, across, strict=True)), wire, STEEL, scale)


def _break(pen: Pen, x: float, half: float, scale: float) -> None:
    """The two slanting lines of a shortened part, on a white gap."""
    gap = 5.0 / scale
    ys = np.linspace(-half, half, 9)
    xs = gap * 0.5 * np.array([0, 1, 0, -1, 0, 1, 0, -1, 0])
    white = pen.take(lambda: pen.ax.fill([0, 0], [0, 0], color="white", zorder=5)[0], "break")
    edges = [np.column_stack([x + xs + side * gap, ys]) for side in (-0.5, 0.5)]
    white.set_xy(np.vstack([edges[0], edges[1][::-1]]))
    for side in (-0.5, 0.5):
        pen.line(x + xs + side * gap, ys, color=style.BLACK, linewidth=0.8, zorder=6)


def _targets(words: Sequence[say.Label], build: Build, at: Layout) -> list[tuple[str, float, float]]:
    """Each label's text and the place that it points to [SI]."""
    si = build.si
    bore, wall = 0.5 * si["chamber.bore"], si["chamber.wall"]
    middle = 0.5 * (at.back + at.fixed)
    spring = 0.5 * build.spring.si_mean_diameter
    tail = at.drawn(at.tail)
    places = {
        "spring": (middle, spring),
        "springs": (at.fixed + 0.25 * (at.back - at.fixed), spring),
        "fixed": (at.fixed, 0.0),
        "tube": (-0.25 * si["chamber.tube_length"], bore + 0.5 * wall),
        "tube end": (-si["chamber.tube_length"], bore + 0.5 * wall),
        "plunger": (0.5 * (at.back + at.face), 0.6 * bore),
        "face": (at.face, 0.3 * bore),
        "gap": (0.5 * at.face, 0.5 * bore),
        "port": (0.03 * si["chamber.bore"], 0.5 * si["chamber.port_diameter"]),
        "breech": (0.5 * (0.06 * si["chamber.bore"] + tail), 0.0),
        "dart": (tail + 0.5 * si["dart.length"], 0.25 * si["dart.diameter"]),
        "barrel": (0.5 * (at.cut[0] + at.drawn(at.muzzle)), 0.5 * si["barrel.bore"]),
        "muzzle": (at.drawn(at.muzzle), 0.5 * si["barrel.bore"]),
    }
    return [(label.text, *places[label.place]) for label in words]


Placed = list[tuple[str, float, float, float, int]]


def _levels(targets: Sequence[tuple[str, float, float]], start: float, scale: float, width: float) -> Placed:
    """Labels side by side in as few rows as they need: text, its place, its target, its row [SI]."""
    found: Placed = []
    ends: list[float] = []  # right end of each row, px
    for text, x, y in sorted(targets, key=lambda target: target[1]):
        half = 0.5 * _LETTER * max(map(len, text.split("\n"))) + 3.0
        at = min(max(MARGIN + (x - start) * scale, half), width - half)
        row = next((n for n, end in enumerate(ends) if at - half >= end), len(ends))
        if row == len(ends):
            ends.append(0.0)
        ends[row] = at + half
        found.append((text, start + (at - MARGIN) / scale, x, y, row))
    return found


def _room(side: Placed) -> float:
    """Height that the rows of labels take [px]."""
    return 10.0 + (1 + max((row for *_, row in side), default=-1)) * _ROW


def _label(pen: Pen, side: Placed, sign: float, half: float, scale: float) -> None:
    """Labels above (sign 1) or below the section, each with a thin line to its part."""
    rows = 1 + max((row for *_, row in side), default=-1)
    for text, x, at, y, row in side:
        level, lines = half + 8.0 + (rows - 1 - row if sign > 0 else row) * _ROW, text.split("\n")
        wide, tall = _LETTER * max(map(len, lines)) / scale, _PITCH * len(lines) / scale
        low = level / scale if sign > 0 else -level / scale - tall
        pen.box(x - 0.5 * wide, low, wide, tall, facecolor="white", edgecolor="none", zorder=8)
        for n, words in enumerate(lines[::-1]):
            pen.words(x, low + _PITCH * n / scale, words, fontsize=style.SMALL, ha="center",
                      va="bottom", zorder=8)  # fmt: skip
        pen.line([x, at], [sign * (level - 1.0) / scale, sign * y], color=style.GREY, linewidth=0.7, zorder=7)


def _mark(pen: Pen, at: Layout, findings: Sequence[Any], scale: float) -> None:
    """A numbered mark at the part of each finding that is more than worth knowing."""
    places = {
        name: x for x, name in (
            (0.5 * (at.back + at.fixed), "spring"), (0.5 * (at.back + at.face), "chamber"),
            (at.drawn(at.tail), "dart"), (at.drawn(at.muzzle), "barrel"), (at.back, "prime"),
            (at.seal, "fit"),
        )
    }  # fmt: skip
    badge = {"boxstyle": "circle,pad=0.25", "facecolor": style.VERMILION, "edgecolor": "white"}
    look = {"fontsize": style.SMALL, "color": "white", "ha": "center", "va": "center", "zorder": 9}
    grave = [finding for finding in findings if finding.severity in _MARKED]
    for number, finding in enumerate(grave, 1):
        part = finding.part.split("[")[0].split(".")[0].removesuffix("s")
        x = places.get(part, at.back) + 14.0 * number / scale
        pen.words(x, 0.0, str(number), bbox=badge, **look)
