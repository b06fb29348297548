"""What a panel says of itself: no result, an entry that cannot be read, values that no longer hold.

What it is for: the words that are the same in every panel.  What it leaves out: the faults themselves, which
are worded where they are found, and what each panel says of its results.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence
from html import escape

from blasterlab import units
from blasterlab.report.numbers import sentence
from blasterlab.report.told import Told

#: Stands over words and pictures of values that are no longer those of the controls.
OLD = "Showing the last valid result:"
#: Opens what a panel has folded away.
MORE = "more"
#: The button that saves pictures and table, and why.
SAVE, SAVE_WHY = "Save picture", "as PNG and SVG, its numbers as CSV, and a build's sheet, page and post"

#: Under the last picture of a panel that no kernel moves.
RUN_THIS = "Run this cell to move it."
#: Stands before an assumed value in its box.
GUESS = "≈"
NO_STEP = "there is nothing to undo or redo"


def unit_set(name: str) -> Told:
    """A unit set, and the units in it that a builder meets first."""
    kinds = ("length", "mass", "speed", "energy", "force", "distance")
    key = f"{name}: {', '.join(map(units.show_unit, kinds))}"
    return Told(key, heard=("Panels that are open in other notebooks follow at their next move.",))


def too_long(most: int) -> str:
    """What a box of text says of a paste that it does not take, with N for its characters."""
    return f"Nothing was pasted: this text has N characters, and at most {most} fit here."


def taken(kind: str, name: str) -> str:
    """A name under which something else is saved."""
    return f"name: {name!r} is another {kind} of yours; start from it first, or take another name"


def no_result(title: str, fault: str, longest: int) -> str:
    """One line in place of the key numbers, cut where it is too long [characters]."""
    return one_line(f"{title}: no result, {fault}", longest)


def one_line(text: str, longest: int) -> str:
    """Text on one line, cut where it is too long [characters], never between a number and its unit."""
    return re.sub(r"( \S*\d)+ …$", " …", textwrap.shorten(text, longest, placeholder=" …"))


def old_picture(title: str) -> str:
    """The alternative text of a picture that no longer holds."""
    return f"{title}: the picture of the last valid result"


def unread(fault: str, used: str) -> str:
    """An entry that cannot be read, and the value that stands in for it."""
    return f"{fault.rstrip('.')}; still using {used}"


def bug(error: Exception) -> str:
    """A fault that is not the user's."""
    return f"this is a bug in the kit, not an error in your input: {type(error).__name__}: {error}"


def about(span: str, why: str, measure: str, assumed: bool = False) -> list[str]:
    """What the "?" beside a control opens: range, meaning, how to measure it; what marks an assumed value."""
    mark = f"{GUESS} marks an assumed value, until you type one." if assumed else ""
    said = [f"{span}." if span else "", sentence(why), sentence(measure), mark]
    return [each for each in said if each]


def saved(text: str, links: Sequence[str]) -> str:
    """The links to the files of a result, under what it was [HTML]."""
    return f"{escape(text)}<br>{' '.join(links)}"
