"""A shot from a closed tube of gas: the classical wave problem of a gun, and its slow limit."""

import math

import numpy as np
import pytest
from gas_tube import PISTON, run_tube

# Lagrange's problem (A. E. H. Love and F. B. Pidduck, Phil. Trans. R. Soc. A 222, 167, 1922; Landau and
# Lifshitz, Fluid
# Mechanics, sec. 99): gas at rest in a closed tube drives a piston into a vacuum.  Until the echo from the
# breech
# comes back, the piston feels a simple wave, with a closed form.  Bore 12.9 mm, 1 g, 500 kPa, 0.30 m, gamma
# 1.4.
GAMMA, R, T = 1.4, 287.05, 293.15
P0, L0, MASS, AREA = 500e3, 0.30, 1e-3, math.pi / 4.0 * 0.0129**2
RHO = P0 / (R * T)
C0 = math.sqrt(GAMMA * R * T)
GAS = RHO * AREA * L0
TAU = 2.0 * MASS * C0 / ((GAMMA + 1.0) * AREA * P0)
ECHO = L0 / C0 * (2.0 + (GAMMA + 1.0) * GAS / (2.0 * GAMMA * MASS))


def speed(t):
    return 2.0 * C0 / (GAMMA - 1.0) * (1.0 - (1.0 + t / TAU) ** (-(GAMMA - 1.0) / (GAMMA + 1.0)))


def shoot(cells, t_end=ECHO, mass=MASS):
    gas = np.tile([[RHO], [0.0], [P0]], (1, cells))
    return run_tube(gas, L0, t_end, area=AREA, right=PISTON, piston_mass=mass)


def test_closed_form_values():
    # worked values of the closed forms above
    assert pytest.approx(1.922631e-3, abs=5e-10) == ECHO
    assert speed(ECHO) == pytest.approx(101.0546, abs=5e-5)


def test_piston_at_the_echo():
    tube = shoot(100)
    assert tube.piston_speed == pytest.approx(speed(ECHO), rel=1e-4)
    assert tube.piston_place - L0 == pytest.approx(0.104008, rel=1e-5)
    half = tube.piston_history[len(tube.piston_history) // 2]
    assert half[2] == pytest.approx(speed(half[0]), rel=1e-5)


def test_errors_fall_with_the_cells():
    coarse, fine = shoot(50), shoot(200)
    before = 0.9 * ECHO  # before the kink that the echo brings
    smooth = [shoot(n, before).piston_speed / speed(before) - 1.0 for n in (50, 200)]
    assert abs(smooth[1]) < abs(smooth[0]) / 8.0
    at_echo = [tube.piston_speed / speed(ECHO) - 1.0 for tube in (coarse, fine)]
    assert abs(at_echo[1]) < abs(at_echo[0]) / 4.0 < 1e-4


def test_breech_is_undisturbed_until_the_wave_arrives():
    tube = shoot(200, 0.95 * L0 / C0)
    assert tube.p[:5] == pytest.approx(P0, rel=1e-6)
    assert tube.p[-1] < 0.9 * P0


def test_energy_is_kept():
    tube = shoot(100)
    assert tube.mass == pytest.approx(GAS, rel=1e-12)
    energy = tube.energy + 0.5 * MASS * tube.piston_speed**2
    assert energy == pytest.approx(P0 * AREA * L0 / (GAMMA - 1.0), rel=1e-8)


def test_one_pressures_adiabatic_value_is_too_high_here():
    # the same gas without waves, at the same place: v^2 = 2 P0 V0/((gamma-1) m) [1 - (V0/V)^(gamma-1)]
    one_pressure = math.sqrt(
        2.0 * P0 * AREA * L0 / ((GAMMA - 1.0) * MASS) * (1.0 - (L0 / (L0 + 0.104008)) ** (GAMMA - 1.0))
    )
    assert one_pressure / shoot(100).piston_speed - 1.0 == pytest.approx(0.038, abs=0.0005)


def test_piston_path_by_integration():
    # the closed form's path, integrated here by Simpson's rule
    t = np.linspace(0.0, ECHO, 2001)
    u = np.array([speed(x) for x in t])
    path = (t[1] - t[0]) / 3.0 * (u[0] + 4.0 * u[1:-1:2].sum() + 2.0 * u[2:-1:2].sum() + u[-1])
    assert path == pytest.approx(0.104008, abs=5e-7)
