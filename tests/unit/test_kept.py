"""A builder's own folder: what is saved under a name is found by the next notebook, and by nothing else."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import blasterlab as bl
from blasterlab.bench import kept
from blasterlab.report.kept import start

LONG = bl.demo_build("workhorse").replace({"title": "Long", "barrel.length": "50 cm"})


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path / "mine"))
    return tmp_path / "mine"


def test_a_test_run_has_no_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert kept.VARIABLE not in os.environ
    monkeypatch.chdir(tmp_path)
    assert kept.folder() is None
    kept.remember("units", "US customary")
    assert kept.recall("units", ["US customary"]) is None
    with pytest.raises(bl.units.UnitError, match="nothing is kept here"):
        bl.my_builds.save("Long", LONG)
    assert bl.my_builds.names() == []
    assert list(tmp_path.iterdir()) == []


def test_elsewhere_the_folder_lies_beside_the_notebook(tmp_path: Path) -> None:
    code = (
        "import blasterlab as bl; bl.my_builds.save('A 1', bl.demo_build('apprentice')); print(bl.my_builds)"
    )
    clean = {key: value for key, value in os.environ.items() if not key.startswith("PYTEST")}
    given = {"cwd": tmp_path, "capture_output": True, "text": True, "check": True}
    said = subprocess.run([sys.executable, "-c", code], env=clean, **given).stdout
    assert (tmp_path / "my_bench" / "builds" / "A 1.toml").is_file()
    assert re.match(
        r"your build A 1, saved \d\d:\d\d: panels start from it, examples from demo builds\n", said
    )
    quiet = subprocess.run(
        [sys.executable, "-c", "import blasterlab as bl; print(bl.my_builds)"],
        env=clean | {kept.VARIABLE: ""}, **given,
    ).stdout  # fmt: skip
    assert quiet == "nothing of yours is saved: panels and examples start from demo builds\n"


def test_a_saved_build_is_the_current_one_until_another_is_chosen(bench: Path) -> None:
    workhorse = bl.demo_build("workhorse")
    assert bl.my_builds.current() == workhorse
    assert bl.my_builds.current("apprentice") == bl.demo_build("apprentice")
    assert bl.my_builds.current(LONG) == LONG
    bl.my_builds.save("Long", LONG)
    bl.my_builds.save("Garage 3", "# typed by hand\n" + workhorse.to_text())
    assert bl.my_builds.names() == ["Garage 3", "Long"]
    assert bl.my_builds.start("Garage 3").text.startswith("# typed by hand\n")
    assert bl.my_builds.current("apprentice") == bl.my_builds.current(LONG) == workhorse
    bl.my_builds.choose("Long")
    assert bl.my_builds.current() == bl.my_builds.load("Long") == LONG
    assert start(bl.my_builds.begin(given=LONG)).startswith("your build Long, saved ")
    assert start(bl.my_builds.begin(given=workhorse)) == "build Workhorse (invented)"
    bl.my_builds.choose("")
    assert start(bl.my_builds.begin()) == "demo build workhorse (invented)"
    assert str(bl.my_builds).endswith("saved: Garage 3, Long")


def test_a_free_name_is_a_file_name_and_reads_as_no_other_build(bench: Path) -> None:
    names = ["Garage 7", "with learned losses " + 40 * "x"]
    for name in names:
        bl.my_builds.save(name, LONG)
        for number in (2, 3):
            free = bl.my_builds.free(name)
            assert free == f"{name[:54]} ({number})"
            bl.my_builds.save(free, LONG)
    assert bl.my_builds.free("Garage 7 (2)") == "Garage 7 (4)"
    assert bl.my_builds.free("Garage 8 (2)") == "Garage 8 (2)"


def test_a_build_without_a_title_is_saved_with_its_name_for_one(bench: Path) -> None:
    titled = bl.demo_build("workhorse").to_text()
    head, _, rest = titled.partition("\n")
    assert head.startswith("title = ")
    for text, kept_ in (
        ("# as I typed it\n\n" + rest, '# as I typed it\n\ntitle = "Garage 3"\n' + rest),
        ('title = "untitled build"  # mine\n' + rest, None),
        ('title = "untitled build"\n' + rest, 'title = "Garage 3"\n' + rest),
        (rest, 'title = "Garage 3"\n' + rest),
        (titled, titled),
    ):
        bl.my_builds.save("Garage 3", text)
        assert bl.my_builds.start("Garage 3").text == (kept_ or text)
    bl.my_builds.save("Garage 3", rest)
    assert bl.my_builds.current() == bl.Build.from_text(rest).replace({"title": "Garage 3"})
    post = bl.Build.from_text(rest).to_post()
    bl.my_builds.save("Garage 4", f"Look at this:\n{post}")
    assert bl.my_builds.start("Garage 4").text == f"Look at this:\n{post}"


def test_strings_are_kept_beside_the_builds(bench: Path) -> None:
    string = bl.ChronoString.from_text("50.1 m/s\n50.3\n49.8")
    bl.my_strings.save("Tuesday", string)
    assert bl.my_strings.current() == string
    assert bl.my_builds.names() == []
    assert {path.name for path in bench.rglob("*.*")} == {"Tuesday.csv", "string.txt"}


@pytest.mark.parametrize(
    "name", ["", ".hidden", "../out", "a/b", "a\\b", "a\0b", "x.", "x ", "-x", "n" * 61, 3]
)
def test_a_name_that_no_file_should_have_is_refused(name: str, bench: Path) -> None:
    with pytest.raises(bl.units.UnitError, match=r"^name: got .*; must be 1 to 60 letters"):
        bl.my_builds.save(name, LONG)
    assert not bench.exists()


def test_names_of_demos_faults_and_unknown_names_are_refused(bench: Path) -> None:
    with pytest.raises(bl.units.UnitError, match="this is a demo's"):
        bl.my_builds.save("workhorse", LONG)
    with pytest.raises(bl.BuildError, match="chamber"):
        bl.my_builds.save("Bad", LONG.to_text().replace("bore =", "bor =", 1))
    with pytest.raises(bl.units.UnitError, match="must be one of those saved"):
        bl.my_builds.choose("Nobody")
    with pytest.raises(bl.units.UnitError, match="must be one of apprentice"):
        bl.my_builds.load("Nobody")
    assert not bench.exists()


def test_a_folder_that_cannot_be_written_is_said(bench: Path) -> None:
    bench.write_text("a file where the folder should be")
    with pytest.raises(bl.units.UnitError, match=r"Long\.toml cannot be saved: "):
        bl.my_builds.save("Long", LONG)
    assert bl.my_builds.names() == []


def test_a_build_that_was_spoilt_by_hand_gives_way_to_a_demo_and_says_why(bench: Path) -> None:
    bl.my_builds.save("Long", LONG)
    path = bench / "builds" / "Long.toml"
    path.write_bytes(path.read_bytes().replace(b'"50 cm"', b'"50"'))
    begun = bl.my_builds.begin()
    assert begun.demo
    assert begun.value == bl.demo_build("workhorse")
    assert "yours cannot be read: Long: this build has one fault: - barrel.length: got '50'" in start(begun)
    with pytest.raises(bl.BuildError, match="got '50'"):
        bl.my_builds.load("Long")


def test_a_choice_is_recalled_while_it_is_still_offered(bench: Path) -> None:
    kept.remember("confidence", "99 %")
    assert kept.recall("confidence", ["95 %", "99 %"]) == "99 %"
    assert kept.recall("confidence", ["95 %"]) is None
    (bench / "chosen" / "confidence.txt").write_bytes(b"\xff\xfe")
    assert kept.recall("confidence", ["95 %"]) is None
