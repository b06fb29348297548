"""``python -m blasterlab``: what a builder types."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

import blasterlab as bl
from blasterlab import __main__ as door
from blasterlab.bench import kept


def typed(monkeypatch: pytest.MonkeyPatch, *words: str) -> None:
    monkeypatch.setattr(sys, "argv", ["blasterlab", *words])
    door.main()


@pytest.fixture
def saved(tmp_path: Path) -> Path:
    bl.demo_build("workhorse").save(tmp_path / "my_build.toml")
    return tmp_path / "my_build.toml"


def test_a_build_text_is_shot_with_its_range_and_its_checks(
    saved: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "shoot", str(saved))
    said = capsys.readouterr().out
    build = bl.demo_build("workhorse")
    for words in (bl.words(bl.simulate(build)), bl.words(bl.predict(build)), build.check()[0].message):
        assert words in said


def test_a_page_is_written_beside_a_build_text(
    saved: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "share", str(saved))
    page = saved.with_name("my_build_share.html")
    assert capsys.readouterr().out.startswith(f"{page}: 1")
    assert "<title>Workhorse (invented)</title>" in page.read_text(encoding="utf-8")


def test_the_events_cap_goes_with_the_page_and_the_sheet(
    saved: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    typed(monkeypatch, "share", str(saved), "--cap", "150 ft/s", "--cap", "3 J")
    assert "Cap 150 ft/s and 3 J." in capsys.readouterr().out
    made = saved.with_name("my_build_share.html").read_text(encoding="utf-8")
    assert "over the cap of 150 ft/s" in made
    typed(monkeypatch, "sheet", str(saved), "--cap", "150 ft/s")
    assert "Cap 150 ft/s." in capsys.readouterr().out
    assert "shots over the cap 150 ft/s" in saved.with_name("my_build_sheet.html").read_text(encoding="utf-8")
    typed(monkeypatch, "share", str(saved))
    assert "No cap: --cap gives one." in capsys.readouterr().out
    bench = tmp_path / "my_bench"
    (bench / "builds").mkdir(parents=True)
    (bench / "chosen").mkdir()
    kept = saved.rename(bench / "builds" / saved.name)
    (bench / "chosen" / "speed_cap.txt").write_text("140.0 foot / second")
    typed(monkeypatch, "share", str(kept))  # of a bench that lies elsewhere
    assert "Cap 140 ft/s." in capsys.readouterr().out
    assert door._bench("/my_build.toml") is None  # nothing above it
    with pytest.raises(SystemExit) as end:
        typed(monkeypatch, "share", str(kept), "--cap", "fast")
    assert "cap: got 'fast'" in str(end.value.code)


def test_the_units_are_those_of_the_bench_that_keeps_the_file(
    saved: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    bench, here = tmp_path / "my_bench", tmp_path / "here"
    for place, chosen in ((bench, "mm and ft/s"), (here, "US customary")):
        (place / "builds").mkdir(parents=True)
        (place / "chosen").mkdir()
        (place / "chosen" / "units.txt").write_text(chosen)
    typed(monkeypatch, "shoot", str(saved))
    assert "m/s" in capsys.readouterr().out  # nothing was chosen
    monkeypatch.setenv(kept.VARIABLE, str(here))
    typed(monkeypatch, "sheet", str(saved))  # of no bench: this folder's
    assert re.search(r"in bore.*ft/s", saved.with_name("my_build_sheet.html").read_text("utf-8"), re.DOTALL)
    own = saved.rename(bench / "builds" / saved.name)
    typed(monkeypatch, "shoot", str(own))
    assert "207.1 ft/s" in capsys.readouterr().out
    typed(monkeypatch, "sheet", str(own))
    assert re.search(r"mm bore.*ft/s", own.with_name("my_build_sheet.html").read_text("utf-8"), re.DOTALL)
    typed(monkeypatch, "share", str(own))
    assert '"set":"mm and ft/s"' in own.with_name("my_build_share.html").read_text("utf-8")


def test_the_version_is_told(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        typed(monkeypatch, "--version")
    assert not end.value.code
    assert capsys.readouterr().out.strip() == f"blasterlab {bl.__version__}"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("barrel = 3", "barrel: got 3"),
        ("barrel = ", "not readable as build text"),
        (None, "my_build.toml: No such file"),
    ],
)
def test_a_file_that_cannot_be_read_is_a_sentence(
    text: str | None, said: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "my_build.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    with pytest.raises(SystemExit) as end:
        typed(monkeypatch, "shoot", str(path))
    assert said in str(end.value.code)


def test_the_notebooks_open_where_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[list[str]] = []
    monkeypatch.setattr(subprocess, "call", lambda command: asked.append(command) or 0)
    with pytest.raises(SystemExit) as end:
        typed(monkeypatch, "lab")
    assert not end.value.code
    assert asked[0][1:3] == ["-m", "jupyterlab"]
    assert Path(asked[0][-1]) == Path(__file__).resolve().parents[2] / "notebooks" / door.FIRST


def test_notebooks_of_a_wheel_are_copied_and_never_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed = tmp_path / "site" / "blasterlab"
    (packed / "notebooks" / "pictures").mkdir(parents=True)
    (packed / "notebooks" / door.FIRST).write_text("new", encoding="utf-8")
    (packed / "notebooks" / "pictures" / "a.png").write_bytes(b"picture")
    monkeypatch.setattr(door, "__file__", str(packed / "__main__.py"))
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    own = door.notebooks()
    assert own == tmp_path / "here" / "blasterlab notebooks"
    assert (own / "pictures" / "a.png").read_bytes() == b"picture"
    (own / door.FIRST).write_text("mine", encoding="utf-8")
    assert door.notebooks() == own
    assert (own / door.FIRST).read_text(encoding="utf-8") == "mine"


def test_without_jupyterlab_it_says_what_to_type(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(door, "find_spec", lambda name: None)
    with pytest.raises(SystemExit) as end:
        typed(monkeypatch, "lab")
    assert "pip install jupyterlab" in str(end.value.code)
