"""The pictures of the volume ratio and its panel, on the demo builds."""

from __future__ import annotations

import contextlib
import io
import re

import numpy as np
import pytest
from matplotlib.contour import QuadContourSet
from PIL import Image

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.figures.style import WIDTH, Painter
from blasterlab.figures.volume_ratio import RATIOS, MappedShot, VolumeView
from blasterlab.panels.moved_build import ROWS
from blasterlab.panels.volume_ratio import NAMES, reach
from blasterlab.report.barrel_length import best
from blasterlab.report.numbers import kept
from blasterlab.report.shot import warnings
from blasterlab.report.volume_ratio import key_numbers


@pytest.fixture(scope="module")
def build():
    return bl.demo_build("workhorse")


def mapped(build, vary="stroke", points=(40, 40)):
    sweep = bl.barrel_sweep(build, "3 cm", "65 cm", points=40)
    return MappedShot(bl.simulate(build), sweep, map=bl.volume_map(build, vary, points=points))


@pytest.fixture(scope="module")
def result(build):
    return mapped(build)


@pytest.fixture
def panel(build):
    panel = panels.volume_ratio_panel(build)
    yield panel
    panel.close()


def drawn(result):
    view = VolumeView()
    Painter(view).png(result)
    return view


def named(artists, start):
    """The drawn ones whose names begin so."""
    return [each for each in artists if each.get_visible() and (each.get_gid() or "").startswith(start)]


@pytest.mark.parametrize("name", bl.demo_builds())
def test_starts_at_the_builds_own_numbers(name):
    build = bl.demo_build(name)
    panel = panels.volume_ratio_panel(build)
    speed = kept(bl.simulate(build).muzzle_velocity, "speed")
    assert panel.text.startswith(f"Volume ratio: ratio {build.volume_ratio:.2f}, {speed}; best ")
    row = bl.ratio_rule({"": build}, 2.0).loc[""]
    said = [float(x) for x in re.findall(r"ratio ([\d.]+); within 1 %: ([\d.]+) to ([\d.]+)", panel.text)[0]]
    assert said == pytest.approx([row.best_ratio, row.low_ratio, row.high_ratio], abs=0.0101)
    assert panel.result.map.velocities.shape == (60, 60)
    assert len(panel.text) <= 110
    panel.close()


@pytest.mark.parametrize("name", NAMES)
def test_every_control_moves_the_answer(name, panel):
    before, picture = panel.text, panel.sight
    panel.set(name, 1.2 * panel.values[name])
    assert panel.text != before
    assert panel.sight != picture
    panel.reset()
    assert panel.text == before


def test_ends_of_every_control_give_a_result_or_a_reason(panel):
    answer = r"ratio [\d.]+, ([\d.]+ m/s|the dart stays in); |no result, .*(spring|chamber|barrel|dart)\b"
    seen, first = 0, panel.values
    for vary in ("stroke", "bore"):
        panel.set("vary", vary)
        for name, (_, low, high, *_) in ((name, ROWS[name]) for name in NAMES):
            for end in (low, high):
                with contextlib.suppress(ValueError):
                    panel.set(name, end)
                assert re.match("Volume ratio: (" + answer + ")", panel.text), (name, end, panel.text)
                seen += "m/s" in panel.text
                panel.set(name, first[name])
    assert seen >= 20


def test_moving_the_point_keeps_the_map_and_moving_the_spring_does_not(panel, build):
    first = panel.result.map
    panel.set("barrel.length", "30 cm")
    panel.set("chamber.stroke", "75 mm")
    assert panel.result.map is first
    assert panel.result.shot.build.si["chamber.stroke"] == pytest.approx(0.075)
    panel.set("spring.wire_diameter", "1.45 mm")
    second = panel.result.map
    assert second is not first
    assert not np.allclose(second.velocities, first.velocities, equal_nan=True)
    panel.reset()
    panel.set("vary", "bore")
    third = panel.result.map
    assert third.vary == "bore"
    panel.set("chamber.bore", "30 mm")
    assert panel.result.map is third
    panel.set("chamber.stroke", "75 mm")
    assert panel.result.map is not third


@pytest.mark.parametrize("vary", ["stroke", "bore"])
def test_the_map_is_that_of_the_moved_build(panel, build, vary):
    panel.set("vary", vary)
    panel.set("losses.dart_friction", "3 N")
    panel.set("dart.mass", "1.4 g")
    moved = build.replace({"losses.dart_friction": "3 N", "dart.mass": "1.4 g"})
    expected = bl.volume_map(moved, vary)
    assert panel.result.map.velocities == pytest.approx(expected.velocities, rel=1e-6, nan_ok=True)


def test_a_slider_moves_a_coarser_map_until_it_rests(panel):
    first = panel.result.map
    panel.slide("dart.mass", 1.4)
    panel._pause.cancel()
    rough = panel.result.map
    assert rough.velocities.shape == (30, 30)
    panel.rest()
    fine = panel.result.map
    assert fine.velocities.shape == first.velocities.shape == (60, 60)
    assert fine.build == rough.build
    assert np.nanmax(fine.velocities) == pytest.approx(np.nanmax(rough.velocities), rel=2e-3)
    ends = np.array([[0, 0, -1, -1], [0, -1, 0, -1]])
    assert fine.velocities[*ends] == pytest.approx(rough.velocities[*ends], rel=1e-9, nan_ok=True)
    panel.slide("barrel.length", 300)
    assert panel.result.map is rough
    panel.rest()
    assert panel.result.map is fine


def test_a_stiff_spring_with_a_short_stroke_still_has_its_map(build):
    """The stroke at the start would be solid with this wire; the map must not stumble over it."""
    panel = panels.volume_ratio_panel(build.replace({"spring.preload": "55 mm"}))
    panel.set("chamber.stroke", "45 mm")
    panel.set("spring.wire_diameter", "2.2 mm")
    found = panel.result.map
    assert found.volumes[-1] == pytest.approx(found.solid_from)
    assert found.solid_from < build.chamber.swept_volume.m_as("m^3")
    assert any("spring is solid at the catch" in line for line in panel.lines)
    panel.close()


def test_an_overloaded_spring_is_said_under_the_key_line(panel):
    assert "Warning: " not in panel.sight
    panel.set("spring.wire_diameter", "2.4 mm")
    lines = panel.lines
    assert lines[2].startswith("Warning: At the catch the wire carries")
    doubts = warnings(panel.result.shot)
    assert doubts
    assert all(f"Less certain here: {doubt}." in lines for doubt in doubts)


def test_what_cannot_be_is_said(panel):
    panel.slide("chamber.stroke", 155.0)
    assert "the spring is solid at" in panel.message
    panel.slide("chamber.stroke", 90.0)
    assert panel.message == ""


def test_the_words_add_up(panel, build):
    lines = panel.lines
    assert lines[0] == key_numbers(panel.result.shot, panel.result.sweep)
    assert lines[1].startswith("Ratio 1.66: 63.12 m/s, ")
    assert "This barrel is 46.1 mm longer than the best one and loses 0.7 %" in lines[1]
    assert lines[3] == "The plunger sweeps 86.6 cm³; the barrel holds 52.3 cm³."
    found = panel.result.map
    ends = re.findall(r"([\d.]+) at ([\d.]+) cm³", lines[4])
    assert [float(x) for x, _ in ends] == pytest.approx(
        [found.best_ratios[0], found.best_ratios[-1]], abs=5e-3
    )
    assert (
        lines[2] == f"From {units.show(found.solid_from, 'volume', 3)} up, the spring is solid at the catch."
    )
    panel.set("chamber.stroke", "120 mm")
    assert panel.lines[2].startswith(
        "Warning: This stroke needs a tube of at least 120 mm; the build's is 110"
    )


def test_a_dart_that_stays_in_is_a_result_with_a_reason(panel):
    panel.set("losses.dart_friction", "6 N")
    panel.set("spring.wire_diameter", "1.4 mm")
    panel.set("barrel.length", "600 mm")
    assert not panel.result.shot.exited
    assert "the dart stays in" in panel.text
    assert "stalled" in panel.lines[1]
    assert panel.views[0].figure.artist("here words").get_text() == "this build: the dart stays in"


def test_an_optimum_at_an_end_is_said_without_a_ratio(build, result):
    short = MappedShot(result.shot, bl.barrel_sweep(build, "5 cm", "20 cm"), map=result.map)
    assert key_numbers(short.shot, short.sweep).endswith("still rising at 200 mm")


def test_an_axis_stays_until_the_value_leaves_it():
    assert reach(90.0, 100.0, 0.25, 1.6) == reach(90.0, 40.0, 0.25, 1.6) == (22.5, 144.0)
    assert reach(90.0, 300.0, 0.25, 1.6) == (22.5, 576.0)
    assert reach(90.0, 10.0, 0.25, 1.6) == (5.625, 144.0)


def test_own_ratios_are_those_of_the_sweep(build, result):
    for length in (result.sweep.best_length, *result.sweep.flat_range(0.01)):
        own = build.replace({"barrel.length": length}).volume_ratio
        assert result.sweep.ratio_at(length) == pytest.approx(own)
        assert f"{own:.2f}" in key_numbers(result.shot, result.sweep)


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_the_picture_shows_what_the_map_says(result, chosen):
    units.use_units(chosen)
    try:
        view, found = drawn(result), result.map
        inside = ~found.at_end
        assert view.figure.artist("ridge").get_xdata()[inside] == pytest.approx(
            units.display(found.best_lengths, "length")[inside]
        )
        assert np.isnan(view.figure.artist("ridge").get_xdata()[~inside]).all()
        assert view.figure.artist("ridge").get_ydata() == pytest.approx(
            units.display(found.volumes, "volume")
        )
        own = [units.display(0.4, "length"), units.display(found.build.si["chamber.stroke"], "length")]
        assert view.figure.artist("here").get_xdata() == pytest.approx([own[0]])
        volume = result.shot.build.chamber.swept_volume.m_as("m^3")
        assert view.figure.artist("here").get_ydata() == pytest.approx([units.display(volume, "volume")])
        solid = view.figure.artist("solid").get_bbox()
        assert (solid.y0, solid.y1) == pytest.approx(
            tuple(units.display(np.array([found.solid_from, found.highest]), "volume"))
        )
        assert view.figure.artist("solid words").get_text() == "spring solid"
        assert view.figure.artist("inside words").get_text() == "dart stays in"
    finally:
        units.use_units("metric")


def test_each_number_stands_on_its_own_line_of_equal_velocity(result):
    view, found = drawn(result), result.map
    numbers = named(view.ax.texts, "level")
    assert len(numbers) >= 3
    for text in numbers:
        x, y = view.ax.transData.inverted().transform(text.get_transform().transform(text.get_position()))
        column = np.interp(x * 1e-3, found.lengths, np.arange(len(found.lengths)))
        row = np.interp(y * 1e-6, found.volumes, np.arange(len(found.volumes)))
        i, j = int(min(row, 38)), int(min(column, 38))
        around = np.nan_to_num(found.velocities[i : i + 2, j : j + 2], nan=0.0)
        assert around.min() <= float(text.get_text()) <= around.max()


def test_a_dashed_line_is_one_ratio_and_says_which(result):
    view, found = drawn(result), result.map
    lines, texts = (named(artists, "ratio") for artists in (view.ax.lines, view.ax.texts))
    assert [f"{line.get_gid()} words" for line in lines] == [text.get_gid() for text in texts]
    assert {f"ratio {ratio:g}" for ratio in RATIOS} >= {line.get_gid() for line in lines}
    for line, text in zip(lines, texts, strict=True):
        x, y = line.get_xdata()[1] * 1e-3, line.get_ydata()[1] * 1e-6
        assert y / (x * found.bore_area) == pytest.approx(float(text.get_text()))
        assert line.get_gid() == f"ratio {text.get_text()}"
    assert len(lines) >= 5


@pytest.mark.parametrize("vary", ["stroke", "bore"])
@pytest.mark.parametrize("name", bl.demo_builds())
def test_all_words_lie_inside_the_picture_and_clear_of_each_other(name, vary):
    view = drawn(mapped(bl.demo_build(name), vary))
    names = ("here", "ridge", "inside", "ratio", "level")
    boxes = [text.get_window_extent() for text in named(view.ax.texts, names)]
    assert len(boxes) >= 9
    for box in boxes:
        assert 0 <= box.x0 < box.x1 <= WIDTH
        assert 0 <= box.y0 < box.y1 <= 400
    for place, box in enumerate(boxes):
        for other in boxes[:place]:
            assert not box.overlaps(other)


def test_a_jump_of_the_best_length_is_a_gap():
    apprentice = bl.demo_build("apprentice")
    found = bl.volume_map(apprentice)
    steps = np.abs(np.diff(found.best_lengths))
    jump = int(np.argmax(steps))
    assert steps[jump] > 0.1 * (found.lengths[-1] - found.lengths[0])
    view = drawn(MappedShot(bl.simulate(apprentice), bl.barrel_sweep(apprentice), map=found))
    line = view.figure.artist("ridge").get_xdata()
    assert np.isnan(line[jump + 1])
    assert np.isfinite(line[[jump - 1, jump, jump + 2]]).all()
    assert np.isfinite(found.best_lengths).all()


def test_a_moving_picture_piles_nothing_up(build, result):
    view = VolumeView()
    painter = Painter(view)
    first = painter.png(result)
    other = mapped(build.replace({"dart.mass": "2 g"}))
    assert painter.png(other) != first
    again = np.asarray(Image.open(io.BytesIO(painter.png(result))))
    assert np.array_equal(again, np.asarray(Image.open(io.BytesIO(first))))
    assert sum(isinstance(artist, QuadContourSet) for artist in view.ax.collections) == 2
    assert painter.full_draws == 1


def test_stills_have_captions_with_the_numbers(build, result):
    chart = figures.volume_chart(result.map, result.shot, result.sweep)
    assert chart.caption.endswith(key_numbers(result.shot, result.sweep))
    cases = {force: bl.full_chamber("300 kPa", "12.9 mm", force) for force in ("0 N", "3 N")}
    closed = figures.full_chamber_chart(cases)
    for force, case in cases.items():
        assert f"{force}, ratio {case.filled:.2f}" in closed.caption
    (ax,) = closed.axes
    dots = [line for line in ax.lines if line.get_marker() in "os"]
    assert [dot.get_xdata()[0] for dot in dots] == pytest.approx([1 / c.filled for c in cases.values()])
    assert [dot.get_ydata()[0] for dot in dots] == pytest.approx(
        [c.resistance.m_as("kPa") for c in cases.values()]
    )


def test_the_rules_picture_draws_its_table(build):
    table = bl.ratio_rule({"as it is": build, "thin": build.replace({"spring.wire_diameter": "1.3 mm"})}, 2.0)
    chart = figures.ratio_chart(table, 2.0)
    (ax,) = chart.axes
    bars = [line.get_xdata() for line in ax.lines if len(line.get_xdata()) == 2][:2]
    assert np.array(bars) == pytest.approx(table[["low_ratio", "high_ratio"]].to_numpy())
    assert [tick.get_text() for tick in ax.get_yticklabels()] == ["as it is", "thin"]
    worst = table.lost_percent["thin"]
    assert worst > 10
    assert f"costs thin most: {worst:.1f} % of its speed" in chart.caption
    assert f"{worst:.1f} % lost" in [text.get_text() for text in ax.texts]


def test_a_barrel_over_the_cap_is_not_to_be_left_as_it_is(panel):
    assert "loses 0.7 % of its speed: leave it." in panel.verdict
    panel.set("cap", "190 ft/s")
    assert ", over your cap of 190 ft/s (57.91 m/s). Barrels up to " in panel.verdict
    assert "of its speed" not in panel.verdict
    panel.set("cap", "80 m/s")
    assert "leave it" in panel.verdict
    panel.set("barrel.length", "450 mm")
    advice = f"cutting it to {best(panel.result.sweep, '').split(',')[0].strip()} would give 63."
    assert advice in panel.verdict
    panel.set("barrel.length", "150 mm")
    assert f": {advice.replace('cutting it to', 'one of')}" in panel.verdict
    panel.set("cap", "62.9 m/s")
    assert "would give" not in panel.verdict  # no advice to go over the cap
