"""The bench sheets to print: a page for each lesson, with its cautions, and nothing fetched."""

from __future__ import annotations

import re
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "notebooks"
PAGE = (FOLDER / "bench_sheets.html").read_text(encoding="utf-8")
SHEETS = dict(re.findall(r'<section id="(lesson_\d)">(.*?)</section>', PAGE, re.DOTALL))


def test_each_lesson_has_a_sheet_that_opens_with_its_caution() -> None:
    lessons = {path.name[:8] for path in FOLDER.glob("lesson_[0-9]_*.ipynb")}
    assert lessons
    assert set(SHEETS) == lessons
    for name, sheet in SHEETS.items():
        assert sheet.index('<p class="caution">Eye protection') < sheet.index("<table>"), name


def test_a_sheet_begins_a_page_and_the_file_needs_no_other() -> None:
    assert "section { break-after: page;" in PAGE
    assert not re.search(r"<script|<link|<img|src=|url\(|https?:", PAGE)
