"""Springs as chains: exact frequencies, the exact travelling wave, energy, the rule of a third as a limit."""

import math

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.shot import equations as kernel
from blasterlab.shot import integrate as stepper
from blasterlab.shot import rules
from blasterlab.shot.equations import Parameters
from blasterlab.waves.chain_shot import ChainMoment, chain_run
from blasterlab.waves.spring_chain import chain_rates

MASS, RATE = 0.03, 600.0
NO_LOSS = {"seal_friction": 0.0, "seal_breakaway": 0.0, "dart_friction": 0.0}


def shot(**changes):
    """An invented build in SI floats, changed as told; the plunger's mass is its own."""
    numbers = dict.fromkeys(Parameters._fields, 0.0)
    numbers |= {
        "rate1": RATE, "catch_compression1": 0.12, "plunger_mass": MASS, "plunger_area": 8e-4, "stroke": 0.09,
        "chamber_dead": 2e-6, "port_area": 5e-5, "barrel_area": 1.33e-4, "length": 0.25, "barrel_dead": 1e-6,
        "dart_mass": 1e-3, "dart_length": 0.036, "seal_friction": 3.0, "seal_breakaway": 3.0,
        "dart_friction": 1.0, "dart_breakaway": 3.0, "gas_inertia": 1.0, "air_ahead": 1.0,
        "ambient_pressure": 101_325.0, "ambient_temperature": 293.15, "gas_constant": 287.05,
    }  # fmt: skip
    return Parameters(**{**numbers, **changes})


VACUUM = {**NO_LOSS, "ambient_pressure": 0.01, "air_ahead": 0.0, "dart_breakaway": 1e3}


def lowest(ratio, n):
    """Lowest frequency of a mass on a chain, over sqrt(k/M), from the code's own right-hand side."""
    system = np.zeros((n, n))
    mass = ratio * 1.0
    for j in range(n):
        z = np.zeros(n)
        z[j] = 1.0
        dz, dv = np.zeros(n), np.zeros(n)
        force = chain_rates(z, np.zeros(n), n, 1.0, 0.0, mass, dz, dv)
        dv[n - 1] = force / (1.0 + 0.5 * mass / n)
        system[:, j] = dv
    return math.sqrt(-np.linalg.eigvals(system).real.max())


def test_frequencies_of_a_mass_on_a_heavy_spring():
    # y tan y = m_s/M, the exact frequency of a mass on a rod (K. F. Graff, Wave Motion in Elastic Solids,
    # 1975, ch. 2), as kept in data/reference/spring_effective_mass.csv
    table = tables.read("reference/spring_effective_mass")
    assert len(table) >= 5
    for row in table.itertuples(index=False):
        ratio, exact = float(row[0]), float(row[1])
        coarse, fine = lowest(ratio, 20), lowest(ratio, 40)
        assert abs(fine / exact - 1.0) < 1e-4
        assert (coarse - exact) / (fine - exact) == pytest.approx(4.0, rel=0.02)
        assert (4.0 * fine - coarse) / 3.0 == pytest.approx(exact, rel=2e-7)
        # the table's own numbers satisfy the equation
        y = exact * math.sqrt(ratio)
        assert y * math.tan(y) == pytest.approx(ratio, rel=1e-8)


def delayed(spring_mass, t_end, dt=2e-6):
    """Speed of a mass that a uniformly pressed spring drives, by the travelling wave in the spring.

    M du/dt = F0 - Z (u(t) + 2 u(t - 2T) + 2 u(t - 4T) + ...), Z = sqrt(k m_s), T = sqrt(m_s/k): d'Alembert's
    solution for a rod fixed at its far end (K. F. Graff, Wave Motion in Elastic Solids, 1975, ch. 2).
    """
    impedance, transit = math.sqrt(RATE * spring_mass), math.sqrt(spring_mass / RATE)
    t = np.arange(0.0, t_end, dt)
    u = np.zeros_like(t)

    def echo(now):
        back = now - 2.0 * transit * np.arange(1, 1 + int(now / (2.0 * transit)))
        return 2.0 * np.interp(back, t, u).sum() if len(back) else 0.0

    for i in range(len(t) - 1):
        here = (RATE * 0.12 - impedance * (u[i] + echo(t[i]))) / MASS
        there = (RATE * 0.12 - impedance * (u[i] + dt * here + echo(t[i + 1]))) / MASS
        u[i + 1] = u[i] + 0.5 * dt * (here + there)
    return t, u


@pytest.mark.parametrize("spring_mass", [0.005, 0.04])
def test_plunger_follows_the_travelling_wave(spring_mass):
    t, u = delayed(spring_mass, 9e-3)
    transit = math.sqrt(spring_mass / RATE)
    early = t < min(2.0 * transit, 8e-3)  # before the first echo: F0/Z (1 - exp(-Z t/M))
    impedance = math.sqrt(RATE * spring_mass)
    exact = RATE * 0.12 / impedance * (1.0 - np.exp(-impedance * t[early] / MASS))
    assert u[early] == pytest.approx(exact, abs=2e-5)
    errors = []
    for n in (20, 80):
        _, rows = chain_run(shot(**VACUUM), (spring_mass,), n, t_max=9e-3, rows=900, every=1e-5)
        assert len(rows) > 800
        moments = ChainMoment(*rows.T)
        errors.append(np.abs(moments.plunger_speed - np.interp(moments.time, t, u)).max())
    assert errors[1] < 2e-3
    assert errors[1] < 0.3 * errors[0]


def test_spring_without_gas_misses_the_rule_of_a_third():
    # 600 N/m from 120 to 30 mm, 30 g plunger, 40 g spring: the rule of one third gives sqrt(k (x1^2 -
    # x0^2)/(m_p + m_s/3)) = 13.6720 m/s; with the wave, its transit as long as the stroke, the plunger
    # comes slower, and the coils' motion never reaches the stop through it.
    out, _ = chain_run(shot(**VACUUM), (0.04,), 80)
    t, u = delayed(0.04, 0.0125)
    travel = np.concatenate([[0.0], np.cumsum(0.5 * (u[1:] + u[:-1]) * np.diff(t))])
    exact = np.interp(0.09, travel, u)
    assert out.impact_speed == pytest.approx(exact, rel=2e-4)
    assert out.impact_speed < 0.92 * 13.6720
    assert out.stop_energy < 0.6 * 0.5 * RATE * (0.12**2 - 0.03**2)
    assert out.coil_motion > 1.0
    assert out.lifted > 1e-3  # thrown forward, the coils leave the stopped plunger
    assert out.status == rules.NO_BREAKAWAY


LOSSES = {
    "seal_leak_area": 5e-7,
    "blowby_area": 5e-7,
    "wall_heat": 1.0,
    "seal_friction_per_pressure": 2e-5,
    "stop_restitution": 0.4,
}


@pytest.mark.parametrize(
    "changes", [{}, LOSSES, {"rate2": 300.0, "catch_compression2": 0.04}, {"length": 0.5}]
)
@pytest.mark.parametrize("elements", [1, 30])
def test_energy_is_kept(changes, elements):
    p = shot(**changes)
    masses = (0.03, 0.02) if "rate2" in changes else (0.03,)
    out, _ = chain_run(p, masses, elements)
    assert out.status == rules.EXITED
    assert abs(out.residual) < 1e-6 * out.spring_work
    assert out.spring_work > 1.0


def shot_model(p):
    x = np.zeros(kernel.STATES)
    stepper.integrate(p, 1e-9, 1.0, x, np.zeros((0, stepper.COLUMNS)))
    return x[kernel.W]


@pytest.mark.parametrize("changes", [{}, {"rate2": 300.0, "catch_compression2": 0.1}])
def test_light_springs_obey_the_rule_of_a_third(changes):
    # the rule's error falls with the spring's mass; at 1/60 of the plunger it is below 1e-4
    masses = (5e-4, 2e-4) if changes else (5e-4,)
    p = shot(**changes)
    out, _ = chain_run(p, masses, 20, tolerance=1e-8)
    rule = shot_model(p._replace(plunger_mass=MASS + sum(masses) / 3.0))
    assert out.muzzle_velocity == pytest.approx(rule, rel=1e-4)
    assert shot_model(p) != pytest.approx(rule, rel=1e-4)


def test_one_element_is_half_the_spring_on_the_plunger():
    # one link of the chain has no inner node: half the spring's mass moves with the plunger
    p = shot()
    out, _ = chain_run(p, (0.03,), 1, tolerance=1e-9)
    assert out.muzzle_velocity == pytest.approx(shot_model(p._replace(plunger_mass=MASS + 0.015)), rel=1e-6)


def test_heavy_spring_slows_the_dart_more_than_the_rule_says():
    p = shot()
    out, rows = chain_run(p, (0.04,), 40, rows=2000)
    assert out.muzzle_velocity < 0.95 * shot_model(p._replace(plunger_mass=MASS + 0.04 / 3.0))
    moments = ChainMoment(*rows.T)
    assert moments.spring_force.min() >= -1e-9  # the springs only push
    assert moments.spring_force[0] > 0.0
    assert out.chamber_peak >= moments.chamber_pressure.max()


def test_chain_endings():
    assert chain_run(shot(seal_breakaway=100.0), (0.03,), 5)[0].status == rules.NO_RELEASE
    assert chain_run(shot(dart_breakaway=500.0), (0.03,), 5)[0].status == rules.NO_BREAKAWAY
    assert chain_run(shot(), (0.03,), 5, t_max=0.005)[0].status == rules.TIME_OUT
    stuck = chain_run(shot(dart_friction=6.0, dart_breakaway=6.0, length=2.0), (0.03,), 5)[0]
    assert stuck.status == rules.STALLED


@pytest.mark.parametrize(
    ("changes", "masses", "elements", "says"),
    [
        ({}, (), 20, "masses"),
        ({}, (0.01, 0.01), 20, "masses"),
        ({}, (0.0,), 20, "masses"),
        ({}, (0.01,), 0, "elements"),
        ({}, (0.01,), 1000, "elements"),
        ({"charge": 2e5}, (0.01,), 20, "charge"),
    ],
)
def test_chain_refuses(changes, masses, elements, says):
    with pytest.raises(ValueError, match=says):
        chain_run(shot(**changes), masses, elements)
