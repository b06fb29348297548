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
from blasterlab.report.asked import OLD

TIGHT = "line-height:1.4"
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
        self.painters = [Painter(view) for view in views]
        self.pictures: list[bytes] = []
        self._told = ""

    def show(self, result: object, alt: str, lines: Sequence[str]) -> None:
        """Draw a result, and show it with its alternative text and its sentences, the first of them bold."""
        self.pictures = [painter.png(result) for painter in self.painters]
        first, *rest = map(escape, lines)
        told = "".join(f"<div>{line}</div>" for line in rest)
        self._told = f'<div style="{TIGHT}"><b>{first}</b>{told}</div>'
        self.widget.value = self._drawn(alt, 1.0) + self._told

    def dim(self, alt: str) -> None:
        """Dim the last good result, under a line that says that it is no answer to what was asked."""
        told = f'<div style="{TIGHT}">{OLD}</div><div style="opacity:{DIM_WORDS}">{self._told}</div>'
        self.widget.value = self._drawn(alt, DIM_PICTURE) + told

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
        return "".join(images)


def alert(message: str) -> str:
    """A message as HTML: marked, escaped, one line below the other; nothing for none."""
    lines = "<br>".join(map(escape, message.splitlines()))
    mark = f'role="alert" style="border-left:4px solid {VERMILION};padding-left:6px;{TIGHT}"'
    return f"<div {mark}>{lines}</div>" if message else ""
