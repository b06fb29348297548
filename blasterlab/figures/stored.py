"""What a notebook holds of a picture: a PNG, and before it the style for a page that is dark or narrow.

What it is for: `quick_png` of a drawing's pixels; `put_style`, an output of its own: the picture stays
a plain PNG where styles are taken out.  What it leaves out: drawing.

References
----------
W3C, *Portable Network Graphics (PNG) Specification*, 2nd ed., 2003.
W3C, *Selectors Level 4*, working draft 2022, 4.5 (`:has`).
"""

from __future__ import annotations

import struct
import zlib
from typing import Any

import numpy as np

DARK = '[data-jp-theme-light="false"]'
INVERTED = "{filter:invert(.93) hue-rotate(180deg)}"
#: For the picture in the output below: dark where the page is; in a narrow JupyterLab, all of its width.
STYLE = (
    f"<style class=bl-still>{DARK} :has(>*>.bl-still)+* img{INVERTED}@media(max-width:480px)"
    "{.jp-LabShell .jp-Cell:has(.bl-still){padding:5px 0;margin:0 -10px}"
    ".jp-LabShell :has(.bl-still)>.jp-OutputCollapser{display:none}}</style>"
)


def put_style() -> None:
    """Put the style into the cell that is running; nothing without a notebook."""
    from IPython.core.getipython import get_ipython
    from IPython.display import display

    if hasattr(get_ipython(), "kernel"):
        display({"text/html": STYLE, "text/plain": ""}, raw=True)


def quick_png(pixels: Any) -> bytes:
    """RGB pixels as a PNG without row filters: no larger than the usual writer makes it, in half the time.

    References: W3C, *Portable Network Graphics (PNG) Specification*, 2nd ed., 2003, clauses 5 (chunks), 9.2
    (filter type 0), 11.2.2 (header).
    """
    height, width, _ = pixels.shape
    rows = np.zeros((height, 1 + 3 * width), np.uint8)  # each row starts with its filter type, 0
    for colour in range(3):  # one by one: seven times as quick as all three
        rows[:, 1 + colour :: 3] = pixels[:, :, colour]
    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows.data, 1)), (b"IEND", b""))
    chunks = (
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in parts
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(chunks)
