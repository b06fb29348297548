"""The page in Chromium: its shots against the kit's own, bit by bit (2 100 unless told), sizes and times."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("", "browser")]

from conftest import find_chromium  # noqa: E402
from lab_harness import FLAGS  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402
from test_page_engine import differences, mixed  # noqa: E402
from test_page_in_chromium import MOVE, picks  # noqa: E402

import blasterlab as bl  # noqa: E402
from blasterlab.page.share import page as page_of  # noqa: E402
from blasterlab.page.translate import javascript  # noqa: E402
from blasterlab.shot.integrate import shoot  # noqa: E402
from blasterlab.shot.rules import STATUS  # noqa: E402

TIMED = MOVE.replace("update();", "const t = Date.now(); update(); const took = Date.now() - t;")
TIMED = TIMED.replace("return {", "return {took, ")


def moved(chrome: Any, name: str) -> None:
    """Print how large a build's page is, how soon it is made and opens, and how long a move takes."""
    start = time.perf_counter()
    text = page_of(bl.demo_build(name))
    made = time.perf_counter() - start
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "page.html"
        path.write_text(text, encoding="utf-8")
        page, start = chrome.new_page(), time.perf_counter()
        page.goto(path.as_uri())
        opened = time.perf_counter() - start
        took = sorted(one["took"] for one in page.evaluate(TIMED, picks(200)))
        page.close()
    print(
        f"{name}: {len(text.encode()) / 1e3:.1f} kB, made in {made:.2f} s, opens in {opened:.2f} s; "
        f"200 moves: median {took[100]:.0f} ms, 95 % below {took[190]:.0f} ms, longest {took[-1]:.0f} ms"
    )


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 2100
    start = time.perf_counter()
    script = javascript(shoot)
    print(f"translated in {time.perf_counter() - start:.2f} s, {len(script.encode()) / 1e3:.1f} kB")
    shots = mixed(np.random.default_rng(7), count)
    with sync_playwright() as playwright:
        chrome = playwright.chromium.launch(executable_path=find_chromium(), args=FLAGS)
        start = time.perf_counter()
        wrong, found = differences(chrome, shots, script)
        print(f"{count} shots there and here in {time.perf_counter() - start:.1f} s")
        for name in bl.demo_builds():
            moved(chrome, name)
        chrome.close()
    ends = {STATUS[int(n)]: int((found[:, 0] == n).sum()) for n in np.unique(found[:, 0])}
    print(f"endings: {ends}")
    print(
        f"{sum(p.wave_mass1 > 0.03 for p in shots)} with springs over 30 g, "
        f"{sum(p.wave_mass2 > 0.0 for p in shots)} nests, {sum(p.charge > 0.0 for p in shots)} charged"
    )
    print(f"with another bit: {len(wrong)} {wrong[:10]}")
    sys.exit(bool(wrong))
