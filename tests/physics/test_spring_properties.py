"""Properties that hold for every spring: energy, cutting, units, scaling."""

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from blasterlab import units
from blasterlab.parts.nest import nested_energy, nested_force, stacked
from blasterlab.parts.prime import prime
from blasterlab.parts.spring import Spring

wires = st.floats(0.8, 2.5)
indices = st.floats(4, 20)
counts = st.floats(3, 60)
slacks = st.floats(1.2, 6)
ends = st.sampled_from(["open", "open and ground", "closed", "closed and ground", "closed / open"])


@st.composite
def springs(draw: st.DrawFn) -> Spring:
    d, w, n, slack, kind = draw(wires), draw(indices), draw(counts), draw(slacks), draw(ends)
    free = slack * d * (n + 4)
    preload = draw(st.floats(0, 0.1)) * free
    return Spring(f"{d!r} mm", f"{(w + 1) * d!r} mm", f"{free!r} mm", n, ends=kind, preload=f"{preload!r} mm")


few = settings(max_examples=30, deadline=None)


@given(springs(), st.floats(0.05, 1), st.floats(0, 1))
@few
def test_energy_is_the_integral_of_force(spring: Spring, deep: float, start: float) -> None:
    v = spring.si_values()
    room = v.free_length - v.solid_length
    last = v.free_length - deep * room
    first = v.free_length - start * deep * room
    lengths = np.linspace(first, last, 201)
    force = spring.force(units.quantity(lengths, "m")).m_as("N")
    work = -np.trapezoid(force, lengths)
    energy = spring.energy(units.quantity(first, "m"), units.quantity(last, "m")).m_as("J")
    assert energy == pytest.approx(work, rel=1e-9, abs=1e-12)


@given(springs(), st.floats(0.05, 0.6))
@few
def test_cutting_then_computing_is_computing_on_the_cut_spring(spring: Spring, part: float) -> None:
    cut = spring.cut(coils=1 + part * (spring.active_coils - 1))
    fresh = Spring(
        spring.wire_diameter, spring.outer_diameter, cut.free_length, cut.active_coils, ends=cut.ends,
        preload=cut.preload, gap=cut.gap,
    )  # fmt: skip
    assert cut.si_values() == pytest.approx(fresh.si_values())
    assert cut.pitch.m_as("m") == pytest.approx(spring.pitch.m_as("m"), rel=1e-9)
    # the rate times the active coils belongs to the wire, not to the cut
    assert cut.rate.m * cut.active_coils == pytest.approx(spring.rate.m * spring.active_coils)
    v, u = spring.si_values(), cut.si_values()
    assert u.free_length - u.preload + u.gap == pytest.approx(v.free_length - v.preload)


@given(springs(), st.floats(0.02, 0.3), st.floats(0.02, 0.3))
@few
def test_two_cuts_are_one_cut(spring: Spring, first: float, second: float) -> None:
    a, b = 1 + first * (spring.active_coils - 1), second * (spring.active_coils - 1)
    once = spring.cut(coils=a + b)
    twice = spring.cut(coils=a).cut(coils=b)
    assert twice.si_values() == pytest.approx(once.si_values(), rel=1e-9, abs=1e-12)


@given(springs())
@few
def test_units_do_not_matter(spring: Spring) -> None:
    inches = {
        name: f"{getattr(spring, name).m_as('in')!r} in"
        for name in ("wire_diameter", "outer_diameter", "free_length", "preload")
    }
    other = Spring(**inches, active_coils=spring.active_coils, ends=spring.ends)
    assert other.si_values() == pytest.approx(spring.si_values(), rel=1e-9)


@given(springs(), st.floats(1.1, 3))
@few
def test_scaling_all_lengths_scales_the_rate_alike(spring: Spring, scale: float) -> None:
    # k = G d^4/(8 D^3 n): at equal coils a spring scaled by s has s times the rate and s^3 times the mass
    assume(scale * spring.si_wire < 2.6e-3)
    big = Spring(
        spring.wire_diameter * scale, spring.outer_diameter * scale, spring.free_length * scale,
        spring.active_coils, ends=spring.ends,
    )  # fmt: skip
    assert big.rate / spring.rate == pytest.approx(scale)
    assert big.mass / spring.mass == pytest.approx(scale**3)
    assert spring.natural_frequency / big.natural_frequency == pytest.approx(scale)


@given(springs(), springs(), st.floats(0.01, 0.9), st.floats(0, 0.5))
@few
def test_nested_energy_is_the_integral_of_nested_force(
    outer: Spring, inner: Spring, deep: float, late: float
) -> None:
    rooms = [v.free_length - v.solid_length - v.preload for v in (outer.si_values(), inner.si_values())]
    stroke = max(1e-4, deep * min(rooms))
    gap = late * stroke
    gapped = Spring(
        inner.wire_diameter, inner.outer_diameter, inner.free_length, inner.active_coils, ends=inner.ends,
        gap=units.quantity(gap, "m"),
    )  # fmt: skip
    backs = np.array([0.0, gap, stroke])  # straight between these
    force = [nested_force([outer, gapped], units.quantity(b, "m")).m_as("N") for b in backs]
    energy = nested_energy([outer, gapped], "0 m", units.quantity(stroke, "m")).m_as("J")
    assert np.trapezoid(force, backs) == pytest.approx(energy, rel=1e-9)
    pull = prime([outer, gapped], units.quantity(stroke, "m"))
    assert pull.stored.m_as("J") == pytest.approx(energy)
    assert pull.peak_force.m_as("N") == pytest.approx(force[-1])


@given(springs(), springs())
@few
def test_a_stack_is_softer_than_each_and_symmetric(a: Spring, b: Spring) -> None:
    stack = stacked([a, b])
    assert stack.rate < min(a.rate, b.rate)
    assert stack.rate.m == pytest.approx(stacked([b, a]).rate.m)
    at = units.quantity(stack.free_length.m - 0.5 * stack.first_solid.m, "m")
    assert stack.force(at).m == pytest.approx(0.5 * stack.first_solid.m * stack.rate.m, rel=1e-9)


def test_surge_frequency_is_half_the_root_of_rate_over_active_mass() -> None:
    # Both ends held: f = sqrt(k/m)/2 with the mass of the active coils (Shigley, eq. 10-25).
    spring = Spring("1.3 mm", "16 mm", "180 mm", 24)
    active = spring.mass.m_as("kg") * 24 / 26
    assert spring.natural_frequency.m_as("Hz") == pytest.approx(
        0.5 * (spring.rate.m_as("N/m") / active) ** 0.5
    )
