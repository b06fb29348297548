"""What is said of a builder's own builds and strings: what a panel or a notebook starts from.

What it is for: the words of `blasterlab.bench.kept`.  What it leaves out: files, faults.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from blasterlab.bench.kept import Shelf, Start

#: Added once a panel's controls no longer stand as they were saved.
CHANGED = "changed, not saved"
#: What a build is called of which only measured values count, and the button that makes it.
CALLIPERS, ONLY_MINE = "from your callipers", "My callipers only"
#: The button that takes the builder's own off the bench.
CLEAR = "Start from the demo"


def start(begun: Start) -> str:
    """What a panel or a notebook starts from, in a few words."""
    what = f"{begun.shelf.kind} {begun.name}"
    if begun.saved is not None:
        return f"your {what}, saved {_when(begun.saved)}"
    found = f"demo {what} (invented)" if begun.demo else what
    return f"{found}; yours cannot be read: {begun.trouble}" if begun.trouble else found


def unsaved(begun: Start) -> str:
    """Opens the text of what was changed and not saved, under the last picture of a panel."""
    return f"this {begun.shelf.kind} as you left it, not saved: copy the text into a panel's box"


def saved(name: str, begun: Start) -> str:
    """What was saved as what, and what panels start from that are made after that."""
    if begun.name == name:
        there = "choose it there under “start from”, or run that panel's cell again"
        return f"Saved as {name}. To use it in another panel, {there}."
    still = f"Panels still start from {start(begun)}"
    return f"Saved as {name}. {still}; to work on the new one, choose it under “start from”."


def cleared(begun: Start) -> str:
    """That panels start from the demo again, and where the builder's own still are."""
    stay = f"Your saved {begun.shelf.kind}s stay: choose one under “start from”, or press Undo."
    return f"Panels start from the {start(begun)} again. {stay}"


def demos(left: Sequence[str], demo: bool) -> str:
    """Which of the boxes' values are still the demo's; before the button, what it would do about them."""
    if not demo:
        return f"Still the demo's, until you type yours: {', '.join(left)}." if left else ""
    named = ", ".join([*left, "and all that has no box here"])
    return f"Still the demo's: {named}. “{ONLY_MINE}” assumes likely values instead, and says so."


def shelf(shelf: Shelf) -> list[str]:
    """What a notebook starts from, and what else was saved."""
    begun, names, demos = shelf.begin(), shelf.names(), f"demo {shelf.kind}s"
    now = f"nothing of yours is saved: panels and examples start from {demos}"
    if begun.saved is not None:
        now = f"{start(begun)}: panels start from it, examples from {demos}"
    return [now] + [begun.trouble] * bool(begun.trouble) + [f"saved: {', '.join(names)}"] * bool(names)


def _when(saved: datetime) -> str:
    """The time of a day like today, else day and time."""
    today = saved.date() == datetime.now().date()
    return f"{saved:%H:%M}" if today else f"{saved.day} {saved:%B %Y, %H:%M}"
