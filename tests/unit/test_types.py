"""What a type checker sees of the front door."""

from __future__ import annotations

from pathlib import Path

from mypy import api

#: A line that is right, and the fault that a slip in it is.
LINES = (
    ('build: bl.Build = bl.demo_build("workhorse")', "", ""),
    ('shot: bl.Shot = bl.simulate(build, charge="3 bar")', "charge", "call-arg"),
    ("print(bl.simulate(build).exited)", "exited", "attr-defined"),
    ("more: bl.Shot = bl.simulate(build)", "bl.Shot =", "assignment"),
    ("figures.shot_history(shot)", "shot_history", "attr-defined"),
    ("panels.barrel_panel(build)", "build", "name-defined"),
)


def test_a_type_checker_sees_the_public_names(tmp_path: Path) -> None:
    head = "import blasterlab as bl\nfrom blasterlab import figures, panels\n\n"
    slips = [
        line.replace(old, "int =" if "=" in old else f"{old}x") if old else line for line, old, _ in LINES
    ]
    good, bad = tmp_path / "good.py", tmp_path / "bad.py"
    good.write_text(head + "\n".join(line for line, _, _ in LINES), encoding="utf-8")
    bad.write_text(head + "\n".join(slips), encoding="utf-8")
    said, wrong, _ = api.run([str(good), str(bad), "--ignore-missing-imports", "--no-error-summary"])
    assert not wrong
    assert "good.py" not in said, said
    for number, (line, _, fault) in enumerate(LINES, 4):
        assert any(
            f"bad.py:{number}:" in told and f"[{fault}]" in told for told in said.splitlines()
        ) == bool(fault), (line, said)
