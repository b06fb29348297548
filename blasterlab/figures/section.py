"""The power train cut along its axis and drawn to scale: at rest and primed, one above the other.

What it is for: see that the parts go together, and which key of the build text means which part.  A long
barrel is shortened by a break, as on any drawing (ISO 128-3); everything else is to one scale.  What it
leaves out: what the build text does not say (plunger head and end plate are supposed, and grey).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import EllipseCollection
from matplotlib.patches import Rectangle

from blasterlab import units
from blasterlab.build import Build
from blasterlab.figures import style
from blasterlab.figures.style import Drawing
from blasterlab.parts.rings import ring
from blasterlab.report import section as say

STEEL, _TUBE, FOAM, SUPPOSED = style.BLUE, style.PALE, style.ORANGE, "#B0B0B0"
_LINE, _LETTER = 15.0, 5.7  # px: a line of small text, and a letter of it
_BREAK = 0.55  # a barrel longer than this share of what lies behind it is shortened
MARGIN = 8  # px


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


def power_train(
    build: Build, width: int = 720, findings: Sequence[Any] | None = None, names: bool = True
) -> Drawing:
    """The section of a build, at rest above and primed below.

    Parameters
    ----------
    build : Build [-]
        The build.
    width : int [px]
        Of the picture, 320 to 1600.
    findings : sequence of Finding or None [-]
        From ``build.check()``: marked at the part they speak of; None marks nothing.
    names : bool [-]
        Whether each part carries its key in the build text.

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
    wide = units.si_in(width, "number", "width", 320, 1600, "pixels")
    stroke = build.si["chamber.stroke"]
    states = [(say.AT_REST, layout(build, stroke)), (say.PRIMED, layout(build, 0.0))]
    above = [say.parts(build), []] if names else [[], []]
    below = [say.sizes(build), say.primed(build)]
    whole = states[0][1]
    start = min(whole.fixed, -build.si["chamber.tube_length"])
    span = whole.drawn(whole.muzzle) - start
    scale = (wide - 2 * MARGIN) / (1.04 * span)
    tall = (build.si["chamber.bore"] + 2 * build.si["chamber.wall"]) * scale
    placed = [
        [_levels(_targets(words, build, where), start, scale, wide) for words in (above[row], below[row])]
        for row, (_, where) in enumerate(states)
    ]
    heights = [tall + sum(_room(side) for side in sides) + 22 for sides in placed]
    figure, axes = sheet(round(wide), heights)
    for ax, (title, where), sides, height in zip(axes, states, placed, heights, strict=True):
        frame(ax, start, scale, wide, height, tall, _room(sides[0]))
        _draw(ax, build, where, scale)
        ax.text(start, 0.5 * tall / scale + _room(sides[0]) / scale, title, fontsize=style.FONT,
                fontweight="bold", va="bottom")  # fmt: skip
        for side, sign in zip(sides, (1.0, -1.0), strict=True):
            _label(ax, side, sign, 0.5 * tall, scale)
    _mark(axes[1], build, states[1][1], findings or (), scale)
    figure.caption = say.caption(build)
    return figure


def sheet(width: int, heights: Sequence[float]) -> tuple[Drawing, list[Axes]]:
    """A figure of rows of the heights given, without axes' frames [px]."""
    total = round(sum(heights))
    figure, axes = style.new_figure(
        width, total, rows=len(heights), left=0, right=0, top=0, bottom=0, gap=(0, 0), heights=heights
    )
    for ax in axes:
        ax.axis("off")
    return figure, axes


def frame(
    ax: Axes, start: float, scale: float, width: float, height: float, tall: float, above: float
) -> None:
    """Limits that give one scale along and across, in metres per pixel both ways."""
    ax.set_xlim(start - MARGIN / scale, start + (width - MARGIN) / scale)
    top = 0.5 * tall + above + 22
    ax.set_ylim((top - height) / scale, top / scale)


def box(ax: Axes, x: float, y: float, wide: float, tall: float, **look: Any) -> None:
    """A rectangle and its mirror image below the axis."""
    for low in (y, -y - tall):
        ax.add_patch(Rectangle((x, low), wide, tall, **{"linewidth": 0.8, "edgecolor": style.BLACK, **look}))


def draw_still(ax: Axes, build: Build, at: Layout, scale: float) -> None:
    """What does not move: tube, plate with port, barrel, the springs' fixed end, the axis."""
    si = build.si
    bore, wall = 0.5 * si["chamber.bore"], si["chamber.wall"]
    barrel, port = 0.5 * si["barrel.bore"], 0.5 * si["chamber.port_diameter"]
    thick = max(0.25 * wall, 1.2 / scale)
    plate = 0.06 * si["chamber.bore"]
    box(ax, -si["chamber.tube_length"], bore, si["chamber.tube_length"], wall, facecolor=_TUBE, hatch="////")
    box(ax, 0.0, port, plate, max(bore + wall - port, 0.0), facecolor=SUPPOSED, hatch="\\\\\\\\")
    end = at.drawn(at.muzzle)
    box(ax, plate, barrel, end - plate, max(thick, 0.5 * wall), facecolor=_TUBE, hatch="////")
    ax.plot([at.fixed, at.fixed], [-bore, bore], color=style.BLACK, linewidth=2.0, solid_capstyle="butt")
    if at.cut[1] > 0.0:
        _break(ax, at.cut[0], 1.6 * barrel, scale)
    ax.plot([at.fixed, end], [0.0, 0.0], color=style.GREY, linewidth=0.6, dashes=(8, 2, 2, 2))


def _draw(ax: Axes, build: Build, at: Layout, scale: float) -> None:
    """The whole section: what stands still, plunger with seal, springs, dart."""
    draw_still(ax, build, at, scale)
    si, bore = build.si, 0.5 * build.si["chamber.bore"]
    if build.fit.rod_diameter is not None:
        rod = units.si(build.fit.rod_diameter, "length")
        box(
            ax, at.fixed, 0.0, at.back - at.fixed, 0.5 * rod, facecolor=SUPPOSED, edgecolor="none", zorder=0.9
        )
    ax.add_patch(Rectangle((at.back, -bore), at.face - at.back, 2 * bore, facecolor=SUPPOSED, linewidth=1.0,
                           edgecolor=style.BLACK))  # fmt: skip
    thick = 0.1 * bore if build.fit.ring is None else units.si(ring(build.fit.ring).section, "length")
    across = bore - 0.5 * thick
    _rounds(ax, [(at.seal, across), (at.seal, -across)], thick, style.BLACK, scale)
    for number in range(len(build.springs)):
        _spring(ax, build, number, at, scale)
    dart, tail = 0.5 * si["dart.diameter"], at.drawn(at.tail)
    ax.add_patch(Rectangle((tail, -dart), si["dart.length"], 2 * dart, facecolor=FOAM, linewidth=0.8,
                           edgecolor=style.BLACK))  # fmt: skip


def _rounds(ax: Axes, places: Sequence[tuple[float, float]], size: float, colour: str, scale: float) -> None:
    """Circles of one diameter, never thinner than a pixel."""
    shown = max(size, 1.2 / scale)
    ax.add_collection(
        EllipseCollection(
            [shown] * len(places),
            [shown] * len(places),
            [0.0] * len(places),
            units="xy",
            offsets=places,
            offset_transform=ax.transData,
            facecolors=colour,
            edgecolors=style.BLACK,
            linewidths=0.5,
        )
    )


def _spring(ax: Axes, build: Build, number: int, at: Layout, scale: float) -> None:
    """The wire cut above and below the axis, as many times as there are coils."""
    spring = build.springs[number]
    mean = 0.5 * spring.si_mean_diameter
    wire = spring.si_wire
    free = units.si(spring.free_length, "length")
    length = min(at.back - at.fixed, free)
    first = at.back - length
    coils = spring.total_coils
    places = np.linspace(0.5 * wire, length - 0.5 * wire, max(round(2 * coils), 2)) + first
    upper = [(x, mean) for x in places[::2]]
    lower = [(x, -mean) for x in places[1::2]]
    zigzag = [mean if n % 2 == 0 else -mean for n in range(len(places))]
    ax.plot(places, zigzag, color=STEEL, linewidth=0.5, alpha=0.6)
    _rounds(ax, upper + lower, wire, STEEL, scale)


def _break(ax: Axes, x: float, half: float, scale: float) -> None:
    """The two slanting lines of a shortened part, on a white gap."""
    gap = 5.0 / scale
    ys = np.linspace(-half, half, 9)
    xs = gap * 0.5 * np.array([0, 1, 0, -1, 0, 1, 0, -1, 0])
    ax.fill_betweenx(ys, x + xs - 0.5 * gap, x + xs + 0.5 * gap, color="white", zorder=5)
    for side in (-0.5, 0.5):
        ax.plot(x + xs + side * gap, ys, color=style.BLACK, linewidth=0.8, zorder=6)


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
    return 10.0 + (1 + max((row for *_, row in side), default=-1)) * (2 * _LINE + 4.0)


def _label(ax: Axes, side: Placed, sign: float, half: float, scale: float) -> None:
    """Labels above (sign 1) or below the section, each with a thin line to its part."""
    rows = 1 + max((row for *_, row in side), default=-1)
    for text, x, at, y, row in side:
        level = half + 8.0 + (rows - 1 - row if sign > 0 else row) * (2 * _LINE + 4.0)
        ax.text(x, sign * level / scale, text, fontsize=style.SMALL - 0.5, ha="center", linespacing=1.1,
                va="bottom" if sign > 0 else "top", zorder=8, parse_math=False,
                bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0})  # fmt: skip
        ax.plot([x, at], [sign * (level - 1.0) / scale, sign * y], color=style.GREY, linewidth=0.7, zorder=7)


def _mark(ax: Axes, build: Build, at: Layout, findings: Sequence[Any], scale: float) -> None:
    """A numbered mark at the part of each finding that is more than worth knowing."""
    places = {
        name: x for x, name in (
            (0.5 * (at.back + at.fixed), "spring"), (0.5 * (at.back + at.face), "chamber"),
            (at.drawn(at.tail), "dart"), (at.drawn(at.muzzle), "barrel"), (at.back, "prime"),
            (at.seal, "fit"),
        )
    }  # fmt: skip
    badge = {"boxstyle": "circle,pad=0.25", "facecolor": style.VERMILION, "edgecolor": "white"}
    grave = [finding for finding in findings if finding.severity in _MARKED]
    for number, finding in enumerate(grave, 1):
        part = finding.part.split("[")[0].split(".")[0].removesuffix("s")
        x = places.get(part, at.back) + 14.0 * number / scale
        ax.text(x, 0.0, str(number), fontsize=style.SMALL, color="white", ha="center", va="center", zorder=9,
                bbox=badge)  # fmt: skip
