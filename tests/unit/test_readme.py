"""The README: its example prints what it says, its commands agree and do what they promise; the guide too."""

from __future__ import annotations

import json
import os
import re
import shlex
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
COMMANDS = [block.strip() for block in re.findall(r"```bash\n(.*?)```", TEXT, re.DOTALL)]
WINDOWS = re.findall(r"```bat\n(.*?)```", TEXT, re.DOTALL)[0].strip().splitlines()
EXAMPLE = re.findall(r"```python\n(.*?)```", TEXT, re.DOTALL)[0]
PRINTED = re.findall(r"```text\n(.*?)```", TEXT, re.DOTALL)[0]


def test_the_example_is_ten_lines_and_prints_what_stands_below_it(tmp_path: Path) -> None:
    assert len(EXAMPLE.strip().splitlines()) <= 10
    command = [sys.executable, "-X", "utf8", "-c", EXAMPLE]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, encoding="utf-8", check=True)
    assert done.stdout == PRINTED


def test_the_windows_lines_are_the_same_commands() -> None:
    assert len(COMMANDS) == len(WINDOWS) == 2
    for command, line in zip(COMMANDS, WINDOWS, strict=True):
        there = command.replace("python3.11 -m venv", "py -3.11 -m venv")
        there = there.replace(".venv/bin/", ".venv\\Scripts\\").replace("notebooks/", "notebooks\\")
        assert line == there


def test_a_kept_build_whose_name_has_a_space_is_one_word_of_its_command() -> None:
    commands = re.findall(r"`\.venv/bin/python -m blasterlab (sh[^`]*)`", TEXT)
    assert [shlex.split(command) for command in commands] == [
        [name, "notebooks/my_bench/builds/Garage 3.toml"] for name in ("share", "sheet")
    ]


def test_links_lead_somewhere() -> None:
    links = re.findall(r"\]\((?!http)([^)]+)\)", TEXT) + re.findall(r"notebooks%2F(\w+\.ipynb)", TEXT)
    assert len(links) > 1
    for link in links:
        assert (ROOT / link).exists() or (ROOT / "notebooks" / link).exists(), link


def table_of(text: str) -> list[list[str]]:
    """The rows of the table of notebooks: links without their folder, words, minutes."""
    lines = text.split("| notebook | the question")[1].split("\n\n")[0].splitlines()[2:]
    return [[part.strip().replace("notebooks/", "") for part in line.split("|")[1:-1]] for line in lines]


def test_the_first_notebook_lists_the_same_notebooks_and_each_leads_to_the_next() -> None:
    folder = ROOT / "notebooks"
    prose = {
        path.name: "".join(json.loads(path.read_text(encoding="utf-8"))["cells"][0]["source"])
        for path in folder.glob("*.ipynb")
    }
    first = json.loads((folder / "00_start_here.ipynb").read_text(encoding="utf-8"))
    table = next("".join(c["source"]) for c in first["cells"] if "| notebook |" in "".join(c["source"]))
    rows = table_of(TEXT)
    assert rows == table_of(table)
    names, answers = ([re.findall(r"\((.+)\)", row[k])[0] for row in rows] for k in (0, 3))
    assert {*names, *answers} == {name for name in prose if name[0].isdigit()}
    for name, answer, after in zip(names, answers, [*names[1:], names[0]], strict=True):
        assert f"]({answer})" in prose[name]
        assert f"]({after})" in prose[name]
        assert f"]({name})" in prose[answer]


def tree_faults(guide: str, package: Path) -> list[str]:
    """Rooms of the package that the guide's tree leaves out, and lines of it without a room."""
    tree = guide.split("blasterlab/\n")[1].split("tests/\n")[0]
    told = set(re.findall(r"^  (\S+?)/? +", tree, re.MULTILINE))
    there = {
        path.name for path in package.iterdir() if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    return sorted(told ^ there)


def test_the_guide_shows_the_tree_as_it_is(tmp_path: Path) -> None:
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    assert tree_faults(guide, ROOT / "blasterlab") == []
    (tmp_path / "attic.py").touch()
    assert "attic.py" in tree_faults(guide, tmp_path)
    assert "units.py" in tree_faults(guide, tmp_path)


def paths_named(text: str) -> set[str]:
    """Every path with a known ending that a text names, patterns such as ``<name>.csv`` left out."""
    text = re.sub(r"notebooks/my_bench/builds/[\w ]+\.toml", "my_build.toml", text)  # whose name has a space
    found = set(re.findall(r"(?<![\w<>*/%])((?:[\w.]+/)*[\w.]+\.(?:py|csv|toml|ipynb|txt|cfg|md))\b", text))
    return {path for path in found if not path.startswith(("my_", "your_"))}


def missing(text: str) -> set[str]:
    """The paths that a text names and that lead nowhere, from the top, the package or the tests."""
    homes = [ROOT, ROOT / "blasterlab", ROOT / "tests", ROOT / "notebooks"]
    return {path for path in paths_named(text) if not any((home / path).exists() for home in homes)}


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_each_path_that_a_page_names_exists(page: str) -> None:
    text = (ROOT / page).read_text(encoding="utf-8")
    assert paths_named(text)
    assert missing(text) == set()
    assert missing(text + "see `interior/attic.py`") == {"interior/attic.py"}


def test_the_job_stands_at_the_top() -> None:
    first = TEXT.split("\n\n")[1]
    assert 40 < len(first.split()) < 150
    assert "spring" in first


@pytest.mark.environment
@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="types the POSIX command")
def test_the_first_command_sets_up_everything_and_opens_the_notebook(checkout: Path, tmp_path: Path) -> None:
    """Typed as it stands, in a fresh folder; a stand-in for the browser notes the page that it is sent to."""
    note = tmp_path / "opened"
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\nprintf "%s" "$1" > {note}\n', encoding="utf-8")
    browser.chmod(0o755)
    folders = {f"JUPYTER_{kind}_DIR": str(tmp_path / kind) for kind in ("CONFIG", "DATA", "RUNTIME")}
    variables = {**os.environ, **folders, "BROWSER": f"{browser} %s"}
    log = tmp_path / "log"
    with log.open("w") as out:
        process = subprocess.Popen(
            COMMANDS[0], shell=True, cwd=checkout, env=variables, stdin=subprocess.DEVNULL, stdout=out,
            stderr=out, start_new_session=True,
        )  # fmt: skip
    try:
        until = time.monotonic() + 900
        while not note.exists() and process.poll() is None and time.monotonic() < until:
            time.sleep(1)
        assert note.exists(), log.read_text()[-3000:]
        page = Path(note.read_text().removeprefix("file://")).read_text()
        address = re.findall(r'href="(http[^"]+00_start_here\.ipynb[^"]*)"', page)[0].replace("&amp;", "&")
        with urllib.request.urlopen(address, timeout=60) as answer:
            assert "JupyterLab" in answer.read().decode()
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(timeout=60)
