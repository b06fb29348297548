"""Every notebook as a page without a kernel: on a phone: words for each picture, links that lead on."""

from __future__ import annotations

from pathlib import Path
from typing import Any
from urllib.parse import unquote

import nbformat
import pytest
from nbconvert import HTMLExporter

ROOT = Path(__file__).resolve().parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
_READ = """() => {
  const seen = [...document.querySelectorAll('.jp-Notebook *, main *')];
  const scrolls = x => x && (/auto|scroll/.test(getComputedStyle(x).overflowX) || scrolls(x.parentElement));
  const told = list => list.map(x => x.outerHTML.slice(0, 160));
  return {
    wide: told(seen.filter(x => x.getBoundingClientRect().right > innerWidth + 1 && !scrolls(x))),
    wordless: told([...document.images].filter(x => !x.alt || x.alt.length < 20)),
    links: [...document.querySelectorAll('a[href]')].map(x => x.getAttribute('href')),
    ids: [...document.querySelectorAll('[id]')].map(x => decodeURIComponent(x.id)),
  };
}"""


@pytest.mark.browser
@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_a_notebook_reads_without_a_kernel(path: Path, chrome: Any, artifacts: Path, tmp_path: Path) -> None:
    text, _ = HTMLExporter().from_notebook_node(nbformat.read(path, as_version=4))
    page_file = tmp_path / "page.html"
    page_file.write_text(text, encoding="utf-8")
    page = chrome.new_page(viewport={"width": 390, "height": 844})
    page.route("http*://**", lambda route: route.abort())  # offline
    page.goto(page_file.as_uri())
    found = page.evaluate(_READ)
    page.screenshot(path=artifacts / f"page_{path.stem}_390.png", full_page=True)
    page.close()
    assert found["wordless"] == []
    assert found["wide"] == []
    for link in found["links"]:
        place, _, anchor = link.partition("#")
        if place.startswith("http"):
            continue
        assert (path.parent / unquote(place)).exists() if place else unquote(anchor) in found["ids"], link
