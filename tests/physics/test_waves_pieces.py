"""The pieces of the wave-resolving shot: flux, hole, mesh, ends, refusals."""

import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from exact_riemann import star_state
from gas_tube import OPEN, WALL, run_tube
from hypothesis import example, given, settings
from hypothesis import strategies as st

from blasterlab.waves.gas_column import LAYERS, TOTALS, remesh
from blasterlab.waves.openings import hole, mouth, orifice_rate
from blasterlab.waves.riemann import hllc, wave_pressure

G = 1.4
R = 287.05
state = st.tuples(st.floats(0.5, 6.0), st.floats(-100.0, 100.0), st.floats(50e3, 600e3))


@given(state, state)
def test_full_bore_hole_is_the_riemann_problem(left, right):
    # nothing between two equal tubes: the exact solution, in either direction
    star = star_state(left, right)
    rate, _, p_left, u_left, p_right, u_right = hole(left, right, 0.0, 2e-4, 2e-4, 2e-4)
    rho = star.rho_left if star.u > 0.0 else star.rho_right
    if abs(star.u) > 0.9 * math.sqrt(G * star.p / rho):
        return  # sonic in the fan: the tube itself chokes
    assert p_left == pytest.approx(star.p, rel=1e-7)
    assert p_right == pytest.approx(star.p, rel=1e-7)
    upstream = u_left if star.u > 0.0 else u_right
    assert upstream == pytest.approx(star.u, abs=2e-6)
    assert rate == pytest.approx(rho * star.u * 2e-4, rel=1e-6, abs=1e-9)


@given(state, state, st.floats(0.02, 1.0), st.floats(-60.0, 60.0))
def test_hole_in_a_mirror(left, right, share, wall):
    there = hole(left, right, wall, 8e-4, 1.3e-4, share * 1.3e-4)
    (rho_left, u_left, p_left), (rho_right, u_right, p_right) = left, right
    back = hole(
        (rho_right, -u_right, p_right), (rho_left, -u_left, p_left), -wall, 1.3e-4, 8e-4, share * 1.3e-4
    )
    assert back[0] == pytest.approx(-there[0], rel=1e-12, abs=1e-15)
    assert (back[2], back[4]) == pytest.approx((there[4], there[2]), rel=1e-12)
    assert (back[3], back[5]) == pytest.approx((-there[5], -there[3]), rel=1e-12, abs=1e-12)


@given(state, state, st.floats(0.02, 1.0))
@example((1.0, 0.0, 101_982.0), (1.0, 1e-5, 101_982.0), 1.0)  # a trickle: the rate is all rounding
def test_hole_passes_what_it_takes(left, right, share):
    # the same rate and total enthalpy in the upstream and the downstream face
    rate, h0, p_left, u_left, p_right, u_right = hole(left, right, 0.0, 8e-4, 1.3e-4, share * 1.3e-4)
    if rate == 0.0:
        assert (u_left, u_right) == (0.0, 0.0)
        return
    p, u, area = (p_right, u_right, 1.3e-4) if rate > 0.0 else (p_left, u_left, 8e-4)
    down = G / (G - 1.0) * p / (h0 - 0.5 * u * u) * u * area
    assert down == pytest.approx(rate, rel=1e-8)
    (rho, v, p0), p, u, area, sign = (
        (left, p_left, u_left, 8e-4, 1.0) if rate > 0.0 else (right, p_right, u_right, 1.3e-4, -1.0)
    )
    p_face, rho_face, _ = wave_pressure(rho, sign * (v - u), p0)
    assert p_face == pytest.approx(p, rel=1e-9)
    assert rho_face * u * area == pytest.approx(rate, rel=1e-7)
    assert G / (G - 1.0) * p_face / rho_face + 0.5 * u * u == pytest.approx(h0, rel=1e-9)


def test_orifice_rate():
    # Saint-Venant and Wantzel, worked values: 5 mm, C_d 1, 293.15 K; 200 kPa choked, 150 kPa to 101.325 kPa
    area, h0 = math.pi / 4.0 * 0.005**2, G / (G - 1.0) * R * 293.15
    assert orifice_rate(200e3, h0, 1.0, area) * 1e3 == pytest.approx(9.26950, abs=5e-6)
    assert orifice_rate(150e3, h0, 101_325.0, area) * 1e3 == pytest.approx(6.60953, abs=5e-6)
    assert orifice_rate(150e3, h0, 150e3, area) == 0.0


def test_small_hole_from_a_wide_tube_is_the_plain_orifice():
    rho = 200e3 / (R * 293.15)
    rate, *_ = hole((rho, 0.0, 200e3), (1.2, 0.0, 101_325.0), 0.0, 1e3, 0.0, 1e-5)
    assert rate == pytest.approx(orifice_rate(200e3, 3.5 * R * 293.15, 101_325.0, 1e-5), rel=1e-6)
    # drawn from the open air into a wide tube
    rate, *_ = hole((1.2, 0.0, 101_325.0), (1.0, 0.0, 60e3), 0.0, 0.0, 1e3, 1e-5)
    assert rate == pytest.approx(orifice_rate(101_325.0, 3.5 * 101_325.0 / 1.2, 60e3, 1e-5), rel=1e-5)


@given(state, st.floats(-80.0, 80.0))
def test_flux_of_one_state_is_its_own(one, face):
    rho, u, p = one
    energy = p / (G - 1.0) + 0.5 * rho * u * u
    exact = rho * (u - face), rho * u * (u - face) + p, energy * (u - face) + p * u
    flux = hllc(one, one, face)
    assert flux[0] == pytest.approx(exact[0], rel=1e-10, abs=1e-10 * rho)
    assert flux[1] == pytest.approx(exact[1], rel=1e-10)
    assert flux[2] == pytest.approx(exact[2], rel=1e-9, abs=1e-9 * energy)


def test_flux_keeps_a_contact_at_rest_sharp():
    assert hllc((1.0, 30.0, 2e5), (3.0, 30.0, 2e5), 30.0) == pytest.approx((0.0, 2e5, 2e5 * 30.0), abs=1e-6)


@given(st.integers(4, 40), st.integers(4, 40))
@settings(max_examples=40)
def test_remesh_keeps_every_total(n, new):
    rng = np.random.default_rng(100 * n + new)
    column = np.zeros((LAYERS, 3, 64))
    cells = column[TOTALS]
    cells[:, :n] = rng.uniform(1.0, 2.0, (3, n))
    before = cells[:, :n].sum(axis=1)
    remesh(column, n, new)
    assert cells[:, :new].sum(axis=1) == pytest.approx(before, rel=1e-13)
    assert cells[:, :new].min() > 0.0


def test_remesh_is_exact_for_a_slope():
    x = (np.arange(16) + 0.5) / 16
    column = np.zeros((LAYERS, 3, 64))
    cells = column[TOTALS]
    cells[:, :16] = (1.0 + x) / 16
    remesh(column, 16, 32)
    fine = (np.arange(32) + 0.5) / 32
    assert cells[:, 2:30] == pytest.approx(np.tile((1.0 + fine[2:30]) / 32, (3, 1)), rel=1e-12)


def test_mouth_in_still_air_does_nothing():
    rate, _h0, pressure, speed = mouth((1.2, 0.0, 101_325.0), 1.2, 101_325.0)
    assert (rate, pressure, speed) == pytest.approx((0.0, 101_325.0, 0.0))


def test_mouth_draws_air_in_without_loss():
    # from a long tube at low pressure: total enthalpy and entropy of the air outside
    rate, h0, p, speed = mouth((0.9, 0.0, 70e3), 1.2, 101_325.0)
    assert rate < 0.0
    assert speed < 0.0
    assert h0 == pytest.approx(3.5 * 101_325.0 / 1.2, rel=1e-12)
    # p and rho by the isentropic law from the speed
    share = 1.0 - 0.5 * speed**2 * 1.2 / (3.5 * 101_325.0)
    assert rate == pytest.approx(1.2 * share**2.5 * speed, rel=1e-12)
    assert p == pytest.approx(101_325.0 * share**3.5, rel=1e-12)
    assert wave_pressure(0.9, -speed, 70e3)[0] == pytest.approx(p, rel=1e-10)


def test_mouth_of_a_tube_at_much_higher_pressure_is_choked():
    rho, v, p = 5.0, 60.0, 600e3
    _rate, _h0, pressure, speed = mouth((rho, v, p), 1.2, 101_325.0)
    assert pressure > 101_325.0
    density = rho * (pressure / p) ** (1.0 / G)
    assert speed == pytest.approx(
        math.sqrt(G * pressure / density), rel=1e-12
    )  # it leaves at the speed of sound
    assert speed + 5.0 * speed == pytest.approx(v + 5.0 * math.sqrt(G * p / rho), rel=1e-12)


def test_mouth_of_a_tube_at_higher_pressure_lets_gas_out():
    rate, h0, p, speed = mouth((1.5, 20.0, 130e3), 1.2, 101_325.0)
    assert rate > 0.0
    assert speed > 20.0
    assert p == pytest.approx(101_325.0, rel=1e-12)
    # along the wave in the tube: the invariant of Riemann, and the gas's own entropy
    rho = 1.5 * (p / 130e3) ** (1.0 / G)
    assert rate == pytest.approx(rho * speed, rel=1e-12)
    assert h0 == pytest.approx(3.5 * p / rho + 0.5 * speed**2, rel=1e-12)
    invariant = 20.0 + 5.0 * math.sqrt(G * 130e3 / 1.5)
    assert speed + 5.0 * math.sqrt(G * p / rho) == pytest.approx(invariant, rel=1e-12)


def test_tube_opens_to_the_air():
    gas = np.tile([[2.4], [0.0], [200e3]], (1, 50))
    tube = run_tube(gas, 0.1, 0.02, left=WALL, right=OPEN, air=(1.2, 101_325.0))
    assert tube.p == pytest.approx(101_325.0, rel=0.1)  # still ringing like an organ pipe
    assert 0.0 < tube.mass < 0.24


def test_tube_in_a_mirror():
    gas = np.array([[2.4] * 20 + [1.2] * 30, [5.0] * 50, [200e3] * 20 + [101_325.0] * 30])
    there = run_tube(gas, 0.1, 1e-3, left=OPEN, right=WALL)
    back = run_tube(gas[:, ::-1] * np.array([[1.0], [-1.0], [1.0]]), 0.1, 1e-3, left=WALL, right=OPEN)
    assert back.p[::-1] == pytest.approx(there.p, rel=1e-12)
    assert -back.u[::-1] == pytest.approx(there.u, abs=1e-9)
    assert there.mass < 0.9 * float(gas[0].sum()) * 0.1 / 50


@pytest.mark.parametrize(
    ("bad", "says"),
    [
        (np.ones((2, 9)), "shape"),
        (np.ones((3, 2)), "at least 3"),
        (np.array([[-1.0] * 9, [0.0] * 9, [1.0] * 9]), "positive"),
        (np.array([[1.0] * 9, [0.0] * 9, [math.nan] * 9]), "positive"),
    ],
)
def test_tube_refuses(bad, says):
    with pytest.raises(ValueError, match=says):
        run_tube(bad, 1.0, 0.1)


def test_star_refuses():
    with pytest.raises(ValueError, match="positive"):
        star_state((0.0, 0.0, 1.0), (1.0, 0.0, 1.0))
    with pytest.raises(ValueError, match="vacuum"):
        star_state((1.0, -10.0, 1.0), (1.0, 10.0, 1.0))


def test_same_numbers_without_compilation():
    code = (
        "import numpy as np; from gas_tube import run_tube;"
        "s = np.array([[1.0] * 5 + [0.125] * 5, [0.0] * 10, [1.0] * 5 + [0.1] * 5]);"
        "t = run_tube(s, 1.0, 0.1, left=2, air=(1.0, 0.5)); print(t.mass.hex(), t.energy.hex(), t.p[4].hex())"
    )
    outputs = [
        subprocess.run(
            [sys.executable, "-c", code],
            env={**os.environ, "BLASTERLAB_PLAIN": plain},
            cwd=Path(__file__).parents[1],
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for plain in ("0", "1")
    ]
    assert len(outputs[0].split()) == 3
    compiled, plain = ([float.fromhex(x) for x in out.split()] for out in outputs)
    assert plain == pytest.approx(compiled, rel=1e-12)
