"""The translated shot in Chromium: the same bits as the kit's own, in every number of a shot."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from random_shots import at_the_ends, draw

from blasterlab.page.translate import javascript
from blasterlab.shot.equations import STATES
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import TOLERANCE, shoot
from blasterlab.shot.parameters import Parameters

ALL = f"""shots => shots.map(p => {{
  const x = new Float64Array({STATES});
  return [...Object.values(shoot(p, {TOLERANCE!r}, x)), ...x];
}})"""


def mixed(rng: np.random.Generator, count: int) -> list[Parameters]:
    """Spring shots, builds at the ends of what is accepted, and charged chambers."""
    kinds = [lambda: draw(rng), lambda: parameters(at_the_ends(rng)), lambda: draw(rng, charge=3e5)]
    share = [kinds[0], kinds[1], kinds[0], kinds[0], kinds[1], kinds[0], kinds[2]]
    return [share[n % len(share)]() for n in range(count)]


def here(p: Parameters) -> list[float]:
    """Every number of a shot."""
    state = np.zeros(STATES)
    return [float(value) for value in (*shoot(p, TOLERANCE, state), *state)]


def differences(chrome: Any, shots: list[Parameters], script: str) -> tuple[list[int], np.ndarray]:
    """The places of shots with another bit in a browser, and what the kit says."""
    page = chrome.new_page()
    try:
        page.add_script_tag(content=script)
        there = np.array(page.evaluate(ALL, [p._asdict() for p in shots]), dtype=float)
    finally:
        page.close()
    found = np.array([here(p) for p in shots])
    return np.flatnonzero((there.view(np.int64) != found.view(np.int64)).any(axis=1)).tolist(), found


@pytest.mark.browser
def test_every_bit_of_random_shots(chrome: Any) -> None:
    shots = mixed(np.random.default_rng(20), 280)
    wrong, found = differences(chrome, shots, javascript(shoot))
    assert wrong == []
    assert not np.isnan(found).any()
    status = found[:, 0]
    assert min((status == 0).sum(), (status == 1).sum(), (status == 2).sum()) > 20  # left, stayed, stalled
    assert sum(p.wave_mass1 > 0.03 for p in shots) > 20  # heavy springs
    assert sum(p.wave_mass2 > 0.0 for p in shots) > 20  # nests
    assert sum(p.seal_leak_area > 1e-6 or p.blowby_area > 1e-6 for p in shots) > 20
    assert sum(p.charge > 0.0 for p in shots) == 40


@pytest.mark.browser
def test_a_last_digit_is_noticed(chrome: Any) -> None:
    script = javascript(shoot)
    assert "55.88372943042562" in script  # the slope of the flow law near equal pressures
    wrong, _ = differences(
        chrome, mixed(np.random.default_rng(21), 14), script.replace("55.88372943042562", "55.88372943042563")
    )
    assert wrong
