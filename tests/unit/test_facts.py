"""Facts and choices that no other test pins: each moved by a few per cent would change an answer unnoticed.

A choice of the kit stands here beside its place in the package, so that it is changed in both or not at all.
"""

from __future__ import annotations

import csv
import inspect
import math
from decimal import Decimal, localcontext
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.stats import binomtest, linregress

import blasterlab as bl
from blasterlab import air, units
from blasterlab.bench import cells, significance, source, summary
from blasterlab.bench.reading import read_text
from blasterlab.checks import prime, spring_limits
from blasterlab.flight import comparison, dispersion, flat_fire, stability
from blasterlab.flight import equations as flight
from blasterlab.parts import losses, priors, rate_tolerance
from blasterlab.shot import assumptions, equations, ledger, rules, speed_range
from blasterlab.shot.from_build import parameters

TABLES = Path(__file__).resolve().parents[2] / "data" / "tables"
CHOICES = {
    "dart speed over that of sound, from which a shot warns": (assumptions.MACH, 0.5),
    "wave transit over the shot's length, from which it warns": (assumptions.TRANSIT, 0.35),
    "W/(m K), air at 20 degC, CRC Handbook of Chemistry and Physics": (equations.CONDUCTIVITY, 0.0257),
    "N to start a load, women, HSE L23": (prime._SCALE["start women"], 150.0),
    "N, greatest mean pull, women standing, Das & Wang 2004": (prime._SCALE["pull women"], 244.0),
    "N, greatest mean pull, men, Das & Wang 2004": (prime._SCALE["pull men"], 400.0),
    "share of speed that one setting up differs from the next": (speed_range.SETUP, 0.005),
    "coils that a count may be off, common practice": (rate_tolerance._COILS, 0.25),
    "discharge of a port, common practice": (losses.Losses().port_discharge, 0.8),
    "share of the plunger's greatest speed below which it does not rebound": (rules.REBOUND, 1e-3),
    "s after which a dart that is still in is given up": (rules.TIME_LIMIT, 0.5),
    "s of a flight, after which it is given up": (flight.LONGEST, 120.0),
    "crossflow drag of a long cylinder, NASA TR R-474": (stability.CROSSFLOW_DRAG, 1.2),
    "share of mass and drag that a wild draw leaves a dart": (dispersion._LEAST, 0.05),
    "m/s above which a bare number is feet": (source._SURELY_FEET[0], 200.0),
}


@pytest.mark.parametrize("what", CHOICES)
def test_a_choice_is_changed_in_two_places(what: str) -> None:
    in_package, here = CHOICES[what]
    assert in_package == here


def rows(name: str) -> list[dict[str, str]]:
    lines = (TABLES / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def test_patented_wire_falls_with_the_logarithm_of_its_diameter() -> None:
    """EN 10270-1 rounds a straight line in lg d to tens: each row lies on the line through the others."""
    table = [row for row in rows("wire_en10270_strength") if row["SM_mark"] == "published"]
    assert len(table) > 10
    size, strength = (np.array([float(row[key]) for row in table]) for key in ("d_mm", "SM_min_MPa"))
    for place in range(len(table)):
        others = np.arange(len(table)) != place
        line = np.polyfit(np.log10(size[others]), strength[others], 1)
        assert strength[place] == pytest.approx(np.polyval(line, np.log10(size[place])), abs=9.0)


def test_music_wire_is_the_same_in_both_units() -> None:
    for row in rows("wire_a228_min_strength"):
        assert float(row["d_mm"]) == pytest.approx(25.4 * float(row["d_in"]), abs=1e-4)
        assert float(row["min_MPa"]) == pytest.approx(6.894757 * float(row["min_ksi"]), abs=0.51)


def test_heat_capacity_of_vapour_in_the_speed_of_sound() -> None:
    """c² ρ/p = γ, γ/(γ - 1) = c_p/R, weighted by moles; c_p of the vapour from an equation of state."""
    coolprop = pytest.importorskip("CoolProp.CoolProp")
    warm, pressure = 328.15, 101_325.0
    vapour = coolprop.PropsSI("CP0MOLAR", "T", 298.15, "P", 1000.0, "Water") / 8.314462618
    square = air.speed_of_sound(warm, pressure, 1.0) ** 2
    gamma = square * air.density(warm, pressure, 1.0) / pressure
    share = coolprop.PropsSI("P", "T", warm, "Q", 1.0, "Water") / pressure
    assert gamma / (gamma - 1.0) == pytest.approx(3.5 + (vapour - 3.5) * share, abs=2e-3)


def test_walls_take_the_heat_of_a_half_space() -> None:
    """Carslaw and Jaeger, *Conduction of Heat in Solids*, 2nd ed., 1959, sec. 2.5: k dT / sqrt(pi a t)."""
    p = parameters(bl.demo_build("workhorse").replace({"losses.wall_heat": "conduction"}).si)
    time, pressure, hot = 2e-3, 2e5, 350.0
    density = pressure / (p.gas_constant * hot)
    diffusivity = 0.0257 / (density * 3.5 * p.gas_constant)
    flux = 0.0257 * (hot - p.ambient_temperature) / math.sqrt(math.pi * diffusivity * time)
    bore, length = 0.03, 0.1
    area = math.pi / 4.0 * bore**2
    walls = math.pi * bore * length + 2.0 * area
    found = equations.wall_heat(p, time, area, area * length, pressure, hot)
    assert found == pytest.approx(flux * walls, rel=1e-9)


@pytest.mark.parametrize(("share", "told"), [(0.98, True), (1.02, False)])
def test_air_as_heavy_as_the_dart_is_told(share: float, told: bool) -> None:
    """Lagrange's gradient is for gas lighter than the projectile (Corner 1950)."""
    shot = bl.simulate(bl.demo_build("workhorse"))
    p = parameters(shot.build.si)
    ahead = (
        p.ambient_pressure
        / (p.gas_constant * p.ambient_temperature)
        * p.barrel_area
        * (p.length - p.dart_length)
    )
    state = np.zeros(equations.STATES)
    state[equations.M2], state[equations.E2] = 0.5 * ahead, 0.5 * ahead * 2e5
    found = assumptions.broken_assumptions(p._replace(dart_mass=share * ahead), shot.outcome, state, [])
    assert ("heavy air" in [one.code for one in found]) == told


def test_the_front_stop_is_the_plungers() -> None:
    shot = bl.simulate(bl.demo_build("workhorse"))
    p = parameters(bl.demo_build("workhorse").si)
    hit = shot.outcome._replace(stop_energy=shot.outcome.stop_energy + 1.0)
    before, after = (ledger.net_ledger(p, outcome, shot.state) for outcome in (shot.outcome, hit))
    moved = {name: after[name] - before[name] for name in after if after[name] != before[name]}
    assert moved == {"plunger and stop": pytest.approx(1.0)}


def test_degrees_of_freedom_of_two_unlike_strings() -> None:
    """B. L. Welch, *Biometrika* 34, 28 (1947): (a + b)² / (a²/(n - 1) + b²/(m - 1)), a = s²/n."""
    a, b = 1.0**2 / 5, 2.0**2 / 9
    found = significance.welch((60.0, 1.0, 5), (61.0, 2.0, 9), 0.95).dof
    assert found == pytest.approx((a + b) ** 2 / (a**2 / 4 + b**2 / 8))


def test_nine_in_ten_of_a_normal_spread() -> None:
    from scipy.stats import norm

    assert pytest.approx(norm.ppf(0.95), rel=1e-14) == priors.NINE_IN_TEN


def test_half_widths_of_even_spreads_add_as_variances() -> None:
    """JCGM 100:2008, 4.3.7: an even spread of half width a has the standard uncertainty a/sqrt(3); k = 2."""
    spread = bl.as_bought(bl.demo_build("workhorse").springs[0])
    assert spread.fraction == pytest.approx(2 * math.sqrt(sum(s**2 / 3 for s in spread.shares.values())))


def test_timing_grows_with_the_square_of_the_speed() -> None:
    """JCGM 100:2008, eq. 10, for v = L/t: u(v) = v² u(t)/L."""
    screens = bl.Chronograph(spacing="0.2 m", timing_uncertainty="2 us")
    assert screens.alone("60 m/s").m_as("m/s") == pytest.approx(60.0**2 * 2e-6 / 0.2)


@pytest.mark.parametrize("outer, told", [("7.4 mm", True), ("7.6 mm", False)])
def test_the_scope_of_the_tolerances_begins_at_index_four(outer: str, told: bool) -> None:
    """EN 15800:2008, Table 1: 4 <= D/d <= 20."""
    spring = bl.Spring("1.5 mm", outer, "60 mm", 20)
    words = [str(found) for found in bl.spring_findings(spring, "58 mm")]
    assert any("hard to coil" in each for each in words) == told


def test_a_spring_between_two_seats_has_fixed_ends() -> None:
    """EN 13906-1:2013: seating coefficient 0.5 for both ends guided and fixed."""
    assert inspect.signature(spring_limits.limits).parameters["seating"].default == 0.5


@pytest.mark.parametrize("share, fits", [(0.149, True), (0.152, False)])
def test_foam_is_squashed_by_fifteen_per_cent(share: float, fits: bool) -> None:
    wide = {"dart.diameter": units.quantity(12.9 / (1.0 - share), "mm")}
    if fits:
        bl.demo_build("workhorse").replace(wide)
        return
    with pytest.raises(bl.BuildError, match="squash"):
        bl.demo_build("workhorse").replace(wide)


def test_units_that_are_shown() -> None:
    shown = {kind: (units.KINDS[kind].metric, units.KINDS[kind].us) for kind in units.KINDS}
    assert shown["friction per pressure"] == ("N/kPa", "lbf/psi")
    assert shown["stress"] == ("MPa", "kpsi")
    assert shown["pressure"] == ("kPa", "psi")


def test_readings_that_no_column_parts() -> None:
    """Several speeds a line lie within three times each other; wider apart, they are asked about."""
    assert len(read_text("20 30 59\n21 31 60").values) == 6
    with pytest.raises(cells.StringError, match="which of its columns"):
        read_text("20 30 65\n21 31 66")


def test_a_shot_number_told_twice_is_still_a_shot_number() -> None:
    assert read_text("1,60.1\n1,60.1\n2,60.4\n3,60.9").values == [60.1, 60.4, 60.9]


def test_spread_is_a_summary() -> None:
    assert cells.is_summary("spread:")
    assert not cells.is_summary("spreads")


def test_the_drop_of_slow_drag_from_its_closed_form() -> None:
    """McCoy 1999, ch. 5, in 50 digits: the series of the package must join it."""
    with localcontext() as digits:
        digits.prec = 50
        u = Decimal("9.9e-4")
        growth = ((2 * u).exp() - 2 * u - 1) / (4 * u * u)
    drop = flat_fire.flat_fire(9.9e-4, 1.0, 1.0)[2]
    assert drop == pytest.approx(9.80665 * float(growth), rel=1e-11)


SHAPES = {
    "flat": lambda x: 1.0 + 0.0 * x,
    "round": lambda x: np.sqrt(1.0 - (1.0 - x) ** 2),
    "cone": lambda x: x,
}


@pytest.mark.parametrize("nose", stability.NOSES)
def test_noses_are_the_bodies_that_they_are_called(nose: str) -> None:
    """Volume, its centre, side area and its centre, by the midpoint rule over radius against length."""
    x = (np.arange(200_000) + 0.5) / 200_000
    radius = SHAPES[nose](x)
    volume, side = np.mean(radius**2), np.mean(radius)
    found = (volume, np.mean(x * radius**2) / volume, side, np.mean(x * radius) / side)
    assert tuple(stability.NOSES[nose]) == pytest.approx(found, rel=1e-6)


def test_scatter_of_a_mean_is_that_of_textbooks() -> None:
    """JCGM 100:2008, 4.2.3: s / sqrt(n) of the mean of n readings."""
    dart = bl.Projectile("1 g", "12.7 mm", 0.7)
    exact = {"distance_uncertainty": "0 m", "speed_uncertainty": 0.0, "time_uncertainty": "0 s"}
    many = bl.drag_from_time(
        dart, ["40 m/s", "41 m/s", "40 m/s"], ["330 ms", "320 ms", "335 ms"], distance="10 m", **exact
    )
    assert many.standard_uncertainty == pytest.approx(np.std(many.readings, ddof=1) / math.sqrt(3), rel=1e-9)


def test_a_hit_chance_has_wilsons_interval() -> None:
    found = bl.group(
        bl.Projectile("1 g", "12.7 mm", 0.7), "40 m/s", distance="10 m", pointing="5 mrad", draws=300
    )
    chance = found.hit_chance(diameter="10 cm")
    other = binomtest(round(300 * chance.value), 300).proportion_ci(found.level, "wilson")
    assert (chance.low, chance.high) == pytest.approx((other.low, other.high), rel=1e-9)


def test_a_trend_is_that_of_a_library() -> None:
    values = [61.2, 60.8, 61.9, 61.5, 62.0, 61.4, 62.3]
    found, other = significance.trend(values), linregress(range(7), values)
    assert tuple(found)[:2] == pytest.approx((other.slope, other.stderr), rel=1e-12)
    assert found.p == pytest.approx(other.pvalue, rel=1e-9)


@pytest.mark.parametrize(("p", "drifts"), [(0.049, True), (0.051, False)])
def test_a_trend_is_told_at_five_per_cent(p: float, drifts: bool) -> None:
    string = SimpleNamespace(count=10, trend=SimpleNamespace(p=p))
    assert summary.Summary.drifts.fget(string) == drifts  # type: ignore[attr-defined]


def test_a_group_is_odd_outside_of_the_middle() -> None:
    larger = {"a": 0.049, "b": 0.051, "c": 0.949, "d": 0.951}
    assert comparison.Comparison({}, larger, 0.9).odd == ("a", "d")
