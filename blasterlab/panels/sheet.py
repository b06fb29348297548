"""A sheet of paper on which holes are clicked, and the boxes that do the same by keyboard.

What it is for: `Sheet`, the lower part of the group panel.  It needs no widget of its own kind: a click
writes a line into the panel's box of holes, as a hand would.  What it leaves out: a photograph of the paper
(``photo``).
"""

from __future__ import annotations

import html
from collections.abc import Callable
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab import units
from blasterlab.figures.style import VERMILION
from blasterlab.flight.group_on_target import GroupOnTarget
from blasterlab.report.groups import sheet, sheet_alt


def add_line(box: str, words: str) -> str:
    """What a click does in the browser: it adds a line to a text box, as a hand would.

    Parameters
    ----------
    box, words : str [-]
        JavaScript for the box and for the line.

    Returns
    -------
    str
        JavaScript [-].
    """
    return (
        f"const t={box};t.value=t.value.replace(/\\s+$/,'')+(t.value.trim()?'\\n':'')+{words};"
        "t.dispatchEvent(new Event('change',{bubbles:true}))"
    )


def cross(x: float, y: float, arm: float) -> str:
    """A cross in an SVG path.

    Parameters
    ----------
    x, y, arm : float [unit of the drawing]
        Its middle, right and down, and half its side.

    Returns
    -------
    str
        Path data [-].
    """
    return f"M{x - arm:g} {y - arm:g}l{2 * arm:g} {2 * arm:g}m0 {-2 * arm:g}l{-2 * arm:g} {2 * arm:g}"


#: The class of the panel that holds both the sheet and the box of holes.
HOME = "blasterlab-group"
#: What a click on the sheet does: its place becomes a line of the panel's box of holes.
_CLICK = (
    "const r=this.getBoundingClientRect(),w=+this.dataset.wide,k=+this.dataset.per,"
    "x=((event.clientX-r.left)/r.width-0.5)*w,y=(0.5-(event.clientY-r.top)/r.height)*w;"
    + add_line(f"this.closest('.{HOME}').querySelector('textarea')",
               "(x/k).toFixed(this.dataset.digits)+', '+(y/k).toFixed(this.dataset.digits)")
)  # fmt: skip


class Sheet:
    """A sheet of paper to click holes on, and boxes and a button that do the same by keyboard.

    A click, or the button, adds a line to the panel's box of holes; lines are taken back in that box.
    """

    def __init__(self) -> None:
        self.add: Callable[[str], None] | None = None
        self._unit = "mm"
        self.picture = W.HTML()
        given: dict[str, Any] = {"style": {"description_width": "60px"}, "layout": W.Layout(width="150px")}
        self.right = W.FloatText(value=0.0, description="right", tooltip="right of the aim", **given)
        self.up = W.FloatText(value=0.0, description="up", tooltip="above the aim", **given)
        self.button = W.Button(description="Add this hole", layout=W.Layout(width="130px"))
        self.button.on_click(lambda _: self.typed())
        row = W.HBox([self.right, self.up, self.button], layout=W.Layout(flex_flow="row wrap"))
        self.box = W.VBox([self.picture, row], layout=W.Layout(max_width="460px"))

    def typed(self) -> None:
        """Add the hole that stands in the boxes."""
        if self.add is not None:
            self.add(f"{self.right.value:g}, {self.up.value:g}")

    def show(self, result: GroupOnTarget, unit: str) -> None:
        """Draw target, grid and holes to scale.

        Parameters
        ----------
        result : GroupOnTarget [-]
            Target and holes.
        unit : str [-]
            The unit that a click is written in.
        """
        self._unit = unit
        self.picture.value = _sheet(result, unit)


def _sheet(result: GroupOnTarget, unit: str) -> str:
    """The sheet as a drawing in millimetres, with what a click does."""
    target, measured = result.target, result.measured
    wide, tall = 1000.0 * target.half_width, 1000.0 * target.half_height
    reach = 1.25 * max(wide, tall)
    per = float(units.quantity(1.0, unit).m_as("mm"))
    nice = [one * per for one in (0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500)]
    step = next(one for one in nice if reach / one <= 6)
    grid = "".join(
        f'<path d="M{k * step:g} {-reach:g}V{reach:g}M{-reach:g} {k * step:g}H{reach:g}" '
        f'stroke="{"#595959" if k == 0 else "#D9D9D9"}"/>'
        for k in range(-int(reach / step), int(reach / step) + 1)
    )
    if target.is_round:
        face = f'<circle r="{wide:g}"'
    else:
        face = f'<rect x="{-wide:g}" y="{-tall:g}" width="{2 * wide:g}" height="{2 * tall:g}"'
    holes, arm = "", 0.025 * reach
    for x, y in [] if measured is None else (1000.0 * measured.points).tolist():
        holes += cross(x, -y, arm)
    square = f"{step / per:.3g} {unit}"
    return (
        f'<div style="line-height:1.4">{sheet(square)}</div>'
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{sheet_alt(square)}" '
        f'viewBox="{-reach:g} {-reach:g} {2 * reach:g} {2 * reach:g}" data-wide="{2 * reach:g}" '
        f'data-per="{per:g}" data-digits="{0 if per < 5 else 2}" onclick="{html.escape(_CLICK)}" fill="none" '
        f'style="width:100%;max-width:440px;background:white;cursor:crosshair">'
        f'<g stroke-width="{0.004 * reach:.3g}">{grid}</g>'
        f'{face} stroke="#000000" stroke-width="{0.01 * reach:.3g}" stroke-dasharray="{0.04 * reach:.3g}"/>'
        f'<path d="{holes}" stroke="{VERMILION}" stroke-width="{0.012 * reach:.3g}"/></svg>'
    )
