"""How the two-volume model tends to the closed forms: at what rate, and where it stays away from them.

The reservoir gun's formula: Z. J. Rohrbach, T. R. Buresh, M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eq. 2.
They report that real guns fit neither law without the flow through the valve; the last tests show why.
"""

from __future__ import annotations

import numpy as np
import pytest
from random_shots import area, draw, run

from blasterlab import limits
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.integrate import AT, BARREL, COLUMNS, integrate

CASE = ("300 kPa", "50 cm^3", "12.9 mm", "1 g", "40 cm")
EXACT = limits.reservoir_velocity(*CASE).m_as("m/s")
OFF = dict.fromkeys(
    (
        "rate2",
        "catch_compression2",
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


def gun(port: float = 0.5, dead: float = 1e-10, **more: float) -> k.Parameters:
    """50 cm^3 in all, some of it still before the port; port as a diameter."""
    values = (
        OFF
        | {
            "charge": 300e3,
            "chamber_dead": 50e-6 - dead,
            "barrel_dead": dead,
            "port_area": area(port),
            "barrel_area": area(0.0129),
            "length": 0.4,
            "dart_mass": 1e-3,
            "dart_length": 1e-9,
            "ambient_pressure": 101325.0,
            "ambient_temperature": 293.15,
        }
        | more
    )
    return draw(np.random.default_rng(0), **values)


def speed(p: k.Parameters) -> float:
    outcome, x = run(p, 1e-9)
    assert outcome.status == rules.EXITED
    return float(x[k.W])


def test_the_port_resists_as_the_inverse_of_its_area() -> None:
    short = [1.0 - speed(gun(port)) / EXACT for port in (0.05, 0.1, 0.2)]
    orders = -np.diff(np.log(short)) / np.log(4.0)
    assert orders == pytest.approx(1.0, abs=0.1)
    assert 0.0 < 1.0 - speed(gun()) / EXACT < 5e-6


def test_still_air_before_the_dart_costs_in_proportion() -> None:
    """First order in the dead volume, and all of it is the mixing of that air with the charge."""
    dead = np.array([1e-8, 1e-7, 1e-6])
    short = np.array([1.0 - speed(gun(dead=float(v))) / EXACT for v in dead])
    assert np.diff(np.log(short)) / np.log(10.0) == pytest.approx(1.0, abs=0.02)
    for volume in dead.tolist():
        mixed = (300e3 * (50e-6 - volume) + 101325.0 * volume) / 50e-6
        closed = limits.reservoir_velocity(f"{mixed!r} Pa", *CASE[1:]).m_as("m/s")
        assert speed(gun(dead=volume)) == pytest.approx(closed, rel=3e-6)


def test_both_errors_gone_the_two_volumes_are_the_closed_form() -> None:
    """Richardson over the port's area at a vanishing dead volume."""
    coarse, fine = (speed(gun(port, dead=1e-12)) for port in (0.1, 0.2))
    assert fine + (fine - coarse) / 3.0 == pytest.approx(EXACT, rel=3e-6)


def test_a_port_of_some_millimetres_is_what_rules_a_real_gun() -> None:
    speeds = [speed(gun(port)) for port in (0.0129, 0.009, 0.006, 0.004)]
    assert all(np.diff(speeds) < 0.0)
    assert speeds[0] == pytest.approx(EXACT, rel=0.02)  # a valve of the full bore: 1 %
    assert speeds[-1] < 0.55 * EXACT


def test_a_barrel_beyond_the_best_length_brakes_the_dart() -> None:
    """The pressure behind it falls below ambient, and the model lets it."""
    best = limits.best_length(*CASE[:3]).m_as("m")
    at_best, beyond = speed(gun(length=best)), speed(gun(length=1.3 * best))
    assert beyond < at_best
    record, state = np.empty((4000, COLUMNS)), np.empty(k.STATES)
    rows = record[: integrate(gun(length=1.3 * best), 1e-9, 2e-5, state, record).records]
    travel, pressure = rows[:, AT + k.Y], rows[:, BARREL]
    assert pressure[-1] < 101325.0
    crossing = np.interp(-101325.0, -pressure[travel > 0.1], travel[travel > 0.1])
    assert crossing == pytest.approx(best, rel=1e-4)
