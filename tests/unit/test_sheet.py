"""The build sheet: one page without script, with everything that another builder needs."""

from __future__ import annotations

import base64
import hashlib
import re
import sys
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from attacks import HOSTILE as HOSTILE_WORDS

import blasterlab as bl
from blasterlab import __main__ as door
from blasterlab import units
from blasterlab.checks.seal_friction import leak_from_leak_down
from blasterlab.plan import cut_lengths as cuts

BUILD = bl.demo_build("workhorse")
HOSTILE = "\"><script>document.title='owned'</script><img src=x onerror=alert(1)></title>&"

SHORT = """
spring = { wire_diameter = "1.5 mm", outer_diameter = "16 mm", free_length = "200 mm" }
chamber = { bore = "35 mm", tube_length = "110 mm" }
barrel = { bore = "12.9 mm" }
dart = { mass = "1 g" }
"""


class Page(HTMLParser):
    """Tags with their attributes, and the text of each kind of element."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text: dict[str, str] = {}
        self._open: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "img"):
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self._open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self._open:
            self.text[self._open[-1]] = self.text.get(self._open[-1], "") + data


def test_it_holds_what_another_builder_needs() -> None:
    page = Page(bl.build_sheet(BUILD, cap="190 ft/s", bought={"barrel": "9 EUR, 3 weeks"}))
    text = " ".join(page.text.values())
    guess = bl.predict(BUILD)
    assert page.text["title"] == page.text["h1"] == BUILD.title
    for words in (
        "Eye protection for everybody",
        units.show(guess.mean_low, "speed", 3),
        "Any of 10 shots over the cap 190 ft/s (57.91 m/s)",
        "not permission",
        "9 EUR, 3 weeks",
        "_____",
        units.show(BUILD.prime.peak_force, "force", 3),
        "Pull test",
        "Leak-down",
        "Chronograph: shoot ten",
        f"blasterlab {bl.__version__}",
    ):
        assert words in text
    for finding in BUILD.check():
        assert finding.message.rstrip(".") in text
        assert finding.source in text
    assert bl.Build.from_text(page.text["pre"]) == BUILD
    [picture] = [attributes for tag, attributes in page.tags if tag == "img"]
    assert "cut along its axis" in str(picture["alt"])
    svg = base64.b64decode(str(picture["src"]).removeprefix("data:image/svg+xml;base64,"))
    assert b"<svg" in svg
    assert b"<script" not in svg


def test_the_policy_allows_its_own_style_and_held_pictures_only() -> None:
    page = Page(bl.build_sheet(BUILD.replace({"title": HOSTILE, "note": HOSTILE, "author": HOSTILE})))
    assert page.text["h1"] == HOSTILE
    assert {tag for tag, _ in page.tags} <= {
        "html", "head", "meta", "title", "style", "body", "h1", "h2", "p", "div", "strong", "ul", "li", "img",
        "section", "table", "thead", "tbody", "tr", "th", "td", "pre",
    }  # fmt: skip
    names = {name for _, attributes in page.tags for name in attributes}
    assert not {name for name in names if name.startswith("on") or name in ("style", "href")}
    policy = next(str(a["content"]) for _, a in page.tags if a.get("http-equiv"))
    style = base64.b64encode(hashlib.sha256(page.text["style"].encode()).digest()).decode()
    assert policy.startswith(f"default-src 'none'; img-src data:; style-src 'sha256-{style}'")
    assert "http" not in page.text["style"]


def test_any_words_arrive_as_words() -> None:
    plain = [tag for tag, _ in Page(bl.build_sheet(BUILD.replace({"author": "me"}))).tags]
    marked = [words for words in HOSTILE_WORDS if set(words) & set("<>&\"'")]
    assert len(marked) > 5
    for words in marked:
        try:
            build = BUILD.replace({"title": words, "note": words, "author": words})
        except bl.BuildError:
            continue
        page = Page(bl.build_sheet(build))
        assert [tag for tag, _ in page.tags] == plain, words
        assert page.text["h1"] == page.text["title"] == words


def test_a_measured_string_and_two_caps() -> None:
    string = bl.demo_string("workhorse_wire_15")
    text = bl.build_sheet(BUILD, string=string, cap=["190 ft/s", "1.6 J"])
    assert f"Measured, shots: {string.count}" in text
    assert "Caps 190 ft/s (57.91 m/s) and 1.6 J" in text
    assert "Any of the next 10 over the cap" in text


def test_what_was_assumed_is_told() -> None:
    short = bl.Build.from_text(SHORT)
    text = Page(bl.build_sheet(short, cap=["190 ft/s", "1.6 J"])).text["li"]
    assert "Assumed, common practice" in text
    assert "over the strictest of 190 ft/s (57.91 m/s) and 1.6 J: " in text
    assert "Assumed" not in Page(bl.build_sheet(BUILD)).text["li"]


def cells(page: str, title: str) -> list[list[str]]:
    """The rows of a section's table."""
    section = page.split(f"<h2>{title}</h2>")[1].split("</section>")[0]
    return [re.findall(r"<td>(.*?)</td>", row) for row in re.findall(r"<tr>(<td>.*?)</tr>", section)]


def test_what_was_assumed_is_marked_among_the_parts_and_not_cut_to() -> None:
    page = bl.build_sheet(bl.Build.from_text(SHORT))
    parts = {name: what for name, what, _ in cells(page, "Parts")}
    assert re.search(r" active coils \(assumed\), \S+ N/m$", parts["spring"])
    assert parts["plunger tube"] == (
        "35 mm bore, 110 mm long, 92.5 mm stroke (assumed); plunger 35 g (assumed)"
    )
    assert parts["port"].count("(assumed)") == 3
    assert parts["barrel"].startswith("12.9 mm bore, 300 mm long (assumed); ")
    assert re.fullmatch(r"1 g, \S+ mm wide \(assumed\), 36 mm long \(assumed\)", parts["dart"])
    assert [row[0] for row in cells(page, "Cut list")] == ["free length", "tube length"]
    assert "92.5 mm of stroke (assumed) and" in cells(page, "Cut list")[1][2]
    assert "Left out, because only assumed: barrel length." in page
    assert "Checked with values that are assumed, see Parts" in page
    other = SHORT.replace('tube_length = "110 mm"', 'stroke = "90 mm"').replace(
        "12.9 mm", '12.9 mm", length = "30 cm'
    )
    page = bl.build_sheet(bl.Build.from_text(other))
    assert [row[0] for row in cells(page, "Cut list")] == ["barrel length", "free length"]
    assert "Left out, because only assumed: tube length." in page


def test_a_measured_build_has_no_such_mark_and_its_cuts_have_words_for_names() -> None:
    page = bl.build_sheet(BUILD)
    assert "assumed" not in page
    assert [row[0] for row in cells(page, "Cut list")] == ["barrel length", "free length", "tube length"]


def test_it_is_the_same_every_time() -> None:
    assert bl.build_sheet(BUILD) == bl.build_sheet(BUILD)


def test_a_dart_that_stays_in_has_a_sheet_too() -> None:
    page = bl.build_sheet(BUILD.replace({"losses.dart_breakaway": "400 N"}), cap="190 ft/s")
    assert "The dart never leaves" in page
    assert "over the cap 190 ft/s (57.91 m/s): below 0.01 %" in page
    assert "Chronograph: shoot ten" not in page


def test_an_unknown_part_is_named() -> None:
    with pytest.raises(units.UnitError, match="bought: got 'stock'; must be one of spring, plunger tube"):
        bl.build_sheet(BUILD, bought={"stock": "1 EUR"})


def test_cut_lengths_hold_within_one_percent() -> None:
    found = {one.name: one for one in cuts.cut_lengths(BUILD)}
    barrel, speed = found["barrel.length"], bl.simulate(BUILD).muzzle_velocity.m
    ends = [BUILD.replace({"barrel.length": f"{end} m"}) for end in (barrel.low, barrel.high)]
    off = bl.simulate_many(ends).muzzle_velocity.m / speed - 1.0
    assert np.abs(off) == pytest.approx([0.01, 0.01], abs=1e-3)
    spring = found["spring.free_length"]
    half, middle = 0.5 * (spring.high - spring.low), spring.length - 6e-3
    lengths = [middle + 0.5 * half, middle - 0.5 * half]
    long, short = bl.simulate_many([bl.with_cut(BUILD, f"{v} m") for v in lengths]).muzzle_velocity.m
    assert (long - short) / speed == pytest.approx(0.01, rel=0.05)
    assert cuts.cut_lengths(BUILD.replace({"losses.dart_breakaway": "400 N"})) == []


def test_the_leak_down_time_is_that_of_the_kits_own_law() -> None:
    [said] = re.findall(r"plunger with (\S+ N).*?, (\S+ mm) should take (\S+) s", bl.build_sheet(BUILD))
    push = units.parse(said[0], "force") - BUILD.losses.seal_friction
    leak = leak_from_leak_down(BUILD.chamber.bore, said[1], f"{said[2]} s", push)
    assert leak.m_as("mm^2") == pytest.approx(BUILD.losses.seal_leak_area.m_as("mm^2"), rel=0.05)


def test_the_chance_before_a_string() -> None:
    chances = [bl.chance_over(BUILD, cap) for cap in ("20 m/s", "60 m/s", "63 m/s", "90 m/s")]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.9
    assert chances[-1] < 1e-3
    guess = bl.predict(BUILD)  # one shot in twenty lies above the upper end of its 90 % range
    assert bl.chance_over(BUILD, guess.next_high) == pytest.approx(0.05, abs=0.02)
    assert bl.chance_over(BUILD, "1.6 J") == bl.chance_over(BUILD, f"{np.sqrt(2 * 1.6 / 1e-3)} m/s")
    with pytest.raises(ValueError, match="cap: got"):
        bl.chance_over(BUILD, "2 mm")


def test_written_from_python_and_from_the_command_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    BUILD.save(tmp_path / "my.toml")
    BUILD.sheet_page(tmp_path / "own.html")
    monkeypatch.setattr(sys, "argv", ["blasterlab", "sheet", str(tmp_path / "my.toml")])
    door.main()
    assert "my_sheet.html" in capsys.readouterr().out
    assert (tmp_path / "my_sheet.html").read_bytes() == (tmp_path / "own.html").read_bytes()
