"""Drag tables, projectiles, and what is refused."""

import math

import pytest

import blasterlab as bl
from blasterlab.flight.drag_table import DragTable
from blasterlab.flight.projectile import Projectile, mass_and_size


def test_table_in_mach_and_reynolds():
    table = DragTable(mach=[0.0, 1.0], reynolds=[1e3, 1e5], drag_coefficient=[[1.0, 2.0], [3.0, 4.0]])
    assert table.value(0.5, 1e3) == pytest.approx(1.5)
    assert table.value(0.5, 1e4) == pytest.approx(2.5)  # half way in the logarithm
    assert table.value(0.0, 1e5) == pytest.approx(3.0)
    assert table.value(2.0, 1e7) == pytest.approx(4.0)  # held at its end


def test_table_in_reynolds_alone():
    only = DragTable(mach=[0.0], reynolds=[1e3, 1e5], drag_coefficient=[1.0, 0.5])
    assert only.value(0.0, 1e4) == pytest.approx(0.75)


@pytest.mark.parametrize(
    ("mach", "coefficients", "words"),
    [
        ([0.3, 0.1, 0.5], [0.7, 0.8, 0.9], ["drag.mach", "value 2 is 0.1 after 0.3", "sort"]),
        ([0.1, 0.1], [0.7, 0.8], ["drag.mach", "value 2 is 0.1 after 0.1", "one row for each"]),
        ([0.1], [math.nan], ["drag.drag_coefficient", "nan"]),
        ([0.1], [-1.0], ["drag.drag_coefficient", "0 to 10000"]),
        ([-0.1], [1.0], ["drag.mach", "0 to 5"]),
        ([], [], ["drag.mach", "0 values"]),
    ],
)
def test_tables_refused(mach, coefficients, words):
    with pytest.raises(bl.UnitError) as caught:
        DragTable(mach, coefficients)
    for word in words:
        assert word in str(caught.value)


def test_wrong_counts_refused():
    with pytest.raises(bl.UnitError, match="one value a Mach"):
        DragTable(mach=[0.0, 0.5], drag_coefficient=[0.7, 0.8, 0.9])
    with pytest.raises(bl.UnitError, match="must be a number"):
        DragTable(mach=["fast"], drag_coefficient=[0.7])


@pytest.mark.parametrize(
    ("values", "word"),
    [
        (("1 m", "12 mm", 0.7), "dart.mass"),
        (("0 g", "12 mm", 0.7), "dart.mass"),
        (("1 g", "12", 0.7), "dart.diameter"),
        (("1 g", "12 m", 0.7), "dart.diameter"),
        (("1 g", "12 mm", -0.1), "dart.drag_coefficient"),
        (("1 g", "12 mm", 11.0), "0 to 10"),
        (("1 g", "12 mm", 0.7, "3 s"), "dart.length"),
    ],
)
def test_projectiles_refused(values, word):
    with pytest.raises(bl.UnitError) as caught:
        Projectile(*values)
    assert word in str(caught.value)


def test_replace_checks_again():
    dart = Projectile("1 g", "12.7 mm", 0.7)
    assert dart.replace(drag_coefficient=0.5).drag_coefficient == 0.5
    with pytest.raises(bl.UnitError, match=r"dart\.mass"):
        dart.replace(mass="1 t")


def test_no_dart():
    with pytest.raises(bl.UnitError, match="got a str"):
        mass_and_size("dart")


def test_a_part_of_a_build_flies_too():
    part = bl.demo_build(bl.demo_builds()[0]).dart
    assert bl.fly(part, "40 m/s").last.distance.m_as("m") > 5
