"""The flight against McCoy's flat fire and Didion's rule, and other published flights.

Case throughout: 1.0 g, 12.7 mm, C_d 0.70, air of 1.204 kg/m^3, 40 m/s, g = 9.80665 m/s^2.
"""

import math

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.flight.elevation_search import furthest_elevation
from blasterlab.flight.equations import (
    VY,
    FlightParameters,
    Hits,
    Varied,
    X,
    Y,
    at_time,
    first_time,
    fly_dense,
    fly_to_planes,
)
from blasterlab.flight.flat_fire import flat_fire
from blasterlab.parts.dart import Dart

K = 1.204 * 0.70 * math.pi * 0.0127**2 / (8 * 1.0e-3)
ONE = np.zeros(1)
UNIT = np.ones((1, 1))


def setup(k: float = K, wind: float = 0.0, speed: float = 40.0, elevation: float = 0.0) -> FlightParameters:
    """With a drag coefficient of 1 in the table, the retardation is k itself; the wind is across."""
    return FlightParameters(
        k, 0.0, -9.80665, 0.0, 0.0, wind, 1 / 343.0, 1.0, speed, elevation, 0.0, ONE, ONE, UNIT
    )


def flight(x: float, wind: float = 0.0) -> Hits:
    p = setup(wind=wind)
    one = Varied(*(np.array([getattr(p, name)]) for name in Varied._fields))
    return fly_to_planes(p, one, np.array([x]), 1e-12)


def vertical(k: float, speed: float) -> tuple[float, float, float, float]:
    """A shot straight up: height, time up, time down, speed on return.

    h = ln(1 + k v₀²/g)/(2k),  t_up = arctan(v₀ √(k/g))/√(k g),
    t_down = artanh(v/v_t)/√(k g),  v = v₀/√(1 + k v₀²/g),  v_t = √(g/k)
    """
    ratio, root = k * speed**2 / 9.80665, math.sqrt(k * 9.80665)
    back = speed / math.sqrt(1.0 + ratio)
    up = math.atan(math.sqrt(ratio)) / root
    return math.log1p(ratio) / (2.0 * k), up, math.atanh(back * math.sqrt(k / 9.80665)) / root, back


# R. L. McCoy, Modern Exterior Ballistics, 1999, ch. 5: flat fire with a constant drag coefficient, and
# ch. 7: Didion's crosswind rule. x [m], speed [m/s], time [s], flat drop, full drop, Didion drift for 2 m/s,
# full drift [m]. The "full" columns are the point-mass equations, integrated independently.
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
    found = flat_fire(K, 40.0, x)
    assert found[0] == pytest.approx(speed, abs=5e-6)
    assert found[1] == pytest.approx(time, abs=5e-8)
    assert found[2] == pytest.approx(drop, abs=5e-8)
    assert 2.0 * (found[1] - x / 40.0) == pytest.approx(drift, abs=5e-8)  # Didion: z = W (t − x/v₀)


@pytest.mark.parametrize("row", TABLE)
def test_full_drop_and_drift(row):
    x, _, _, _, drop, _, drift = row
    assert -flight(x).y[0, 0] == pytest.approx(drop, abs=5e-8)
    assert flight(x, wind=2.0).z[0, 0] == pytest.approx(drift, abs=5e-8)


def test_vertical_shot():
    # Height, time up, time down, speed on return of the same case: P. Timmerman, J. P. van der Weele,
    # Am. J. Phys. 67, 538, 1999 (closed form of rise and fall with quadratic drag).
    published = (21.29104, 1.719475, 2.491804, 12.83697)
    closed = vertical(K, 40.0)
    assert closed == pytest.approx(published, rel=5e-7)
    _, end, times, pieces = fly_dense(setup(elevation=math.pi / 2), 1e9, -1e-12, 60.0, 1e-12, 0.0)
    up = first_time(times, pieces, VY, 0.0, 0.0, end)
    flown = (at_time(times, pieces, up)[Y], up, end - up, -at_time(times, pieces, end)[VY])
    assert flown == pytest.approx(published, rel=5e-7)


def test_cohen2015_shuttlecock():
    # C. Cohen et al., The physics of badminton, New J. Phys. 17, 063001, 2015: 5 g, 28 cm^2, C_d 0.6,
    # 1.2 kg/m^3: aerodynamic length 4.960 m, terminal speed 6.975 m/s.
    k = 1.2 * 0.6 * 28e-4 / (2 * 5e-3)
    assert 1 / k == pytest.approx(4.960, abs=5e-4)
    assert math.sqrt(9.80665 / k) == pytest.approx(6.975, abs=5e-4)
    falling = setup(k, speed=0.1, elevation=-math.pi / 2)
    _, end, times, pieces = fly_dense(falling, 1e9, -100.0, 60.0, 1e-12, 0.0)
    assert -at_time(times, pieces, end)[VY] == pytest.approx(6.975, abs=5e-4)


def test_matthews2002_blunt_cylinder():
    # C. Matthews, Aeronautical Engineer's Data Book, 2002, fig. 5.13b: flat-faced cylinder end-on, l/d of 1,
    # 2, 4, 7. The default of a dart, from memory, lies below all of them, as its docstring says.
    published = tables.read("reference/drag_cylinder_axial")
    assert published.c_d.tolist() == [0.91, 0.85, 0.87, 0.99]
    assert Dart("1 g", "12.7 mm", "36 mm").drag_coefficient < published.c_d.min()
    assert f"{published.c_d.min():.2f} to {published.c_d.max():.2f}" in " ".join((Dart.__doc__ or "").split())


def test_vacuum_range_is_longest_at_45_degrees():
    # Textbook: without air, from ground to ground, R = v² sin 2θ / g (McCoy 1999, ch. 3).
    reach, angle = furthest_elevation(setup(0.0), -1e-9)
    assert math.degrees(angle) == pytest.approx(45.0, abs=1e-3)
    _, end, times, pieces = fly_dense(setup(0.0, elevation=angle), 1e9, -1e-9, 60.0, 1e-12, 0.0)
    assert at_time(times, pieces, end)[X] == pytest.approx(reach, rel=1e-9)
    assert reach == pytest.approx(40.0**2 / 9.80665, rel=1e-9)
