"""Without numba: the same words from the plain source, said once to be slow, and no warning of arithmetic."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np

import blasterlab as bl
from blasterlab.shot import exchange
from blasterlab.shot import from_build as pack
from blasterlab.shot.equations import E1, E2, M1, M2, STATES

HIDES = """
import importlib.util as util
import sys

_find = util.find_spec
util.find_spec = lambda name, *more: None if name == "numba" else _find(name, *more)
sys.modules["numba"] = None
"""
SHOOTS = """
import blasterlab as bl

for name in bl.demo_builds():
    print(float(bl.simulate(bl.demo_build(name)).muzzle_velocity.magnitude))
"""


def test_without_numba_the_kit_says_so_once_and_shoots_the_same(tmp_path: Path) -> None:
    (tmp_path / "sitecustomize.py").write_text(HIDES, encoding="utf-8")
    root = str(Path(bl.__file__).parents[1])
    variables = {**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), root])}
    variables.pop("BLASTERLAB_PLAIN", None)
    done = subprocess.run(
        [sys.executable, "-W", "error::RuntimeWarning", "-c", SHOOTS],
        env=variables, capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stderr.count("numba is not installed") == 1
    speeds = [bl.simulate(bl.demo_build(name)).muzzle_velocity.magnitude for name in bl.demo_builds()]
    assert [float(line) for line in done.stdout.split()] == [float(speed) for speed in speeds]


def test_pressures_that_differ_by_their_last_digit_overflow_nowhere() -> None:
    p = pack.parameters(bl.demo_build("workhorse").si)
    plain = getattr(exchange.exchange, "py_func", exchange.exchange)
    c1, c2 = exchange.per_energy(p, np.zeros(STATES))
    for energy in np.linspace(5.0, 15.0, 300):
        x = np.zeros(STATES)
        x[M1], x[M2], x[E1], x[E2] = 1e-4, 1e-4, energy, energy * c1 / c2
        with np.errstate(over="raise"):
            gone, _, _ = plain(p, x, 1e-5, 0.0, True, 1e-9)
        assert abs(gone) < 1e-18
