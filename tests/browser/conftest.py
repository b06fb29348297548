"""One JupyterLab and one Chromium for all browser tests of a worker."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from lab_harness import FLAGS, Server, lab_server


@pytest.fixture(scope="session")
def lab(root: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """JupyterLab on a copy of the notebooks."""
    with lab_server(root / "notebooks", tmp_path_factory.mktemp("lab")) as server:
        yield server


@pytest.fixture(scope="session")
def chrome(chromium: str) -> Iterator[Any]:
    """Headless Chromium with a fresh profile."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def artifacts(root: Path) -> Path:
    """Where screenshots are kept, outside git."""
    folder = root / ".artifacts"
    folder.mkdir(exist_ok=True)
    return folder


@pytest.fixture
def page(chrome: Any, lab: Server) -> Iterator[Any]:
    """A page with a profile of its own; its kernels end with it."""
    page = chrome.new_page(viewport={"width": 1280, "height": 900})
    yield page
    page.close()
    lab.end_kernels()


@pytest.fixture
def bench(lab: Server) -> Iterator[Path]:
    """The builder's own folder beside the notebooks, empty at first and gone afterwards."""
    folder = lab.config.parent / "notebooks" / "my_bench"
    shutil.rmtree(folder, ignore_errors=True)
    yield folder
    shutil.rmtree(folder, ignore_errors=True)
