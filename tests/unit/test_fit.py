"""Lengths and gaps between parts, worst case and likely, and the findings of a build."""

from __future__ import annotations

import json
import math

import pytest
from test_checks import TOLD

import blasterlab as bl
from blasterlab import units
from blasterlab.checks.fit import (
    check_fit,
    check_loose_dart,
    nested_tubes,
    seal_travel,
    telescoping,
    water_check,
)
from blasterlab.checks.tolerance import stack

ENDS = ("105 mm", "80 mm", "3 mm", "8 mm", "3.5 mm")


def test_the_seal_at_both_ends() -> None:
    there = seal_travel(*ENDS)
    assert there.at_catch.value == pytest.approx(0.105 - 0.003 - 0.080 - 0.008 - 0.00175)
    assert there.at_front.value == pytest.approx(0.003 + 0.008 - 0.00175)
    assert min(*there.at_catch.worst, *there.at_front.worst) >= 0.0
    assert seal_travel("105 mm", "95 mm", *ENDS[2:]).at_catch.worst[0] < 0.0
    far = seal_travel(*ENDS, over_travel="2 mm")
    assert far.at_catch.value == pytest.approx(there.at_catch.value - 0.002)
    assert far.at_front.value == there.at_front.value


def test_a_bad_day_can_pull_the_seal_out() -> None:
    wide = {"tube_length": "8 mm", "stroke": "5 mm", "section": "0.2 mm"}
    there = seal_travel(*ENDS, tolerances=wide)
    assert there.at_catch.value > 0.0 > there.at_catch.worst[0]
    assert there.at_catch.worst[0] == pytest.approx(there.at_catch.value - 0.0131)
    assert there.at_catch.likely[0] == pytest.approx(there.at_catch.value - math.hypot(0.008, 0.005, 0.0001))
    with pytest.raises(units.UnitError, match="tolerances"):
        seal_travel(*ENDS, tolerances={"colour": "1 mm"})
    with pytest.raises(units.UnitError, match=r"^stroke:"):
        seal_travel("105 mm", "2 m", *ENDS[2:])


def test_the_shares_of_a_stack_follow_their_squares() -> None:
    left = stack({"a": "10 mm", "b": "4 mm"}, {"a": "0.3 mm", "b": "0.4 mm"}, {"a"})
    assert left.value == pytest.approx(0.006)
    assert left.worst == pytest.approx((0.0053, 0.0067))
    assert left.likely == pytest.approx((0.0055, 0.0065))
    assert left.shares["b"] == pytest.approx(0.16 / 0.25)
    with pytest.raises(units.UnitError, match="tolerance of b"):
        stack({"a": "10 mm", "b": "4 mm"}, {"b": "3 mm"}, {"a"})


def test_a_tube_in_a_tube_has_its_gap_on_each_side() -> None:
    gap = nested_tubes("13.0 mm", "12.7 mm", {"outer_bore": "0.2 mm"})
    assert gap.value == pytest.approx(0.00015)
    assert gap.worst == pytest.approx((0.00005, 0.00025))


def test_a_loose_dart_speaks_with_its_area() -> None:
    snug = bl.demo_build("workhorse")
    assert check_loose_dart(snug) == []
    loose = snug.replace({"barrel.bore": "13.4 mm"})
    (finding,) = check_loose_dart(loose)
    assert (finding.part, finding.severity) == ("barrel", "warning")
    assert finding.value.m_as("mm^2") == pytest.approx(math.pi / 4 * (13.4**2 - 12.9**2))
    assert "loose" in finding.message
    told = loose.replace({"losses.blowby_area": "12 mm^2"})
    assert check_loose_dart(told) == []
    assert finding in loose.check()


def test_a_loose_dart_says_what_the_open_gap_costs() -> None:
    loose = bl.demo_build("workhorse").replace({"barrel.bore": "13.2 mm"})
    (finding,) = check_loose_dart(loose)
    tight, leaking = (bl.simulate(loose.replace({"losses.blowby_area": area})).muzzle_velocity for area in
                      (loose.losses.blowby_area, f"{math.pi / 4 * (13.2**2 - 12.9**2)} mm^2"))  # fmt: skip
    assert tight - leaking > units.quantity(3.0, "m/s")
    assert f"could cost {units.show(tight - leaking, 'speed', 2)}" in finding.message
    assert finding == loose.check()[0]
    (stuck,) = check_loose_dart(loose.replace({"losses.dart_friction": "9 N"}))
    assert "could keep it in the barrel" in stuck.message
    hair = bl.demo_build("workhorse").replace({"barrel.bore": "12.932 mm"})
    assert [f.severity for f in check_loose_dart(hair)] == ["caution"]


def test_a_loose_darts_gap_is_offered_and_once_taken_is_not_asked_for_again() -> None:
    loose = bl.demo_build("workhorse").replace({"barrel.bore": "13.2 mm"})
    (finding,) = check_loose_dart(loose)
    assert "count 0.5 mm² of blow-by: set 6.1 mm² to count it" in finding.message
    (taken,) = check_loose_dart(loose.replace({"losses.blowby_area": "6.15 mm^2"}))
    assert "leaves a gap of 6.1 mm² that counts as blow-by (it could cost " in taken.message
    assert taken.severity == "caution"


@pytest.mark.parametrize(
    ("bore", "said"),
    [("12.95 mm", "12.9 mm in a bore of 12.95 mm"), ("12.9004 mm", "12.9 mm in a bore of 12.9004 mm")],
)
def test_a_loose_dart_and_its_bore_are_never_said_to_be_as_wide(bore: str, said: str) -> None:
    close = bl.demo_build("workhorse").replace(
        {"dart.diameter": "12.9 mm", "barrel.bore": bore, "losses.blowby_area": "0 mm^2"}
    )
    (finding,) = check_loose_dart(close)
    assert f"lies loose: {said} leaves a gap of" in finding.message


def test_a_spring_longer_than_its_tube_speaks() -> None:
    def said(changes: dict[str, str]) -> tuple[str, str]:
        build = bl.demo_build("workhorse").replace(changes)
        (finding,) = [f for f in check_fit(build) if f.part == "spring"]
        return finding.severity, finding.message

    severity, message = said({"spring.preload": "0 mm"})
    assert severity == "caution"
    assert "200 mm long and the plunger tube 110 mm: 90 mm of it must find room" in message
    assert "measure its installed length" in message
    assert said({"spring.guide": "in a tube"}) == (
        "warning",
        "Installed, spring is 175 mm long and the plunger tube 110 mm: to run inside the tube it needs 65 mm "
        "more preload.",
    )
    assert said({})[0] == "info"
    short = bl.demo_build("workhorse").replace({"chamber.tube_length": "180 mm"})
    assert [f for f in check_fit(short) if f.part == "spring"] == []


def test_a_tube_used_up_by_its_stroke_speaks() -> None:
    build = bl.demo_build("workhorse").replace({"chamber.tube_length": "92 mm"})
    (finding,) = [f for f in check_fit(build) if f.part == "chamber"]
    assert finding.severity == "warning"
    assert "2 mm" in finding.message
    assert [f for f in check_fit(bl.demo_build("workhorse")) if f.part == "chamber"] == []


def test_a_build_text_may_tell_seal_rod_and_material_and_old_texts_stay_as_they_were() -> None:
    old = bl.demo_build("workhorse")
    assert "[fit]" not in old.to_text()
    told = old.replace(TOLD)
    assert "[fit]" in told.to_text()
    assert bl.Build.from_text(told.to_text()) == told
    assert told.si == old.si  # the shot does not look at it
    with pytest.raises(bl.BuildError) as caught:
        old.replace({"fit.ring": "999", "fit.tube_material": "cheese", "fit.wraps": 50})
    assert [line.partition(":")[0] for line in caught.value.faults] == [
        "fit.wraps",
        "fit.ring",
        "fit.tube_material",
    ]


def test_findings_from_what_the_build_tells() -> None:
    told = bl.demo_build("workhorse").replace(TOLD)
    said = {finding.message.split(" ")[1] for finding in told.check() if finding.part == "fit"}
    assert said == {"plunger's", "seal", "empty,", "catch"}
    loose = told.replace({"fit.groove_diameter": "27 mm"})
    finding, *_ = [f for f in loose.check() if f.message.startswith("The plunger's ring")]
    assert finding.severity == "warning"
    assert "squeezed too little" in finding.message
    out = told.replace({"fit.setback": "16 mm"})
    assert any(f.severity == "danger" and "out of the tube at the catch" in f.message for f in out.check())
    assert any("5 mm of play on its rod" in f.message for f in told.check())


@pytest.mark.parametrize(
    ("changes", "fault"),
    [
        ({"fit.ring": "10 x 3.5 mm"},
         "fit.ring: got 10 x 3.5 mm, which cannot be stretched onto a groove of 28 mm; "
         'must be at least 18.7 mm inside; try "27.5 x 3.5 mm"'),
        ({"fit.end_ring": "10 x 3.5 mm", "fit.end_groove_diameter": "29 mm"},
         "fit.end_ring: got 10 x 3.5 mm, which cannot be stretched onto a groove of 29 mm; "
         'must be at least 19.3 mm inside; try "28.4 x 3.5 mm"'),
        ({"fit.groove_diameter": "34.9 mm", "fit.wraps": 1},
         "fit.groove_diameter: got 35.08 mm with its tape; must be below the bore, 35 mm "
         "(diameters mixed up, or too many turns of tape?)"),
        ({"chamber.wall": "-2 mm"}, "chamber.wall: got '-2 mm'; must be 0.2 mm to 50 mm (wall of the tube)"),
        ({"fit.setback": "2 mm", "fit.length_tolerance": "3 mm"},
         "fit.length_tolerance: got 3 mm; must be at most 0.5 mm, a quarter of the 2 mm of fit.setback "
         '(a half width, well below the dimension itself); try "0.5 mm"'),
        ({"fit.diameter_tolerance": "4 mm", "fit.groove_diameter": "15 mm", "fit.ring": "14 x 3.5 mm"},
         "fit.diameter_tolerance: got 4 mm; must be at most 3.75 mm, a quarter of the 15 mm of "
         'fit.groove_diameter (a half width, well below the dimension itself); try "3.75 mm"'),
        ({"fit.rod_diameter": "14 mm"},
         'fit.rod_diameter: got 14 mm; must be below 13 mm, the inside diameter of spring; try "12.3 mm"'),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_in_the_build_text_with_what_would_do(changes: dict, fault: str) -> None:
    build = bl.demo_build("workhorse").replace(TOLD)
    with pytest.raises(bl.BuildError) as caught:
        build.replace(changes)
    assert list(caught.value.faults) == [fault]
    text = build.to_text()
    for name, value in changes.items():
        part, _, key = name.partition(".")
        head, _, body = text.partition(f"[{part}]\n")
        body = "\n".join(line for line in body.split("\n") if not line.startswith(f"{key} = "))
        text = f"{head}[{part}]\n{key} = {json.dumps(value)}\n{body}"
    with pytest.raises(bl.BuildError) as caught:
        bl.Build.from_text(text)
    assert fault.partition(": got")[0] in str(caught.value)


def test_a_brittle_tube_and_a_thin_one_speak() -> None:
    told = bl.demo_build("two_springs").replace({"fit.tube_material": "acrylic"})
    about = [f for f in told.check() if f.part == "chamber"]
    assert any("breaks without warning" in f.message for f in about)
    weak = told.replace({"fit.tube_material": "printed ABS across", "chamber.wall": "0.5 mm"})
    grave = [f for f in weak.check() if f.part == "chamber" and "With the barrel blocked" in f.message]
    assert [f.severity for f in grave] == ["danger"]
    strong = told.replace({"fit.tube_material": "aluminium"})
    calm = [f for f in strong.check() if f.part == "chamber"]
    assert [f.severity for f in calm] == ["info"]


def test_what_the_build_tells_of_tolerances_tells_the_bad_day() -> None:
    told = bl.demo_build("workhorse").replace(TOLD | {"fit.setback": "10 mm"})
    calm = [f for f in told.check() if "inside the tube at the catch" in f.message]
    assert [f.severity for f in calm] == ["info"]
    bad = told.replace({"fit.length_tolerance": "2.4 mm"}).check()
    assert any(f.severity == "warning" and "out of it on a bad day" in f.message for f in bad)
    loose = told.replace({"fit.groove_diameter": "29.1 mm", "fit.diameter_tolerance": "0.4 mm"}).check()
    (ring,) = [f for f in loose if f.message.startswith("The plunger's ring")]
    assert (ring.severity, "not with every tolerance" in ring.message) == ("caution", True)


def test_the_ring_of_the_tube_end_is_asked_for_a_tighter_squeeze() -> None:
    same = {"ring": "29 x 3.5 mm", "groove_diameter": "29.1 mm", "groove_width": "4.7 mm"}
    told = bl.demo_build("workhorse").replace(
        {f"fit.{start}{key}": value for start in ("", "end_") for key, value in same.items()}
    )
    (sliding,) = [f for f in told.check() if f.message.startswith("The plunger's ring, 29 x 3.5 mm")]
    (still,) = [f for f in told.check() if f.message.startswith("The ring of the tube's end, 29 x 3.5 mm")]
    assert (sliding.severity, sliding.value) == ("info", still.value)
    assert "squeezed too little" in still.message
    wound = told.replace({"fit.end_wraps": 3}).check()
    assert [f.severity for f in wound if "tube's end" in f.message] == ["info"]


def test_a_pad_too_thin_for_an_empty_shot_speaks() -> None:
    told = bl.demo_build("workhorse").replace(TOLD)
    (calm,) = [f for f in told.check() if "Fired empty" in f.message]
    spring = told.spring
    energy = spring.energy(spring.front_length, spring.front_length - told.chamber.stroke).m_as("J")
    assert calm.value.m_as("m") == pytest.approx(math.sqrt(2 * energy / 300e3))
    thin = told.replace({"fit.pad_thickness": "2 mm"}).check()
    assert [f.severity for f in thin if "it bottoms" in f.message] == ["caution"]


def test_stock_tubes_slide_by_less_than_their_tolerance() -> None:
    """ASTM B251 on stock brass tube (0.002 in outside, 0.001 in wall): some pairs will not go together."""
    pairs = telescoping()
    assert len(pairs) > 10
    for name, gap in pairs.items():
        assert gap.value == pytest.approx(0.0254e-3 * 0.5 * (1000 / 32 - 28), abs=2e-9), name
        assert gap.worst[0] < 0.0 < gap.value, name


def test_water_tells_a_chamber_that_is_not_what_its_dimensions_say() -> None:
    build = bl.demo_build("workhorse")
    volume = math.pi / 4 * 3.5**2 * 9.0 + 3.0
    good = water_check(build, f"{volume} ml")
    assert good.agrees
    assert good.dead_volume.m_as("cm^3") == pytest.approx(3.0)
    assert "agrees" in str(good)
    low, high = good.expected.worst
    assert low == pytest.approx(1e-6 * (math.pi / 4 * 3.49**2 * 8.95 + 3.0))
    assert not water_check(build, f"{1e6 * low - 0.6} ml").agrees
    assert water_check(build, f"{1e6 * high + 0.4} ml").agrees
    short = water_check(build, "80 ml")
    assert (short.agrees, short.dead_volume.m_as("cm^3") < 0.0) == (False, True)
    assert "less" in str(short)
    with pytest.raises(units.UnitError, match="water"):
        water_check(build, "0 ml")
