"""The spring pictures and panels: what is drawn and said is what was computed."""

from __future__ import annotations

import dataclasses
import io
import re
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from PIL import Image

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.assumed import likely
from blasterlab.bench import kept
from blasterlab.checks.spring_limits import force_line, limits
from blasterlab.figures.spring import ScaleView, SpringView
from blasterlab.panels.base import LONGEST
from blasterlab.panels.moved_build import FOLD
from blasterlab.panels.spring import evaluate
from blasterlab.parts.spring import Spring
from blasterlab.plan.compare import pull_range
from blasterlab.report.scale import rate_fit as scale_words
from blasterlab.report.shot import reach
from blasterlab.report.spring import spring_use as spring_words

SPRING = Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm", material="EN 10270-1 SM", guide="in a tube")
STAINLESS = "stainless 302 / EN 10270-3 1.4310"
READINGS = [("150 mm", "12.2 N"), ("130 mm", "20 N"), ("110 mm", "27.8 N"), ("90 mm", "36.1 N")]


def test_force_line_marks_where_the_wire_yields() -> None:
    line = force_line(SPRING, "80 mm")
    assert line.front == pytest.approx(0.15)
    assert line.catch == pytest.approx(0.07)
    assert line.energy == pytest.approx(SPRING.energy("150 mm", "70 mm").m_as("J"))
    assert line.solid_force == pytest.approx(SPRING.force("35.1 mm").m_as("N"))
    at = limits(SPRING, units.quantity(line.set_length, "m"))
    assert at.use_of_yield == pytest.approx(1)
    assert line.limit_length is None  # solid before
    long = dataclasses.replace(SPRING, free_length="320 mm")
    further = force_line(long, "80 mm")
    assert limits(long, units.quantity(further.limit_length, "m")).use_at_length == pytest.approx(1)
    loose = force_line(dataclasses.replace(SPRING, preload="0 mm", gap="10 mm"), "80 mm")
    assert (loose.front, loose.front_force) == (0.18, 0)
    assert loose.catch == pytest.approx(0.11)
    unknown = force_line(dataclasses.replace(SPRING, material="ASTM A401 chrome-silicon"), "80 mm")
    assert unknown.set_length is None
    with pytest.raises(units.UnitError, match=r"at most 114\.9 mm with this preload"):
        force_line(SPRING, "130 mm")
    with pytest.raises(units.UnitError, match="plunger travel"):
        force_line(SPRING, "0 mm")


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_the_diagram_draws_the_line_in_the_chosen_units(chosen: str) -> None:
    units.use_units(chosen)
    line = force_line(SPRING, "80 mm")
    view = SpringView()
    view.draw_full(view.frame(SimpleNamespace(line=line), None))
    view.draw_live(SimpleNamespace(line=line))
    assert view.figure.artist("line").get_xdata() == pytest.approx(
        units.display(np.array([line.solid, line.free]), "length")
    )
    assert view.figure.artist("line").get_ydata() == pytest.approx(
        units.display(np.array([line.solid_force, 0]), "force")
    )
    assert view.figure.artist("catch").get_xdata() == pytest.approx([units.display(line.catch, "length")])
    assert view.figure.artist("set").get_ydata() == pytest.approx([units.display(line.set_force, "force")])
    with pytest.raises(KeyError):
        view.figure.artist("limit")
    corners = view.figure.artist("area").get_paths()[0].vertices
    x, y = corners[:4, 0], corners[:4, 1]
    assert y[1] == pytest.approx(units.display(line.catch_force, "force"))  # the second corner is the catch
    assert x[1] == pytest.approx(units.display(line.catch, "length"))
    area = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    scale = units.display(1.0, "length") * units.display(1.0, "force")
    assert area == pytest.approx(scale * line.energy)
    low, high = view.ax.get_ylim()
    assert low == 0
    assert high > units.display(line.solid_force, "force")
    assert units.show_unit("length") in view.ax.get_xlabel()


def test_words_in_the_diagram_do_not_cover_each_other() -> None:
    view = SpringView()
    for free in (150, 180, 200, 230, 260, 320):
        line = force_line(dataclasses.replace(SPRING, free_length=f"{free} mm"), "80 mm")
        view.draw_full(view.frame(SimpleNamespace(line=line), None))
        view.draw_live(SimpleNamespace(line=line))
        renderer = view.figure.canvas.get_renderer()
        named = [each for each in view.ax.texts if each.get_gid() and each.get_visible()]
        assert {"front words", "catch words"} <= {each.get_gid() for each in named}
        boxes = [text.get_window_extent(renderer) for text in named]
        assert len(boxes) >= 2
        assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])
        assert all(box.x1 <= view.figure.bbox.x1 and box.y1 <= view.figure.bbox.y1 for box in boxes)


def test_captions_carry_the_numbers() -> None:
    line = figures.spring_diagram(force_line(SPRING, "80 mm")).caption
    assert "11.4 N at the front stop, 42 N at the catch, 2.14 J between; solid at 35.1 mm" in line
    assert "starts to shorten below 62.4 mm" in line
    stubby = dataclasses.replace(SPRING, free_length="120 mm", preload="10 mm")
    assert "no yield before solid" in figures.spring_diagram(force_line(stubby, "60 mm")).caption
    fit = bl.rate_from_readings(READINGS)
    drawn = figures.scale_readings(fit)
    assert units.show(fit.rate, "spring rate", 3) in drawn.caption
    assert " to " in drawn.caption
    assert " to " not in figures.scale_readings(bl.rate_from_readings(READINGS[:2])).caption
    build = bl.demo_build("two_springs")
    pull = figures.prime_curve(build.prime)
    assert units.show(build.prime.peak_force, "force", 3) in pull.caption
    table = bl.cut_list(build, ["5 mm", "10 mm"])
    chart = figures.cut_chart(table)
    assert f"muzzle velocity {100 * table['velocity_change'].iloc[-1]:+.0f} %" in chart.caption
    assert len(chart.axes[0].lines) == 4  # three curves and zero
    assert chart.axes[0].lines[0].get_ydata() == pytest.approx(100 * table["rate_change"])


def test_scale_picture_draws_readings_and_residuals() -> None:
    fit = bl.rate_from_readings(READINGS)
    view = ScaleView()
    view.draw_full(view.frame(fit, None))
    view.draw_live(fit)
    table = fit.residuals
    assert view.figure.artist("dots").get_xdata() == pytest.approx(table["force_N"])
    assert view.figure.artist("dots").get_ydata() == pytest.approx(1000 * table["length_m"])
    assert view.figure.artist("misses").get_ydata() == pytest.approx(1000 * table["residual_m"])
    assert view.figure.artist("line").get_ydata()[0] == pytest.approx(fit.free_length.m_as("mm"))
    assert view.off.get_ylim()[1] > 1000 * table["residual_m"].abs().max()


def test_spring_panel_says_what_the_parts_compute() -> None:
    panel = panels.spring_panel()
    result = panel.result
    spring = Spring("1.3 mm", "16 mm", "180 mm", 24, preload="30 mm", guide="in a tube")
    assert result.spring.si_values() == pytest.approx(spring.si_values())
    assert panel.text == (
        f"Spring and prime: {units.show(spring.rate, 'spring rate', 3)}, pull 45 N, 2.14 J, "
        f"{100 * result.limits.use_at_length:.0f} % of the static limit, 83 % of a new spring's yield"
    )
    sentences = " ".join(spring_words(result))
    assert "eye protection" in sentences
    assert f"{100 * result.pull.stored_share:.0f} % of that is stored" in sentences
    assert Image.open(io.BytesIO(panel.pictures[0])).size == (416, 286)


def test_an_assumed_wire_material_is_the_verdicts_condition() -> None:
    lines = bl.demo_build("workhorse").to_text().splitlines()
    rough = bl.Build.from_text("\n".join(line for line in lines if not line.startswith("material")))
    panel = panels.spring_panel(rough)
    assert panel.verdict.startswith("If it is EN 10270-1 SH wire, which is assumed: the wire bears it")
    panel.set("spring.material", "ASTM A227 hard drawn")
    assert "assumed" not in panel.verdict
    panel = panels.spring_panel(bl.demo_build("workhorse"))
    assert "assumed" not in panel.verdict


def test_the_pull_has_its_range() -> None:
    build = bl.demo_build("workhorse")
    panel = panels.spring_panel(build)
    low, high = (end.m_as("N") for end in pull_range(build))
    assert f"the hand pulls 79 N at most ({low:.0f} to {high:.0f} N)." in panel.verdict
    panel.set("ratio", "2")
    assert f"the hand pulls 39 N at most ({low / 2:.0f} to {high / 2:.0f} N)." in panel.verdict
    panel.set("spring.wire_diameter", "1.6 mm")
    now = [end.m_as("N") / 2 for end in pull_range(build.replace({"spring.wire_diameter": "1.6 mm"}))]
    assert f" N at most ({now[0]:.0f} to {now[1]:.0f} N)." in panel.verdict
    nest = panels.spring_panel(bl.demo_build("two_springs"))  # its first spring alone is pulled
    assert re.search(r"the hand pulls \d+ N at most\.", nest.verdict)


def test_an_assumed_preload_has_its_range_in_the_words() -> None:
    build = bl.demo_build("workhorse")
    text = "\n".join(line for line in build.to_text().splitlines() if not line.startswith("preload"))
    rough = bl.Build.from_text(text)
    panel = panels.spring_panel(rough)
    low, own, high = likely(rough)["spring.preload"]
    ends = [panel.result.ends[n].pull.peak_force.m_as("N") for n in (0, 1)]
    rate = build.spring.rate.m_as("N/m")
    assert ends[1] - ends[0] == pytest.approx(rate * (high - low))
    said = next(line for line in panel.lines if line.startswith("The spring's preload is assumed: "))
    low_pull, high_pull = (units.show(end, "force", 3) for end in ends)
    assert f"the hand pulls {low_pull} to {high_pull} at most" in said
    shares = " to ".join(f"{100 * use.limits.use_at_length:.0f} %" for use in panel.result.ends)
    assert said.endswith(f"the wire carries {shares} of its static limit.")
    panel.set("spring.preload", f"{1000 * own + 5:.0f} mm")
    assert not any("assumed" in line for line in panel.lines)


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_both_shares_of_the_stress_are_named_alike_everywhere(chosen: str) -> None:
    units.use_units(chosen)
    panel = panels.spring_panel(bl.demo_build("workhorse"))
    for wire in ("1.2 mm", "1.5 mm", "1.7 mm", "2.1 mm"):  # from a margin over a set to an overload
        panel.set("spring.wire_diameter", wire)
        at = panel.result.limits
        static, unset = f"{100 * at.use_at_length:.0f} %", f"{100 * at.use_of_yield:.0f} %"
        assert panel.text.endswith(f"{static} of the static limit, {unset} of a new spring's yield")
        assert "…" not in panel.text
        both = f"carries {static} of the static limit and {unset} of the stress at which a new"
        assert len([found for found in panel.result.findings if both in found.message]) == 1
    long = force_line(dataclasses.replace(SPRING, free_length="320 mm"), "80 mm")
    view = SpringView()
    view.draw_full(view.frame(SimpleNamespace(line=long), None))
    view.draw_live(SimpleNamespace(line=long))
    assert view.figure.artist("set words").get_text() == "a new spring shortens"
    assert view.figure.artist("limit words").get_text() == "static limit"
    caption = figures.spring_diagram(long).caption
    assert f"a new spring starts to shorten below {units.show(long.set_length, 'length', 3)}" in caption
    assert caption.endswith(f"the static limit is at {units.show(long.limit_length, 'length', 3)}")


def test_the_line_of_numbers_fits_for_the_softest_and_the_hardest_spring() -> None:
    units.use_units("US customary")
    stiff = {"wire_diameter": 0.0026, "outer_diameter": 0.013, "active_coils": 20, "free_length": 0.2}
    weak = {"wire_diameter": 0.0008, "outer_diameter": 0.04, "active_coils": 80, "free_length": 0.2}
    lengths = []
    for one, preload, stroke in ((stiff, 0.03, 0.1), (weak, 0.0, 0.02), (weak, 0.001, 0.1)):
        state = {f"spring.{name}": value for name, value in one.items()} | {
            "spring.preload": preload, "spring.ends": "closed", "spring.material": STAINLESS,
            "spring.guide": "in a tube", "chamber.stroke": stroke, "losses.seal_friction": 0.0, "ratio": 5.0,
        }  # fmt: skip
        lengths.append(len(f"Spring and prime: {spring_words(evaluate(state))[0]}"))
    assert max(lengths) <= LONGEST
    absurd = {"wire_diameter": 0.0026, "outer_diameter": 0.01, "active_coils": 2, "free_length": 0.2}
    state |= {f"spring.{name}": value for name, value in absurd.items()}
    state |= {"spring.preload": 0.03, "chamber.stroke": 0.1, "ratio": 1.0}
    words = spring_words(evaluate(state))[0]
    assert words.endswith(">999 % of the static limit")  # five digits of pull leave no room for the other
    assert len(f"Spring and prime: {words}") <= LONGEST


def test_spring_panel_follows_its_controls_and_comes_back() -> None:
    panel = panels.spring_panel()
    start, picture = panel.text, panel.pictures[0]
    panel.set("spring.wire_diameter", "1.4 mm")
    assert panel.result.spring.rate.m_as("N/m") == pytest.approx(
        Spring("1.4 mm", "16 mm", "180 mm", 24).rate.m_as("N/m")
    )
    assert panel.pictures[0] != picture
    panel.set("spring.ends", "closed / open")
    panel.set("spring.material", "ASTM A228 music wire")
    panel.set("ratio", 2)
    assert panel.result.spring.ends == "closed / open"
    assert panel.result.pull.hand_travel.m_as("mm") == pytest.approx(160)
    panel.set("spring.material", "ASTM A401 chrome-silicon")
    assert "stress not judged" in panel.text
    panel.reset()
    assert panel.text == start


def test_spring_panel_refuses_in_its_message_line() -> None:
    panel = panels.spring_panel()
    good = panel.result
    with pytest.raises(units.UnitError, match="solid"):
        panel.set("chamber.stroke", "150 mm")
    assert panel.result is good
    assert "no result" in panel.text
    assert (
        "must be at most 114.9 mm with this preload (spring is solid 35.1 mm before the catch)"
        in panel.message
    )
    with pytest.raises(units.UnitError, match="solid"):
        panel.set("chamber.stroke", "115 mm")
    panel.set("chamber.stroke", "114.9 mm")  # what the message allows does fit
    assert panel.message == ""
    panel.set("chamber.stroke", "60 mm")
    assert panel.message == ""


@pytest.mark.parametrize("name", bl.demo_builds())
def test_spring_panel_starts_from_a_build(name: str) -> None:
    build = bl.demo_build(name)
    panel = panels.spring_panel(build)
    assert panel.result.spring.si_values() == pytest.approx(
        dataclasses.replace(build.spring, gap="0 mm").si_values()
    )
    assert panel.result.line.catch == pytest.approx(force_line(build.spring, build.chamber.stroke).catch)
    assert "…" not in panel.text


def test_assumed_coils_typed_as_they_are_keep_a_measured_rate() -> None:
    build = bl.demo_build("workhorse").replace({"spring.rate": "700 N/m"})
    panel = panels.spring_panel(dataclasses.replace(build, assumed=("spring.active_coils",)))
    text = panel.box("spring.active_coils").text
    assert text.startswith("≈")
    panel.type("spring.active_coils", text[1:])
    assert panel.box("spring.active_coils").text == text[1:]
    assert "assumed" not in panel.kept_text
    assert panel.result.spring.rate.m_as("N/m") == pytest.approx(700)


def test_a_measured_rate_holds_until_the_shape_is_moved() -> None:
    build = bl.demo_build("workhorse").replace({"spring.rate": "700 N/m"})
    panel = panels.spring_panel(build)
    panel.set("spring.preload", "20 mm")
    assert panel.result.spring.rate.m_as("N/m") == pytest.approx(700)
    panel.set("spring.active_coils", 25)
    assert panel.result.spring.measured_rate is None
    assert panel.result.spring.rate == panel.result.spring.computed_rate


def test_scale_panel_reads_pasted_lines() -> None:
    panel = panels.scale_panel("150 mm, 12 N\n120 mm, 24 N\n90 mm, 36 N")
    assert panel.text.startswith("From the scale: 400 N/m (")
    assert "free length 180 mm, 3 readings" in panel.text
    assert "ruler" in " ".join(scale_words(panel.result))
    panel.set("resolution", "0 mm")
    assert scale_words(panel.result)[1].startswith("Interval from 1 reading more than needed; confidence")
    panel.set("readings", "150 mm, 12 N\n120 mm, 24.2 N\n105 mm, 30 N\n90 mm, 36 N")
    assert scale_words(panel.result)[1].startswith("Interval from 2 readings more than needed; confidence")
    panel.set("readings", "150 mm, 12 N\n90 mm, 36 N")
    assert scale_words(panel.result)[1].startswith("No spare reading and no resolution given")
    panel.set("free", "given below")
    panel.set("free_length", "181 mm")
    assert panel.result.free_length.m_as("mm") == 181
    panel.set("readings", "91 mm, 36 N")
    assert panel.text.endswith(", 1 reading")
    assert panel.result.rate.m_as("N/m") == pytest.approx(400)
    with pytest.raises(units.UnitError, match="line 1"):
        panel.set("readings", "ninety")
    with pytest.raises(units.UnitError, match="got 0; must be 1 to 200"):
        panel.set("readings", "# nothing")


def test_the_scales_rate_goes_into_the_build(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    build = bl.demo_build("workhorse")
    bl.my_builds.save("Garage 3", build)
    panel = panels.scale_panel("150 mm, 15 N\n120 mm, 33 N\n90 mm, 51 N")
    assert " · your build Garage 3, saved " in panel.children[0].value
    own, new = (
        bl.simulate(one).muzzle_velocity.m for one in (build, build.replace({"spring.rate": "600 N/m"}))
    )
    assert panel.verdict.endswith(
        f"This build assumes 651 N/m and shoots {own:.2f} m/s; with this rate it shoots {new:.2f} m/s."
    )
    panel.press("Use this rate in my build")
    assert not panel.message
    now = bl.my_builds.current()
    assert now.spring.measured_rate.m_as("N/m") == pytest.approx(600)
    own_words = {"title": "Garage 3 with measured rate"}
    assert now == build.replace({"spring.rate": now.spring.measured_rate, **own_words})
    assert bl.my_builds.chosen() == "Garage 3 with measured rate"
    assert bl.my_builds.load("Garage 3") == build
    assert panel.verdict.endswith("This build has it.")
    panel.undo()
    assert bl.my_builds.chosen() == "Garage 3"


def test_invented_readings_are_called_that_and_go_into_no_build(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    bl.my_builds.save("Garage 27", bl.demo_build("workhorse"))
    panel = panels.scale_panel()
    assert panel.verdict.startswith("Invented readings: this spring has a rate of ")
    panel.press("Use this rate in my build")
    assert panel.message == "these readings are invented: put your own in their place first"
    assert bl.my_builds.names() == ["Garage 27"]
    panel.set("readings", "150 mm, 15 N\n120 mm, 33 N\n90 mm, 51 N")
    assert panel.verdict.startswith("This spring has a rate of ")
    panel.press("Use this rate in my build")
    assert bl.my_builds.names() == ["Garage 27", "Garage 27 with measured rate"]


def test_losses_learned_with_another_rate_are_to_be_learned_again() -> None:
    build = bl.demo_build("workhorse")
    learned = bl.calibrate([(build, bl.demo_string("workhorse_wire_15"))]).build(build)
    assert panels.scale_panel(build=learned).verdict.endswith(" they were learned with the old one.")


def test_the_spring_panel_says_coils_and_preload_as_they_are_measured() -> None:
    panel = panels.spring_panel()
    said = "As counted and measured: {} total coils, wire end to wire end; installed length {} mm."
    said += " The barrel length panel takes both this way, under “More from your callipers”."
    assert FOLD.startswith("More from your callipers")
    assert said.format(26, 150) in panel.lines
    panel.set("spring.ends", "open")
    panel.set("spring.preload", "20 mm")
    assert said.format(24, 160) in panel.lines


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_lines_of_numbers_stay_short(chosen: str) -> None:
    units.use_units(chosen)
    for panel in (panels.spring_panel(), panels.scale_panel()):
        assert "…" not in panel.text
        assert panel.units == chosen


def test_a_stroke_past_the_builds_tube_is_said():
    panel = panels.spring_panel(bl.demo_build("workhorse"))
    assert not any("needs a tube" in line for line in panel.lines)
    panel.slide("chamber.stroke", 112.0)
    assert (
        panel.lines[2] == "Warning: This stroke needs a tube of at least 112 mm; the build's is 110 mm long."
    )
    panel.close()


def test_a_spring_in_a_build_is_held_against_a_cap():
    panel = panels.spring_panel(bl.demo_build("workhorse"))
    known = bl.predict(panel.result.build)
    shot = (
        f" This build shoots 63.12 m/s, {reach(known.mean_low.m, known.mean_high.m)} before any chronograph"
    )
    assert panel.verdict.endswith(f"{shot}.")
    panel.set("cap", "150 ft/s")
    assert panel.verdict.endswith(f"{shot}, over your cap of 150 ft/s (45.72 m/s).")
    panel.set("spring.wire_diameter", "1.3 mm")
    assert panel.verdict.endswith(" under your cap of 150 ft/s (45.72 m/s).")
    panel.set("losses.seal_friction", "20 N")
    panel.set("spring.wire_diameter", "0.8 mm")
    assert panel.verdict.endswith(" This build's dart stays in.")
    panel.close()
