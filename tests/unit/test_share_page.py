"""The page that is handed on: its size, its policy, the positions of its sliders, and the committed one."""

from __future__ import annotations

import base64
import hashlib
import html
import re
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from page_builds import CALLIPERS, LEARNED, TIGHT

import blasterlab as bl
from blasterlab.bench.kept import event_caps, remember
from blasterlab.page.draws import draws
from blasterlab.page.moves import RANGES, moves
from blasterlab.page.share import page, pull
from blasterlab.report.build import sources
from blasterlab.report.page import LABELS
from blasterlab.shot.from_build import parameters

NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[+-]?\d+)?")


BUILDS = {name: bl.demo_build(name) for name in bl.demo_builds()} | {
    "callipers": bl.Build.from_text(CALLIPERS),
    "learned": replace(bl.demo_build("workhorse"), calibration=LEARNED),
    "no tolerance": bl.demo_build("workhorse").replace(TIGHT),
}


@pytest.mark.parametrize("build", BUILDS.values(), ids=BUILDS)
def test_it_is_small_and_asks_for_nothing(build: bl.Build) -> None:
    made = page(build)
    assert len(made.encode()) < 120_000
    assert "{{" not in made
    assert set(re.findall(r"https?://[^\"']*", made)) == {"http://www.w3.org/2000/svg"}  # a name, no address
    assert not re.search(r"<(img|link|iframe|object|embed|form|base)\b|\bsrc=|\bstyle=|\son\w+=", made)


def test_the_policy_lets_run_what_the_page_holds_and_no_more() -> None:
    made = page(bl.demo_build("workhorse"))
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', made)
    assert policy
    for kind, tag in (("script", "script"), ("style", "style")):
        text = made.split(f"<{tag}>")[1].split(f"</{tag}>")[0]
        told = base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{told}'" in policy[1]
    assert policy[1].startswith("default-src 'none'; ")
    assert "unsafe" not in policy[1]


def test_the_committed_page_is_that_of_today(root: Path) -> None:
    """Numbers to 1e-6, since a library's last digits may differ; all else to the letter."""
    kept = (root / "notebooks" / "pictures" / "workhorse.html").read_text(encoding="utf-8")
    now = page(bl.demo_build("workhorse"))
    kept, now = (re.sub(r"sha256-[^']*", "", text) for text in (kept, now))
    assert NUMBER.split(kept) == NUMBER.split(now), "DEVELOPERS.md says how to write it again"
    numbers = np.array([[float(n) for n in NUMBER.findall(text)] for text in (kept, now)])
    assert numbers.shape[1] > 1000
    np.testing.assert_allclose(numbers[0], numbers[1], rtol=1e-6)
    assert "workhorse.html" in (root / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("build", BUILDS.values(), ids=BUILDS)
def test_each_value_belongs_to_one_slider(build: bl.Build) -> None:
    found = moves(build)
    assert {move.name for move in found} < set(RANGES) == set(LABELS)
    for one, other in combinations(found, 2):
        assert not set(one.columns) & set(other.columns), (one.name, other.name)
    for move in found:
        assert move.values == sorted(move.values)
        assert len(move.values) == len(move.asked) > 20
        columns = {key: column or move.values for key, column in move.columns.items() if key in build.si}
        assert columns
        assert all(column[move.own] == build.si[key] for key, column in columns.items())


@pytest.mark.parametrize("build", BUILDS.values(), ids=BUILDS)
def test_what_is_not_known_at_a_position_is_named(build: bl.Build) -> None:
    """Every slider's unknowns are among those that the page carries, in the same order."""
    found = moves(build)
    script, data = draws(build, found)
    names = data["asked"][-1]["names"]
    assert len(names) >= 6  # the rate too, which has no tolerance in the tables at some wires
    for move in found:
        for asked in move.asked:
            assert asked.names == tuple(name for name in names if name in asked.names)
    assert len(data["asked"]) == (2 if build.calibration else 1)
    assert {key for one in data["asked"] for key in one["own"] if isinstance(key, str)} <= set(data["base"])
    assert all(f'v["{name}"]' in script or name in str(data["asked"]) for name in data["base"])


def test_a_measured_rate_is_moved_and_not_the_wire() -> None:
    names = [move.name for move in moves(bl.demo_build("workhorse").replace({"spring.rate": "500 N/m"}))]
    assert "spring.rate" in names
    assert "spring.wire_diameter" not in names


def test_positions_that_the_build_refuses_are_left_out() -> None:
    build = bl.demo_build("apprentice")
    found = moves(build)
    stroke = next(move for move in found if move.name == "chamber.stroke")
    assert max(stroke.values) <= build.si["chamber.tube_length"] < 0.16


@pytest.mark.parametrize("name", bl.demo_builds())
def test_the_pull_is_that_of_the_prime(name: str) -> None:
    build = bl.demo_build(name)
    force, work = pull(parameters(build.si))
    assert force == pytest.approx(build.prime.peak_force.m_as("N"), rel=1e-12)
    assert work == pytest.approx(build.prime.work.m_as("J"), rel=1e-12)


def test_what_was_assumed_and_is_not_known_stands_there() -> None:
    build = bl.Build.from_text(CALLIPERS)
    made = html.unescape(page(build))
    assert sources(build)
    assert all(line in made for line in sources(build))
    for line in (
        "installed length: 134 mm to 180 mm",
        "coils: -23.2 % to +24.8 %",
        "blow-by area: 0 mm² to 5 mm²",
    ):
        assert f"<li>{line}</li>" in made
    assert "Nothing: the build text gave every value." in page(bl.demo_build("workhorse"))


def test_a_finding_stands_once() -> None:
    build = bl.demo_build("workhorse").replace({"spring.wire_diameter": "2.1 mm"})
    made = html.unescape(page(build))
    lists = made.split('<script id="data"')[0]
    loud = [found for found in build.check() if found.severity in ("warning", "danger")]
    assert loud
    assert all(lists.count(found.message) == 1 for found in build.check())
    above = made.split("<figure>")[0]
    assert loud[0].message in above


def test_a_dart_that_stays_in_has_its_page() -> None:
    stuck = bl.demo_build("workhorse").replace({"losses.dart_breakaway": "500 N"})
    made = page(stuck)
    assert "No shot: the dart never broke away: at most" in made
    assert all(f'<dd id="{name}">–</dd>' in made for name in ("range", "energy", "there"))
    assert "NaN" not in made.split('type="application/json">')[1].split("</script>")[0]


def test_a_cap_that_was_given_or_typed_last_goes_with_the_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    build, path = bl.demo_build("workhorse"), tmp_path / "page.html"

    def shared(**given: Any) -> str:
        build.share_page(path, **given)
        return path.read_text(encoding="utf-8")

    alone = page(build)
    assert shared() == alone  # nothing is kept here
    assert "over the cap of" not in alone.split("<script")[0]
    monkeypatch.setenv("BLASTERLAB_BENCH", str(tmp_path / "bench"))
    remember("speed_cap", "150.0 foot / second")
    assert shared() == page(build, "150 ft/s") != alone
    assert ", over the cap of 150 ft/s (45.72 m/s)" in shared()
    assert shared(cap="70 m/s") == page(build, "70 m/s")
    assert ", on average under the cap of 70 m/s" in shared(cap="70 m/s")
    assert shared(cap=()) == page(build) == alone  # never a bench's
    remember("energy_cap", "1.2 joule")
    assert shared() == page(build, ["150 ft/s", "1.2 J"])
    for none in ("0.0 meter / second", "nonsense"):
        remember("speed_cap", none)
        assert event_caps() == ("1.2 joule",)
    assert event_caps(tmp_path / "elsewhere") == ()
    with pytest.raises(ValueError, match="cap: got '400 m/s'"):
        shared(cap="400 m/s")


def test_the_units_chosen_stay_chosen(tmp_path: Path) -> None:
    bl.use_units("US customary")
    bl.demo_build("workhorse").share_page(tmp_path / "page.html")
    made = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert bl.use_units() == "US customary"
    assert "ft/s, with a barrel of 15.75 in" in made
    assert re.search(r"ft/s, likely [\d.]+ to [\d.]+ ft/s, with", made)
