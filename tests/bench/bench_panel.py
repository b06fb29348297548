"""From key press to new picture in the panels, physics included; prints a table.

Use: ``python tests/bench/bench_panel.py [presses]``.  It starts JupyterLab and headless Chromium, presses an
arrow key on a slider, and takes the time until the browser has decoded and painted the new picture.  The
barrel length panel is measured with three sliders, every other panel of the kit with one; where a panel has
no slider its text is typed or its list moved, and where it has no picture its words count.  The medians shall
stay below 50 ms for the barrel length panel and below 80 ms elsewhere; the floor stands beside each.
The page presses and times by itself, with no debugger attached, as in a user's browser: an attached one
copies every message between page and server, which costs some 10 ms a press on two cores (one line says how
many).  Two things beside it say what the machine and the browser cost:
a slider that swaps two ready-made pictures of the same size, and ``interactive`` around a plain plot of the
same curve.
"""

from __future__ import annotations

import contextlib
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path[:0] = [str(ROOT / "tests"), str(ROOT / "tests" / "browser")]

# A key press sets the clock; the first frame after the new picture is decoded stops it.
WATCH = """panel => {
  window.times = []; let start = null;
  const picture = () => panel.querySelector('.bl-sight img') || panel.querySelector('img');
  const seen = () => (picture() || {}).src || panel.querySelector('.bl-sight').innerHTML;
  document.addEventListener('keydown', () => { start = performance.now(); }, true);
  if (window.watching) window.watching.disconnect();
  window.watching = new MutationObserver(() => {
    if (start === null || seen() === window.lastSeen) return;
    window.lastSeen = seen();
    const began = start, decoded = picture() ? picture().decode() : Promise.resolve();
    decoded.then(() => requestAnimationFrame(() => window.times.push(performance.now() - began)));
  });
  window.watching.observe(panel, {subtree: true, childList: true, attributes: true, characterData: true});
  window.lastSeen = seen();
}"""

# Single presses to and fro, each after the last picture has come to rest: an arrow on a slider, one word of a
# text for another, or the next choice of a list.
PRESS = """async (handle, [presses, pause, words]) => {
  window.times = [];
  const first = handle.value, other = words && first.replace(...words);
  if (words && other == first) throw new Error(`${words[0]} is not in the box`);
  (async () => {
    for (let k = 0; k < presses; k++) {
      const key = k % 2 ? 'ArrowLeft' : 'ArrowRight';
      handle.dispatchEvent(new KeyboardEvent('keydown', {key, bubbles: true, cancelable: true}));
      if (handle.tagName == 'TEXTAREA') handle.value = k % 2 ? first : other;
      if (handle.tagName == 'SELECT') handle.selectedIndex = 1 - k % 2;
      if (handle.value !== undefined)
        for (const name of ['input', 'change']) handle.dispatchEvent(new Event(name, {bubbles: true}));
      await new Promise(done => setTimeout(done, pause));
    }
  })();
}"""
PAUSE = 0.25  # s from press to press
#: Every other panel: how it is made, its title, what is moved, and which word a text changes for which.
OTHERS: tuple[tuple[str, str, str, tuple[str, str] | None], ...] = (
    ("volume_ratio_panel()", "Volume ratio", "spring wire", None),
    ("spring_panel()", "Spring and prime", "wire", None),
    ("scale_panel()", "From the scale", "readings", ("2010", "2050")),
    ("seal_panel(build)", "Ring and groove", "bore", None),
    ("ends_panel(build)", "Both ends", "stroke", None),
    ("strength_panel(build)", "Strength", "wall", None),
    ("motion_panel(bl.simulate(build))", "Shot in time", "time", None),
    ("chronograph_panel()", "Chronograph", "cap", None),
    ("trajectory_panel()", "Trajectory", "target at", None),
    ("wind_panel()", "Wind and lead", "wind", None),
    ("group_panel()", "Group", "target at", None),
    ("tuning_panel()", "Tuning", "spring wire", None),
    ("build_panel(build.to_text())", "Build", "build text", ('stroke = "90', 'stroke = "91')),
    ("compare_panel(build)", "Two builds", "first build", ('stroke = "90', 'stroke = "91')),
    ("explain_panel()", "What explains it", "shots now", ("178", "179")),
    ("losses_panel()", "Losses", "string 1", ("187.1", "189.9")),
    ("search_panel()", "Parts to order", "muzzle velocity", None),
    ("question_panel('1.1')", "Question 1.1", "your answer", None),
    ("units_panel()", "Units", "units", None),  # in a notebook of its own: it moves every panel beside it
)
#: What is moved: a slider's handle, a text, or a list.
MOVED = ".noUi-handle, textarea, select"

REFERENCE = (
    """
import base64, ipywidgets as W, numpy as np, matplotlib.pyplot as plt, blasterlab as bl
from blasterlab import panels
panel = panels.barrel_panel(bl.demo_build("workhorse"))
pages = []
for length in ("300 mm", "330 mm"):
    panel.set("barrel.length", length)
    data = base64.b64encode(panel.pictures[0]).decode()
    pages.append(f'<img alt="{length}" style="width:100%" src="data:image/png;base64,{data}">')
slider, picture = W.IntSlider(value=50), W.HTML(pages[0])
slider.observe(lambda change: setattr(picture, "value", pages[change["new"] % 2]), "value")
W.VBox([W.HTML("<b>Floor</b>"), W.HBox([W.HTML("<label>turn</label>"), slider]), picture])
""",
    """
sweep = panel.result.sweep
def plot(turn):
    plt.figure(figsize=(5.2, 3.4)); plt.plot(sweep.lengths, sweep.velocities * (1 + turn / 1000)); plt.show()
plain = W.interactive(plot, turn=W.IntSlider(value=50, description="", continuous_update=True))
turn = W.HBox([W.HTML("<label>turn</label>"), plain.children[0]])
W.VBox([W.HTML("<b>Interactive</b>"), turn, plain.children[-1]])
""",
)


def line(name: str, times: Sequence[float], floor: float | None = None) -> str:
    """Median and 95th percentile of times in ms, and the floor's median."""
    ranked = sorted(times)
    if not ranked:
        return f"{name:<58} no new picture"
    high = ranked[min(len(ranked) - 1, round(0.95 * (len(ranked) - 1)))]
    beside = "" if floor is None else f" {floor:7.1f}"
    return f"{name:<58} {statistics.median(ranked):7.1f} {high:7.1f} {len(ranked):5d}{beside}"


def python_part(presses: int) -> list[str]:
    """The panel driven in this process: all of it for two sliders, and the heavy parts of the second alone.

    A moved barrel length leaves the sweep as it is; any other slider shoots it again.
    """
    import blasterlab as bl
    from blasterlab.figures.shot import VelocityView
    from blasterlab.figures.style import Painter
    from blasterlab.panels.barrel_length import barrel_panel
    from blasterlab.panels.moved_build import KeptResults

    build = bl.demo_build("workhorse")
    panel, painter = barrel_panel(build), Painter(VelocityView())
    kept, whole, physics, picture = [], [], [], []
    for press in range(presses):
        start = time.perf_counter()
        panel.set("barrel.length", f"{300 + press} mm")
        kept.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        panel.set("chamber.bore", f"{34 + press % 2} mm")
        whole.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        result = KeptResults().swept_shot(
            build.replace({name: panel.values[name] for name in ("barrel.length", "chamber.bore")})
        )
        physics.append(1e3 * (time.perf_counter() - start))
        start = time.perf_counter()
        painter.png(result)
        picture.append(1e3 * (time.perf_counter() - start))
    return [
        line("panel.set in Python, barrel length", kept),
        line("panel.set in Python, chamber bore", whole),
        line("  of it: build, shot and sweep", physics),
        line("  of it: picture", picture),
    ]


def browser_part(presses: int) -> Iterator[str]:
    """Key press to painted picture in JupyterLab and Chromium, for the panel and what it is compared with."""
    import nbformat
    from lab_harness import LabPage, lab_server
    from nbformat import v4
    from playwright.sync_api import sync_playwright

    from blasterlab import panels

    made = {"barrel_panel", *(how.partition("(")[0] for how, *_ in OTHERS)}
    if left := {name for name in panels.__all__ if name.endswith("_panel")} - made:
        raise SystemExit(f"not measured: {', '.join(sorted(left))}")
    metadata = {"kernelspec": {"name": "python3", "display_name": "Python 3"}}
    setup = "import blasterlab as bl; from blasterlab import panels; build = bl.demo_build('workhorse')"
    calls = [f"panels.{made}" for made, *_ in OTHERS]
    texts = {"reference": REFERENCE, "others": [setup, *calls[:-1]], "units": [setup, calls[-1]]}
    floor = None
    with (
        tempfile.TemporaryDirectory() as folder,
        lab_server(ROOT / "notebooks", Path(folder)) as lab,
        sync_playwright() as playwright,
        chromium(Path(folder) / "profile") as address,
    ):
        for name, cells in texts.items():
            book = v4.new_notebook(cells=[v4.new_code_cell(text) for text in cells], metadata=metadata)
            nbformat.write(book, Path(folder) / "notebooks" / f"{name}.ipynb")
        notebook, opened = None, ""
        for name, title, labels, words in (
            ("reference.ipynb", "Floor", ["turn"], None),
            (
                "10_barrel_length.ipynb",
                "Barrel length",
                ["barrel length", "chamber bore", "spring wire"],
                None,
            ),
            ("reference.ipynb", "Interactive", ["turn"], None),
            *(("others.ipynb", title, [label], words) for _, title, label, words in OTHERS[:-1]),
            ("units.ipynb", *OTHERS[-1][1:2], [OTHERS[-1][2]], None),
        ):
            browser = playwright.chromium.connect_over_cdp(address)
            if notebook is None or name != opened:
                notebook, opened = LabPage(browser.contexts[0].pages[0], lab, name), name
                notebook.run_all()
            notebook.page = browser.contexts[0].pages[0]
            notebook.panel(title).scroll_into_view_if_needed()
            if notebook.row(notebook.panel(title), labels[0]).locator(".noUi-handle").count():
                notebook.press(notebook.panel(title), labels[0], "ArrowRight", 3)
                notebook.settled(notebook.panel(title))
            notebook.panel(title).evaluate(WATCH)
            twice = [(labels[0], True)] if title == "Barrel length" else []
            for label, attached in [*((label, False) for label in labels), *twice]:
                handle = notebook.row(notebook.panel(title), label).locator(MOVED).first
                handle.focus()
                handle.evaluate(PRESS, [presses, 1e3 * PAUSE, words])
                if not attached:
                    browser.close()  # lets go of it: the browser and its page live on
                time.sleep(PAUSE * (presses + 2))
                if not attached:
                    browser = playwright.chromium.connect_over_cdp(address)
                    notebook.page = browser.contexts[0].pages[0]
                how = ", debugger attached" if attached else ""
                times = notebook.page.evaluate("window.times")
                floor = statistics.median(times) if floor is None else floor
                yield line(f"{title}, {label}{how}", times, floor)
            browser.close()


@contextlib.contextmanager
def chromium(profile: Path) -> Iterator[str]:
    """Headless Chromium that lives on when a debugger lets go of it; gives the debugger's address."""
    from conftest import find_chromium
    from lab_harness import FLAGS

    path = find_chromium()
    if path is None:
        raise SystemExit("there is no Chromium here: apt-get install chromium")
    window = ["--window-size=1280,1000", "about:blank"]
    own = ["--remote-debugging-port=0", f"--user-data-dir={profile}"]
    process = subprocess.Popen([path, *FLAGS, *own, *window], stderr=subprocess.DEVNULL)
    try:
        port, end = profile / "DevToolsActivePort", time.monotonic() + 30.0
        while not (port.exists() and port.read_text().strip()):
            if process.poll() is not None or time.monotonic() > end:
                raise RuntimeError(f"Chromium gave no port for its debugger: {path}")
            time.sleep(0.1)
        yield "http://127.0.0.1:" + port.read_text().split()[0]
    finally:
        process.terminate()
        process.wait(10)


def main() -> None:
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 30
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before: other work adds to the times")
    head = f"{'ms; in the browser, from key press to painted picture':<58} {'median':>7} {'p95':>7} {'n':>5}"
    print(f"{head} {'floor':>7}")
    for part in (python_part, browser_part):
        for row in part(presses):
            print(row, flush=True)


if __name__ == "__main__":
    main()
