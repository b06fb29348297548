"""The lessons' questions: what can be answered, and what is said to each answer.

What it is for: a question of ``data/questions`` by its number, and the reply to an answer: a hint to a wrong
one, which does not give the right one away.  What it leaves out: the wording of the question, which stands in
the lesson; the widgets (`blasterlab.panels.question`).
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass

from blasterlab import units
from blasterlab.faults import fault, shown
from blasterlab.report.told import Told
from blasterlab.tables import data_folder

OPEN = "choose"
#: Written down, or to be compared.
WAIT, CHECK = "not yet", "check my answer"


@dataclass(frozen=True)
class Question:
    """One question: the right answer, and a reply to each that can be given.

    Parameters
    ----------
    right : str [-]
        One of the answers, or a value with its unit.
    replies : mapping of str to str [-]
        By answer; to a number by ``low``, ``right`` and ``high``.
    asked : sequence of str [-]
        To a number: kind, lowest and highest value, slider step.  The lowest one stands for no answer.
    within : float [-]
        How far a number may be off, as a share of the right one.
    """

    right: str
    replies: Mapping[str, str]
    asked: tuple[str, ...] = ()
    within: float = 0.0


def questions() -> dict[str, Question]:
    """Every question by its number: lesson, point, place in the lesson."""
    files = sorted((data_folder() / "questions").glob("*.toml"))
    read = [tomllib.loads(file.read_text(encoding="utf-8")) for file in files]
    return {name: Question(**values) for one in read for name, values in one.items()}


def question(name: str) -> Question:
    """The question of a number such as ``"1.2"``; UnitError where there is none."""
    found = questions()
    if name not in found:
        raise units.UnitError(fault("question", shown(name), f"one of {', '.join(found)}"))
    return found[name]


def reply(one: Question, answer: float | str, check: str) -> Told:
    """What is said to an answer, a choice's words or a number [SI]."""
    if answer == (units.si(one.asked[1], one.asked[0]) if one.asked else OPEN):
        return Told("no answer yet", "No answer yet: even a wrong guess teaches you something.")
    said = answer if isinstance(answer, str) else units.show(answer, one.asked[0])
    if check == WAIT:
        return Told(f"{said}, written down", f"Written down: {said}. Now try it out, then check your answer.")
    key = said
    if not isinstance(answer, str):
        right = units.si(one.right, one.asked[0])
        off = answer - right
        key = "right" if abs(off) <= one.within * abs(right) else "low" if off < 0 else "high"
    opening = "Right" if key in ("right", one.right) else "Not yet"
    return Told(f"{said}: {opening.lower()}", f"{opening}. {one.replies[key]}")
