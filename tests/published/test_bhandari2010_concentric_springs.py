"""Two nested springs that share a load, with and without a gap.

Source: V. B. Bhandari, Design of Machine Elements, 3rd ed., Tata McGraw-Hill, 2010, Examples 10.18 and
10.19, with the answers as recomputed in the FOSSEE textbook companion (IIT Bombay) of that book.
"""

import pytest

from blasterlab import units
from blasterlab.parts import coil
from blasterlab.parts.nest import nested_force
from blasterlab.parts.spring import Spring

G = 81370e6


def spring(wire: float, mean: float, coils: float, gap: float = 0.0) -> Spring:
    """A spring of the book: its shear modulus is not that of EN wire, so the rate is given."""
    rate = coil.rate(wire * 1e-3, mean * 1e-3, coils, G)
    return Spring(
        f"{wire} mm", f"{wire + mean} mm", "300 mm", coils, gap=f"{gap} mm",
        measured_rate=units.quantity(rate, "N/m"),
    )  # fmt: skip


def wahl_stress(part: Spring, force: float) -> float:
    """The book corrects by Wahl's factor, the kit by Bergsträsser's."""
    wahl = (4 * part.index - 1) / (4 * part.index - 4) + 0.615 / part.index
    return wahl * coil.shear_stress(force, part.si_wire, part.si_mean_diameter) / 1e6


def test_example_10_18_same_length() -> None:
    # 2000 N on two springs of equal free length: 1304.35 N and 695.65 N, 52.53 mm, 314.62 and 262.18 N/mm^2
    outer, inner = spring(10, 80, 8), spring(8, 64, 12)
    deflection = 52.526569e-3
    assert nested_force([outer, inner], units.quantity(deflection, "m")).m_as("N") == pytest.approx(
        2000, abs=0.01
    )
    shares = [part.si_values().rate * deflection for part in (outer, inner)]
    assert shares == pytest.approx([1304.347826, 695.652174], abs=1e-3)
    assert wahl_stress(outer, shares[0]) == pytest.approx(314.616701, abs=1e-3)
    assert wahl_stress(inner, shares[1]) == pytest.approx(262.180584, abs=1e-3)


def test_example_10_19_gap_of_15_mm() -> None:
    # 1000 N on an outer spring 15 mm longer than the inner one: 706.02 N at 24.99 mm and 293.98 N at 9.99 mm
    outer, inner = spring(6, 36, 10), spring(5, 30, 8, gap=15)
    back = units.quantity(24.988839, "mm")
    assert nested_force([outer, inner], back).m_as("N") == pytest.approx(1000, abs=0.01)
    assert nested_force([outer], back).m_as("N") == pytest.approx(706.021471, abs=1e-3)
    assert nested_force([inner], back).m_as("N") == pytest.approx(293.978529, abs=1e-3)
    assert wahl_stress(outer, 706.021471) == pytest.approx(375.305136, abs=1e-3)
    assert wahl_stress(inner, 293.978529) == pytest.approx(225.032219, abs=1e-3)
