"""The panel of the losses: a build and its strings, a fit at the button alone, the losses on the bench."""

from __future__ import annotations

from pathlib import Path

import pytest
from matplotlib.text import Text

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.bench import kept
from blasterlab.panels.base import LONGEST, _widgets
from blasterlab.plan import learning
from blasterlab.plan.learning import Learning
from blasterlab.report.numbers import kept as kept_digits

BUILD = bl.demo_build("workhorse")
LIGHT, THIN = bl.demo_string("workhorse_wire_15"), bl.demo_string("workhorse_wire_14")


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    return tmp_path


@pytest.fixture
def fits(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """How many strings each fit was given that was started."""
    found: list[int] = []

    def counted(pairs, **more):
        found.append(len(pairs))
        return bl.calibrate(pairs, **more)

    monkeypatch.setattr(learning, "calibrate", counted)
    return found


def test_it_learns_at_the_button_alone_what_the_code_learns(fits: list[int]) -> None:
    panel = panels.losses_panel()
    assert fits == []
    expected = bl.predict(BUILD)
    assert panel.result.before == expected
    assert panel.text.startswith("Losses: not learned yet; before any chronograph 63.12 m/s (20.9 to ")
    assert panel.verdict.startswith("Press Learn")
    small = len(panel.pictures[0])
    panel.press("Learn")
    assert fits == [2]
    same = bl.calibrate([(BUILD, LIGHT), (BUILD.replace({"spring.wire_diameter": "1.4 mm"}), THIN)])
    fit = panel.result.fit
    assert fit is not None
    assert fit.losses == same.losses
    assert panel.result.after == same.predict(BUILD)
    after = same.predict(BUILD)
    speeds = f"{after.speed.m:.2f} m/s ({after.mean_low.m:.1f} to {after.mean_high.m:.1f} m/s)"
    assert panel.verdict.startswith(
        f"Your build shoots {speeds}, 7.3 m/s slower than its text says, most of it "
    )
    assert f"{speeds}, before 63.12 m/s (20.9 to 67.5 m/s); dart friction 2.1 N" in panel.text
    share = max(fit.names, key=lambda name: -panel.result.shares[name])
    assert panel.result.shares[share] < 0.5 * (after.speed - expected.speed).m
    assert f"because {share.replace('_', ' ')} is 2.1 N, not 1.5 N" in panel.verdict
    assert "Still a guess: seal friction 4.6 N, port discharge 0.752." in panel.lines
    assert any(line.startswith("Learned: dart friction 2.1 N (1.6 N to 2.5 N); ") for line in panel.lines)
    assert "Only their mix is known: dart friction and seal friction." in panel.lines
    assert any(line.startswith("What would narrow it most: a spring of 813 N/m") for line in panel.lines)
    sd = kept_digits(float(panel.result.next.iloc[0]["sd_before_m_s"]), "speed", 2)
    assert any(
        f"; the mean's standard uncertainty from the losses, now {sd}, would become " in one
        for one in panel.lines
    )
    assert len(panel.text) <= LONGEST
    assert sum(panel.result.shares.values()) == pytest.approx((after.speed - expected.speed).m)
    assert len(panel.pictures[0]) > small
    figure = panel.views[0].figure
    assert len(figure.axes) == 2
    texts = [text for text in figure.findobj(Text) if text.get_visible() and text.get_text()]
    boxes = [text.get_window_extent(figure.canvas.get_renderer()) for text in texts]
    assert len(boxes) > 20
    for place, box in enumerate(boxes):
        assert not any(box.overlaps(other) for other in boxes[:place]), texts[place]
        assert box.x0 >= 0, texts[place]
        assert box.x1 <= figure.bbox.x1, texts[place]


def test_a_difference_of_many_losses_is_shared_out_and_none_is_called_most_of_it() -> None:
    panel = panels.losses_panel(BUILD, LIGHT)
    panel.press("Learn")
    found = panel.result
    assert found.fit is not None
    assert found.after is not None
    parts = {name: -part for name, part in found.shares.items()}
    assert set(parts) == set(found.fit.names)  # what is still a guess moved too
    assert sum(parts.values()) == pytest.approx((found.before.speed - found.after.speed).m)
    assert max(parts.values()) < 0.5 * sum(parts.values())
    assert panel.verdict.endswith(
        "7.1 m/s slower than its text says; of that: blow-by area 3.4 m/s (still a guess), "
        "seal leak area 2.1 m/s (still a guess), seal friction 0.99 m/s (still a guess)."
    )
    one = BUILD.replace({"losses.blowby_area": found.fit.losses["blowby_area"]})  # alone, about as much
    assert (found.before.speed - bl.predict(one).speed).m == pytest.approx(parts["blowby_area"], rel=0.2)
    assert any("uncertainty left 100 %" in line for line in panel.lines)  # more than before is none learned
    assert found.fit.left.max() > 1.0
    losses = panel.views[0].figure.axes[1]
    panel.views[0].figure.canvas.draw()
    widest = max(text.get_window_extent().x1 for text in losses.texts)
    assert "100 % left" in [text.get_text() for text in losses.texts]
    assert widest < panel.views[0].figure.bbox.x1


def test_changed_boxes_wait_for_the_button_and_undo_brings_the_learned_back(fits: list[int]) -> None:
    panel = panels.losses_panel(BUILD, LIGHT)
    assert panel.box("string_2").text == ""
    panel.press("Learn")
    learned, result = panel.text, panel.result.fit
    panel.set("string_2", THIN.to_csv())
    assert "not learned yet" in panel.text
    assert any("choose what was changed for string 2" in line for line in panel.lines)
    panel.undo()
    assert (panel.text, panel.result.fit) == (learned, result)
    panel.units = "US customary"
    assert "ft/s" in panel.verdict
    assert fits == [1]


def test_what_cannot_be_is_said_by_name_and_nothing_is_lost() -> None:
    panel = panels.losses_panel(BUILD, LIGHT)
    assert greyed(panel)
    panel.press("Use these losses in my build")  # greyed out in the page
    assert panel.message == "nothing is learned yet: press Learn first"
    with pytest.raises(ValueError, match=r"^its new value: empty; type what string 2 was shot with"):
        panel.set("changed", "spring wire")
    with pytest.raises(
        ValueError, match=r"^its new value: spring\.wire_diameter: got '1\.4', which has no unit"
    ):
        panel.set("value", "1.4")
    panel.set("value", "1.4 mm")
    with pytest.raises(ValueError, match=r'^string 2: .*choose it under "unit of the shots"'):
        panel.set("string_2", "151\n148\n153")
    panel.set("unit", "ft/s")
    assert panel.result.pairs[1][0] == BUILD.replace({"spring.wire_diameter": "1.4 mm"})
    with pytest.raises(
        ValueError, match=r"^its new value: spring\.total_coils: got '1\.4 mm'; must be a number"
    ):
        panel.set("changed", "total coils")
    panel.set("value", "30")
    assert panel.result.pairs[1][0].spring.active_coils == 28.0
    panel.set("string_1", "")
    panel.set("string_2", "")
    assert panel.verdict == "Paste the shots of this build into string 1, then press Learn."
    panel.press("Learn")
    assert panel.message == "string 1: empty; must be the shots of this build, one per line"
    panel.set("string_1", LIGHT.to_csv())
    assert not panel.message
    assert panel.verdict.startswith("Press Learn")


def test_learned_losses_go_to_the_bench_beside_the_build_and_undo_puts_that_back(bench: Path) -> None:
    text = "# as I typed it\n" + BUILD.to_text()
    bl.my_builds.save("Garage 3", text)
    bl.my_strings.save("Saturday", LIGHT)
    panel = panels.losses_panel()
    assert (panel.box("build").text, panel.box("string_1").text) == (text, LIGHT.to_csv())
    assert (panel.box("string_2").text, panel.box("changed").text) == ("", "nothing")  # nothing invented
    panel.press("Learn")
    fit, told = panel.result.fit, panel.text
    assert not greyed(panel)
    assert isinstance(panel.result, Learning)
    assert fit is not None
    panel.press("Use these losses in my build")
    assert not panel.message
    assert greyed(panel)
    new = "Garage 3 with learned losses"
    assert bl.my_builds.current() == fit.build(BUILD).replace({"title": new})
    assert bl.my_builds.current().calibration == fit.learned
    assert bl.my_builds.names() == ["Garage 3", "Garage 3 with learned losses"]
    assert bl.my_builds.start("Garage 3").text == text
    assert "your build Garage 3 with learned losses, saved " in panel.children[0].value
    assert panel.text == told  # what was learned is still in sight
    assert any(line.startswith(f"Saved as {new}, which carries these losses: ") for line in panel.lines)
    assert panel._bench is not None
    assert panel._bench.whose.value.startswith(f"Saved as {new}. ")
    again = panels.losses_panel()
    assert again.text.startswith("Losses: already learned from 1 string; after your strings ")
    assert again.verdict.startswith("This build carries learned losses already; Learn finds them anew")
    barrel = panels.barrel_panel()
    assert barrel.result.shot.muzzle_velocity.m == pytest.approx(panel.result.after.speed.m)  # type: ignore[union-attr]
    panel.press("Use these losses in my build")
    assert panel.message == "this build carries them already"
    panel.undo()
    assert bl.my_builds.chosen() == "Garage 3"
    assert panel.box("build").text == text
    panel.press("Use these losses in my build")
    assert bl.my_builds.chosen() == "Garage 3 with learned losses (2)"


def greyed(panel: panels.Panel[Learning]) -> bool:
    return next(
        b for b in _widgets(panel) if getattr(b, "description", "") == "Use these losses in my build"
    ).disabled


REST = "Losses learned with it make up for whatever it is wrong by: measure it first."


def test_what_was_only_assumed_is_named_before_learning_and_after() -> None:
    text = "\n".join(line for line in BUILD.to_text().splitlines() if not line.startswith("length = "))
    guessed = bl.Build.from_text(text)
    assert guessed.assumed == ("barrel.length", "dart.length")  # the dart's hardly matters
    panel = panels.losses_panel(guessed, LIGHT)
    said = f"Assumed, not measured: barrel length 300 mm. {REST}"
    assert panel.lines[2] == said
    panel.press("Learn")
    assert panel.result.fit is not None
    assert panel.lines[2] == said
    panel.set("build", text.replace("preload = ", "# ").replace("stroke = ", "# "))
    stroke, room = panel.result.build.chamber.stroke, panel.result.build.spring.front_length
    values = f"barrel length 300 mm, stroke {units.show(stroke, 'length', 3)}, installed length "
    values += units.show(room, "length", 3)
    many = REST.replace("with it", "with them").replace("it is", "they are").replace("it first", "them first")
    assert panel.lines[2] == f"Assumed, not measured: {values}. {many}"
    panel.set("build", BUILD.to_text())
    assert not any("make up for" in line for line in panel.lines)


def test_what_is_still_the_demos_beside_strings_of_the_builders_own_is_named() -> None:
    panel = panels.losses_panel()
    assert panel.start is not None
    assert panel.start.demo
    assert not any("make up for" in line for line in panel.lines)  # all of it is invented
    panel.set("string_1", "m/s\n" + "\n".join(str(50 + n % 3) for n in range(10)))
    assert "Still the demo's, unless yours is the same: barrel length " in panel.lines[2]
    assert ", bore of the plunger tube 35 mm, bore of the barrel " in panel.lines[2]
    moved = BUILD.replace({"barrel.length": "412 mm", "spring.wire_diameter": "1.7 mm"})
    panel.set("build", moved.to_text())
    assert "Still the demo's, unless yours is the same: stroke " in panel.lines[2]
    assert "wire" not in panel.lines[2]


def test_a_fit_tells_how_far_it_is() -> None:
    told: list[tuple[int, int]] = []
    bl.calibrate([(BUILD, LIGHT)], progress=lambda done, everything: told.append((done, everything)))
    assert len(told) > 10
    assert all(0 < done <= everything for done, everything in told)
    assert [done for done, _ in told] == sorted(done for done, _ in told)


def test_a_string_of_shots_in_code_and_other_units() -> None:
    units.use_units("mm and ft/s")
    panel = panels.losses_panel(None, "ft/s\n" + "\n".join(str(180 + n % 5) for n in range(10)))
    assert panel.result.pairs[0][1].count == 10
    assert " ft/s (" in panel.text
