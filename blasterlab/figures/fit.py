"""Pictures of a ring in its groove and of what a tube bears.

What it is for: see the squeeze and the margin before anything is ordered.  What it leaves out: the section of
the whole power train (``section``).
"""

from __future__ import annotations

from typing import Any

from matplotlib.patches import Ellipse, Rectangle

from blasterlab import units
from blasterlab.checks.fit_use import SealPick, TubeUse
from blasterlab.figures import style
from blasterlab.figures.style import Drawing
from blasterlab.report import fit as say


def seal_chart(pick: SealPick, width: int = 480) -> Drawing:
    """The groove with ring and tape to scale, cut along the axis, and the squeeze between its limits below.

    Parameters
    ----------
    pick : SealPick [-]
        From `pick_seal`.
    width : int [px]
        Of the picture.

    Returns
    -------
    Drawing
        The picture, with its caption [-].
    """
    figure, (ax, scale) = style.new_figure(
        width, 330, rows=2, heights=[3.0, 1.0], bottom=50, left=30, gap=(0, 34)
    )
    fit = pick.fit
    bore, groove, wide = (0.5e3 * size.m_as("m") for size in (pick.bore, pick.groove, 2 * pick.width))
    tape = fit.wraps * pick.tape.m_as("mm")
    section = fit.ring.section.m_as("mm")
    depth, edge = bore - groove, 0.6 * section
    land = bore - max(0.06 * depth, 0.05)
    for x, across in ((-edge, edge), (wide, edge)):
        ax.add_patch(
            Rectangle(
                (x, groove - edge), across, land - groove + edge, facecolor=style.PALE, edgecolor="black"
            )
        )
    ax.add_patch(Rectangle((0.0, groove - edge), wide, edge, facecolor=style.PALE, edgecolor="none"))
    ax.plot([0.0, wide], [groove, groove], color="black", linewidth=1.0)
    ax.add_patch(
        Rectangle((-edge, bore), wide + 2 * edge, edge, facecolor=style.SKY, edgecolor="black", hatch="//")
    )
    if tape:
        ax.add_patch(
            Rectangle((0.0, groove), wide, tape, facecolor=style.YELLOW, edgecolor="black", gid="tape")
        )
    tall = min(depth - tape, section)
    across = section**2 / tall  # the same area of rubber
    ring = Ellipse((0.5 * wide, groove + tape + 0.5 * tall), across, tall, facecolor="#333333", gid="ring")
    ax.add_patch(ring)
    if across > wide:
        ring.set_clip_path(Rectangle((0.0, groove), wide, depth, transform=ax.transData))
    small: dict[str, Any] = {"fontsize": style.SMALL, "ha": "center", "va": "center"}
    ax.text(
        0.5 * wide,
        bore + 0.5 * edge,
        "bore",
        bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        **small,
    )
    ax.text(0.5 * wide, groove - 0.5 * edge, f"groove{', tape' if tape else ''}", **small)
    ax.text(0.5 * wide, groove + tape + 0.5 * tall, "ring", color="white", **small)
    ax.set_xlim(-2.2 * edge - 0.4 * wide, 1.4 * wide + 2.2 * edge)
    ax.set_ylim(groove - edge, bore + edge)
    ax.set_aspect("equal")
    ax.axis("off")
    low, high = (100 * end for end in fit.limits)
    scale.axvspan(low, high, color=style.SKY, alpha=0.4, linewidth=0)
    worst, likely = ([100 * end for end in ends] for ends in (fit.squeeze.worst, fit.squeeze.likely))
    scale.plot(worst, [0.5, 0.5], "|-", color=style.BLACK, linewidth=1.2, markersize=10)
    scale.plot(likely, [0.5, 0.5], "-", color=style.BLACK, linewidth=4.0)
    scale.plot([100 * fit.squeeze.value], [0.5], "o", color=style.VERMILION, markersize=8, gid="squeeze")
    scale.set_xlim(min(0.0, worst[0] - 1.0), max(30.0, worst[1] + 1.0))
    scale.set_ylim(0.0, 1.0)
    scale.set_yticks([])
    style.dress(scale, "squeeze, % (shaded: usual; thin bar: worst case)")
    figure.caption = say.seal_caption(pick)
    return figure


def tube_chart(use: TubeUse, width: int = 480) -> Drawing:
    """Hoop stress in the shot and with the barrel blocked, beside what is allowed and the tube's strength.

    Parameters
    ----------
    use : TubeUse [-]
        From `tube_use`.
    width : int [px]
        Of the picture.

    Returns
    -------
    Drawing
        The picture, with its caption [-].
    """
    figure, (ax,) = style.new_figure(width, 230, left=110)
    rows = {"as shot": use.in_shot, "barrel blocked": use.in_block}
    weak, strong = (style.shown(end, "stress") for end in use.material.strength)
    allowed = weak / use.factor
    ax.axvspan(weak, strong, color=style.VERMILION, alpha=0.25, linewidth=0)
    ax.axvline(allowed, color=style.VERMILION, linestyle="--", linewidth=1.4, gid="allowed")
    for place, stress in enumerate(rows.values()):
        value, thin = (style.shown(one, "stress") for one in (stress.hoop_inside, stress.thin_wall))
        ax.barh(place, value, height=0.5, color=style.BLUE)
        ax.plot([thin] * 2, [place - 0.25, place + 0.25], color="black", linewidth=1.0)
        clear = max(value, thin, allowed)  # right of the line, not on it
        words = " " + units.show(stress.hoop_inside, "stress", 2)
        ax.text(clear, place, words, fontsize=style.FONT, va="center")
    ax.set_yticks(range(len(rows)), list(rows))
    ax.set_ylim(1.9, -0.9)
    ax.set_xlim(0.0, 1.05 * max(strong, style.shown(use.in_block.hoop_inside, "stress")))
    ax.text(allowed, -0.85, " allowed", color=style.VERMILION, fontsize=style.SMALL, va="top")
    ax.text(weak, -0.85, " strength", fontsize=style.SMALL, va="top")
    style.dress(ax, style.label("stress around the bore", "stress"))
    figure.caption = say.strength_caption(use)
    return figure
