"""The wave-resolving shot: what it keeps, its limits with a closed form, and its endings."""

import math

import numpy as np
import pytest
from wave_balance import balance

from blasterlab.shot import equations as kernel
from blasterlab.shot import rules
from blasterlab.waves.gas_shot import GasMoment, wave_run

G, R, PA, T = 1.4, 287.05, 101_325.0, 293.15


def shot(**changes):
    """An invented build in SI floats, changed as told."""
    numbers = {
        "rate1": 600.0,
        "catch_compression1": 0.11,
        "rate2": 0.0,
        "catch_compression2": 0.0,
        "rate3": 0.0,
        "catch_compression3": 0.0,
        "plunger_mass": 0.043,
        "plunger_area": math.pi / 4 * 0.032**2,
        "stroke": 0.08,
        "chamber_dead": 2e-6,
        "port_area": 0.8 * math.pi / 4 * 0.009**2,
        "barrel_area": math.pi / 4 * 0.013**2,
        "length": 0.25,
        "barrel_dead": 1e-6,
        "dart_mass": 1e-3,
        "dart_length": 0.036,
        "seal_friction": 3.0,
        "seal_breakaway": 3.0,
        "seal_friction_per_pressure": 0.0,
        "seal_leak_area": 0.0,
        "dart_friction": 1.0,
        "dart_breakaway": 3.0,
        "dart_friction_per_pressure": 0.0,
        "blowby_area": 0.0,
        "gas_inertia": 1.0,
        "air_ahead": 1.0,
        "wall_heat": 0.0,
        "stop_restitution": 0.0,
        "ambient_pressure": PA,
        "ambient_temperature": T,
        "gas_constant": R,
        "charge": 0.0,
    }
    return kernel.Parameters(**{**numbers, **changes})


EVERYTHING = {
    "seal_leak_area": 5e-7,
    "blowby_area": 5e-7,
    "wall_heat": 1.0,
    "seal_friction_per_pressure": 2e-5,
    "dart_friction_per_pressure": 1e-5,
    "rate2": 200.0,
    "catch_compression2": 0.03,
    "stop_restitution": 0.3,
}
FREE = {"seal_friction": 0.0, "seal_breakaway": 0.0, "dart_friction": 0.0, "dart_breakaway": 0.0}


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"air_ahead": 0.0},
        {**FREE, "port_area": 1.0},
        EVERYTHING,
        {**EVERYTHING, "air_ahead": 0.0, "length": 0.6},
        {"charge": 400e3, "chamber_dead": 50e-6},
        {"length": 0.03, "dart_mass": 3e-3},
    ],
)
def test_energy_and_mass_are_kept(changes):
    run = wave_run(shot(**changes), cell=4e-3)
    assert run.outcome.status == rules.EXITED
    out = balance(shot(**changes), run)
    scale = max(out.spring_work, out.dart_energy)
    assert scale > 0.1
    spent = (
        out.dart_energy + out.plunger_energy + out.stop_energy + out.seal_work + out.dart_work
        + out.gas_energy + out.leaked + out.heat + out.air_ahead + out.atmosphere
    )  # fmt: skip
    assert spent == pytest.approx(out.spring_work, abs=1e-7 * scale)
    assert out.residual == pytest.approx(out.spring_work - spent, abs=1e-12)
    assert abs(out.mass_error) < 1e-11
    for loss in (out.seal_work, out.dart_work, out.stop_energy, out.leaked, out.heat):
        assert loss >= 0.0


def test_every_loss_is_seen():
    out = balance(shot(**EVERYTHING), wave_run(shot(**EVERYTHING), cell=4e-3))
    assert min(out.seal_work, out.dart_work, out.leaked, out.heat, out.gas_motion, out.air_ahead) > 1e-3


def test_answer_does_not_hang_on_cells_or_steps():
    fine = wave_run(shot(), cell=1e-3).outcome
    for cell, cfl in ((4e-3, 0.45), (2e-3, 0.45), (2e-3, 0.2)):
        out = wave_run(shot(), cell=cell, cfl=cfl).outcome
        assert out.muzzle_velocity == pytest.approx(fine.muzzle_velocity, rel=1e-4)
        assert out.chamber_peak == pytest.approx(fine.chamber_peak, rel=2e-4)


@pytest.mark.parametrize(("mass", "within"), [(0.1, 4e-4), (1.0, 4e-5)])
def test_slow_dart_from_a_reservoir_is_adiabatic(mass, within):
    # Reservoir gun, adiabatic closed form (Z. J. Rohrbach, T. R. Buresh and M. J. Madsen, Am. J. Phys. 80,
    # 24, 2012,
    # eq. 3): waves matter less the slower the dart, as gas mass over dart mass; here 0.18 g of gas.
    charge, v0, dead, length = 300e3, 50e-6, 1e-7, 0.4
    p = shot(
        charge=charge, chamber_dead=v0, barrel_dead=dead, length=length, dart_mass=mass, dart_length=0.0,
        air_ahead=0.0, port_area=1.0, **FREE,
    )  # fmt: skip
    volume = v0 + dead
    mixed = (charge * v0 + PA * dead) / volume
    swept = p.barrel_area * length
    work = mixed * volume / (G - 1.0) * (1.0 - (volume / (volume + swept)) ** (G - 1.0)) - PA * swept
    speed = wave_run(p, cell=4e-3).outcome.muzzle_velocity
    assert speed / math.sqrt(2.0 * work / mass) - 1.0 == pytest.approx(0.0, abs=within)
    assert speed < math.sqrt(2.0 * work / mass)  # the gas keeps some motion


@pytest.mark.parametrize("ahead", [1000.0, 30e3, PA])
def test_lagrange_problem_through_the_whole_shot(ahead):
    # The tube gun of test_waves_lagrange_problem through chamber, port and barrel of one bore, a port that
    # is no
    # obstacle, against a steady pressure in front.  Until the echo the dart's base feels the simple wave:
    # m du/dt = A (p0 (1 - (gamma - 1) u / 2 c0)^(2 gamma/(gamma - 1)) - p_ahead), integrated here by RK4.
    area, mass, p0, length = math.pi / 4.0 * 0.0129**2, 1e-3, 500e3, 0.08
    c0 = math.sqrt(G * R * T)

    def push(u):
        return area / mass * (p0 * (1.0 - 0.5 * (G - 1.0) * u / c0) ** (2.0 * G / (G - 1.0)) - ahead)

    x, u, dt = 0.0, 0.0, 1e-7
    while x < length:
        k1 = push(u)
        k2 = push(u + 0.5 * dt * k1)
        k3 = push(u + 0.5 * dt * k2)
        k4 = push(u + dt * k3)
        x += dt * (u + dt / 6.0 * (k1 + k2 + k3))
        u += dt / 6.0 * (k1 + 2.0 * k2 + 2.0 * k3 + k4)
    assert u > 75.0
    dead = 0.0005 * area
    p = shot(
        charge=p0, plunger_area=area, barrel_area=area, chamber_dead=0.3 * area - dead, barrel_dead=dead,
        port_area=area, length=length, dart_length=0.0, air_ahead=0.0, ambient_pressure=ahead, **FREE,
    )  # fmt: skip
    assert wave_run(p, cell=1e-3).outcome.muzzle_velocity == pytest.approx(u, rel=1e-3)


def test_spring_without_gas():
    # sqrt(k (x1^2 - x0^2)/(m_p + m_s/3)): 600 N/m from 120 to 30 mm, 30 g and a 40 g spring: 13.6720 m/s
    p = shot(
        catch_compression1=0.12,
        stroke=0.09,
        plunger_mass=0.03 + 0.04 / 3.0,
        ambient_pressure=0.01,
        air_ahead=0.0,
        **FREE,
    )
    run = wave_run(p._replace(dart_breakaway=1e3), cell=4e-3, t_max=0.03)
    assert run.outcome.impact_speed == pytest.approx(13.6720, abs=2e-4)
    assert run.outcome.stop_energy == pytest.approx(balance(p, run).spring_work, rel=1e-4)


def test_blocked_port_is_adiabatic_compression():
    # A heavy plunger against a closed port turns where the spring's work and the atmosphere's equal the
    # adiabatic compression work p0 V0/(gamma - 1) ((V0/V)^(gamma - 1) - 1).
    p = shot(port_area=0.0, plunger_mass=20.0, dart_breakaway=1e3, **{k: 0.0 for k in FREE if "seal" in k})
    v0 = p.plunger_area * p.stroke + p.chamber_dead

    def surplus(s):
        squeeze = v0 / (v0 - p.plunger_area * s)
        spring = 0.5 * p.rate1 * (p.catch_compression1**2 - (p.catch_compression1 - s) ** 2)
        return spring + PA * p.plunger_area * s - PA * v0 / (G - 1.0) * (squeeze ** (G - 1.0) - 1.0)

    low, high = 0.01, 0.0799
    for _ in range(60):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if surplus(middle) > 0.0 else (low, middle)
    peak = PA * (v0 / (v0 - p.plunger_area * low)) ** G
    out = wave_run(p, cell=4e-3, t_max=0.25).outcome
    assert out.chamber_peak == pytest.approx(peak, rel=1e-3)
    assert out.status == rules.NO_BREAKAWAY
    assert out.muzzle_velocity == 0.0


def test_endings():
    held = wave_run(shot(dart_breakaway=500.0), cell=5e-3).outcome
    assert held.status == rules.NO_BREAKAWAY
    caught = wave_run(shot(seal_breakaway=1e3), cell=5e-3)
    assert caught.outcome.status == rules.NO_RELEASE
    assert balance(shot(), caught).spring_work == 0.0
    late = wave_run(shot(), cell=5e-3, t_max=0.01).outcome
    assert late.status == rules.TIME_OUT
    assert late.muzzle_velocity > 0.0
    stuck = wave_run(shot(rate1=300.0, dart_friction=6.0, dart_breakaway=6.0, length=0.8), cell=5e-3).outcome
    assert stuck.status == rules.STALLED
    assert stuck.muzzle_velocity == 0.0


def test_dart_longer_than_the_barrel_has_no_air_ahead():
    run = wave_run(shot(dart_length=0.3), cell=4e-3)
    assert run.outcome.status == rules.EXITED
    assert balance(shot(), run).air_ahead == 0.0


def test_history_and_field():
    run = wave_run(shot(), cell=2e-3, every=1e-4, rows=500, points=40)
    table = dict(zip(GasMoment._fields, run.history.T, strict=True))
    assert len(run.history) == run.outcome.records > 100
    assert np.all(np.diff(table["time"]) > 0.9e-4)
    assert np.all(np.diff(table["plunger_travel"]) >= 0.0)
    assert table["plunger_face_pressure"].max() <= run.outcome.plunger_peak
    # the pressures at the faces lie about the mean in the column
    assert table["plunger_face_pressure"] == pytest.approx(table["chamber_pressure"], rel=0.05)
    # the field is there where gas is, and nowhere else
    assert run.field.shape == (len(run.history), 2, 40)
    last = run.field[-1]
    depth = (np.arange(40) + 0.5) / 40 * (0.08 + 2e-6 / (math.pi / 4 * 0.032**2))
    assert np.array_equal(np.isnan(last[0]), depth < table["plunger_travel"][-1])
    assert np.nanmax(run.field) < 1.1 * run.outcome.chamber_peak
    assert np.nanmean(last[1]) == pytest.approx(table["barrel_pressure"][-1], rel=0.01)


def test_waves_run_to_and_fro_in_the_air_ahead():
    # A dart that breaks away late and hard sends a front to the muzzle at the speed of sound; the muzzle
    # stays at
    # the pressure of the air, the nose does not.
    run = wave_run(shot(dart_breakaway=15.0), cell=1e-3, every=1e-5, rows=4000)
    nose = GasMoment(*run.history.T).nose_pressure
    assert nose.max() > 1.02 * PA
    assert balance(shot(), run).air_ahead > 0.0


@pytest.mark.parametrize(
    ("changes", "options", "says"),
    [
        ({"barrel_dead": 0.0}, {}, "barrel_dead: got 0 .*above 0"),
        ({"stroke": -1.0}, {}, "stroke"),
        ({"dart_mass": math.nan}, {}, "dart_mass"),
        ({"ambient_temperature": 0.0}, {}, "ambient_temperature"),
        ({}, {"cell": 0.0}, "cell"),
        ({}, {"cell": 0.1}, "cell"),
        ({}, {"cfl": 1.0}, "stable"),
    ],
)
def test_refusals(changes, options, says):
    with pytest.raises(ValueError, match=says):
        wave_run(shot(**changes), **options)
