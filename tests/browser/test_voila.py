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
