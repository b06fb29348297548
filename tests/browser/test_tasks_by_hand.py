"""A builder's tasks, each done by hand in at most eight actions, on a screen and on a phone, without Python.

An action is a command, a click, a press of a key, a drag, or a value or text typed into one box; scrolling
and reading are free.  On a phone, closing the list of files is one of them.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from lab_harness import HERE, LabPage, Server

import blasterlab as bl
from blasterlab.bench import kept

pytestmark = pytest.mark.browser

MOST, TAB = 8, ".lm-DockPanel-tabBar .lm-mod-current"
START, BARREL, DAY, LOSSES, RANGE, GROUPS, PLAN = (
    f"{name}.ipynb"
    for name in ("00_start_here", "10_barrel_length", "50_chronograph_day", "52_learned_losses",
                 "60_down_range", "62_groups", "70_plan_a_build")
)  # fmt: skip
MEASURED = """[spring]
wire_diameter = "1.5 mm"
outer_diameter = "16 mm"
free_length = "200 mm"
installed_length = "175 mm"
[chamber]
bore = "35 mm"
tube_length = "110 mm"
[barrel]
bore = "12.9 mm"
length = "25 cm"
[dart]
mass = "1 g"
"""
SHOTS = "ft/s\n151\n148\n153\n147\n149\n152\n146\n150\n149\n151"


class Hand:
    """A hand on one notebook after another, which counts what it does."""

    def __init__(self, page: Any, lab: Server, wide: int) -> None:
        self.page, self.lab, self.wide, self.actions = page, lab, wide, 0
        page.set_viewport_size({"width": wide, "height": 900})

    def start(self, name: str) -> None:
        """Open a notebook, make room for it on a phone, and run it."""
        self.open(name)
        self.run()

    def open(self, name: str) -> None:
        self._did()
        self.book = LabPage(self.page, self.lab, name)
        if self.wide < 600:
            self._did()
            self.page.keyboard.press("Control+b")

    def run(self) -> None:
        self._did()
        self.book.run_all()
        assert self.book.faults() == []

    def follow(self, words: str) -> None:
        self._did()
        self.page.locator(f"{HERE} a", has_text=words).first.click()
        self.page.locator(TAB, has_text=words[:2]).first.wait_for()
        self.page.locator(f"{HERE} .jp-Cell").first.wait_for()
        self.book.idle()

    def back_to(self, name: str) -> None:
        """The tab of a notebook that is open already."""
        self._did()
        self.page.locator(".lm-DockPanel-tabBar .lm-TabBar-tab", has_text=name).first.click()
        self.book.idle()

    def unfold(self, panel: str) -> None:
        self._did()
        self.book.panel(panel).locator(".jupyter-widget-Collapse-header").first.click()

    def write(self, panel: str, label: str, text: str) -> None:
        """Type into the box of a label; a box of several lines is then left."""
        self._did()
        box = self.book.row(self.book.panel(panel), label).locator("input[type=text], textarea").first
        box.fill(text)
        if box.evaluate("box => box.tagName") == "TEXTAREA":
            box.blur()
        else:
            box.press("Enter")

    def name(self, panel: str, words: str) -> None:
        self._did()
        self.book.panel(panel).get_by_placeholder("name your ").fill(words)

    def press(self, panel: str, button: str) -> None:
        self._did()
        self.book.panel(panel).get_by_role("button", name=button).first.click()

    def choose(self, panel: str, label: str, option: str) -> None:
        self._did()
        self.book.row(self.book.panel(panel), label).locator("select").select_option(option)

    def sees(self, panel: str, *words: str) -> None:
        for each in words:
            found = self.book.panel(panel).get_by_text(each).first
            found.wait_for(timeout=20_000)
            assert found.is_visible()

    def _did(self) -> None:
        self.actions += 1


def callipers_only_saved_and_found_in_the_next_notebook(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.write("Build", "build text", MEASURED)
    hand.sees(
        "Build", "62.72 m/s, 27.7 to 67.0 m/s before any chronograph", "Assumed: coils", "narrow it most"
    )
    hand.name("Build", "Garage 3")
    hand.press("Build", "Save build")
    hand.sees("Build", "your build Garage 3, saved ", "To use it in another panel, choose it")
    assert (bench / "builds" / "Garage 3.toml").read_text(encoding="utf-8") == (
        f'title = "Garage 3"\n{MEASURED}'
    )
    hand.follow("10 · How long should the barrel be?")
    hand.run()
    hand.sees("Barrel length", "your build Garage 3, saved ", "62.72 m/s")


def every_example_leaves_a_typed_build_alone(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.write("Build", "build text", MEASURED)
    hand.sees("Build", "changed, not saved")
    hand.page.locator(".jp-CodeCell", has_text="example = panels.").first.locator(
        ".jp-InputArea-editor"
    ).click()
    hand._did()
    for _ in range(2):  # the cells between them are words
        hand.page.keyboard.press("Shift+Enter")
        hand._did()
    hand.book.idle()
    hand.sees("Build", "62.72 m/s, 27.7 to 67.0 m/s", "changed, not saved")
    box = hand.book.panel("Build").locator("textarea").first
    assert box.input_value() == MEASURED


def ten_shots_against_a_cap(hand: Hand, bench: Path) -> None:
    hand.start(DAY)
    hand.write("Chronograph", "shots, one per line", SHOTS)
    hand.write("Chronograph", "cap", "155 ft/s")
    hand.sees("Chronograph", "None of these 10 shots were over 155 ft/s", "aim for 45.02 m/s")


def thinner_wire_under_a_cap(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.write("Barrel length", "speed cap", "150 ft/s")
    hand.write("Barrel length", "spring wire", "1.4 mm")
    hand.sees("Barrel length", "over your cap of 150 ft/s")
    hand.write("Barrel length", "barrel length", "15 cm")
    hand.sees("Barrel length", "on average under your cap of 150 ft/s")


def hold_and_group_at_50_ft(hand: Hand, bench: Path) -> None:
    hand.start(RANGE)
    hand.write("Trajectory", "target at", "50 ft")
    hand.sees("Trajectory", "hold 241 mm high")
    hand.start(GROUPS)
    hand.write("Group", "target at", "50 ft")
    hand.sees("Group", "a group of 10 spans about 270 mm")


def opened_again_after_saving(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.write("Barrel length", "barrel length", "12 in")
    hand.sees("Barrel length", "304.8 mm: ")
    last(hand, "304.8 mm")
    hand.page.locator(f"{HERE} .jp-Toolbar [data-command='docmanager:save']").first.click()
    hand._did()
    hand.page.locator(f"{TAB}:not(.jp-mod-dirty)").first.wait_for()
    hand.lab.end_kernels()
    hand.open(START)
    asked_to_run(hand, "304.8 mm: ")


def kernel_restarted_in_the_middle_of_a_drag(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.write("Barrel length", "barrel length", "12 in")
    hand.sees("Barrel length", "304.8 mm: ")
    last(hand, "304.8 mm")
    handle = hand.book.row(hand.book.panel("Barrel length"), "barrel length").locator(".noUi-handle").first
    handle.scroll_into_view_if_needed()
    place = handle.bounding_box()
    x, y = place["x"] + place["width"] / 2, place["y"] + place["height"] / 2
    hand.page.mouse.move(x, y)
    hand.page.mouse.down()
    hand.page.mouse.move(x + 10, y, steps=5)
    restart = hand.page.locator(f"{HERE} .jp-Toolbar [data-command='notebook:restart-kernel']").first
    restart.dispatch_event("mousedown", {"button": 0})  # so that the mouse still holds the slider
    hand._did()
    hand.page.locator(".jp-Dialog .jp-mod-accept").dispatch_event("click")
    hand._did()
    hand.page.mouse.move(x + 20, y, steps=5)
    hand.page.mouse.up()
    hand._did()
    asked_to_run(hand, "304.8 mm: ")
    lost = hand.page.locator(".bl-last:visible", has_text="as you left it, not saved").first
    assert 'length = "304.8 mm"' in str(lost.text_content())
    hand.book.idle()
    assert hand.page.locator(".jp-Dialog").count() == 0
    hand.run()
    hand.sees("Barrel length", "400 mm: ")


def undone_and_done_again(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.write("Barrel length", "barrel length", "12 in")
    hand.sees("Barrel length", "304.8 mm: ")
    hand.press("Barrel length", "Reset")
    hand.sees("Barrel length", "400 mm: ")
    hand.press("Barrel length", "Undo")
    hand.sees("Barrel length", "304.8 mm: ")


def bench_cleared_and_put_back(hand: Hand, bench: Path) -> None:
    bl.my_builds.save("Garage 3", MEASURED)
    hand.start(START)
    hand.sees("Barrel length", "your build Garage 3, saved ")
    hand.press("Barrel length", "Start from the demo")
    hand.sees("Barrel length", "demo build workhorse")
    assert bl.my_builds.chosen() == ""
    hand.press("Barrel length", "Undo")
    hand.sees("Barrel length", "your build Garage 3, saved ")
    assert bl.my_builds.chosen() == "Garage 3"


def a_candidate_kept_beside_my_build(hand: Hand, bench: Path) -> None:
    bl.my_builds.save("Garage 3", MEASURED)
    hand.start(PLAN)
    hand.press("Parts to order", "Search")
    hand.sees("Parts to order", "combinations meet all requirements; nearest: ")
    hand.name("Parts to order", "Ordered")
    hand.press("Parts to order", "Save build")
    hand.sees("Parts to order", "Saved as Ordered. Panels still start from your build Garage 3, saved ")
    assert (bl.my_builds.chosen(), bl.my_builds.names()) == ("Garage 3", ["Garage 3", "Ordered"])


def units_chosen_once_for_every_notebook(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.choose("Units", "units", "mm and ft/s")
    hand.sees("Units", "mm and ft/s: mm, g, ft/s, J, N, ft")
    hand.sees("Barrel length", "400 mm: 207.1 ft/s")
    hand.follow("10 · How long should the barrel be?")
    hand.run()
    hand.sees("Barrel length", "400 mm: 207.1 ft/s")


def what_explains_a_slower_day(hand: Hand, bench: Path) -> None:
    hand.start(DAY)
    hand.write("What explains it", "shots before", SHOTS)
    hand.write("What explains it", "shots now", "143 ft/s, 8 shots")
    hand.sees(
        "What explains it", "Real, at 95 % confidence: 2.01 m/s slower", "Measure first", "would do all of it"
    )


def callipers_over_a_demo_with_a_loose_dart(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.unfold("Barrel length")
    hand.write("Barrel length", "dart diameter", "12.5 mm")
    hand.sees("Barrel length", "Still the demo's: barrel length", "set 8 mm² to count it")
    hand.press("Barrel length", "My callipers only")
    hand.sees(
        "Barrel length", "build from your callipers", "Still the demo's, until you type yours", "Assumed: "
    )
    hand.sees("Barrel length", "counts as blow-by")
    hand.press("Barrel length", "Undo")
    hand.sees("Barrel length", "demo build workhorse", "set 8 mm² to count it")


def units_chosen_beside_a_panel_that_is_open(hand: Hand, bench: Path) -> None:
    hand.start(START)
    hand.follow("10 · How long should the barrel be?")
    hand.run()
    hand.choose("Barrel length", "units", "mm and ft/s")
    hand.sees("Barrel length", "400 mm: 207.1 ft/s")
    hand.back_to("00")
    hand.sees("Units", "follow at their next move")
    hand.write("Barrel length", "barrel length", "399 mm")
    hand.sees("Barrel length", "399 mm: 207.1 ft/s")
    hand.sees("Units", "mm and ft/s: mm, g, ft/s, J, N, ft")


def losses_learned_and_put_into_the_build(hand: Hand, bench: Path) -> None:
    hand.start(LOSSES)
    hand.sees("Losses", "Press Learn", "not learned yet")
    hand.press("Losses", "Learn")
    hand.sees("Losses", "Your build shoots 55.80 m/s", "Still a guess: ", "What would narrow it most: ")
    last(hand, "Your build shoots 55.80 m/s")
    hand.press("Losses", "Use these losses in my build")
    hand.sees("Losses", "your build my build with learned losses, saved ", "which carries these losses")
    assert bl.my_builds.current().calibration is not None
    hand.press("Losses", "Undo")
    hand.sees("Losses", "demo build workhorse")
    assert bl.my_builds.chosen() == ""


TASKS = (
    callipers_only_saved_and_found_in_the_next_notebook,
    every_example_leaves_a_typed_build_alone,
    ten_shots_against_a_cap,
    thinner_wire_under_a_cap,
    hold_and_group_at_50_ft,
    opened_again_after_saving,
    kernel_restarted_in_the_middle_of_a_drag,
    undone_and_done_again,
    bench_cleared_and_put_back,
    a_candidate_kept_beside_my_build,
    units_chosen_once_for_every_notebook,
    what_explains_a_slower_day,
    losses_learned_and_put_into_the_build,
    callipers_over_a_demo_with_a_loose_dart,
    units_chosen_beside_a_panel_that_is_open,
)


@pytest.mark.parametrize("wide", [1280, 390])
@pytest.mark.parametrize("task", TASKS, ids=lambda task: task.__name__)
def test_by_hand(
    task: Callable[[Hand, Path], None], wide: int, page: Any, lab: Server, bench: Path, artifacts: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    monkeypatch.setenv(kept.VARIABLE, str(bench))
    hand = Hand(page, lab, wide)
    try:
        task(hand, bench)
    finally:
        page.screenshot(path=artifacts / f"by_hand_{task.__name__}_{wide}.png")
    assert 3 <= hand.actions <= MOST


def last(hand: Hand, words: str) -> None:
    """Wait until what is kept of a panel holds these words."""
    hand.page.wait_for_function(
        "words => [...document.querySelectorAll('.bl-last')].some(x => x.textContent.includes(words))",
        arg=words,
    )


def asked_to_run(hand: Hand, words: str) -> None:
    """No panel lives: in its place stand the last picture, its sentence, and how to go on."""
    kept_sight = hand.page.locator(".bl-last:visible", has_text=words).first
    kept_sight.wait_for(timeout=30_000)
    kept_sight.scroll_into_view_if_needed()
    assert kept_sight.locator("img").evaluate("x => x.complete && x.naturalWidth > 300")
    assert kept_sight.get_by_text("Run this cell to move it.").count() == 1
    assert hand.page.get_by_text("model not found").locator("visible=true").count() == 0
