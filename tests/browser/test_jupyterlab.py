"""The notebooks as a builder sees them: JupyterLab in Chromium, run from top to bottom, one control moved."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from lab_harness import LabPage
from nbconvert import HTMLExporter
from PIL import Image

pytestmark = pytest.mark.browser

FOLDER = Path(__file__).parents[2] / "notebooks"
#: Those with controls; the pictures and words of the others are compared without a browser.
WITH_PANELS = {path.name for path in FOLDER.glob("*.ipynb") if "panels." in path.read_text(encoding="utf-8")}
ALONE = "91_how_far_to_trust_it_solutions.ipynb"
START, BARREL, GROUPS = "00_start_here.ipynb", "10_barrel_length.ipynb", "62_groups.ipynb"
WIDTHS = (1280, 720)


def run_through(notebook: LabPage, name: str, artifacts: Path) -> None:
    """Run a notebook from top to bottom without a fault, and keep how it looks at both widths."""
    notebook.run_all()
    assert notebook.faults() == []
    assert notebook.page.locator(".jp-OutputArea-output").count() >= 2
    for wide in WIDTHS:
        notebook.shoot_all(artifacts / f"{Path(name).stem}_{wide}.png", wide)


def test_panels_are_found() -> None:
    others = {
        "20_volume_ratio.ipynb",
        "30_spring_and_prime.ipynb",
        "50_chronograph_day.ipynb",
        "60_down_range.ipynb",
    }
    assert {START, BARREL, GROUPS} | others <= WITH_PANELS


@pytest.mark.parametrize("name", sorted(WITH_PANELS - {START, BARREL, GROUPS}))
def test_runs_from_top_to_bottom_without_a_fault(name: str, page: Any, lab: Any, artifacts: Path) -> None:
    """The three left out here are run in the same way before a control is moved, below."""
    run_through(LabPage(page, lab, name), name, artifacts)


@pytest.mark.parametrize(("name", "dark"), [(START, False), (BARREL, True)])
def test_a_key_moves_picture_readout_and_words(
    name: str, dark: bool, page: Any, lab: Any, artifacts: Path
) -> None:
    lab.settings(dark)
    notebook = LabPage(page, lab, name)
    lab.settings()
    run_through(notebook, name, artifacts)
    assert page.evaluate("document.body.dataset.jpThemeLight") == ("false" if dark else "true")
    filters = page.locator(".jp-RenderedImage img").evaluate_all(
        "all => all.map(x => getComputedStyle(x).filter)"
    )
    assert filters
    assert all(("invert" in each) == dark for each in filters)  # no white card in the dark theme
    panel = notebook.panel("Barrel length")
    before = notebook.state(panel, "barrel length")
    notebook.press(panel, "barrel length", "ArrowRight", 5)
    notebook.settled(panel)
    after = notebook.state(panel, "barrel length")
    assert after["picture"] != before["picture"]
    assert after["alt"] != before["alt"]
    assert float(after["box"]) > float(before["box"])
    assert after["alt"].startswith(f"Barrel length: {float(after['box']):g} mm")
    for wide in WIDTHS:
        theme = "dark" if dark else "light"
        notebook.shoot(artifacts / f"panel_{name[:2]}_{theme}_{wide}.png", wide, panel)
        assert notebook.overflow(panel) == []


def shade(picture: Any) -> float:
    """How bright the ground of a picture is on the screen, 0 to 255."""
    seen = Image.open(io.BytesIO(picture.screenshot())).convert("L")
    return float(np.median(np.asarray(seen)))


def test_still_pictures_are_dark_where_the_page_is_and_as_wide_as_a_phone_lets_them(
    page: Any, lab: Any, artifacts: Path
) -> None:
    """Without a panel whose style they could borrow: once they are trusted, and in an exported page."""
    assert ALONE not in WITH_PANELS
    lab.settings(dark=True)
    notebook = LabPage(page, lab, ALONE)
    lab.settings()
    pictures = page.locator(".jp-RenderedImage img")
    assert shade(pictures.first) == 255.0  # a plain picture where JupyterLab takes styles out
    notebook.run_all(300.0)  # the waves are compiled first where nobody has shot them yet
    assert max(map(shade, pictures.all())) < 50
    pictures.first.scroll_into_view_if_needed()
    page.screenshot(path=artifacts / "still_dark_1280.png")
    page.keyboard.press("Control+b")  # the list of files
    page.set_viewport_size({"width": 390, "height": 844})
    page.wait_for_timeout(1000)
    for picture in pictures.all():
        box = picture.bounding_box()
        assert box["width"] >= 310  # of 324 between the bars of JupyterLab: 274 with its margins
        assert 33 <= box["x"] <= box["x"] + box["width"] <= 357
    assert page.evaluate("document.querySelector('.jp-WindowedPanel-outer').scrollLeft") == 0
    pictures.first.scroll_into_view_if_needed()
    page.screenshot(path=artifacts / "still_dark_390.png")
    for theme, dark in (("dark", True), ("light", False)):
        text, _ = HTMLExporter(theme=theme).from_filename(str(FOLDER / ALONE))
        page.set_content(text)
        assert all((shade(picture) < 50) == dark for picture in pictures.all())


def test_a_notebook_that_is_trusted_is_dark_before_it_is_run(page: Any, lab: Any) -> None:
    """As Binder's image has them: signed beside the server's data, the file left as it is."""
    file, before = lab.config.parent / "notebooks" / "copy.ipynb", (FOLDER / START).read_bytes()
    file.write_bytes(before)
    lab.settings(dark=True)
    LabPage(page, lab, file.name)
    pictures = page.locator(".jp-OutputArea img")
    assert shade(pictures.first) == 255.0
    signed = {**os.environ, "JUPYTER_DATA_DIR": str(lab.config.parent / "data")}
    subprocess.run([Path(sys.executable).with_name("jupyter"), "trust", file], env=signed, check=True)
    assert file.read_bytes() == before
    LabPage(page, lab, file.name)
    lab.settings()
    assert pictures.count() > 2
    assert max(map(shade, pictures.all())) < 50


def test_entries_messages_units_and_reset(page: Any, lab: Any, artifacts: Path) -> None:
    notebook = LabPage(page, lab, BARREL)
    notebook.run_all()
    panel = notebook.panel("Barrel length")
    first = notebook.state(panel, "barrel length")
    notebook.type_into(panel, "barrel length", "12 in")
    notebook.settled(panel)
    assert notebook.state(panel, "barrel length")["box"] == "304.8"
    notebook.type_into(panel, "barrel length", "12,5")
    notebook.shows(panel, "a decimal point and no comma")
    notebook.shoot(artifacts / "panel_message_720.png", 720, panel)
    panel.locator("select", has_text="US customary").select_option("US customary")
    notebook.shows(panel, "ft/s")
    notebook.settled(panel)
    assert notebook.state(panel, "barrel length")["box"] == "12.00"
    notebook.shoot(artifacts / "panel_us_1280.png", 1280, panel)
    assert notebook.overflow(panel) == []
    panel.locator("select", has_text="US customary").select_option("metric")
    notebook.shows(panel, "304.8 mm:")
    panel.get_by_role("button", name="Reset").click()
    notebook.shows(panel, "400 mm:")
    notebook.settled(panel)
    assert notebook.state(panel, "barrel length") == first
    panel.get_by_role("button", name="Save picture").click()
    for name, start in (("png", b"\x89PNG"), ("svg", b"<?xml"), ("csv", b"barrel_length_m,")):
        with page.expect_download() as saved:
            panel.get_by_role("link", name=f"barrel-length-workhorse.{name}").click()
        assert saved.value.suggested_filename == f"barrel-length-workhorse.{name}"
        assert Path(saved.value.path()).read_bytes().startswith(start)
    notebook.shoot(artifacts / "panel_saved_1280.png", 1280, panel)
    assert notebook.overflow(panel) == []


def test_holes_are_clicked_on_the_sheet_and_on_a_photograph(
    page: Any, lab: Any, artifacts: Path, tmp_path: Path
) -> None:
    photograph, other = tmp_path / "paper.jpg", tmp_path / "list.txt"
    other.write_text("no picture")
    lying = Image.Exif()
    lying[0x0112] = (
        6  # turned by a quarter when it is shown (JEITA CP-3451, Exif 2.32, 2019, tag Orientation)
    )
    Image.effect_noise((3600, 4800), 90).convert("RGB").save(photograph, quality=97, exif=lying)
    assert photograph.stat().st_size > 10e6  # more than JupyterLab takes in one message
    notebook = LabPage(page, lab, GROUPS)
    run_through(notebook, GROUPS, artifacts)
    panel = notebook.panel("Group")
    holes = panel.locator("textarea").first
    before = holes.input_value().splitlines()
    panel.get_by_text("Click holes on a sheet").click()
    sheet = panel.locator("svg[aria-label^='A sheet']")
    side = sheet.bounding_box()["width"]
    sheet.click(position={"x": 0.75 * side, "y": 0.5 * side})
    notebook.settled(panel)
    *kept, new = holes.input_value().splitlines()
    assert kept == before
    assert [float(part) for part in new.split(",")] == pytest.approx([93.75, 0.0], abs=2)  # 375 mm wide
    panel.get_by_text("Holes from a photograph").click()
    panel.locator("input[type=file]").set_input_files(other)
    notebook.shows(panel, "'list.txt' cannot be read here")
    panel.locator("input[type=file]").set_input_files(photograph)
    notebook.shows(panel, "one end of a length")
    picture = panel.locator("svg[aria-label^='The photograph']")
    assert picture.get_attribute("viewBox") == "0 0 1000 750"
    assert (
        panel.locator("image").evaluate("async x => { await x.decode?.(); return x.getBBox().width }") == 1000
    )
    wide = picture.bounding_box()["width"]
    for count, (right, down) in enumerate([(0.1, 0.1), (0.6, 0.1), (0.5, 0.4), (0.6, 0.4), (0.5, 0.6)], 1):
        picture.scroll_into_view_if_needed()
        picture.click(position={"x": right * wide, "y": down * wide})
        panel.locator(f"svg[aria-label='The photograph with {count} clicks on it']").wait_for()
    notebook.shows(panel, "Type the length between your two marks")
    notebook.type_into(panel, "known length", "100 mm")
    notebook.shows(panel, "2 so far")
    for width in WIDTHS:
        notebook.shoot(artifacts / f"panel_photograph_{width}.png", width, panel)
        assert notebook.overflow(panel) == []
    panel.get_by_role("button", name="Take these holes").click()  # 0.5 of the width is 100 mm
    notebook.settled(panel)
    first, *lines = holes.input_value().splitlines()
    assert first.startswith("# from a photograph")
    points = [[float(part) for part in line.split(",")] for line in lines]
    assert points[0] == pytest.approx([20.0, 0.0], abs=1.0)
    assert points[1] == pytest.approx([0.0, -40.0], abs=1.0)
    assert notebook.faults() == []
