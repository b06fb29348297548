"""The shot model, the gas waves and the chain of the spring follow the same rules of plunger and dart."""

import numpy as np
import pytest
from wave_balance import balance

from blasterlab.shot import integrate as model
from blasterlab.shot import rules
from blasterlab.shot.equations import STATES, W
from blasterlab.shot.parameters import Parameters
from blasterlab.waves.chain_shot import ChainMoment, chain_run
from blasterlab.waves.gas_shot import GasMoment, wave_run

LIGHT = 1e-3  # kg, a spring too light to matter


def shot(**changes):
    """An invented build in SI floats, changed as told."""
    numbers = dict.fromkeys(Parameters._fields, 0.0)
    numbers |= {
        "rate1": 600.0, "catch_compression1": 0.11, "plunger_mass": 0.04, "plunger_area": 8e-4,
        "stroke": 0.08, "chamber_dead": 2e-6, "port_area": 5e-5, "barrel_area": 1.33e-4, "length": 0.25,
        "barrel_dead": 1e-6, "dart_mass": 1e-3, "dart_length": 0.036, "seal_friction": 3.0,
        "seal_breakaway": 3.0, "dart_friction": 1.0, "dart_breakaway": 3.0, "gas_inertia": 1.0,
        "air_ahead": 1.0, "ambient_pressure": 101_325.0, "ambient_temperature": 293.15,
        "gas_constant": 287.05,
    }  # fmt: skip
    return Parameters(**{**numbers, **changes})


def all_models(p):
    x = np.empty(STATES)
    outcome = model.integrate(p, 1e-8, 1.0, x, np.empty((0, model.COLUMNS)))
    gas = wave_run(p, 4e-3)
    chain, _ = chain_run(p._replace(plunger_mass=p.plunger_mass - LIGHT / 3.0), (LIGHT,), 10)
    return outcome, float(x[W]), gas, chain


CASES = [
    {},
    {"stop_restitution": 0.5, "dart_mass": 3e-3, "port_area": 1e-4},
    {"dart_breakaway": 80.0},
    {"dart_breakaway": 80.0, "stop_restitution": 0.9},
    {"seal_breakaway": 200.0},
    {"rate1": 300.0, "dart_friction": 6.0, "dart_breakaway": 6.0, "length": 0.8},
    {"seal_breakaway": 0.0, "seal_friction": 0.0, "dart_breakaway": 0.0, "dart_friction": 0.0},
    {"seal_breakaway": 1.0, "seal_friction": 4.0, "dart_breakaway": 0.5, "dart_friction": 2.0},
]


@pytest.mark.parametrize("changes", CASES)
def test_all_models_end_alike(changes):
    outcome, speed, gas, chain = all_models(shot(**changes))
    residual, gas = balance(shot(**changes), gas).residual, gas.outcome
    assert outcome.status == gas.status == chain.status
    assert (gas.time, chain.time) == pytest.approx((outcome.time, outcome.time), rel=0.01, abs=3e-3)
    if outcome.status == rules.EXITED:
        assert (gas.muzzle_velocity, chain.muzzle_velocity) == pytest.approx((speed, speed), rel=0.02)
    scale = max(outcome.spring_work, 0.1)
    assert abs(residual) < 1e-6 * scale
    assert abs(chain.residual) < 1e-5 * scale


def test_a_plunger_that_hammers_behind_a_long_barrel_comes_to_an_end():
    # a dart that is sucked back by a rebounding plunger meets the breech, or turns; it never runs on
    p = shot(stop_restitution=0.9, length=0.9, rate1=250.0)
    outcome, _, gas, chain = all_models(p)
    assert outcome.status == gas.outcome.status == chain.status == rules.STALLED
    heavy, _ = chain_run(p, (0.03,), 40)
    assert heavy.status == rules.STALLED
    assert heavy.muzzle_velocity == 0.0


@pytest.mark.parametrize(("restitution", "rebounds"), [(1e-3, False), (1.5e-3, True)])
def test_a_slow_rebound_is_none_in_any_model(restitution, rebounds):
    # the plunger hits at 4.5 m/s, all the energy would give it 5.6: slower than a thousandth of that is none
    p = shot(stop_restitution=restitution, plunger_mass=0.2, port_area=1.3e-4, length=0.9)
    gas = GasMoment(*wave_run(p, 4e-3, every=1e-6, rows=90_000, t_max=0.04).history.T)
    own = p._replace(plunger_mass=0.2 - LIGHT / 3.0)
    chain = ChainMoment(*chain_run(own, (LIGHT,), 10, rows=90_000, every=1e-6, t_max=0.04)[1].T)
    for moments in (gas, chain):
        at_stop = (moments.plunger_travel > 0.9999 * p.stroke) & (moments.plunger_speed < 0.1)
        first = int(
            np.argmax(at_stop)
        )  # within a microsecond of the impact, in which its speed changes little
        assert first > 0
        assert moments.plunger_speed[first - 1] == pytest.approx(4.54, abs=0.05)
        expected = -restitution * 4.54 if rebounds else 0.0
        assert moments.plunger_speed[first] == pytest.approx(expected, abs=1e-3)
