"""The panel of a difference: two strings or two means, the build on the bench, and what explains it."""

from __future__ import annotations

from pathlib import Path

import pytest

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.bench import kept
from blasterlab.panels.base import LONGEST
from blasterlab.panels.explain import BEFORE, NOW
from blasterlab.panels.export import files
from blasterlab.plan.explain import explain


def test_means_strings_and_units_in_the_boxes() -> None:
    build = bl.demo_build("workhorse")
    panel = panels.explain_panel(build)
    assert panel.result.difference == explain(build, BEFORE, NOW).difference
    assert panel.verdict.startswith("Real, at 95 % confidence: ")
    assert len(panel.text) <= LONGEST
    assert panel.pictures
    panel.set("now", "ft/s\n" + "\n".join(str(190 + n % 5) for n in range(10)))
    assert panel.verdict.startswith("Perhaps only chance, ")
    panel.undo()
    assert panel.verdict.startswith("Real, at 95 % confidence: ")
    with pytest.raises(ValueError, match='choose it under "unit of the shots"'):
        panel.set("before", "151\n148\n153")
    panel.set("unit", "ft/s")
    assert panel.result.before.shots == 3
    panel.reset()
    panel.units = "US customary"
    assert "13.0 ft/s slower" in panel.verdict
    panel.type("now", "178 ft/s")
    assert 'how many shots was it the mean of? Write "178 ft/s, 10 shots"' in panel.message
    panel.type("now", "178 ft/s, 10 shots")
    assert not panel.message


def test_it_starts_from_the_build_and_the_string_on_the_bench(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    string, build = bl.demo_string("workhorse_wire_15"), bl.demo_build("apprentice")
    bl.my_strings.save("Saturday", string)
    bl.my_builds.save("Garage 3", build)
    panel = panels.explain_panel()
    assert panel.result.build == build
    assert panel.result.before.shots == string.count
    assert panel.box("now").text == string.to_csv()  # never an invented day beside the builder's own
    assert panel.verdict.startswith("No difference: the two means are the same. Put the other day's shots")
    panel.start_from("workhorse")
    assert panel.result.build == bl.demo_build("workhorse")
    assert panel.box("before").text == string.to_csv()
    panel.undo()
    assert panel.result.build == build
    panel.save("Garage 4")
    assert bl.my_builds.load("Garage 4") == build


def test_a_build_of_the_builders_own_gets_no_answer_from_invented_means(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    bl.my_builds.save("Garage 27", bl.demo_build("apprentice"))
    panel = panels.explain_panel()
    asks = "Type two strings, or two means with their counts."
    assert (panel.box("before").text, panel.box("now").text) == ("", "")
    assert panel.result is None
    assert panel.verdict.startswith(asks)
    assert asks[5:-1] not in panel.text  # once is enough
    assert (panel.pictures, files(panel)) == ([], [])  # no empty axes
    panel.set("before", "42 m/s, 10 shots")
    assert panel.verdict.startswith(asks)
    panel.set("now", "40 m/s, 10 shots")
    assert panel.verdict.startswith("Real, ")
    assert len(panel.pictures) == 1
    demo = panels.explain_panel(bl.demo_build("workhorse"))
    assert demo.verdict.startswith("Real, ")
    demo.start_from("Garage 27")  # the invented means stay in the boxes
    assert demo.verdict.startswith(asks)


def test_shots_given_in_code_stand_in_the_boxes() -> None:
    light, heavy = bl.demo_string("workhorse_wire_15"), bl.demo_string("workhorse_heavy_dart")
    panel = panels.explain_panel(None, light, heavy)
    assert panel.result.difference == light.compare(heavy, show=abs(light.compare(heavy).relative))
    units.use_units("mm and ft/s")
    assert "slower" in panel.verdict
