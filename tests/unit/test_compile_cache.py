"""Compiled code: a changed source never runs the old code, and a cache that fails costs no answer.

Most of it is shown on a small package with two compiled modules, since the shot takes seconds to compile.
"""

from __future__ import annotations

import multiprocessing
import os
import shutil
import subprocess
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numba
import numpy as np
import pytest
import test_imports as floors

import blasterlab as bl
from blasterlab import compile_cache
from blasterlab.shot import ark_step, events, integrate
from blasterlab.shot.equations import STATES
from blasterlab.shot.from_build import parameters

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "blasterlab"
SMALL = {
    "__init__.py": "",
    "numbers.py": "HALF = 0.5\n",
    "inner.py": (
        "from blasterlab.compiled import compiled\nfrom blasterlab.numbers import HALF\nFACTOR = 3.0\n\n"
        "@compiled\ndef inner(x):\n    return FACTOR * x + HALF\n"
    ),
    "outer.py": (
        "from blasterlab.compiled import compiled\nfrom blasterlab.inner import inner\n\n"
        "@compiled\ndef outer(x):\n    return inner(x) + 1.0\n"
    ),
}
CACHE = "blasterlab/__pycache__"
USE = """
from blasterlab.outer import outer
from blasterlab import compile_cache
value = outer(2.0)
print(value, sum(outer.stats.cache_hits.values()), compile_cache.FOLDER)
"""
FULL = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (500, 500))\n"


class Copy:
    """The small package in a folder, run in fresh processes with a home and a temporary folder of its own."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.package = folder, folder / "blasterlab"
        self.package.mkdir(parents=True)
        for name in ("compiled.py", "compile_cache.py"):
            shutil.copy(PACKAGE / name, self.package)
        for name, text in SMALL.items():
            (self.package / name).write_text(text, encoding="utf-8")
        self.variables = {key: value for key, value in os.environ.items() if not key.startswith("NUMBA")}
        self.variables |= {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
        for name, key in (("home", "XDG_CACHE_HOME"), ("temporary", "TMPDIR")):
            (folder / name).mkdir()
            self.variables[key] = str(folder / name)

    def run(self, code: str = USE) -> str:
        done = subprocess.run(
            [sys.executable, "-c", code],
            env=self.variables, capture_output=True, text=True, check=False, cwd=self.folder,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        assert not done.stderr, done.stderr
        return done.stdout.strip()

    def shoot(self, code: str = USE) -> tuple[float, int, str]:
        value, hits, folder = self.run(code).split(" ")
        return float(value), int(hits), folder

    def block(self, *names: str) -> None:
        """Put files where folders would have to be made: not even root can write there."""
        for name in names:
            path = self.folder / name
            if path.exists():
                shutil.rmtree(path)
            path.write_text("")

    def change(self, name: str, old: str, new: str, seconds: float) -> None:
        """Change a source, with a time stamp so many seconds later, or earlier, than before."""
        path = self.package / name
        before, text = path.stat().st_mtime, path.read_text()
        assert text.count(old) == 1
        path.write_text(text.replace(old, new))
        os.utime(path, (before + seconds, before + seconds))


@pytest.fixture
def copy(tmp_path: Path) -> Copy:
    return Copy(tmp_path / "one")


def test_a_changed_source_runs_changed(copy: Copy) -> None:
    value, hits, first = copy.shoot()
    assert (value, hits) == (7.5, 0)
    assert copy.shoot() == (7.5, 1, first)
    copy.change("inner.py", "FACTOR = 3.0", "FACTOR = 4.0", -1000.0)  # an inlined callee, and older
    value, hits, second = copy.shoot()
    assert (value, hits) == (9.5, 0)
    assert not Path(first).exists()
    copy.change("numbers.py", "0.5", "0.7", 0.0)  # a constant of a module without compiled code
    assert copy.shoot()[:2] == (9.7, 0)
    copy.change("numbers.py", "0.7", "0.5", 0.0)
    assert copy.shoot()[::2] == (9.5, second)
    assert len(list(Path(second).parent.iterdir())) == 1


@pytest.mark.parametrize(
    ("blocked", "where"), [((CACHE,), "home"), ((CACHE, "home"), "temporary"), ((), "chosen")]
)
def test_wherever_it_is_kept(copy: Copy, blocked: tuple[str, ...], where: str) -> None:
    copy.block(*blocked)
    if where == "chosen":
        copy.variables["NUMBA_CACHE_DIR"] = str(copy.folder / where)
    value, hits, first = copy.shoot()
    assert (value, hits) == (7.5, 0)
    assert first.startswith(str(copy.folder / where))
    assert copy.shoot() == (7.5, 1, first)
    copy.change("inner.py", "FACTOR = 3.0", "FACTOR = 4.0", -1000.0)
    assert copy.shoot()[:2] == (9.5, 0)


def test_without_any_place_it_runs_and_says_nothing(copy: Copy) -> None:
    copy.block(CACHE, "home", "temporary")
    assert copy.run("import tempfile; tempfile.tempdir = 'temporary/none'" + USE) == "7.5 0 None"


def test_without_a_home_none_is_made(copy: Copy) -> None:
    """Where no home can be found, `expanduser` leaves "~" as it is: that would be a folder here."""
    copy.block(CACHE)
    for home in ({"XDG_CACHE_HOME": "~/.cache"}, {"XDG_CACHE_HOME": "", "HOME": ""}):
        copy.variables |= home
        value, _, kept = copy.shoot()
        assert value == 7.5
        assert kept.startswith(str(copy.folder / "temporary"))
        names = {item.name for item in copy.folder.iterdir()}
        assert names == {"blasterlab", "home", "temporary"}


def test_a_full_disk_costs_no_answer(copy: Copy) -> None:
    pytest.importorskip("resource")
    assert copy.shoot(FULL + USE)[:2] == (7.5, 0)
    assert copy.shoot()[:2] == (7.5, 0)
    assert copy.shoot()[:2] == (7.5, 1)


@pytest.mark.parametrize(("pattern", "length"), [("*.nbi", 0), ("*.nbc", 40)])
def test_a_file_cut_short_is_compiled_again_once(copy: Copy, pattern: str, length: int) -> None:
    folder = Path(copy.shoot()[2])
    found = list(folder.glob(pattern))
    assert found
    for path in found:
        path.write_bytes(path.read_bytes()[:length])
    assert copy.shoot()[:2] == (7.5, 0)
    assert copy.shoot()[:2] == (7.5, 1)


def test_a_source_that_changes_while_a_session_runs_is_not_kept_under_the_old_name(copy: Copy) -> None:
    copy.shoot()
    edit = (
        "import blasterlab.compiled\nfrom pathlib import Path\nsource = Path(blasterlab.__file__).with_name"
        "('inner.py')\nsource.write_text(source.read_text().replace('FACTOR = 3.0', 'FACTOR = 5.0'))\n"
    )
    assert copy.shoot(edit + USE)[:2] == (11.5, 0)
    copy.change("inner.py", "FACTOR = 5.0", "FACTOR = 3.0", 0.0)
    assert copy.shoot()[:2] == (7.5, 1)


def test_two_copies_share_a_folder_in_peace(tmp_path: Path) -> None:
    one, two = Copy(tmp_path / "one"), Copy(tmp_path / "two")
    two.change("inner.py", "FACTOR = 3.0", "FACTOR = 4.0", 0.0)
    for each in (one, two):
        each.variables["NUMBA_CACHE_DIR"] = str(tmp_path / "shared")
    assert [each.shoot()[:2] for each in (one, two, one, two)] == [(7.5, 0), (9.5, 0), (7.5, 1), (9.5, 1)]


@pytest.mark.skipif(os.name != "posix", reason="permissions as POSIX has them")
def test_a_temporary_folder_that_others_can_write_to_is_not_used(copy: Copy) -> None:
    copy.block(CACHE, "home")
    copy.shoot()
    (private,) = (copy.folder / "temporary").iterdir()
    private.chmod(0o777)
    assert copy.shoot() == (7.5, 0, "None")


def test_what_is_hashed_is_what_compiled_modules_import() -> None:
    """The quick reading of imports finds what the syntax tree finds, no more and no less."""
    known = floors.modules(PACKAGE)
    waiting = [name for name, module in known.items() if module.is_core()]
    assert len(waiting) > 5
    seen: set[str] = set()
    while waiting:
        name = waiting.pop()
        if name in known and name not in seen:
            seen.add(name)
            waiting += [target.removeprefix("blasterlab.") for target in known[name].imports(top_only=True)]
    seen.remove("compile_cache")  # only under the switch in `compiled`, and in no compiled code
    rooms = {name.split(".")[0] for name in seen if "." in name}
    names = {path.relative_to(PACKAGE).with_suffix("").as_posix() for path in compile_cache.sources(PACKAGE)}
    found = {name.replace("/", ".").removesuffix(".__init__") for name in names}
    assert found - rooms - {"__init__"} == seen - rooms
    assert "units" not in found


SHOT = (
    "import blasterlab as bl\nfrom blasterlab import compiled\n"
    "print(bl.simulate(bl.demo_build('workhorse')).muzzle_velocity.m_as('m/s'), compiled.COMPILED)"
)


def real(folder: Path, code: str) -> list[str]:
    variables = os.environ | {"PYTHONPATH": str(folder)}
    done = subprocess.run(
        [sys.executable, "-c", code], env=variables, capture_output=True, text=True, check=True, cwd=folder
    )
    return done.stdout.split()


def test_another_ratio_of_specific_heats_gives_another_speed(tmp_path: Path) -> None:
    for part in ("blasterlab", "data"):
        shutil.copytree(ROOT / part, tmp_path / part, ignore=shutil.ignore_patterns("*.tmp.*"))
    before = float(real(tmp_path, SHOT)[0])
    texts = compile_cache.sources(tmp_path / "blasterlab")
    (path,) = [path for path, text in texts.items() if b"\nGAMMA = 1.4 " in text]
    stamp = path.stat().st_mtime
    path.write_bytes(texts[path].replace(b"\nGAMMA = 1.4 ", b"\nGAMMA = 1.3 "))
    os.utime(path, (stamp, stamp - 1e6))
    assert float(real(tmp_path, SHOT)[0]) > before + 0.5  # 63.96 in place of 62.91


@pytest.mark.parametrize("function", [integrate._steps, ark_step.advance, events.shorten, events.watch])
def test_the_loops_of_a_shot_count_no_references(function: Any) -> None:
    assert function.targetoptions["_nrt"] is False
    if function is events.watch:  # the one that compiles soonest, once more: what is kept has no listing
        again = numba.jit(**function.targetoptions)(function.py_func)
        p = parameters(bl.demo_build("workhorse").si)
        again(p, np.ones(STATES), np.ones(6, np.int64), 0.0, np.empty(events.EVENTS))
        (listing,) = again.inspect_asm().values()
        assert "NRT_" not in listing.partition("_ZN7cpython")[0]  # behind it stands what Python calls


def test_without_numba_the_same_source_runs_as_plain_python() -> None:
    plain = real(ROOT, f"import sys; sys.modules['numba'] = None\n{SHOT}")
    assert plain[1] == "False"
    assert float(plain[0]) == pytest.approx(float(real(ROOT, SHOT)[0]), rel=1e-9)


def test_spawned_processes_shoot_after_a_parallel_run() -> None:
    """A forked process would hang there: it takes over threads that it does not have."""
    build = bl.demo_build("workhorse")
    here = bl.simulate_many([build] * 3).muzzle_velocity[1]
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        there = pool.submit(bl.simulate_many, [build] * 2).result(timeout=60).muzzle_velocity[0]
    assert there == here
