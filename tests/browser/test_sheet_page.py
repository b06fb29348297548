"""The build sheet in Chromium: from a file, without a request or a script, on a phone and on paper."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from page_builds import SHORT

import blasterlab as bl

pytestmark = pytest.mark.browser

HOSTILE = "</title><script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\">"


def pages(printed: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", printed))


@pytest.mark.parametrize("name", [*bl.demo_builds(), "hostile", "short"])
def test_opens_alone_and_prints_on_two_or_three_pages(
    name: str, chrome: Any, tmp_path: Path, artifacts: Path
) -> None:
    others = {"hostile": bl.demo_build("workhorse"), "short": bl.Build.from_text(SHORT)}
    build = others[name] if name in others else bl.demo_build(name)
    string = bl.demo_string("workhorse_wire_15") if name == "hostile" else None
    if string is not None:
        build = build.replace({"title": HOSTILE, "note": HOSTILE})
    path = tmp_path / "sheet.html"
    build.sheet_page(path, cap=["190 ft/s", "1.6 J"], string=string)
    page = chrome.new_page(viewport={"width": 390, "height": 844})
    asked: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: asked.append(request.url.partition(":")[0]))
    page.on("console", lambda message: said.append(message.text))
    page.goto(path.as_uri())
    assert page.title() == build.title
    assert asked.count("file") == 1
    assert set(asked) <= {"file", "data"}
    assert said == []
    assert page.evaluate("document.scripts.length") == 0
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.evaluate("[...document.images].every(image => image.naturalWidth > 0 && image.alt)")
    assert page.evaluate("getComputedStyle(document.querySelector('.caution')).borderTopWidth") == "2px"
    assert bl.Build.from_text(page.locator("pre").inner_text()) == build
    page.screenshot(path=artifacts / f"sheet_{name}_390.png", full_page=True)
    for paper in ("A4", "Letter"):
        printed = page.pdf(format=paper, path=artifacts / f"sheet_{name}_{paper}.pdf")
        assert 2 <= pages(printed) <= 3
    page.close()


def test_a_script_and_a_request_would_be_refused(chrome: Any, tmp_path: Path) -> None:
    """The canary: with the escaping undone the policy still holds, and the checks above would tell."""
    path = tmp_path / "sheet.html"
    text = bl.build_sheet(bl.demo_build("workhorse"))
    owned = "document.title='owned'"
    bad = f"<script>{owned}</script><img src='https://example.invalid/x.png' onerror=\"{owned}\">"
    path.write_text(text.replace("</h1>", f"</h1>{bad}"), encoding="utf-8")
    page = chrome.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto(path.as_uri())
    assert page.title() != "owned"
    assert len(said) >= 3
    path.write_text(re.sub(r"<meta http-equiv[^>]*>", "", path.read_text(encoding="utf-8")), encoding="utf-8")
    page.goto(path.as_uri())
    assert page.title() == "owned"
    page.close()
