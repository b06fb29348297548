"""The pictures of a shot, the barrel length panel and the build text panel, on the demo builds."""

from __future__ import annotations

import contextlib
import dataclasses
import re
from itertools import product
from operator import attrgetter

import numpy as np
import pytest
from page_builds import CALLIPERS, LEARNED, SHORT
from scipy.interpolate import CubicSpline

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.checks import all as checks
from blasterlab.checks.finding import Finding
from blasterlab.figures.shot import SweptShot, VelocityView
from blasterlab.figures.style import Painter
from blasterlab.panels.moved_build import FOLD, FOLDED, POINTS, ROWS, KeptResults, MovedBuild
from blasterlab.report import findings
from blasterlab.report.barrel_length import best, panel_words
from blasterlab.report.numbers import kept
from blasterlab.report.shot import cautions, reason, warnings
from blasterlab.shot.barrel_sweep import separate
from blasterlab.shot.from_build import parameters
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.speed_range import TOLERANCE, speeds_of, unknowns


@pytest.fixture(scope="module")
def build():
    return bl.demo_build("workhorse")


@pytest.fixture
def panel(build):
    panel = panels.barrel_panel(build)
    yield panel
    panel.close()


@pytest.mark.parametrize("name", ["apprentice", "two_springs", "workhorse"])
def test_starts_at_the_builds_own_numbers(name):
    build = bl.demo_build(name)
    panel = panels.barrel_panel(build)
    shot = bl.simulate(build)
    sweep = bl.barrel_sweep(build, "3 cm", "65 cm", points=200)
    line = panel.text
    speed, energy = units.show(shot.muzzle_velocity, "speed"), units.show(shot.muzzle_energy, "energy", 3)
    assert re.search(rf": {re.escape(speed)} \([\d.]+ to [\d.]+\), {re.escape(energy)}; ", line)
    assert f"best {units.show(sweep.best_length, 'length', 3)}," in line
    short, long = (units.show(end, "length", 3) for end in sweep.flat_range(0.01))
    assert f"within 1 % {short.removesuffix(' mm')} to {long}" in line
    assert len(line) <= 110
    panel.close()


def test_few_lengths_find_the_best_length_that_200_find(build):
    fine = bl.barrel_sweep(build, "3 cm", "65 cm", points=200)
    coarse = panels.barrel_panel(build).result.sweep
    assert coarse.best_length.m_as("mm") == pytest.approx(fine.best_length.m_as("mm"), abs=0.05)
    assert coarse.best_velocity.m_as("m/s") == pytest.approx(fine.best_velocity.m_as("m/s"), rel=1e-5)


#: What no shot reads: only the checks do.
FIT = ("chamber.tube_length", "dart.diameter")


@pytest.mark.parametrize(("name", "value"), [("chamber.tube_length", "91 mm"), ("dart.diameter", "12.5 mm")])
def test_tube_and_dart_reach_the_checks(name, value, panel):
    assert name in FIT
    panel.set(name, value)
    assert "Warning: " in panel.sight
    assert attrgetter(name)(panel.result.shot.build) == panel.values[name]


@pytest.mark.parametrize("name", [name for name in ROWS if name not in FIT])
def test_every_control_moves_the_answer(name, panel):
    before, picture = panel.text, panel.sight
    panel.set(name, 1.02 * panel.values[name])
    assert panel.text != before
    assert panel.sight != picture
    assert panel.result.shot.build.si["barrel.length"] > 0
    panel.reset()
    assert panel.text == before


@pytest.mark.parametrize("name", [*ROWS, "air.pressure"])
def test_the_sweep_is_kept_where_no_shot_of_it_changes_and_is_always_the_moved_builds(name, build):
    start = MovedBuild(build)
    if name in ROWS:
        moved = start.moved(start.first | {name: 1.02 * start.first[name]})
    else:
        moved = build.replace({name: 1.02 * attrgetter(name)(build)})
    results = KeptResults()
    before = results.swept_shot(build).sweep
    after = results.swept_shot(moved).sweep
    assert (after is before) == (name in ("barrel.length", *FIT))
    fresh = bl.barrel_sweep(moved, "3 cm", "65 cm", points=POINTS, spacing="ratio")
    assert np.array_equal(after.nodes, fresh.nodes)


def test_ends_of_every_control_give_a_result_or_a_reason(build):
    panel = panels.barrel_panel(build)
    answer = r"[\d.]+ mm: ([\d.]+ m/s \([\d.]+ to [\d.]+\), [\d.]+ J|the dart stays in); "
    answer += r"|no result, .*(spring|chamber|barrel|dart)\.\w+: "
    shot = 0
    for name, (_, low, high, *_) in ROWS.items():
        for end in (low, high):
            with contextlib.suppress(ValueError):
                panel.set(name, end)
            assert re.match("Barrel length: (" + answer + ")", panel.text), (name, end, panel.text)
            shot += "m/s" in panel.text
            panel.reset()
    assert shot >= 12
    panel.close()


def test_impossible_parts_are_said_with_their_name(panel):
    panel.slide("chamber.stroke", 150.0)
    assert "chamber.stroke" in panel.message
    panel.slide("chamber.stroke", 90.0)
    assert panel.message == ""


def test_a_dart_that_stays_in_is_a_result_with_a_reason(panel):
    panel.set("losses.dart_friction", "6 N")
    panel.set("spring.wire_diameter", "1.4 mm")
    panel.set("barrel.length", "600 mm")
    assert not panel.result.shot.exited
    assert panel.text.startswith("Barrel length: 600 mm: the dart stays in; best ")
    assert "stalled" in panel.lines[1]
    with pytest.raises(ValueError, match="does not leave any barrel up to 65 cm; the dart never broke away"):
        panel.set("spring.wire_diameter", "0.8 mm")
    assert "never broke away" in panel.message


def test_the_words_add_up(build):
    result = SweptShot(bl.simulate(build), bl.barrel_sweep(build))
    text = " ".join(panel_words(result).lines)
    gap = abs(build.barrel.length - result.sweep.best_length)
    lost = 100 * (1 - float(result.shot.muzzle_velocity / result.sweep.best_velocity))
    assert f"{units.show(gap, 'length', 3)} longer than the best one and loses {lost:.1f} %" in text
    assert f"{build.volume_ratio:.2f}" in text
    longer = build.replace({"barrel.length": "10 cm"})
    assert "shorter than the best one" in panel_words(SweptShot(bl.simulate(longer), result.sweep)).verdict


def test_a_barrel_at_its_best_and_one_that_nobody_gave(build):
    found = bl.barrel_sweep(build)

    def said(one):
        return panel_words(SweptShot(bl.simulate(one), found)).verdict

    assert said(build.replace({"barrel.length": found.best_length})).endswith(
        "This barrel is at its best length: leave it."
    )
    rough = bl.Build.from_text(
        re.sub(r"(?s)(\[barrel\].*?)\nlength = [^\n]*", r"\1", build.to_text(), count=1)
    )
    assert rough.assumed == ("barrel.length",)
    short, long = (units.show(end, "length", 3) for end in found.flat_range(0.01))
    best_length = units.show(found.best_length, "length", 3)
    rest = f"(any length from {short} to {long} loses less than 1 %)."
    assert said(rough).endswith(f" A longer barrel, {best_length}, would be best {rest}")
    cut = f" Cut the barrel to {best_length} {rest}"
    for length, advice in (("250 mm", " A longer barrel, "), ("600 mm", cut), ("340 mm", ": leave it.")):
        other = dataclasses.replace(build.replace({"barrel.length": length}), assumed=("barrel.length",))
        assert advice in said(other)


def test_an_optimum_at_an_end_is_said(build):
    rising, falling = bl.barrel_sweep(build, "5 cm", "20 cm"), bl.barrel_sweep(build, "45 cm", "60 cm")
    assert best(rising) == "still rising at 200 mm"
    assert best(falling) == "already falling at 450 mm"


def test_the_picture_shows_what_the_sweep_says(build):
    view = VelocityView()
    result = SweptShot(bl.simulate(build), bl.barrel_sweep(build))
    Painter(view).png(result)
    assert view.figure.artist("best").get_xdata()[0] == pytest.approx(result.sweep.best_length.m_as("mm"))
    assert view.figure.artist("here").get_xydata()[0] == pytest.approx(
        [400, result.shot.muzzle_velocity.m_as("m/s")]
    )
    low, high = result.sweep.flat_range(0.01)
    assert view.figure.artist("band").get_x() == pytest.approx(low.m_as("mm"))
    assert view.figure.artist("band").get_width() == pytest.approx((high - low).m_as("mm"))
    assert view.figure.artist("curve").get_ydata().max() == pytest.approx(
        result.sweep.best_velocity.m_as("m/s"), rel=1e-4
    )
    for text in (view.figure.artist("best words"), view.figure.artist("here words")):
        box = text.get_window_extent()
        assert 0 <= box.x0 < box.x1 <= 416
        assert 0 <= box.y0 < box.y1 <= 286


def test_lengths_that_the_dart_does_not_leave_are_a_gap(build):
    sticky = build.replace({"losses.dart_friction": "12 N"})
    sweep = bl.barrel_sweep(sticky, "3 cm", "100 cm")
    assert (sweep.velocities == 0).any()
    view = VelocityView()
    Painter(view).png(SweptShot(bl.simulate(sticky), sweep))
    drawn = view.figure.artist("curve").get_ydata()
    assert np.isnan(drawn).tolist() == (sweep.smooth()[1] == 0).tolist()
    assert 0 < np.isnan(drawn).sum() < len(drawn)


def test_stills_have_captions_with_the_shots_numbers(build):
    shot = bl.simulate(build)
    ledger, history = figures.energy_ledger(shot), figures.shot_history(shot)
    assert ledger.caption.startswith(f"{units.show(shot.energy_in, 'energy')} put in: dart ")
    assert kept(shot.muzzle_velocity, "speed") in history.caption
    assert units.show(shot.peak_pressure, "pressure") in history.caption
    curve = figures.velocity_curve(bl.barrel_sweep(build), shot)
    assert kept(shot.muzzle_velocity, "speed") in curve.caption
    stuck = bl.simulate(build.replace({"losses.dart_friction": "12 N", "barrel.length": "100 cm"}))
    assert not stuck.exited
    assert reason(stuck) in figures.shot_history(stuck).caption


def test_the_ledgers_bars_sum_to_what_was_put_in(build):
    shot = bl.simulate(build)
    (ax,) = figures.energy_ledger(shot).axes
    assert len(ax.patches) >= 6
    assert sum(bar.get_width() for bar in ax.patches) == pytest.approx(shot.energy_in.m_as("J"), rel=1e-6)


def test_the_history_draws_the_shots_own_table(build):
    shot = bl.simulate(build)
    axes = figures.shot_history(shot).axes
    last = shot.history["dart_speed_m_s"].iloc[-1]
    assert axes[2].lines[1].get_ydata()[-1] == pytest.approx(last, rel=1e-12)
    assert last == pytest.approx(shot.muzzle_velocity.m_as("m/s"), rel=3e-6)  # its steps are shorter ones
    assert axes[1].lines[1].get_ydata()[-1] == pytest.approx(400, rel=1e-6)
    assert axes[0].lines[0].get_ydata().max() == pytest.approx(shot.peak_pressure.m_as("kPa"), rel=1e-3)


def test_pasting_a_build_shows_it_and_a_bad_text_lists_its_faults(build):
    panel = panels.build_panel(build.to_text())
    assert kept(bl.simulate(build).muzzle_velocity, "speed") in panel.text
    panel.type("build", build.to_text().replace('"40 cm"', '"40"').replace("wall =", "wal ="))
    assert "barrel.length" in panel.message
    assert "chamber.wal" in panel.message
    assert panel.alert.count("<br>") >= 2
    heavier = build.replace({"dart.mass": "1.3 g"})
    panel.set("build", heavier.to_text())
    assert kept(bl.simulate(heavier).muzzle_velocity, "speed") in panel.text
    panel.close()
    with pytest.raises(ValueError, match="chamber"):
        panels.build_panel('title = "no parts"')


def test_words_of_a_pasted_build_are_escaped(build):
    panel = panels.build_panel(build.to_text())
    bad = build.to_text().replace("wall =", "'<img src=x onerror=alert(1)>' =")
    panel.type("build", bad)
    assert "<img" not in panel.alert
    assert panel.message
    panel.close()


def test_a_build_without_findings_has_no_cautions(build):
    shot = bl.simulate(build)
    assert cautions(shot, build.check()) == warnings(shot) == []
    loose = bl.demo_build("apprentice")
    assert cautions(bl.simulate(loose), loose.check())[0].startswith(
        "Warning: The dart lies loose: 12.8 mm in a bore of 13.1 mm"
    )


def test_an_overloaded_spring_is_said_under_the_key_line(panel, build):
    assert "Warning: " not in panel.sight
    panel.set("spring.wire_diameter", "2.4 mm")
    lines = panel.lines
    moved = build.replace({"spring.wire_diameter": "2.4 mm"})
    gravest = moved.check()[0]
    assert gravest.severity == "warning"
    assert lines[2].startswith("Warning: ")
    assert gravest.message.startswith(lines[2].removeprefix("Warning: ").rstrip("."))
    assert "static limit" in lines[2]
    in_sight = panel.sight.partition('<div class="bl-rest">')[0]
    assert sum(in_sight.count(f">{word}: ") for word in ("Warning", "Caution", "Danger")) == 2
    for doubt in warnings(bl.simulate(moved)):
        assert f"Less certain here: {doubt}." in lines
    assert "static limit" in panel.sight
    assert "static limit" not in panel.text
    panel.reset()
    assert "Warning: " not in panel.sight


def test_a_pasted_build_has_its_findings_too(build):
    panel = panels.build_panel(build.replace({"spring.wire_diameter": "2.4 mm"}).to_text())
    assert "Warning: At the catch the wire carries" in panel.sight
    panel.close()


def test_a_dart_that_stays_in_keeps_the_findings_in_sight(build):
    stuck = build.replace({"spring.wire_diameter": "2.4 mm", "losses.dart_friction": "100 N"})
    shot = bl.simulate(stuck)
    assert not shot.exited
    told = panel_words(SweptShot(shot, bl.barrel_sweep(build), tuple(stuck.check())))
    assert told.verdict == f"Nothing comes out: {reason(shot)}."
    assert told.heard[0].startswith("Warning: ")


def test_findings_beyond_the_two_gravest_are_counted_and_folded():
    grave = [Finding("warning", "spring", f"finding {number}") for number in range(4)]
    assert findings.sorted_out(grave[:2]) == (["Warning: finding 0", "Warning: finding 1"], [])
    heard, folded = findings.sorted_out(grave)
    assert heard[2:] == ["2 more findings under “more”."]
    assert folded == ["Warning: finding 2", "Warning: finding 3"]
    assert findings.sorted_out(grave[:3])[0][2:] == ["1 more finding under “more”."]


@pytest.mark.parametrize("name", bl.demo_builds())
def test_kept_findings_are_those_of_a_new_check(name):
    """Whatever a check looks at moves in turn: what is kept from before must fit the build now."""
    start, seen = bl.demo_build(name), set()
    wire = "springs[0].wire_diameter" if len(start.springs) > 1 else "spring.wire_diameter"
    first = "springs[0]" if len(start.springs) > 1 else "spring"
    moves = [("chamber.bore", bore) for bore in ("15 mm", "17 mm", "45 mm")]
    moves += [("barrel.length", "60 cm"), ("dart.mass", "3 g"), ("losses.seal_friction", "40 N")]
    moves += [(wire, d) for d in ("0.8 mm", "1.9 mm", "2.4 mm")] + [("chamber.plunger_mass", "5 g")]
    moves += [(f"{first}.guide", "free"), (f"{first}.material", "EN 10270-1 SM"), ("chamber.stroke", "4 cm")]
    results = KeptResults()
    for (where, value), wired in product(moves, ({}, {wire: "1.9 mm"})):
        with contextlib.suppress(units.UnitError, bl.BuildError):
            build = start.replace({**wired, where: value})
            results.swept_shot(start.replace(wired))
            found = results.swept_shot(build).findings
            assert found == tuple(build.check()), (where, value)
            seen.add(found)
    assert len(seen) > 5


def test_a_move_asks_only_the_checks_that_read_it(build, monkeypatch):
    """A check costs time: it must not be in the way of a key press that cannot change it."""
    asked = []

    def watched(check):
        return lambda build: asked.append(check) or check(build)

    every = {watched(check): names for check, names in checks.CHECKS.items()}
    monkeypatch.setattr(checks, "CHECKS", every)
    results = KeptResults()
    results.swept_shot(build)
    assert len(asked) == len(every)
    for name, value in (("barrel.length", "30 cm"), ("barrel.bore", "13.2 mm"), ("chamber.bore", "36 mm")):
        asked.clear()
        results.swept_shot(build.replace({name: value}))
        assert len(asked) == sum(name in names for names in every.values())
        results.swept_shot(build)
        assert len(asked) == sum(name in names for names in every.values())


def test_a_finding_of_a_new_check_is_shown(build, monkeypatch):
    """What rests on a value that no check has read so far must not be kept when that value moves."""

    def heavy(build):
        found = Finding("warning", "dart", "Heavy.", build.dart.mass, None, "invented")
        return [found] if build.si["dart.mass"] > 1.2e-3 else []

    monkeypatch.setitem(checks.CHECKS, heavy, ("dart.mass",))
    panel = panels.barrel_panel(build)
    assert "Warning: Heavy." not in panel.lines
    panel.set("dart.mass", "1.5 g")
    assert panel.lines[2] == "Warning: Heavy."
    panel.close()


def test_long_findings_are_cut_after_a_sentence():
    long = "A spring. " + "It is long " * 20 + "and so on. The end."
    assert findings.shortened(long) == "A spring."
    assert findings.shortened("One 1.5 mm wire. Two.") == "One 1.5 mm wire. Two."


def test_findings_follow_the_unit_set(build):
    results = KeptResults()
    tight = build.replace({"chamber.bore": "16.1 mm", "chamber.port_diameter": "10 mm"})
    results.swept_shot(tight)
    units.use_units("US customary")
    try:
        shown = results.swept_shot(tight)
        assert "plunger tube's bore is 0.634 in" in " ".join(cautions(shown.shot, shown.findings))
    finally:
        units.use_units("metric")


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
@pytest.mark.parametrize("name", bl.demo_builds())
def test_the_speed_beside_the_dot_lies_on_no_line(name, chosen):
    """Whatever the barrel: neither on the curve nor on the dashed line, the dot or the ends of the band."""
    units.use_units(chosen)
    try:
        build, view = bl.demo_build(name), VelocityView()
        painter, results = Painter(view), KeptResults()
        best = results.swept_shot(build).sweep.best_length.m_as("mm")
        for length in (*range(30, 651, 20), *np.linspace(best - 12, best + 12, 9)):
            result = results.swept_shot(build.replace({"barrel.length": units.quantity(length, "mm")}))
            painter.png(result)
            box = view.figure.artist("here words").get_window_extent()
            assert view.ax.bbox.x0 <= box.x0 < box.x1 <= view.ax.bbox.x1 + 1
            assert view.ax.bbox.y0 <= box.y0 < box.y1 <= view.ax.bbox.y1 + 1
            for line in ("curve", "best", "here"):
                artist = view.figure.artist(line)
                path = view.ax.transData.transform_path(artist.get_path())
                assert not path.intersects_bbox(box, filled=False), (line, length)
    finally:
        units.use_units("metric")


def test_the_range_is_in_the_key_line_and_a_band_along_the_curve(build, panel):
    found = bl.predict(build)
    ends = [f"{end.m_as('m/s'):.3g}" for end in (found.mean_low, found.mean_high)]
    assert f"63.12 m/s ({ends[0]} to {ends[1]}), 1.99 J" in panel.text
    assert f"{ends[0]} to {ends[1]} m/s before any chronograph" in panel.verdict
    lengths, low, high = panel.result.band
    assert (low <= panel.result.sweep.smooth()[1] + 1e-9).all()
    for length in ("150 mm", "300 mm", "450 mm"):  # read between a few lengths, against the range there
        here = bl.predict(build.replace({"barrel.length": length}))
        at = units.si(length, "length")
        assert np.interp(at, lengths, low) == pytest.approx(here.mean_low.m_as("m/s"), abs=1.0)
        assert np.interp(at, lengths, high) == pytest.approx(here.mean_high.m_as("m/s"), abs=0.5)
    outline = panel.views[0].figure.artist("range").get_paths()[0].vertices
    assert outline[:, 1].max() == pytest.approx(high.max())
    panel.slide("barrel.length", 350.0)
    assert "(" not in panel.text  # follows when the slider rests
    assert not panel.views[0].figure.artist("range").get_visible()
    panel.rest()
    assert "m/s (" in panel.text


def test_an_assumed_barrel_has_the_range_of_the_length_that_is_shown():
    build = bl.Build.from_text(CALLIPERS)
    assert "barrel.length" in build.assumed
    panel = panels.barrel_panel(build)
    for length in ("100 mm", "400 mm"):
        lengths, low, high = panel.result.band
        panel.set("barrel.length", length)
        here = panel.result.near
        at = units.si(length, "length")
        assert np.interp(at, lengths, low) == pytest.approx(here.low, abs=1.0)
        assert np.interp(at, lengths, high) == pytest.approx(here.high, abs=1.0)


def test_no_length_is_advised_that_a_cap_forbids():
    """Over the cap, and where only the best length would be over it: callipers gave no barrel length."""
    panel = panels.barrel_panel(bl.Build.from_text(CALLIPERS))
    top = panel.result.sweep.best_velocity.m_as("m/s")
    assert (
        " would be best " in panel.verdict or "Cut the barrel" in panel.verdict or "leave it" in panel.verdict
    )
    panel.set("barrel.length", "120 mm")
    panel.set("cap", f"{top - 0.2:.2f} m/s")
    assert panel.verdict.endswith(" of its speed.")
    panel.undo()
    panel.undo()
    panel.set("cap", f"{0.8 * top:.2f} m/s")
    assert re.search(r", over your cap of [^.]+\.\d+ m/s\. (Barrels up to|No short barrel)", panel.verdict)
    assert "best" not in panel.verdict


_LEARNED = bl.demo_build("workhorse").to_text() + "\n" + LEARNED.to_text()


@pytest.mark.parametrize(
    "text",
    [CALLIPERS, SHORT, _LEARNED, *(bl.demo_build(name).to_text() for name in ("workhorse", "two_springs"))],
)
def test_the_best_lengths_range_is_that_of_random_draws_each_with_its_own_curve(text):
    build = bl.Build.from_text(text)
    panel = panels.barrel_panel(build)
    asked, lengths = unknowns(build, known=["barrel.length"]), np.geomspace(0.03, 0.65, 60)
    table = asked.values(np.random.default_rng(3).normal(size=(500, len(asked.names))))
    rows = asked.rows({**build.si, "barrel.length": lengths}, len(lengths), table)
    curves = simulate_rows(rows, TOLERANCE).muzzle_velocity.m.reshape(len(lengths), -1)
    fine = np.geomspace(0.03, 0.65, 2000)
    tops = fine[np.argmax(CubicSpline(np.log(lengths), curves)(np.log(fine)), axis=0)]
    short, long = np.quantile(tops, [0.05, 0.95])
    own, found = panel.result.sweep.best_length.m_as("m"), panel.result.best
    assert found == pytest.approx((min(short, own), max(long, own)), abs=0.2 * (long - short))
    low, high = (units.show(end, "length", 2) for end in found)
    first = asked.source == "prior"
    when = ("Before any chronograph" if first else "After your strings") + " the best length may be "
    (line,) = [line for line in panel.lines if line.startswith(when)]
    assert line.startswith(f"{when}{low} ")
    assert f" to {high}, nine times in ten" in line or (" or more, " in line and found[1] > 0.64)
    assert line.endswith("cut long, shoot, cut again.") == first
    in_sight = panel.sight.partition('<div class="bl-rest">')[0]
    assert line in in_sight


def test_the_words_of_cap_and_shot_never_lie_on_each_other_and_stay_in_the_picture(panel):
    panel.set("cap", "190 ft/s")
    named = [panel.views[0].figure.artist(f"{name} words") for name in ("cap", "here", "band", "best")]
    for length in range(360, 640, 20):
        panel.set("barrel.length", f"{length} mm")
        boxes = [each.get_window_extent() for each in named]
        for place, box in enumerate(boxes):
            assert 0 <= box.x0 < box.x1 <= 416
            assert not any(box.overlaps(other) for other in boxes[:place]), length


def test_a_cap_is_drawn_and_said_as_it_was_typed(panel):
    figure = panel.views[0].figure
    with pytest.raises(KeyError):
        figure.artist("cap")
    assert "cap" not in panel.verdict
    panel.set("cap", "190 ft/s")
    cap, words = (figure.artist(name) for name in ("cap", "cap words"))
    assert cap.get_ydata() == pytest.approx([57.912, 57.912])
    assert words.get_text() == "cap 190 ft/s"
    assert ", over your cap of 190 ft/s (57.91 m/s). Barrels up to " in panel.verdict
    assert "leave it" not in panel.verdict
    assert not any("than the best one" in line or "best length" in line for line in panel.lines)
    mean, sure = (float(found) for found in re.findall(r"up to ([\d.]+) mm", panel.verdict))
    assert sure < mean < 400.0
    speed = bl.simulate(panel.result.shot.build.replace({"barrel.length": f"{mean} mm"})).muzzle_velocity
    assert speed.m_as("m/s") == pytest.approx(57.912, rel=0.005)
    reach = bl.predict(panel.result.shot.build.replace({"barrel.length": f"{sure} mm"})).mean_high
    assert reach.m_as("m/s") == pytest.approx(57.912, rel=0.02)
    panel.set("cap", "5 m/s")
    assert ". No short barrel is surely under the cap: a softer spring" in panel.verdict
    panel.set("cap", "66 m/s")
    assert not any("under the cap on average" in line for line in panel.lines)
    assert ", perhaps over your cap of 66 m/s." in panel.verdict
    panel.set("cap", "80 m/s")
    assert ", on average under your cap of 80 m/s." in panel.verdict
    panel.set("energy_cap", "1.5 J")  # of a dart of 1 g: √(2 E/m)
    assert cap.get_ydata() == pytest.approx(2 * [3000.0**0.5])
    assert "over the stricter of your caps, 54.8 m/s with this dart" in panel.verdict
    panel.set("cap", "0 m/s")
    assert "over your cap of 1.5 J, 54.8 m/s with this dart" in panel.verdict
    assert words.get_text() == "cap 1.5 J"
    panel.reset()
    assert not cap.get_visible()
    with pytest.raises(ValueError, match="ft/s meant"):
        panel.set("cap", "250 m/s")


def test_the_whole_spring_is_in_a_fold_and_its_room_stays(build, panel):
    assert {c.fold for name, c in panel.controls.items() if name in FOLDED} == {FOLD}
    assert panel.controls["dart.length"].fold == FOLD
    assert panel.box("spring.installed_length").text == "175"  # free length less preload
    panel.set("spring.free_length", "210 mm")
    moved = panel.result.shot.build.spring
    assert moved.front_length.m_as("mm") == pytest.approx(175)
    assert moved.preload.m_as("mm") == pytest.approx(35)
    panel.set("spring.installed_length", "150 mm")
    assert panel.result.shot.build.spring.preload.m_as("mm") == pytest.approx(60)
    panel.slide("spring.installed_length", 220.0)
    assert "installed_length" in panel.message


def test_past_the_longest_barrel_that_the_dart_leaves_the_band_is_what_was_shot(build):
    long = build.replace(
        {
            "chamber.bore": "1.25 in", "chamber.stroke": "80 mm", "spring.wire_diameter": "1.4 mm",
            "spring.outer_diameter": "17.5 mm", "spring.active_coils": 28, "spring.free_length": "220 mm",
            "spring.preload": "70 mm", "barrel.bore": "12.95 mm", "barrel.length": "14 in",
            "dart.diameter": "12.9 mm", "dart.length": "37 mm", "dart.mass": "1.02 g",
        }
    )  # fmt: skip
    shots = [130.8 + 1.2 * off for off in (-2, 1, 0.5, -1, 2, -0.5, 1, -1, 0.5, -0.5)]
    learned = bl.calibrate([(long, bl.ChronoString.read(shots, unit="ft/s"))]).build(long)
    kept_results = KeptResults()
    swept = kept_results.swept_shot(learned)
    lengths, low, high = kept_results.finished(swept).band
    at, speeds = swept.sweep.smooth()
    np.testing.assert_array_equal(at, lengths)
    own = separate(parameters(learned.si), lengths[::5], 1e-7)
    assert (own == 0).sum() > 2  # and the curve goes on to there
    assert speeds[::5] == pytest.approx(own, abs=0.01 * speeds.max())
    asked = unknowns(learned, known=["barrel.length"])
    shot = asked.range(speeds_of(asked, {**learned.si, "barrel.length": lengths}, len(lengths)))
    for drawn, ends in ((low, shot.low), (high, shot.high)):
        around = np.array(
            [ends[np.clip(np.arange(ends.size) + step, 0, ends.size - 1)] for step in (-3, 0, 3)]
        )
        room = 0.03 * speeds.max()
        assert (drawn >= around.min(axis=0) - room).all()
        assert (drawn <= around.max(axis=0) + room).all()
    assert (low[speeds == 0] == 0).all()
    past = high[lengths > 0.45]
    assert np.diff(past).max() < 0.03 * speeds.max()  # it falls away, and does not come back


def test_a_speed_at_the_end_of_its_range_is_said_to_be_the_best() -> None:
    """Of parts from callipers alone nearly all that is assumed can only cost speed."""
    mine = bl.Build.from_text("""
        spring = {wire_diameter = "1.6 mm", outer_diameter = "17 mm", free_length = "210 mm",
                  total_coils = 28, installed_length = "170 mm"}
        chamber = {bore = "38 mm", stroke = "95 mm"}
        barrel = {bore = "13 mm"}
        dart = {mass = "1.1 g", diameter = "13 mm"}""")
    found = bl.predict(mine)
    edge = found.mean_high.m - 0.02 * (found.mean_high.m - found.mean_low.m)
    assert found.speed.m > edge
    assert panels.barrel_panel(mine).verdict.startswith(f"{kept(found.speed, 'speed')} at best, ")
    assert not panels.barrel_panel(bl.demo_build("workhorse")).verdict.startswith("63.12 m/s at best")
