"""Thick tubes against worked examples."""

from __future__ import annotations

import pytest

from blasterlab.checks.strength import tube_stress
from blasterlab.parts.materials import materials


def test_a_thick_tube_between_two_pressures() -> None:
    """Hearn, *Mechanics of Materials 1*, ch. 10: radii 100 and 150 mm, 60 and 30 MPa (from memory; exact by
    arithmetic: A = -6, B = 54 r_i^2)."""
    stress = tube_stress("200 mm", "50 mm", "60 MPa", "30 MPa")
    assert stress.hoop_inside.m_as("MPa") == pytest.approx(48.0, rel=1e-12)
    assert stress.hoop_outside.m_as("MPa") == pytest.approx(18.0, rel=1e-12)
    assert stress.axial.m_as("MPa") == pytest.approx(-6.0, rel=1e-12)


def test_a_tube_of_30_by_26_mm() -> None:
    """Lamé by hand: 30 x 26 mm at 0.5 MPa: 3.517857 MPa at the bore, 3.017857 outside."""
    stress = tube_stress("26 mm", "2 mm", "0.5 MPa")
    assert stress.hoop_inside.m_as("MPa") == pytest.approx(3.517857, abs=5e-7)
    assert stress.hoop_outside.m_as("MPa") == pytest.approx(3.017857, abs=5e-7)


def test_published_strengths() -> None:
    """PMMA: Lange's Handbook of Chemistry, Table 10.2, tensile 48 to 76 MPa; 6061-T6: ASTM B221, 241 MPa."""
    known = materials()
    assert [s.m_as("MPa") for s in known["acrylic (PMMA)"].strength] == [48.0, 76.0]
    assert known["aluminium 6061-T6"].strength[0].m_as("MPa") == 241.0
