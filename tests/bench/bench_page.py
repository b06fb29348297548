"""The translated shot against the kit's own in Chromium, bit by bit; shots as an argument, 2 100 without."""

from __future__ import annotations

import sys
import time
from pathlib import Path

import numpy as np

sys.path[:0] = [str(Path(__file__).parents[1] / folder) for folder in ("", "browser")]

from conftest import find_chromium  # noqa: E402
from lab_harness import FLAGS  # noqa: E402
from playwright.sync_api import sync_playwright  # noqa: E402
from test_page_engine import differences, mixed  # noqa: E402

from blasterlab.page.translate import javascript  # noqa: E402
from blasterlab.shot.integrate import shoot  # noqa: E402
from blasterlab.shot.rules import STATUS  # noqa: E402

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
        chrome.close()
    ends = {STATUS[int(n)]: int((found[:, 0] == n).sum()) for n in np.unique(found[:, 0])}
    print(f"{count} shots there and here in {time.perf_counter() - start:.1f} s: {ends}")
    print(
        f"{sum(p.wave_mass1 > 0.03 for p in shots)} with springs over 30 g, "
        f"{sum(p.wave_mass2 > 0.0 for p in shots)} nests, {sum(p.charge > 0.0 for p in shots)} charged"
    )
    print(f"with another bit: {len(wrong)} {wrong[:10]}")
    sys.exit(bool(wrong))
