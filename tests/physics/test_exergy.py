"""What a shot can still do: its exergy, which only falls, and the dart that provably stays."""

from __future__ import annotations

import numpy as np
import pytest
from random_shots import draw

import blasterlab as bl
from blasterlab.shot import equations as eq
from blasterlab.shot import rules
from blasterlab.shot.from_build import parameters
from blasterlab.shot.integrate import AT, COLUMNS, TIME, integrate
from blasterlab.shot.parameters import GAMMA, Parameters

COLD, HOT = 0.4, 4.0  # times the temperature outside


def moran(p: Parameters, m: float, e: float, volume: float) -> float:
    """The exergy of air at rest: E + p0 V - T0 S, less the same of the same air outside.

    M. J. Moran and H. N. Shapiro, *Fundamentals of Engineering Thermodynamics*, ch. 7.
    """
    cv = p.gas_constant / (GAMMA - 1.0)
    cp, t0, p0 = cv + p.gas_constant, p.ambient_temperature, p.ambient_pressure
    t, v = e / (m * cv), volume / m
    pressure, v0 = p.gas_constant * t / v, p.gas_constant * t0 / p0
    entropy = cp * np.log(t / t0) - p.gas_constant * np.log(pressure / p0)
    return float(m * (cv * (t - t0) + p0 * (v - v0) - t0 * entropy))


def left_at(p: Parameters, row: np.ndarray) -> float:
    """All the work left in a recorded state, with the logarithms as they are."""
    x = row[AT : AT + eq.STATES]
    volumes = rules.volumes(p, x[eq.S], x[eq.Y])
    gas = sum(
        moran(p, m, e, v) - eq.exergy(p, m, e, v)
        for m, e, v in zip((x[eq.M1], x[eq.M2]), (x[eq.E1], x[eq.E2]), volumes, strict=True)
    )
    dart = 0.5 * eq.dart_mass(p, x, rules.nose_out(p, x[eq.Y], 1)) * x[eq.W] ** 2
    return float(eq.work_left(p, x) + gas + dart)


def history(p: Parameters) -> np.ndarray:
    record = np.empty((20_000, COLUMNS))
    return record[: integrate(p, 1e-8, 1e-4, np.empty(eq.STATES), record).records]


def some_shots(count: int, **fixed: float) -> list[Parameters]:
    rng = np.random.default_rng(20_261_127)
    return [draw(rng, **fixed) for _ in range(count)]


@pytest.mark.parametrize("walls", [0.0, 1.0, 30.0])
def test_no_shot_breaks_the_second_law(walls: float) -> None:
    for p in some_shots(25, wall_heat=walls):
        rows = history(p)
        left = np.array([left_at(p, row) for row in rows])
        assert np.diff(left).max() < 1e-7 * left[0]
        assert left[-1] < left[0]


def test_the_bound_lies_above_the_exergy_and_close() -> None:
    p = some_shots(1)[0]
    for ratio in (0.2, 0.8, 0.97, 1.0, 1.03, 1.3, 3.0, 12.0):
        for warmth in (COLD, 0.8, 0.97, 1.0, 1.03, 1.3, HOT):
            volume = 2e-5
            e = ratio * p.ambient_pressure * volume / (GAMMA - 1.0)
            m = ratio * p.ambient_pressure * volume / (p.gas_constant * warmth * p.ambient_temperature)
            exact, bound = moran(p, m, e, volume), eq.exergy(p, m, e, volume)
            scale = p.ambient_pressure * volume
            near = 0.5 < ratio < 2.0 and 0.5 < warmth < 2.0
            assert exact - 1e-12 * scale <= bound <= (1.1 if near else 1.5) * exact + 1e-12 * scale
    for x in (0.01, 0.5, 0.99, 1.01, 2.0, 50.0):
        assert np.log(x) < eq.log_at_most(x)
    for x, share in ((0.99, 12.0), (1.01, 24.0)):
        assert eq.log_at_most(x) - np.log(x) == pytest.approx(abs(x - 1.0) ** 3 / share, rel=0.02)


def test_a_dart_that_is_said_to_stay_never_moves_again() -> None:
    stayed = moved = 0
    hard = {"dart_friction_per_pressure": 0.0, "dart_breakaway": 20.0, "air_ahead": 0.0}
    for p in some_shots(60, dart_friction=6.0, length=1.5, **hard) + some_shots(
        30, dart_friction=30.0, **hard
    ):
        rows = history(p)
        for n, row in enumerate(rows[:-1]):
            x = row[AT : AT + eq.STATES]
            if x[eq.W] == 0.0 and eq.dart_stays(p, x):
                stayed += 1
                assert not rows[n:, AT + eq.W].any()
            moved += bool(x[eq.W] == 0.0 and rows[n:, AT + eq.W].any())
    assert stayed > 100
    assert moved > 100


@pytest.mark.parametrize("name", ["apprentice", "two_springs"])
def test_a_stalled_shot_ends_once_its_dart_provably_stays(name: str) -> None:
    p = parameters(bl.demo_build(name).replace({"barrel.length": "2 m", "losses.dart_friction": "3 N"}).si)
    record, state = np.empty((500, COLUMNS)), np.empty(eq.STATES)
    outcome = integrate(p, 1e-6, 1.0, state, record)
    rows = record[: outcome.records]
    assert outcome.status == rules.STALLED
    rests = rows[np.max(np.nonzero(rows[:, AT + eq.W])) + 1, TIME]
    assert outcome.time < rests + 0.8 * rules.QUIET
    assert state[eq.S] == p.stroke  # what the plunger did is not cut short
    assert outcome.ledger_gap < 1e-6


def test_a_plunger_that_its_seal_holds_ends_its_shot_at_once() -> None:
    """Else a dart that next to nothing holds starts on rounding, and the ledger has nothing to count by."""
    for p in some_shots(
        20, seal_friction=2000.0, dart_friction=0.0, dart_breakaway=8e-4, seal_leak_area=1e-6
    ):
        state = np.empty(eq.STATES)
        outcome = integrate(p, 1e-6, 1.0, state, np.empty((0, COLUMNS)))
        assert outcome.status == rules.NO_RELEASE
        assert outcome.steps == 0
        assert outcome.ledger_gap < 1e-9
        assert state[eq.E1] == pytest.approx(
            p.ambient_pressure * rules.volumes(p, 0.0, 0.0)[0] / (GAMMA - 1.0)
        )
