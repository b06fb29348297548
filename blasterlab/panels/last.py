"""What stands in a panel's place where no kernel moves it: its last picture and words.

What it is for: `LastSight`, an output of its own: before a run, after a kernel was restarted, when
a saved notebook is opened again, and in a page that was made of it.  While the panel lives it is hidden.
What it leaves out: the panel.

References
----------
W3C, *Selectors Level 4*, working draft 2022, 4.5 (`:has`).
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from html import escape
from typing import Any

from IPython.display import HTML, display

from blasterlab.bench import kept
from blasterlab.figures.stored import DARK, INVERTED, STYLE
from blasterlab.report.asked import RUN_THIS

QUIET = 1.0  # s without a change after which the picture that is kept follows
_DEAD = ".jp-OutputArea:has(.bl-last):not(:has(.bl-panel:not(.jupyter-widgets-disconnected)))"
_STYLE = f"""<style>.bl-last{{display:none}}{_DEAD} .bl-last{{display:block}}
{_DEAD} .jp-OutputArea-child:has(.jupyter-widgets){{display:none}}
.bl-last img{{max-width:100%;height:auto}}.bl-last .bl-rest{{display:none}}
.bl-last .bl-verdict{{font-weight:bold}}.bl-last pre{{white-space:pre-wrap}}
{DARK} .bl-last img{INVERTED}
</style>"""


class LastSight:
    """The output; pictures stand in it where the builder's own folder is in use, since they are large.

    Parameters
    ----------
    sight, text : callable [-]
        What the panel shows, HTML, and its line of key numbers.
    below : str [-]
        What stands under it.
    """

    def __init__(self, sight: Callable[[], str], text: Callable[[], str], below: str = RUN_THIS) -> None:
        self._sight, self._text, self._below = sight, text, below
        self._handle: Any = None
        self._later = threading.Timer(0.0, self._follow)

    def show(self) -> None:
        """Put it into the cell that is running."""
        self._handle = display(HTML(self._html()), display_id=kept.folder() is not None or None)

    def changed(self) -> None:
        """The panel shows something else: follow once it is quiet."""
        if self._handle is not None:
            self._later.cancel()
            self._later = threading.Timer(QUIET, self._follow)
            self._later.daemon = True
            self._later.start()

    def _follow(self) -> None:
        self._handle.update(HTML(self._html()))

    def _html(self) -> str:
        if kept.folder() is None:
            return f'{STYLE}<div class="bl-last">{escape(self._text())}<br>{self._below}</div>'
        return f'<div class="bl-last">{_STYLE}{self._sight()}<div>{self._below}</div></div>'
