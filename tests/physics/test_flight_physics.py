"""What any correct flight must do: conserve, converge, mirror, and agree with an independent integrator."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from spheres import sphere_table

import blasterlab as bl
from blasterlab.flight.equations import AT_GROUND, NO_GROUND, VX, VY, VZ, at_time, fly_dense
from blasterlab.flight.launch import Launch

DART = bl.Projectile("1.0 g", "12.7 mm", 0.70)
PEBBLE = bl.Projectile("1.0 g", "12.7 mm", 0.0)


@pytest.mark.parametrize("angle", [-20.0, 0.0, 5.0, 30.0, 60.0])
def test_vacuum_parabola_is_exact(angle):
    flight = bl.fly(PEBBLE, "40 m/s", angle=f"{angle} deg", muzzle_height="200 m", distance="30 m")
    for x in (1.0, 7.3, 19.9, 30.0):
        # McCoy 1999, ch. 3 (vacuum trajectory).
        time = x / (40.0 * math.cos(math.radians(angle)))
        height = x * math.tan(math.radians(angle)) - 0.5 * 9.80665 * time**2
        there = flight.at(f"{x} m")
        assert there.time.m_as("s") == pytest.approx(time, rel=1e-11)
        assert there.height.m_as("m") == pytest.approx(height, rel=1e-10, abs=1e-10)
    first, last = flight.at("0 m"), flight.last
    fallen = first.height.m_as("m") - last.height.m_as("m")
    assert last.energy.m_as("J") - first.energy.m_as("J") == pytest.approx(1e-3 * 9.80665 * fallen, rel=1e-9)


@pytest.mark.parametrize("wind", [None, "3 m/s from 12 o'clock", "5 m/s from 4:30"])
@pytest.mark.parametrize("slope", ["0 deg", "25 deg", "-40 deg"])
def test_energy_lost_is_the_work_of_drag(wind, slope):
    flight = bl.fly(DART, "60 m/s", wind=wind, slope=slope, angle="4 deg", muzzle_height="3 m")
    start, end = flight.at("0 m"), flight.last
    slant = math.radians(float(slope.split()[0]))
    rise = end.distance.m_as("m") * math.sin(slant) + end.height.m_as("m") * math.cos(slant)
    lost = start.energy.m_as("J") - end.energy.m_as("J") - 1e-3 * 9.80665 * rise
    p, length = flight.launch.parameters._replace(elevation=math.radians(4.0)), end.time.m_as("s")
    _, _, times, pieces = fly_dense(p, 1e12, NO_GROUND, length, 1e-11, 0.0)
    blow = np.array([p.wind_x, p.wind_y, p.wind_z])
    nodes, weights = np.polynomial.legendre.leggauss(8)
    work = 0.0
    for low, high in pairwise(np.linspace(0.0, length, 401)):
        for node, weight in zip(nodes, weights, strict=True):
            velocity = at_time(times, pieces, 0.5 * (low + high + node * (high - low)))[[VX, VY, VZ]]
            push = 0.70 * p.retardation * math.hypot(*(velocity - blow)) * (velocity - blow)
            work += 0.5 * (high - low) * weight * 1e-3 * float(push @ velocity)
    assert work == pytest.approx(lost, rel=1e-9)


def test_fifth_order_convergence():
    start = Launch.of(DART, "40 m/s", wind="4 m/s from 10 o'clock")
    arguments = start.parameters._replace(elevation=0.3), 1e9, NO_GROUND, 1.6

    def velocity(step: float) -> np.ndarray:
        _, end, times, pieces = fly_dense(*arguments, 1.0, step)
        return at_time(times, pieces, end)[[VX, VY, VZ]]

    exact = velocity(0.001)
    # Velocities; positions and work come out better still, for their leading error terms nearly cancel here.
    errors = [np.abs(velocity(h) - exact).max() for h in (0.05, 0.025, 0.0125)]
    orders = [math.log2(errors[i] / errors[i + 1]) for i in range(2)]
    assert all(4.5 < order < 6.5 for order in orders), (errors, orders)


def test_tolerance_is_kept():
    start = Launch.of(DART, "40 m/s").parameters._replace(elevation=0.1)
    ends = {}
    for tolerance in (1e-6, 1e-9, 1e-12):
        reason, end, _, _ = fly_dense(start, 1e9, -1.4, 60.0, tolerance, 0.0)
        assert reason == AT_GROUND
        ends[tolerance] = end
    assert abs(ends[1e-6] - ends[1e-12]) < 1e-5
    assert abs(ends[1e-9] - ends[1e-12]) < 1e-8


TABLE = bl.DragTable(mach=[0.0, 0.1, 0.3, 1.0], drag_coefficient=[0.6, 0.65, 0.8, 0.9])


@pytest.mark.parametrize("drag", [0.4, 1.2, TABLE, sphere_table()])
@pytest.mark.parametrize("wind", [(0.0, 0.0, 0.0), (-3.0, 4.0, 1.0)])
def test_against_scipy_dop853(drag, wind):
    """Same equations written anew, integrated by scipy's DOP853 at 1e-12."""
    along, across, up = (f"{w} m/s" for w in wind)
    dart = bl.Projectile("1.2 g", "12.9 mm", drag)
    breeze = bl.Wind(along=along, across=across, up=up)
    flight = bl.fly(dart, "55 m/s", angle="10 deg", wind=breeze, muzzle_height="2 m", slope="10 deg")
    air = bl.Air()
    rho, sound = air.density.m_as("kg/m^3"), air.speed_of_sound.m_as("m/s")
    mu, area = air.viscosity.m_as("Pa*s"), math.pi * 0.0129**2 / 4
    blow = np.array([wind[0], wind[2], wind[1]])

    def coefficient(speed: float) -> float:
        if isinstance(drag, float):
            return drag
        if drag is TABLE:
            return float(np.interp(speed / sound, TABLE.mach, TABLE.drag_coefficient[0]))
        column = [row[0] for row in drag.drag_coefficient]
        return float(np.interp(math.log(rho * speed * 0.0129 / mu), np.log(drag.reynolds), column))

    def rates(_: float, y: np.ndarray) -> np.ndarray:
        relative = y[3:] - blow
        speed = float(np.linalg.norm(relative))
        pull = -0.5 * rho * area * coefficient(speed) * speed * relative / 1.2e-3
        return np.concatenate([y[3:], pull + [0.0, -9.80665, 0.0]])

    # In level axes: the bore points 20 degrees up, the line of sight 10.
    start = [0.0, 0.0, 0.0, 55 * math.cos(math.radians(20)), 55 * math.sin(math.radians(20)), 0.0]
    end = flight.last
    span = (0.0, end.time.m_as("s"))
    there = solve_ivp(rates, span, start, "DOP853", rtol=1e-12, atol=1e-12, max_step=0.02).y[:, -1]
    tilt = math.radians(10)
    x, y = end.distance.m_as("m"), end.height.m_as("m")
    level = (x * math.cos(tilt) - y * math.sin(tilt), x * math.sin(tilt) + y * math.cos(tilt))
    close = 1e-8 if isinstance(drag, float) else 1e-6  # the tables have corners
    assert level == pytest.approx(tuple(there[:2]), abs=close)
    assert end.drift.m_as("m") == pytest.approx(there[2], abs=close)
    assert end.speed.m_as("m/s") == pytest.approx(float(np.linalg.norm(there[3:])), abs=close)


@settings(max_examples=25, deadline=None)
@given(st.floats(10.0, 150.0), st.floats(0.05, 2.0), st.floats(0.5, 11.5), st.floats(-5.0, 20.0))
def test_left_and_right_mirror(speed, drag, hour, angle):
    dart = bl.Projectile("1 g", "12.7 mm", drag)
    ends = [
        bl.fly(dart, f"{speed} m/s", wind=f"4 m/s from {h} o'clock", angle=f"{angle} deg").last
        for h in (hour, 12.0 - hour)
    ]
    assert ends[0].drift.m_as("m") == pytest.approx(-ends[1].drift.m_as("m"), abs=1e-10)
    assert ends[0].distance.m_as("m") == pytest.approx(ends[1].distance.m_as("m"), rel=1e-10)


@settings(max_examples=25, deadline=None)
@given(st.floats(20.0, 100.0), st.floats(0.1, 1.0), st.floats(2.0, 12.0))
def test_more_drag_more_drop_more_speed_less(speed, drag, x):
    def drop(v: float, c: float) -> float:
        dart = bl.Projectile("1 g", "12.7 mm", c)
        return bl.fly(dart, f"{v} m/s", muzzle_height="100 m").drop(f"{x} m").m_as("m")

    here = drop(speed, drag)
    assert drop(speed, drag * 1.1) > here
    assert drop(speed * 1.1, drag) < here
    assert here > 9.80665 / 2 * (x / speed) ** 2 * (1 - 1e-9)


def test_the_path_does_not_know_where_it_is_asked():
    """Stopping at a plane or at the ground does not move the path before it."""
    free = bl.fly(DART, "40 m/s", muzzle_height="50 m")
    stopped = bl.fly(DART, "40 m/s", muzzle_height="50 m", distance="9 m")
    for x in ("1 m", "5 m", "8.999 m"):
        assert stopped.time(x).m_as("s") == pytest.approx(free.time(x).m_as("s"), abs=1e-10)
        assert stopped.drop(x).m_as("m") == pytest.approx(free.drop(x).m_as("m"), abs=1e-9)
