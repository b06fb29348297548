"""Saving: whole or not at all, through links, with the rights of before, and no litter for good."""

from __future__ import annotations

import itertools
import os
import signal
import stat
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

import blasterlab as bl
from blasterlab import files

POSIX = pytest.mark.skipif(os.name != "posix", reason="links and permissions as POSIX has them")
Save = Callable[[Path], None]
#: Everything in the kit that saves, with two contents of each that differ.
SAVERS: dict[str, tuple[Save, Save]] = {
    "text": (lambda path: files.write_whole(path, "one\n"), lambda path: files.write_whole(path, "two\r\n")),
    "build": (bl.demo_build("workhorse").save, bl.demo_build("apprentice").save),
    "string": (bl.demo_string("workhorse_wire_14").save, bl.demo_string("workhorse_wire_15").save),
}


@pytest.fixture(params=SAVERS)
def savers(request: pytest.FixtureRequest) -> tuple[Save, Save]:
    return SAVERS[request.param]


def names(folder: Path) -> list[str]:
    return sorted(item.name for item in folder.iterdir())


def test_the_text_arrives_as_it_is(tmp_path: Path) -> None:
    path = tmp_path / "a.txt"
    files.write_whole(path, "ä\r\nb\n")
    assert path.read_bytes() == "ä\r\nb\n".encode()
    files.write_whole(str(path), "")
    assert path.read_bytes() == b""
    assert names(tmp_path) == ["a.txt"]


@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_failed_save_leaves_the_old_file_and_nothing_else(
    call: str, savers: tuple[Save, Save], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a"
    savers[0](path)
    before = path.read_bytes()

    def full(*_: object) -> None:
        raise OSError("no space left")

    monkeypatch.setattr(os, call, full)
    with pytest.raises(OSError, match="no space"):
        savers[1](path)
    assert path.read_bytes() == before
    assert names(tmp_path) == ["a"]


def test_text_that_is_no_text_touches_nothing(tmp_path: Path) -> None:
    path = tmp_path / "a"
    files.write_whole(path, "old")
    with pytest.raises(UnicodeEncodeError):
        files.write_whole(path, "\ud800")
    assert path.read_text() == "old"
    assert names(tmp_path) == ["a"]


@POSIX
def test_saving_follows_links_and_keeps_rights(savers: tuple[Save, Save], tmp_path: Path) -> None:
    folder = tmp_path / "elsewhere"
    folder.mkdir()
    path, link, dangling = folder / "a", tmp_path / "link", tmp_path / "dangling"
    link.symlink_to(path)
    dangling.symlink_to(folder / "b")
    old = os.umask(0o077)
    try:
        savers[0](path)
        assert path.stat().st_mode & 0o7777 == 0o600
        before = path.read_bytes()
        path.chmod(0o664)
        os.umask(0o027)
        savers[1](link)
        savers[1](dangling)
    finally:
        os.umask(old)
    assert link.is_symlink()
    assert dangling.is_symlink()
    assert path.read_bytes() == (folder / "b").read_bytes() != before
    assert path.stat().st_mode & 0o7777 == 0o664
    assert (folder / "b").stat().st_mode & 0o7777 == 0o640
    assert names(folder) == ["a", "b"]


@POSIX
def test_what_is_no_ordinary_file_is_refused(savers: tuple[Save, Save], tmp_path: Path) -> None:
    pipe, folder = tmp_path / "pipe", tmp_path / "folder"
    os.mkfifo(pipe)
    folder.mkdir()
    for path in (pipe, folder, tmp_path / "missing" / "a"):
        with pytest.raises(OSError, match=r"not an ordinary file|No such file"):
            savers[0](path)
    assert stat.S_ISFIFO(pipe.stat().st_mode)
    assert names(tmp_path) == ["folder", "pipe"]


def test_a_name_as_long_as_the_disk_allows(tmp_path: Path) -> None:
    path = tmp_path / ("x" * 255)
    files.write_whole(path, "a")
    assert path.read_text() == "a"


KILLED = """
import itertools, sys
import blasterlab.files as files
print("ready", flush=True)
for n in itertools.count():
    files.write_whole(sys.argv[1], str(n % 2) * 200_000)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a signal that cannot be caught")
def test_a_kill_leaves_a_whole_file_and_the_next_save_clears_its_litter(tmp_path: Path) -> None:
    path = tmp_path / "a"
    littered = 0
    for kill in range(12):
        worker = subprocess.Popen(
            [sys.executable, "-c", KILLED, str(path)], stdout=subprocess.PIPE, text=True
        )
        assert worker.stdout is not None
        assert worker.stdout.readline().strip() == "ready"
        time.sleep(0.02 + 0.007 * kill)
        worker.kill()
        worker.wait()
        if path.exists():
            assert path.read_text() in ("0" * 200_000, "1" * 200_000)
        left = [name for name in names(tmp_path) if name != "a"]
        assert len(left) <= 1, left  # each start has cleared what the kill before it left
        littered += len(left)
    assert littered, "no kill hit a save; the test shows nothing"
    files.write_whole(tmp_path / "b", "another file in the same folder")
    assert names(tmp_path) in (["a", "b"], ["b"])


def test_only_its_own_litter_is_cleared(tmp_path: Path) -> None:
    ours = files._PREFIX + "0123456789abcdef"
    others = [files._PREFIX, ours + "0", ".b.toml.0123456789abcdef", "a"]
    for name in (ours, *others):
        (tmp_path / name).write_text("x")
    (tmp_path / (files._PREFIX + "f" * 16)).mkdir()
    if os.name != "posix":
        os.utime(tmp_path / ours, (0, 0))
    files.write_whole(tmp_path / "new", "x")
    assert names(tmp_path) == sorted([*others, files._PREFIX + "f" * 16, "new"])


def test_without_locks_age_decides(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(files, "fcntl", None)
    fresh, old = (tmp_path / (files._PREFIX + digit * 16) for digit in "01")
    for path in (fresh, old):
        path.write_text("x")
    os.utime(old, (0, 0))
    files.write_whole(tmp_path / "a", "x")
    assert names(tmp_path) == sorted([fresh.name, "a"])


@POSIX
def test_a_writer_at_work_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two writers in one folder: neither clears what the other is still writing."""
    real, inside = os.fsync, itertools.count()

    def slow(handle: int) -> None:
        if next(inside) == 0:
            files.write_whole(tmp_path / "b", "second")
        real(handle)

    monkeypatch.setattr(os, "fsync", slow)
    files.write_whole(tmp_path / "a", "first")
    assert (tmp_path / "a").read_text() == "first"
    assert (tmp_path / "b").read_text() == "second"


def test_many_writers_of_one_file(tmp_path: Path) -> None:
    path, wrong = tmp_path / "a", []

    def work(letter: str) -> None:
        for _ in range(20):
            try:
                files.write_whole(path, letter * 5_000)
            except OSError as error:
                wrong.append(error)

    threads = [threading.Thread(target=work, args=(letter,)) for letter in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not wrong
    assert path.read_text() in {letter * 5_000 for letter in "abcd"}
    assert names(tmp_path) == ["a"]
