"""What must hold for every shot: monotone, symmetric, within both laws of thermodynamics, in any units.

Shots are drawn by a seed, so that a failing one can be named.  What is *not* a rule is said and shown, too:
with a spring behind the plunger a dart that is held back, or a leak, can be worth its price.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from random_shots import area, draw, run

import blasterlab as bl
from blasterlab import units
from blasterlab.shot import equations as k
from blasterlab.shot import integrate as stepper
from blasterlab.shot import orifice as o
from blasterlab.shot import rules
from blasterlab.shot.ledger import ledger
from blasterlab.shot.simulate import TOLERANCE

SEEDS = st.integers(0, 10**6)
ROOM = 1e-6  # of a velocity: the integrator's own error at the tolerance used here


def charged(seed: int) -> k.Parameters:
    rng = np.random.default_rng(seed)
    pressure, volume = float(rng.uniform(130e3, 800e3)), float(rng.uniform(5e-6, 100e-6))
    return draw(rng, charge=pressure, chamber_dead=volume)


def history(p: k.Parameters, step: float = 5e-5) -> np.ndarray:
    record, state = np.empty((12_000, stepper.COLUMNS)), np.empty(k.STATES)
    outcome = stepper.integrate(p, 1e-7, step, state, record)
    return record[: outcome.records]


#: Each makes a charged shot worse: name -> the parameters changed by a strength from 0 to 1.
WORSE = {
    "dart friction": lambda p, s: p._replace(
        dart_friction=p.dart_friction + 3.0 * s, dart_breakaway=p.dart_breakaway + 3.0 * s
    ),
    "blow-by": lambda p, s: p._replace(blowby_area=p.blowby_area + 3e-6 * s),
    "seal leak": lambda p, s: p._replace(seal_leak_area=p.seal_leak_area + 3e-6 * s),
    "port": lambda p, s: p._replace(port_area=p.port_area * (1.0 - 0.7 * s)),
    "charge": lambda p, s: p._replace(charge=p.charge - s * (p.charge - 110e3)),
}


@pytest.mark.parametrize("loss", WORSE)
@settings(max_examples=50)
@given(seed=SEEDS, strength=st.floats(0.01, 1.0))
def test_no_loss_makes_a_charged_shot_faster(loss: str, seed: int, strength: float) -> None:
    p = charged(seed)
    (before, x), (after, y) = run(p, 1e-8), run(WORSE[loss](p, strength), 1e-8)
    if after.status == rules.EXITED:
        assert before.status == rules.EXITED
        assert y[k.W] <= x[k.W] * (1.0 + ROOM)


@pytest.mark.parametrize("loss", ["dart friction", "seal leak", "blow-by"])
def test_a_spring_shot_can_gain_from_a_loss(loss: str) -> None:
    """It changes when the plunger compresses what; so no rule is made of it, and none is claimed."""
    gains = []
    for seed in range(150):
        p = draw(np.random.default_rng(seed))
        (before, x), (after, y) = run(p, 1e-8), run(WORSE[loss](p, 0.3), 1e-8)
        if before.status == after.status == rules.EXITED:
            gains.append(y[k.W] / x[k.W] - 1.0)
    assert len(gains) > 80
    assert max(gains) > 1e-3
    assert np.mean(np.array(gains) > ROOM) < 0.3  # most of them lose


@pytest.mark.parametrize("name", bl.demo_builds())
def test_the_demo_builds_lose_by_friction(name: str) -> None:
    build = bl.demo_build(name)
    first = build.losses.dart_friction.m_as("N")
    speeds = [
        bl.simulate(build.replace({"losses.dart_friction": f"{first + more} N"})).muzzle_velocity.m
        for more in (0.0, 0.5, 1.0, 2.0)
    ]
    assert all(np.diff(speeds) < 0.0)


@given(seed=SEEDS)
def test_no_shot_does_more_than_the_spring_gave(seed: int) -> None:
    """Second law: the gas starts in equilibrium with the air outside, so that it can add nothing of its own.

    E. Fermi, *Thermodynamics*, 1937, ch. III: Lord Kelvin's postulate.
    """
    p = draw(np.random.default_rng(seed))
    outcome, x = run(p, 1e-7)
    entries = ledger(p, outcome, x)
    useful = sum(entries[name] for name in ("dart", "plunger", "front stop", "seal friction", "dart friction",
                                            "gas motion", "air ahead"))  # fmt: skip
    assert useful <= outcome.spring_work * (1.0 + 1e-6) + 1e-9


@given(seed=SEEDS, heat=st.sampled_from([0.0, 1.0, 100.0]))
def test_no_charged_shot_does_more_than_its_exergy(seed: int, heat: float) -> None:
    """What a volume of compressed air at ambient temperature can do at most: p V [ln(p/pa) + pa/p - 1].

    M. J. Moran, H. N. Shapiro, *Fundamentals of Engineering Thermodynamics*, ch. 7: exergy of a system.
    """
    p = charged(seed)._replace(wall_heat=heat)
    outcome, x = run(p, 1e-7)
    entries = ledger(p, outcome, x)
    useful = sum(entries[name] for name in ("dart", "dart friction", "gas motion", "air ahead"))
    ratio = p.charge / p.ambient_pressure
    most = p.charge * p.chamber_dead * (math.log(ratio) + 1.0 / ratio - 1.0)
    assert useful <= most * (1.0 + 1e-6)


def test_the_bound_of_the_second_law_is_nearly_reached() -> None:
    """So it is a bound that a wrong sign would break: a slow spring, a wide port and nothing lost."""
    quiet = dict.fromkeys(
        (
            "seal_leak_area",
            "blowby_area",
            "wall_heat",
            "dart_friction_per_pressure",
            "seal_friction_per_pressure",
        ),
        0.0,
    )
    shares = []
    for seed in range(200):
        p = draw(np.random.default_rng(seed), **quiet, port_area=area(0.02))
        outcome, x = run(p, 1e-7)
        entries = ledger(p, outcome, x)
        kept = {"gas internal energy", "leaks", "wall heat", "atmosphere"}
        shares.append(sum(entries[name] for name in entries if name not in kept) / outcome.spring_work)
    assert 0.99 < max(shares) <= 1.0


@settings(max_examples=40)
@given(seed=SEEDS)
def test_entropy_never_falls_without_leaks_and_heat(seed: int) -> None:
    """S/R = m [ln(e/m) / (g - 1) - ln(m/V)] of both volumes; the port makes some, nothing takes any."""
    p = draw(np.random.default_rng(seed), seal_leak_area=0.0, blowby_area=0.0, wall_heat=0.0)
    rows = history(p)
    total = np.zeros(len(rows))
    for m, e, volume in (
        (k.M1, k.E1, p.plunger_area * (p.stroke - rows[:, stepper.AT + k.S]) + p.chamber_dead),
        (k.M2, k.E2, p.barrel_dead + p.barrel_area * rows[:, stepper.AT + k.Y]),
    ):
        mass, energy = rows[:, stepper.AT + m], rows[:, stepper.AT + e]
        specific = energy / mass * (k.GAMMA - 1.0) / (p.gas_constant * p.ambient_temperature)
        total += mass * (np.log(specific) / (k.GAMMA - 1.0) - np.log(mass / volume))
    gas = rows[0, stepper.AT + k.M1] + rows[0, stepper.AT + k.M2]
    assert (np.diff(total) / gas).min() > -1e-8
    assert (total[-1] - total[0]) / gas > 0.0


@given(seed=SEEDS, spring=st.booleans(), restitution=st.floats(0.0, 0.95), third=st.floats(0.0, 800.0))
def test_the_ledger_closes(seed: int, spring: bool, restitution: float, third: float) -> None:
    p = draw(np.random.default_rng(seed)) if spring else charged(seed)
    p = p._replace(
        stop_restitution=restitution,
        rate2=max(p.rate2, 100.0),
        rate3=third,
        catch_compression3=0.6 * p.stroke,
    )
    outcome, x = run(p, TOLERANCE)
    put_in = k.energy_in(p, x[k.S])
    assert outcome.status != rules.FAILED
    assert sum(ledger(p, outcome, x).values()) == pytest.approx(put_in, rel=1e-6)


@given(seed=SEEDS)
def test_the_answer_does_not_hang_on_the_tolerance(seed: int) -> None:
    """As energy, in units of the spring's work: the speed of a dart that nearly stalls is ill conditioned."""
    p = draw(np.random.default_rng(seed))
    (rough, x), (fine, y) = run(p, TOLERANCE), run(p, 1e-9)
    assert rough.status == fine.status
    work = max(fine.spring_work, 1e-3)
    assert 0.5 * p.dart_mass * abs(x[k.W] ** 2 - y[k.W] ** 2) < 3e-5 * work
    assert rough.chamber_peak == pytest.approx(fine.chamber_peak, rel=2e-3)


@settings(max_examples=25)
@given(seed=SEEDS)
def test_the_answer_does_not_hang_on_the_step(seed: int) -> None:
    p = draw(np.random.default_rng(seed))
    outcome, x = run(p, 1e-9)
    if outcome.status == rules.EXITED:
        assert history(p, 2e-5)[-1, stepper.AT + k.W] == pytest.approx(x[k.W], rel=1e-4)


@given(
    high=st.floats(1.0001, 6.0),
    volume=st.floats(0.1, 50.0),
    heat1=st.floats(0.7, 1.6),
    heat2=st.floats(0.7, 1.6),
)
def test_the_port_is_the_same_in_both_directions(
    high: float, volume: float, heat1: float, heat2: float
) -> None:
    p = draw(np.random.default_rng(1), chamber_dead=20e-6, barrel_dead=20e-6 * volume)
    mirrored = p._replace(chamber_dead=p.barrel_dead, barrel_dead=p.chamber_dead)
    x, cv = np.zeros(k.STATES), p.gas_constant / (k.GAMMA - 1.0)
    x[k.S] = p.stroke
    for m, e, pressure, room, warm in ((k.M1, k.E1, high * 1e5, p.chamber_dead, heat1),
                                       (k.M2, k.E2, 1e5, p.barrel_dead, heat2)):  # fmt: skip
        x[e] = pressure * room / (k.GAMMA - 1.0)
        x[m] = x[e] / (cv * 293.15 * warm)
    y = x.copy()
    y[[k.M1, k.E1, k.M2, k.E2]] = x[[k.M2, k.E2, k.M1, k.E1]]
    flow, energy, change = k.port(p, x)
    back, energy_back, change_back = k.port(mirrored, y)
    assert (flow, energy, change) == (-back, -energy_back, change_back)
    assert flow > 0.0
    assert change <= 0.0  # more gone, less flow: what makes the implicit stage have one root
    t1, t2 = (x[e] / (x[m] * cv) for e, m in ((k.E1, k.M1), (k.E2, k.M2)))
    hole, enthalpy = o.orifice(p.port_area, high * 1e5, t1, 1e5, t2, p.gas_constant, o.PATCH)
    assert flow == pytest.approx(hole, rel=1e-10, abs=1e-15)
    assert energy == pytest.approx(enthalpy, rel=1e-10, abs=1e-9)
    turned, enthalpy_turned = o.orifice(p.port_area, 1e5, t2, high * 1e5, t1, p.gas_constant, o.PATCH)
    assert (hole, enthalpy) == (-turned, -enthalpy_turned)


@given(
    low=st.floats(0.0, 1.0),
    step=st.floats(0.0, 0.5),
    patch=st.sampled_from([o.PATCH, o.LEAK_PATCH]),
)
def test_the_flow_function_falls_from_choked_to_nothing(low: float, step: float, patch: o.Patch) -> None:
    first, slope = o.flow_function(low, patch)
    second, _ = o.flow_function(min(low + step, 1.0), patch)
    assert 0.0 <= second <= first * (1.0 + 1e-10) <= o.CHOKED * (1.0 + 2e-10)
    assert slope <= 1e-6


SCALED = st.floats(0.3, 3.0)


@settings(max_examples=40)
@given(seed=SEEDS, length=SCALED, mass=SCALED, time=SCALED)
def test_the_answer_does_not_hang_on_the_units_of_length_mass_and_time(
    seed: int, length: float, mass: float, time: float
) -> None:
    """Dimensional homogeneity (P. W. Bridgman, *Dimensional Analysis*, 1922), each loss and both springs on.

    The heat to the walls is off: its conductivity is the one dimensional constant inside the kernel.
    """
    p = draw(np.random.default_rng(seed), wall_heat=0.0)
    force, square, pressure = mass * length / time**2, length**2, mass / (length * time**2)
    scale = {
        "rate1": force / length,
        "rate2": force / length,
        "catch_compression1": length,
        "catch_compression2": length,
        "plunger_mass": mass,
        "wave_mass1": mass,
        "wave_mass2": mass,
        "plunger_area": square,
        "stroke": length,
        "chamber_dead": length**3,
        "port_area": square,
        "barrel_area": square,
        "length": length,
        "barrel_dead": length**3,
        "dart_mass": mass,
        "dart_length": length,
        "seal_friction": force,
        "seal_breakaway": force,
        "seal_friction_per_pressure": square,
        "seal_leak_area": square,
        "dart_friction": force,
        "dart_breakaway": force,
        "dart_friction_per_pressure": square,
        "blowby_area": square,
        "ambient_pressure": pressure,
        "gas_constant": (length / time) ** 2,
    }
    other = p._replace(**{name: getattr(p, name) * factor for name, factor in scale.items()})
    (here, x), (there, y) = run(p, 1e-9), run(other, 1e-9)
    if here.status == there.status == rules.EXITED:
        assert y[k.W] == pytest.approx(x[k.W] * length / time, rel=1e-4)
        assert there.time == pytest.approx(here.time * time, rel=1e-4)
    else:  # the limits on waiting are in seconds, whatever the units
        assert rules.EXITED not in (here.status, there.status) or max(here.time, there.time) > rules.QUIET


US = {
    "chamber.bore": "in", "chamber.tube_length": "in", "chamber.stroke": "ft", "chamber.wall": "in",
    "chamber.dead_volume": "in^3", "chamber.plunger_mass": "lb", "chamber.port_diameter": "in",
    "barrel.bore": "in", "barrel.length": "ft", "barrel.dead_volume": "in^3", "dart.mass": "grain",
    "dart.diameter": "in", "dart.length": "in", "spring.wire_diameter": "in", "spring.outer_diameter": "in",
    "spring.free_length": "in", "spring.preload": "in", "losses.seal_friction": "lbf",
    "losses.seal_leak_area": "in^2", "losses.dart_friction": "lbf", "losses.dart_breakaway": "lbf",
    "losses.dart_friction_per_pressure": "lbf/psi", "losses.blowby_area": "in^2", "air.temperature": "degF",
    "air.pressure": "psi",
}  # fmt: skip


def read(build: bl.Build, name: str) -> object:
    part, field = name.split(".")
    return getattr(build.spring if part == "spring" else getattr(build, part), field)


@pytest.mark.parametrize("name", bl.demo_builds())
@settings(max_examples=15)
@given(chosen=st.sets(st.sampled_from(sorted(US)), min_size=1))
def test_a_build_in_inches_and_pounds_is_the_same_build(name: str, chosen: set[str]) -> None:
    build = bl.demo_build(name)
    texts = {item: f"{read(build, item).m_as(US[item])!r} {US[item]}" for item in chosen}
    other = bl.Build.from_text(build.replace(texts).to_text())
    assert all(read(other, item).units == units.ureg.Unit(US[item]) for item in chosen)
    here, there = bl.simulate(build), bl.simulate(other)
    assert there.muzzle_velocity.m == pytest.approx(here.muzzle_velocity.m, rel=1e-6)
    assert there.spring_work.m == pytest.approx(here.spring_work.m, rel=1e-9)
