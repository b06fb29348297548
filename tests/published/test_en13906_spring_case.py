"""A spring by EN 13906-1:2013, Cylindrical helical springs made from round wire and bar, Part 1.

Case: d 1.4 mm, D 18 mm, n 20, n_t 22, L0 200 mm, closed and ground, G 81.5 GPa, E 206 GPa, 7.85 kg/dm3.
The expected numbers are the standard's printed formulas worked out by hand calculator in mm and N/mm^2, its
rounded 3560 in the frequency included; they are not numbers printed in the standard.
"""

import pytest

from blasterlab.checks.spring_limits import limits
from blasterlab.parts import coil
from blasterlab.parts.spring import Spring

SPRING = Spring("1.4 mm", "19.4 mm", "200 mm", 20, ends="closed and ground", material="EN 10270-1 SM")


def test_rate_lengths_and_mass() -> None:
    assert SPRING.index == pytest.approx(12.857143, abs=5e-7)
    assert coil.bergstraesser(SPRING.index) == pytest.approx(1.1032448, abs=5e-8)
    assert SPRING.rate.m_as("N/mm") == pytest.approx(0.33553069, abs=5e-9)
    assert SPRING.solid_length.m_as("mm") == pytest.approx(30.8, abs=1e-9)
    assert SPRING.mass.m_as("g") == pytest.approx(15.0335, abs=5e-5)
    # EN: ground ends n_t d; unground ends (n_t + 1.5) d
    assert coil.solid_length_upper(1.4, 22, "closed and ground") == pytest.approx(30.8)
    assert coil.solid_length_upper(1.4, 22, "closed") == pytest.approx(1.4 * 23.5)


def test_gaps_buckling_and_frequency() -> None:
    state = limits(SPRING, "80 mm")
    assert state.minimum_gaps.m_as("mm") == pytest.approx(9.742857, abs=5e-7)
    assert state.buckling_compression.m_as("mm") == pytest.approx(18.935432, abs=5e-7)
    pivoted = limits(SPRING, "80 mm", seating=1.0)
    assert pivoted.buckling_compression.m_as("mm") == pytest.approx(4.524857, abs=5e-7)
    # The standard rounds the constant 3558.8 up to 3560.
    exact = SPRING.natural_frequency.m_as("Hz")
    assert exact == pytest.approx(78.369487, rel=4e-4)
    assert exact * 3560 / 3558.8127 == pytest.approx(78.369487, rel=1e-6)


def test_static_limit_and_impact() -> None:
    state = limits(SPRING, "80 mm")
    assert state.strength is not None
    assert state.solid_allowable.m_as("MPa") == pytest.approx(0.56 * state.strength.value / 1e6)
    # delta tau = v sqrt(2 rho G): 1 GPa at about 28 m/s
    wire = SPRING.wire.shear_modulus(SPRING.si_wire), SPRING.wire.density
    assert coil.impact_stress(28.0, *wire) == pytest.approx(1.0016e9, abs=5e5)
    assert coil.impact_stress(1e9 / (2 * 7850 * 81.5e9) ** 0.5, *wire) == pytest.approx(1e9)
