"""The panels of ring, both ends, strength and the moving shot: from a build or from nothing but callipers."""

from __future__ import annotations

from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from matplotlib.patches import Circle, Patch
from matplotlib.text import Text

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.checks.fit_use import both_ends, pick_seal, tube_use
from blasterlab.figures.fit import SealView, TubeView
from blasterlab.figures.motion import MotionView
from blasterlab.figures.plan import CausesView, StepsView
from blasterlab.figures.section import SectionView
from blasterlab.figures.style import Painter, still
from blasterlab.parts.rings import squeeze_limits
from blasterlab.shot.simulate import moment

#: Nothing but what callipers and a scale show; invented.
CALLIPERS = """
title = "Callipers only (invented)"
[spring]
wire_diameter = "1.8 mm"
outer_diameter = "15 mm"
free_length = "254 mm"
[chamber]
bore = "36 mm"
wall = "2 mm"
tube_length = "105 mm"
[barrel]
bore = "12.9 mm"
[dart]
mass = "1 g"
"""


@pytest.fixture(scope="module")
def build() -> bl.Build:
    return bl.Build.from_text(CALLIPERS)


def test_a_ring_is_picked_from_callipers_numbers(build: bl.Build) -> None:
    panel = panels.seal_panel(build)
    assert panel.result.fit.faults == ()
    assert "Not in the build text" in "\n".join(panel.lines)
    assert any("groove width 4.75 mm" in line for line in panel.lines)
    panel.set("fit.groove_width", "3.6 mm")
    assert (panel.result.fit.ring.section.m_as("mm"), panel.result.fit.faults) == (3.0, ())
    assert panel.result.fit.wraps == 6  # 29.8 mm + 12 x 0.09 mm: 2.56 mm deep, 3 mm of ring less 13 %
    assert not any("groove width" in line for line in panel.lines)
    panel.set("fit.groove_width", "4.75 mm")
    panel.set("fit.groove_diameter", "29 mm")
    panel.set("fit.ring", "29 x 3.5 mm")
    assert panel.result.fit.wraps > 0
    assert f"Wind {panel.result.fit.wraps} turns of tape under the ring." in panel.verdict
    sliding = panel.result.fit.limits
    panel.set("place", "tube end, it stays")
    assert panel.result.fit.limits == squeeze_limits(panel.result.fit.ring.section, moving=False) != sliding
    panel.set("fit.groove_diameter", "28.8 mm")
    assert panel.verdict == "It is stretched too far and will thin and crack: use a larger ring."
    panel.set("fit.groove_diameter", "29 mm")
    panel.set("place", "plunger, it slides")
    panel.set("wound", "as set below")
    panel.set("fit.wraps", "0")
    assert panel.result.fit.wraps == 0
    assert panel.verdict.startswith("It is squeezed too little to seal")
    panel.set("fit.wraps", "7")
    assert {one.wraps for one in panel.result.others} == {7}
    panel.set("fit.wraps", "0")
    assert any(line.startswith("This one would do") for line in panel.lines)
    with pytest.raises(units.UnitError, match="cannot be stretched onto a groove of 29"):
        panel.set("fit.ring", "10 x 3.5 mm")
    panel.reset()
    with pytest.raises(units.UnitError, match="groove: got"):
        panel.set("fit.groove_diameter", "40 mm")


def test_no_ring_near_is_said_and_not_a_crash() -> None:
    with pytest.raises(units.UnitError, match="no ring of the list comes near"):
        pick_seal("59 mm", "20 mm", "5 mm")


def test_both_ends_move_with_their_lengths(build: bl.Build) -> None:
    panel = panels.ends_panel(build)
    assert panel.verdict.startswith("The seal stays in the tube at both ends; the spring keeps")
    assert any("active coils 37.7" in line for line in panel.lines)
    inside = panel.result.travel.at_catch.value
    panel.set("fit.setback", "10 mm")
    assert panel.result.travel.at_catch.value == pytest.approx(inside - 0.004)
    panel.set("fit.over_travel", "9 mm")
    assert "comes out of the tube at the catch" in panel.verdict
    panel.set("fit.over_travel", "4.1 mm")
    assert "but not at the catch with every tolerance at its worst" in panel.verdict
    with pytest.raises(ValueError, match=r"fit\.rod_diameter: got 14 mm; must be below 11\.4 mm"):
        panel.set("fit.rod_diameter", "14 mm")
    panel.reset()
    panel.set("fit.length_tolerance", "1 mm")
    with pytest.raises(
        ValueError, match=r"fit\.length_tolerance: got 1 mm; must be at most 0\.75 mm, a quarter"
    ):
        panel.set("fit.setback", "3 mm")
    panel.reset()
    with pytest.raises(units.UnitError, match="ring: got"):
        panel.set("fit.ring", "nine")
    with pytest.raises(
        units.UnitError, match=r"fit\.ring, fit\.setback, fit\.front_gap: not in the build text"
    ):
        both_ends(build)


def test_the_margin_follows_wall_material_and_factor(build: bl.Build) -> None:
    panel = panels.strength_panel(build)
    margin = panel.result.margin
    assert panel.verdict.startswith(f"The tube bears a blocked barrel, with {margin:.2g} times")
    stress = panel.result.in_shot.hoop_inside.m_as("MPa")
    least = panel.result.material.strength[0].m_as("MPa") / panel.result.factor / stress
    assert panel.verdict.endswith(f"at the shot's peak the margin is {least:.2g}.")
    panel.set("fit.design_factor", "16")
    assert panel.result.margin == pytest.approx(margin / 2)
    assert panel.verdict.startswith("Too thin for a blocked barrel")
    panel.set("fit.tube_material", "printed ABS across layers")
    panel.set("chamber.wall", "0.5 mm")
    assert panel.verdict.startswith("A blocked barrel can burst this tube")
    with pytest.raises(ValueError, match=r"wall: got '-1 mm'; must be 0\.3 mm to 10 mm"):
        panel.set("chamber.wall", "-1 mm")
    panel.reset()
    hard = panel.result.blow
    panel.set("fit.pad_stiffness", "75 N/mm")
    assert panel.result.blow.force.m_as("N") == pytest.approx(hard.force.m_as("N") / 2)
    assert panel.result.blow.energy == hard.energy
    assert any(line.startswith("Catch: ") and "over 20 mm² is" in line for line in panel.lines)
    panel.set("fit.catch_area", "4 mm^2")
    panel.set("fit.catch_material", "printed PLA along layers")
    assert any(line.startswith("The catch is too small") for line in panel.lines)
    assert "4 mm^2" in panel.kept_text or "4.0 mm^2" in panel.kept_text
    panel.set("overlap", "2 mm")
    assert any("glue line is too short" in line for line in panel.lines)
    shot = bl.simulate(build)
    with pytest.raises(units.UnitError, match=r"fit\.tube_material, fit\.pad_thickness"):
        tube_use(shot, "epoxy", "10 mm")
    with pytest.raises(units.UnitError, match="adhesive"):
        tube_use(panel.result.shot, "chewing gum", "10 mm")


def test_the_blow_in_the_shot_is_no_more_than_the_empty_one_and_never_nothing(build: bl.Build) -> None:
    for name in (None, *bl.demo_builds()):
        one = panels.strength_panel(build if name is None else bl.demo_build(name)).result
        assert 0.0 < one.blow.energy.m_as("J") < one.empty.energy.m_as("J")


@pytest.mark.parametrize("make", [panels.seal_panel, panels.ends_panel, panels.strength_panel])
def test_each_panel_starts_from_a_demo_and_speaks_both_unit_sets(make: object) -> None:
    panel = make()  # type: ignore[operator]
    assert panel.pictures[0][:4] == b"\x89PNG"
    try:
        panel.units = "US customary"
        assert len(panel.text) <= 110
        assert " mm" not in panel.text
    finally:
        units.use_units("metric")


def test_the_moving_shot_starts_at_its_peak_and_follows_the_time() -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    panel = panels.motion_panel(shot)
    peak = shot.peak_pressure.m_as("Pa")
    assert panel.result.chamber == pytest.approx(peak, rel=2e-3)
    panel.set("time", "0 ms")
    assert (panel.result.plunger, panel.result.dart) == (0.0, 0.0)
    assert "0 ms: 101 kPa in the chamber" in panel.text
    first = panel.pictures[0]
    panel.set("time", shot.exit_time)
    assert panel.result.dart_speed == pytest.approx(shot.muzzle_velocity.m_as("m/s"))
    assert panel.result.dart == pytest.approx(shot.build.barrel.length.m_as("m"))
    assert panel.pictures[0] != first


def test_play_moves_the_slider_and_starts_where_it_stands() -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    panel = panels.motion_panel(shot)
    play = panel.children[1]
    assert play.max == pytest.approx(100, abs=60)
    play.value = 20
    assert panel.result.time == pytest.approx(20 / play.max * shot.exit_time.m_as("s"), rel=0.03)
    panel.set("time", "4 ms")
    play.playing = True
    step = panel.box("time").grid[2]
    assert play.value == round(4.0 / step)
    assert panel.result.time == pytest.approx(4e-3, rel=0.03)


def test_without_a_kernel_five_moments_stand_in_the_panels_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    panel, strip = panels.motion_panel(shot), figures.shot_strip(shot)
    drawn, about = strip._repr_mimebundle_()
    data, told = panel._repr_mimebundle_()
    assert data["image/png"] == drawn["image/png"]  # what a saved notebook and an HTML export show
    assert told["image/png"]["alt"] == about["image/png"]["alt"] == strip.caption
    assert data["text/plain"] == panel.text
    monkeypatch.setenv("BLASTERLAB_BENCH", str(tmp_path))
    assert drawn["image/png"] in panel._last._html()  # what is seen after the kernel is gone


def test_only_what_moves_is_drawn_for_a_frame() -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    view = MotionView()
    painter = Painter(view)
    pictures = {painter.png(moment(shot, f"{ms} ms")) for ms in (0, 2, 4, 6)}
    assert len(pictures) == 4
    assert painter.full_draws == 1
    painter.png(moment(bl.simulate(bl.demo_build("apprentice")), "1 ms"))
    assert painter.full_draws == 2


def test_gas_is_shaded_by_its_pressure_and_lies_between_plunger_and_dart() -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    now = moment(shot, "6 ms")
    view = MotionView()
    Painter(view).png(now)
    chamber, barrel, plunger, dart = map(view.figure.artist, ("chamber", "barrel", "plunger", "dart"))
    assert chamber.get_alpha() == pytest.approx(now.chamber / shot.outcome.chamber_peak)
    assert chamber.get_alpha() != barrel.get_alpha()
    assert chamber.get_x() == pytest.approx(plunger.get_x() + plunger.get_width())
    assert barrel.get_x() + barrel.get_width() == pytest.approx(dart.get_x())


def test_the_strip_has_its_frames_and_their_numbers() -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    strip = figures.shot_strip(shot)
    assert len(strip.axes) == 5
    assert strip.caption.count("in the chamber") == 5
    assert units.show(shot.muzzle_velocity, "speed", 3) in strip.caption
    with pytest.raises(units.UnitError, match="frames"):
        figures.shot_strip(shot, frames=1)
    with pytest.raises(units.UnitError, match="time"):
        moment(shot, "-1 ms")


def test_the_ring_picture_shows_tape_only_where_there_is_some() -> None:
    wound = still(SealView(), pick_seal("36 mm", "29 mm", "4.8 mm", "29 x 3.5 mm"), "")
    turns = pick_seal("36 mm", "29 mm", "4.8 mm", "29 x 3.5 mm").fit.wraps
    assert wound.artist("tape").get_height() == pytest.approx(0.09 * turns)
    ring = wound.artist("ring")
    assert ring.height < 3.5 < ring.width
    bare = still(SealView(), pick_seal("36 mm", "29 mm", "4.8 mm", "28 x 4 mm"), "")
    with pytest.raises(KeyError):
        bare.artist("tape")


def test_what_a_panel_keeps_has_the_ring_and_its_tape(build: bl.Build) -> None:
    panel = panels.seal_panel(build)
    panel.set("fit.groove_diameter", "29 mm")
    panel.set("fit.ring", "29 x 3.5 mm")
    kept = bl.Build.from_text(panel.kept_text).fit
    assert (kept.ring, kept.wraps, kept.groove_diameter.m_as("mm")) == ("29 x 3.5 mm", 5, pytest.approx(29.0))
    panel.set("place", "tube end, it stays")
    end = bl.Build.from_text(panel.kept_text).fit
    assert (end.end_ring, end.ring, end.end_groove_diameter.m_as("mm")) == (
        "29 x 3.5 mm",
        None,
        pytest.approx(29.0),
    )
    panel.set("place", "plunger, it slides")
    again = panels.ends_panel(bl.Build.from_text(panel.kept_text))
    assert again.values["fit.ring"] == "29 x 3.5 mm"
    wall = panels.strength_panel(build)
    wall.set("fit.tube_material", "PVC")
    assert bl.Build.from_text(wall.kept_text).fit.tube_material == "PVC"


@pytest.mark.parametrize("system", units.UNIT_SETS)
def test_the_words_of_a_moment_end_before_the_gauge(system: str) -> None:
    shot = bl.simulate(bl.demo_build("two_springs"))
    view = MotionView()
    units.use_units(system)
    try:
        Painter(view).png(moment(shot, shot.exit_time))
        box = view.figure.artist("words").get_window_extent(view.figure.canvas.get_renderer())
        patches = view.figure.axes[0].patches
        dial = min(patch.get_window_extent().x0 for patch in patches if isinstance(patch, Circle))
        train = max(patch.get_window_extent().y1 for patch in patches if not isinstance(patch, Circle))
    finally:
        units.use_units("metric")
    assert box.x1 < dial
    assert train < box.y0
    assert box.y1 <= view.figure.bbox.y1


def told(artist: Any) -> tuple[Any, ...]:
    """What can be seen of an artist but for its look."""
    name, place = type(artist).__name__, getattr(artist, "get_xydata", getattr(artist, "get_offsets", None))
    if isinstance(artist, Text):
        return name, artist.get_text(), artist.get_position(), artist.get_color(), artist.get_ha()
    if place is not None and not isinstance(artist, Patch):
        return name, np.round(place(), 12).tolist()
    path, across = artist.get_path(), artist.get_patch_transform()
    return name, np.round(across.transform(path.vertices), 12).tolist(), artist.get_facecolor()


MOVES = {
    "seal": (panels.seal_panel, SealView, [
        ("chamber.bore", "36.4 mm"), ("fit.groove_diameter", "29 mm"), ("fit.ring", "29 x 3.5 mm"),
        ("fit.groove_width", "3 mm"), ("place", "tube end, it stays"), ("wound", "as set below"),
        ("fit.wraps", 9), ("fit.wraps", 0), ("fit.diameter_tolerance", "0.4 mm"), ("fit.ring", ""),
    ]),
    "ends": (panels.ends_panel, SectionView, [
        ("chamber.stroke", "60 mm"), ("fit.over_travel", "9 mm"), ("spring.free_length", "150 mm"),
        ("chamber.tube_length", "180 mm"), ("spring.active_coils", 12), ("fit.over_travel", "0 mm"),
        ("fit.rod_diameter", "4 mm"), ("chamber.stroke", "90 mm"), ("fit.ring", "214"),
    ]),
    "strength": (panels.strength_panel, TubeView, [
        ("chamber.wall", "4 mm"), ("chamber.wall", "0.5 mm"), ("fit.design_factor", 1),
        ("fit.tube_material", "printed ABS across layers"), ("chamber.wall", "10 mm"),
        ("chamber.bore", "20 mm"),
    ]),
    "tuning": (panels.tuning_panel, StepsView, [
        ("spring.wire_diameter", "1.8 mm"), ("barrel.length", "5 cm"), ("chamber.stroke", "40 mm"),
        ("barrel.length", "60 cm"),
    ]),
    "causes": (panels.explain_panel, CausesView, [
        ("now", "182 ft/s, SD 3 ft/s, 10 shots"), ("now", "199 ft/s, SD 3 ft/s, 10 shots"),
        ("before", "205 ft/s, SD 1 ft/s, 10 shots"), ("now", "240 ft/s, SD 9 ft/s, 5 shots"),
    ]),
}  # fmt: skip


@pytest.mark.parametrize("name", MOVES)
def test_a_moved_picture_is_the_one_that_is_drawn_anew(name: str) -> None:
    make, new, moves = MOVES[name]
    panel = make(bl.demo_build("workhorse"))
    view = new()
    painter, same = Painter(view), 0
    painter.png(panel.result)
    for control, value in moves:
        panel.set(control, value)
        picture, fresh = painter.png(panel.result), new()
        frame = painter._key[1]  # type: ignore[index]
        assert fresh.frame(panel.result, frame) == frame
        fresh.draw_full(frame)
        moved, anew = view.draw_live(panel.result), fresh.draw_live(panel.result)
        assert len(moved) > 8
        assert list(map(told, moved)) == list(map(told, anew)), (control, value)
        again = Painter(new())
        if again.view.frame(panel.result, None) == frame:
            same += 1
            assert again.png(panel.result) == picture, (control, value)
    assert same > 2
    panel.close()


@pytest.mark.parametrize(
    ("name", "control", "steps"),
    [
        ("seal", "fit.groove_diameter", ["29.8 mm", "29.85 mm", "29.9 mm", "29.95 mm"]),
        ("ends", "chamber.stroke", ["88 mm", "88.5 mm", "89 mm", "89.5 mm"]),
        ("strength", "chamber.wall", ["2 mm", "2.05 mm", "2.1 mm", "2.15 mm"]),
        ("tuning", "barrel.length", ["30 cm", "30.1 cm", "30.2 cm", "30.3 cm"]),
    ],
)
def test_a_slider_moves_a_picture_without_drawing_it_anew(name: str, control: str, steps: list[str]) -> None:
    make, _, _ = MOVES[name]
    panel = make(bl.demo_build("workhorse"))
    (painter,) = panel._sight.painters
    panel.set(control, steps[0])
    full, made = painter.full_draws, len(painter.view.figure.findobj())
    pictures = {panel.pictures[0] for step in steps if panel.set(control, step) is None}
    assert len(pictures) == len(steps)
    assert (painter.full_draws, len(painter.view.figure.findobj())) == (full, made)
    panel.close()


@pytest.mark.parametrize("system", units.UNIT_SETS)
@pytest.mark.parametrize("factor", [1, 1.5, 8, 50])
@pytest.mark.parametrize("wall", ["0.3 mm", "0.6 mm", "2 mm", "10 mm"])
def test_no_word_of_the_tubes_picture_is_cut_off_or_lies_on_another(
    system: str, factor: float, wall: str
) -> None:
    build = bl.demo_build("workhorse")
    panel = panels.strength_panel(build)
    units.use_units(system)
    try:
        panel.set("fit.design_factor", factor)
        for made in ("acrylic (PMMA)", "printed ABS across layers", "aluminium 6061-T6"):
            panel.set("fit.tube_material", made)
            panel.set("chamber.wall", wall)
            figure = still(TubeView(), panel.result, "")
            figure.draw_without_rendering()
            words = [text for text in figure.axes[0].texts if text.get_text().strip()]
            boxes = [text.get_window_extent() for text in words]
            assert all(box.x0 > 0 and box.x1 < figure.bbox.width for box in boxes), (made, wall)
            for (one, a), (other, b) in combinations(zip(words, boxes, strict=True), 2):
                assert not a.shrunk(0.96, 0.9).overlaps(b.shrunk(0.96, 0.9)), (one, other)
    finally:
        units.use_units("metric")
        panel.close()
