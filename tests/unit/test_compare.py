"""Builds side by side: what differs, and a velocity difference shared out exactly and in no order."""

from __future__ import annotations

import itertools
import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.build import Build
from blasterlab.parts.priors import NINE_IN_TEN
from blasterlab.plan import compare as core
from blasterlab.report import compare as words
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.speed_range import SETUP, unknowns

OLD = bl.demo_build("workhorse")
TUBE = {"chamber.bore": "40 mm", "barrel.length": "30 cm", "spring.wire_diameter": "1.4 mm"}


@pytest.fixture(scope="module")
def found() -> core.BuildComparison:
    return bl.compare_builds(
        [OLD, OLD.replace(TUBE), bl.demo_build("apprentice"), bl.demo_build("two_springs")]
    )


def by_orders(values: list[float]) -> list[float]:
    """The definition: a change's step, averaged over every order of making the changes."""
    count = len(values).bit_length() - 1
    steps: list[list[float]] = [[] for _ in range(count)]
    for order in itertools.permutations(range(count)):
        made = 0
        for change in order:
            steps[change].append(values[made | 1 << change] - values[made])
            made |= 1 << change
    return [math.fsum(own) / len(own) for own in steps]


@given(st.integers(1, 5).flatmap(lambda n: st.lists(st.floats(-100, 100), min_size=2**n, max_size=2**n)))
def test_shapley_is_the_mean_over_all_orders(values: list[float]) -> None:
    shares = core.shapley(np.array(values))
    assert shares == pytest.approx(by_orders(values), abs=1e-11)
    assert math.fsum(shares) == pytest.approx(values[-1] - values[0], abs=1e-13)


def test_shares_sum_to_the_difference(found: core.BuildComparison) -> None:
    for place, shares in enumerate(found.shares, 1):
        assert math.fsum(share.m for share in shares.values()) == found.difference(place).m
        assert found.difference(place).m == (
            bl.simulate(found.builds[place]).muzzle_velocity - bl.simulate(OLD).muzzle_velocity
        ).m_as("m/s")
        assert 1 <= len(shares) <= core.MOST_CHANGES


@pytest.mark.parametrize(
    "changes",
    [
        {"chamber.bore": "40 mm"},
        {"losses.seal_friction": "12 N"},
        {"spring.wire_diameter": "1.4 mm", "losses.seal_friction": "6 N"},
    ],
)
def test_what_is_unknown_of_both_is_drawn_once_for_both(changes: dict[str, str]) -> None:
    """Against 20 000 random draws, losses shared by both, also where one changed; other springs their own."""
    other, draw = OLD.replace(changes), np.random.default_rng(5).standard_normal
    low, high = (end.m_as("m/s") for end in core.compare_builds([OLD, other]).ranges[0])
    one, two = unknowns(OLD), unknowns(other)
    shared = draw((20_000, len(one.names)))
    own = shared.copy()
    for place, name in enumerate(one.names):
        if name.startswith("spring") and "spring.wire_diameter" in changes:
            own[:, place] = draw(20_000)
    speeds = [
        simulate_rows(asked.rows(build.si, 1, asked.values(scores)), 1e-6).muzzle_velocity.m
        * (1.0 + SETUP * draw(20_000))
        for asked, build, scores in ((one, OLD, shared), (two, other, own))
    ]
    drawn, width = np.quantile(speeds[1] - speeds[0], [0.05, 0.95]), high - low
    assert (low, high) == pytest.approx(drawn, abs=0.12 * width)
    alone = [np.subtract(*np.quantile(each, [0.95, 0.05])) for each in speeds]
    assert width < (0.5 if len(changes) == 1 else 0.9) * math.hypot(*alone)


def test_the_shots_of_a_difference_are_as_close_as_said(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = (OLD, tuple(range(len(unknowns(OLD).names))), -1, len(unknowns(OLD).names) + 2)
    rough = core._means.__wrapped__(*asked)
    monkeypatch.setattr(core, "_ROUGH", 1e-8)
    off = np.abs(rough - core._means.__wrapped__(*asked))
    assert off.max() < 0.1
    assert np.sqrt(np.mean(off**2)) < 0.01


def test_the_same_build_twice_differs_by_two_assemblies_and_no_more() -> None:
    low, high = core.compare_builds([OLD, OLD.replace({"title": "again"})]).ranges[0]
    half = NINE_IN_TEN * math.sqrt(2) * SETUP * bl.simulate(OLD).muzzle_velocity.m_as("m/s")
    assert low.m < 0.0 < high.m
    assert high.m < 1.1 * half


def test_the_range_of_a_difference_is_said(found: core.BuildComparison) -> None:
    low, high = (f"{end.m_as('m/s'):+.2f}" for end in found.ranges[0])
    assert f"({low} to {high} m/s, 90 % range), of which" in str(found)
    panel = panels.compare_panel(OLD, OLD.replace(TUBE))
    assert f"slower than the first ({low} to {high} m/s, 90 % range)" in panel.verdict


def test_each_changed_value_is_a_change_up_to_eight(found: core.BuildComparison) -> None:
    assert set(found.shares[0]) == {(name,) for name in TUBE}
    alone = OLD.replace({"chamber.bore": "40 mm"})
    whole = bl.compare_builds([OLD, alone])
    assert list(whole.shares[0].values()) == [whole.difference(1)]
    parts = [{name.partition(".")[0] for name in change} for change in found.shares[1]]
    assert parts == [{"spring"}, {"chamber"}, {"barrel"}, {"dart"}, {"losses"}]
    assert {"springs[0]", "springs[1]"} in [
        {name.partition(".")[0] for name in change} for change in found.shares[2]
    ]


def test_every_difference_is_listed(found: core.BuildComparison) -> None:
    pair = core.differing(found.builds[:2])
    assert {name: values[1] for name, values in pair.items()} == {
        name: units.parse(value, "length") for name, value in TUBE.items()
    }
    assert found.differing["springs[1].wire_diameter"][0] is None
    assert core.differing([OLD, OLD.replace({"barrel.length": "0.4 m", "title": "same"})]) == {}
    same = bl.compare_builds([OLD, OLD])
    assert same.shares == ({},)
    assert "nothing that differs changes the shot" in str(same)


def test_a_switch_and_the_seal() -> None:
    other = OLD.replace({"losses.air_ahead": False, "fit.ring": "29 x 3.5 mm"})
    found = bl.compare_builds([OLD, other])
    assert list(found.shares[0]) == [("losses.air_ahead",)]
    assert words.rows(found)["losses.air_ahead"] == ["on", "off"]
    assert words.rows(found)["fit.ring"] == ["–", "29 x 3.5 mm"]


def test_changes_that_only_go_together_are_one() -> None:
    longer = {"chamber.stroke": "130 mm", "chamber.tube_length": "150 mm"}
    with pytest.raises(bl.BuildError, match=r"chamber\.stroke: got 130 mm"):
        OLD.replace({"chamber.stroke": "130 mm"})
    found = bl.compare_builds([OLD, OLD.replace({**longer, "dart.mass": "1.2 g"})])
    assert {frozenset(change) for change in found.shares[0]} == {frozenset(longer), frozenset({"dart.mass"})}


@pytest.mark.parametrize("chosen", ["metric", "US customary"])
def test_shown_shares_add_up(found: core.BuildComparison, chosen: str) -> None:
    units.use_units(chosen)
    for place in range(1, len(found.builds)):
        parts, whole = words.shares(found, place)
        cents = [round(100 * float(text.split()[0])) for _, text in [*parts, ("", whole)]]
        assert sum(cents[:-1]) == cents[-1]
        exact = sorted(abs(float(units.display(v.m, "speed"))) for v in found.shares[place - 1].values())
        assert sorted(abs(c) / 100 for c in cents[:-1]) == pytest.approx(exact, abs=0.01)


def test_words_have_ranges_and_escape_titles(found: core.BuildComparison) -> None:
    text = str(found)
    assert re.search(r"mean, 90 % range +20\.9 m/s to 67\.5 m/s", text)
    hostile = bl.compare_builds(
        [OLD, OLD.replace({"title": "<script>alert(1)</script>", "barrel.length": "30 cm"})]
    )
    assert "<script" not in bl.html(hostile)
    assert "&lt;script" in bl.html(hostile)


@pytest.mark.parametrize("weighed", [False, True])
def test_a_pull_has_the_range_of_its_springs_and_of_the_seal(weighed: bool) -> None:
    """Against 40 000 draws: springs as bought (EN 10270-1, EN 15800) or weighed, a usual seal."""
    build = bl.demo_build("two_springs")
    if weighed:
        build = build.replace({f"{one.name}.rate": one.rate for one in build.springs})
    asked, scores = unknowns(build), np.random.default_rng(4)
    values = asked.values(scores.normal(size=(40_000, len(asked.names))))
    drawn = dict(zip(asked.names, values.T, strict=True))
    pulls = drawn["seal_friction"]
    for spring in ("spring0", "spring1"):
        force = build.si[f"{spring}.rate"] * build.si[f"{spring}.catch_compression"]
        pulls = pulls + force * drawn.get(f"{spring}.rate", 1.0)
    ends = [end.m_as("N") for end in core.pull_range(build)]
    assert ends == pytest.approx(np.quantile(pulls, [0.05, 0.95]), rel=0.004)
    assert (ends[1] - ends[0] < 10.0) == weighed


def test_a_dart_that_stays_in() -> None:
    stuck = OLD.replace({"losses.dart_breakaway": "400 N"})
    found = bl.compare_builds([OLD, stuck])
    assert found.expected[1] is None
    assert found.sweeps[1] is None
    assert "stays in" in str(found)
    assert found.difference(1).m == -found.shots[0].muzzle_velocity.m
    assert "the dart never broke away" in figures.compare_chart(found).caption
    assert sum(len(line.get_xdata()) == 2 for line in figures.compare_chart(found).axes[0].lines) == 1


def test_the_picture_shows_a_curve_that_ends_where_the_dart_stays_in() -> None:
    """The apprentice's dart stays in the longest barrels: its curve has a gap, and the axis is not empty."""
    found = bl.compare_builds([OLD, bl.demo_build("apprentice")])
    speed = figures.compare_chart(found).axes[0]
    assert any(np.isnan(line.get_ydata()).any() for line in speed.lines)
    assert speed.get_ylim()[1] > found.shots[0].muzzle_velocity.m


@pytest.mark.parametrize("count", [0, 1, 6])
def test_too_few_or_too_many(count: int) -> None:
    with pytest.raises(bl.BuildError, match=f"builds: got {count} of them; must be 2 to 5"):
        bl.compare_builds([OLD] * count)


def test_pictures(found: core.BuildComparison) -> None:
    drawing = figures.compare_chart(found)
    curves = [line for line in drawing.axes[0].lines if len(line.get_xdata()) > 2]
    assert len(curves) == len(found.builds)
    marks = {
        round(float(line.get_xdata()[0])) for line in drawing.axes[0].lines if len(line.get_xdata()) == 1
    }
    assert marks == {400, 300, 180, 500}
    ranges = [line.get_data() for line in drawing.axes[0].lines if len(line.get_xdata()) == 2]
    assert len(ranges) == len(found.builds)
    for (at, ends), build, mean in zip(ranges, found.builds, found.expected, strict=True):
        assert mean is not None
        assert list(at) == pytest.approx([build.barrel.length.m_as("mm")] * 2)
        assert list(ends) == pytest.approx([end.m_as("m/s") for end in (mean.mean_low, mean.mean_high)])
        assert max(ends) < drawing.axes[0].get_ylim()[1]
    assert "1: Workhorse (invented) 63.12 m/s (mean 20.9 m/s to 67.5 m/s)" in drawing.caption
    bars = figures.share_chart(found, 1)
    whole, *each = (bar.get_width() for bar in bars.axes[0].patches)
    assert sum(each) == pytest.approx(whole, abs=1e-9)
    assert "mostly" in bars.caption
    with pytest.raises(units.UnitError, match="place: got 4; must be from 1 to 3"):
        figures.share_chart(found, 4)


def test_the_panel_follows_its_boxes() -> None:
    panel = panels.compare_panel(OLD, OLD.replace(TUBE))
    assert ", mostly spring wire diameter -" in panel.text
    panel.set("second", OLD.replace({"losses.seal_leak_area": "2 mm^2"}).to_text())
    assert ", mostly seal leak area -" in panel.text
    panel.set("second", OLD.replace({"barrel.length": "30 cm"}).to_text())
    assert panel.text.endswith(": -0.23 m/s, mostly barrel length -0.23 m/s")
    with pytest.raises(ValueError, match=r"barrel\.bore: missing|one fault"):
        panel.set("second", "title = 'nothing'")


def test_the_panel_does_not_shoot_the_build_again_that_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    panel = panels.compare_panel(OLD, OLD.replace(TUBE))
    shot: list[int] = []
    plain = core.simulate_rows
    monkeypatch.setattr(
        core, "simulate_rows", lambda rows, *rest: shot.append(len(rows)) or plain(rows, *rest)
    )
    panel.set("build", OLD.replace({"chamber.stroke": "91 mm"}).to_text())
    panel.set("second", OLD.replace(TUBE | {"dart.mass": "1.2 g"}).to_text())
    assert shot == 2 * [core._DRAWS]
    fresh = core.compare_builds([Build.from_text(str(panel.values[name])) for name in ("build", "second")])
    assert panel.result.ranges == fresh.ranges
    core._means.cache_clear()
    again = core.compare_builds(fresh.builds)
    assert again.ranges == fresh.ranges
    assert len(shot) == 4
