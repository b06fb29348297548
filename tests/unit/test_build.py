"""Builds: read, refused with every fault at once, changed, written back exactly, saved wholly or not."""

from __future__ import annotations

import contextlib
import dataclasses
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import blasterlab as bl
from blasterlab import units
from blasterlab.parts.learned import Learned
from blasterlab.values import RULES

TEXT = bl.demo_build("workhorse").to_text()


def faults(text: str) -> list[str]:
    with pytest.raises(bl.BuildError) as caught:
        bl.Build.from_text(text)
    return caught.value.faults


@pytest.mark.parametrize("name", bl.demo_builds())
def test_a_round_trip_is_exact(name: str) -> None:
    build = bl.demo_build(name)
    again = bl.Build.from_text(build.to_text())
    assert again == build
    assert again.to_text() == build.to_text()
    assert again.si == build.si


lengths = st.sampled_from(["mm", "cm", "in"]).flatmap(
    lambda unit: st.floats(0.15, 0.6).map(
        lambda metres: f"{float(units.quantity(metres, 'm').m_as(unit))!r} {unit}"
    )
)


@given(lengths, st.floats(0.6, 3.0), st.floats(0.0, 5.0), st.text(max_size=40))
def test_a_round_trip_is_exact_for_any_number(length: str, mass: float, friction: float, title: str) -> None:
    changes = {
        "barrel.length": length,
        "dart.mass": f"{mass!r} g",
        "losses.dart_friction": f"{friction!r} lbf",
    }
    build = bl.demo_build("longbow").replace(changes)
    with contextlib.suppress(bl.BuildError):  # control characters; see below
        build = build.replace({"title": title})
    assert bl.Build.from_text(build.to_text()) == build


def test_every_fault_is_listed_at_once_by_name() -> None:
    text = (
        TEXT.replace('bore = "35 mm"', 'bor = "35 mm"')
        .replace('"1.5 mm"', '"15 mm"')
        .replace('"40 cm"', "40")
        .replace('mass = "1 g"', 'mass = "1 N"')
        .replace("relative_humidity = 0.5", "relative_humidity = 50")
        .replace("gas_inertia = true", 'gas_inertia = "yes"')
        .replace('wall_heat = "none"', 'wall_heat = "some"')
    )
    found = faults(text)
    wanted = ["spring.outer_diameter", "chamber.bor:", "chamber.bore: missing", "barrel.length", "dart.mass",
              "losses.gas_inertia", "losses.wall_heat", "air.relative_humidity"]  # fmt: skip
    for name in wanted:
        assert any(fault.startswith(name) for fault in found), (name, found)
    assert any("nearest known one is bore" in fault for fault in found)
    assert len(found) == len(wanted)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"40 cm"', '"nan cm"', "barrel.length"),
        ('"40 cm"', "nan", "barrel.length"),
        ('"40 cm"', "inf", "barrel.length"),
        ('"40 cm"', '"-4 cm"', "allowed is 5 mm to 3000 mm"),
        ('"40 cm"', '"0 cm"', "allowed is 5 mm"),
        ('"40 cm"', '"12,5 cm"', "write decimals with a point"),
        ('"40 cm"', '"40 kg"', "that is a mass"),
        ('"40 cm"', "40 cm", "stands in quotes"),
        ('"40 cm"', "[1, 2]", "barrel.length"),
        ('"90 mm"', '"120 mm"', "the tube is only 110 mm long"),
        ('"25 mm"', '"70 mm"', "solid"),
        ('diameter = "12.9 mm"', 'diameter = "16 mm"', "squash jams"),
        ('bore = "12.9 mm"', 'bore = "30 mm"', "would rattle"),
        ('port_diameter = "10 mm"', 'port_diameter = "40 mm"', "the bore that it opens from"),
        ('"1.5 mm"', '"9 mm"', "the coil has no hole"),
        ("active_coils = 26", "active_coils = 0", "active_coils"),
        ('"EN 10270-1 SH"', '"chewing gum"', "spring.material"),
        ("[dart]", "[darts]", "darts: unknown"),
        ("[air]", "[[air]]", "air"),
        ('title = "Workhorse (invented)"', "title = 3", "title"),
        ("[spring]", "[[springs]]\n[spring]", "spring"),
        ("port_discharge = 0.8", "port_discharge = 999999999999999999999999999999", "port_discharge"),
    ],
)
def test_one_fault_is_named_with_what_would_do(old: str, new: str, words: str) -> None:
    assert TEXT.count(old) >= 1
    assert any(words in fault for fault in faults(TEXT.replace(old, new, 1)))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x" * 1_000_000, "longer than"),
        ("a = 1\0", "NUL"),
        ("a = " + "[" * 30_000 + "]" * 30_000, "nested too deep"),
        ("a = 1\na = 2", "not readable"),
        ("", "missing"),
        ("PK\x03\x04", "not readable"),
        ("spring = 3", "tables are wanted"),
    ],
)
def test_what_is_no_build_text_is_refused(text: str, words: str) -> None:
    assert any(words in fault for fault in faults(text))


def test_every_rule_between_parts_can_be_broken() -> None:
    broken = {
        "chamber.stroke": {"chamber.stroke": "111 mm", "spring.preload": "0 mm"},
        "chamber.port_diameter": {"chamber.port_diameter": "36 mm"},
        "dart.diameter": {"dart.diameter": "15.5 mm"},
        "barrel.bore": {"barrel.bore": "26 mm"},
        "spring0.free_length": {"spring.preload": "70 mm"},
    }
    build = bl.demo_build("workhorse")
    for rule in RULES[: len(broken)]:
        with pytest.raises(bl.BuildError, match=r"\d"):
            build.replace(broken[rule.field])


def test_replace_makes_a_new_build_and_checks_it() -> None:
    build = bl.demo_build("longbow")
    other = build.replace({"springs[1].gap": "20 mm", "losses.air_ahead": False, "title": "mine"})
    assert other.springs[1].gap.m_as("mm") == 20.0
    assert build.springs[1].gap.m_as("mm") == 15.0
    assert other.losses.air_ahead is False
    with pytest.raises(bl.BuildError) as caught:
        build.replace({"barel.length": "1 cm", "springs[7].gap": "1 mm", "losses.x": 1, "dart.mass": "1 mm"})
    assert len(caught.value.faults) == 4
    with pytest.raises(bl.BuildError):
        build.replace({"dart.mass": bl.Quantity(float("nan"), "g")})
    with pytest.raises(bl.BuildError, match="no such name"):
        build.changed_part("barel", {"barel.length": "1 cm"})


def test_words_are_kept_as_they_are_and_control_characters_refused() -> None:
    hostile = '<script>alert("x")</script> \\ "quoted" \u2603'
    build = bl.demo_build("workhorse").replace({"title": hostile, "note": "two\nlines\tand a tab"})
    assert bl.Build.from_text(build.to_text()) == build
    for bad in ("bell\a", "del\x7f", "\x00", "x" * 201):
        with pytest.raises(bl.BuildError, match="title"):
            build.replace({"title": bad})


def test_files_bom_encodings_and_size(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    path.write_bytes(b"\xef\xbb\xbf" + TEXT.encode())
    assert bl.Build.load(path) == bl.demo_build("workhorse")
    path.write_bytes(TEXT.replace("Workhorse", "Zugpferd für").encode("latin-1"))
    with pytest.raises(bl.BuildError, match="UTF-8"):
        bl.Build.load(path)
    path.write_bytes(b"#" * 70_000)
    with pytest.raises(bl.BuildError, match="longer"):
        bl.Build.load(path)
    with pytest.raises(OSError, match="missing"):
        bl.Build.load(tmp_path / "missing.toml")


@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_failed_save_leaves_the_old_file_and_nothing_else(
    call: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "b.toml"
    bl.demo_build("workhorse").save(path)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(os, call, full)
    with pytest.raises(OSError, match="no space"):
        bl.demo_build("apprentice").save(path)
    assert path.read_bytes() == before
    assert [item.name for item in tmp_path.iterdir()] == ["b.toml"]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
def test_a_kill_in_the_middle_of_saving_leaves_a_whole_file(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    bl.demo_build("workhorse").save(path)
    code = (
        "import blasterlab as bl, itertools\n"
        "builds = [bl.demo_build('workhorse'), bl.demo_build('longbow')]\n"
        "print('ready', flush=True)\n"
        f"for n in itertools.count():\n    builds[n % 2].save({str(path)!r})\n"
    )
    worker = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert worker.stdout is not None
    assert worker.stdout.readline().strip() == "ready"
    time.sleep(0.3)
    worker.kill()
    worker.wait()
    assert bl.Build.load(path) in (bl.demo_build("workhorse"), bl.demo_build("longbow"))


def test_an_unknown_demo_build_names_the_known() -> None:
    with pytest.raises(bl.BuildError, match="workhorse"):
        bl.demo_build("../../etc/passwd")


def test_the_volume_ratio_is_swept_over_barrel() -> None:
    build = bl.demo_build("workhorse")
    assert build.volume_ratio == pytest.approx((35**2 * 90) / (12.9**2 * 400), rel=1e-12)


LEARNED = Learned(
    names=("dart_friction", "blowby_area"),
    sd=("0.2 N", "0.1 mm^2"),
    correlation=((1.0, -0.4), (-0.4, 1.0)),
    shot_spread=0.011,
    spread_dof=18,
    strings=2,
    shots=20,
)


def test_a_calibration_travels_with_the_text_exactly() -> None:
    build = dataclasses.replace(bl.demo_build("workhorse"), calibration=LEARNED)
    assert "[calibration]" in build.to_text()
    again = bl.Build.from_text(build.to_text())
    assert again == build
    assert again.to_text() == build.to_text()
    found = bl.predict(again)
    assert found.next_low < found.mean_low < found.speed < found.mean_high < found.next_high


def test_a_loss_set_by_hand_drops_what_was_learned() -> None:
    build = dataclasses.replace(bl.demo_build("workhorse"), calibration=LEARNED)
    assert build.replace({"barrel.length": "30 cm"}).calibration == LEARNED
    assert build.replace({"losses.dart_friction": "2 N"}).calibration is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("calibration = 3\n" + TEXT, "a table"),
        (TEXT + "[calibration]\nnames = ['nothing']\n", "calibration.sd: missing"),
        (TEXT + "[calibration]\nspeed = 3\n", "calibration.speed: no such key"),
    ],
)
def test_a_broken_calibration_is_named(text: str, words: str) -> None:
    assert any(words in fault for fault in faults(text))
