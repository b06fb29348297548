"""The reference: one page made of the public docstrings, with every name in it and no link into the void."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import blasterlab as bl

GUIDE = (Path(__file__).resolve().parents[2] / "DEVELOPERS.md").read_text(encoding="utf-8")


def test_the_guides_command_makes_the_page(tmp_path: Path) -> None:
    (line,) = re.findall(r"^python -m pdoc (.*) -o (\S+)(.*)$", GUIDE, re.MULTILINE)
    words = [*line[0].split(), "-o", str(tmp_path), *line[2].replace("'", "").split()]
    done = subprocess.run([sys.executable, "-m", "pdoc", *words], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    assert {path.name for path in tmp_path.iterdir()} == {"blasterlab.html", "index.html"}
    page = (tmp_path / "blasterlab.html").read_text(encoding="utf-8")
    ids = set(re.findall(r'\bid="([^"]+)"', page))
    assert set(bl.__all__) - ids == {"limits"}  # a module: its laws stand in notebook 90
    linked = set(re.findall(r'href="#([^"]+)"', page)) - ids
    inherited = {
        name for name in linked if hasattr(getattr(bl, name.split(".")[0], None), name.split(".")[-1])
    }
    assert linked - inherited == set()  # an inherited method stands with its base
    assert set(re.findall(r'(?:href|src)="(http[^"]+)"', page)) <= {"https://pdoc.dev"}
