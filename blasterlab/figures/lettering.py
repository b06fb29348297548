"""Words that follow a slider, written into a picture in a third of the usual time.

What it is for: one line of plain text, level, on nothing or a plain box, put straight into a picture's
pixels; in the usual way that is a quarter of what a moving picture costs.  Places for words beside a spot or
above each other.  What it leaves out: every other text, which matplotlib draws itself.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache
from itertools import accumulate, product
from typing import Any, TypeGuard, TypeVar

import numpy as np
from matplotlib import font_manager
from matplotlib.colors import to_rgba
from matplotlib.ft2font import LoadFlags
from matplotlib.patches import BoxStyle
from matplotlib.text import Text

Name = TypeVar("Name")
_SIDE = {"left": 0.0, "center": 0.5, "right": 1.0}
_HINTS = LoadFlags.FORCE_AUTOHINT | LoadFlags.TARGET_LIGHT  # sharp from line to line, true widths


def is_plain(text: object) -> TypeGuard[Text]:
    """Whether `write` can do it: one level line, on a box without edge at most, not clipped nor transparent.

    Parameters
    ----------
    text : Artist [-]
        What is to be drawn.

    Returns
    -------
    bool
        False: leave it to matplotlib [-].
    """
    if type(text) is not Text or text.get_rotation() or text.get_path_effects():
        return False
    box: Any = text.get_bbox_patch()
    if box and (type(box.get_boxstyle()) is not BoxStyle.Square or box.get_edgecolor()[3]):
        return False
    if text.get_clip_on() or text.get_alpha() is not None or text.get_wrap():
        return False
    if text.get_verticalalignment() not in ("bottom", "baseline", "center", "top"):
        return False
    return "\n" not in text.get_text()


def write(pixels: Any, text: Text, dpi: float) -> None:
    """Write a plain text into a picture.

    Parameters
    ----------
    pixels : ndarray, shape (height, width, 3 or more) of uint8 [-]
        The picture, top row first; changed in place.
    text : Text [-]
        One that `is_plain` accepts.
    dpi : float [1/inch]
        Of the picture.

    References
    ----------
    T. Porter, T. Duff, *Computer Graphics* 18 (3), 253, 1984: one picture over another.
    """
    words = text.get_text()
    if not words or not text.get_visible():
        return
    width, rise, fall = size(text, dpi)
    _, _, deep, offset, ink = _ink(*_type(text), dpi, words)
    x, y = text.get_transform().transform(text.get_position())
    x -= _SIDE[text.get_horizontalalignment()] * width
    y += {"bottom": fall, "baseline": 0.0, "center": 0.5 * (fall - rise), "top": -rise}[
        text.get_verticalalignment()
    ]
    box: Any = text.get_bbox_patch()
    if box:
        pad = box.get_boxstyle().pad * text.get_fontsize() * dpi / 72.0
        paper = np.full((round(rise + fall + 2.0 * pad), round(width + 2.0 * pad)), 255)
        _lay(pixels, paper, round(x - pad), round(pixels.shape[0] - y - rise - pad), box.get_facecolor())
    left = round(x + offset)
    bottom = round(pixels.shape[0] - y + deep)
    _lay(pixels, ink, left, bottom - ink.shape[0], to_rgba(text.get_color()))


def size(text: Text, dpi: float) -> tuple[float, float, float]:
    """Width of a plain text, and how far it reaches above and below its baseline [px]."""
    width, tall, deep, *_ = _ink(*_type(text), dpi, text.get_text())
    line_tall, line_deep = _line(*_type(text), dpi)
    return width, max(tall - deep, line_tall - line_deep), max(deep, line_deep)


def place_beside(
    text: Text, spot: tuple[float, float], axes: tuple[float, float], lines: Any, dpi: float
) -> Any:
    """Move a plain text to where it stands beside a mark and lies on no line.

    Parameters
    ----------
    text : Text [-]
        In units of the axes (``ax.transAxes``); its alignment is set too.
    spot, axes : tuple of float [px]
        Where the mark is, from the lower left corner of the axes, and their width and height.
    lines : ndarray, shape (n, 2) [px]
        Polylines to keep clear of, from the same corner, with a row of NaN between two of them.
    dpi : float [1/inch]
        Of the picture.

    Returns
    -------
    ndarray, shape (n + 5, 2)
        The lines, and one around the text, for the next text to keep clear of [px].
    """
    width, rise, fall = size(text, dpi)
    half = 0.5 * (rise + fall)
    for pushed, (aside, away) in product((False, True), _BESIDE):
        left = spot[0] + aside - (width if aside < 0.0 else 0.0)
        left = min(max(left, 0.0), axes[0] - width - _CLEAR) if pushed else left
        low, high = np.array([left, spot[1] + away - half]), np.array([left + width, spot[1] + away + half])
        inside = (low >= 0.0).all() and (high <= axes).all()
        if inside and not _crossed(low - _CLEAR, high + _CLEAR, lines):
            break
    else:  # nowhere: at least inside
        left, away = min(max(spot[0], 0.0), axes[0] - width), _BESIDE[0][1]
    text.set_position((left / axes[0], (spot[1] + away) / axes[1]))
    text.set_horizontalalignment("left")
    text.set_verticalalignment("center")
    right, low, high = left + width, spot[1] + away - half, spot[1] + away + half
    return np.vstack([lines, (np.nan, np.nan), (left, low), (right, low), (right, high), (left, high)])


#: How far aside of its mark a text starts, and its middle above the mark, the nearest first [px].
_BESIDE = sorted(
    product((8.0, -8.0, 30.0, -30.0, 60.0, -60.0, 100.0, -100.0), (*range(-108, -8, 10), *range(18, 99, 10))),
    key=lambda place: math.hypot(*place) + (place[1] > 0.0),
)
_CLEAR = 3.0  # room to any line [px]


def lifted(heights: Mapping[Name, float], gap: float, least: float) -> dict[Name, float]:
    """Where words stand that would lie on each other: none below `least`, each `gap` above the one below it.

    Parameters
    ----------
    heights : mapping to float [as shown]
        Where each belongs.
    gap, least : float [as shown]
        Room from one to the next, and the lowest place.

    Returns
    -------
    dict to float
        Their places, lowest first [as shown].
    """
    order = sorted(heights, key=heights.__getitem__)
    free = (max(least, heights[name]) for name in order)
    return dict(zip(order, accumulate(free, lambda below, own: max(below + gap, own)), strict=True))


def _crossed(low: Any, high: Any, lines: Any) -> bool:
    """Whether any piece of the lines passes through a box: how much of it lies between each pair of sides."""
    first, way = lines[:-1], np.diff(lines, axis=0)
    way = np.where(way == 0.0, 1e-9, way)
    ends = np.sort([(low - first) / way, (high - first) / way], axis=0)
    enter, leave = np.maximum(ends[0].max(axis=1), 0.0), np.minimum(ends[1].min(axis=1), 1.0)
    return bool((enter <= leave).any())


def _lay(pixels: Any, ink: Any, left: int, top: int, colour: tuple[float, ...]) -> None:
    """Colour over the pixels as far as there is ink, cut off at the edges of the picture."""
    height, width = pixels.shape[:2]
    rows = slice(max(top, 0), max(min(top + ink.shape[0], height), 0))
    columns = slice(max(left, 0), max(min(left + ink.shape[1], width), 0))
    part = ink[rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    if part.size:
        cover = part[:, :, None] * (colour[3] / 255.0)
        under = pixels[rows, columns, :3]
        under[...] = np.rint(under * (1.0 - cover) + cover * (255.0 * np.array(colour[:3])))


def _type(text: Text) -> tuple[Any, float]:
    return font_manager.findfont(text.get_fontproperties()), float(text.get_fontsize())


def _font(file: Any, size: float, dpi: float) -> Any:
    font = font_manager.get_font(file)  # one object a file, whatever the size
    font.set_size(size, dpi)
    return font


@lru_cache(maxsize=64)
def _ink(file: Any, size: float, dpi: float, words: str) -> tuple[float, float, float, float, Any]:
    """Width, height, descent, offset to the left [px] and coverage of words; many stay as a slider moves."""
    font = _font(file, size, dpi)
    font.set_text(words, 0.0, flags=_HINTS)
    width, tall = (side / 64.0 for side in font.get_width_height())
    font.draw_glyphs_to_bitmap(antialiased=True)
    offset = font.get_bitmap_offset()[0] / 64.0
    return width, tall, font.get_descent() / 64.0, offset, np.array(font.get_image())


@lru_cache(maxsize=64)
def _line(file: Any, size: float, dpi: float) -> tuple[float, float]:
    """Height of a line and its descent, whatever its letters [px]."""
    font = _font(file, size, dpi)
    font.set_text("lp", 0.0, flags=_HINTS)
    return font.get_width_height()[1] / 64.0, font.get_descent() / 64.0
