"""A charged chamber behind a port that resists nothing: the closed form, and the model that tends to it.

Z. J. Rohrbach, T. R. Buresh, M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eqs 2 and 3; C. E. Mungan,
*Eur. J. Phys.* 30, 453 (2009).  The figures are those formulas evaluated for 300 kPa absolute, 50 cm^3, a
12.9 mm bore, 1.000 g, 0.400 m, gamma 1.4 and 101 325 Pa outside, to six or seven digits.
"""

from __future__ import annotations

import math

import pytest
from random_shots import area, run
from scipy.integrate import quad

import blasterlab as bl
from blasterlab import limits
from blasterlab.closed_forms.readers import AMBIENT
from blasterlab.closed_forms.reservoir_gun import read_gun
from blasterlab.shot import equations as k
from blasterlab.shot import rules
from blasterlab.shot.barrel_sweep import separate

CASE = ("300 kPa", "50 cm^3", "12.9 mm", "1 g", "40 cm")
GUN = k.Parameters(
    rate1=1.0,
    catch_compression1=0.1,
    rate2=0.0,
    catch_compression2=0.0,
    rate3=0.0,
    catch_compression3=0.0,
    plunger_mass=1.0,
    plunger_area=1.0,
    stroke=0.1,
    chamber_dead=50e-6 - 1e-9,
    port_area=area(0.5),
    barrel_area=area(0.0129),
    length=0.4,
    barrel_dead=1e-9,
    dart_mass=1e-3,
    dart_length=1e-9,
    seal_friction=0.0,
    seal_breakaway=0.0,
    seal_friction_per_pressure=0.0,
    seal_leak_area=0.0,
    dart_friction=0.0,
    dart_breakaway=0.0,
    dart_friction_per_pressure=0.0,
    blowby_area=0.0,
    gas_inertia=0.0,
    air_ahead=0.0,
    wall_heat=0.0,
    stop_restitution=0.0,
    ambient_pressure=101325.0,
    ambient_temperature=293.15,
    gas_constant=287.05,
    charge=300e3,
)


@pytest.mark.parametrize(
    ("changes", "speed"),
    [
        ({}, 89.8684),
        ({"friction": "1 N"}, 85.3014),
        ({"law": "isothermal"}, 104.2887),
        ({"law": "isothermal", "friction": "1 N"}, 100.3799),
        ({"ambient": "0 Pa"}, 136.6408),
    ],
)
def test_the_closed_forms(changes: dict[str, str], speed: float) -> None:
    assert limits.reservoir_velocity(*CASE, **changes).m_as("m/s") == pytest.approx(speed, abs=5e-5)


def test_the_closed_form_with_a_third_of_the_gas_on_the_dart() -> None:
    gas = 300e3 * 50e-6 / (287.05 * 293.15)
    assert 1e3 * gas == pytest.approx(0.178256, abs=5e-7)
    heavier = f"{1.0 + 1e3 * gas / 3.0!r} g"
    case = ("300 kPa", "50 cm^3", "12.9 mm", heavier, "40 cm")
    assert limits.reservoir_velocity(*case).m_as("m/s") == pytest.approx(87.3118, abs=5e-5)


def time_to_the_muzzle(friction: str = "0 N", law: str = "adiabatic") -> float:
    """Time of `CASE` [ms]: the integral of dx / v(x), with x = z^2 so that the start is smooth."""
    gun = read_gun("300 kPa", "12.9 mm", friction, AMBIENT, law)

    def integrand(z: float) -> float:
        if z == 0.0:
            return 2.0 / math.sqrt(2.0 * (gun.pressure - gun.resistance) * gun.area / 1e-3)
        return 2.0 * z / math.sqrt(2.0 * gun.energy(50e-6, z * z) / 1e-3)

    return 1e3 * quad(integrand, 0.0, math.sqrt(0.4), epsabs=0.0, epsrel=1e-12)[0]


def test_the_time_to_the_muzzle() -> None:
    assert time_to_the_muzzle() == pytest.approx(6.61286, abs=5e-6)


@pytest.mark.parametrize(
    ("law", "friction", "length"),
    [("adiabatic", "0 N", 0.448089), ("adiabatic", "1 N", 0.406001),
     ("isothermal", "0 N", 0.750114), ("isothermal", "1 N", 0.670589)],
)  # fmt: skip
def test_the_best_length(law: str, friction: str, length: float) -> None:
    found = limits.best_length("300 kPa", "50 cm^3", "12.9 mm", friction=friction, law=law)
    assert found.m_as("m") == pytest.approx(length, abs=5e-7)


@pytest.mark.parametrize(
    ("friction", "mass", "outside", "speed"),
    [(0.0, 1e-3, 101325.0, 89.8684), (1.0, 1e-3, 101325.0, 85.3014),
     (0.0, 1e-3 + 0.178256e-3 / 3, 101325.0, 87.3118), (0.0, 1e-3, 1e-3, 136.6408)],
)  # fmt: skip
def test_the_model_gives_the_adiabatic_speeds(
    friction: float, mass: float, outside: float, speed: float
) -> None:
    """A port of 0.2 m^2; what differs is a cubic millimetre of still air before the dart.

    Gas inertia enters once: the case with m + C/3 is a dart of that mass, with the kernel's own switch off,
    which counts only the gas that has come into the barrel.
    """
    p = GUN._replace(
        dart_friction=friction, dart_breakaway=friction, dart_mass=mass, ambient_pressure=outside
    )
    outcome, state = run(p, 1e-9)
    assert outcome.status == rules.EXITED
    assert state[k.W] == pytest.approx(speed, rel=3e-5)


def test_the_model_takes_as_long() -> None:
    assert 1e3 * run(GUN, 1e-9)[0].time == pytest.approx(6.61286, rel=3e-5)


@pytest.mark.parametrize(("friction", "length"), [(0.0, 0.448089), (1.0, 0.406001)])
def test_the_model_has_its_best_length_there(friction: float, length: float) -> None:
    p = GUN._replace(dart_friction=friction, dart_breakaway=friction)
    around = [length - 0.02, length, length + 0.02]
    low, top, high = separate(p, around, 1e-9)
    shift = 0.5 * 0.02 * (low - high) / (low - 2.0 * top + high)  # of the parabola through the three
    assert top > max(low, high)
    assert length + shift == pytest.approx(length, abs=1e-3)


@pytest.mark.parametrize(("friction", "speed"), [(0.0, 104.2887), (1.0, 100.3799)])
def test_strong_wall_heat_tends_to_the_isothermal_speeds(friction: float, speed: float) -> None:
    """From below, ever nearer: 2.2, 0.9, 0.13 and 0.017 % short at 10, 100, 1000 and 10 000 x conduction."""
    p = GUN._replace(dart_friction=friction, dart_breakaway=friction, port_area=area(0.1))
    heats = (0.0, 10.0, 100.0, 1000.0, 10_000.0)
    short = [1.0 - float(run(p._replace(wall_heat=heat), 1e-6)[1][k.W]) / speed for heat in heats]
    assert short == sorted(short, reverse=True)
    assert short[-2] < 1.5e-3
    assert 0.0 < short[-1] < 2.5e-4


@pytest.mark.parametrize(
    ("law", "friction"),
    [("adiabatic", "1 N"), ("isothermal", "0 N"), ("isothermal", "1 N")],
)
def test_the_model_takes_as_long_with_friction_and_heat(law: str, friction: str) -> None:
    force, warm = float(friction.split()[0]), law == "isothermal"
    p = GUN._replace(dart_friction=force, dart_breakaway=force, port_area=area(0.1 if warm else 0.3),
                     wall_heat=1000.0 * warm)  # fmt: skip
    closed = time_to_the_muzzle(friction, law)
    assert 1e3 * run(p, 1e-7)[0].time == pytest.approx(closed, rel=1.5e-3 if warm else 3e-5)


def test_the_public_face_gives_the_adiabatic_speed() -> None:
    """A build, a port of 20 cm and a charge; 0.01 cm^3 of still air before the dart."""
    shot = bl.simulate(limits.reservoir_build(), charge="300 kPa", tolerance=1e-9)
    assert shot.exited
    assert shot.muzzle_velocity.m_as("m/s") == pytest.approx(89.8684, rel=2e-4)
    assert shot.spring_work.m == 0.0
    assert shot.ledger_gap < 1e-9
    with_friction = limits.reservoir_build().replace(
        {"losses.dart_friction": "1 N", "losses.dart_breakaway": "1 N", "dart.length": "3 mm"}
    )
    speed = bl.simulate(with_friction, charge="300 kPa", tolerance=1e-9).muzzle_velocity.m_as("m/s")
    assert speed == pytest.approx(85.3014, rel=3e-4)


@pytest.mark.parametrize(
    ("law", "length"),
    [("adiabatic", 0.448089), ("isothermal", 0.750114)],
)
def test_the_best_length_is_the_top_of_the_closed_form(law: str, length: float) -> None:
    """The two formulas come from the same energy: the velocity's maximum lies where the best length says."""
    speeds = [
        limits.reservoir_velocity(*CASE[:4], f"{length + shift!r} m", law=law).m
        for shift in (-0.01, 0.0, 0.01)
    ]
    assert speeds[1] > max(speeds[0], speeds[2])
    curve = speeds[0] - 2.0 * speeds[1] + speeds[2]
    assert abs(0.5 * 0.01 * (speeds[0] - speeds[2]) / curve) < 1e-3


def test_the_chamber_alone_is_not_the_reservoir() -> None:
    """The gas equalises first: the closed form belongs to V0 + Vd2, at the mixed pressure."""
    dead = 10e-6
    p = GUN._replace(chamber_dead=50e-6, barrel_dead=dead)
    mixed = (300e3 * 50e-6 + 101325.0 * dead) / (50e-6 + dead)
    right = limits.reservoir_velocity(f"{mixed!r} Pa", "60 cm^3", *CASE[2:]).m_as("m/s")
    wrong = limits.reservoir_velocity(*CASE).m_as("m/s")
    speed = float(run(p, 1e-8)[1][k.W])
    assert speed == pytest.approx(right, rel=1e-3)
    assert not math.isclose(speed, wrong, rel_tol=1e-2)
