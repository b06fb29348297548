"""One JupyterLab and one Chromium for all browser tests of a worker."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from lab_harness import FLAGS, lab_server


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
