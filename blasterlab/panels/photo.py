"""Holes taken off a photograph of the paper by clicking, or by typing where they are.

What it is for: `Photograph`, the folded part of the group panel.  The first two clicks mark a length that is
known, the third the point of aim, all others are holes.  What it leaves out: a photograph taken at a slant;
one known length cannot straighten it.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable

import ipywidgets as W  # noqa: N812
import numpy as np

from blasterlab import units
from blasterlab.figures.style import BLUE, VERMILION
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.panels.base import alert
from blasterlab.panels.sheet import add_line, cross
from blasterlab.report.groups import CLICKS, next_click, photograph, taken

#: The class of the part that holds both the photograph and the box of clicks.
HOME = "blasterlab-photo"
_SIDE = 1000  # px, the longer side of what is kept
_MOST = 4_000_000  # characters; a kept picture has some 200 000
_KEPT = re.compile(r"([1-9]\d{0,3}),([1-9]\d{0,3}),data:image/jpeg;base64,([A-Za-z0-9+/]+={0,2})")
# The browser itself makes the photograph small, and turns it upright: only that much goes to Python, whatever
# the camera made of it, and nothing that the camera noted beside the picture (place, time) goes along.
_CHOSEN = (
    f"const f=this.files[0],t=this.closest('.{HOME}').querySelector('.{HOME}-kept textarea'),p=new Image(),"
    "give=text=>{t.value=text;t.dispatchEvent(new Event('change',{bubbles:true}))};"
    "if(f){p.onload=()=>{"
    f"const w=p.naturalWidth,h=p.naturalHeight,k=Math.min(1,{_SIDE}/Math.max(w,h)),"
    "c=document.createElement('canvas');"
    "c.width=Math.max(1,Math.round(k*w));c.height=Math.max(1,Math.round(k*h));"
    "const g=c.getContext('2d');g.fillStyle='white';g.fillRect(0,0,c.width,c.height);"
    "g.drawImage(p,0,0,c.width,c.height);window.URL.revokeObjectURL(p.src);"
    "give(c.width+','+c.height+','+c.toDataURL('image/jpeg',0.85))};"
    "p.onerror=()=>give('? '+f.name);p.src=window.URL.createObjectURL(f)}"
)
_LINE = re.compile(r"\s*(\d{1,4}(?:\.\d{1,3})?)\s*,\s*(\d{1,4}(?:\.\d{1,3})?)\s*$")
_CLICK = (
    "const r=this.getBoundingClientRect(),k=this.dataset.wide/r.width;"
    + add_line(f"this.closest('.{HOME}').querySelector('.{HOME}-clicks textarea')",
               "((event.clientX-r.left)*k).toFixed(1)+', '+((event.clientY-r.top)*k).toFixed(1)")
)  # fmt: skip


def kept_picture(text: str) -> tuple[str, int, int]:
    """A photograph as the browser hands it over: width, height, JPEG.

    Parameters
    ----------
    text : str [-]
        Such as ``"1000,750,data:image/jpeg;base64,..."``; anything else is taken for a file's name.

    Returns
    -------
    tuple of (str, int, int)
        The JPEG in base 64 [-], width and height [px].

    Raises
    ------
    UnitError
        No picture that the browser could read.

    Examples
    --------
    >>> kept_picture("4,3,data:image/jpeg;base64,AAAA")
    ('AAAA', 4, 3)
    """
    match = _KEPT.fullmatch(text) if len(text) <= _MOST else None
    if not match:
        raise units.UnitError(
            f"photograph: {text.removeprefix('? ')!r:.64} cannot be read here; must be a picture that this "
            "browser can show (a phone may write HEIC); try JPEG or PNG"
        )
    return match[3], int(match[1]), int(match[2])


def read_clicks(text: str) -> list[tuple[float, float]]:
    """Clicks, one a line: to the right and down, in pixels of the kept picture.

    Parameters
    ----------
    text : str [px]
        Such as ``"120, 400.5"``; at most 2003 lines.

    Returns
    -------
    list of tuple of float
        Right and down [px].

    Raises
    ------
    UnitError
        A line that is not two numbers.

    Examples
    --------
    >>> read_clicks("10, 20\\n30.5, 40")
    [(10.0, 20.0), (30.5, 40.0)]
    """
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) > 2003:
        raise units.UnitError(f"clicks: got {len(lines)} lines; must be at most 2003")
    clicks = []
    for number, line in enumerate(lines, 1):
        match = _LINE.match(line)
        if not match:
            raise units.UnitError(
                f"clicks, line {number}: got {line!r:.64}; must be two numbers of pixels; try 120, 400"
            )
        clicks.append((float(match[1]), float(match[2])))
    return clicks


class Photograph:
    """A photograph to click holes on, and what it takes to turn clicks into lengths.

    The box of clicks can be typed in; a line deleted there takes a click back.  The button hands the holes
    on to `take`.
    """

    def __init__(self) -> None:
        self.take: Callable[[MeasuredGroup], None] | None = None
        self.group: MeasuredGroup | None = None
        self._picture: tuple[str, int, int] | None = None
        choose = W.HTML(
            '<label>Photograph <input type="file" accept="image/*" onclick="this.value=\'\'" '
            f'onchange="{html.escape(_CHOSEN)}"></label>'
        )
        self.kept = W.Textarea(continuous_update=False, layout=W.Layout(display="none"))
        self.kept.add_class(f"{HOME}-kept")
        self.kept.observe(lambda change: self._chosen(change["new"]), "value")
        self.length = W.Text(
            "", placeholder="e.g. 150 mm", description="known length", continuous_update=False,
            style={"description_width": "100px"}, layout=W.Layout(width="200px"),
        )  # fmt: skip
        self.clicks = W.Textarea(
            rows=5, description="clicks: right, down in pixels", continuous_update=False,
            style={"description_width": "initial"}, layout=W.Layout(width="98%"),
        )  # fmt: skip
        self.clicks.add_class(f"{HOME}-clicks")
        self.button = W.Button(
            description="Take these holes", disabled=True, layout=W.Layout(width="150px"),
            tooltip="put them in place of what stands in the box of measured holes",
        )  # fmt: skip
        self.button.on_click(lambda _: self._hand_on())
        for box in (self.length, self.clicks):
            box.observe(lambda _: self.refresh(), "value")
        self.message, self.picture = W.HTML(), W.HTML()
        head = W.HBox([choose, self.length, self.button], layout=W.Layout(flex_flow="row wrap"))
        parts = [head, self.message, self.picture, self.clicks, self.kept]
        inside = W.VBox(parts, layout=W.Layout(overflow="hidden"))
        self.box = W.Accordion([inside], titles=("Holes from a photograph",), selected_index=None)
        self.box.add_class(HOME)
        self.refresh()

    def _chosen(self, text: str) -> None:
        """Show a new photograph; clicks on an earlier one are dropped with it.  A bad one changes nothing."""
        try:
            self._picture = kept_picture(text)
        except units.UnitError as error:
            self.message.value = alert(str(error))
            return
        self.clicks.value = ""
        self.refresh()

    def refresh(self) -> None:
        """Clicks to marks, to a group, and to what is to be clicked next."""
        self.group = None
        try:
            clicks = read_clicks(self.clicks.value)
            written = self.length.value.strip()
            known = units.si_in(written, "length", "known length", 1e-3, 10.0) if written else 0.0
            if known and len(clicks) > CLICKS + 1:
                first, second, aim, *holes = clicks
                self.group = MeasuredGroup.from_picture(holes, (first, second), f"{known!r} m", aim)
        except units.UnitError as error:
            self.message.value = alert(str(error))
        else:
            self._say(next_click(len(clicks), self._picture is not None, bool(written)))
            self.picture.value = "" if self._picture is None else _marked(*self._picture, clicks)
        self.button.disabled = self.group is None

    def _say(self, words: str) -> None:
        self.message.value = f"<div>{html.escape(words)}</div>"

    def _hand_on(self) -> None:
        if self.take is not None and self.group is not None:
            self.take(self.group)
            self._say(taken(self.group))


def as_lines(group: MeasuredGroup, unit: str) -> str:
    """Points as the box of measured holes takes them.

    Parameters
    ----------
    group : MeasuredGroup [-]
        The points.
    unit : str [-]
        Of the numbers.

    Returns
    -------
    str
        One point a line, right then up, to a tenth of a millimetre or better [unit].

    Examples
    --------
    >>> print(as_lines(MeasuredGroup.read("10 mm, 5 mm; -12.34 mm, 8 mm"), "cm"))
    # from a photograph: right, up
    1.00, 0.50
    -1.23, 0.80
    """
    places = {"mm": 1, "cm": 2}.get(unit, 3)
    shown = group.points / units.si(f"1 {unit}", "length")
    rows = [f"{right:.{places}f}, {up:.{places}f}" for right, up in np.round(shown, places) + 0.0]
    return "\n".join(["# from a photograph: right, up", *rows])


def _marked(data: str, wide: int, tall: int, clicks: list[tuple[float, float]]) -> str:
    """The photograph with what was clicked on it."""
    arm = 0.014 * max(wide, tall)
    holes = "".join(cross(x, y, arm) for x, y in clicks[3:])
    ends = "".join(cross(x, y, arm) for x, y in clicks[:2])
    if len(clicks) > 1:
        ends += "M{:g} {:g}L{:g} {:g}".format(*clicks[0], *clicks[1])
    aim = "".join(
        f'<circle cx="{x:g}" cy="{y:g}" r="{1.6 * arm:g}"/><path d="M{x:g} {y - 3 * arm:g}v{6 * arm:g}'
        f'M{x - 3 * arm:g} {y:g}h{6 * arm:g}"/>'
        for x, y in clicks[2:3]
    )
    marks = "".join(  # on a light and on a dark photograph alike: each line on a wider white one
        f'<g stroke="{colour}" stroke-width="{width * arm:.3g}"><path d="{ends}"/>{aim}</g>'
        f'<path d="{holes}" stroke="{hole}" stroke-width="{width * arm:.3g}"/>'
        for colour, hole, width in (("#FFFFFF", "#FFFFFF", 0.5), (BLUE, VERMILION, 0.22))
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{photograph(len(clicks))}" '
        f'viewBox="0 0 {wide} {tall}" data-wide="{wide}" onclick="{html.escape(_CLICK)}" fill="none" '
        f'style="width:100%;max-width:{wide}px;max-height:none;cursor:crosshair">'
        f'<image width="{wide}" height="{tall}" href="data:image/jpeg;base64,{data}"/>{marks}</svg>'
    )
