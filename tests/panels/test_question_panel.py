"""The lessons' questions: the panel waits, hints, agrees; and where each question stands."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import nbformat
import pytest

from blasterlab import units
from blasterlab.panels.base import _widgets
from blasterlab.panels.question import question_panel
from blasterlab.report.questions import CHECK, OPEN, WAIT, Question, questions

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
LESSONS = sorted(FOLDER.glob("lesson_[0-9]_*.ipynb"))
ASKED = questions()


def code(path: Path) -> list[str]:
    return [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]


def given_away(one: Question) -> list[str]:
    """The hints to wrong answers that hold the right one."""
    hints = [words for key, words in one.replies.items() if key not in ("right", one.right)]
    if not one.asked:
        return [hint for hint in hints if one.right.lower() in hint.lower()]
    right = units.parse(one.right, one.asked[0]).magnitude
    numbers = {hint: map(float, re.findall(r"\d+(?:\.\d+)?", hint)) for hint in hints}
    return [hint for hint, found in numbers.items() if any(abs(n / right - 1) <= one.within for n in found)]


def wrong_answers(one: Question) -> list[tuple[Any, str]]:
    """Answers that are not right, each with the key of its reply."""
    if not one.asked:
        return [(key, key) for key in one.replies if key != one.right]
    right = units.parse(one.right, one.asked[0])
    return [((1 - 1.01 * one.within) * right, "low"), ((1 + 1.01 * one.within) * right, "high")]


def test_there_are_lessons_and_questions() -> None:
    assert LESSONS
    assert {name[0] for name in ASKED} == {path.name[7] for path in LESSONS}


def test_a_hint_that_gives_the_answer_away_is_seen() -> None:
    assert given_away(Question("it falls", {"it falls": "Yes.", "it rises": "No, it falls."}))
    number = {"low": "Longer than 40 mm.", "right": "Yes.", "high": "Try 279 mm."}
    asked = ("length", "50 mm", "600 mm", "1 mm")
    assert given_away(Question("278 mm", number, asked, 0.02)) == ["Try 279 mm."]


@pytest.mark.parametrize("name", ASKED)
def test_every_wrong_answer_gets_a_hint_that_leaves_the_answer_open(name: str) -> None:
    one = ASKED[name]
    assert len(one.replies) >= 3
    assert one.right in one.replies or {"low", "right", "high"} == set(one.replies)
    assert len(set(one.replies.values())) == len(one.replies)
    assert all(len(words) >= 40 for words in one.replies.values())
    assert given_away(one) == []


@pytest.mark.parametrize("name", ASKED)
def test_the_panel_waits_then_hints_then_agrees(name: str) -> None:
    one, panel = ASKED[name], question_panel(name)
    panel.set("check", CHECK)
    assert panel.text == f"Question {name}: no answer yet"
    right = one.replies[one.right if not one.asked else "right"]
    for answer, key in wrong_answers(one):
        panel.set("check", WAIT)
        panel.set("answer", answer)
        assert panel.text.endswith(", written down")
        assert not [words for words in one.replies.values() if words in "".join(panel.lines)]
        panel.set("check", CHECK)
        assert panel.text.endswith(": not yet")
        assert panel.lines[1] == f"Not yet. {one.replies[key]}"
        assert one.replies[key] != right
    panel.set("answer", one.right)
    assert panel.text.endswith(": right")
    assert panel.lines[1] == f"Right. {right}"


def test_the_reason_is_kept_as_it_was_written() -> None:
    panel = question_panel("1.1")
    panel.set("because", "the hand pulls <further>")
    panel.set("answer", "twice as much")
    assert panel.values["because"] == "the hand pulls <further>"
    panel.reset()
    assert panel.values["answer"] == OPEN


def test_a_question_shows_no_unit_set_and_no_buttons() -> None:
    with pytest.raises(units.UnitError, match=r"has no button 'Reset'; it has $"):
        question_panel("1.1").press("Reset")
    panel = question_panel("1.3")
    panel.set("answer", "3 in")  # any unit is read
    assert panel.text.endswith(", written down")
    assert panel._unit_row.box not in list(_widgets(panel))


def test_an_unknown_question_is_refused() -> None:
    with pytest.raises(units.UnitError, match=r"question: got '9\.9'; must be one of 1\.1, "):
        question_panel("9.9")


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_a_lesson_asks_its_questions_in_order_and_predicts_first(path: Path) -> None:
    cells = code(path)
    asked = re.findall(r'question_panel\("([\d.]+)"\)', "\n".join(cells))
    assert asked == [name for name in ASKED if name[0] == path.name[7]]
    assert "question_panel" in cells[1], "something is shown before the prediction"
    prose = [cell.source for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "markdown"]
    for name in asked:
        (words,) = [text for text in prose if f"**Question {name}.**" in text]
        for choice in ASKED[name].replies if not ASKED[name].asked else ():
            assert choice in " ".join(words.split()), f"{name} does not offer {choice!r}"


def test_the_solutions_answer_every_question() -> None:
    cells = code(FOLDER / "lesson_solutions.ipynb")
    solved = [re.findall(r'question_panel\("([\d.]+)"\)', cell) for cell in cells]
    assert [name for names in solved for name in names] == list(ASKED)
    shown = nbformat.read(FOLDER / "lesson_solutions.ipynb", as_version=4).cells
    replies = [out.text for cell in shown for out in cell.get("outputs", []) if out.output_type == "stream"]
    for one in ASKED.values():
        right = one.replies[one.right if not one.asked else "right"]
        assert any(f": right\nRight. {right}" in text for text in replies), one.right
