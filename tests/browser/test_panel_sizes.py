"""Every panel on a screen: none taller than what is in sight, picture beside each control, nothing cut."""

from __future__ import annotations

import re
from typing import Any

import nbformat
import pytest
from lab_harness import HERE, LabPage, Server

from blasterlab import panels

pytestmark = pytest.mark.browser

#: How each panel is made.
MADE = {
    "barrel_panel": "()",
    "build_panel": "()",
    "chronograph_panel": "()",
    "compare_panel": "(build, bl.demo_build('apprentice'))",
    "ends_panel": "(build)",
    "group_panel": "()",
    "motion_panel": "(bl.simulate(build))",
    "question_panel": "('1.1')",
    "scale_panel": "()",
    "seal_panel": "(build)",
    "spring_panel": "()",
    "strength_panel": "(build)",
    "trajectory_panel": "({'light': build, 'heavy': build.replace({'dart.mass': '1.3 g'})})",
    "tuning_panel": "()",
    "units_panel": "()",
    "volume_ratio_panel": "()",
    "wind_panel": "()",
}
SETUP = "import blasterlab as bl\nfrom blasterlab import panels\nbuild = bl.demo_build('workhorse')"
#: Height of what is in sight of the notebook, and of each panel.
HEIGHTS = """here => {
  const tall = x => Math.round(x.getBoundingClientRect().height);
  const panels = [...document.querySelectorAll(here + ' .bl-panel')];
  const heights = panels.map(x => [x.querySelector('b').innerText, tall(x)]);
  return [tall(document.querySelector(here + ' .jp-WindowedPanel-outer')), heights];
}"""
#: Each row that is not folded away, scrolled into sight: which are not in sight together with all pictures.
APART = """here => {
  const found = [], view = document.querySelector(here + ' .jp-WindowedPanel-outer').getBoundingClientRect();
  const box = x => x.getBoundingClientRect();
  for (const panel of document.querySelectorAll(here + ' .bl-panel')) {
    for (const row of [...panel.querySelectorAll('.bl-row')].filter(x => box(x).height)) {
      row.scrollIntoView({block: 'end'});
      for (const picture of panel.querySelectorAll('.bl-pictures img')) {
        const seen = box(picture), asked = box(row);
        const whole = seen.top >= view.top - 1 && seen.bottom <= view.bottom + 1;
        if (!whole || asked.top < view.top - 1 || asked.top < seen.bottom - 1)
          found.push(panel.querySelector('b').innerText + ': ' + row.innerText.split('\\n')[0]);
      }
    }
  }
  return found;
}"""
SPOKEN = """here => [...document.querySelectorAll(here + ' .bl-panel [role=slider]')].map(
  x => ['aria-label', 'aria-valuenow', 'aria-valuetext'].map(name => x.getAttribute(name)))"""


def test_every_panel_is_measured() -> None:
    assert {name for name in panels.__all__ if name.endswith("_panel")} == set(MADE)


@pytest.fixture
def book(page: Any, lab: Server) -> LabPage:
    """A notebook with every panel in it, run."""
    cells = [SETUP, *(f"panels.{name}{how}" for name, how in MADE.items())]
    made = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
    made.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
    nbformat.write(made, lab.config.parent / "notebooks" / "every_panel.ipynb")
    book = LabPage(page, lab, "every_panel.ipynb")
    book.run_all()
    assert book.faults() == []
    return book


def test_panels_fit_the_screen_and_say_their_values(book: LabPage) -> None:
    page = book.page
    view, heights = page.evaluate(HEIGHTS, HERE)
    print(f"{view} px in sight at 1280 x 900:", heights)
    assert len(heights) == len(MADE)
    assert [(name, tall) for name, tall in heights if tall > view] == []
    spoken = page.evaluate(SPOKEN, HERE)
    assert len(spoken) > 60
    for label, now, text in spoken:
        assert re.fullmatch(r"-?\d+(\.\d{1,4})?", now), (label, now)
        unit = label.rpartition(", ")[2] if ", " in label else ""
        assert (text, len(label) >= 3) == (f"{now} {unit}".strip(), True)
    for wide, close in ((720, False), (720, True), (390, False)):
        page.set_viewport_size({"width": wide, "height": 900})
        if close:
            page.keyboard.press("Control+b")  # the list of files
        page.wait_for_timeout(1000)
        assert page.evaluate(APART, HERE) == [], (wide, close)
        if wide > 390:
            continue
        for panel in page.locator(f"{HERE} .bl-panel").all():
            assert book.overflow(panel) == []
