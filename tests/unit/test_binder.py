"""The Binder folder: pins that agree with the package, and a rehearsal of what the image does."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from importlib.metadata import packages_distributions
from pathlib import Path
from urllib.parse import parse_qs, urlsplit

import nbformat
import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
BINDER = ROOT / "binder"
LINES = [line for line in (BINDER / "requirements.txt").read_text().splitlines() if line and line[0] != "#"]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
#: What Binder's base image brings; the rehearsal starts from these.
BASE = ["jupyterlab==4.4.9", "notebook==7.4.7", "ipykernel==7.0.1", "ipywidgets==8.1.7"]


def line_faults(lines: list[str]) -> list[str]:
    """Lines that are neither an exact pin nor JupyterLab's range."""
    exact = re.compile(r"[A-Za-z][\w.-]*==\d[\w.]*$")
    return [line for line in lines if not exact.match(line) and line != "jupyterlab>=4.4,<5"]


def pin_faults(lines: list[str], wanted: list[str]) -> list[str]:
    """Requirements of the package that no pin meets."""
    pins = {canonicalize_name(Requirement(line).name): Requirement(line) for line in lines}
    faults = []
    for text in wanted:
        requirement = Requirement(text)
        pin = pins.get(canonicalize_name(requirement.name))
        versions = [spec.version for spec in pin.specifier if spec.operator == "=="] if pin else []
        if not pin or not (versions or str(pin.specifier) == str(requirement.specifier)):
            faults.append(f"{text}: not pinned")
        elif not all(requirement.specifier.contains(version) for version in versions):
            faults.append(f"{text}: pinned to {versions}")
    return faults


def imported(package: Path) -> set[str]:
    """Top-level names that the package imports from outside."""
    found = set()
    for path in package.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                found |= {alias.name.split(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and not node.level:
                found.add((node.module or "").split(".")[0])
    return found - set(sys.stdlib_module_names) - {"blasterlab"}


def import_faults(names: set[str], lines: list[str]) -> list[str]:
    pins = {canonicalize_name(Requirement(line).name) for line in lines}
    homes = packages_distributions()
    return sorted(
        name for name in names if not pins & {canonicalize_name(home) for home in homes.get(name, [])}
    )


def test_the_folder_holds_what_binder_reads_and_nothing_that_overrides_it() -> None:
    assert {path.name for path in BINDER.iterdir()} == {
        "requirements.txt",
        "runtime.txt",
        "postBuild",
        "start",
    }
    assert (BINDER / "runtime.txt").read_text() == "python-3.11\n"


def test_lines_are_exact_pins() -> None:
    assert len(LINES) > 7
    assert line_faults(LINES) == []


@pytest.mark.parametrize(
    "line", ["-e .", ".", "-r more.txt", "-c pins.txt", "numpy", "numpy>=2", "a @ file:///x"]
)
def test_a_loose_or_local_line_is_caught(line: str) -> None:
    assert line_faults([line]) == [line]


def test_pins_satisfy_the_package() -> None:
    wanted = [text for extra in ("lab", "voila") for text in PROJECT["optional-dependencies"][extra]]
    wanted += PROJECT["dependencies"]
    assert len(wanted) > 7
    assert pin_faults(LINES, wanted) == []


def test_a_missing_or_old_pin_is_caught() -> None:
    assert pin_faults(["numpy==1.20"], ["numpy>=1.26"]) == ["numpy>=1.26: pinned to ['1.20']"]
    assert pin_faults(["numpy==1.20"], ["scipy>=1.12"]) == ["scipy>=1.12: not pinned"]


def test_pins_cover_every_import() -> None:
    names = imported(ROOT / "blasterlab")
    assert {"numpy", "matplotlib", "ipywidgets"} <= names
    assert import_faults(names, LINES) == []


def test_an_import_without_a_pin_is_caught() -> None:
    assert import_faults({"numpy", "hypothesis"}, LINES) == ["hypothesis"]


def test_what_runs_after_the_build_and_before_a_session() -> None:
    for name in ("postBuild", "start"):
        path = BINDER / name
        assert path.read_text().splitlines()[0] == "#!/bin/bash"
        if os.name == "posix":
            assert os.access(path, os.X_OK)
            subprocess.run(["bash", "-n", path], check=True)


LINK = re.compile(r"https://mybinder\.org/[^\s)`\"\\]*")


def link_faults(link: str) -> list[str]:
    """What is wrong with a link that opens a notebook on Binder: in JupyterLab, or as a Voilà page."""
    parts = urlsplit(link)
    asked = parse_qs(parts.query, keep_blank_values=True, strict_parsing=True)
    (key, (path, *more)) = next(iter(asked.items()))
    faults = [] if re.fullmatch(r"/v2/gh/[^/]+/[^/]+/\w+", parts.path) else ["no repository and branch"]
    faults += [] if set(asked) in ({"labpath"}, {"urlpath"}) and not more else ["one labpath or urlpath"]
    faults += [] if "/" not in parts.query else ["a slash that is not escaped"]
    path = path if key == "labpath" else path.removeprefix("voila/render/")
    faults += [] if key == "labpath" or path != asked[key][0] else ["no voila/render"]
    return faults + ([] if (ROOT / path).suffix == ".ipynb" and (ROOT / path).is_file() else ["no notebook"])


def test_links_to_binder_open_what_is_there() -> None:
    pages = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "notebooks").glob("*.ipynb"))]
    links = {link for page in pages for link in LINK.findall(page.read_text(encoding="utf-8"))}
    assert len(links) >= 2
    assert {link: link_faults(link) for link in links if link_faults(link)} == {}
    assert {re.split("[?=]", link)[1] for link in links} == {"labpath", "urlpath"}


@pytest.mark.parametrize(
    ("link", "fault"),
    [
        ("v2/gh/A/B/HEAD?labpath=notebooks%2F00_start.ipynb", "no notebook"),
        ("v2/gh/A/B/HEAD?urlpath=notebooks%2F00_start_here.ipynb", "no voila/render"),
        ("v2/gh/A/B/HEAD?labpath=voila%2Frender%2Fnotebooks%2F00_start_here.ipynb", "no notebook"),
        ("v2/gh/A/B/HEAD?labpath=notebooks/00_start_here.ipynb", "a slash that is not escaped"),
        ("v2/gh/A/HEAD?labpath=notebooks%2F00_start_here.ipynb", "no repository and branch"),
        ("v2/gh/A/B/HEAD?filepath=notebooks%2F00_start_here.ipynb", "one labpath or urlpath"),
    ],
)
def test_a_link_that_leads_nowhere_is_caught(link: str, fault: str) -> None:
    assert fault in link_faults(f"https://mybinder.org/{link}")


def words(path: Path) -> list[str]:
    """What each code cell of a notebook shows in words; how a stream was cut into pieces is chance."""
    cells = [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == "code"]
    return [
        "".join(out.get("text", out.get("data", {}).get("text/plain", "")) for out in cell.outputs)
        for cell in cells
    ]


@pytest.fixture
def run(checkout: Path, tmp_path: Path) -> Callable[..., None]:
    """Run a command in a copy of the checkout, in a fresh environment."""
    home = tmp_path / "environment"
    subprocess.run([sys.executable, "-m", "venv", home], check=True)
    variables = {
        **os.environ,
        "PATH": f"{home / 'bin'}{os.pathsep}{os.environ['PATH']}",
        "VIRTUAL_ENV": str(home),
        "JUPYTER_DATA_DIR": str(tmp_path / "data"),
    }
    variables.pop("PYTHONPATH", None)

    def run(*command: str) -> None:
        done = subprocess.run(
            command, cwd=checkout, env=variables, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, f"{command}\n{done.stdout[-3000:]}\n{done.stderr[-3000:]}"

    return run


def execute(start: Path) -> tuple[str, ...]:
    """The command that executes a notebook beside itself."""
    return ("jupyter", "nbconvert", "--to", "notebook", "--execute", "--output", "ran.ipynb", str(start))


@pytest.mark.environment
@pytest.mark.slow
def test_the_lowest_versions_show_the_stored_words(run: Callable[..., None], checkout: Path) -> None:
    """Each library at the bound that pyproject.toml names."""
    named = [Requirement(text) for text in PROJECT["dependencies"] + PROJECT["optional-dependencies"]["lab"]]
    lowest = [
        f"{one.name}=={spec.version}" for one in named for spec in one.specifier if spec.operator == ">="
    ]
    assert len(lowest) == len(named)
    run("pip", "install", "-q", "-e", ".", *lowest)
    start = checkout / "notebooks/00_start_here.ipynb"
    run(*execute(start))
    assert words(start.with_name("ran.ipynb")) == words(start)


@pytest.mark.environment
@pytest.mark.slow
def test_rehearsal(run: Callable[..., None], checkout: Path) -> None:
    """Base image, pins, postBuild; in a session the start notebook shows its words and compiles nothing.

    The notebooks are trusted, and stand as they were committed.
    """
    run("pip", "install", "-q", *BASE)
    run("pip", "install", "-q", "-r", "binder/requirements.txt")
    run("pip", "check")
    notebooks = {path: path.read_bytes() for path in (checkout / "notebooks").glob("*.ipynb")}
    run("./binder/postBuild")
    assert {path: path.read_bytes() for path in notebooks} == notebooks
    checked = "import sys; from nbformat import read, sign; check = sign.NotebookNotary().check_signature"
    checked += "; sys.exit(not all(check(read(name, 4)) for name in sys.argv[1:]))"
    run("binder/start", "python", "-c", checked, *map(str, notebooks))  # trusted in the session too
    kept = sorted((checkout / "blasterlab/__pycache__").glob("compiled-*/*.nb?"))
    assert len(kept) > 50
    start = checkout / "notebooks/00_start_here.ipynb"
    run("binder/start", *execute(start))
    assert sorted((checkout / "blasterlab/__pycache__").glob("compiled-*/*.nb?")) == kept
    assert any(words(start))
    assert words(start.with_name("ran.ipynb")) == words(start)
