"""No line of a chronograph text is lost: each is a shot, a comment, the header, or listed with its reason."""

from __future__ import annotations

import re

import pytest
from attacks import unaccounted
from hypothesis import example, given
from hypothesis import strategies as some

from blasterlab.bench.cells import SPEED_UNITS, StringError
from blasterlab.bench.reading import read_text
from blasterlab.bench.strings import ChronoString

CELLS = some.sampled_from(
    ["60.1", "60,4", "61", "1", "2", "3", "0", "-5", "1e3", "61.4 m/s cold", "60 fps", "m/s", "shot", "speed",
     "speed (fps)", "v [m/s]", "Average:", "SD", "Err", "warm", "", " ", '"a;b"', '"', "#", "# note", "//x",
     "# title: t", "# unit: m/s", "Shot 4: 60", "#7", "\u200b", "Hi:", "=1+1", "x" * 60]
)  # fmt: skip
LINES = some.tuples(some.lists(CELLS, min_size=1, max_size=4), some.sampled_from(",;\t ")).map(
    lambda pair: pair[1].join(pair[0])
)
ENDS = some.sampled_from(["\n", "\r\n", "\r", "\f", "\v", "\x1c", "\x85", "\u2028", "\u2029"])
TEXTS = some.lists(some.tuples(LINES, ENDS), max_size=9).map(lambda rows: "".join(a + b for a, b in rows))


@given(text=TEXTS | some.text(max_size=300), column=some.sampled_from([None, None, 1, 2, 3, "speed"]),
       decimal=some.sampled_from([None, None, ".", ","]))  # fmt: skip
@example(text="1,60.1\n2,60.4\n,,\n3,60.9", column=None, decimal=None)
@example(text="61.4 m/s cold,\n60.2,\n61.0,\n60.7,", column=None, decimal=None)
@example(text="61.4 m/s cold;\n60.2;\n61.0;\n60.7;", column=None, decimal=None)
@example(text="shot,speed\n1,60,3\n2,61", column=3, decimal=None)
@example(text="# a\f60.1\u202860.4\x8560.9", column=None, decimal=None)
def test_every_line_is_read_or_reported(text: str, column: str | int | None, decimal: str | None) -> None:
    try:
        reading = read_text(text, decimal, column)
    except StringError as refused:
        assert len(str(refused)) > 10  # noqa: PT017
        return
    assert unaccounted(text, reading) == []
    assert len(reading.values) == len(reading.numbers) == len(reading.lines)


def test_the_account_notices_a_lost_line() -> None:
    reading = read_text("60.1\n60.4\n60.9")
    reading.lines.remove(2)
    assert unaccounted("60.1\n60.4\n60.9", reading) == [2]
    reading = read_text("# warm\n60.1\n60.4")
    reading.comments.clear()
    assert unaccounted("# warm\n60.1\n60.4", reading) == [1]


def test_a_row_of_separators_is_listed() -> None:
    string = ChronoString.from_text("1,60.1\n2,60.4\n,,\n3,60.9", unit="m/s")
    assert string.readings == (60.1, 60.4, 60.9)
    assert [str(line) for line in string.unread] == ["line 3: ',,': no number in it"]


def test_a_column_beyond_rows_and_header_is_listed() -> None:
    text = "shot,speed\n1,60,63.1\n2,61,63.4\n3,62,63.2\n4,62"
    reading = read_text(text, column=3)
    assert reading.values == [63.1, 63.4, 63.2]
    assert [line.number for line in reading.unread] == [5]
    string = ChronoString.from_text("1,60,63.1\n2,61,63.4\n3,62,63.2\n4,62", unit="m/s", column=3)
    assert string.readings == (63.1, 63.4, 63.2)
    assert [line.reason for line in string.unread] == ["2 value(s) where 3 columns are expected"]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_remark_behind_the_first_shot_hides_no_line(mark: str) -> None:
    text = f"61.4 m/s cold{mark}\n60.2{mark}\n61.0{mark}\n60.7{mark}"
    string = ChronoString.from_text(text)
    assert string.readings == (61.4, 60.2, 61.0, 60.7)
    assert [line.number for line in string.unread] == [1]
    text = f"61.4 m/s cold{mark}1\n60.2 m/s{mark}2\n61.0 m/s{mark}3\n60.7 m/s{mark}4\nspeed{mark}shot"
    reading = read_text(text, column=1)
    assert (reading.values, [line.number for line in reading.unread]) == ([60.2, 61.0, 60.7], [1, 5])


@pytest.mark.parametrize(
    "line",
    ["Average: 61.2 m/s", "avg 61.2", "Mean = 61.2 m/s", "SD: 60.5 m/s", "Hi: 62.0 Lo: 60.1", "max 62.0",
     "Std. 60.6", "61.2 m/s average", "mean velocity 61.2"],
)  # fmt: skip
def test_a_line_that_sums_up_is_no_shot(line: str) -> None:
    string = ChronoString.from_text(f"60.1 m/s\n60.4 m/s\n60.9 m/s\n{line}")
    assert string.readings == (60.1, 60.4, 60.9)
    assert [(told.number, told.text) for told in string.unread] == [(4, line)]
    assert re.search("summary of shots|not be a shot", string.unread[0].reason)


def test_a_line_that_sums_up_is_no_shot_in_a_table_either() -> None:
    string = ChronoString.from_text("speed [m/s];remark\n60.1;\n60.4;\n60.9;\n60.5;Average")
    assert string.readings == (60.1, 60.4, 60.9)
    assert "is a summary of shots, not a shot" in string.unread[0].reason
    string = ChronoString.from_text("shot;speed [m/s]\n1;60.1\n2;60.4\n3;60.9\nAverage;60.5")
    assert string.readings == (60.1, 60.4, 60.9)


@pytest.mark.parametrize("line", ["Shot 4 60.2", "speed: 60.2", "v0 = 60.2 m/s", "No. 4 60.2"])
def test_a_word_that_introduces_a_shot_hides_none(line: str) -> None:
    line = line.replace("=", " ").replace("  ", " ")
    lines = [line.replace("4", str(n)).replace("60.2", f"60.{n}") for n in (1, 2, 3)]
    string = ChronoString.from_text("\n".join(lines), unit="m/s")
    assert string.readings == (60.1, 60.2, 60.3)
    assert string.unread == ()


@pytest.mark.parametrize("end", ["\f", "\v", "\x1c", "\x1d", "\x1e", "\x85", "\u2028", "\u2029"])
def test_every_kind_of_line_end_ends_a_comment(end: str) -> None:
    string = ChronoString.from_text(f"# cold{end}60.1{end}60.4{end}60.9", unit="m/s")
    assert string.readings == (60.1, 60.4, 60.9)
    assert string.comments == ("cold",)


def test_a_long_comment_is_kept_whole() -> None:
    words = " ".join(f"word{n}" for n in range(400))
    string = ChronoString.from_text(f"# {words}\n60.1 # {words}\n60.4\n60.9", unit="m/s")
    said = " ".join(string.comments)
    assert all(said.split().count(word) == 2 for word in words.split())
    assert max(len(comment) for comment in string.comments) <= 500
    assert ChronoString.from_text(string.to_csv()) == string


def test_very_long_fields_are_listed_or_refused_in_words() -> None:
    long = "x" * 200_000
    string = ChronoString.from_text(f'1;60.1\n2;60.4\n3;60.9\n4;"{long}"', unit="m/s")
    assert [(line.number, len(line.text)) for line in string.unread] == [(4, 80)]
    with pytest.raises(StringError, match=r"title \(line 1\): got 200001 characters"):
        ChronoString.from_text(f'"# title: {long}"\n60.1\n60.4\n60.9', unit="m/s")
    assert ChronoString.from_text(f'"# {long}"\n60.1\n60.4\n60.9', unit="m/s").count == 3


def test_a_long_heading_is_quoted_in_part() -> None:
    long = "x" * 10_000
    with pytest.raises(StringError, match="column") as refused:
        ChronoString.from_text(f"speed 1 {long},speed 2 {long}\n60.1,60.2\n60.4,60.5", unit="m/s")
    assert len(str(refused.value)) < 300


def test_a_quoted_comment_hides_no_shot() -> None:
    reading = read_text('"# warm",60.1\n"# cold",60.4\nx,60.9', column=2)
    assert reading.values == [60.1, 60.4, 60.9]


#: By definition: a foot is 0.3048 m, a mile 1609.344 m, an hour 3600 s.
EXACT = {
    "m/s": (
        ["m/s", "mps", "ms-1", "m.s-1", "m/sec"] + ["m s-1", "metres per second", "meters per second"],
        1.0,
    ),
    "ft/s": (["ft/s", "fps", "f/s", "ft/sec", "feet/s", "feet per second"], 0.3048),
    "km/h": (["km/h", "kph", "kmh"], 1000.0 / 3600.0),
    "mph": (["mph", "mi/h"], 1609.344 / 3600.0),
}


def test_every_unit_word_is_its_unit() -> None:
    assert {word for words, _ in EXACT.values() for word in words} == set(SPEED_UNITS)
    for unit, (words, factor) in EXACT.items():
        for word in words:
            for text in (f"100 {word}\n101 {word.upper()}\n102{word}", f"speed ({word})\n100\n101\n102"):
                string = ChronoString.from_text(text)
                assert string.unit == unit
                assert string.speeds_si == pytest.approx(
                    [100 * factor, 101 * factor, 102 * factor], rel=1e-12
                )
            assert ChronoString.from_readings([100, 101, 102], unit=word).unit == unit
