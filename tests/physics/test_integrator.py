"""The integrator: its order, its answer to the tolerance, and the same source without numba."""

from __future__ import annotations

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shots import draw, run

import blasterlab as bl
from blasterlab.shot import ark_step as pair
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot import integrate as stepper
from blasterlab.shot import rules
from blasterlab.shot.spring_line import spring_lines

P = pack.parameters(bl.demo_build("workhorse").si)
AS_ONE = P._replace(wave_mass1=0.0)  # one step alone knows no past
NO_COILS = spring_lines(AS_ONE)


def middle_of_a_shot() -> tuple[float, np.ndarray]:
    record, state = np.empty((20_000, stepper.COLUMNS)), np.empty(k.STATES)
    outcome = stepper.integrate(AS_ONE, 1e-9, 2e-5, state, record)
    rows = record[: outcome.records]
    place = int(np.argmax(rows[:, stepper.AT + k.Y] > 0.1))
    return float(rows[place, stepper.TIME]), rows[place, stepper.AT : stepper.CHAMBER].copy()


def steps(h: float, count: int) -> np.ndarray:
    t, x = middle_of_a_shot()
    mode = np.zeros(k.MODES, np.int64)
    mode[:2] = 1
    guide, rows, new = np.zeros(pair.GUIDES), np.empty((pair.ROWS, k.DYNAMIC)), np.empty(k.STATES)
    slope, z = np.empty(k.STATES), np.empty(k.DYNAMIC)
    for n in range(count):
        pair.advance(
            t + n * h, x, h, AS_ONE, mode, 1e-15, NO_COILS, np.ones(k.DYNAMIC), guide, rows, z, slope, new
        )
        x = new.copy()
    return x


def test_the_pair_is_of_order_four() -> None:
    """C. A. Kennedy, M. H. Carpenter, *Appl. Numer. Math.* 44, 139 (2003): order 4."""
    ends = [steps(8e-4 / count, count)[k.W] for count in (4, 8, 16, 64)]
    errors = np.abs(np.array(ends[:3]) - ends[3])
    orders = np.log2(errors[:-1] / errors[1:])
    assert (orders > 3.5).all(), orders


def test_the_tableaus_keep_the_conditions_of_order() -> None:
    """J. C. Butcher's conditions of order for both tableaus, with the published nodes."""
    ones = np.ones(6)
    for a in (pair._AE, pair._AI):
        assert a @ ones == pytest.approx(pair._C, abs=1e-12)
        assert pair._B @ a @ pair._C == pytest.approx(1 / 6, abs=1e-12)
        assert pair._B @ a @ a @ pair._C == pytest.approx(1 / 24, abs=1e-12)
        assert pair._B @ (pair._C * (a @ pair._C)) == pytest.approx(1 / 8, abs=1e-12)
    for power in (0, 1, 2, 3):
        assert pair._B @ pair._C**power == pytest.approx(1 / (power + 1), abs=1e-12)
    lower = pair._B - pair._DB
    for power in (0, 1, 2):
        assert lower @ pair._C**power == pytest.approx(1 / (power + 1), abs=1e-12)


def test_a_finer_tolerance_gives_a_finer_answer() -> None:
    truth = run(P, 1e-11)[1][k.W]
    errors = [abs(run(P, tolerance)[1][k.W] / truth - 1.0) for tolerance in (1e-4, 1e-6, 1e-8)]
    assert errors[0] > errors[1] > errors[2]
    assert errors[2] < 1e-7


def test_the_same_source_without_numba_gives_the_same_numbers() -> None:
    code = (
        "import json, blasterlab as bl, blasterlab.compiled as c\n"
        "shots = [bl.simulate(bl.demo_build(n)) for n in bl.demo_builds()]\n"
        "many = bl.simulate_many([bl.demo_build(n) for n in bl.demo_builds()])\n"
        "speeds = [s.muzzle_velocity.m for s in shots]\n"
        "print(json.dumps([c.COMPILED, speeds, list(many.muzzle_velocity.m)]))\n"
    )
    environment = {**os.environ, "BLASTERLAB_PLAIN": "1"}
    done = subprocess.run(
        [sys.executable, "-c", code], env=environment, capture_output=True, text=True, check=True, timeout=240
    )
    compiled, one, many = json.loads(done.stdout)
    assert compiled is False
    here = [bl.simulate(bl.demo_build(name)).muzzle_velocity.m for name in bl.demo_builds()]
    assert one == pytest.approx(here, rel=1e-12)
    assert many == pytest.approx(here, rel=1e-12)


@settings(max_examples=25)
@given(st.integers(0, 10_000), st.floats(0.05, 2.0))
def test_more_friction_never_makes_a_charged_shot_faster(seed: int, more: float) -> None:
    p = draw(np.random.default_rng(seed), length=0.2, charge=400e3, chamber_dead=40e-6)
    q = p._replace(dart_friction=p.dart_friction + more)
    (a, x), (b, y) = run(p, 1e-7), run(q, 1e-7)
    if b.status == rules.EXITED:
        assert a.status == rules.EXITED
        assert y[k.W] <= x[k.W] * (1.0 + 1e-6)


def test_a_spring_shot_can_gain_from_friction() -> None:
    """A dart that is held back lets the plunger build pressure: in a short barrel it can be worth its price.

    So the rule above is a rule for a chamber that is full from the start, not for a plunger.
    """
    p = draw(np.random.default_rng(0), length=0.2)
    speeds = [run(p._replace(dart_friction=p.dart_friction + more), 1e-9)[1][k.W] for more in (0.0, 0.5, 8.0)]
    assert speeds[1] > speeds[0] * (1.0 + 1e-5)
    assert speeds[2] < speeds[0]


@given(st.integers(0, 10_000))
def test_no_dart_carries_more_than_the_spring_gave_and_the_air_lent(seed: int) -> None:
    p = draw(np.random.default_rng(seed))
    outcome, x = run(p, 1e-6)
    most = k.spring_work(p, p.stroke) + p.ambient_pressure * p.plunger_area * p.stroke
    assert 0.5 * p.dart_mass * x[k.W] ** 2 < most
    assert outcome.spring_work <= k.spring_work(p, p.stroke) * (1 + 1e-12)


@given(st.floats(0.2, 5.0))
def test_the_answer_does_not_depend_on_the_system_of_units(length: float) -> None:
    """Other units of length and mass, the second kept: the speed scales as the length."""
    mass = 3.0
    force, area, pressure = mass * length, length**2, mass / length
    scale = {
        "rate1": mass,
        "catch_compression1": length,
        "plunger_mass": mass,
        "wave_mass1": mass,
        "plunger_area": area,
        "stroke": length,
        "chamber_dead": length**3,
        "port_area": area,
        "barrel_area": area,
        "length": length,
        "barrel_dead": length**3,
        "dart_mass": mass,
        "dart_length": length,
        "seal_friction": force,
        "seal_breakaway": force,
        "seal_leak_area": area,
        "dart_friction": force,
        "dart_breakaway": force,
        "blowby_area": area,
        "ambient_pressure": pressure,
        "gas_constant": length**2,
    }
    other = P._replace(**{name: getattr(P, name) * factor for name, factor in scale.items()})
    here, there = run(P, 1e-9)[1], run(other, 1e-9)[1]
    assert there[k.W] == pytest.approx(length * here[k.W], rel=1e-6)
