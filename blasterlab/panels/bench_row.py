"""What a panel offers of the builder's own bench: start from, save, copy, download.

What it is for: `BenchRow`, a list of builds (or strings) to start from, a box for a name, and two buttons.
What it leaves out: files, which are ``bench.kept``'s, and what becomes of a build, which is the panel's.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as W  # noqa: N812

from blasterlab.bench.kept import Shelf, Start
from blasterlab.report.kept import CLEAR, ONLY_MINE

_COPY = (
    "const t=this.parentNode.querySelector('textarea');t.select();"
    "(navigator.clipboard?navigator.clipboard.writeText(t.value):Promise.reject())"
    ".catch(()=>document.execCommand('copy'));this.textContent='Copied'"
)


class BenchRow:
    """The widgets, whose buttons do what `panel` does in code.

    Parameters
    ----------
    shelf : Shelf [-]
        Where builds, or strings, are kept.
    panel : Panel [-]
        Whose row it is.
    mine : bool [-]
        Whether *My callipers only* is among them.
    """

    def __init__(self, shelf: Shelf, panel: Any, mine: bool) -> None:
        self.shelf, kind = shelf, shelf.kind
        style = {"description_width": "70px"}
        self.start = W.Dropdown(description="start from", style=style, layout=_wide("auto", "100%"))
        self.start.observe(lambda change: panel._start_chosen(change["new"]), "value")
        hint = f"name your {kind}"
        self.name = W.Text(placeholder=hint, continuous_update=False, layout=_wide("120px", "200px"))
        self.text, self.whose = W.HTML(), W.HTML()

        def button(words: str, width: str, tip: str, action: Callable[[], None]) -> W.Button:
            made = W.Button(description=words, tooltip=tip, layout=W.Layout(width=width))
            made.on_click(lambda _: panel._noted(action))
            return made

        tip = f"keep this {kind} under this name"
        save = button(f"Save {kind}", "96px", tip, lambda: panel.save(self.name.value.strip()))
        tip = f"copy or download this {kind}"
        text = button(
            "As text", "76px", tip, lambda: self.show_text("" if self.text.value else panel.kept_text)
        )
        tip = f"every panel then starts from the demo again; your saved {kind}s stay"
        self.clear = button(CLEAR, "164px", tip, panel.clear_bench)
        tip = "forget the demo's values: keep what you typed, assume the rest and say so; Undo goes back"
        callipers = [button(ONLY_MINE, "136px", tip, panel.from_callipers)] if mine else []
        asked = W.HBox([self.start, self.name, save, text, self.clear, *callipers])
        asked.add_class("bl-hand")
        self.box = W.VBox([self.whose, asked, self.text])

    def show(self, begun: Start) -> None:
        """Name what the panel started from, in the list of all that can be started from."""
        demos = [(f"demo: {name}", name) for name in self.shelf.demos()]
        options = [(name, name) for name in self.shelf.names()] + demos
        listed = (begun.saved is not None or begun.demo) and begun.name in dict(options).values()
        if not listed:  # from a notebook's code, or a file that is gone
            options.insert(0, (begun.name, ""))
        if self.start.options != tuple(options):
            self.start.options = options
        self.start.value = begun.name if listed else ""
        self.name.value = begun.name if begun.saved else ""
        self.clear.disabled = not self.shelf.chosen()

    def show_text(self, text: str) -> None:
        """The text, to be selected, copied and downloaded; "" takes it away."""
        kept = self.name.value or f"my {self.shelf.kind}"
        name = re.sub(r"\W+", "_", kept.lower()).strip("_") + self.shelf.ending
        data = base64.b64encode(text.encode()).decode()
        self.text.value = text and (
            f'<textarea readonly rows="8" aria-label="{self.shelf.kind} as text" '
            'style="width:100%;box-sizing:border-box">'
            f"{escape(text)}</textarea>"
            f'<button type="button" class="jupyter-button" onclick="{escape(_COPY)}">Copy</button> '
            f'<a download="{escape(name)}" href="data:text/plain;charset=utf-8;base64,{data}">'
            f"Download {escape(name)}</a>"
        )


def _wide(least: str, most: str) -> W.Layout:
    return W.Layout(flex=f"1 1 {least}", width="auto", min_width="0", max_width=most)
