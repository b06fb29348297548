"""A build in a forum post: few lines, and found again whatever the forum does to them."""

from __future__ import annotations

import contextlib
import re
import textwrap
import time
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_builds import SHORT

import blasterlab as bl
from blasterlab import units
from blasterlab.pasted import build_text_in

BUILD = bl.demo_build("workhorse")
BUILDS = [*map(bl.demo_build, bl.demo_builds()), bl.Build.from_text(SHORT)]


def wrapped(post: str) -> str:
    return "\n".join("\n".join(textwrap.wrap(line, 72)) for line in post.splitlines())


def in_code(post: str) -> str:
    first, *rest = [line for line in post.splitlines() if not line.startswith("```")]
    return "\n".join(["[b]My build[/b]", first, "[code]" + rest[0], *rest[1:-1], rest[-1] + "[/code]"])


FORUMS: dict[str, Callable[[str], str]] = {
    "as written": str,
    "other line ends": lambda post: post.replace("\n", "\r\n"),
    "quoted": lambda post: "\n".join(f"> > {line}" for line in post.splitlines()),
    "between greetings": lambda post: (
        f"Hi all,\n\nthis is mine; what do you think?\n\n{post}\n\nGreetings\n-- \nme"
    ),
    "without its fence": lambda post: "\n".join(line for line in post.splitlines() if "```" not in line),
    "curly quotes": lambda post: re.sub(r'"([^"\n]*)"', "“\\1”", post),
    "hard spaces": lambda post: post.replace(" = ", "\xa0= "),
    "wrapped": wrapped,
    "wrapped and quoted": lambda post: "\n".join(f"> {line}" for line in wrapped(post).splitlines()),
    "in a code tag": in_code,
    "indented": lambda post: textwrap.indent(post, "    "),
    "a named fence": lambda post: post.replace("```", "```toml", 1),
    "blank lines between": lambda post: post.replace("\n", "\n\n"),
}


@pytest.mark.parametrize("forum", FORUMS)
@pytest.mark.parametrize("build", BUILDS, ids=lambda build: build.title)
def test_found_again_whatever_a_forum_does(build: bl.Build, forum: str) -> None:
    again = bl.Build.from_text(FORUMS[forum](build.to_post()))
    assert again == build
    assert again.to_text() == build.to_text()


def test_few_lines_and_the_answer_first() -> None:
    first, *rest = BUILD.to_post().rstrip("\n").split("\n")
    guess = bl.predict(BUILD)
    ends = [units.show(end, "speed", 3) for end in (guess.mean_low, guess.mean_high)]
    assert f"{units.show(guess.speed, 'speed')}, {ends[0]} to {ends[1]} (90 %)" in first
    assert "before any chronograph" in first
    assert "Eye protection" in first
    assert rest[0] == rest[-1] == "```"
    names = [line.partition(" = ")[0] for line in rest[1:-1]]
    assert names == ["title", "note", "spring", "chamber", "barrel", "dart", "losses"]
    assert not any(line.startswith((" ", "[", "#", ">")) for line in rest)
    stuck = BUILD.replace({"losses.dart_breakaway": "400 N"}).to_post()
    assert "never leaves" in stuck.partition("\n")[0]


def test_values_that_differ_from_the_defaults_are_written() -> None:
    build = BUILD.replace({"air.temperature": "5 degC", "fit.ring": "29 x 3.5 mm", "losses.air_ahead": False})
    post = build.to_post()
    for words in ("5 degC", "29 x 3.5 mm", "air_ahead = false"):
        assert words in post
        assert words not in BUILD.to_post()
    assert bl.Build.from_text(post) == build


def test_a_calibrated_build() -> None:
    build = bl.calibrate([(BUILD, bl.demo_string("workhorse_wire_15"))]).build(BUILD)
    assert build.calibration is not None
    assert "after your strings" in build.to_post()
    for forum in FORUMS.values():
        assert bl.Build.from_text(forum(build.to_post())) == build


@given(st.text(max_size=60), st.text(max_size=60), st.floats(0.1, 0.6))
def test_any_words_survive(title: str, note: str, length: float) -> None:
    build = BUILD.replace({"barrel.length": f"{length!r} m"})
    for name, words in (("title", title), ("note", note)):
        with contextlib.suppress(bl.BuildError):  # control characters
            build = build.replace({name: words})
    assert bl.Build.from_text(build.to_post()) == build
    assert bl.Build.from_text(f"Look:\n{build.to_post()}\nNice, is it not?") == build


@pytest.mark.parametrize(
    "slip",
    [
        'lenght = "25 cm"',
        'length "25 cm"',
        "dart_friction 3 N",
        "length =",
        "[barel]",
        "barrel { bore = 3 }",
        "relative humidity 0.5",
    ],
)
def test_a_slip_is_told_and_not_left_out(slip: str) -> None:
    lines = BUILD.to_text().rstrip("\n").split("\n")
    for place in (6, len(lines)):
        text = "\n".join([*lines[:place], slip, *lines[place:]])
        for whole in (text, f"Hi all\n\n{text}"):
            with pytest.raises(bl.BuildError):
                bl.Build.from_text(whole)


def test_a_message_counts_the_lines_of_the_post() -> None:
    post = "Hi all,\nmine:\n\n" + BUILD.to_text().replace('bore = "35 mm"', "bore = 35 mm")
    line = 1 + post.split("\n").index("bore = 35 mm")
    with pytest.raises(bl.BuildError, match=rf"at line {line}, column \d+\): 'bore = 35 mm' \("):
        bl.Build.from_text(post)


@pytest.mark.parametrize("line", ['bore = "35 mm', "bore = 35 mm", "bore 35 mm"])
def test_a_message_shows_the_line_as_it_was_typed(line: str) -> None:
    for text in (BUILD.to_text(), "> " + BUILD.to_text().replace("\n", "\n> ")):
        with pytest.raises(bl.BuildError) as refused:
            bl.Build.from_text(text.replace('bore = "35 mm"', line))
        assert line in str(refused.value)


def test_no_build_in_it() -> None:
    assert build_text_in("Hello there.\nNice build!") == ""
    with pytest.raises(bl.BuildError, match="not readable as build text"):
        bl.Build.from_text("Hello there.\nNice build!")


def test_an_endless_text_is_read_in_time() -> None:
    start = time.process_time()
    for text in ("spring = { a\n" + "b\n" * 30_000, 'note = "x\n' + "[\n" * 30_000, "a = [" + "> " * 30_000):
        with pytest.raises(bl.BuildError):
            bl.Build.from_text(text)
    assert time.process_time() - start < 5.0
