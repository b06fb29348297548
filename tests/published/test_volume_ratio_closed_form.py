"""The volume ratio of a chamber that is full before the dart moves: closed form, and the model in that limit.

Z. J. Rohrbach, T. R. Buresh, M. J. Madsen, *Am. J. Phys.* 80, 24 (2012), eqs 2 and 3, solved for the highest
velocity: A L* = V0 [(P0/(p_a + F/A))^(1/g) - 1].  The lengths below are that formula evaluated for 300 kPa
absolute, 50 cm^3, a 12.9 mm bore, gamma 1.4 (adiabatic) or 1 (isothermal) and 101 325 Pa outside, to six
digits.

"A fixed ratio of chamber to barrel volume fits any build": common practice, no source.  It is put to the test
here, not confirmed.
"""

from __future__ import annotations

import math

import pytest

import blasterlab as bl
from blasterlab import limits, units

AREA = math.pi / 4 * 0.0129**2
CASES = [
    ({}, 0.448089),
    ({"friction": "1 N"}, 0.406001),
    ({"law": "isothermal"}, 0.750114),
    ({"law": "isothermal", "friction": "1 N"}, 0.670589),
]


@pytest.mark.parametrize(("changes", "length"), CASES)
def test_the_ratio_of_the_published_best_length(changes: dict[str, str], length: float) -> None:
    best = bl.full_chamber("300 kPa", "12.9 mm", **changes)
    assert best.filled == pytest.approx(50e-6 / (AREA * length), rel=2e-6)
    exponent = 1.0 if "law" in changes else 1.4
    assert best.swept == pytest.approx(best.filled * (300 / 101.325) ** (1 / exponent), rel=1e-12)
    met = best.pressure_at(1 / best.filled).m_as("kPa")
    assert met == pytest.approx(best.resistance.m_as("kPa"), rel=1e-12)


def test_the_model_with_a_huge_port_peaks_at_the_closed_forms_ratio() -> None:
    """No friction, no losses, a port wider than the bore: the shot model, not the formula, finds the top."""
    speeds = {}
    best = bl.full_chamber("300 kPa", "12.9 mm").filled
    for share in (0.98, 1.0, 1.02):
        length = 50e-6 / (AREA * best * share)
        gun = limits.reservoir_build().replace({"barrel.length": units.quantity(length, "m")})
        speeds[share] = bl.simulate(gun, charge="300 kPa").muzzle_velocity.m_as("m/s")
    assert speeds[1.0] > speeds[0.98]
    assert speeds[1.0] > speeds[1.02]
    # the top of a parabola through the three: 2 % in length would show at once
    bend = speeds[0.98] - 2 * speeds[1.0] + speeds[1.02]
    top = 0.5 * (speeds[0.98] - speeds[1.02]) / bend * 0.02
    assert top == pytest.approx(0.0, abs=2e-3)


@pytest.mark.parametrize("end", ["80 cm^3", "40 cm^3", "10 cm^3"])
def test_a_held_spring_gives_the_compression_back(end: str) -> None:
    """Fermi, *Thermodynamics*, 1937, sec. 6: work to compress, and the pressure made."""
    work = limits.compression_work("100 cm^3", end)
    ratio = float(units.parse("100 cm^3", "volume") / units.parse(end, "volume"))
    assert bl.held_pressure(work, "100 cm^3").m_as("kPa") == pytest.approx(101.325 * ratio**1.4, rel=1e-10)


def test_without_friction_air_wants_its_own_volume_back() -> None:
    """Adiabatic and back at ambient pressure: chamber and barrel together hold what was swept."""
    for pressure in ("150 kPa", "300 kPa", "1 MPa"):
        best = bl.full_chamber(pressure, "12.9 mm")
        assert 1 / best.filled + 1 == pytest.approx(best.swept / best.filled, rel=1e-12)


def test_the_rule_of_a_fixed_ratio_is_not_one_number() -> None:
    """Common practice, no source: one ratio for all.  The closed form alone moves it by a factor of two."""
    weak, strong = (bl.full_chamber(pressure, "12.9 mm").swept for pressure in ("150 kPa", "600 kPa"))
    assert weak > 2 * strong
    free, sticky = (bl.full_chamber("300 kPa", "12.9 mm", f).filled for f in ("0 N", "3 N"))
    assert sticky == pytest.approx(free * 0.448089 / 0.335400, rel=1e-3)
