"""Every panel on a screen: none taller than what is in sight, picture beside each control, nothing cut."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import nbformat
import pytest
from lab_harness import HERE, LabPage, Server
from matplotlib.text import Text

from blasterlab import panels
from blasterlab.figures.style import DPI

pytestmark = pytest.mark.browser

#: How each panel is made.
MADE = {
    "barrel_panel": "()",
    "build_panel": "()",
    "chronograph_panel": "()",
    "compare_panel": "(build, bl.demo_build('apprentice'))",
    "ends_panel": "(build)",
    "explain_panel": "()",
    "group_panel": "()",
    "losses_panel": "()",
    "motion_panel": "(bl.simulate(build))",
    "question_panel": "('1.1')",
    "scale_panel": "()",
    "seal_panel": "(build)",
    "search_panel": "()",
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
#: Words in the panels too pale for what is behind them: below 4.5:1, or 3:1 where large (WCAG 2.2, 1.4.3).
PALE = """here => {
  const colour = text => {
    const [r, g, b, a = 1] = text.match(/[\\d.]+/g).map(Number);
    return [r, g, b, a];
  };
  const over = (top, below) => [0, 1, 2].map(i => top[3] * top[i] + (1 - top[3]) * below[i]);
  const light = rgb => {
    const [r, g, b] = rgb.map(x => x / 255).map(x => x <= 0.04045 ? x / 12.92 : ((x + 0.055) / 1.055) ** 2.4);
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const behind = x => {
    if (!x) return [255, 255, 255];
    const own = colour(getComputedStyle(x).backgroundColor);
    return own[3] == 1 ? own.slice(0, 3) : over(own, behind(x.parentElement));
  };
  const found = new Set(), seen = x => x.getBoundingClientRect().height && !x.closest('svg,style,option');
  let count = 0;
  const look = (x, text, style) => {
    if (x.disabled || !text.replace(/[\\s\\u200b]/g, '')) return;
    const back = behind(x), fore = over(colour(style.color), back);
    const [high, low] = [light(fore), light(back)].sort((a, b) => b - a);
    const ratio = (high + 0.05) / (low + 0.05);
    const size = parseFloat(style.fontSize), large = size >= 24 || (size >= 18.66 && style.fontWeight >= 700);
    count += 1;
    if (ratio < (large ? 3 : 4.5)) found.add(`${text.trim().slice(0, 40)}: ${ratio.toFixed(2)}`);
  };
  for (const panel of document.querySelectorAll(here + ' .bl-panel')) {
    const walk = document.createTreeWalker(panel, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) {
      const x = walk.currentNode.parentElement;
      if (seen(x)) look(x, walk.currentNode.data, getComputedStyle(x));
    }
    for (const x of [...panel.querySelectorAll('input, textarea, select')].filter(seen)) {
      look(x, x.value, getComputedStyle(x));
      if (x.placeholder && !x.value) look(x, x.placeholder, getComputedStyle(x, '::placeholder'));
    }
  }
  return [count, [...found]];
}"""
#: Width and height of each picture that stands alone in its panel.
ALONE = """here => [...document.querySelectorAll(here + ' .bl-panel .bl-pictures img:only-of-type')].map(
  x => [x.getBoundingClientRect().width, x.getBoundingClientRect().height])"""
#: Width on the screen and own width of every picture of each panel, the panel's name first.
PICTURES = """here => [...document.querySelectorAll(here + ' .bl-panel')].map(panel => [
  panel.querySelector('b').innerText, [...panel.querySelectorAll('.bl-pictures img')].map(
    x => [x.getBoundingClientRect().width, x.naturalWidth])])"""
LETTERS = 8.0  # size of type that no letter of a picture may go below on a phone [px]
#: Names in the lists that are in sight, each as it would stand in its list once chosen: which are cut.
CUT = """here => {
  const pen = document.createElement('canvas').getContext('2d'), found = [];
  for (const list of document.querySelectorAll(here + ' .bl-panel select')) {
    if (!list.getBoundingClientRect().height) continue;
    const look = getComputedStyle(list);
    pen.font = look.font;
    const room = list.clientWidth - parseFloat(look.paddingLeft) - parseFloat(look.paddingRight);
    found.push(...[...list.options].map(x => x.text).filter(x => pen.measureText(x).width > room));
  }
  return found;
}"""
#: What stands around each end of a line of the first printed text, the last letter of a line before a bar.
BROKEN = """here => {
  const text = document.querySelector(here + ' .jp-OutputArea-output pre').firstChild, found = [];
  const one = document.createRange(), words = text.data;
  for (let i = 1, last = null; i < words.length; i++) {
    one.setStart(text, i); one.setEnd(text, i + 1);
    const box = one.getBoundingClientRect();
    if (!box.width) continue;
    if (last !== null && box.top > last + 3) found.push(words[i - 1] + '|' + words[i]);
    last = box.top;
  }
  return found;
}"""
#: Buttons in sight whose words are cut.
SHORT = """here => [...document.querySelectorAll(here + ' .bl-panel button')].filter(
  x => x.scrollWidth > x.clientWidth).map(x => x.innerText)"""
SPOKEN = """here => [...document.querySelectorAll(here + ' .bl-panel [role=slider]')].map(
  x => ['aria-label', 'aria-valuenow', 'aria-valuetext'].map(name => x.getAttribute(name)))"""


def test_every_panel_is_measured() -> None:
    assert {name for name in panels.__all__ if name.endswith("_panel")} == set(MADE)


def letters_of(shown: list[Any]) -> dict[str, float]:
    """Size of the smallest letters in the pictures of each panel as they are shown [px]."""
    names: dict[str, Any] = {}
    exec(SETUP, names)
    found = {}
    for (title, pictures), (name, how) in zip(shown, MADE.items(), strict=True):
        panel = eval(f"panels.{name}{how}", names)
        views = panel.views if pictures else []
        for view, (across, own) in zip(views, pictures, strict=True):
            texts = [text for text in view.figure.findobj(Text) if text.get_visible() and text.get_text()]
            assert own == round(DPI * view.figure.get_figwidth())
            size = min(text.get_fontsize() for text in texts) * DPI / 72 * across / own
            found[title] = min(round(size, 2), found.get(title, size))
    assert len(found) > 15
    return found


def opened(page: Any, lab: Server, name: str, cells: list[str]) -> LabPage:
    """A notebook with these cells in it, run."""
    made = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell(cell) for cell in cells])
    made.metadata["kernelspec"] = {"name": "python3", "display_name": "Python 3"}
    nbformat.write(made, lab.config.parent / "notebooks" / name)
    book = LabPage(page, lab, name)
    book.run_all()
    assert book.faults() == []
    return book


@pytest.fixture
def book(page: Any, lab: Server) -> LabPage:
    """A notebook with every panel in it, run."""
    cells = [SETUP, *(f"panels.{name}{how}" for name, how in MADE.items())]
    return opened(page, lab, "every_panel.ipynb", cells)


# Opened help that runs past its panel's right edge.
PAST = """here => [...document.querySelectorAll(here + ' .bl-panel .bl-help')].filter(help =>
  help.getBoundingClientRect().right > help.closest('.bl-panel').getBoundingClientRect().right + 0.5
).map(help => help.textContent)"""


def legible(book: LabPage) -> None:
    """No words in a panel too pale for what is behind them, or past its edge, the folded ones opened too."""
    book.page.evaluate(f"document.querySelectorAll('{HERE} .bl-panel details').forEach(x => x.open = true)")
    count, pale = book.page.evaluate(PALE, HERE)
    assert count > 700
    assert not pale, pale
    assert book.page.evaluate(PAST, HERE) == []
    book.page.evaluate(f"document.querySelectorAll('{HERE} .bl-panel details').forEach(x => x.open = false)")


def test_panels_fit_the_screen_are_legible_and_say_their_values(book: LabPage) -> None:
    page = book.page
    view, heights = page.evaluate(HEIGHTS, HERE)
    print(f"{view} px in sight at 1280 x 900:", heights)
    assert len(heights) == len(MADE)
    assert [(name, tall) for name, tall in heights if tall > view] == []
    assert page.evaluate(CUT, HERE) == []
    spoken = page.evaluate(SPOKEN, HERE)
    assert len(spoken) > 60
    for label, now, text in spoken:
        assert re.fullmatch(r"-?\d+(\.\d{1,4})?", now), (label, now)
        unit = label.rpartition(", ")[2] if ", " in label else ""
        assert (text, len(label) >= 3) == (f"{now} {unit}".strip(), True)
    legible(book)
    page.locator(".lm-MenuBar-itemLabel", has_text="Settings").first.click()
    page.locator(".lm-Menu-itemLabel", has_text="Theme").first.hover()
    page.locator(".lm-Menu-itemLabel:text-is('JupyterLab Dark')").click()
    page.wait_for_selector("body[data-jp-theme-light=false]", state="attached")
    page.wait_for_timeout(1000)
    legible(book)
    for wide, close in ((720, False), (720, True), (390, False)):
        page.set_viewport_size({"width": wide, "height": 900})
        if close:
            page.keyboard.press("Control+b")  # the list of files
        page.wait_for_timeout(1000)
        assert page.evaluate(APART, HERE) == [], (wide, close)
        if wide > 390:
            continue
        assert page.evaluate(CUT, HERE) == []
        for panel in page.locator(f"{HERE} .bl-panel").all():
            assert book.overflow(panel) == []
        alone = page.evaluate(ALONE, HERE)
        assert len(alone) > 10
        for across, tall in alone:  # of 324 between the bars of JupyterLab: 274 with its margins
            assert across >= 310 or tall >= 0.355 * 900  # no taller, so that a control is in sight too
        letters = letters_of(page.evaluate(PICTURES, HERE))
        print("px of the smallest letters at 390 px:", letters)
        assert min(letters.values()) >= LETTERS


def test_learned_losses_fit_the_screen(page: Any, lab: Server, artifacts: Path) -> None:
    """Nothing is learned before the button; then answer and picture fit, on a phone too."""
    cells = [SETUP, "print('the plunger goes, 17.3 m/s; ' * 40)", "panels.losses_panel()"]
    book = opened(page, lab, "losses.ipynb", cells)
    panel = book.panel("Losses")
    page.keyboard.press("Control+b")  # the list of files
    book.shows(panel, "not learned yet")
    panel.get_by_role("button", name="Learn", exact=True).click()
    panel.get_by_text("Your build shoots ").wait_for(timeout=60_000)
    view, ((_, tall),) = page.evaluate(HEIGHTS, HERE)
    assert tall <= view
    for wide in (1280, 390):
        book.shoot(artifacts / f"losses_{wide}.png", wide, panel)
        assert book.overflow(panel) == []
        assert page.evaluate(SHORT, HERE) == []
        lines = page.evaluate(BROKEN, HERE)
        assert len(lines) > 5
        assert {line[:2] for line in lines} == {" |"}, lines  # at spaces, never inside a word


def test_a_search_by_hand_fits_the_screen(page: Any, lab: Server, artifacts: Path) -> None:
    """Nothing is searched before the button; then answer, picture and table fit, on a phone too."""
    book = opened(page, lab, "search.ipynb", [SETUP, "panels.search_panel(build)"])
    panel = book.panel("Parts to order")
    table = panel.locator(".bl-table")
    page.keyboard.press("Control+b")  # the list of files
    book.type_into(panel, "muzzle velocity", "45")
    book.idle()
    book.shows(panel, "not searched yet")
    assert not table.count()
    before = panel.locator("img").first.get_attribute("src")
    panel.get_by_role("button", name="Search").click()
    answer = re.compile(r"^\d+ of \d+ combinations meet all requirements; (order|nearest): spring")
    panel.get_by_text(answer).wait_for(timeout=60_000)
    assert panel.locator("img").first.get_attribute("src") != before
    assert table.locator("tr").count() == 6
    view, ((_, tall),) = page.evaluate(HEIGHTS, HERE)
    assert tall <= view
    found = table.inner_text()
    book.type_into(panel, "muzzle velocity", "44")
    book.shows(panel, "not searched yet")
    assert not table.count()
    panel.get_by_role("button", name="Undo").click()
    table.wait_for()
    assert table.inner_text() == found
    for wide in (1280, 390):
        book.shoot(artifacts / f"search_{wide}.png", wide, panel)
        assert book.overflow(panel) == []
        assert table.evaluate("x => x.scrollWidth <= x.clientWidth + 1")
