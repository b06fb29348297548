"""A panel's pictures and its table as files, from a button; a build's sheet, share page and post beside them.

What it is for: links that save what a panel shows now, without a server of files.  What
it leaves out: the drawing itself, and which table a result has (``report``).
"""

from __future__ import annotations

import base64
import re
from contextlib import AbstractContextManager, suppress
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab.bench.cap_risk import SpeedCap
from blasterlab.bench.kept import event_caps
from blasterlab.figures.style import png
from blasterlab.page.share import page
from blasterlab.report import asked, table
from blasterlab.report.sheet import build_sheet

_SHARP = 2.0  # stored pixels for each pixel on the page


class Export(W.HTML):
    """The links, nothing before the button is pressed; they stay what they were then.

    Parameters
    ----------
    panel : Panel [-]
        Whose ``views``, ``result`` and ``text`` are saved.
    guard : lock [-]
        Held meanwhile, so that no slider moves what is drawn.
    """

    def __init__(self, panel: Any, guard: AbstractContextManager[Any]) -> None:
        super().__init__(layout=W.Layout(display="none"))
        layout = W.Layout(width="110px", flex="none")
        self.button = W.Button(description=asked.SAVE, tooltip=asked.SAVE_WHY, layout=layout)
        self.button.on_click(lambda _: self._lay_out(panel, guard))

    def _lay_out(self, panel: Any, guard: AbstractContextManager[Any]) -> None:
        whose = "" if panel.start is None else panel.start.name[:60]
        name = re.sub(r"\W+", "-", f"{panel.title} {whose}".lower()).strip("-")
        with guard:
            links = [_link(name + end, kind, data) for end, kind, data in files(panel)]
            self.value = asked.saved(panel.text, links)
        self.layout.display = None


def files(panel: Any) -> list[tuple[str, str, bytes]]:
    """The files of a panel's pictures, table and build: the end of the name, the kind, its bytes [-]."""
    found = []
    for place, view in enumerate(panel.views[: len(panel.pictures)]):
        number = f"-{place + 1}" if place else ""
        found.append((f"{number}.png", "image/png", png(view.figure, _SHARP)))
        found.append((f"{number}.svg", "image/svg+xml", view.figure.svg().encode()))
    with suppress(TypeError):  # a result without a table
        found.append((".csv", "text/csv", table(panel.result).to_csv(index=False).encode()))
    if (shot := getattr(panel.result, "shot", None)) is not None:
        limit = getattr(panel.result, "cap", None)
        caps = limit.rules if isinstance(limit, SpeedCap) else event_caps()
        found.append(("-sheet.html", "text/html", build_sheet(shot.build, cap=caps or None).encode()))
        found.append(("-share.html", "text/html", page(shot.build, caps).encode()))
        found.append(("-post.txt", "text/plain", shot.build.to_post().encode()))
    return found


def _link(name: str, kind: str, data: bytes) -> str:
    coded = base64.b64encode(data).decode()
    look = "text-decoration:underline"
    return f'<a download="{name}" style="{look}" href="data:{kind};base64,{coded}">{name}</a>'
