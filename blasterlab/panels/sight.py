"""What a panel shows of a result: its pictures, and the sentences beside them.

What it is for: `Sight`, one message to the browser for both, painted in one go; `alert`, a message as a panel
shows it.  What it leaves out: what is drawn and said, which views and words of the panel make.

References
----------
W3C, *Web Content Accessibility Guidelines 2.2*, 2023, 1.1.1 (text beside a picture), 1.4.3 (contrast).
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

import ipywidgets as W  # noqa: N812

from blasterlab.figures.style import DPI, VERMILION, Painter, View
from blasterlab.panels.look import PICTURES, SIGHT
from blasterlab.report.asked import OLD
from blasterlab.report.tables import as_html
from blasterlab.report.told import Told

DIM_PICTURE, DIM_WORDS = 0.35, 0.65  # words of 87 % black keep a contrast of 4.5:1 on white


class Sight:
    """Pictures and sentences of the last good result, in an HTML widget.

    Parameters
    ----------
    views : sequence of View [-]
        What draws the pictures.
    """

    def __init__(self, views: Sequence[View]) -> None:
        self.widget = W.HTML()
        self.widget.add_class(SIGHT)
        self.painters = [Painter(view) for view in views]
        self.pictures: list[bytes] = []
        self._told = Told("")

    def show(self, result: object, alt: str, told: Told) -> None:
        """Draw a result, unless it is None, and show it with its alternative text, the answer first."""
        self.pictures = [painter.png(result) for painter in self.painters if result is not None]
        self._told = told
        self._put(alt)

    def dim(self, alt: str) -> None:
        """Dim the last good result, under a line that says that it is no answer to what was asked."""
        self._put(alt, f"<div>{OLD}</div>", DIM_PICTURE, DIM_WORDS)

    def _put(self, alt: str, over: str = "", picture: float = 1.0, words: float = 1.0) -> None:
        told = self._told
        answer = _div(told.verdict, "bl-verdict") + _div(told.key)
        rest = f'<div class="bl-table">{as_html(told.table)}</div>' if told.table else ""
        rest += "".join(map(_div, told.heard))
        rest += f'<div class="bl-rest">{"".join(map(_div, told.more))}</div>' if told.more else ""
        dim = f'<div style="opacity:{words}">'
        self.widget.value = f"{over}{dim}{answer}</div>{self._drawn(alt, picture)}{dim}{rest}</div>"

    def forget(self) -> None:
        """Start afresh with the next pictures, their limits too."""
        for painter in self.painters:
            painter.forget()

    def _drawn(self, alt: str, opacity: float) -> str:
        """The pictures: each keeps its place in the page while it loads."""
        images = []
        for png, painter in zip(self.pictures, self.painters, strict=False):
            wide, tall = (round(DPI * inches) for inches in painter.view.figure.get_size_inches())
            images.append(
                f'<img alt="{escape(alt)}" width="{wide}" height="{tall}" decoding="sync" '
                f'style="width:100%;max-width:{round(1.2 * wide)}px;height:auto;opacity:{opacity}" '
                f'src="data:image/png;base64,{base64.b64encode(png).decode()}">'
            )
        return f'<div class="{PICTURES}">{"".join(images)}</div>' if images else ""


def _div(words: str, name: str = "") -> str:
    """A sentence as a block of HTML; nothing for none."""
    kind = f' class="{name}"' if name else ""
    return f"<div{kind}>{escape(words)}</div>" if words else ""


def alert(message: str) -> str:
    """A message as HTML: marked, escaped, one line below the other; nothing for none."""
    lines = "<br>".join(map(escape, message.splitlines()))
    mark = f'role="alert" style="border-left:4px solid {VERMILION};padding-left:6px"'
    return f"<div {mark}>{lines}</div>" if message else ""
