"""The flight against McCoy's flat fire and Didion's rule, and other published flights.

Case throughout: 1.0 g, 12.7 mm, C_d 0.70, air of 1.204 kg/m^3, 40 m/s, g = 9.80665 m/s^2.
"""

import math

import numpy as np
import pytest

from blasterlab.flight import elevation_search as seek
from blasterlab.flight import equations as kernel
from blasterlab.flight import limits
from blasterlab.flight.drag import blunt_cylinder_drag

K = 1.204 * 0.70 * math.pi * 0.0127**2 / (8 * 1.0e-3)
ONE = np.zeros(1)
UNIT = np.ones((1, 1))


def setup(k: float = K, wind: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> np.ndarray:
    """With a drag coefficient of 1 in the table, the first entry is k itself."""
    return np.array([k, 0.0, -9.80665, *wind, 1 / 343.0, 1.0])


def flight(x: float, k: float = K, wind: tuple[float, float, float] = (0.0, 0.0, 0.0), angle: float = 0.0):
    one = [np.array([v]) for v in (40.0, angle, 0.0, x)]
    return kernel.fly_to_planes(setup(k, wind)[None, :], ONE, ONE, UNIT, *one, 1e-12)[0, 0]


# R. L. McCoy, Modern Exterior Ballistics, 1999, ch. 5: flat fire with a constant drag coefficient, and
# ch. 7: Didion's crosswind rule. x [m], speed [m/s], time [s], flat drop, full drop, Didion drift for 2 m/s,
# full drift [m]. The "full" columns are the point-mass equations of ch. 6, integrated independently.
TABLE = [
    (5.0, 30.62974, 0.1432705, 0.0922794, 0.0922806, 0.0365410, 0.0365954),
    (10.0, 23.45452, 0.3303704, 0.4521445, 0.4522229, 0.1607407, 0.1611122),
    (15.0, 17.96014, 0.5747079, 1.2683577, 1.2696155, 0.3994159, 0.4013281),
]


def test_k_of_the_case():
    assert pytest.approx(0.0533816, abs=5e-8) == K


@pytest.mark.parametrize("row", TABLE)
def test_flat_fire_and_didion(row):
    x, speed, time, drop, _, drift, _ = row
    found = limits.flat_fire(K, 40.0, x)
    assert found[0] == pytest.approx(speed, abs=5e-6)
    assert found[1] == pytest.approx(time, abs=5e-8)
    assert found[2] == pytest.approx(drop, abs=5e-8)
    assert limits.didion_drift(K, 40.0, x, 2.0) == pytest.approx(drift, abs=5e-8)


@pytest.mark.parametrize("row", TABLE)
def test_full_drop_and_drift(row):
    x, _, _, _, drop, _, drift = row
    assert -flight(x)[1] == pytest.approx(drop, abs=5e-8)
    assert flight(x, wind=(0.0, 0.0, 2.0))[2] == pytest.approx(drift, abs=5e-8)


def test_vertical_shot():
    # Height, time up, time down, speed on return of the same case: P. Timmerman, J. P. van der Weele,
    # Am. J. Phys. 67, 538, 1999 (closed form of rise and fall with quadratic drag).
    published = (21.29104, 1.719475, 2.491804, 12.83697)
    closed = limits.vertical(K, 40.0)
    assert closed == pytest.approx(published, rel=5e-7)
    _, times, pieces = kernel.fly_dense(
        setup(), ONE, ONE, UNIT, 40.0, math.pi / 2, 0.0, 1e9, -1e-12, 60.0, 1e-12, 0.0
    )
    up = kernel.first_time(times, pieces, 4, 0.0, 0.0, times[-1])
    state = np.zeros(7)
    kernel.at_time(times, pieces, up, state)
    flown = (state[1], up, times[-1] - up, -kernel.value(pieces[-1], 4, 1.0))
    assert flown == pytest.approx(published, rel=5e-7)


def test_cohen2015_shuttlecock():
    # C. Cohen et al., The physics of badminton, New J. Phys. 17, 063001, 2015: 5 g, 28 cm^2, C_d 0.6,
    # 1.2 kg/m^3: aerodynamic length 4.960 m, terminal speed 6.975 m/s.
    k = 1.2 * 0.6 * 28e-4 / (2 * 5e-3)
    assert 1 / k == pytest.approx(4.960, abs=5e-4)
    assert limits.terminal_speed(k) == pytest.approx(6.975, abs=5e-4)
    pieces = kernel.fly_dense(
        setup(k), ONE, ONE, UNIT, 0.1, -math.pi / 2, 0.0, 1e9, -100.0, 60.0, 1e-12, 0.0
    )[2]
    assert -kernel.value(pieces[-1], 4, 1.0) == pytest.approx(6.975, abs=5e-4)


def test_matthews2002_blunt_cylinder():
    # E. Matthews, Aeronautical Engineer's Data Book, 2002, fig. 5.13b: flat-faced cylinder end-on.
    for ratio, coefficient in [(1.0, 0.91), (2.0, 0.85), (4.0, 0.87), (7.0, 0.99)]:
        assert blunt_cylinder_drag(ratio) == coefficient


def test_vacuum_range_is_longest_at_45_degrees():
    # Textbook: without air, from ground to ground, R = v² sin 2θ / g (McCoy 1999, ch. 3).
    angle = seek.furthest_elevation(setup(0.0), ONE, ONE, UNIT, 40.0, -1e-9)
    assert math.degrees(angle) == pytest.approx(45.0, abs=1e-3)
    _, _, pieces = kernel.fly_dense(
        setup(0.0), ONE, ONE, UNIT, 40.0, angle, 0.0, 1e9, -1e-9, 60.0, 1e-12, 0.0
    )
    assert kernel.value(pieces[-1], 0, 1.0) == pytest.approx(40.0**2 / 9.80665, rel=1e-9)
