"""A progress bar for long runs in a notebook.

What it is for: ``simulate_many(builds, progress=panels.progress_bar())``.  What it leaves out: the run,
and scripts, which stay silent.
"""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from typing import Any

import ipywidgets as W  # noqa: N812
from IPython.display import display

from blasterlab.bench.kept import folder
from blasterlab.panels.last import LastSight
from blasterlab.panels.look import PANEL


class _Bar(W.IntProgress):
    """A bar that a saved notebook shows in words."""

    def _repr_mimebundle_(self, **kwargs: Any) -> Any:
        words = f"a bar that counted the {self.description}"
        self.add_class(PANEL)
        if folder() is not None:
            LastSight(lambda: escape(words), str, "").show()
        return super()._repr_mimebundle_(**kwargs) | {"text/plain": words}


def progress_bar(label: str = "shots", show: bool = True) -> Callable[[int, int], None]:
    """A bar that fills as shots are done, to be given as ``progress``.

    Parameters
    ----------
    label : str [-]
        What is counted.
    show : bool [-]
        Display the bar at the first call; False leaves that to the caller (``bar.widget``).

    Returns
    -------
    callable
        Takes the number done and the number of all [-].

    Examples
    --------
    >>> bar = progress_bar(show=False)
    >>> bar(512, 2048)
    >>> bar.widget.value, bar.widget.max, bar.widget.description
    (512, 2048, 'shots')
    """
    widget = _Bar(min=0, max=1, value=0, description=label, tooltip="stop the cell to stop the run")
    shown = [not show]

    def tell(done: int, everything: int) -> None:
        if not shown[0]:
            shown[0] = True
            display(widget)
        widget.max, widget.value = max(everything, 1), done
        widget.bar_style = "success" if done >= everything else ""

    tell.widget = widget  # type: ignore[attr-defined]
    return tell
