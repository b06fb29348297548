"""Which `raise` of the package no test reaches: by hand, since it runs the quick tests under coverage.

    python tests/bench/raises.py            # some minutes; prints file, line and message of each

Compiled functions run as machine code, so the few that raise would be missed; none does.
"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import coverage

ROOT = Path(__file__).resolve().parents[2]
SUITES = ["tests/unit", "tests/panels", "tests/published", "tests/physics", "blasterlab"]


def raises(source: str) -> dict[int, str]:
    """Line and text of each statement that raises something new."""
    return {
        node.lineno: ast.unparse(node)[:100]
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Raise) and node.exc is not None
    }


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder) / "coverage"
        subprocess.run(
            [sys.executable, "-m", "coverage", "run", "--source=blasterlab", f"--data-file={data}",
             "-m", "pytest", "-q", "-n0", "-m", "not browser and not environment", *SUITES],
            cwd=ROOT, env={**os.environ, "COVERAGE_CORE": "sysmon"}, check=False,
        )  # fmt: skip
        found = coverage.CoverageData(str(data))
        found.read()
        total = bare = 0
        for path in sorted((ROOT / "blasterlab").rglob("*.py")):
            reached = set(found.lines(str(path)) or [])
            for line, text in raises(path.read_text(encoding="utf-8")).items():
                total += 1
                if line not in reached:
                    bare += 1
                    print(f"{path.relative_to(ROOT)}:{line}: {text}")
        print(f"{bare} of {total} raises are reached by no test")


if __name__ == "__main__":
    main()
