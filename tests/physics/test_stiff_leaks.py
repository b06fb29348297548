"""Leaks that fill or empty their volume within microseconds: the stages solve for them, with the port."""

from __future__ import annotations

import numpy as np
import pytest
from other_model import shoot
from random_shots import at_the_ends, draw, run

from blasterlab.shot import ark_step, integrate, rules
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.parameters import Parameters

#: Rows of `Parameters` at the ends of what is accepted, on each of which the integrator once went astray.
CORNERS = {
    "a plunger that rebounds on and on from its own waves": (
        365.0, 0.0387, 0.0, 0.0, 0.0, 0.0, 0.0224, 0.000641, 0.0187, 0.000645, 3.77e-05, 0.00785,
        2.49, 1e-06, 5e-05, 0.0753, 0.15, 0.0, 7.87e-07, 4.9e-09, 0.00313, 0.0, 0.0, 3.08e-08, 1.0,
        1.0, 1.0, 0.99, 101000.0, 293.0, 288.0, 0.0, 0.00847, 0.0, 0.0,
    ),
    "a dart as long as its barrel": (
        487.0, 0.15, 378.0, 0.105, 0.0, 0.0, 0.0492, 0.000391, 0.12, 0.000189, 0.000124, 0.00785,
        0.5, 1e-08, 0.00105, 0.5, 8.75, 5000.0, 0.0, 0.0003, 2.0, 4.0, 0.0, 7.9e-08, 1.0, 1.0, 1.0,
        0.00766, 101000.0, 293.0, 288.0, 0.0, 0.0224, 0.0112, 0.0,
    ),
    "a gap behind the dart so thin that its gas is as warm as the wall": (
        651.0, 0.115, 0.0, 0.0, 0.0, 0.0, 0.00129, 0.000962, 0.09, 0.001, 6.28e-05, 0.00785, 0.043,
        1e-08, 0.001, 0.0593, 4.0, 289.0, 1.11e-07, 2.45e-06, 89.6, 0.0, 2.75e-06, 0.001, 0.0, 1.0,
        1.0, 0.99, 101000.0, 293.0, 288.0, 0.0, 0.0164, 0.0, 0.0,
    ),
}  # fmt: skip


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


def test_every_build_at_the_ends_of_the_accepted_ranges_ends_and_keeps_its_energy() -> None:
    rng = np.random.default_rng(20)
    values = [at_the_ends(rng) for _ in range(600)]
    many = simulate_rows(pack.packed(values))
    assert rules.FAILED not in many.outcome.status
    assert max(many.outcome.ledger_gap) <= 1e-6
    stiff = [slope(Parameters(*row)) > 1e6 for row in np.array(many.parameters).T]
    assert sum(stiff) > 30  # among them many that leak faster than steps can follow


@pytest.mark.parametrize("name", CORNERS)
@pytest.mark.parametrize("tolerance", [1e-6, 1e-7])
def test_what_once_went_astray_ends_and_keeps_its_energy(name: str, tolerance: float) -> None:
    p = Parameters(*CORNERS[name])
    outcome = integrate.shoot(p, tolerance, np.empty(k.STATES))
    assert outcome.status != rules.FAILED
    assert outcome.ledger_gap < 1e-6
    most = k.spring_work(p, p.stroke)  # no plunger has more, nor does a stop take more
    assert outcome.stop_energy < most
    assert 0.5 * p.plunger_mass * outcome.impact_speed**2 < most
    assert max(outcome.chamber_peak, outcome.barrel_peak) < 1.2 * p.ambient_pressure


#: A foil of a plunger bounces for half a second on the air that a pinhole of a port keeps in, beside a dart
#: that leaks much.
BOUNCING = (
    365.0, 0.0596, 0.0, 0.0, 0.0, 0.0, 0.000485, 0.0314, 0.0396, 0.001, 1.17e-07, 0.000473, 0.18, 1e-08,
    0.000179, 0.003, 0.0261, 0.0, 0.0, 4.96e-07, 0.0, 0.0, 5.68e-06, 6.2e-05, 0.0, 0.0, 1.0, 0.0, 101000.0,
    293.0, 288.0, 0.0, 0.00847, 0.0, 0.0, 2.76e-17, 0.0,
)  # fmt: skip


def test_a_plunger_that_bounces_on_and_on_takes_no_more_steps_than_it_must() -> None:
    outcome = integrate.shoot(Parameters(*BOUNCING), integrate.TOLERANCE, np.empty(k.STATES))
    assert outcome.status == rules.TIME_OUT
    assert outcome.ledger_gap < 1e-6
    # with straight pieces of the wave's past where kinks run short of room the ledger needs 67 002 steps
    assert outcome.steps < 55_000
    # with the port's flow sought from nothing in each stage 22 evaluations a try
    assert outcome.evaluations < 8 * (outcome.steps + outcome.rejected)


#: A dart of a gram across a bore of 100 mm, under a foil of a plunger that knocks at its stop.
KNOCKING = (
    650.7, 0.03032, 0.0, 0.0, 0.0, 0.0, 0.0007319, 0.03142, 0.005317, 3.463e-07, 0.01017, 0.007854, 2.225,
    1e-06, 0.001, 0.04083, 0.0, 5.205, 0.0001344, 2e-07, 0.001021, 0.0, 0.0004959, 6.054e-08, 1.0, 1.0, 1.0,
    0.0, 101300.0, 293.1, 288.2, 0.0, 0.01643, 0.0, 0.0, 4.503e-19, 1.223e-22,
)  # fmt: skip


def test_a_shot_of_very_many_steps_does_not_ask_for_ever_more_of_them() -> None:
    outcome = integrate.shoot(Parameters(*KNOCKING), integrate.TOLERANCE, np.empty(k.STATES))
    assert outcome.status == rules.TIME_OUT  # it failed with 200 000 steps
    assert outcome.ledger_gap < 1e-6
