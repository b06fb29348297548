"""Canaries: the comparison of stored outputs turns red when a digit or the physics changes.

Each runs nbval in a process of its own, with the options of ``pyproject.toml``, on a copy of one notebook.
A perturbed package is a copy of the real one beside its compiled cores, so that nothing is compiled again:
change only files without compiled functions.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import nbformat
import pytest

ROOT = Path(__file__).resolve().parents[2]
START = ROOT / "notebooks" / "00_start_here.ipynb"
OPTIONS = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["pytest"][
    "ini_options"
]
NBVAL = [option for option in OPTIONS["addopts"] if option.startswith("--nbval")]


def nbval(notebook: Path, package: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Compare one notebook; with another package folder first on the path if given."""
    variables = {
        key: value for key, value in os.environ.items() if key not in ("PYTEST_ADDOPTS", "PYTHONPATH")
    }
    if package:
        variables["PYTHONPATH"] = str(package)
    command = [sys.executable, "-m", "pytest", "-o", "addopts=", "-p", "no:cacheprovider", "-q", *NBVAL]
    command += ["--rootdir", str(notebook.parent), str(notebook)]
    return subprocess.run(command, cwd=ROOT, env=variables, capture_output=True, text=True, check=False)


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    return Path(shutil.copy(START, tmp_path))


def change_one_digit(notebook: Path) -> None:
    """Raise the last decimal digit that the last printing cell stores."""
    content = nbformat.read(notebook, as_version=4)
    streams = [
        out for cell in content.cells for out in cell.get("outputs", []) if out.output_type == "stream"
    ]
    stream = next(out for out in reversed(streams) if re.search(r"\d\.\d", out.text))
    place = [match.end() - 1 for match in re.finditer(r"\d\.\d+", stream.text)][-1]
    digit = str((int(stream.text[place]) + 1) % 10)
    stream.text = stream.text[:place] + digit + stream.text[place + 1 :]
    nbformat.write(content, notebook)


def perturb(folder: Path, name: str, old: str, new: str) -> Path:
    """A copy of the package with one constant changed."""
    for part in ("blasterlab", "data"):
        shutil.copytree(ROOT / part, folder / part, ignore=shutil.ignore_patterns("*.tmp.*"))
    path = folder / name
    text = path.read_text(encoding="utf-8")
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {name}"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return folder


def test_the_options_compare_strictly() -> None:
    assert "--nbval" in NBVAL
    assert "--nbval-current-env" in NBVAL
    assert "--nbval-sanitize-with=tests/notebooks/sanitize.cfg" in NBVAL
    assert not [option for option in OPTIONS["addopts"] if "lax" in option]
    assert "notebooks" in OPTIONS["testpaths"]


def test_an_unchanged_copy_is_green(copied: Path) -> None:
    done = nbval(copied)
    assert done.returncode == 0, done.stdout[-3000:]
    cells = [cell for cell in nbformat.read(START, as_version=4).cells if cell.cell_type == "code"]
    assert f"{len(cells)} passed" in done.stdout


def test_one_changed_digit_is_red(copied: Path) -> None:
    change_one_digit(copied)
    done = nbval(copied)
    assert done.returncode == 1, done.stdout[-3000:]
    assert "1 failed" in done.stdout


#: A file without compiled functions, and a text that stands in it once.
WIRE = "data/tables/wire_materials.toml"
MODULUS = '["EN 10270-1 SH"]\nmoduli = [[inf, 81.5e9'


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        (WIRE, MODULUS, MODULUS.replace("81.5", "81.6")),
        ("data/builds/workhorse.toml", 'plunger_mass = "35 g"', 'plunger_mass = "36 g"'),
    ],
    ids=["modulus", "plunger_mass"],
)
def test_one_changed_constant_is_red(copied: Path, tmp_path: Path, name: str, old: str, new: str) -> None:
    done = nbval(copied, perturb(tmp_path / "perturbed", name, old, new))
    assert done.returncode == 1, done.stdout[-3000:]
    assert "m/s" in done.stdout
    assert "Error" not in done.stdout


def test_a_copied_package_without_a_change_is_green(copied: Path, tmp_path: Path) -> None:
    done = nbval(copied, perturb(tmp_path / "same", WIRE, MODULUS, MODULUS))
    assert done.returncode == 0, done.stdout[-3000:]
