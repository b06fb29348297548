"""What all tests share: where things are, what may be skipped, and no state left between tests.

Two kinds of test need more than Python: those marked ``browser`` need Chromium, those marked ``environment``
install whole environments from the package index.  On a builder's machine a browser test without Chromium
and every environment test are skipped, with the reason.  With ``BLASTERLAB_ALL=1``, as in ``.ci/run``,
nothing is skipped: what cannot run fails.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

collect_ignore_glob = ["conftest.py", "*/conftest.py"]  # no doctests there, and their names clash
ROOT = Path(__file__).resolve().parents[1]
ALL = os.environ.get("BLASTERLAB_ALL", "") not in ("", "0")

settings.register_profile("kit", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("kit")


def find_chromium() -> str | None:
    """A Chromium or Chrome on this machine; ``BLASTERLAB_CHROMIUM`` names another one."""
    chosen = os.environ.get("BLASTERLAB_CHROMIUM")
    names = [chosen] if chosen else ["chromium", "chromium-browser", "google-chrome", "chrome"]
    return next((path for name in names if (path := shutil.which(name))), None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    if ALL:
        return
    missing = None if find_chromium() else "needs Chromium (BLASTERLAB_CHROMIUM may name it)"
    for item in items:
        if missing and item.get_closest_marker("browser"):
            item.add_marker(pytest.mark.skip(reason=missing))
        if item.get_closest_marker("environment"):
            item.add_marker(pytest.mark.skip(reason="installs an environment; runs with BLASTERLAB_ALL=1"))


@pytest.fixture(scope="session")
def root() -> Path:
    """The top folder of the checkout."""
    return ROOT


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A copy of the checkout without what a clone would not have, to run away from this one."""
    unwanted = shutil.ignore_patterns(
        ".git",
        ".venv*",
        "__pycache__",
        ".*_cache",
        ".ipynb_checkpoints",
        ".hypothesis",
        ".artifacts",
        "*.egg-info",
    )
    return Path(shutil.copytree(ROOT, tmp_path / "checkout", ignore=unwanted))


@pytest.fixture(scope="session")
def chromium() -> str:
    """The path of Chromium; fails where there is none (skipping is settled at collection)."""
    path = find_chromium()
    if path is None:
        pytest.fail("BLASTERLAB_ALL is set and there is no Chromium: apt-get install chromium")
    return path


@pytest.fixture(autouse=True)
def metric_again() -> Iterator[None]:
    """Every test starts and ends in the metric display set."""
    from blasterlab.units import use_units

    use_units("metric")
    yield
    use_units("metric")
