"""Energy: every shot's ledger closes to a part in a million, and the check sees a ledger that does not."""

from __future__ import annotations

import numpy as np
import pytest
from random_shots import STUBBORN, draw, run

import blasterlab as bl
from blasterlab import figures
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot import rules
from blasterlab.shot.ledger import ledger, net_ledger
from blasterlab.shot.simulate import TOLERANCE

SHOTS = 400
GAP = 1e-6


def gap(p: k.Parameters, **more: float) -> float:
    outcome, state = run(p, TOLERANCE)
    entries = ledger(p, outcome, state) | more
    put_in = k.energy_in(p, state[k.S])
    return abs(sum(entries.values()) - put_in) / put_in


@pytest.mark.parametrize("seed", range(4))
def test_every_random_shot_closes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shots = [draw(rng) for _ in range(SHOTS // 4)]
    statuses = {run(p, TOLERANCE)[0].status for p in shots}
    assert {rules.EXITED, rules.STALLED} <= statuses  # also the darts that stay in
    assert rules.FAILED not in statuses
    gaps = np.array([gap(p) for p in shots])
    assert gaps.max() < GAP


def test_every_random_charged_shot_closes() -> None:
    rng = np.random.default_rng(7)
    gaps = []
    for _ in range(60):
        pressure = float(rng.uniform(150e3, 600e3))
        p = draw(rng, charge=pressure, chamber_dead=float(rng.uniform(5e-6, 80e-6)))
        gaps.append(gap(p))
    assert max(gaps) < GAP


@pytest.mark.parametrize("name", bl.demo_builds())
def test_both_faces_of_the_ledger_agree(name: str) -> None:
    shot = bl.simulate(bl.demo_build(name))
    total = sum(entry.m_as("J") for entry in shot.ledger.values())
    assert total == pytest.approx(shot.spring_work.m_as("J"), rel=GAP)
    assert sum(net_ledger(shot.parameters, shot.outcome, shot.state).values()) == pytest.approx(
        total, rel=1e-9
    )
    assert shot.ledger_gap < GAP


@pytest.mark.parametrize("changes", STUBBORN)
def test_a_shot_that_does_not_close_is_shot_again_with_a_finer_step(changes: dict) -> None:
    build = bl.demo_build("workhorse").replace(changes)
    p = pack.parameters(build.si)
    assert gap(p) > GAP
    shot = bl.simulate(build)
    assert shot.ledger_gap < GAP
    assert shot.tolerance < TOLERANCE


@pytest.mark.parametrize("charge", [None, "101.325 kPa"])
def test_where_nothing_moves_nothing_is_missing_and_the_picture_says_so(charge: str | None) -> None:
    build = bl.demo_build("workhorse").replace({"losses.seal_breakaway": "100 N"})
    shot = bl.simulate(build, charge)
    assert not shot.exited
    assert shot.ledger_gap < GAP
    assert "No energy was put in: " in figures.energy_ledger(shot).caption


def test_the_check_sees_an_entry_that_is_wrong_by_a_hundredth_of_a_percent() -> None:
    p = draw(np.random.default_rng(3), dart_friction=1.0, rate1=1500.0, length=0.1, wave_mass1=0.0)
    outcome, state = run(p, TOLERANCE)
    assert outcome.status == rules.EXITED
    right = ledger(p, outcome, state)
    assert gap(p) < GAP
    for name in ("dart", "dart friction", "gas internal energy"):
        assert gap(p, **{name: right[name] * 1.0001}) > GAP


def test_without_losses_the_energy_of_the_equations_is_constant() -> None:
    """Spring, plunger, gas, dart and atmosphere: nothing else takes part (first law, any textbook)."""
    quiet = dict.fromkeys(
        (
            "seal_friction",
            "seal_breakaway",
            "seal_friction_per_pressure",
            "seal_leak_area",
            "dart_friction",
            "dart_breakaway",
            "dart_friction_per_pressure",
            "blowby_area",
            "gas_inertia",
            "air_ahead",
            "wall_heat",
            "stop_restitution",
        ),
        0.0,
    )
    rng = np.random.default_rng(11)
    for _ in range(20):
        p = draw(rng, **quiet, rate2=0.0, catch_compression2=0.0, length=0.1)
        outcome, x = run(p, 1e-9)
        assert outcome.status == rules.EXITED
        gas = x[k.E1] + x[k.E2] + p.ambient_pressure * (p.barrel_area * x[k.Y] - p.plunger_area * x[k.S])
        moving = 0.5 * p.plunger_mass * x[k.U] ** 2 + 0.5 * p.dart_mass * x[k.W] ** 2 + outcome.stop_energy
        spring = 0.5 * p.rate1 * (p.catch_compression1 - x[k.S]) ** 2
        first = 0.5 * p.rate1 * p.catch_compression1**2
        still = p.plunger_area * p.stroke + p.chamber_dead + p.barrel_dead
        first += p.ambient_pressure * still / (k.GAMMA - 1.0)
        spring += k.coil_energy(p, x)
        assert gas + moving + spring == pytest.approx(first, rel=1e-9)


def test_mass_is_neither_made_nor_lost() -> None:
    p = draw(np.random.default_rng(5), seal_leak_area=0.0, blowby_area=0.0)
    _, x = run(p, TOLERANCE)
    volume = p.plunger_area * p.stroke + p.chamber_dead + p.barrel_dead
    first = p.ambient_pressure * volume / (p.gas_constant * p.ambient_temperature)
    assert x[k.M1] + x[k.M2] == pytest.approx(first, rel=1e-12)
