"""Waves along the springs of the shot model: closed forms, their energy, limits, and the chain as judge."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from bench.make_model_grid import chain, design
from random_shots import draw, run
from scipy.interpolate import CubicSpline
from test_waves_spring import VACUUM, shot

import blasterlab as bl
from blasterlab import units
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot import integrate as stepper
from blasterlab.shot import rules, spring_line
from blasterlab.waves.chain_shot import chain_run

T, AT = stepper.TIME, stepper.AT


def rows_of(p: k.Parameters, tolerance: float, step: float = 1.0) -> np.ndarray:
    record, state = np.empty((20_000, stepper.COLUMNS)), np.empty(k.STATES)
    outcome = stepper.integrate(p, tolerance, step, state, record)
    assert outcome.records < len(record)
    return record[: outcome.records]


def constants(p: k.Parameters) -> tuple[float, float, float]:
    """Impedance, time of an echo, force at the catch."""
    mass = p.wave_mass1
    return math.sqrt(p.rate1 * mass), 2.0 * math.sqrt(mass / p.rate1), p.rate1 * p.catch_compression1


@pytest.mark.parametrize("mass", [0.004, 0.01, 0.2])
def test_the_closed_form_through_the_first_two_echoes(mass: float) -> None:
    """M u' + Z u = F_c - 2 Z u(t - 2T), solved by hand up to t = 4T; no gas, no friction, no stop before."""
    p = shot(**VACUUM | {"plunger_area": 1e-6}, wave_mass1=mass, stroke=0.5, catch_compression1=0.5)
    impedance, echo, force = constants(p)
    rows = rows_of(p, 1e-10)
    t, u = rows[:, T], rows[:, AT + k.U]
    free = rows[:, AT + k.S] < 0.8 * p.stroke  # soon after it the light spring lets go
    first, second = free & (t < echo), free & (t >= echo) & (t < 2.0 * echo)
    assert first.sum() > 10
    assert mass == 0.2 or second.sum() > 5  # the heavy spring's echo comes late
    a, end = impedance / p.plunger_mass, force / impedance
    exact = end * -np.expm1(-a * t)
    back = a * (t - echo)
    exact = exact - np.where(second, 2.0 * end * (-np.expm1(-back) - back * np.exp(-back)), 0.0)
    both = first | second
    assert u[both] == pytest.approx(exact[both], abs=1e-7 * end)


def brute(u: Any, echo: float, t: float) -> float:
    """u(t - 2T) + u(t - 4T) + ..., the wave that comes back while the spring presses."""
    return sum(float(u(t - n * echo)) for n in range(1, 1 + int(t / echo)))


def led(p: k.Parameters, stops: list[float], step: float, end: float) -> Any:
    """The spring's end led along u(t) = 3 sin²(400 t), but held from each time to the next but one."""
    coils = spring_line.spring_lines(p)

    def held(t: float) -> bool:
        return bool(np.searchsorted(stops, t, side="right") % 2)

    def speed(t: float) -> float:
        return 0.0 if held(t) or t < 0.0 else 3.0 * math.sin(400.0 * t) ** 2

    def slope(t: float) -> float:
        return 0.0 if held(t) else 1200.0 * math.sin(800.0 * t)

    def way(a: float, b: float) -> float:
        return (
            0.0
            if held(0.5 * (a + b))
            else 1.5 * (b - a) - 3.0 / 1600.0 * (math.sin(800.0 * b) - math.sin(800.0 * a))
        )

    t, near = 0.0, 1e-12
    spring_line.look(coils, t, 1.0)
    spring_line.turn(coils, t, 0.0, 0.0, True)
    pairs = []
    while t < end:
        jumps = [stop for stop in stops if stop > t + near]
        h, kink = spring_line.until_kink(coils, t, min([step, *(stop - t for stop in jumps)]))
        spring_line.look(coils, t + h, -1.0)
        before = t + h - near
        spring_line.remember(coils, t, h, way(t, t + h), speed(before), slope(before), held(before))
        pairs.append((spring_line.pressed(coils, speed(before)), before))
        t += h
        event = any(abs(t - stop) < near for stop in stops)
        if event or kink:
            spring_line.look(coils, t, 1.0)
            spring_line.turn(coils, t, speed(t + near), slope(t + near), event)
    return coils, speed, np.array(pairs)


@pytest.mark.parametrize("stops", [[], [0.00301, 0.0092], [0.00301, 0.00315, 0.0101, 0.02]])
def test_the_force_on_a_plunger_that_is_led_and_held(stops: list[float]) -> None:
    """N = F_c - Z (u + 2 u(t - 2T) + 2 u(t - 4T) + ...), whether the plunger moves or stands."""
    p = shot(wave_mass1=0.01)
    impedance, echo, force = constants(p)
    _coils, speed, pairs = led(p, stops, 1.5e-4, 0.04)
    exact = [force - impedance * (speed(t) + 2.0 * brute(speed, echo, t)) for _n, t in pairs]
    assert pairs[:, 0] == pytest.approx(np.array(exact), abs=2e-6 * force)


def test_slow_motion_gives_the_rate_times_the_travel() -> None:
    p = shot(wave_mass1=1e-4)
    impedance, _echo, force = constants(p)
    coils = spring_line.spring_lines(p)
    spring_line.look(coils, 0.0, 1.0)
    spring_line.turn(coils, 0.0, 0.05, 0.0, True)
    t, s, u = 0.0, 0.0, 0.05
    while t < 0.2:
        h, kink = spring_line.until_kink(coils, t, 1.0)
        spring_line.look(coils, t + h, -1.0)
        spring_line.remember(coils, t, h, u * h, u, 0.0, False)
        t, s = t + h, s + u * h
        # a steady speed sets out with a jump: the force goes down by steps of 2 Z u about k s
        assert abs(spring_line.pressed(coils, u) - (force - p.rate1 * s)) <= 1.001 * impedance * u
        if kink:
            spring_line.look(coils, t, 1.0)
            spring_line.turn(coils, t, u, 0.0, False)
    assert p.rate1 * s > 0.05 * force > 100.0 * impedance * u


def test_a_loose_end_flies_and_comes_back() -> None:
    """Let go at rest, the end of a spring runs at F_c / Z, stands 2x_c further after 2T, and comes back."""
    p = shot(wave_mass1=0.02)
    _impedance, echo, _force = constants(p)
    coils = spring_line.spring_lines(p)
    coils[0, spring_line.PRESSES] = 0.0
    spring_line.look(coils, 0.0, 1.0)
    spring_line.turn(coils, 0.0, 0.0, 0.0, True)
    t, places = 0.0, []
    while t < 5.0 * echo:
        h, kink = spring_line.until_kink(coils, t, echo / 7.0)
        spring_line.look(coils, t + h, -1.0)
        spring_line.remember(coils, t, h, 0.0, 0.0, 0.0, False)
        t += h
        places.append((t / echo, coils[0, spring_line.PLACE]))
        if kink:
            spring_line.look(coils, t, 1.0)
            spring_line.turn(coils, t, 0.0, 0.0, False)
    at, place = np.array(places).T
    triangle = 2.0 * p.catch_compression1 * np.abs(2.0 * np.round(at / 2.0) - at)
    assert place == pytest.approx(triangle, abs=1e-9)


def field_energy(p: k.Parameters, rows: np.ndarray, t: float, s: float) -> float:
    """Energy of the waves at time t from the plunger's speed alone, beyond the slow spring's at travel s.

    At each point xi of the coil: m/2 (g1 - g2)² + N²/2k, g1 = g(t - (1 - xi) T), g2 = g(t - (1 + xi) T),
    N = F_c - Z (g1 + g2), and g(t) = u(t) + u(t - 2T) + ... while the spring presses.
    """
    impedance, echo, force = constants(p)
    speed = CubicSpline(rows[:, T], rows[:, AT + k.U])

    def wave(at: Any) -> Any:
        total = np.zeros_like(at)
        while (at >= 0.0).any():
            total += np.where(at >= 0.0, speed(np.maximum(at, 0.0)), 0.0)
            at = at - echo
        return total

    nodes, weights = np.polynomial.legendre.leggauss(40)
    edges = np.linspace(0.0, 1.0, 41)
    xi = (0.5 * (edges[:-1] + edges[1:])[:, None] + 0.5 / 40 * nodes).ravel()
    weight = np.tile(0.5 / 40 * weights, 40)
    one, two = wave(t - 0.5 * (1.0 - xi) * echo), wave(t - 0.5 * (1.0 + xi) * echo)
    press = force - impedance * (one + two)
    whole = 0.5 * p.wave_mass1 * (one - two) ** 2 + press**2 / (2.0 * p.rate1)
    return float(weight @ whole) - 0.5 * p.rate1 * (p.catch_compression1 - s) ** 2


@pytest.mark.parametrize("mass", [0.004, 0.015, 0.04, 0.12])
def test_coils_still_moving_hold_what_the_field_holds(mass: float) -> None:
    p = shot(wave_mass1=mass, stop_restitution=0.0, length=0.35)
    rows = rows_of(p, 1e-9, 1e-5)
    stop = rows[:, AT + k.S] < p.stroke
    checked = rows[stop][200::90]
    assert len(checked) > 5
    ledger = np.array([k.coil_energy(p, row[AT : AT + k.STATES]) for row in checked])
    field = np.array([field_energy(p, rows[stop], row[T], row[AT + k.S]) for row in checked])
    most = 0.5 * p.rate1 * p.catch_compression1**2
    assert ledger == pytest.approx(field, abs=1e-6 * most)
    assert field.max() > 1e-4 * most
    assert (field > -1e-9 * most).all()


def test_a_light_spring_tends_to_a_third_of_its_mass_on_the_plunger() -> None:
    off = []
    for mass in (4e-3, 1e-3, 2.5e-4, 6.25e-5):
        p = shot(wave_mass1=mass)
        as_one = p._replace(wave_mass1=0.0, plunger_mass=p.plunger_mass + mass / 3.0)
        off.append(abs(run(p, 1e-10)[1][k.W] / run(as_one, 1e-10)[1][k.W] - 1.0))
    assert off[-1] < 1e-6
    assert off[0] > 300.0 * off[-1]


def test_a_spring_that_is_too_light_moves_as_one_and_nobody_sees_the_step() -> None:
    build = bl.demo_build("workhorse")
    edge, moves = None, []
    for mass in np.geomspace(1e-6, 1e-3, 61):
        p = pack.parameters(build.replace({"spring.mass": units.quantity(mass, "kg")}).si)
        moves.append((p.wave_mass1 > 0.0, run(p, 1e-10)[1][k.W]))
    waves, speeds = np.array(moves).T
    edge = int(np.argmax(waves))
    assert 0 < edge < 60
    assert waves[edge:].all()
    steps = np.diff(speeds)
    assert abs(steps[edge - 1] - 0.5 * (steps[edge - 2] + steps[edge])) < 1e-6 * speeds[edge]


def test_without_waves_the_share_of_the_mass_moves_as_before() -> None:
    build = bl.demo_build("two_springs")
    still = build.replace({"losses.spring_waves": False, "losses.spring_mass_fraction": 0.4})
    p = pack.parameters(still.si)
    masses = sum(spring.mass.m_as("kg") for spring in build.springs)
    assert p.plunger_mass == build.si["chamber.plunger_mass"] + 0.4 * masses
    assert (p.wave_mass1, p.wave_mass2, p.wave_mass3) == (0.0, 0.0, 0.0)
    assert spring_line.spring_lines(p).shape[0] == 0
    shot = bl.simulate(still)
    assert shot.ledger["coils still moving"].magnitude == 0.0


def test_dead_coils_at_the_plunger_move_with_it() -> None:
    build = bl.demo_build("workhorse")
    spring = build.spring
    p = pack.parameters(build.si)
    per_coil = spring.mass.m_as("kg") / spring.total_coils
    assert p.wave_mass1 == pytest.approx(per_coil * spring.active_coils)
    assert p.plunger_mass == pytest.approx(build.si["chamber.plunger_mass"] + per_coil)  # closed: one an end


def judged(p: k.Parameters, elements: tuple[int, int] = (60, 120), order: int = 2) -> float:
    """Muzzle velocity of the chain of masses, extrapolated in its elements."""
    masses = tuple(mass for mass in (p.wave_mass1, p.wave_mass2, p.wave_mass3) if mass > 0.0)
    coarse, fine = (chain_run(p, masses, n, 1e-9)[0].muzzle_velocity for n in elements)
    return float(fine + (fine - coarse) / ((elements[1] / elements[0]) ** order - 1.0))


HEAVY = {
    "as it is": {},
    "light plunger": {"plunger_mass": 0.012},
    "short barrel": {"plunger_mass": 0.02, "length": 0.1},
    "long barrel": {"length": 0.6},
    "nested": {"rate2": 300.0, "catch_compression2": 0.1, "wave_mass2": 0.012},
    "one comes free": {"rate2": 300.0, "catch_compression2": 0.05, "wave_mass2": 0.012, "length": 0.4},
    "three": {
        "rate2": 200.0, "catch_compression2": 0.11, "wave_mass2": 0.008,
        "rate3": 150.0, "catch_compression3": 0.06, "wave_mass3": 0.02,
    },
}  # fmt: skip


@pytest.mark.parametrize("changes", HEAVY.values(), ids=HEAVY.keys())
def test_the_chain_of_masses_agrees(changes: dict[str, float]) -> None:
    p = shot(wave_mass1=0.03, **changes)
    outcome, x = run(p, 1e-9)
    assert outcome.status == rules.EXITED
    assert x[k.W] == pytest.approx(judged(p), rel=2e-6 if "one" not in str(changes) else 2e-5)


def test_the_chain_agrees_where_the_plunger_rebounds() -> None:
    """The stop takes the last half mass of a chain with the plunger: its error falls with the first power."""
    p = shot(
        wave_mass1=0.01, plunger_mass=0.03, stroke=0.05, stop_restitution=0.7, length=0.5, port_area=9e-5
    )
    outcome, x = run(p, 1e-9)
    assert outcome.status == rules.EXITED
    assert outcome.impact_speed > 1.0
    assert x[k.W] == pytest.approx(judged(p, (100, 200), 1), rel=5e-5)


def test_every_tenth_build_of_the_grid_agrees_with_the_chain() -> None:
    cases = [case.p for case in design()[::10]]
    off = [abs(run(p, 1e-8)[1][k.W] / chain(p)[0] - 1.0) for p in cases]
    assert len(off) == 10
    assert max(off) < 1e-4


def test_the_whole_grid_agrees_with_the_chain_as_kept() -> None:
    table = bl.model_grid()
    assert table.chain_error.abs().max() < 0.2  # percent of the velocity; the table keeps five digits
    assert table.chain_best_error.abs().max() < 2.0  # percent of the best length
    assert table.third_error.abs().max() > 20.0  # what a third of the spring's mass misses


def test_a_thousand_random_shots_close_with_light_and_heavy_springs_nests_and_rebounds() -> None:
    rng = np.random.default_rng(14)
    gaps, seen = [], []
    for _ in range(1000):
        p = draw(rng)
        state = np.empty(k.STATES)
        outcome = stepper.shoot(p, stepper.TOLERANCE, state)
        gaps.append(outcome.ledger_gap)
        seen.append(
            (outcome.status, p.wave_mass1 > p.plunger_mass, p.wave_mass2 > 0.0, p.stop_restitution > 0)
        )
    assert max(gaps) < 1e-6
    status, heavy, nested, back = np.array(seen).T
    assert rules.FAILED not in status
    for kind in (heavy, nested, back, status == rules.STALLED):
        assert 50 < kind.sum() < 950
