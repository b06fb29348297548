"""An evening at the bench, by hand: a build is typed, saved, found in the next notebook, and never lost."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from lab_harness import LabPage, Server

import blasterlab as bl

pytestmark = pytest.mark.browser

START, BARREL, DAY = "00_start_here.ipynb", "10_barrel_length.ipynb", "50_chronograph_day.ipynb"
TEXT = bl.demo_build("workhorse").replace({"title": "Typed here", "barrel.length": "30 cm"}).to_text()
RUN = "Run this cell to move it."
CELL, MAKES = ".jp-CodeCell", "panels.barrel_panel()"


def paste(panel: Any, text: str) -> None:
    """Paste into the panel's first box of text, and leave it."""
    box = panel.locator("textarea").first
    box.fill(text)
    box.blur()


def save_as(notebook: LabPage, panel: Any, name: str, kind: str = "build") -> None:
    box = panel.get_by_placeholder(f"name your {kind}")
    box.fill(name)
    box.press("Enter")
    panel.get_by_role("button", name=f"Save {kind}").click()
    notebook.shows(panel, f"your {kind} {name}, saved ")


def test_a_typed_build_outlives_every_example_and_goes_to_the_next_notebook(
    page: Any, lab: Server, bench: Path
) -> None:
    notebook = LabPage(page, lab, START)
    notebook.run_all()
    panel = notebook.panel("Build")
    notebook.shows(panel, "demo build workhorse (invented)")
    paste(panel, f"Hi all, mine:\n```\n{TEXT}```\nwhat do you think?")
    notebook.shows(panel, "; changed, not saved")
    notebook.shows(panel, "300 mm: ")
    typed = panel.locator("textarea").first.input_value()
    for cell in page.locator(".jp-CodeCell", has_text="example = panels.").all():
        cell.locator(".jp-InputArea-editor").first.click()
        page.keyboard.press("Control+Enter")
    notebook.idle()
    assert panel.locator("textarea").first.input_value() == typed
    panel.get_by_role("button", name="Undo").click()
    notebook.shows(panel, "400 mm: ")
    panel.get_by_role("button", name="Redo").click()
    notebook.shows(panel, "300 mm: ")
    save_as(notebook, panel, "Garage 3")
    panel.get_by_role("button", name="As text").click()
    with page.expect_download() as download:
        panel.get_by_text("Download garage_3.toml").click()
    assert Path(download.value.path()).read_text(encoding="utf-8") == typed
    assert (bench / "builds" / "Garage 3.toml").read_text(encoding="utf-8") == typed
    other = LabPage(page, lab, BARREL)
    other.run_all()
    assert other.faults() == []
    panel = other.panel("Barrel length")
    other.shows(panel, "your build Garage 3, saved ")
    assert other.state(panel, "barrel length")["box"] == "300"
    assert page.get_by_text("your build Garage 3, saved").first.is_visible()


def test_a_pasted_string_is_kept_and_a_huge_paste_is_refused(page: Any, lab: Server, bench: Path) -> None:
    notebook = LabPage(page, lab, DAY)
    notebook.run_all()
    panel = notebook.panel("Chronograph")
    before = panel.locator("textarea").first.input_value()
    refused = panel.locator("textarea").first.evaluate(
        """box => {
      const clipboardData = new DataTransfer();
      clipboardData.setData('text', '50.1 m/s\\n'.repeat(120000));  // 1 MB
      const given = {clipboardData, bubbles: true, cancelable: true};
      return !box.dispatchEvent(new ClipboardEvent('paste', given));
    }"""
    )
    assert refused
    notebook.shows(panel, "Nothing was pasted: this text has 1080000 characters, and at most 20000 fit here.")
    assert panel.locator("textarea").first.input_value() == before
    paste(panel, "50.1 m/s\n50.3\n49.8\n50.6")
    notebook.shows(panel, "4 shots, mean 50.20 m/s")
    save_as(notebook, panel, "Tuesday", "string")
    panel.get_by_role("button", name="Reset").click()
    notebook.shows(panel, "4 shots, mean 50.20 m/s")
    assert (bench / "strings" / "Tuesday.csv").is_file()


def test_every_state_has_a_picture(page: Any, lab: Server, bench: Path, chrome: Any, artifacts: Path) -> None:
    """Before running, while it lives, after a restart, opened again, and as a page without a network."""
    notebook = LabPage(page, lab, BARREL)
    last = page.locator(CELL, has_text=MAKES).locator(".bl-last")
    assert last.is_visible()
    assert RUN in last.inner_text()
    notebook.run_all()
    assert not last.is_visible()
    panel = notebook.panel("Barrel length")
    notebook.press(panel, "barrel length", "ArrowRight", 5)
    notebook.settled(panel)
    page.wait_for_function(
        "() => /: 405 mm/.test(document.querySelector('.bl-last img').alt)", timeout=20_000
    )
    page.locator(".lm-MenuBar-itemLabel", has_text="Kernel").first.click()
    page.locator(".lm-Menu-item[data-command='kernelmenu:restart']").click()
    page.locator(".jp-Dialog button.jp-mod-accept").click()
    last.wait_for(timeout=30_000)
    assert not panel.is_visible()
    assert RUN in last.inner_text()
    notebook.idle()
    page.keyboard.press("Control+s")
    page.locator(".lm-TabBar-tab.lm-mod-current:not(.jp-mod-dirty)").first.wait_for()
    lab.end_kernels()
    again = LabPage(page, lab, BARREL)
    last.locator("img").wait_for(timeout=30_000)
    assert last.locator("img").get_attribute("alt").startswith("Barrel length: 405 mm: ")
    last.scroll_into_view_if_needed()
    page.screenshot(path=artifacts / "last_picture_opened_again_1280.png")
    cell = page.locator(CELL, has_text=MAKES)
    assert not cell.get_by_text("model not found").is_visible()
    again.run_all()
    assert not last.is_visible()
    assert again.panel("Barrel length").is_visible()
    saved = lab.config.parent / "notebooks" / BARREL
    command = [
        sys.executable,
        "-m",
        "jupyter",
        "nbconvert",
        "--to",
        "html",
        "--output-dir",
        str(bench),
        str(saved),
    ]
    subprocess.run(command, check=True, capture_output=True)
    context = chrome.new_context(offline=True)
    alone = context.new_page()
    alone.goto((bench / BARREL).with_suffix(".html").as_uri(), wait_until="commit")
    kept = alone.locator(CELL, has_text=MAKES).locator(".bl-last")
    kept.locator("img").wait_for(timeout=30_000)
    assert kept.locator("img").evaluate("x => x.complete && x.naturalWidth > 300")
    assert re.search(r"405 mm: \d", kept.inner_text())
    assert not alone.get_by_text("model not found").is_visible()
    context.close()


def test_a_killed_kernel_leaves_the_last_picture_and_its_sentence(
    page: Any, lab: Server, bench: Path, artifacts: Path
) -> None:
    """As a restart does, beside what JupyterLab itself says of it."""
    notebook = LabPage(page, lab, BARREL)
    notebook.run_all()
    panel = notebook.panel("Barrel length")
    last = page.locator(CELL, has_text=MAKES).locator(".bl-last")
    notebook.type_into(panel, "barrel length", "405")
    notebook.shows(panel, "405 mm: ")
    page.wait_for_function(
        "() => /: 405 mm/.test(document.querySelector('.bl-last img').alt)", timeout=20_000
    )
    cell = page.locator(CELL).last
    cell.locator(".cm-content").fill("import os; os.kill(os.getpid(), 9)")
    page.keyboard.press("Shift+Enter")
    last.wait_for(timeout=60_000)
    assert not panel.is_visible()
    assert RUN in last.inner_text()
    assert re.search(r"405 mm: \d", last.inner_text())
    assert last.locator("img").evaluate("x => x.complete && x.naturalWidth > 300")
    page.screenshot(path=artifacts / "kernel_killed_1280.png")
