"""Undo, redo, reset, save and load in every panel, and where a panel says that it starts from."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.bench import kept
from blasterlab.panels import history
from blasterlab.panels.base import follow_units

TEXT = bl.demo_build("apprentice").to_text()
WITH_A_BUILD = {
    "barrel": panels.barrel_panel,
    "build": panels.build_panel,
    "compare": panels.compare_panel,
    "ends": panels.ends_panel,
    "explain": panels.explain_panel,
    "group": panels.group_panel,
    "losses": panels.losses_panel,
    "seal": panels.seal_panel,
    "search": panels.search_panel,
    "spring": panels.spring_panel,
    "strength": panels.strength_panel,
    "trajectory": panels.trajectory_panel,
    "tuning": panels.tuning_panel,
    "volume": panels.volume_ratio_panel,
    "wind": panels.wind_panel,
}


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path / "mine"))
    return tmp_path / "mine"


def place(panel: panels.Panel) -> str:
    return re.sub("<.*?>", "", panel.children[0].value)


def save(panel: panels.Panel, name: str) -> None:
    panel._bench.name.value = name
    panel.press(f"Save {panel._bench.shelf.kind}")


def test_every_panel_of_a_build_is_tried() -> None:
    known = {"chronograph_panel", "motion_panel", "scale_panel", "question_panel", "units_panel"} | {
        f"{name}_panel" for name in WITH_A_BUILD
    }
    assert {name.replace("_ratio", "") for name in panels.__all__ if name.endswith("_panel")} == known


@pytest.mark.parametrize("name", WITH_A_BUILD)
def test_a_panel_starts_from_the_bench_and_says_so(name: str, bench: Path) -> None:
    make = WITH_A_BUILD[name]
    first = make()
    said = place(first)
    assert "demo build workhorse (invented)" in said or (name == "spring" and "an invented spring" in said)
    bl.my_builds.save("Small one", TEXT)
    small = make()
    assert re.search(r" · your build Small one, saved \d\d:\d\d$", place(small))
    assert small.text != first.text
    before = first.text
    first.start_from("Small one")
    assert first.text == small.text
    first.undo()
    assert (first.text, place(first)) == (before, said)
    first.redo()
    assert first.text == small.text
    kept, current = bl.Build.from_text(small.kept_text), bl.my_builds.current()
    if name in ("ends", "seal", "strength"):  # they write what they found into the build
        kept = replace(kept, fit=current.fit)
    assert kept == current


def test_what_sliders_made_is_saved_found_elsewhere_and_says_when_it_changed(bench: Path) -> None:
    panel = panels.barrel_panel()
    panel.slide("barrel.length", 300)
    assert place(panel).endswith("demo build workhorse (invented); changed, not saved")
    save(panel, " Garage 3 ")
    assert not panel.message
    assert panel._bench.whose.value.startswith("Saved as Garage 3. To use it in another panel, choose ")
    assert re.search(r"your build Garage 3, saved \d\d:\d\d$", place(panel))
    assert panels.volume_ratio_panel().values["barrel.length"] == units.quantity(0.3, "m")
    panel.set("barrel.length", "31 cm")
    assert place(panel).endswith("changed, not saved")
    panel.reset()
    assert panel.values["barrel.length"].m == 0.3
    save(panel, "Garage 3")  # its own name: replaced
    assert not panel.message
    other = panels.build_panel()
    other.set("build", TEXT)
    save(other, "Garage 3")
    assert not other.message  # it started from it
    third = panels.barrel_panel(bl.demo_build("workhorse"))
    save(third, "Garage 3")
    assert "'Garage 3' is another build of yours" in third.message
    assert "opacity:1.0" in third.sight
    save(third, "no/such")
    assert "name: got 'no/such'; must be" in third.message
    third.slide("barrel.length", 200)
    assert not third.message


def test_a_build_with_faults_is_not_saved(bench: Path) -> None:
    panel = panels.build_panel()
    panel.type("build", "[spring]")
    save(panel, "Bad")
    assert bl.my_builds.names() == []
    assert panel.message.count("this build has") == 1
    panel.press("Undo")
    assert not panel.message
    panel.press("Redo")
    assert "this build has" in panel.message


def test_saving_keeps_what_has_nothing_to_do_with_the_shots(bench: Path) -> None:
    panel = panels.chronograph_panel()
    panel.set("cap", "70 m/s")
    panel.set("unit", "m/s")
    panel.set("shots", "60\n61\n62")
    save(panel, "Tuesday")
    assert panel.values["cap"] == units.quantity(70.0, "m/s")
    assert place(panel).endswith("m") is False
    other = panels.chronograph_panel()
    assert other.result.summary.string.readings == (60.0, 61.0, 62.0)
    assert "your string Tuesday, saved" in place(other)


def test_units_and_confidence_chosen_by_hand_are_remembered(bench: Path) -> None:
    panel = panels.chronograph_panel()
    panel.set("confidence", "99 %")
    panel.units = "US customary"
    assert not bench.exists()  # what code sets is not the builder's choice
    panel.type("confidence", "80 %")
    panel.type("units", "metric")
    assert kept.recall("units", units.UNIT_SETS) == "metric"
    assert panels.chronograph_panel().values["confidence"] == "80 %"


def test_a_cap_given_by_hand_goes_to_the_panels_of_other_notebooks_as_it_was_typed(bench: Path) -> None:
    panel = panels.barrel_panel()
    panel.set("cap", "40 m/s")
    assert not bench.exists()  # what code sets is not the builder's choice
    panel.type("cap", "150 ft/s")
    panel.type("energy_cap", "1.2 J")
    day, spring = panels.chronograph_panel(), panels.spring_panel()
    for value in (day.values["cap"], spring.values["cap"], panels.barrel_panel().values["cap"]):
        assert value.m == pytest.approx(45.72)
    assert "150 ft/s" in day.verdict
    assert "where the panel starts" not in " ".join(day.lines)
    assert spring.values["energy_cap"].m == 1.2
    asked = panels.search_panel()
    assert asked.result.wants.velocity_cap == units.quantity(150.0, "ft/s")
    assert asked.values["speed"].m == pytest.approx(0.9 * 45.72)
    assert asked.message == ""
    assert panels.tuning_panel().result.cap == pytest.approx(45.72)
    assert panels.chronograph_panel(cap="70 m/s").values["cap"].m == 70.0
    panel.type("cap", "0 m/s")  # none: the chronograph, which needs one, shows its example
    assert panels.chronograph_panel().values["cap"].m == 58.0
    (bench / "chosen" / "speed_cap.txt").write_text("fast")
    assert panels.barrel_panel().values["cap"].m == 0.0


def test_undo_takes_back_step_by_step_and_a_drag_is_one_step(monkeypatch: pytest.MonkeyPatch) -> None:
    now = [100.0]
    monkeypatch.setattr(history.time, "monotonic", lambda: now[0])
    panel = panels.scale_panel()
    start = panel.text
    panel.type("free", "given below")
    for place in (150, 160, 170):
        now[0] += 0.1
        panel.slide("free_length", place)
    dragged = panel.text
    panel.press("Undo")
    assert panel.box("free_length").place == 180.0
    panel.press("Redo")
    assert panel.text == dragged
    now[0] += 9.0
    panel.slide("free_length", 175)
    panel.type("free_length", "nonsense")
    panel.press("Undo")  # takes the entry back that cannot be read, and nothing else
    assert not panel.message
    assert panel.box("free_length").text == "175.0"
    panel.press("Reset")
    assert panel.text == start
    panel.press("Undo")
    assert panel.box("free_length").text == "175.0"
    for _ in range(3):
        panel.press("Undo")
    assert panel.text == start
    panel.press("Undo")
    assert panel.message == "there is nothing to undo or redo"
    panel.set("free", "given below")
    with pytest.raises(ValueError, match="nothing to undo or redo"):
        panel.redo()
    with pytest.raises(ValueError, match="has no build and no string to keep"):
        panels.units_panel().save("x")


def test_the_text_is_shown_to_be_copied_and_downloaded(bench: Path) -> None:
    panel = panels.build_panel('title = "<b>"\n' + TEXT.split("\n", 1)[1])
    assert place(panel).endswith(" · build untitled build")
    panel.press("As text")
    shown = panel._bench.text.value
    assert "&lt;b&gt;" in shown
    assert "<b>" not in shown
    assert 'download="my_build.toml"' in shown
    panel.press("As text")
    assert panel._bench.text.value == ""


def test_a_spring_that_was_measured_is_kept_only_while_its_shape_is(bench: Path) -> None:
    measured = bl.demo_build("workhorse").replace({"spring.rate": "800 N/m"})
    panel = panels.spring_panel(measured)
    panel.set("spring.ends", "open")
    assert bl.Build.from_text(panel.kept_text).spring.measured_rate == units.quantity(800.0, "N/m")
    panel.set("spring.wire_diameter", "1.45 mm")
    kept_build = bl.Build.from_text(panel.kept_text)
    assert kept_build.spring.measured_rate is None
    assert kept_build.spring.ends == "open"
    assert kept_build.barrel == measured.barrel


def test_a_text_that_is_much_too_long_is_not_left_in_the_box() -> None:
    panel = panels.build_panel()
    before = panel.box("build").text
    panel.type("build", "x" * 1_000_000)
    assert "build: got 1000000 characters; must be at most 20000" in panel.message
    assert panel.box("build").text == before
    panel.press("Undo")
    assert not panel.message


def test_the_bench_is_cleared_by_a_button_and_undo_puts_it_back(bench: Path) -> None:
    bl.my_builds.save("Small one", TEXT)
    panel, other = panels.barrel_panel(), panels.wind_panel()
    before = panel.text
    panel.press("Start from the demo")
    said = "Your saved builds stay: choose one under “start from”, or press Undo."
    now = "Panels start from the demo build workhorse (invented) again"
    assert panel._bench.whose.value == f"{now}. {said}"
    assert "demo build workhorse (invented)" in place(panel)
    assert bl.my_builds.names() == ["Small one"]
    assert "demo build workhorse (invented)" in place(panels.tuning_panel())
    assert other._bench.clear.disabled
    panel.press("Start from the demo")  # greyed out in the page; nothing more to clear
    panel.undo()
    panel.undo()
    assert (panel.text, bl.my_builds.chosen()) == (before, "Small one")
    assert not other._bench.clear.disabled
    panel.redo()
    assert bl.my_builds.chosen() == ""
    panel.save("Another")
    panel.undo()  # a save is not taken off the bench
    assert bl.my_builds.chosen() == "Another"


def test_the_units_are_chosen_once_for_all_and_remembered(bench: Path) -> None:
    panel, chooser = panels.barrel_panel(), panels.units_panel()
    assert chooser.text == "Units: metric: mm, g, m/s, J, N, m"
    chooser.type("units", "mm and ft/s")
    assert chooser.text == "Units: mm and ft/s: mm, g, ft/s, J, N, ft"
    assert "ft/s" in panel.text
    assert kept.recall("units", units.UNIT_SETS) == "mm and ft/s"
    panel.type("units", "metric")
    assert chooser.text.startswith("Units: metric")


def test_units_chosen_in_a_cell_or_in_another_notebook_are_followed(bench: Path) -> None:
    panel, other = panels.barrel_panel(), panels.tuning_panel()
    units.use_units("US customary")  # in a cell
    follow_units("a cell")  # IPython calls it after each
    assert " ft/s" in panel.text
    assert panel.box("barrel.length").label == "barrel length, in"
    units.use_units("metric")
    follow_units("a cell")
    kept.remember("units", "US customary")  # another notebook's kernel writes it
    panel.type("barrel.length", "300")
    assert panel.values["barrel.length"].m == pytest.approx(0.3)  # read as its label stood
    assert panel.box("barrel.length").text == "11.8110"
    assert "change of speed, ft/s" in other.views[0].figure.axes[0].get_xlabel()
    panel.units = "metric"
    panel.type("barrel.length", "310")  # followed once, not again and again
    assert panel.box("barrel.length").text == "310"
    assert "follow at their next move" in panels.units_panel().sight


MEASURED = {
    "spring.wire_diameter": "1.8 mm", "spring.outer_diameter": "15 mm", "spring.free_length": "254 mm",
    "chamber.bore": "36 mm", "chamber.tube_length": "105 mm", "barrel.bore": "0.5 in", "dart.mass": "1 g",
    "spring.total_coils": "42", "dart.diameter": "12.7 mm",
}  # fmt: skip


def text_of(values: dict[str, str]) -> str:
    return "\n".join(f"{k} = {v}" if k.endswith("coils") else f'{k} = "{v}"' for k, v in values.items())


def test_from_callipers_leaves_only_what_was_typed(bench: Path) -> None:
    panel = panels.barrel_panel()
    assert panel._bench.whose.value == ""
    for name, value in MEASURED.items():
        panel.type(name, value)
        assert not panel.message
    typed, whose = panel.text, panel._bench.whose.value
    assert whose.startswith("Still the demo&#x27;s: barrel length, stroke, dart friction, blow-by area, inst")
    assert not panel.result.shot.build.assumed
    panel.press("My callipers only")
    build = panel.result.shot.build
    assert build.replace({"title": ""}) == bl.Build.from_text(text_of(MEASURED)).replace({"title": ""})
    assert "Assumed: " in panel.sight
    assert not {*MEASURED} & {*build.assumed}
    assert panel._bench.whose.value == ""
    assert place(panel).endswith("build from your callipers; changed, not saved")
    assert panel.values["chamber.stroke"].m == pytest.approx(build.si["chamber.stroke"])
    panel.type("chamber.tube_length", "120 mm")  # what follows from it is assumed anew
    longer = bl.Build.from_text(text_of(MEASURED | {"chamber.tube_length": "120 mm"}))
    strokes = [one.si["chamber.stroke"] for one in (panel.result.shot.build, longer, build)]
    assert strokes[0] == strokes[1] > strokes[2]
    panel.slide("dart.mass", 1.2)
    assert panel.result.shot.build.dart.mass.m_as("g") == pytest.approx(1.2)
    panel.undo()
    panel.undo()
    assert panel.result.shot.build == build
    panel.undo()
    assert (panel.text, panel._bench.whose.value) == (typed, whose)
    assert "demo build workhorse" in place(panel)
    panel.redo()
    panel.press("Reset")
    assert panel.result.shot.build == build
    save(panel, "Measured")
    assert not panel.message
    assert bl.my_builds.load("Measured").assumed == build.assumed
    assert panel._bench.whose.value.startswith("Saved as Measured. To use it ")
    panel.set("barrel.length", "30 cm")
    assert panel._bench.whose.value == ""


def test_the_assumed_number_typed_is_measured(bench: Path) -> None:
    """Of callipers alone, and of any build that assumes: undo takes it back, saving keeps it."""
    panel = panels.barrel_panel()
    for name, value in MEASURED.items():
        panel.type(name, value)
    panel.press("My callipers only")
    assert panel.box("chamber.bore").text == "36.0"
    assert panel.box("barrel.length").text == "≈300"
    assert "≈ marks an assumed value" in panel.box("barrel.length").tip
    guessed = panel.result.shot.build
    panel.type("barrel.length", "300")
    assert {*guessed.assumed} - {*panel.result.shot.build.assumed} == {"barrel.length"}
    assert panel.box("barrel.length").text == "300"
    panel.undo()
    assert (panel.result.shot.build, panel.box("barrel.length").text) == (guessed, "≈300")
    save(panel, "Guessed")
    pasted = panels.barrel_panel(bl.Build.from_text(text_of(MEASURED)))
    for start in (panel, pasted, panels.barrel_panel()):
        assert {"barrel.length", "spring.preload"} < {*start.result.shot.build.assumed}
        for name, gives in (
            ("barrel.length", "barrel.length"),
            ("spring.installed_length", "spring.preload"),
        ):
            before, shown = start.result.shot.build, start.box(name).text
            assert shown.startswith("≈")
            start.type(name, shown)  # read and left, as it was
            assert gives in start.result.shot.build.assumed
            start.type(name, shown.removeprefix("≈"))
            assert start.box(name).text == shown.removeprefix("≈")
            now = start.result.shot.build
            assert {*before.assumed} - {*now.assumed} == {gives}
            assert now.si["barrel.length"] == before.si["barrel.length"]
            assert "changed" in place(start)
            start.undo()
            assert (start.result.shot.build, start.box(name).text) == (before, shown)
            start.redo()
            assert start.result.shot.build == now
    save(start, "Known")
    assert bl.my_builds.load("Known").assumed == now.assumed


def test_what_nobody_typed_and_no_rule_gives_stays_the_demos_and_says_so() -> None:
    panel = panels.barrel_panel()
    panel.type("chamber.bore", "36 mm")
    panel.press("My callipers only")
    still = panel._bench.whose.value
    assert still.startswith("Still the demo&#x27;s, until you type yours: barrel bore, spring wire, dart ")
    assert "chamber bore" not in still
    panel.type("spring.wire_diameter", "1.5 mm")  # the demo's number, but mine now
    assert "spring wire" not in panel._bench.whose.value
    panel.type("spring.wire_diameter", "9 mm")
    assert "wire" in panel.message
    panel.press("Undo")
    assert not panel.message
    nest = panels.barrel_panel(bl.demo_build("two_springs"))
    nest.press("My callipers only")
    assert "springs: got 2 of them; must be one spring" in nest.message
    with pytest.raises(ValueError, match="has no button 'My callipers only'"):
        panels.tuning_panel().press("My callipers only")


def test_what_is_not_saved_stands_as_text_under_the_last_picture(bench: Path) -> None:
    panel = panels.barrel_panel()
    assert "<details>" not in panel._last._html()
    panel.set("barrel.length", "12 in")
    assert "length = &quot;304.8 mm&quot;" in panel._last._html()  # without the noise of a conversion
    panel.save("Shorter")
    assert "<details>" not in panel._last._html()


def test_what_another_notebook_chose_is_read_when_it_changes_and_not_at_every_move(
    bench: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    panel, read, plain = panels.barrel_panel(), [], Path.read_text
    kept.remember("units", "metric")
    monkeypatch.setattr(Path, "read_text", lambda path, **how: read.append(path.name) or plain(path, **how))
    for length in range(300, 310):
        panel.type("barrel.length", str(length))
    assert read == ["units.txt"]
    for chosen in ("mm and ft/s", "metric", "US customary"):
        kept.remember("units", chosen)
        panel.slide("barrel.length", panel.box("barrel.length").place + 5)
        assert panel.units == chosen
    assert read == 4 * ["units.txt"]
    (bench / "chosen" / "units.txt").unlink()
    panel.units = "metric"
    panel.type("barrel.length", "320")
    assert (kept.recall("units"), panel.units) == (None, "metric")
