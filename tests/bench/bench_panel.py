"""From key press to new picture in the barrel length panel, physics included; prints a table.

Use: ``python tests/bench/bench_panel.py [presses]``.  It starts JupyterLab and headless Chromium, presses an
arrow key on the slider, and takes the time until the browser has decoded and painted the new picture.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "browser")]

# A key press sets the clock; the first frame after the new picture is decoded stops it.
WATCH = """panel => {
  window.times = []; let start = null;
  document.addEventListener('keydown', () => { start = performance.now(); }, true);
  new MutationObserver(() => {
    const picture = panel.querySelector('img');
    if (start === null || !picture || picture.src === window.lastPicture) return;
    window.lastPicture = picture.src;
    const began = start;
    picture.decode().then(() => requestAnimationFrame(() => window.times.push(performance.now() - began)));
  }).observe(panel, {subtree: true, childList: true, attributes: true});
  window.lastPicture = panel.querySelector('img').src;
}"""


def line(name: str, times: Sequence[float]) -> str:
    """Median and 95th percentile of times in ms."""
    ranked = sorted(times)
    high = ranked[min(len(ranked) - 1, round(0.95 * (len(ranked) - 1)))]
    return f"{name:<58} {statistics.median(ranked):7.1f} {high:7.1f} {len(ranked):5d}"


def python_part(presses: int) -> list[str]:
    """The panel driven in this process: all of it, and its two heavy parts alone."""
    import blasterlab as bl
    from blasterlab.panels import barrel_length

    build = bl.demo_build("workhorse")
    panel = barrel_length.barrel_panel(build)
    whole, physics, picture = [], [], []
    for press in range(presses):
        start = time.perf_counter()
        panel.set("barrel.length", f"{300 + press} mm")
        whole.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        result = barrel_length.swept_shot(build, panel._state)
        physics.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        panel._painters[0].png(result)
        picture.append(1e3 * (time.perf_counter() - start))
    return [line("panel.set in Python", whole), line("  of it: build, shot and sweep", physics),
            line("  of it: picture", picture)]  # fmt: skip


def browser_part(presses: int) -> list[str]:
    """Key press to painted picture in JupyterLab and Chromium: single presses, then a key held down."""
    from conftest import find_chromium
    from lab_harness import FLAGS, LabPage, lab_server
    from playwright.sync_api import sync_playwright

    with (
        tempfile.TemporaryDirectory() as folder,
        lab_server(ROOT / "notebooks", Path(folder)) as lab,
        sync_playwright() as playwright,
    ):
        chrome = playwright.chromium.launch(executable_path=find_chromium(), args=FLAGS)
        page = chrome.new_page(viewport={"width": 1280, "height": 900})
        notebook = LabPage(page, lab, "10_barrel_length.ipynb")
        notebook.run_all()
        panel = notebook.panel("Barrel length")
        panel.scroll_into_view_if_needed()
        notebook.press(panel, "barrel length", "ArrowRight", 3)
        notebook.settled(panel)
        panel.evaluate(WATCH)
        lines = [
            line(f"key press to painted picture: {label}", singles(notebook, panel, label, presses))
            for label in ("barrel length", "chamber bore", "spring wire")
        ]
        chrome.close()
    return lines


def singles(notebook: Any, panel: Any, label: str, presses: int) -> list[float]:
    """Times of single presses to and fro, each after the last picture has come to rest."""
    notebook.page.evaluate("window.times = []")
    for press in range(presses):
        notebook.press(panel, label, "ArrowLeft" if press % 2 else "ArrowRight")
        notebook.page.wait_for_timeout(250)
    return list(notebook.page.evaluate("window.times"))


def main() -> None:
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before: other work adds to the times")
    print(f"{'ms':<58} {'median':>7} {'p95':>7} {'n':>5}")
    for part in (python_part, browser_part):
        print("\n".join(part(presses)), flush=True)


if __name__ == "__main__":
    main()
