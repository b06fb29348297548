"""The look of every picture, and the quick way to redraw one.

What it is for: one set of colours, fonts and fixed margins; `new_figure` for a figure without pyplot;
`Painter` for a picture that follows a slider (its background is drawn rarely, its moving artists often).
What it leaves out: any physics and any widget.

References
----------
M. Okabe, K. Ito, *Color Universal Design*, 2008: the eight colours that colour-blind readers tell apart.
W3C, *Web Content Accessibility Guidelines 2.2*, 2023, 1.4.3: a contrast of 4.5:1 for words.
"""

from __future__ import annotations

import base64
import io
import math
from collections.abc import Callable, Sequence
from contextvars import ContextVar
from typing import Any, ParamSpec, Protocol, cast

import numpy as np
from matplotlib import rc_context
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.text import Text

from blasterlab import units
from blasterlab.figures import lettering, stored

BLACK, ORANGE, SKY, GREEN = "#000000", "#E69F00", "#56B4E9", "#009E73"
YELLOW, BLUE, VERMILION, PURPLE = "#F0E442", "#0072B2", "#D55E00", "#CC79A7"
GREY, PALE = "#595959", "#D9D9D9"
#: What words are written in where these would be too pale: 5:1 and more on white.
_INK = {VERMILION: "#A84A00", GREEN: "#007556", PURPLE: "#9A4675", ORANGE: "#855B00", SKY: "#1F6E9E"}
#: Colour, line style and marker of the first, second, ... curve: never colour alone.
CYCLE = (
    (BLUE, "-", "o"),
    (VERMILION, "--", "s"),
    (GREEN, "-.", "^"),
    (PURPLE, ":", "D"),
    (ORANGE, (0, (5, 1, 1, 1, 1, 1)), "v"),
    (BLACK, (0, (1, 1)), "x"),
)
FONT, SMALL = 9.0, 8.0
#: Of a panel's picture [px]: a phone leaves 312 px, where its smallest letters are then 8 px.
WIDTH = 416
DPI, _SHARP = 96.0, 1.5  # a still picture is stored with so many pixels for each pixel on the page
_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)

Frame = tuple[Any, ...]
P = ParamSpec("P")
#: Axes of the caller's that the next picture is drawn on.
_LENT: ContextVar[list[Axes] | None] = ContextVar("lent axes", default=None)


class Drawing(Figure):
    """A matplotlib figure that shows itself with its caption as alternative text, without pyplot.

    Set `caption` to one line in words with the key numbers; a notebook prints it beside the picture.
    """

    caption: str = ""

    def draw(self, renderer: Any) -> None:
        """Draw it, every text as it stands, without mathematics after a dollar sign, and dark enough."""
        for text in self.findobj(Text):
            legible(text)
        super().draw(renderer)

    def artist(self, name: str) -> Any:
        """The artist that was made with this name as its ``gid``.

        Parameters
        ----------
        name : str [-]
            Such as ``"curve"``; it also names the element in an SVG.

        Returns
        -------
        Artist
            A line, a text, a patch [-].

        Raises
        ------
        KeyError
            No such name; the message lists those there are.
        """
        named = {str(each.get_gid()): each for each in self.findobj(lambda each: bool(each.get_gid()))}
        if name not in named:
            raise KeyError(f"{name}; named are {', '.join(named)}")
        return named[name]

    def svg(self) -> str:
        """The drawing as SVG, letters as outlines, the same text every time.

        Returns
        -------
        str
            An SVG file [-].
        """
        buffer = io.StringIO()
        with rc_context({"svg.fonttype": "path", "svg.hashsalt": "blasterlab"}):
            self.savefig(buffer, format="svg", facecolor="white", metadata={"Date": None, "Creator": None})
        return buffer.getvalue()

    def bundle(self) -> tuple[dict[str, str], dict[str, Any]]:
        """The picture and its caption by their mime types, and what is said of them [-]."""
        width, height = round(self.get_figwidth() * DPI), round(self.get_figheight() * DPI)
        picture = base64.b64encode(png(self, _SHARP)).decode()
        data = {"text/plain": f"<Figure size {width}x{height}> {self.caption}", "image/png": picture}
        return data, {"image/png": {"alt": self.caption, "width": width}}

    def _repr_mimebundle_(self, include: object = None, exclude: object = None) -> tuple[dict, dict]:
        stored.put_style()
        return self.bundle()


def new_figure(
    width: int = 480,
    height: int = 330,
    rows: int = 1,
    columns: int = 1,
    *,
    left: int = 60,
    right: int = 16,
    top: int = 28,
    bottom: int = 46,
    gap: tuple[int, int] = (60, 28),
    heights: Sequence[float] | None = None,
    share_x: bool = False,
) -> tuple[Drawing, list[Axes]]:
    """A figure with fixed margins, an opaque white ground and its own canvas.

    Parameters
    ----------
    width, height : int [px]
        Size on the page; 480 px is the widest that stays legible in a narrow window.
    rows, columns : int [-]
        The grid of axes.
    left, right, top, bottom : int [px]
        Margins that hold labels and title.
    gap : tuple of int [px]
        Room between columns and between rows.
    heights : sequence of float or None [-]
        Relative heights of the rows.
    share_x : bool [-]
        Rows share the horizontal axis; only the lowest shows its numbers.

    Returns
    -------
    tuple of Drawing and list of Axes
        The figure, and its axes row by row; a caller's own under `on` [-].

    Raises
    ------
    ValueError
        Under `on`, another number of axes than these rows and columns.

    Examples
    --------
    >>> figure, axes = new_figure(rows=2)
    >>> len(axes)
    2
    """
    if lent := _LENT.get():
        if len(lent) != rows * columns:
            raise ValueError(f"axes: got {len(lent)}; must be {rows * columns} for this picture")
        for ax in lent:
            _plain(ax)
        return cast(Drawing, lent[0].figure), lent
    figure = Drawing(figsize=(width / DPI, height / DPI), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    wide = (width - left - right - gap[0] * (columns - 1)) / columns
    tall = (height - top - bottom - gap[1] * (rows - 1)) / rows
    grid = {"left": left / width, "right": 1.0 - right / width, "bottom": bottom / height,
            "top": 1.0 - top / height, "wspace": gap[0] / wide, "hspace": gap[1] / tall,
            "height_ratios": heights or [1.0] * rows}  # fmt: skip
    axes = figure.subplots(rows, columns, sharex="col" if share_x else False, squeeze=False, gridspec_kw=grid)
    for ax in axes.flat:
        _plain(ax)
    return figure, list(axes.flat)


def on(
    axes: Axes | Sequence[Axes], picture: Callable[P, Drawing], *args: P.args, **kwargs: P.kwargs
) -> list[Axes]:
    """Draw a picture of this room on axes of your own, to compose several in one figure.

    Parameters
    ----------
    axes : Axes or sequence of Axes [-]
        From ``plt.subplots`` or any figure; as many as the picture has.
    picture : callable [-]
        A function of this room, such as ``figures.velocity_curve``.
    *args, **kwargs : object [-]
        What it takes.

    Returns
    -------
    list of Axes
        The same axes, drawn on; the figure's ``caption`` is that of the last picture [-].

    Raises
    ------
    ValueError
        Another number of axes than the picture has.

    Examples
    --------
    >>> import blasterlab as bl
    >>> from matplotlib.figure import Figure
    >>> from blasterlab import figures
    >>> left, right = Figure(figsize=(9, 3)).subplots(1, 2)
    >>> shot = bl.simulate(bl.demo_build("workhorse"))
    >>> ax, = figures.on(left, figures.energy_ledger, shot)
    >>> ax is left, len(ax.patches) > 3
    (True, True)
    """
    mine = [axes] if isinstance(axes, Axes) else list(np.ravel(np.asarray(axes, dtype=object)))
    token = _LENT.set(mine)
    try:
        picture(*args, **kwargs)
    finally:
        _LENT.reset(token)
    for ax in mine:
        for text in ax.findobj(Text):
            legible(text)
    return mine


def legible(text: Text) -> None:
    """Dark enough, no mathematics after a dollar sign; half a character, in no font, as a question mark."""
    text.set(parse_math=False, text=text.get_text().encode("utf-8", "replace").decode())
    text.set_color(_INK.get(str(text.get_color()), text.get_color()))


def _plain(ax: Axes) -> None:
    ax.set_facecolor("white")
    ax.tick_params(labelsize=SMALL, colors=BLACK, length=3)
    ax.spines[["top", "right"]].set_visible(False)
    ax.grid(True, color=PALE, linewidth=0.6)
    ax.set_axisbelow(True)


def dress(ax: Axes, x: str = "", y: str = "", title: str = "") -> None:
    """Write the words around one pair of axes.

    Parameters
    ----------
    ax : Axes [-]
        The axes.
    x, y : str [-]
        What is drawn, with its unit, as in `label`.
    title : str [-]
        One short line.
    """
    if x:
        ax.set_xlabel(x, fontsize=FONT, labelpad=3)
    if y:
        ax.set_ylabel(y, fontsize=FONT, labelpad=3)
    if title:
        ax.set_title(title, fontsize=FONT, loc="left", pad=6, fontweight="bold")


def key(ax: Axes, dash: float = 2.6) -> None:
    """Name the curves in one line above the axes, where no curve can cover the names.

    Parameters
    ----------
    ax : Axes [-]
        Axes whose curves have labels.
    dash : float [font size]
        How long a piece of each curve is shown.
    """
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 0.97), ncols=4, frameon=False, fontsize=SMALL,
              handlelength=dash, borderaxespad=0.0, columnspacing=1.4)  # fmt: skip


def label(name: str, kind: str) -> str:
    """A label with its unit in the chosen display set.

    Parameters
    ----------
    name : str [-]
        What it is.
    kind : str [-]
        A name in `units.KINDS`.

    Returns
    -------
    str
        Such as ``"barrel length, mm"`` [-].

    Examples
    --------
    >>> label("barrel length", "length")
    'barrel length, mm'
    """
    unit = units.show_unit(kind)
    return f"{name}, {unit}" if unit else name


def shown(value: Any, kind: str) -> Any:
    """A Quantity, or SI values, as plain numbers in the chosen display unit.

    Parameters
    ----------
    value : Quantity, float or ndarray [SI]
        Any shape.
    kind : str [-]
        A name in `units.KINDS`.

    Returns
    -------
    float or ndarray
        Same shape [display unit].
    """
    if isinstance(value, units.Quantity):
        value = value.m_as(units.KINDS[kind].si) if np.ndim(value.m) else units.si(value, kind)
    return units.display(value, kind)


def steady(
    old: tuple[float, float] | None, low: float, high: float, fill: float = 0.55
) -> tuple[float, float]:
    """Axis limits that keep still while a slider moves.

    The old limits stay as long as the data fit into them and fill a fair part; else round new ones.

    Parameters
    ----------
    old : tuple of float or None [display unit]
        Limits now in use.
    low, high : float [display unit]
        Reach of the data; a `low` of zero or more gives an axis from zero.
    fill : float [-]
        Least part of the old limits that the data must fill.

    Returns
    -------
    tuple of float
        Lower and upper limit [display unit].

    Examples
    --------
    >>> steady(None, 0.0, 41.0)
    (0.0, 50.0)
    >>> steady((0.0, 50.0), 0.0, 37.0)
    (0.0, 50.0)
    """
    bottom = min(low, 0.0)
    if old and old[0] <= bottom and high <= old[1] and (high - bottom) >= fill * (old[1] - old[0]):
        return old
    return (-_round_up(-bottom) if bottom < 0 else 0.0), _round_up(high)


def _round_up(value: float) -> float:
    if value <= 0:
        return 1.0
    wanted = 1.04 * value
    power = 10.0 ** math.floor(math.log10(wanted))
    return next(step * power for step in _STEPS if step * power >= wanted * (1 - 1e-9))


def png(figure: Figure, sharpness: float = 1.0) -> bytes:
    """Draw a whole figure as an opaque RGB PNG.

    Parameters
    ----------
    figure : Figure [-]
        Made by `new_figure`.
    sharpness : float [-]
        Stored pixels for each pixel on the page.

    Returns
    -------
    bytes
        A PNG file [-].
    """
    buffer = io.BytesIO()
    figure.savefig(
        buffer, format="png", dpi=DPI * sharpness, facecolor="white", pil_kwargs={"compress_level": 6}
    )
    return buffer.getvalue()


class View(Protocol):
    """A picture that can follow its result; `Painter` draws it.

    `frame` says what the background depends on (limits in display units), given the frame in use (None:
    start afresh); `draw_full` puts a frame into effect (limits, labels); `draw_live` moves the artists that
    follow the result and lists them, always the same ones and in drawing order.
    """

    figure: Drawing

    def frame(self, result: Any, old: Frame | None) -> Frame:
        """What the background depends on."""
        ...

    def draw_full(self, frame: Frame) -> None:
        """Set limits and labels."""
        ...

    def draw_live(self, result: Any) -> list[Artist]:
        """Move the artists to a result."""
        ...


class Painter:
    """Draws a `View` quickly: the background only when its frame or the unit set changes.

    Parameters
    ----------
    view : View [-]
        The picture.
    """

    def __init__(self, view: View) -> None:
        self.view = view
        self.full_draws = 0
        self._key: tuple[str, Frame] | None = None
        self._background: Any = None

    def forget(self) -> None:
        """Start afresh with the next picture (limits too)."""
        self._key = None

    def png(self, result: Any) -> bytes:
        """The picture of a result.

        Parameters
        ----------
        result : object [-]
            What the view takes.

        Returns
        -------
        bytes
            An opaque RGB PNG at compress level 1 [-].
        """
        chosen = units.use_units()
        old = self._key[1] if self._key and self._key[0] == chosen else None
        frame = self.view.frame(result, old)
        figure = self.view.figure  # after `frame`, which may bring a new one
        canvas: Any = figure.canvas
        if self._key != (chosen, frame):
            self.view.draw_full(frame)
            for artist in self.view.draw_live(result):
                artist.set_animated(True)
            canvas.draw()
            self._background = canvas.copy_from_bbox(figure.bbox)
            self._key = (chosen, frame)
            self.full_draws += 1
        canvas.restore_region(self._background)
        pixels, renderer = np.asarray(canvas.buffer_rgba()), canvas.get_renderer()
        for artist in self.view.draw_live(result):
            if lettering.is_plain(artist):
                lettering.write(pixels, artist, figure.dpi)
            else:
                artist.draw(renderer)
        return stored.quick_png(pixels[:, :, :3])


def still(view: View, result: Any, caption: str) -> Drawing:
    """A view as one figure that does not move.

    Parameters
    ----------
    view : View [-]
        A fresh view.
    result : object [-]
        What the view takes.
    caption : str [-]
        One line in words with the key numbers.

    Returns
    -------
    Drawing
        The figure [-].
    """
    view.draw_full(view.frame(result, None))
    view.draw_live(result)
    view.figure.caption = caption
    return view.figure
