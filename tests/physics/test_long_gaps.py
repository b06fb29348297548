"""Leaks through long narrow gaps: the laminar law against an integration of its own, and its limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from wave_balance import balance

import blasterlab as bl
from blasterlab.air import viscosity
from blasterlab.shot import from_build as pack
from blasterlab.shot import rules
from blasterlab.shot.orifice import INVERSE, leak
from blasterlab.shot.parameters import GAMMA
from blasterlab.waves.gas_shot import wave_run
from blasterlab.waves.openings import CP_OVER_R, orifice_rate

BUILD = bl.demo_build("workhorse").replace(
    {"losses.seal_leak_area": "2 mm^2", "losses.blowby_area": "1.5 mm^2"}
)
LONG = BUILD.replace({"losses.seal_leak_length": "6 mm", "losses.blowby_length": "20 mm"})
VOLUME = 2e-5


def flow(area: float, laminar: float, pressure: float, temperature: float) -> tuple[float, float, float]:
    """Rate, enthalpy rate and slope out of a volume at a pressure, to the build's ambient air."""
    gas = LONG.si["air.gas_constant"]
    e = INVERSE * pressure * VOLUME
    outside = INVERSE * gas * LONG.si["air.temperature"]
    m = pressure * VOLUME / (gas * temperature)
    return leak(area, laminar, (GAMMA - 1.0) / VOLUME, e, m, LONG.si["air.pressure"], outside)


def integrated(p1: float, p2: float, width: float, around: float, length: float) -> float:
    """The rate by which pressure falls from p1 to p2 along a gap, momentum balance integrated over both ways.

    Across the gap the shear of a Newtonian gas carries the pressure's fall, u(y) = (-dp/dx) y (h - y) / 2 mu;
    along it the same mass passes everywhere, at the walls' temperature.
    """
    gas, t = LONG.si["air.gas_constant"], LONG.si["air.temperature"]
    per_fall = quad(lambda y: y * (width - y) / (2.0 * viscosity(t)), 0.0, width)[0]

    def end(rate: float) -> float:
        along = solve_ivp(
            lambda _x, p: -rate * gas * t / (p * around * per_fall),
            (0.0, length),
            [p1],
            rtol=1e-10,
            atol=1e-6,
        )
        return float(along.y[0, -1]) - p2

    most = (p1**2 - (0.5 * p2) ** 2) * around * per_fall / (2.0 * gas * t * length)
    return float(brentq(end, 0.0, most, xtol=1e-18, rtol=1e-12))


@pytest.mark.parametrize("loss", ["seal", "blowby"])
@pytest.mark.parametrize("over", [1.02, 1.3, 2.0])
def test_the_law_is_what_the_momentum_balance_integrates_to(loss: str, over: float) -> None:
    """R. B. Bird, W. E. Stewart, E. N. Lightfoot, *Transport Phenomena*, 2nd ed., 2002, ch. 2: laminar flow
    in a narrow slit; here integrated again, for a gas that expands on its way."""
    v, p = LONG.si, pack.parameters(LONG.si)
    name, bore = ("seal_leak", "chamber.bore") if loss == "seal" else ("blowby", "barrel.bore")
    area, length, around = v[f"losses.{name}_area"], v[f"losses.{name}_length"], math.pi * v[bore]
    inside, outside = over * v["air.pressure"], v["air.pressure"]
    rate = flow(area, getattr(p, f"{loss}_laminar"), inside, 293.15)[0]
    assert rate == pytest.approx(integrated(inside, outside, area / around, around, length), rel=1e-8)
    assert 0.0 < rate < flow(area, 0.0, inside, 293.15)[0]


@pytest.mark.parametrize("pressure", [40e3, 90e3, 101e3, 101.325e3, 102e3, 150e3, 400e3])
def test_it_lets_through_no_more_than_an_orifice_and_the_less_the_longer(pressure: float) -> None:
    area, laminar = 1.5e-6, pack.parameters(LONG.si).blowby_laminar
    orifice = flow(area, 0.0, pressure, 300.0)
    rates = [abs(flow(area, laminar * short, pressure, 300.0)[0]) for short in (1e9, 1.0, 0.1, 0.01)]
    assert rates == sorted(rates, reverse=True)
    if abs(pressure - 101.325e3) > 1e3:
        assert flow(area, 1e9 * laminar, pressure, 300.0) == orifice
    _rate, power, slope = flow(area, 0.1 * laminar, pressure, 300.0)
    assert slope <= 0.0
    assert power * orifice[1] >= 0.0


def test_its_slope_is_that_of_its_rate() -> None:
    area, laminar, temperature = 1.5e-6, 0.1 * pack.parameters(LONG.si).blowby_laminar, 310.0
    gas, pressure = LONG.si["air.gas_constant"], 1.4e5
    for inside, carried in ((pressure, temperature), (6e4, LONG.si["air.temperature"])):
        step = 1e-6 * inside * VOLUME / (gas * temperature)  # of its mass, which takes its enthalpy with it
        less = inside - (GAMMA - 1.0) / VOLUME * step * GAMMA * INVERSE * gas * carried
        slope = (
            flow(area, laminar, less, temperature)[0] - flow(area, laminar, inside, temperature)[0]
        ) / step
        assert flow(area, laminar, inside, temperature)[2] == pytest.approx(slope, rel=1e-5)


def test_a_long_gap_costs_less_speed_and_a_length_without_a_gap_nothing() -> None:
    tight = BUILD.replace({"losses.seal_leak_area": "0 mm^2", "losses.blowby_area": "0 mm^2"})
    speeds = [bl.simulate(build).muzzle_velocity.m for build in (tight, LONG, BUILD)]
    assert speeds == sorted(speeds, reverse=True)
    assert speeds[0] - speeds[1] > 0.01
    none = tight.replace({"losses.seal_leak_length": "6 mm", "losses.blowby_length": "20 mm"})
    assert bl.simulate(none).muzzle_velocity == bl.simulate(tight).muzzle_velocity


def test_one_and_many_and_the_text_agree() -> None:
    builds = [BUILD, LONG, bl.demo_build("two_springs"), LONG.replace({"losses.blowby_length": None})]
    many = bl.simulate_many(builds)
    for place, build in enumerate(builds):
        again = bl.Build.from_text(build.to_text())
        assert again == build
        shot = bl.simulate(again)
        assert shot.muzzle_velocity.m == many.muzzle_velocity.m[place]
        assert shot.outcome.ledger_gap < 1e-6
    assert "_length" not in BUILD.to_text().partition("[losses]")[2]


def test_stiff_leaks_through_long_gaps_are_solved_for() -> None:
    """Gaps so wide that the pressure behind a dart is the outside's within microseconds."""
    values = dict(LONG.si) | {"losses.blowby_area": 8e-5, "barrel.dead_volume": 1e-8}
    rows = pack.rows(values | {"losses.blowby_length": np.array([0.0, 1e-4, 1e-3, 0.03, 0.5])}, 5)
    many = bl.shot.many.simulate_rows(rows)
    assert not set(many.outcome.status) & {rules.FAILED, rules.TIME_OUT}
    assert max(many.outcome.ledger_gap) < 1e-6


@pytest.mark.parametrize("bad", ["-1 mm", "2 m", "1 g", "0 mm"])
def test_a_length_that_cannot_be_is_refused_by_name(bad: str) -> None:
    with pytest.raises(bl.BuildError, match=r"losses\.seal_leak_length: got"):
        BUILD.replace({"losses.seal_leak_length": bad})


@pytest.mark.parametrize("over", [1.001, 1.05, 1.5, 3.0])
def test_with_gas_waves_a_long_gap_lets_through_what_the_shot_model_lets(over: float) -> None:
    area, laminar = 1.5e-6, pack.parameters(LONG.si).blowby_laminar
    gas, outside = LONG.si["air.gas_constant"], LONG.si["air.pressure"]
    h0 = CP_OVER_R * gas * 293.15
    for share in (0.1, 1.0):
        long = flow(area, share * laminar, over * outside, 293.15)[0]
        assert orifice_rate(over * outside, h0, outside, area, share * laminar) == pytest.approx(
            long, rel=1e-9
        )
        assert orifice_rate(over * outside, h0, outside, area) > 1.05 * long


@pytest.mark.parametrize(("other", "near"), [("blowby_area", 0.01), ("seal_leak_area", 0.2)])
def test_a_dart_too_slow_for_waves_loses_as_much_through_a_long_gap_in_both_models(
    other: str, near: float
) -> None:
    """A dart of 20 g before a large charge.  Past it goes the air that the charge has heated most, which two
    pressures mix with the rest: so the energy there agrees less well."""
    slow: dict[str, str | float | None] = {
        "dart.mass": "20 g", "barrel.length": "10 cm", "chamber.dead_volume": "40 cm^3",
        "losses.dart_friction": "0 N", "losses.dart_breakaway": "0 N", f"losses.{other}": "0 mm^2",
    }  # fmt: skip
    long = LONG.replace(slow)
    short = long.replace({"losses.seal_leak_length": None, "losses.blowby_length": None})
    given = [pack.parameters(build.si, 300e3) for build in (long, short)]
    waves = [wave_run(p, 4e-3) for p in given]
    leaked = [balance(p, run).leaked for p, run in zip(given, waves, strict=True)]
    model = bl.simulate(long, charge="300 kPa")
    assert waves[0].outcome.muzzle_velocity == pytest.approx(model.muzzle_velocity.m, rel=0.003)
    assert leaked[0] == pytest.approx(model.ledger["leaks"].m, rel=near)
    assert leaked[1] > 4.0 * leaked[0]
