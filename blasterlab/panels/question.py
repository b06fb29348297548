"""The question panel: write an answer down, try it out, then check it.

What it is for: the lessons' predictions and exercises.  What it leaves out: the answers and what is said to
each, which stand in ``data/questions``.
"""

from __future__ import annotations

from blasterlab.panels.base import Panel
from blasterlab.panels.controls import Asked, Choice, Control, Paste
from blasterlab.report.questions import CHECK, OPEN, WAIT, question, reply


def question_panel(name: str) -> Panel[tuple[float | str, str]]:
    """The panel of one question in the lessons.

    Parameters
    ----------
    name : str [-]
        Its number: lesson, point, place in the lesson.

    Returns
    -------
    Panel
        The panel; show it as the last line of a cell [-].

    Raises
    ------
    UnitError
        No such question.
    """
    one, why = question(name), "what you think before you try it out"
    if one.asked:
        kind, low, high, step = one.asked
        answer: Asked = Control("answer", "your answer", kind, low, high, low, step, why)
    else:
        answer = Choice("answer", "your answer", (OPEN, *one.replies), OPEN, why)
    reason = Paste("because", "because", "", "for yourself; nobody checks it", rows=2)
    check = Choice("check", "check", (WAIT, CHECK), WAIT, "after you have tried it out")
    return Panel(
        f"Question {name}",
        [answer, reason, check],
        lambda state: (state["answer"], state["check"]),
        lambda result: reply(one, *result),
    )
