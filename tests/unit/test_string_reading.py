"""Reading of chronograph strings: every way a builder writes them, and every way it goes wrong."""

from __future__ import annotations

import csv
import io
import os
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from blasterlab import figures, units
from blasterlab.air import Air
from blasterlab.bench.cells import MAX_TEXT, StringError, plain
from blasterlab.bench.reading import read_text
from blasterlab.bench.strings import ChronoString

read = ChronoString.read
SHOTS = (250.0, 252.0, 249.0, 251.0)

LAYOUTS = {
    "one a line": "250\n252\n249\n251\n",
    "blank lines": "\n250\n\n252\n   \n249\n251",
    "old line ends": "250\r252\r249\r251",
    "commas in one line": "250, 252, 249, 251",
    "spaces in one line": "250 252 249 251",
    "a block": "250 252\n249 251",
    "shot numbers": "1,250\n2,252\n3,249\n4,251",
    "shot numbers from zero": "0;250\n1;252\n2;249\n3;251",
    "tabs": "1\t250\n2\t252\n3\t249\n4\t251",
    "header": "shot,speed\n1,250\n2,252\n3,249\n4,251",
    "other order": "velocity;note;no.\n250;;1\n252;;2\n249;good;3\n251;;4",
    "written out": "Shot 1: 250\nShot 2: 252\n3) 249\n4. 251",
    "hash numbers": "#;speed\n1;250\n2;252\n3;249\n4;251",
    "trailing separator": "250,\n252,\n249,\n251,",
    "comments": "# the morning\n250 # warm\n252\n// afternoon\n249\n251",
    "no-break spaces": "1\u00a0250\n2\u00a0252\n3\u00a0249\n4\u00a0251",
    "decimal point": "250.0\n252.\n249.00\n2.51e2",
}


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
def test_layouts(text: str) -> None:
    string = read(text, unit="ft/s")
    assert string.readings == SHOTS
    assert string.unread == ()


@pytest.mark.parametrize(
    "text",
    [
        "speed (fps)\n250\n252\n249\n251",
        "Muzzle velocity [ft/s]\n250\n252\n249\n251",
        "shot speed (fps)\n1 250\n2 252\n3 249\n4 251",
        "shot;v\n;fps\n1;250\n2;252\n3;249\n4;251",
        "FPS\n250\n252\n249\n251",
        "250 fps\n252 fps\n249 ft/s\n251 feet per second",
        "# unit: ft/s\n250\n252\n249\n251",
    ],
)
def test_units_are_read_where_they_stand(text: str) -> None:
    string = read(text)
    assert (string.unit, string.readings) == ("ft/s", SHOTS)
    assert string.mean.m_as("m/s") == pytest.approx(250.5 * 0.3048, rel=1e-15)


def test_decimal_commas() -> None:
    expected = (40.2, 39.8, 40.5)
    assert read("shot;speed [m/s]\n1;40,2\n2;39,8\n3;40,5").readings == expected
    assert read("1\t40,2\n2\t39,8\n3\t40,5", unit="m/s").readings == expected
    assert read("40,2\n39,8\n40,5", unit="m/s", decimal=",").readings == expected
    assert read("40,2\n39,8\n40,5", unit="m/s", decimal=",", title="x").title == "x"
    with pytest.raises(StringError, match=r"'40,2' could be two speeds or one with a decimal comma.*decimal"):
        read("40,2\n39,8\n40,5", unit="m/s")
    with pytest.raises(StringError, match="both '40,2' with a comma and numbers with a point"):
        read("speed [m/s];x\n40,2;1\n39.8;2\n40,5;3")
    with pytest.raises(StringError, match="decimal: got ';'"):
        read("40,2\n39,8", decimal=";")
    string = read("speed [m/s];x\n40,2;1\n39.8;2\n40,5;3\n40,7;4", decimal=",")
    assert [line.reason for line in string.unread] == ["'39.8' has the other decimal mark"]


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings_and_byte_order_marks(codec: str, tmp_path: Path) -> None:
    text = "# title: Prüfstand\nspeed [m/s]\n40\n41\n39"
    path = tmp_path / "string.csv"
    path.write_bytes(text.encode(codec))
    for string in (read(path), read(str(path)), read(path.read_bytes())):
        assert (string.title, string.readings) == ("Prüfstand", (40.0, 41.0, 39.0))
        assert any("Windows-1252" in note for note in string.notes) == (codec == "cp1252")
    assert read("\ufeff" + text).title == "Prüfstand"


def test_every_line_that_gave_no_shot_is_listed() -> None:
    text = (
        "from the range\nshot,speed (fps),note\n1,250,\n2,Err,\n3,,low light\n4,252\n4,252\nx,249,\n"
        "5,249,a,b,c\n6,251\n7\n8,1e999\n"
    )
    string = read(text)
    assert string.readings == (250.0, 252.0, 251.0)
    assert string.numbers == (1, 4, 6)
    found = {line.number: line.reason for line in string.unread}
    assert found == {
        1: "no number in it",
        4: "'Err' is not a number",
        5: "the speed is empty",
        7: "the same shot and speed as line 6, counted once",
        8: "the shot number is not a whole number",
        9: "5 values where 3 columns are expected",
        11: "1 value(s) where 3 columns are expected",
        12: "'1e999' is not a number",
    }
    assert string.notes == ("columns not used: 'note'",)
    assert str(string.unread[1]) == "line 4: '2,Err,': 'Err' is not a number"
    assert "8 lines not read: line 1: " in str(string.summary())


def test_a_commented_speed_is_noted() -> None:
    string = read("# 280 a misread\n250\n252\n249", unit="ft/s")
    assert string.count == 3
    assert string.notes == ("line 1 starts with # and was left out: '280 a misread'",)
    assert string.comments == ("280 a misread",)


def test_words_between_numbers_do_not_hide_them() -> None:
    string = read("250\n252\nErr, low light\n249\n251 good", unit="ft/s")
    assert string.readings == SHOTS
    assert [line.number for line in string.unread] == [3, 5]
    assert "its numbers were taken" in string.unread[1].reason


def test_fields_in_the_text_and_beside_it() -> None:
    text = (
        "# title: Morning\n# dart: foam A\n# date: 2024-05-01\n# temperature: 68 degF\n# distance: 3 ft\n"
        "# dart mass: 1 g\n# dart diameter: 0.5 in\n# drag coefficient: 0.7\n# build: demo\n"
        "# note: still air\n# title: a second one\nspeed [m/s]\n40\n41\n39\n"
    )
    string = read(text, title="Evening")
    assert (string.title, string.dart, string.build) == ("Evening", "foam A", "demo")
    assert (string.date, string.note) == ("2024-05-01", "still air")
    assert string.temperature.m_as("degC") == pytest.approx(20.0)
    assert string.distance.m_as("m") == pytest.approx(0.9144)
    assert string.comments == ("title: a second one",)
    assert read(text, temperature="10 degC").temperature.m_as("degC") == pytest.approx(10.0)
    assert read(text, dart="foam B").dart == "foam B"
    assert read(text, build="other").build == "other"
    with pytest.raises(StringError, match=r"fields: \['colour'\] are not known"):
        read(text, colour="red")
    with pytest.raises(units.UnitError, match=r"distance: got '3', which has no unit"):
        read(text, distance="3")
    with pytest.raises(units.UnitError, match=r"temperature: .*must be"):
        read(text, temperature="200 degC")


# k = ρ C_d A/(2m) = 0.0533816 1/m and v(5 m) = 30.62974 m/s from 40 m/s: McCoy, Modern Exterior Ballistics,
# 2nd ed., 2012, section 5.3, calculated for 1.0 g, 12.7 mm, C_d 0.70 and 1.204 kg/m^3.
def test_a_speed_at_a_distance_is_carried_back() -> None:
    string = read(
        [30.62974, 30.62974 + 1e-9, 30.62974 - 1e-9],
        unit="m/s",
        distance="5 m",
        dart_mass="1 g",
        dart_diameter="12.7 mm",
        drag_coefficient=0.7,
        air_density="1.204 kg/m^3",
    )
    assert string.drag_constant == pytest.approx(0.0533816, rel=1e-6)
    assert string.mean.m_as("m/s") == pytest.approx(40.0, abs=2e-5)
    assert string.at_muzzle
    assert "carried back 5 m to the muzzle" in str(string.summary())
    far = read([30.0, 31.0, 32.0], unit="m/s", distance="5 m")
    assert not far.at_muzzle
    assert far.mean.m_as("m/s") == 31.0
    assert "these are the speeds 5 m from the muzzle" in str(far.summary())
    assert read([30.0, 31.0, 32.0], unit="m/s", distance="0 m").at_muzzle
    with pytest.raises(StringError, match="too much to carry back"):
        read(
            [30, 31, 32],
            unit="m/s",
            distance="20 m",
            dart_mass="0.1 g",
            dart_diameter="12.7 mm",
            drag_coefficient=0.7,
        )


def test_dart_and_build_parts_give_the_drag() -> None:
    q = units.quantity
    dart = SimpleNamespace(mass=q(1.0, "g"), diameter=q(12.7, "mm"), drag_coefficient=0.7)
    build = SimpleNamespace(title="demo", dart=dart, air=Air(temperature="0 degC"))
    string = read([30.0, 31.0, 32.0], unit="m/s", distance="2 m", dart=dart)
    warm = Air().density.m_as("kg/m^3")
    expected = warm * 0.7 * np.pi * 0.0127**2 / 4 / 0.002
    assert string.drag_constant == pytest.approx(expected, rel=1e-12)
    assert (string.of_dart(dart, build.air).drag_constant or 0) > (string.drag_constant or 0)
    cold = read([30.0, 31.0, 32.0], unit="m/s", distance="2 m", build=build)
    assert cold.build == "demo"
    assert cold.air_density == build.air.density
    known = read([30.0, 31.0, 32.0], unit="m/s", temperature="20 degC", build=build)
    assert known.drag_constant == pytest.approx(expected, rel=1e-12)


def test_lists() -> None:
    assert read([250, 252, 249, 251], unit="fps").readings == SHOTS
    assert read(np.array(SHOTS), unit="ft/s").readings == SHOTS
    assert read(("250 fps", "252 fps", "249 fps", "251 fps")).readings == SHOTS
    assert read(["250", "252", "249", "251"], unit="ft/s").readings == SHOTS
    quantities = [units.quantity(value, "ft/s") for value in SHOTS]
    assert read(quantities).unit == "ft/s"
    array = read(units.quantity(np.array(SHOTS), "ft/s"))
    assert (array.unit, array.readings) == ("ft/s", SHOTS)
    assert read([units.quantity(value, "knot") for value in (60.0, 61.0, 62.0)]).unit == "m/s"


@pytest.mark.parametrize(
    ("source", "words"),
    [
        ([40, 41], "shots: got 2; a string has 3 to 5000"),
        ([], "shots: got 0"),
        ("", "shots: got 0"),
        ("some\nwords", "not read: line 1: 'some': no number in it; line 2"),
        ([40, 40, 40], "all 3 read 40 m/s; a spread of zero says nothing"),
        ([0, 40, 41], r"shot 1 0 m/s; must be 1 to 300 m/s"),
        ([10000, 10001, 10002], r"shot 1 10000, shot 2 10001, shot 3 10002 m/s; must be"),
        ([-40, 41, 42], r"shot 1 -40 m/s; must be"),
        (list(range(1000, 1010)), "…"),
        ([40, float("nan"), 42], "item 2: got nan; must be a finite number"),
        ([40, None, 42], "item 2: got 'None'; must be a number"),
        ([40, True, 42], "item 2: got 'True'"),
        (
            [units.quantity(40.0, "m/s"), units.quantity(130.0, "ft/s"), 1],
            "mixed units, m/s .* ft/s .* no unit",
        ),
        ("40 m/s\n131 ft/s\n40", r"mixed units, m/s \(line 1\) and ft/s \(line 2\)"),
        ("speed [m/s]\n131 fps\n132\n133", r"mixed units, m/s \(header\) and ft/s \(line 2\)"),
        ("speed m/s or ft/s\n131\n132\n133", "names two units"),
        ("# unit: ft/s\nspeed [m/s]\n40\n41\n42", "unit: the text says 'ft/s' and m/s"),
        ("# unit: furlong\n40\n41\n42", "unit: the text says 'furlong'"),
        ("40 ft/s\n41 ft/s\n42 ft/s", "unit: m/s was asked for, but the text says ft/s"),
        ("shot;v\n1;40\n1;41\n2;42", r"line 3: shot 1 has 41, but line 2 gives it 40"),
        ("v1 speed;v2 speed\n40;41\n41;42\n42;43", "more than one column of speeds"),
        ("shot;mass\n1;41\n2;42\n3;43", "no column that says speed in 'shot', 'mass'"),
        ("1;2;40\n2;3;41\n3;4;42", "which of its columns holds the speeds"),
        (40.0, "source: got float"),
        ({1: 40}, "source: got dict"),
        (list(range(10_000)), "source: got 10000 items"),
        ("\n".join(["40"] * 6000), "6000 lines; at most 5000"),
        ("x" * (MAX_TEXT + 1), "1000001 characters; at most 1000000"),
        ("PK\x03\x04" + "x" * 400, "a spreadsheet or another zip file, not text"),
        ("a\x00b\n" * 200, "binary data, not text"),
        ("�" * 400, "binary data"),
        (b"PK\x03\x04rest", "a spreadsheet or another zip file"),
        (b"\xd0\xcf\x11\xe0rest", "an old spreadsheet"),
        (b"%PDF-1.4", "a PDF"),
        (b"40\x0041", "zero bytes"),
        (b"\xff\xfe4\x00\n\xd8", "starts as utf-16-le but breaks off"),
        ("no-such-file.csv", "'no-such-file.csv' is not a file"),
        (Path("/no/such/file"), "is not a file"),
        (Path("/dev/null"), "is not a file"),
        ("# title: " + "x" * 600 + "\n40\n41\n42", r"title \(line 1\): got 601 characters"),
    ],
)
def test_bad_sources(source: object, words: str) -> None:
    with pytest.raises(StringError, match=words):
        read(source, unit="m/s")


def test_large_files_are_refused_before_they_are_read(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    path.touch()
    os.truncate(path, 50_000_000)  # sparse: 50 MB that take no room
    with pytest.raises(StringError, match="more than 1 MB"):
        read(path)
    with pytest.raises(StringError, match="50000000 characters"):
        read("4" * 50_000_000)


def test_a_unit_is_asked_for_unless_only_one_is_plausible() -> None:
    for text in ("80\n81\n82", "12\n13\n14", "150\n151\n152"):
        with pytest.raises(
            StringError, match=r"^unit: no unit was given, and .* could be ft/s or m/s; say unit="
        ):
            read(text)
    string = read("250\n252\n249")
    assert string.unit == "ft/s"
    assert "taken as ft/s" in string.notes[0]
    with pytest.raises(StringError, match="must be 1 to 300 m/s"):
        read("10000\n10001\n10002")
    with pytest.raises(StringError, match="unit: got 'furlong'"):
        read("250\n252\n249", unit="furlong")


def test_columns_by_name_and_place() -> None:
    text = "near speed;far speed\n40;38\n41;39\n42;40"
    assert read(text, unit="m/s", column="far speed").readings == (38.0, 39.0, 40.0)
    assert read(text, unit="m/s", column=1).readings == (40.0, 41.0, 42.0)
    for column in ("middle", 3, 0):
        with pytest.raises(StringError, match="column: got"):
            read(text, unit="m/s", column=column)
    assert read("40,2\n41,3\n42,4", unit="m/s", column=1, decimal=".").readings == (40.0, 41.0, 42.0)


def test_constructor_checks() -> None:
    with pytest.raises(StringError, match="unit: got 'kn'"):
        ChronoString((40.0, 41.0, 42.0), "kn")
    with pytest.raises(StringError, match="2 different shot numbers for 3 shots"):
        ChronoString((40.0, 41.0, 42.0), "m/s", numbers=(1, 1, 2))
    with pytest.raises(StringError, match="title: got int"):
        ChronoString((40.0, 41.0, 42.0), "m/s", title=3)  # type: ignore[arg-type]
    with pytest.raises(units.UnitError, match="drag_coefficient"):
        ChronoString((40.0, 41.0, 42.0), "m/s", drag_coefficient=50.0)
    with pytest.raises(StringError, match="note: got 501 characters"):
        plain("x" * 501, "note")


def test_leaving_shots_out_is_said() -> None:
    string = read([40, 41, 42, 60], unit="m/s").without(4)
    assert string.numbers == (1, 2, 3)
    assert string.comments == ("shots left out by hand: 4",)
    with pytest.raises(StringError, match="no number"):
        string.without(4)
    with pytest.raises(StringError, match="shots: got 2"):
        string.without(1)


HOSTILE = [
    '=cmd|"/c calc"!A1',
    "+1+1",
    "-2",
    "@SUM(A1)",
    "\t=1",
    "<script>alert(1)</script>",
    'a,"=b",c;=d',
    "# x",
    r"$\frac{x$ \\",
    "\u202eabc\u200b",
    "\u2028=1+1",
]


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_words(text: str, tmp_path: Path) -> None:
    string = ChronoString((40.0, 41.0, 42.0), "m/s", title=text, note=text, dart=text, comments=(text,))
    assert "<script" not in string._repr_html_()
    assert "<script" not in string.cap_risk("45 m/s", 5)._repr_html_()
    assert "<script" not in string.compare(string.without())._repr_html_()
    assert not set(str(string) + string._repr_html_()) & set("\u202e\u200b\u2028")
    assert figures.string_chart(string.summary(), "45 m/s").caption.startswith("3 shots: ")
    path = tmp_path / "out.csv"
    string.save(path)
    for delimiter in ",;\t":
        for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8")), delimiter=delimiter):
            for cell in row:
                assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")), row
    assert read(path) == string


WORDS = some.text(max_size=40)


@given(
    readings=some.lists(some.floats(4.0, 290.0), min_size=3, max_size=20).filter(lambda v: len(set(v)) > 1),
    unit=some.sampled_from(["m/s", "ft/s", "km/h"]),
    title=WORDS,
    note=WORDS,
    comment=WORDS,
    distance=some.none() | some.floats(0.0, 3.0),
)
def test_export_and_reading_back_is_exact(
    readings: list[float], unit: str, title: str, note: str, comment: str, distance: float | None
) -> None:
    string = ChronoString(
        tuple(readings),
        unit,
        tuple(range(3, 3 + len(readings))),
        title=title,
        note=note,
        comments=(comment,) if plain(comment, "comment") else (),
        distance=None if distance is None else units.quantity(distance, "ft"),
        temperature="71.3 degF",
        dart_mass="1/3 g",
        dart_diameter="1/2 in",
        drag_coefficient=0.1 + 0.2,
        air_density="1.2041 kg/m^3",
    )
    again = read(string.to_csv())
    assert again == string
    assert again.unread == ()
    assert again.speeds_si == string.speeds_si


@given(some.text(max_size=300) | some.text(alphabet="0123456789.,;\t \n#/-ems=\"'", max_size=200))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        string = read("header\n" + text, unit="m/s")
    except ValueError as error:
        assert len(str(error)) > 10  # noqa: PT017
        return
    assert string.count >= 3
    assert all(1.0 <= v <= 300.0 for v in string.speeds_si)
    lines = read_text("header\n" + text)
    assert len(lines.values) == string.count


def test_a_failed_save_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "kept.csv"
    string = read([40, 41, 42], unit="m/s")
    string.save(path)
    before = path.read_text(encoding="utf-8")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        read([50, 51, 52], unit="m/s").save(path)
    assert path.read_text(encoding="utf-8") == before
    assert [p.name for p in tmp_path.iterdir()] == ["kept.csv"]


def test_each_door_takes_what_its_name_says(tmp_path: Path) -> None:
    text = "speed [m/s]\n40\n41\n39"
    path = tmp_path / "shots"  # no ending: only `load` takes it for a file
    path.write_text(text, encoding="utf-8")
    expected = ChronoString.from_text(text)
    assert ChronoString.load(path) == ChronoString.load(str(path)) == expected
    assert ChronoString.from_text(text.encode()) == expected
    assert ChronoString.from_readings([40, 41, 39], unit="m/s") == expected
    assert read(path) == read(text) == read([40, 41, 39], unit="m/s") == expected
    assert type(read(path)) is ChronoString
    with pytest.raises(StringError, match="shots: got 0"):
        read(str(path))  # one line without a file's ending is text
    with pytest.raises(StringError, match="is not a file that can be read"):
        ChronoString.load("250\n252\n249")
    with pytest.raises(StringError, match="is not a file"):
        ChronoString.load("x" * 5000)
    with pytest.raises(StringError, match="is not a file"):
        ChronoString.load("a\0b")


def test_a_save_keeps_a_link_and_the_umask(tmp_path: Path) -> None:
    string = read([40, 41, 42], unit="m/s")
    real, link = tmp_path / "real.csv", tmp_path / "link.csv"
    link.symlink_to(real)
    old = os.umask(0o027)
    try:
        string.save(link)
    finally:
        os.umask(old)
    assert link.is_symlink()
    assert real.stat().st_mode & 0o777 == 0o640
    assert ChronoString.load(real) == string
