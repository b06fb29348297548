"""Flow through a hole, discharge of a chamber, a spring without gas: textbook values and the kernel's own.

* Flow function and choked flow: A. J. C. B. de Saint-Venant, L. Wantzel, *J. École Polytech.* 16, 85 (1839);
  tables in NACA Report 1135 (1953).  Figures: the formula for gamma 1.4, R 287.05 J/(kg K), 293.15 K.
* Choked blowdown: A. H. Shapiro, *The Dynamics and Thermodynamics of Compressible Fluid Flow*, vol. 1, 1953.
* Spring mass: Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, sec. 156.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from random_shots import area, draw, run
from wave_limits import lagrange_problem, moving_fraction, piston_shock

from blasterlab import limits, tables, units
from blasterlab.shot import equations as k
from blasterlab.shot import integrate as stepper
from blasterlab.shot import orifice as o

QUIET = dict.fromkeys(
    (
        "seal_friction",
        "seal_breakaway",
        "seal_friction_per_pressure",
        "seal_leak_area",
        "blowby_area",
        "wall_heat",
        "rate2",
        "catch_compression2",
        "wave_mass1",
        "wave_mass2",
    ),
    0.0,
)


def test_naca_critical_pressure_ratio_and_flow() -> None:
    """NACA Report 1135 (1953), table I at M = 1: p/p_t = 0.5283."""
    assert round(o.CRITICAL, 4) == 0.5283
    assert pytest.approx(0.528282, abs=5e-7) == o.CRITICAL
    assert pytest.approx(0.684731, abs=5e-7) == o.CHOKED


@pytest.mark.parametrize(
    ("ratio", "share"),
    [(0.99, 0.20543), (0.95, 0.44929), (0.9, 0.61715), (0.8, 0.81880), (0.7, 0.93222), (0.6, 0.98859)],
)
def test_flow_function(ratio: float, share: float) -> None:
    assert o.flow_function(ratio, o.PATCH)[0] / o.CHOKED == pytest.approx(share, abs=6e-6)


def test_the_series_is_the_law_within_a_ten_billionth() -> None:
    ratios = np.linspace(o.CRITICAL, o.PATCH.start, 5000)[1:-1]
    law = o.flow_law(ratios)
    found = np.array([o.flow_function(r, o.PATCH) for r in ratios])
    assert np.abs(found[:, 0] / law - 1.0).max() < 1e-10
    middle = np.gradient(law, ratios)[200:-200]
    assert np.abs(found[200:-200, 1] - middle).max() < 1e-4


def test_the_cubic_near_equal_pressures_meets_the_law_smoothly() -> None:
    below, above = (o.flow_function(o.PATCH.start + sign * 1e-9, o.PATCH) for sign in (-1, 1))
    assert above[0] == pytest.approx(below[0], rel=1e-6)
    assert above[1] == pytest.approx(below[1], rel=1e-5)
    assert o.flow_function(1.0, o.PATCH)[0] == 0.0


def test_choked_and_unchoked_flow() -> None:
    hole = units.quantity(math.pi / 4 * 25.0, "mm^2")
    assert limits.orifice_flow(hole, "200 kPa", "101.325 kPa").m_as("g/s") == pytest.approx(9.26950, abs=5e-6)
    assert limits.orifice_flow(hole, "150 kPa", "101.325 kPa").m_as("g/s") == pytest.approx(6.60953, abs=5e-6)


def test_the_hole_is_the_same_in_both_directions() -> None:
    there = limits.orifice_flow("10 mm^2", "150 kPa", "101.325 kPa")
    back = limits.orifice_flow("10 mm^2", "101.325 kPa", "150 kPa")
    assert there == -back


@pytest.mark.parametrize("mach", [0.1, 0.3, 0.5, 0.7, 0.9])
def test_flow_function_is_the_area_ratio_of_isentropic_flow(mach: float) -> None:
    """NACA Report 1135 (1953): p/p_t = (1 + (g-1)/2 M^2)^(-g/(g-1)) and A*/A: the law in Mach numbers."""
    stretch = 1.0 + 0.2 * mach**2
    share = mach * (1.2 / stretch) ** 3
    assert o.flow_function(stretch**-3.5, o.PATCH)[0] / o.CHOKED == pytest.approx(share, rel=2e-10)


@pytest.mark.parametrize(("upstream", "flow"), [(200e3, 9.26950), (150e3, 6.60953)])
@pytest.mark.parametrize("forward", [True, False])
def test_the_kernel_passes_that_flow_through_its_port(upstream: float, flow: float, forward: bool) -> None:
    p = draw(np.random.default_rng(0), port_area=area(0.005), chamber_dead=10e-6, barrel_dead=10e-6)
    x = np.zeros(k.STATES)
    x[k.S] = p.stroke
    pressures = (upstream, 101325.0) if forward else (101325.0, upstream)
    for m, e, pressure in zip((k.M1, k.M2), (k.E1, k.E2), pressures, strict=True):
        x[e] = pressure * 10e-6 / (k.GAMMA - 1.0)
        x[m] = pressure * 10e-6 / (287.05 * 293.15)
    assert 1e3 * k.port(p, x)[0] == pytest.approx(flow if forward else -flow, abs=5e-6)


def test_iso_6358_quarter_ellipse_is_near_the_orifice_law() -> None:
    """ISO 6358:1989 (the formula: from memory): with b of a smooth nozzle within 0.2 % of the choked flow."""
    ratios = np.linspace(0.0, 1.0, 2001)[:-1]
    ellipse = np.sqrt(1.0 - (np.maximum(ratios - o.CRITICAL, 0.0) / (1.0 - o.CRITICAL)) ** 2)
    law = np.where(
        ratios > o.CRITICAL,
        o.flow_law(np.maximum(ratios, o.CRITICAL)) / o.CHOKED,
        1.0,
    )
    gap = law - ellipse
    assert 1e-3 < gap.max() < 2e-3  # the two are not the same law
    assert gap.min() > -1e-9


HOLE = 0.85 * area(0.005)
BOTTLE = {
    "charge": 300e3, "chamber_dead": 50e-6, "ambient_pressure": 101325.0, "ambient_temperature": 293.15,
    "gas_constant": 287.05, "wall_heat": 0.0, "blowby_area": 0.0,
}  # fmt: skip


def blowdown_time(end: float) -> float:
    """Time [ms] in which `BOTTLE` empties through `HOLE`, choked, to a pressure [kPa] (Shapiro 1953).

    P/P0 = [1 + (g-1) t / (2 tau)]^(-2g/(g-1)), tau = m0 / m0'.
    """
    hole = units.quantity(1e6 * HOLE, "mm^2")
    first = limits.orifice_flow(hole, "300 kPa", "101.325 kPa").m_as("kg/s")
    tau = 1e3 * 300e3 * 50e-6 / (287.05 * 293.15) / first
    assert tau == pytest.approx(15.0826, abs=1e-4)
    return 2.0 * tau / (k.GAMMA - 1.0) * ((end / 300.0) ** (-(k.GAMMA - 1.0) / (2.0 * k.GAMMA)) - 1.0)


def test_blowdown_in_closed_form() -> None:
    assert blowdown_time(191.801) == pytest.approx(4.97647, abs=1e-4)


@pytest.mark.parametrize(
    "way",
    [
        {"seal_leak_area": HOLE, "port_area": 1e-12},  # through the seal, outside
        {
            "port_area": HOLE,
            "barrel_dead": 10.0,
            "seal_leak_area": 0.0,
            "dart_breakaway": 1e6,
        },  # through the port
    ],
    ids=["seal leak", "port"],
)
def test_a_charged_chamber_empties_in_that_time(way: dict[str, float]) -> None:
    p = draw(np.random.default_rng(0), **BOTTLE, **way)
    record, state = np.empty((5000, stepper.COLUMNS)), np.empty(k.STATES)
    rows = record[: stepper.integrate(p, 1e-9, 1e-5, state, record).records]
    for end in (280.0, 250.0, 220.0, 191.801):
        time = 1e3 * np.interp(-1e3 * end, -rows[:, stepper.CHAMBER], rows[:, stepper.TIME])
        assert time == pytest.approx(blowdown_time(end), rel=2e-5)
    assert time == pytest.approx(4.97647, rel=2e-5)


def test_a_spring_without_gas() -> None:
    """600 N/m, 120 to 30 mm, 30 g with a 40 g spring: the formula's value, and the kernel in thin air.

    At 0.01 Pa and on a plunger of a square millimetre the gas takes about a nanojoule of the spring's 4 J.
    """
    closed = math.sqrt(600.0 * (0.12**2 - 0.03**2) / (0.03 + 0.04 / 3.0))  # Rayleigh: a third of the spring
    assert closed == pytest.approx(13.6720, abs=5e-5)
    p = draw(
        np.random.default_rng(0), **QUIET, rate1=600.0, catch_compression1=0.12, stroke=0.09,
        plunger_mass=0.03 + 0.04 / 3,
        ambient_pressure=0.01, plunger_area=1e-6, dart_breakaway=5.0,
    )  # fmt: skip
    assert run(p, 1e-9)[0].impact_speed == pytest.approx(13.6720, abs=1e-4)


def test_a_blocked_port_takes_adiabatic_work() -> None:
    """The plunger turns when the spring has given the work of adiabatic compression (nothing lost)."""
    p = draw(
        np.random.default_rng(0),
        **QUIET,
        rate1=200.0,
        catch_compression1=0.1,
        stroke=0.09,
        plunger_area=area(0.035),
        chamber_dead=5e-6,
        port_area=1e-14,
        ambient_pressure=101325.0,
        dart_breakaway=1e3,
    )
    record, state = np.empty((20_000, stepper.COLUMNS)), np.empty(k.STATES)
    outcome = stepper.integrate(p, 1e-9, 2e-5, state, record)
    rows = record[: outcome.records]
    first = p.plunger_area * p.stroke + p.chamber_dead
    farthest = rows[np.argmax(rows[:, stepper.AT + k.S]), stepper.AT + k.S]
    ends = (float(1e6 * first), float(1e6 * (first - p.plunger_area * farthest)))
    volume = [units.quantity(end, "cm^3") for end in ends]
    assert farthest < p.stroke
    work = limits.compression_work(*volume).m_as("J")
    assert k.spring_work(p, farthest) == pytest.approx(work, rel=1e-5)


def test_the_exact_share_of_a_spring_that_moves() -> None:
    table = tables.read("reference/spring_effective_mass")
    rows = [(float(r), float(f)) for r, f in zip(table["m_over_M"], table["exact_mass_fraction"], strict=True)
            if np.isfinite(float(r))]  # fmt: skip
    assert len(rows) >= 5
    for ratio, share in rows:
        assert moving_fraction(ratio) == pytest.approx(share, abs=2e-6)
    assert moving_fraction(5.0) == pytest.approx(0.379317, abs=5e-7)
    assert moving_fraction(1e6) == pytest.approx(4.0 / math.pi**2, abs=1e-5)
    assert moving_fraction(1e-3) == pytest.approx(1.0 / 3.0, abs=1e-4)  # Rayleigh's third


LAGRANGE = ("500 kPa", "30 cm", "12.9 mm", "1 g")


def test_lagrange_problem_until_the_first_echo() -> None:
    """A. E. H. Love, F. B. Pidduck, *Phil. Trans. R. Soc. A* 222 (1922): 500 kPa, 0.30 m, 12.9 mm, 1 g."""
    found = lagrange_problem(*LAGRANGE)
    assert found.time.m_as("ms") == pytest.approx(1.922631, abs=5e-7)
    assert found.speed.m_as("m/s") == pytest.approx(101.0546, abs=5e-5)
    assert found.travel.m_as("m") == pytest.approx(0.104008, abs=5e-7)


def test_the_lumped_kernel_is_too_fast_there_and_a_third_of_the_gas_mends_it() -> None:
    """J. Corner, *Theory of the Interior Ballistics of Guns*, 1950: Lagrange's correction m + C/3.

    The kernel with one pressure gives 104.894 m/s at the place of the echo, 3.8 % above the exact value; with
    a third of the gas on the dart it comes within a thousandth of it.
    """
    exact = lagrange_problem(*LAGRANGE)
    hole, column = area(0.0129), 0.3 * area(0.0129)
    gas = 500e3 * column / (287.05 * 293.15)
    lumped = draw(
        np.random.default_rng(0), **(QUIET | BOTTLE), dart_friction_per_pressure=0.0, dart_friction=0.0,
    )._replace(
        charge=500e3, chamber_dead=column - 1e-10, barrel_dead=1e-10, port_area=area(0.3), barrel_area=hole,
        plunger_area=area(0.036), dart_breakaway=0.0, dart_mass=1e-3, dart_length=1e-9,
        length=exact.travel.m_as("m"), gas_inertia=0.0, air_ahead=0.0, ambient_pressure=1e-3,
    )  # fmt: skip
    speed = run(lumped, 1e-9)[1][k.W]
    assert speed == pytest.approx(104.894, rel=2e-5)
    assert speed / exact.speed.m_as("m/s") - 1.0 == pytest.approx(0.038, abs=5e-4)
    mended = run(lumped._replace(dart_mass=1e-3 + gas / 3.0), 1e-9)[1][k.W]
    assert mended == pytest.approx(exact.speed.m_as("m/s"), rel=1e-3)


@pytest.mark.parametrize("shock", [1.0, 1.2, 1.5, 2.0, 3.0])
def test_piston_shock_is_a_normal_shock(shock: float) -> None:
    """NACA Report 1135 (1953), normal shocks: p2/p1 = 1 + 7/6 (M^2 - 1), gas behind it at 5/6 (M - 1/M)."""
    piston = 5.0 / 6.0 * (shock - 1.0 / shock)
    assert piston_shock(piston) == pytest.approx(1.0 + 7.0 / 6.0 * (shock**2 - 1.0), rel=1e-12)


@pytest.mark.parametrize(
    ("call", "word"),
    [
        (lambda: limits.best_length("90 kPa", "50 cm^3", "12.9 mm"), "pressure"),
        (lambda: limits.best_length("300 kPa", "50 cm^3", "12.9 mm", law="magic"), "law"),
        (lambda: limits.best_length("300 kPa", "50 cm^3", "2 m"), "bore"),
        (lambda: limits.best_length("300 kPa", "50 cm^3", "12.9 mm", ambient="0 Pa"), "ambient: got 0"),
        (lambda: limits.best_length("300 kPa", "50 cm^3", "12.9 mm", friction="-1 N"), "friction"),
        (lambda: limits.reservoir_velocity("300 kPa", "50 cm^3", "12.9 mm", "1 g", "40 m"), "length"),
        (lambda: limits.reservoir_velocity("300 kPa", "50 cm^3", "12.9 mm", "0 g", "40 cm"), "mass"),
        (lambda: limits.reservoir_velocity(300e3, "50 cm^3", "12.9 mm", "1 g", "40 cm"), "pressure"),
        (lambda: limits.orifice_flow("-1 mm^2", "200 kPa", "100 kPa"), "area"),
        (lambda: limits.orifice_flow("1 mm^2", "200 kPa", "0 Pa"), "downstream"),
        (lambda: limits.orifice_flow("1 mm^2", "200 kPa", "100 kPa", "-280 degC"), "temperature"),
        (lambda: lagrange_problem("0 Pa", "30 cm", "12.9 mm", "1 g"), "pressure"),
        (lambda: piston_shock(-1.0), "mach"),
        (lambda: piston_shock(math.nan), "mach"),
        (lambda: moving_fraction(0.0), "mass_ratio"),
        (lambda: limits.compression_work("50 cm^3", "60 cm^3"), "end_volume"),
    ],
)
def test_what_cannot_be_is_refused_by_name(call, word: str) -> None:
    with pytest.raises(units.UnitError, match=word):
        call()
