"""Builds: read, refused with every fault at once, changed, written back exactly, saved wholly or not."""

from __future__ import annotations

import contextlib
import dataclasses
import re
import signal
import subprocess
import sys
import time
import tomllib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import blasterlab as bl
from blasterlab import units
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.values import RULES, kind_of

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
    build = bl.demo_build("two_springs").replace(changes)
    with contextlib.suppress(bl.BuildError):  # control characters; see below
        build = build.replace({"title": title})
    assert bl.Build.from_text(build.to_text()) == build


def test_waves_along_the_springs_are_a_switch_that_older_texts_need_not_know() -> None:
    assert "spring_waves = true" in TEXT
    assert bl.Build.from_text(TEXT.replace("spring_waves = true\n", "")) == bl.Build.from_text(TEXT)
    off = bl.Build.from_text(TEXT.replace("spring_waves = true", "spring_waves = false"))
    assert off.losses.spring_waves is False
    assert off == bl.Build.from_text(off.to_text()) != bl.Build.from_text(TEXT)
    (fault,) = faults(TEXT.replace("spring_waves = true", "spring_waves = 1"))
    assert fault.startswith("losses.spring_waves: got 1;")


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
    assert any('did you mean "bore"?' in fault for fault in found)
    assert len(found) == len(wanted)


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ('"40 cm"', '"nan cm"', "barrel.length"),
        ('"40 cm"', "nan", "barrel.length"),
        ('"40 cm"', "inf", "barrel.length"),
        ('"40 cm"', '"-4 cm"', "got '-4 cm'; must be 5 mm to 3000 mm"),
        ('"40 cm"', '"0 cm"', "must be 5 mm"),
        ('"40 cm"', '"12,5 cm"', "a decimal point and no comma"),
        ('"40 cm"', '"40 kg"', "this is a mass"),
        ('"40 cm"', "40 cm", "stands in quotes"),
        ('"40 cm"', "[1, 2]", "barrel.length"),
        ('"90 mm"', '"120 mm"', "must be at most 110 mm (the tube is no longer)"),
        ('"25 mm"', '"70 mm"', "solid"),
        ('diameter = "12.9 mm"', 'diameter = "16 mm"', "squash jams"),
        ('bore = "12.9 mm"', 'bore = "30 mm"', "would rattle"),
        ('port_diameter = "10 mm"', 'port_diameter = "40 mm"', "the bore that it opens from"),
        ('"1.5 mm"', '"9 mm"', "two wire diameters, 18 mm"),
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
    ("key", "value"),
    [
        ("outer_diameter", "1e308 m"),
        ("free_length", "1e308 mm"),
        ("wire_diameter", "1e-160 mm"),
        ("preload", "1e300 m"),
        ("gap", "1e300 m"),
        ("guide_diameter", "1e-300 m"),
        ("rate", "1e9 N/m"),
        ("mass", "1e9 kg"),
    ],
)
def test_a_spring_far_from_any_blaster_is_refused_by_its_range(key: str, value: str) -> None:
    head, spring, rest = re.split(r"(?=\[spring\]|\[chamber\])", TEXT)
    spring = re.sub(rf"(?m)^{key} = .*\n", "", spring).rstrip("\n") + f'\n{key} = "{value}"\n'
    (fault,) = faults(head + spring + rest)
    assert re.match(rf"spring\.{key}: got '{re.escape(value)}'; must be \S+ \S+ to \S+ \S+ \(", fault)


@pytest.mark.parametrize(
    ("old", "new", "name", "value"),
    [
        ('wire_diameter = "1.5 mm"', 'wire_diameter = "1.5e7 angstrom"', "spring.wire_diameter", "1.5 mm"),
        ("relative_humidity = 0.5", 'relative_humidity = "500 permille"', "air.relative_humidity", 0.5),
        ("relative_humidity = 0.5", 'relative_humidity = "50 %"', "air.relative_humidity", 0.5),
        ('mass = "1 g"', 'mass = "5e3 millicarat"', "dart.mass", "1 g"),
        ('length = "40 cm"', 'length = "4e4 millicentimeter"', "barrel.length", "40 cm"),
        ('length = "40 cm"', 'length = "16000 milliinch"', "barrel.length", "16 in"),
        ('length = "40 cm"', 'length = "4 decimeter"', "barrel.length", "40 cm"),
    ],
)
def test_a_rare_unit_is_read_and_saved_in_one_that_is_read_again(
    old: str, new: str, name: str, value: object
) -> None:
    assert TEXT.count(old) == 1
    build = bl.Build.from_text(TEXT.replace(old, new))
    kind = kind_of(name)
    assert kind
    part, key = name.split(".")
    got = getattr(getattr(build, part), key)
    assert units.si(got, kind) == pytest.approx(units.si(value, kind), rel=1e-12)  # type: ignore[arg-type]
    assert bl.Build.from_text(build.to_text()) == build


WILD_UNITS = sorted(
    {unit for unit in units.ureg if unit.isascii()} | {"", "%", "mm", "cm", "in", "N/kPa", "cm^3", "degC"}
)
LINES = [line for name in bl.demo_builds() for line in bl.demo_build(name).to_text().split("\n")]
KEYS = sorted({line.split(" = ")[0] for line in LINES if " = " in line} | {"rate", "mass", "gap", "guide"})
numbers = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.floats(0.1, 500.0).map(lambda number: f"{number:.3g}"),
    st.integers(-(10**20), 10**20).map(str),
    st.tuples(st.integers(0, 99), st.integers(0, 99), st.integers(0, 64)).map(
        lambda n: f"{n[0]} {n[1]}/{n[2]}"
    ),
)
values = st.one_of(
    st.tuples(numbers, st.sampled_from(["", "milli", "kilo", "micro"]), st.sampled_from(WILD_UNITS)).map(
        lambda typed: f'"{typed[0]} {typed[1]}{typed[2]}"'
    ),
    numbers,
    st.text(max_size=20).map(lambda text: repr(text)),
    st.sampled_from(["true", "[]", "{}", "1979-05-27", "''", '"closed / open"', '"EN 10270-1 SM"', "nan"]),
)


def in_another_unit(text: str, key: str, factor: float, pick: int) -> str:
    """The line of a key with some other number in some other unit of the same dimension, with a prefix."""
    found = re.search(rf'(?m)^{key} = "([-0-9.e]+) ([^"]+)"$', text)
    if not found:
        return text
    unit = found[2]
    try:
        value = units.quantity(factor * float(found[1]), unit)
        known = sorted(f"{name}" for name in units.ureg.get_compatible_units(value.units)) or [unit]
        unit = ("", "milli", "kilo", "centi", "")[pick % 5] + known[pick % len(known)]
        new = f"{value.to(unit).magnitude!r} {unit}"
    except Exception:  # a prefix or an offset that the registry does not take
        new = f"{factor:g} {unit}"
    return text.replace(found[0], f'{key} = "{new}"', 1)


@settings(max_examples=400)
@given(
    name=st.sampled_from(bl.demo_builds()),
    changes=st.lists(st.tuples(st.sampled_from(KEYS), values), max_size=2),
    others=st.lists(
        st.tuples(st.sampled_from(KEYS), st.floats(0.9, 1.1), st.integers(0, 10_000)), max_size=4
    ),
    extra=st.sampled_from(["", "", "", "[", "a.b = 1", '"', "# a", "[[springs]]", "= 1", "\0"]),
)
def test_any_text_loads_and_comes_back_or_is_refused(
    name: str, changes: list[tuple[str, str]], others: list[tuple[str, float, int]], extra: str
) -> None:
    text = bl.demo_build(name).to_text()
    for key, factor, pick in others:
        text = in_another_unit(text, key, factor, pick)
    for key, value in changes:
        line = f"{key} = {value}"
        text = re.sub(rf"(?m)^{key} = .*$", lambda _, line=line: line, text, count=1)  # type: ignore[misc]
    build = None
    with contextlib.suppress(bl.BuildError):
        build = bl.Build.from_text(text + extra)
    if build is None:
        assert all(0 < len(fault) < 700 for fault in faults(text + extra))
        return
    again = bl.Build.from_text(build.to_text())
    assert again == build
    assert again.si == build.si
    assert again.to_text() == build.to_text()
    for finding in build.check():
        assert "nan" not in f"{finding.value} {finding.limit}"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("x" * 1_000_000, "longer than"),
        ("a = 1\0", "NUL"),
        ("a = " + "[" * 30_000 + "]" * 30_000, "nested too deep"),
        ("a = 1\na = 2", "not readable"),
        ("", "missing"),
        ("PK\x03\x04", "not readable"),
        ("title = 'a'\n\x0c", "missing"),
        ("spring = 3", "must be tables"),
    ],
)
def test_what_is_no_build_text_is_refused(text: str, words: str) -> None:
    assert any(words in fault for fault in faults(text))


DEEP = ".a" * 3000


@pytest.mark.parametrize(
    ("old", "new", "name"),
    [
        ('length = "40 cm"', f"length{DEEP} = 1", "barrel.length"),
        ('length = "40 cm"', "length" + ' . "a"' * 3000 + " = 1", "barrel.length"),
        ('length = "40 cm"', "length = " + "{a = " * 3000 + "1" + "}" * 3000, "barrel.length"),
        ('length = "40 cm"', "length = " + "[" * 3000 + "]" * 3000, "barrel.length"),
        ('title = "Workhorse (invented)"', f"title{DEEP} = 1", "title"),
        ("[barrel]", f"[barrel{DEEP}]", "barrel.a"),
        ('material = "EN 10270-1 SH"', f"material{DEEP} = 1", "spring.material"),
        ('ends = "closed"', f"ends{DEEP} = 1", "spring.ends"),
        ('wall_heat = "none"', f"wall_heat{DEEP} = 1", "losses.wall_heat"),
    ],
)
def test_deep_nesting_is_refused_by_name(old: str, new: str, name: str) -> None:
    assert TEXT.count(old) == 1
    (fault,) = faults(TEXT.replace(old, new))
    assert fault.startswith(f"{name}: nested too deeply")


def test_a_table_where_a_value_is_wanted_is_said_shortly() -> None:
    for old in ('length = "40 cm"', 'ends = "closed"', 'material = "EN 10270-1 SH"', "air_ahead = true"):
        key = old.split(" ")[0]
        (fault,) = faults(TEXT.replace(old, f"{key}.a.b.c.d.e = 1"))
        assert f".{key}: " in fault
        assert "{'a': {'b': {...}}}" in fault


def test_the_longest_dotted_key_is_never_handed_to_the_toml_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    def never(text: str) -> None:  # its time grows with the square of the number of names
        raise AssertionError(text[:20])

    monkeypatch.setattr(tomllib, "loads", never)
    for text in ("a." * 31_000 + "a = 1", "[" + "a." * 31_000 + "a]", "x = {" + "a." * 31_000 + "a = 1}"):
        assert "nested too deeply" in faults(text)[0]


def test_dots_and_brackets_and_digits_in_words_are_no_nesting() -> None:
    words = "a.b.c.d.e.f.g.h.i.j.k [[[[[[[[[[[[ {{{{{{{{{{{{ # 'x' " + "7" * 700
    title = 'title = "Workhorse (invented)"'
    for note in (f'"{words}"', f'"""{words}\n{words}"""', f"'''{words}\n{words}''' # {words}"):
        text = re.sub("note = .*", lambda _, note=note: f"note = {note}", TEXT)  # type: ignore[misc]
        assert words in bl.Build.from_text(text.replace(title, f"{title} # {words}")).note


def _nested(kind: type) -> object:
    value: object = 1
    for _ in range(20_000):
        value = {"a": value} if kind is dict else [value]
    return value


@pytest.mark.parametrize("name", bl.demo_build("workhorse").names())
def test_replace_names_what_holds_a_nested_or_endless_value(name: str) -> None:
    build = bl.demo_build("workhorse")
    for value in (_nested(dict), _nested(list), 10**400, -(10**9000), bl.Quantity(10**9000, "m")):
        with pytest.raises(bl.BuildError) as caught:
            build.replace({name: value})
        (fault,) = caught.value.faults
        assert fault.startswith(f"{name}:")
        assert len(fault) < 400


@pytest.mark.parametrize("number", ["9" * 400, "-" + "9" * 400, "9" * 9000, "0x" + "f" * 9000])
def test_an_endless_integer_is_refused_by_name(number: str) -> None:
    for old in ("active_coils = 26", "drag_coefficient = 0.7", "relative_humidity = 0.5"):
        key = old.split(" ")[0]
        (fault,) = faults(TEXT.replace(old, f"{key} = {number}"))
        assert f".{key}: " in fault
        assert "must be a smaller number" in fault
    (fault,) = faults(re.sub("title = .*", f"title = {number}", TEXT))
    assert fault.startswith("title: ")
    calibration = "[calibration]\nnames = ['reads']\nsd = [1]\ncorrelation = [[1]]\nspread_dof = 1\n"
    assert any("calibration.shot_spread" in f for f in faults(f"{TEXT}{calibration}shot_spread = {number}\n"))


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({'"90 mm"': '"190 mm"', "[barrel]": "[barrel]\nfoo = 1"},
         ["barrel.foo", "chamber.stroke", "spring.free_length"]),
        ({"title =": 'titel = "x"\ntitle =', "active_coils = 26": "active_coils = 70"},
         ["titel", "spring.free_length"]),
        ({'"90 mm"': '"190 mm"', '"40 cm"': "40"}, ["barrel.length", "chamber.stroke", "spring.free_length"]),
        ({'"90 mm"': '"190 mm"', '"1.5 mm"': '"15 mm"'}, ["spring.outer_diameter", "chamber.stroke"]),
        ({'stroke = "90 mm"': "stroke = 1", 'diameter = "12.9 mm"': 'diameter = "16 mm"'},
         ["chamber.stroke", "dart.diameter"]),
        ({"[dart]": "[darts]", 'port_diameter = "10 mm"': 'port_diameter = "40 mm"'},
         ["darts", "dart.mass", "chamber.port_diameter"]),
    ],
)  # fmt: skip
def test_what_cannot_go_together_is_listed_with_what_cannot_be_read(
    changes: dict[str, str], names: list[str]
) -> None:
    text = TEXT
    for old, new in changes.items():
        assert text.count(old) >= 1
        text = text.replace(old, new, 1)
    assert [fault.split(":")[0] for fault in faults(text)] == names


@pytest.mark.parametrize(
    ("changes", "names"),
    [
        ({"chamber.stroke": "190 mm", "barrel.lenght": "2 cm"},
         ["barrel.lenght", "chamber.stroke", "spring.free_length"]),
        ({"chamber.stroke": "190 mm", "chamber.bor": 1, "title": 3, "spring.preload": 2},
         ["title", "chamber.bor", "spring.preload", "chamber.stroke"]),
    ],
)  # fmt: skip
def test_replace_lists_both_too(changes: dict[str, object], names: list[str]) -> None:
    with pytest.raises(bl.BuildError) as caught:
        bl.demo_build("workhorse").replace(changes)
    assert [fault.split(":")[0] for fault in caught.value.faults] == names


def test_every_rule_between_parts_can_be_broken() -> None:
    broken = {
        "chamber.stroke": {"chamber.stroke": "111 mm", "spring.preload": "0 mm"},
        "chamber.port_diameter": {"chamber.port_diameter": "36 mm"},
        "dart.diameter": {"dart.diameter": "15.5 mm"},
        "barrel.bore": {"barrel.bore": "26 mm"},
        "dart.mass": {"dart.mass": "0.1 g", "barrel.bore": "50 mm", "dart.diameter": "50 mm"},
        "chamber.dead_volume": {"chamber.dead_volume": "0.01 cm^3", "chamber.bore": "50 mm"},
        "barrel.dead_volume": {
            "barrel.dead_volume": "0.01 cm^3",
            "barrel.bore": "50 mm",
            "dart.diameter": "50 mm",
        },
        "losses.blowby_area": {"losses.blowby_area": "200 mm^2"},
        "spring0.free_length": {"spring.preload": "70 mm"},
    }
    build = bl.demo_build("workhorse")
    for rule in RULES[: len(broken)]:
        with pytest.raises(
            bl.BuildError,
            match=rf"{rule.field.replace('0', '')}: got [\d.]+ \w+; must be (at most|at least) \d",
        ):
            build.replace(broken[rule.field])


def test_replace_makes_a_new_build_and_checks_it() -> None:
    build = bl.demo_build("two_springs")
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


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
def test_a_kill_in_the_middle_of_saving_leaves_a_whole_file(tmp_path: Path) -> None:
    path = tmp_path / "b.toml"
    bl.demo_build("workhorse").save(path)
    code = (
        "import blasterlab as bl, itertools\n"
        "builds = [bl.demo_build('workhorse'), bl.demo_build('two_springs')]\n"
        "print('ready', flush=True)\n"
        f"for n in itertools.count():\n    builds[n % 2].save({str(path)!r})\n"
    )
    worker = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True)
    assert worker.stdout is not None
    assert worker.stdout.readline().strip() == "ready"
    time.sleep(0.3)
    worker.kill()
    worker.wait()
    assert bl.Build.load(path) in (bl.demo_build("workhorse"), bl.demo_build("two_springs"))


def test_an_unknown_demo_build_names_the_known() -> None:
    with pytest.raises(bl.BuildError, match="workhorse"):
        bl.demo_build("../../etc/passwd")


def test_the_volume_ratio_is_swept_over_barrel() -> None:
    build = bl.demo_build("workhorse")
    assert build.volume_ratio == pytest.approx((35**2 * 90) / (12.9**2 * 400), rel=1e-12)


LEARNED = LossUncertainty(
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
