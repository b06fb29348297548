"""Pictures of a ring in its groove and of what a tube bears.

What it is for: see the squeeze and the margin before anything is ordered, in a panel by `SealView` and
`TubeView`.  What it leaves out: the section of the whole power train (``section``).
"""

from __future__ import annotations

import math
from typing import Any

from matplotlib.artist import Artist
from matplotlib.patches import Ellipse, Rectangle

from blasterlab import units
from blasterlab.checks.fit_use import SealPick, TubeUse
from blasterlab.figures import style
from blasterlab.figures.redrawn import Framed, Pen
from blasterlab.figures.style import Frame


class SealView:
    """The groove with ring and tape to scale, cut along the axis, and the squeeze between its limits below.

    Parameters
    ----------
    width : int [px]
        Of the picture.
    """

    def __init__(self, width: int = style.WIDTH) -> None:
        self.figure, (ax, self._scale) = style.new_figure(
            width, 330, rows=2, heights=[3.0, 1.0], bottom=50, left=30, gap=(0, 34)
        )
        ax.set_aspect("equal")
        ax.axis("off")
        self._scale.set(ylim=(0.0, 1.0), yticks=[])
        self._pens = Pen(ax), Pen(self._scale)

    def frame(self, pick: SealPick, old: Frame | None) -> Frame:
        """The ends of the squeeze's scale, in steps of 5 %."""
        low, high = (20.0 * end for end in pick.fit.squeeze.worst)
        return min(0.0, 5.0 * math.floor(low - 0.2)), max(30.0, 5.0 * math.ceil(high + 0.2))

    def draw_full(self, frame: Frame) -> None:
        """The scale of the squeeze."""
        self._scale.set_xlim(*frame)
        style.dress(self._scale, "squeeze, % (shaded: usual; thin bar: worst case)")

    def draw_live(self, pick: SealPick) -> list[Artist]:
        """Groove, bore, ring and tape; the squeeze with its range and limits."""
        pen, fit = self._pens[1], pick.fit
        low, high = (100 * end for end in fit.limits)
        pen.box(low, 0.0, high - low, 1.0, facecolor=style.SKY, alpha=0.4, linewidth=0)
        worst, likely = ([100 * end for end in ends] for ends in (fit.squeeze.worst, fit.squeeze.likely))
        pen.line(worst, [0.5, 0.5], "|-", color=style.BLACK, linewidth=1.2, markersize=10)
        pen.line(likely, [0.5, 0.5], "-", color=style.BLACK, linewidth=4.0)
        pen.line([100 * fit.squeeze.value], [0.5], "o", color=style.VERMILION, markersize=8, gid="squeeze")
        return [*self._cut(pick, self._pens[0]), *pen.lift()]

    def _cut(self, pick: SealPick, pen: Pen) -> list[Artist]:
        """The ring in its groove [mm]."""
        bore, groove, wide = (0.5e3 * size.m_as("m") for size in (pick.bore, pick.groove, 2 * pick.width))
        tape, section = pick.fit.wraps * pick.tape.m_as("mm"), pick.fit.ring.section.m_as("mm")
        depth, edge = bore - groove, 0.6 * section
        low, land, ax = groove - edge, bore - max(0.06 * depth, 0.05), pen.ax
        for x, across in ((-edge, edge), (wide, edge)):
            pen.box(x, low, across, land - low, facecolor=style.PALE, edgecolor="black")
        pen.box(0.0, low, wide, edge, facecolor=style.PALE, edgecolor="none")
        pen.line([0.0, wide], [groove, groove], color="black", linewidth=1.0)
        pen.box(-edge, bore, wide + 2 * edge, edge, facecolor=style.SKY, edgecolor="black", hatch="//")
        if tape:
            pen.box(0.0, groove, wide, tape, facecolor=style.YELLOW, edgecolor="black", gid="tape")
        tall = min(depth - tape, section)
        ring = pen.take(lambda: ax.add_patch(Ellipse((0, 0), 1, 1, facecolor="#333333", gid="ring")), "ring")
        across, middle = section**2 / tall, groove + tape + 0.5 * tall  # the same area of rubber
        ring.set(width=across, height=tall, center=(0.5 * wide, middle))
        ring.set_clip_path(Rectangle((0.0, groove), wide, depth, transform=ax.transData))
        small: dict[str, Any] = {"fontsize": style.SMALL, "ha": "center", "va": "center"}
        paper = {"facecolor": "white", "edgecolor": "none", "pad": 1}
        pen.words(0.5 * wide, bore + 0.5 * edge, "bore", bbox=paper, **small)
        said, pale = f"groove{', tape' if tape else ''}", paper | {"facecolor": style.PALE}
        pen.words(0.5 * wide, groove - 0.5 * edge, said, bbox=pale, **small)
        pen.words(0.5 * wide, middle, "ring", color="white", **small)
        ax.set(xlim=(-2.2 * edge - 0.4 * wide, 1.4 * wide + 2.2 * edge), ylim=(low, bore + edge))
        ax.apply_aspect()
        return pen.lift()


class TubeView(Framed):
    """Hoop stress in the shot and with the barrel blocked, beside what is allowed and the tube's strength.

    Parameters
    ----------
    width : int [px]
        Of the picture.
    """

    _labels = (("stress around the bore", "stress"),)

    def __init__(self, width: int = style.WIDTH) -> None:
        self.figure, (self.ax,) = style.new_figure(width, 230, left=110)
        self.ax.set_yticks(range(2), ["as shot", "barrel blocked"])
        self._pen = Pen(self.ax)

    def frame(self, use: TubeUse, old: Frame | None) -> Frame:
        """Limits of the stress, given those in use [display unit], and of the rows."""
        most = (style.shown(end, "stress") for end in (use.material.strength[1], use.in_block.hoop_inside))
        return style.steady(old[0] if old else None, 0.0, max(most)), (1.9, -0.9)

    def draw_live(self, use: TubeUse) -> list[Artist]:
        """Bars, the allowed stress and the strength."""
        pen, (_, right), red = self._pen, self._frame[0], style.VERMILION
        weak, strong = (style.shown(end, "stress") for end in use.material.strength)
        allowed = weak / use.factor
        pen.box(weak, -0.9, strong - weak, 2.8, facecolor=red, alpha=0.25, linewidth=0)
        pen.line([allowed] * 2, [-0.9, 1.9], color=red, linestyle="--", linewidth=1.4, gid="allowed")
        for place, stress in enumerate((use.in_shot, use.in_block)):
            value, thin = (style.shown(one, "stress") for one in (stress.hoop_inside, stress.thin_wall))
            pen.box(0.0, place - 0.25, value, 0.5, color=style.BLUE)
            pen.line([thin] * 2, [place - 0.25, place + 0.25], color="black", linewidth=1.0)
            clear = max(value, thin, allowed)  # right of the line, not on it
            inside = clear > 0.8 * right  # no room beside the bar: in it
            look: dict[str, Any] = {"ha": "right", "color": "white"} if inside else {}
            words = f" {units.show(stress.hoop_inside, 'stress', 2)} "
            pen.words(value if inside else clear, place, words, fontsize=style.FONT, va="center", **look)
        for at, word, y, colour in ((allowed, "allowed", -0.85, red), (weak, "strength", -0.6, style.BLACK)):
            side = "right" if at > 0.8 * right else "left"
            pen.words(at, y, f" {word} ", color=colour, fontsize=style.SMALL, va="top", ha=side)
        return pen.lift()
