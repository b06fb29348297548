"""The page that is handed on, in Chromium: its sliders shoot as the kit does, hostile words stay words.

Also by keyboard, on a phone, light and dark, and with its script blocked.
"""

from __future__ import annotations

import dataclasses
import itertools
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_builds import CALLIPERS, LEARNED, TIGHT, WITH_CHRONOGRAPH
from test_page_engine import here

import blasterlab as bl
from blasterlab.page.moves import moves
from blasterlab.page.share import flight
from blasterlab.page.share import page as page_of
from blasterlab.panels.moved_build import KeptResults
from blasterlab.report.barrel_length import band, best
from blasterlab.report.shot import reach
from blasterlab.shot.barrel_sweep import barrel_sweep
from blasterlab.shot.from_build import parameters
from blasterlab.shot.speed_range import speeds_of, unknowns

pytestmark = pytest.mark.browser
HOSTILE = '</script><script>hit=1</script><img src=x onerror="hit=1">{{data}}<!-- \\u2028 & \'"'
MOVE = """picks => picks.map(pick => {
  D.moves.forEach((move, n) => {
    const input = document.getElementById("m" + n);
    if (pick[n] < 0.4) input.value = Math.floor(pick[n] / 0.4 * move.values.length);
    input.dispatchEvent(new Event("input"));
  });
  update();
  return {text: by("text").value, said: by("said").textContent, trouble: by("trouble").textContent,
    range: last && last.range, shown: by("range").textContent,
    shot: last && [...Object.values(last.outcome), ...last.state], p: last && last.p,
    best: last && [last.sweep.best, last.sweep.top, ...(last.sweep.ends || [])]};
})"""


@pytest.fixture
def opened(chrome: Any, tmp_path: Path) -> Iterator[Callable[..., Any]]:
    """Opens a build's page as a file, in a context of its own; fails on any request or error of the page."""
    contexts, faults = [], []

    def open_page(build: bl.Build, cap: Any = None, **how: Any) -> Any:
        path = tmp_path / "page.html"
        build.share_page(path, cap)
        contexts.append(chrome.new_context(**how))
        page = contexts[-1].new_page()
        page.on("request", lambda request: request.url == path.as_uri() or faults.append(request.url))
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda message: faults.append(message.text))
        page.goto(path.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert faults == []


def picks(count: int, share: float = 0.4) -> list[list[float]]:
    """Where the sliders go, one row a setting: each is moved in this share of them, from where it stands."""
    found = np.random.default_rng(count).random((count, 12)) * 0.4 / share
    return found.tolist()  # type: ignore[no-any-return]


def same_shots(page: Any, count: int) -> tuple[int, int]:
    """Move the sliders; how many settings shot to the same bits as their own text does, and were refused."""
    shot = refused = 0
    for found in page.evaluate(MOVE, picks(count)):
        if found["shot"] is None:
            with pytest.raises(bl.BuildError, match="solid"):
                bl.Build.from_text(found["text"])
            assert "this spring at most" in found["trouble"]
            refused += 1
            continue
        build = bl.Build.from_text(found["text"])
        p = parameters(build.si)
        assert found["p"] == p._asdict()
        assert np.array_equal(np.array(found["shot"]).view(np.int64), np.array(here(p)).view(np.int64))
        v = bl.simulate(build).muzzle_velocity.m_as("m/s")
        told = re.match(r"([\d.]+) m/s(?:, | with)", found["said"])
        assert (float(told[1]) == pytest.approx(v, rel=6e-4)) if told else v == 0.0
        shot += 1
    return shot, refused


@pytest.mark.parametrize("name", bl.demo_builds())
def test_moved_settings_shoot_to_the_same_bits(opened: Callable[..., Any], name: str) -> None:
    shot, refused = same_shots(opened(bl.demo_build(name)), 90)
    assert shot + refused == 90
    assert shot > 66  # 200 in all


def test_the_longest_stroke_of_a_spring_is_the_builds(opened: Callable[..., Any]) -> None:
    """The stroke that a refusal names is accepted, and the next one is not."""
    build = bl.demo_build("apprentice")
    page, found = opened(build), moves(build)
    stroke, wire = (
        next(n for n, m in enumerate(found) if m.name == name)
        for name in ("chamber.stroke", "spring.wire_diameter")
    )
    set_both = "([s, k, w, n]) => { at[s] = k; at[w] = n; update(); return by('trouble').textContent; }"
    last, told = len(found[stroke].values) - 1, ""
    for place in range(len(found[wire].values)):
        told = page.evaluate(set_both, [stroke, last, wire, place])
        if told:
            break
    most = re.search(r"at most ([\d.]+) mm", told)
    assert most
    k = next(n for n, v in enumerate(found[stroke].values) if abs(1e3 * v - float(most[1])) < 1e-6)
    assert 0 < k < last
    for step, refused in ((k, False), (k + 1, True)):
        assert bool(page.evaluate(set_both, [stroke, step, wire, place])) == refused
        text = page.input_value("#text")
        if refused:
            assert page.inner_text("#said") == page.inner_text("#range") == ""
            with pytest.raises(bl.BuildError, match="solid"):
                bl.Build.from_text(text)
        else:
            bl.Build.from_text(text)


def test_assumed_and_learned_values_move_too(opened: Callable[..., Any]) -> None:
    assert same_shots(opened(bl.Build.from_text(CALLIPERS)), 20)[0] > 5
    build = dataclasses.replace(bl.demo_build("workhorse"), calibration=LEARNED)
    page = opened(build)
    assert "chronograph strings" in page.inner_text("main")
    assert "dart friction: 1.17 N to 1.83 N" in page.text_content("main")
    assert same_shots(page, 20)[0] > 5
    page.evaluate("by('back').click()")
    assert bl.Build.from_text(page.input_value("#text")) == build


SWEPT = {"moved": ("workhorse", {"losses.dart_friction": "2 N", "chamber.stroke": "60 mm"})}
SWEPT |= {name: (name, {}) for name in bl.demo_builds()}
SWEPT |= {
    "heavy dart": ("workhorse", {"dart.mass": "1.45 g"}),
    "rising to the end": ("two_springs", {"losses.dart_friction": "0.2 N"}),
    "much friction": ("apprentice", {"losses.dart_friction": "6 N"}),
    "sticky dart": ("workhorse", {"losses.dart_breakaway": "8.5 N", "losses.dart_friction": "0.4 N"}),
}


@pytest.mark.parametrize("name", SWEPT)
def test_best_length_and_band_are_the_panels(opened: Callable[..., Any], name: str) -> None:
    """One rule: the same lengths shot, the same curve through them; so the same words."""
    demo, changes = SWEPT[name]
    build = bl.demo_build(demo).replace(changes)
    found, page = KeptResults().swept_shot(build).sweep, opened(build)
    wanted = [found.best_length.m_as("m"), found.best_velocity.m_as("m/s")]
    wanted += [end.m_as("m") for end in found.flat_range(0.01)]
    told = page.evaluate("[last.sweep.best, last.sweep.top, ...last.sweep.ends]")
    np.testing.assert_allclose(told, wanted, rtol=1e-9)
    assert found.at_end == bool(page.evaluate("last.sweep.edge"))
    said, within = page.inner_text("#best"), page.inner_text("#within")
    assert said == best(found, "").strip()
    assert within == band(found).removeprefix("within 1 % from ")
    blocked = opened(build, java_script_enabled=False)
    assert (blocked.inner_text("#best"), blocked.inner_text("#within")) == (said, within)
    fine = barrel_sweep(build, "3 cm", "65 cm", points=200, spacing="ratio")
    assert wanted[0] == pytest.approx(fine.best_length.m_as("m"), rel=0.01)
    for end, known in zip(wanted[2:], fine.flat_range(0.01), strict=True):
        assert end == pytest.approx(known.m_as("m"), abs=1e-3)


def test_hostile_words_stay_words(opened: Callable[..., Any]) -> None:
    build = bl.demo_build("workhorse").replace({"title": HOSTILE, "note": HOSTILE, "author": HOSTILE})
    page = opened(build)
    assert page.text_content("h1") == HOSTILE
    assert page.title() == HOSTILE
    assert page.evaluate("typeof hit") == "undefined"
    assert page.locator("img").count() == 0
    assert bl.Build.from_text(page.input_value("#text")) == build


def test_the_policy_stops_a_script_that_is_not_the_pages(chrome: Any, tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    made = page_of(bl.demo_build("workhorse"))
    path.write_text(made.replace("<main>", "<main><script>hit = 1</script><b onclick='hit = 1'>b</b>"))
    page, refused = chrome.new_page(), []
    page.on("console", lambda message: refused.append(message.text))
    page.goto(path.as_uri())
    page.locator("b").first.click()
    assert page.evaluate("typeof hit") == "undefined"
    assert sum("Content Security Policy" in text for text in refused) >= 2
    assert "with a barrel of" in page.inner_text("#said")  # its own runs
    page.close()


def test_by_keyboard(opened: Callable[..., Any]) -> None:
    page = opened(bl.demo_build("workhorse"))
    first = page.inner_text("#said")
    reached = []
    for _ in range(40):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.id || document.activeElement.tagName"))
        ring = page.evaluate("getComputedStyle(document.activeElement).outlineStyle")
        assert ring != "none" or reached[-1] == "BODY"
    assert {"set", "limit-at", "back", "m0", "m9", "SUMMARY", "text", "copy"} <= set(reached)
    page.focus("#m0")
    page.keyboard.press("ArrowRight")
    page.wait_for_function("text => by('said').textContent !== text", arg=first)
    assert "405 mm" in page.inner_text("#said")
    assert page.get_attribute("#m0", "aria-valuetext") == "405 mm"
    page.focus("#back")
    page.keyboard.press("Enter")
    assert page.inner_text("#said") == first
    names = page.evaluate(
        "[...document.querySelectorAll('input, select, textarea')].map(x => x.labels.length || x.ariaLabel)"
    )
    assert all(names)


def test_units_and_cap(opened: Callable[..., Any]) -> None:
    page, build = opened(bl.demo_build("workhorse")), bl.demo_build("workhorse")
    v, band = bl.simulate(build).muzzle_velocity, bl.range_of(build)
    ends = f"{band.low:.1f} to {band.high:.1f} m/s"
    assert page.inner_text("#said") == f"{v.m_as('m/s'):.2f} m/s, likely {ends}, with a barrel of 400 mm"
    assert page.inner_text("#range") == ends
    page.fill("#limit-at", "65")
    assert (
        page.inner_text("#cap")
        == f"{65 - v.m_as('m/s'):.2f} m/s under the cap, but the range reaches over it"
    )
    page.fill("#limit-at", "60")
    over = f"{v.m_as('m/s') - 60:.2f} m/s over the cap"
    assert page.inner_text("#cap") == f"{over}, but the range reaches below it"
    page.fill("#limit-at", "10")
    assert page.inner_text("#cap") == f"{v.m_as('m/s') - 10:.1f} m/s over the cap"
    assert "-0.0 %" not in page.inner_text("#ledger")
    assert page.inner_text("#sent") == ""
    page.evaluate("at[0] += 1; update()")
    assert page.inner_text("#sent") == "For the build as sent:"
    page.evaluate("at[0] -= 1; update()")
    page.fill("#limit-at", "60")
    page.select_option("#set", "US customary")
    assert page.input_value("#limit-at") == "196.9"
    assert page.inner_text("#said").endswith("with a barrel of 15.75 in, over the cap of 196.9 ft/s")
    assert page.inner_text("#pull").endswith("lbf")
    page.select_option("#set", "mm and ft/s")
    said = page.inner_text("#said")
    told = f"{v.m_as('ft/s'):.1f} ft/s, likely {page.inner_text('#range')}, with a barrel of 400 mm"
    assert said == f"{told}, over the cap of 196.9 ft/s"
    page.fill("#limit-at", "")
    assert page.inner_text("#said") == told
    assert sum(float(x) for x in re.findall(r"([\d.]+) %", page.inner_text("#ledger"))) == pytest.approx(
        100, abs=0.5
    )


@pytest.mark.parametrize("script", [True, False])
def test_it_opens_with_the_events_cap(opened: Callable[..., Any], script: bool) -> None:
    """In its sentence, its tile and its curve; and in its box, in the unit in which it was typed."""
    page = opened(bl.demo_build("workhorse"), "150 ft/s", java_script_enabled=script)
    v = bl.simulate(bl.demo_build("workhorse")).muzzle_velocity.m_as("m/s")
    assert page.inner_text("#said").endswith(", over the cap of 150 ft/s (45.72 m/s)")
    assert page.inner_text("#cap") == f"{v - 45.72:.1f} m/s over the cap, but the range reaches below it"
    assert page.text_content("#mark") == "cap 150 ft/s"
    limit = page.locator("#limit")
    assert limit.get_attribute("visibility") == "visible"
    assert float(limit.get_attribute("y1")) == pytest.approx(300 * (1 - 45.72 / 80), abs=0.1)
    if script:
        assert page.input_value("#limit-at") == "150"
        assert page.inner_text("#limit-unit") == "ft/s"
        page.fill("#limit-at", "220")
        assert page.inner_text("#said").endswith(", perhaps over the cap of 220 ft/s (67.06 m/s)")
        page.select_option("#set", "US customary")
        page.select_option("#set", "metric")
        assert page.input_value("#limit-at") == "67.06"
        assert page.inner_text("#said").endswith(", perhaps over the cap of 67.06 m/s")
        page.fill("#limit-at", "")
        assert page.inner_text("#cap") == "type a cap to compare"
        assert limit.get_attribute("visibility") == "hidden"
        assert page.text_content("#mark") == ""


def test_an_energy_cap_follows_the_dart(opened: Callable[..., Any]) -> None:
    build = bl.demo_build("workhorse")
    blocked = opened(build, ["150 m/s", "1.2 J"], java_script_enabled=False)
    said = [blocked.text_content(f"#{name}") for name in ("said", "cap", "mark")]
    page = opened(build, ["150 m/s", "1.2 J"])
    assert [page.text_content(f"#{name}") for name in ("said", "cap", "mark")] == said
    assert said[0].endswith(", over the cap of 1.2 J, 49.0 m/s with this dart")
    assert said[2] == "cap 1.2 J"
    assert page.input_value("#limit-at") == "150"
    assert page.input_value("#energy-at") == "1.2"
    place = next(n for n, move in enumerate(moves(build)) if move.name == "dart.mass")
    page.evaluate(
        "n => { at[n] = D.moves[n].values.findIndex(x => Math.abs(x - 1.5e-3) < 1e-9); update(); }", place
    )
    assert page.evaluate("cap") == pytest.approx((2 * 1.2 / 1.5e-3) ** 0.5, rel=1e-12)
    page.fill("#energy-at", "")
    assert page.inner_text("#said").endswith("under the cap of 150 m/s")


@pytest.mark.parametrize("units", ["metric", "US customary"])
def test_each_slider_shows_how_far_it_goes(opened: Callable[..., Any], units: str) -> None:
    build = bl.demo_build("apprentice")
    page = opened(build, viewport={"width": 390, "height": 844})
    page.select_option("#set", units)
    bl.use_units(units)
    for n, move in enumerate(moves(build)):
        low, high = (bl.units.show(move.values[end], move.kind) for end in (0, -1))
        assert page.inner_text(f"#from{n}") == low
        assert page.inner_text(f"#to{n}") == high
        assert page.get_attribute(f"#m{n}", "aria-describedby") == f"ends{n}"
        assert page.text_content(f"#ends{n}") == f"{low} to {high}"
        slider, left, right = (page.locator(f"#{name}{n}").bounding_box() for name in ("m", "from", "to"))
        assert slider["x"] <= left["x"] < right["x"]
        assert right["x"] + right["width"] <= slider["x"] + slider["width"] + 1
        assert slider["y"] + slider["height"] - 8 <= left["y"] < slider["y"] + slider["height"] + 12
        assert left["height"] >= 16
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_why_nothing_is_shown_is_in_sight_of_the_sliders(opened: Callable[..., Any]) -> None:
    page = opened(bl.demo_build("workhorse"), viewport={"width": 390, "height": 844})
    page.locator("#m2").scroll_into_view_if_needed()
    page.evaluate("[1, 2].forEach(n => { at[n] = D.moves[n].values.length - 1; }); update()")
    assert "with this spring at most" in page.inner_text("#trouble")
    seen = """() => {
      const {x, y, bottom} = by('trouble').getBoundingClientRect(), slider = by('m2').getBoundingClientRect();
      return [y, bottom, slider.top, document.elementFromPoint(x + 9, y + 9).id];
    }"""
    top, bottom, slider, above = page.evaluate(seen)
    assert 0 <= top < bottom < slider < 844
    assert above == "trouble"


def learned() -> bl.Build:
    """The workhorse with losses that strings told."""
    return dataclasses.replace(bl.demo_build("workhorse"), calibration=LEARNED)


RANGED = {name: lambda name=name: bl.demo_build(name) for name in bl.demo_builds()} | {
    "callipers": lambda: bl.Build.from_text(CALLIPERS),
    "learned": learned,
    "chronograph": lambda: dataclasses.replace(learned(), calibration=WITH_CHRONOGRAPH),
    "no tolerance": lambda: bl.demo_build("workhorse").replace(TIGHT),
    "measured rate": lambda: bl.demo_build("workhorse").replace({"spring.rate": "500 N/m"}),
}


@pytest.mark.parametrize("name", RANGED)
def test_a_moved_range_is_that_of_predict(opened: Callable[..., Any], name: str) -> None:
    """The page's own shots, draws and quantiles: to the last digit shown, and four more."""
    page, compared, strings = opened(RANGED[name]()), 0, 0
    from_sent = MOVE.replace("D.moves", "by('back').click();\n  D.moves", 1)
    for found in page.evaluate(from_sent, picks(60, 0.3)):
        if found["shot"] is None:
            assert found["shown"] == ""
            continue
        build = bl.Build.from_text(found["text"])
        asked = unknowns(build, known=["barrel.length"])
        band = asked.range(speeds_of(asked, build.si)[:, 0])
        np.testing.assert_allclose(found["range"], [band.low, band.high], rtol=1e-7)
        strings += band.source == "strings"
        if not re.match(r"[\d.]+ m/s(?:, | with)", found["said"]):
            assert found["shown"] == "–"
            continue
        assert found["shown"] == reach(band.low, band.high)
        if "barrel.length" not in build.assumed:
            guess = bl.predict(build)
            assert found["shown"] == reach(*(end.m_as("m/s") for end in (guess.mean_low, guess.mean_high)))
            compared += 1
    assert compared >= (5 if name == "callipers" else 30)
    assert (strings > 5) == (RANGED[name]().calibration is not None)


def test_the_blue_area_is_the_range_at_every_length(opened: Callable[..., Any]) -> None:
    page, build = (
        opened(bl.demo_build("workhorse")),
        bl.demo_build("workhorse").replace({"dart.mass": "1.3 g"}),
    )
    place = next(n for n, move in enumerate(moves(build)) if move.name == "dart.mass")
    page.evaluate(
        "n => { at[n] = D.moves[n].values.findIndex(x => Math.abs(x - 1.3e-3) < 1e-9); update(); }", place
    )
    assert page.get_attribute("#likely", "points") == ""  # never the area of other settings
    page.wait_for_function("() => by('likely').getAttribute('points')")
    lengths = np.array(page.evaluate("D.lengths"))
    asked = unknowns(build, known=["barrel.length"])
    band = asked.range(speeds_of(asked, {**build.si, "barrel.length": lengths}, len(lengths)))
    np.testing.assert_allclose(page.evaluate("last.band"), np.array([band.low, band.high]).T, rtol=1e-7)
    told = page.evaluate("[...by('rows').children].map(row => row.children[2].textContent)")
    left = band.best > 0.0
    assert [text for text, out in zip(told, left, strict=True) if out] == [
        reach(*ends) for ends in zip(band.low[left], band.high[left], strict=True)
    ]
    assert page.locator("#likely").get_attribute("points").count(",") == 2 * len(lengths)


def test_the_words_on_the_range_follow_what_is_moved(opened: Callable[..., Any]) -> None:
    page = opened(learned())
    assert "learned from" in page.inner_text("#known")
    place = next(n for n, move in enumerate(moves(learned())) if move.name == "losses.dart_friction")
    page.evaluate("n => { at[n] += 1; update(); }", place)
    assert "no chronograph yet" in page.inner_text("#known")
    page.click("#back")
    assert "learned from" in page.inner_text("#known")


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("units", ["metric", "US customary"])
def test_no_number_of_the_scales_lies_on_the_curve(
    opened: Callable[..., Any], width: int, units: str
) -> None:
    page = opened(bl.demo_build("workhorse"), viewport={"width": width, "height": 844})
    page.select_option("#set", units)
    boxes = page.evaluate(
        """[...document.querySelectorAll('#ticks text')].map(one => {
          const {x, y, width, height} = one.getBBox();
          return [x, y, x + width, y + height];
        }).sort((a, b) => a[0] - b[0])"""
    )
    assert len(boxes) > 5
    assert all(right < 0 or bottom < 0 or top > 299 for _, top, right, bottom in boxes)
    assert all(
        left >= -72 and right <= 612 and top >= -36 and bottom <= 340 for left, top, right, bottom in boxes
    )
    along = [box for box in boxes if box[1] > 299]
    assert all(one[2] < other[0] for one, other in itertools.pairwise(along))


def test_down_range_is_flat_fire_and_nearly_the_flight(opened: Callable[..., Any]) -> None:
    page, build = opened(bl.demo_build("workhorse")), bl.demo_build("workhorse")
    v, air = bl.simulate(build).muzzle_velocity.m_as("m/s"), page.evaluate("D.air")
    for x in (0.01, 1.0, 10.0, 18.0):
        found = page.evaluate("([v, x]) => flight(last.p, v, x, ...D.air)", [v, x])
        np.testing.assert_allclose(found, flight(parameters(build.si), v, x, *air), rtol=1e-14)
        flown = bl.fly(build, distance=f"{x} m", muzzle_height="50 m").at(f"{x} m")
        known = [flown.speed.m_as("m/s"), flown.time.m_as("s"), flown.drop.m_as("m")]
        np.testing.assert_allclose(found, known, rtol=0.01 if x > 10 else 2e-3)
        assert flown.drop.m_as("m") < 0.05 * x  # no further does the page go
    assert page.inner_text("#there") == "36.5 m/s at 10 m, after 211 ms, 184 mm lower"
    page.fill("#far-at", "25")
    assert "drops too far before 25 m" in page.inner_text("#there")
    page.fill("#far-at", "")
    assert page.inner_text("#there") == "–"


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_on_a_phone(opened: Callable[..., Any], artifacts: Path, scheme: str) -> None:
    page = opened(bl.demo_build("workhorse"), viewport={"width": 390, "height": 844}, color_scheme=scheme)
    page.evaluate("document.querySelectorAll('details').forEach(one => one.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.evaluate(
        "[...document.querySelectorAll('input[type=range]')].every(x => x.offsetHeight >= 24)"
    )
    page.screenshot(path=artifacts / f"page_{scheme}.png", full_page=True)
    colours = page.evaluate(
        """[...document.querySelectorAll('p, .ends span, dt, dd, li, td, th, h2, label, summary, button')]
        .filter(x => x.offsetParent).map(x => {
          let behind = x;
          const paper = () => getComputedStyle(behind).backgroundColor;
          while (paper() === 'rgba(0, 0, 0, 0)') behind = behind.parentElement;
          return [getComputedStyle(x).color, paper()];
        })"""
    )
    assert len(colours) > 50
    assert min(contrast(ink, paper) for ink, paper in colours) > 4.5


def contrast(ink: str, paper: str) -> float:
    """WCAG 2.2's contrast ratio of two colours as a browser computes them."""

    def luminance(colour: str) -> float:
        parts = [int(part) / 255 for part in re.findall(r"\d+", colour)[:3]]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    dark, light = sorted([luminance(ink), luminance(paper)])
    return (light + 0.05) / (dark + 0.05)


def test_with_its_script_blocked(opened: Callable[..., Any]) -> None:
    page = opened(bl.demo_build("workhorse"), java_script_enabled=False)
    said = page.inner_text("main")
    v = bl.simulate(bl.demo_build("workhorse")).muzzle_velocity.m_as("m/s")
    ends = page.inner_text("#range")
    assert f"{v:.2f} m/s, likely {ends}, with a barrel of 400 mm" in said
    assert "The script of this page is blocked" in said
    assert "Change it" not in said
    assert len(page.get_attribute("#curve", "points").split()) == 31
    assert page.locator("#rows tr").count() == 31
    for name in ("speed", "range", "energy", "best", "within", "peak", "pull", "work", "there"):
        assert re.search(r"\d", page.inner_text(f"#{name}")), name


def test_it_opens_and_answers_soon(opened: Callable[..., Any]) -> None:
    page = opened(bl.demo_build("two_springs"))
    times = page.evaluate(
        "[...Array(9)].map(() => { const t = performance.now(); update(); return performance.now() - t; })"
    )
    assert sorted(times)[4] < 500  # 20 to 50 ms on two busy cores
