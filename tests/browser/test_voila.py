"""The first notebook behind Voilà, which hides the code: on a phone, without knowing what a cell is."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from lab_harness import Server, lab_server

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def voila(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    with lab_server(root / "notebooks", tmp_path_factory.mktemp("voila"), voila=True) as server:
        yield server


def test_the_first_notebook_without_its_code(voila: Server, chrome: Any, artifacts: Path) -> None:
    page = chrome.new_page(viewport={"width": 390, "height": 844})
    page.goto(f"{voila.address}/voila/render/00_start_here.ipynb", timeout=120_000)
    panel = page.locator(".widget-vbox").filter(has=page.locator("b:text-is('Barrel length')")).first
    picture = panel.locator("img").first
    picture.wait_for(timeout=120_000)
    assert page.get_by_text("import blasterlab").count() == 0
    before = picture.get_attribute("alt")
    panel.locator(".noUi-handle").first.press("ArrowRight")
    panel.locator("img:not([alt=" + json.dumps(before) + "])").first.wait_for(timeout=20_000)
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.screenshot(path=artifacts / "voila_390.png", full_page=True)
    page.close()


def test_help_and_a_slider_by_finger(voila: Server, chrome: Any) -> None:
    page = chrome.new_page(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page.goto(f"{voila.address}/voila/render/00_start_here.ipynb", timeout=120_000)
    panel = page.locator(".widget-vbox").filter(has=page.locator("b:text-is('Barrel length')")).first
    picture = panel.locator("img").first
    picture.wait_for(timeout=120_000)
    row = panel.locator(".bl-row", has_text="barrel length").first
    assert not row.locator(".bl-help").is_visible()
    row.locator("summary").tap()
    assert "Measure from the seated dart" in row.locator(".bl-help").inner_text()
    row.locator("summary").tap()
    assert not row.locator(".bl-help").is_visible()
    handle = row.locator(".noUi-handle")
    handle.scroll_into_view_if_needed()
    size, before = handle.bounding_box(), picture.get_attribute("alt")
    assert min(size["width"], size["height"]) >= 24  # WCAG 2.2, 2.5.8: the least size of a target
    x, y = size["x"] + size["width"] / 2, size["y"] + size["height"] / 2
    finger = page.context.new_cdp_session(page)
    for kind, moved in (("touchStart", 0), ("touchMove", 8), ("touchMove", 16), ("touchEnd", None)):
        points = [] if moved is None else [{"x": x + moved, "y": y}]
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    panel.locator("img:not([alt=" + json.dumps(before) + "])").first.wait_for(timeout=20_000)
    assert handle.bounding_box()["x"] > size["x"]
    page.close()
