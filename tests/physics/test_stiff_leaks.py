"""Leaks that fill or empty their volume within microseconds: the stages solve for them, with the port."""

from __future__ import annotations

import numpy as np
import pytest
from other_model import shoot
from random_shots import at_the_ends, draw, run

from blasterlab.shot import ark_step, rules
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Parameters


def leaky(seed: int, **fixed: float) -> Parameters:
    """A shot whose dart lets by much of what the port feeds to a tiny volume behind it."""
    plain = {"wall_heat": 0.0, "length": 0.15, "dart_friction": 0.2, "dart_breakaway": 0.5}
    plain |= {"dart_friction_per_pressure": 0.0, "barrel_dead": 2e-8, "blowby_area": 2e-5}
    plain |= {"wave_mass1": 0.0, "wave_mass2": 0.0}  # the second model has no waves in its springs
    return draw(np.random.default_rng(seed), **(plain | fixed))


def slope(p: Parameters) -> float:
    """How fast the leaks answer at the start, 1/s."""
    x = np.zeros(k.STATES)
    x[k.E1] = p.ambient_pressure * (p.plunger_area * p.stroke + p.chamber_dead) / (k.GAMMA - 1.0)
    x[k.E2] = 1.001 * p.ambient_pressure * p.barrel_dead / (k.GAMMA - 1.0)
    for m, e in ((k.M1, k.E1), (k.M2, k.E2)):
        x[m] = x[e] * (k.GAMMA - 1.0) / (p.gas_constant * p.ambient_temperature)
    return -float(k.leaks(p, x)[4])


@pytest.mark.parametrize("seed", [0, 1, 2, 4, 5])
def test_a_dart_that_leaks_much_flies_as_a_stiff_method_says(seed: int) -> None:
    """The same equations, written a second time, by scipy's Radau (E. Hairer, G. Wanner, 1996)."""
    p = leaky(seed)
    assert slope(p) > ark_step.LEAKING  # so that the stages solve for it
    outcome, state = run(p, 1e-8)
    assert outcome.status == rules.EXITED
    speed, time, _ = shoot(p, "Radau", 1e-9)
    assert state[k.W] == pytest.approx(speed, rel=2e-5)
    assert outcome.time == pytest.approx(time, rel=2e-5)
    rough, at_default = run(p, 1e-6)
    assert at_default[k.W] == pytest.approx(speed, rel=1e-3)
    assert rough.ledger_gap < 1e-6
    assert rough.steps < 400


def test_no_build_at_the_ends_of_the_accepted_ranges_fails() -> None:
    rng = np.random.default_rng(20)
    values = [at_the_ends(rng) for _ in range(300)]
    many = simulate_rows(pack.packed(values))
    assert rules.FAILED not in many.outcome.status
    stiff = [slope(Parameters(*row)) > 1e6 for row in np.array(many.parameters).T]
    assert sum(stiff) > 30  # among them many that leak faster than steps can follow
