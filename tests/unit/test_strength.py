"""Tube, blocked barrel, front stop and glue line: limits, orders and refusals."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

import blasterlab as bl
from blasterlab import tables, units
from blasterlab.checks.finding import Finding
from blasterlab.checks.strength import (
    FACTORS,
    blocked_pressure,
    burst_margin,
    catch_load,
    glue_shear,
    stop_load,
    tube_stress,
)
from blasterlab.parts.materials import material, materials


def test_a_thin_wall_tends_to_the_kettle_formula() -> None:
    thin = tube_stress("36 mm", "0.05 mm", "500 kPa")
    assert thin.hoop_inside.m_as("MPa") == pytest.approx(thin.thin_wall.m_as("MPa"), rel=2e-3)
    thick = tube_stress("36 mm", "10 mm", "500 kPa")
    assert thick.hoop_inside > thick.thin_wall > thick.hoop_outside
    assert thick.radial.m_as("MPa") == pytest.approx(-0.5)


def test_equal_pressures_press_evenly() -> None:
    even = tube_stress("36 mm", "2 mm", "1 MPa", "1 MPa")
    for stress in (even.hoop_inside, even.hoop_outside, even.radial, even.axial):
        assert stress.m_as("MPa") == pytest.approx(-1.0)


@pytest.mark.parametrize(
    ("bore", "wall", "inside", "name"),
    [
        ("36 mm", "0 mm", "1 MPa", "wall"),
        ("36 mm", "-1 mm", "1 MPa", "wall"),
        ("0 mm", "1 mm", "1 MPa", "bore"),
        ("36 mm", "2 mm", "-1 MPa", "inside"),
    ],
)
def test_a_tube_that_cannot_be_is_refused(bore: str, wall: str, inside: str, name: str) -> None:
    with pytest.raises(units.UnitError, match=f"^{name}:"):
        tube_stress(bore, wall, inside)


@pytest.mark.parametrize("name", bl.demo_builds())
def test_the_blocked_barrel_holds_the_springs_work(name: str) -> None:
    build = bl.demo_build(name)
    blocked = blocked_pressure(build).m_as("Pa")
    si = build.si
    area = math.pi / 4 * si["chamber.bore"] ** 2
    dead = si["chamber.dead_volume"] + si["barrel.dead_volume"]
    first = area * si["chamber.stroke"] + dead
    end = first * (si["air.pressure"] / blocked) ** (1 / 1.4)
    travel = (first - end) / area
    assert 0.0 < travel <= si["chamber.stroke"] * (1 + 1e-9)
    from blasterlab.parts.nest import nested_energy

    left = units.quantity(si["chamber.stroke"] - travel, "m")
    given = nested_energy(build.springs, left, units.quantity(si["chamber.stroke"], "m")).m_as("J")
    steps = 4000  # the gas's work by the trapezoidal rule, a second way
    volumes = [first - (first - end) * n / steps for n in range(steps + 1)]
    pressures = [si["air.pressure"] * ((first / v) ** 1.4 - 1.0) for v in volumes]
    taken = sum(0.5 * (a + b) for a, b in pairwise(pressures)) * (first - end) / steps
    if travel < si["chamber.stroke"] * (1 - 1e-6):
        assert taken == pytest.approx(given, rel=1e-5)
    else:
        assert taken <= given
    assert blocked > bl.simulate(build).peak_pressure.m_as("Pa")


def test_less_dead_volume_and_a_stronger_spring_press_more() -> None:
    build = bl.demo_build("workhorse")
    tight = build.replace({"chamber.dead_volume": "1 cm^3"})
    strong = build.replace({"spring.wire_diameter": "1.6 mm"})
    assert blocked_pressure(tight) > blocked_pressure(build)
    assert blocked_pressure(strong) > blocked_pressure(build)


def test_materials_say_how_sure_they_are() -> None:
    known = materials()
    assert {found.kind for found in known.values()} == set(FACTORS)
    assert {found.certainty for found in known.values()} == {"published", "from memory"}
    assert all(found.strength[0] < found.strength[1] for found in known.values())
    assert "from memory" in tables.source("tables/materials")
    for along, across in zip(
        [known[name] for name in known if "along" in name],
        [known[name] for name in known if "across" in name],
        strict=True,
    ):
        assert across.strength[1] < along.strength[1]


def test_a_material_is_found_by_how_it_begins() -> None:
    assert material("acrylic").kind == "brittle"
    with pytest.raises(units.UnitError, match="fits several"):
        material("printed")
    with pytest.raises(units.UnitError, match="is none of"):
        material("cheese")


def test_the_margin_falls_with_pressure_and_factor_and_rises_with_the_wall() -> None:
    usual = burst_margin("36 mm", "2 mm", "600 kPa", "acrylic")
    assert burst_margin("36 mm", "2 mm", "1200 kPa", "acrylic") == pytest.approx(usual / 2)
    assert burst_margin("36 mm", "2 mm", "600 kPa", "acrylic", factor=16.0) == pytest.approx(usual / 2)
    assert burst_margin("36 mm", "3 mm", "600 kPa", "acrylic") > usual
    assert burst_margin("36 mm", "2 mm", "0 kPa", "acrylic") == math.inf
    with pytest.raises(units.UnitError, match="factor"):
        burst_margin("36 mm", "2 mm", "600 kPa", "acrylic", factor=0.5)


def test_a_softer_pad_softens_the_blow_until_it_bottoms() -> None:
    hard, soft = stop_load("2 J", "10 mm", "1000 N/mm"), stop_load("2 J", "10 mm", "250 N/mm")
    assert soft.force.m_as("N") == pytest.approx(hard.force.m_as("N") / 2)
    assert not soft.bottoms
    assert stop_load("2 J", "3 mm", "250 N/mm").bottoms
    # the work of the pad is the plunger's energy
    assert 0.5 * soft.force.m_as("N") * soft.crush.m_as("m") == pytest.approx(2.0)
    with pytest.raises(units.UnitError, match="thickness"):
        stop_load("2 J", "0 mm", "250 N/mm")


def test_a_glue_line_shares_the_load_over_its_ring() -> None:
    assert glue_shear("1000 N", "40 mm", "10 mm").m_as("MPa") == pytest.approx(1000 / (math.pi * 400))
    with pytest.raises(units.UnitError, match="length"):
        glue_shear("1000 N", "40 mm", "0 mm")


def test_the_catch_shears_by_force_over_area_against_its_materials_range() -> None:
    build = bl.demo_build("workhorse")
    assert catch_load(build) is None
    told = build.replace({"fit.catch_area": "20 mm^2", "fit.catch_material": "printed PLA across"})
    load = catch_load(told)
    assert load is not None
    pull = build.spring.rate * (build.spring.preload + build.chamber.stroke)  # by hand, one spring
    assert load.force.m_as("N") == pytest.approx(pull.m_as("N"))
    assert load.shear.m_as("MPa") == pytest.approx(pull.m_as("N") / 20)
    low, high = (end.m_as("MPa") * math.sqrt(3) for end in load.strength)
    assert (low, high) == pytest.approx([end.m_as("MPa") for end in material("printed PLA across").strength])
    assert load.allowed.m_as("MPa") == pytest.approx(load.strength[0].m_as("MPa") / FACTORS["printed"])

    def found(changes: dict) -> Finding:
        return next(one for one in told.replace(changes).check() if one.message.startswith("The catch holds"))

    assert found({}).severity == "warning"
    assert "larger catch or a tougher material" in found({}).message
    assert found({"fit.catch_area": "5 mm^2"}).severity == "danger"
    assert found({"fit.catch_material": "brass"}).severity == "info"
    assert found({}).source == "force over area; strength from memory, data/tables/materials.csv"
    with pytest.raises(bl.BuildError, match=r"fit\.catch_material: got 'cheese', which is none of"):
        told.replace({"fit.catch_material": "cheese"})
    with pytest.raises(bl.BuildError, match=r"fit\.catch_area: got '0 mm\^2'; must be 0\.1 mm² to"):
        told.replace({"fit.catch_area": "0 mm^2"})


def test_a_pad_has_its_rate_in_newtons_a_millimetre_everywhere() -> None:
    build = bl.demo_build("workhorse").replace({"fit.pad_thickness": "5 mm", "fit.pad_stiffness": "300 N/mm"})
    assert 'pad_stiffness = "300 N/mm"' in build.to_text()
    assert units.show(build.fit.pad_stiffness, "pad rate") == "300 N/mm"
    with pytest.raises(bl.BuildError, match=r"must be 0\.001 N/mm to 1000000 N/mm \(put 20 kg on the pad"):
        build.replace({"fit.pad_stiffness": "0 N/m"})
