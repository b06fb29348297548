"""A build from callipers alone: what is assumed, how it is said, what it costs, and what takes its place."""

from __future__ import annotations

import dataclasses
import re

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import assumed, panels, units
from blasterlab.parts import coil
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.speed_range import TOLERANCE, range_of, unknowns

#: A 36 mm bore, a tube of 105 mm, a spring of 1.8 mm wire cut to 254 mm, a half-inch barrel, one dart's mass.
CALLIPERS = """
[spring]
wire_diameter = "1.8 mm"
outer_diameter = "15 mm"
free_length = "254 mm"

[chamber]
bore = "36 mm"
tube_length = "105 mm"

[barrel]
bore = "0.5 in"

[dart]
mass = "1 g"
"""
BUILD = bl.Build.from_text(CALLIPERS)


def spring_with(*lines: str) -> bl.Spring:
    return bl.Build.from_text(CALLIPERS.replace("[spring]", "\n".join(["[spring]", *lines]))).spring


def faults(text: str) -> list[str]:
    with pytest.raises(bl.BuildError) as caught:
        bl.Build.from_text(text)
    return caught.value.faults


def test_callipers_alone_give_an_answer_with_a_range() -> None:
    shot, found = bl.simulate(BUILD), range_of(BUILD)
    assert shot.exited
    assert found.best == pytest.approx(shot.muzzle_velocity.m_as("m/s"), rel=1e-5)
    assert found.low < 0.8 * found.best < found.best < 1.1 * found.best < found.high
    measured = {"spring.wire_diameter", "spring.outer_diameter", "spring.free_length", "chamber.bore",
                "chamber.tube_length", "barrel.bore", "dart.mass"}  # fmt: skip
    assert not measured & set(BUILD.assumed)
    assert {"spring.preload", "spring.active_coils", "chamber.stroke", "losses.dart_friction"} < set(
        BUILD.assumed
    )
    assert BUILD.check()


def test_a_loose_darts_gap_is_the_assumed_blow_by() -> None:
    def blowby(diameter: str) -> bl.Build:
        text = CALLIPERS.replace('mass = "1 g"', f'mass = "1 g"\ndiameter = "{diameter}"')
        return bl.Build.from_text(text)

    loose, snug = blowby("12.5 mm"), blowby("12.8 mm")
    gap = 0.25e-6 * np.pi * (12.7**2 - 12.5**2)
    assert loose.si["losses.blowby_area"] == pytest.approx(gap, rel=5e-3)
    assert snug.si["losses.blowby_area"] == BUILD.si["losses.blowby_area"] < 0.2 * gap
    low, own, high = assumed.likely(loose)["losses.blowby_area"]
    assert low < own < high
    assert bl.simulate(loose).muzzle_velocity < bl.simulate(snug).muzzle_velocity
    (said,) = (one.message for one in loose.check() if "lies loose" in one.message)
    assert "counts as blow-by" in said
    far = blowby("12 mm")  # wider than the usual range
    low, own, high = assumed.likely(far)["losses.blowby_area"]
    assert low < own == high


def test_every_assumed_value_stands_in_the_text_with_range_and_source_and_comes_back() -> None:
    text = BUILD.to_text()
    again = bl.Build.from_text(text)
    assert again == BUILD
    assert again.to_text() == text
    for name in BUILD.assumed:
        key = name.split(".")[1]
        section = text.partition(f"[{name.split('.')[0]}]")[2]
        line = re.findall(rf'(?m)^{key} = ".+ assumed"  # .+$', section)[0]
        assert re.search("common practice, no source|own choice|from memory|1955", line)
        low, own, high = assumed.likely(BUILD).get(name, (0.0, 0.0, 0.0))
        assert low <= own <= high
        kind = assumed.FIELD_OF[name].kind if name in assumed.FIELD_OF else ""
        assert low == high or f"# {units.show(low, kind, 3)} to {units.show(high, kind, 3)} likely" in line


def test_demo_builds_assume_nothing_and_their_range_rests_on_what_it_did() -> None:
    for name in bl.demo_builds():
        build = bl.demo_build(name)
        assert build.assumed == ()
        assert assumed.MARK not in build.to_text()
        assert all("." not in unknown or unknown.endswith(".rate") for unknown in unknowns(build).names)


def test_a_value_that_is_told_is_assumed_no_more() -> None:
    told = BUILD.replace({"chamber.port_diameter": "10 mm", "spring.installed_length": "216 mm"})
    assert set(BUILD.assumed) - set(told.assumed) == {"chamber.port_diameter", "spring.preload"}
    assert told.spring.preload.m_as("mm") == pytest.approx(38.0)
    typed = BUILD.to_text().replace('port_diameter = "9.52 mm assumed"', 'port_diameter = "10 mm"')
    assert "chamber.port_diameter" not in bl.Build.from_text(typed).assumed
    narrow, wide = range_of(told), range_of(BUILD)
    assert narrow.high - narrow.low < 0.85 * (wide.high - wide.low)
    assert max(wide.shares, key=wide.shares.__getitem__) == "spring0.preload"


def test_few_shots_say_what_thousands_say_of_assumed_values() -> None:
    asked = unknowns(BUILD)
    scores = np.random.default_rng(5).normal(size=(4096, len(asked.names)))
    asked.__dict__["table"] = asked.values(scores)  # the rows of a plain Monte Carlo in place of the few
    many = simulate_rows(asked.rows(BUILD.si), TOLERANCE).muzzle_velocity.m
    low, high = np.quantile(many, [0.05, 0.95])
    found = range_of(BUILD)
    assert found.low == pytest.approx(low, abs=0.12 * (high - low))
    assert found.high == pytest.approx(high, abs=0.12 * (high - low))


def test_a_varied_value_is_known_and_no_row_squeezes_a_spring_beyond_solid() -> None:
    assert "barrel.length" in unknowns(BUILD).names
    assert "barrel.length" not in unknowns(BUILD, known=["barrel.length"]).names
    assert "spring0.preload" not in unknowns(BUILD, known=["springs[0].preload"]).names
    stiff = bl.Build.from_text(CALLIPERS.replace('"254 mm"', '"160 mm"'))
    rows = unknowns(stiff).rows(stiff.si)
    assert np.all(np.isfinite(simulate_rows(rows, TOLERANCE).muzzle_velocity.m))
    table = bl.sweep(BUILD, {"barrel.length": ["20 cm", "30 cm"]}, level=0.9)
    assert (table["low_m_s"] < table["high_m_s"]).all()


def test_the_installed_length_gives_the_preload() -> None:
    assert spring_with('installed_length = "216 mm"').preload.m_as("mm") == pytest.approx(38.0)
    assert "gap" in faults(CALLIPERS.replace("[spring]", '[spring]\ninstalled_length = "260 mm"'))[0]
    with pytest.raises(bl.BuildError, match='did you mean "installed_length"'):
        BUILD.replace({"spring.installed_lenght": "216 mm"})
    both = '[spring]\ninstalled_length = "216 mm"\npreload = "3 mm"'
    assert faults(CALLIPERS.replace("[spring]", both)) == [
        "spring.installed_length: got preload as well; must be one of them"
    ]


def test_coils_come_from_a_count_a_pitch_or_the_scale() -> None:
    assert spring_with("total_coils = 40").active_coils == pytest.approx(38.0)
    assert spring_with("total_coils = 40", 'ends = "open"').active_coils == pytest.approx(40.0)
    pitched = spring_with('pitch = "66/10 mm"').active_coils
    assert pitched == pytest.approx(coil.active_from_pitch(0.254, 6.6e-3, 1.8e-3, "closed"))
    weighed = spring_with('readings = ["200 mm, 60 N", "150 mm, 115 N"]')
    assert weighed.rate.m_as("N/m") == pytest.approx(1100.0)
    assert weighed.computed_rate.m_as("N/m") == pytest.approx(1100.0, rel=0.01)  # the count that goes with it
    one = spring_with('readings = "154 mm, 10 kg"')
    assert one.rate.m_as("N/m") == pytest.approx(980.665)
    with_rate = bl.Build.from_text(CALLIPERS.replace("[spring]", '[spring]\nreadings = "154 mm, 10 kg"'))
    assert not {"spring0.active_coils", "spring0.rate"} & set(unknowns(with_rate).names)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ('installed_length = "20"', "spring.installed_length: got '20'"),
        ('pitch = "1 mm"', "spring.pitch: got '1 mm'; must be 1.8 mm to 254 mm"),
        ("total_coils = 0", "spring.total_coils: got 0"),
        ("readings = 3", "spring.readings: got 3; must be lines such as"),
        ('readings = "150 mm"', "spring.readings, line 1: got '150 mm'"),
        ('readings = ["150 mm, 10 N", "120 mm, 5 N"]', "spring.readings: the spring pushes less"),
    ],
)
def test_a_measure_that_cannot_be_is_named(line: str, words: str) -> None:
    assert any(
        fault.startswith(words) for fault in faults(CALLIPERS.replace("[spring]", f"[spring]\n{line}"))
    )


def test_the_stroke_comes_from_tube_and_plunger_and_each_from_the_other() -> None:
    text = CALLIPERS.replace("[chamber]", '[chamber]\nplunger_length = "20 mm"')
    build = bl.Build.from_text(text)
    assert build.chamber.stroke.m_as("mm") == pytest.approx(85.0)
    assert "chamber.stroke" not in build.assumed
    (fault,) = faults(text.replace('"20 mm"', '"120 mm"'))
    assert fault.startswith("chamber.plunger_length: got 120 mm; must be at most the tube, 105 mm")
    short = bl.Build.from_text(CALLIPERS.replace('tube_length = "105 mm"', 'stroke = "80 mm"'))
    assert "chamber.tube_length" in short.assumed
    assert short.chamber.tube_length > short.chamber.stroke


def test_what_no_build_can_do_without_is_still_missing() -> None:
    assert faults("") == [
        "spring: got 0 of them; must be one [spring], or 2 to 3 [[springs]]",
        "chamber.bore: missing",
        "chamber.tube_length: missing",
        "barrel.bore: missing",
        "dart.mass: missing",
    ]
    assert faults(CALLIPERS.replace('mass = "1 g"', "")) == ["dart.mass: missing"]
    assert faults(CALLIPERS.replace('"0.5 in"', '"half an inch"'))[0].startswith(
        "barrel.bore: got 'half an inch'"
    )
    marked = faults(CALLIPERS.replace('"1 g"', '"1 g assumed"'))  # a mass has no range of its own
    assert marked[0].startswith("dart.mass: got '1 g assumed'")


def test_each_of_two_springs_has_its_own_assumptions() -> None:
    two = CALLIPERS.replace("[spring]", "[[springs]]") + (
        '\n[[springs]]\nwire_diameter = "1.2 mm"\nouter_diameter = "10 mm"\nfree_length = "200 mm"'
        "\ntotal_coils = 40\n"
    )
    build = bl.Build.from_text(two)
    assert {"springs[0].active_coils", "springs[1].preload"} < set(build.assumed)
    assert "springs[1].active_coils" not in build.assumed
    assert bl.Build.from_text(build.to_text()) == build
    assert {"spring0.active_coils", "spring1.preload"} < set(unknowns(build).names)
    assert "springs[1].preload" not in build.replace({"springs[1].installed_length": "190 mm"}).assumed


def test_the_answer_says_what_was_assumed_what_it_costs_and_what_to_measure_first() -> None:
    found, lines = range_of(BUILD), bl.words(bl.predict(BUILD)).splitlines()
    (said,) = [line for line in lines if line.startswith("Assumed: ")]
    assert re.match("Assumed: installed length, coils, barrel length, stroke, losses, .*: ", said)
    assert "tube wall" not in said  # it costs no speed
    assert ", wire material: " in said  # it decides whether the spring lasts
    for speed in (found.low, found.high):
        assert units.show(speed, "speed", 3) in said
    (first,) = [line for line in lines if line.startswith("What would narrow it most: installed length")]
    left = re.search(r"about ([\d.]+) m/s to ([\d.]+) m/s would remain", first)
    assert left
    share = float(found.shares["spring0.preload"])
    width = (1.0 - share) ** 0.5 * (found.high - found.low)
    assert float(left[2]) - float(left[1]) == pytest.approx(width, abs=1.5)
    assert said in " ".join(str(bl.simulate(BUILD)).split())
    told = BUILD.replace({"spring.installed_length": "216 mm"})
    now = range_of(told)
    assert now.high - now.low == pytest.approx(width, rel=0.15)  # and so it is, once it is measured
    assert "Assumed" not in bl.words(bl.predict(bl.demo_build("workhorse")))


def test_an_assumed_barrel_is_named_where_nothing_else_is_assumed() -> None:
    demo = bl.demo_build("workhorse")
    panel = panels.barrel_panel(dataclasses.replace(demo, assumed=("barrel.length",)))
    (said,) = [line for line in panel.lines if line.startswith(("Assumed: ", "What would"))]
    assert said.startswith("Assumed: barrel length: 63.12 m/s, ")
    assert said in panel.sight


def test_the_panel_shows_the_assumed_values_with_range_and_source() -> None:
    panel = panels.build_panel(CALLIPERS)
    assert panel.lines[2].startswith("Assumed: installed length, coils, stroke, barrel length, losses")
    text = "\n".join(panel.lines)
    for source in (
        "the kit's own choice",
        "common practice, no source",
        "from memory",
        "published: Jobson 1955",
    ):
        assert f"\nAssumed, {source}" in text
    assert "installed length 216 mm (170 mm to 254 mm)" in text
    assert "spring's ends closed" in text
    panel.set("build", bl.demo_build("workhorse").to_text())
    assert not any("Assumed" in line for line in panel.lines)
    panel.close()


@pytest.mark.parametrize("free", ["60 mm", "100 mm", "130 mm"])
def test_an_assumed_stroke_leaves_a_short_spring_room(free: str) -> None:
    build = bl.Build.from_text(CALLIPERS.replace('"254 mm"', f'"{free}"'))
    assert build.chamber.stroke < 0.65 * build.spring.free_length
    low, own, high = assumed.likely(build)["chamber.stroke"]
    assert low < own < high < build.spring.free_length.m_as("m")
    assert bl.range_of(build).best > 0.0
