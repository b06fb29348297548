"""A built wheel, installed away from the checkout, finds its demo builds and tables and shoots."""

from __future__ import annotations

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

USE = """
import sys
import blasterlab as bl
from blasterlab import tables

assert sys.argv[1] not in sys.path, sys.path
assert not bl.__file__.startswith(sys.argv[1] + "/blasterlab"), bl.__file__
names = bl.demo_builds()
assert len(names) > 1, names
speeds = [bl.simulate(bl.demo_build(name)).muzzle_velocity.m_as("m/s") for name in names]
assert all(10 < speed < 150 for speed in speeds), speeds
found = tables.names("tables", ".csv")
assert found
for name in found:
    assert len(tables.read(f"tables/{name}")) and tables.source(f"tables/{name}")
print(len(names), "builds", len(found), "tables")
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = folder.glob("blasterlab-*.whl")
    return built


def test_the_wheel_carries_the_package_its_data_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    assert {name.split("/")[0].split("-")[0] for name in names} == {"blasterlab"}
    files = [path for path in (ROOT / "data").rglob("*") if path.is_file()]
    assert files
    for path in files:
        assert f"blasterlab/data/{path.relative_to(ROOT / 'data').as_posix()}" in names
    assert {
        "blasterlab/py.typed",
        "blasterlab/__init__.pyi",
        "blasterlab/notebooks/00_start_here.ipynb",
    } <= set(names)
    assert any(name.endswith("LICENSE.txt") for name in names)
    assert not [name for name in names if "__pycache__" in name or name.endswith((".nbi", ".nbc"))]


def test_it_works_away_from_the_checkout(wheel: Path, tmp_path: Path) -> None:
    """A fresh environment, the wheel without its dependencies, and this environment's libraries behind it."""
    home = tmp_path / "environment"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", home], check=True)
    paths = {"base": str(home), "platbase": str(home)}
    site = Path(sysconfig.get_path("purelib", scheme="venv", vars=paths))
    install = [
        sys.executable,
        "-m",
        "pip",
        "install",
        "-q",
        "--no-deps",
        "--no-index",
        "--target",
        site,
        wheel,
    ]
    subprocess.run(install, check=True, capture_output=True)
    (site / "libraries.pth").write_text(
        sysconfig.get_path("purelib"), encoding="utf-8"
    )  # no .pth is read there
    python = home / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
    variables = {key: value for key, value in os.environ.items() if key != "PYTHONPATH"}
    variables["BLASTERLAB_PLAIN"] = "1"  # nothing to wait for: the same source without compiling
    done = subprocess.run(
        [python, "-c", USE, str(ROOT)],
        cwd=tmp_path,
        env=variables,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    assert "builds" in done.stdout
