"""Where numbers come from: each table says its source and how certain it is, and names no firm."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from blasterlab import tables

ROOT = Path(__file__).resolve().parents[2]
FILES = sorted([*(ROOT / "data").rglob("*.csv"), *(ROOT / "data" / "tables").glob("*.toml")])
CERTAIN = re.compile(
    r"\b(published|calculated from|calculated\b|computed by this kit|from memory|inferred|invented)", re.I
)
#: What a firm's name ends in, and words that stand in such names.
FIRM = re.compile(
    r"\b(GmbH|AG|KG|Inc|Ltd|LLC|Corp(oration)?|Company|Co\.|S\.?p\.?A|S\.?r\.?l|Federn|Mollificio|Stahl|Springs?"
    r" Works|Wire Works|Helicopter|Aircraft)\b"
)


def faults(name: str, text: str) -> list[str]:
    """What is wrong with a table's head: the comment lines before its columns."""
    head = []
    for line in text.splitlines():
        if not line.lstrip('"').startswith("#"):
            break
        head.append(line)
    words = " ".join(head)
    found = [] if head else [f"{name}: no source line"]
    found += [] if CERTAIN.search(words) else [f"{name}: does not say how certain it is"]
    return found + [f"{name}: names a firm, {match[0]}" for match in FIRM.finditer(words)]


def test_every_table_says_where_it_comes_from_and_how_certain_it_is() -> None:
    assert len(FILES) > 15
    assert {path.parent.name for path in FILES} >= {"tables", "reference", "computed", "strings"}
    found = [fault for path in FILES for fault in faults(path.name, path.read_text(encoding="utf-8"))]
    assert not found, "\n" + "\n".join(found)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a,b\n1,2\n", "no source line"),
        ("# EN 10270-1, strength\na,b\n", "how certain"),
        ("# Strength, from the table of Draht GmbH. Published.\na,b\n", "a firm, GmbH"),
        ("# Strength (Mollificio So-and-so). Published.\na\n", "a firm, Mollificio"),
    ],
)
def test_a_poor_head_is_caught(text: str, words: str) -> None:
    assert any(words in fault for fault in faults("x.csv", text))


def test_the_package_gives_the_source_of_what_it_reads() -> None:
    names = tables.names("tables", ".csv")
    assert len(names) > 4
    for name in names:
        assert CERTAIN.search(tables.source(f"tables/{name}"))


def test_demo_builds_say_that_they_are_invented() -> None:
    builds = sorted((ROOT / "data" / "builds").glob("*.toml"))
    assert len(builds) > 1
    for path in builds:
        assert path.read_text(encoding="utf-8").startswith("# Invented")


def test_the_licence_that_is_named_stands_in_the_readme() -> None:
    assert 'license = "MIT"' in (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    text = " ".join((ROOT / "README.md").read_text(encoding="utf-8").split())
    for words in (
        "the blasterlab authors",
        "Permission is hereby granted, free of charge",
        'PROVIDED "AS IS"',
    ):
        assert words in text
