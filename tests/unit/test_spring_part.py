"""The spring part: what it computes, what it refuses, and cutting."""

import math
import pickle

import numpy as np
import pytest

from blasterlab import units
from blasterlab.parts import coil
from blasterlab.parts.spring import Spring

BASE = {
    "wire_diameter": "1.3 mm",
    "outer_diameter": "16 mm",
    "free_length": "180 mm",
    "active_coils": 24,
    "preload": "30 mm",
}


def make(**changes: object) -> Spring:
    return Spring(**(BASE | changes))  # type: ignore[arg-type]


def test_values_follow_from_the_formulas() -> None:
    spring = make()
    # by hand: 81.5e9 * 0.0013^4 / (8 * 0.0147^3 * 24)
    assert spring.rate.m_as("N/m") == pytest.approx(81.5e9 * 0.0013**4 / (8 * 0.0147**3 * 24))
    assert spring.mass.m_as("g") == pytest.approx(
        7850e3 * math.pi / 4 * 0.0013**2 * math.pi * 0.0147 * 26, rel=1e-12
    )
    assert spring.solid_length.m_as("mm") == pytest.approx(27 * 1.3)
    assert spring.total_coils == 26
    assert spring.index == pytest.approx(14.7 / 1.3)
    assert spring.front_length.m_as("mm") == pytest.approx(150)
    assert spring.pitch.m_as("mm") == pytest.approx((180 - 3 * 1.3) / 24)
    values = spring.si_values()
    assert values == (
        pytest.approx(spring.rate.m_as("N/m")),
        pytest.approx(spring.mass.m_as("kg")),
        pytest.approx(spring.mass.m_as("kg") * 24 / 26),
        pytest.approx(0.0351),
        0.18,
        pytest.approx(0.03),
        0.0,
    )


def test_measured_values_win_and_the_computed_ones_stay_in_reach() -> None:
    spring = make(measured_rate="450 N/m", measured_mass="14 g")
    assert spring.rate.m_as("N/m") == pytest.approx(450)
    assert spring.mass.m_as("g") == pytest.approx(14)
    assert spring.computed_rate == make().rate
    assert spring.computed_mass == make().mass


def test_units_do_not_matter() -> None:
    inch = Spring("0.051181102 in", "0.62992126 in", "7.0866142 in", 24, preload="1.1811024 in")
    for name in ("rate", "mass", "solid_length", "mean_diameter", "pitch", "natural_frequency"):
        assert getattr(inch, name).to_base_units().m == pytest.approx(
            getattr(make(), name).to_base_units().m, rel=1e-6
        )
    assert inch.force("4 in").m_as("lbf") == pytest.approx(make().force("101.6 mm").m_as("lbf"), rel=1e-6)


def test_force_energy_and_stress() -> None:
    spring = make(measured_rate="400 N/m")
    assert spring.force("200 mm").m_as("N") == 0.0
    lengths = units.quantity(np.array([180.0, 130.0, 80.0]), "mm")
    assert spring.force(lengths).m_as("N") == pytest.approx([0, 20, 40])
    assert spring.energy("130 mm", "80 mm").m_as("J") == pytest.approx(1.5)
    assert spring.energy("80 mm", "130 mm").m_as("J") == pytest.approx(-1.5)
    plain = spring.shear_stress("80 mm", corrected=False)
    assert plain.m_as("MPa") == pytest.approx(8 * 14.7 * 40 / (math.pi * 1.3**3))
    assert spring.shear_stress("80 mm") / plain == pytest.approx(coil.bergstraesser(spring.index))


BELOW = ["30 mm", *(units.quantity(np.array(lengths), "m") for lengths in ([0.1, 0.03], [np.nan], []))]


@pytest.mark.parametrize("length", BELOW)
def test_lengths_below_solid_are_refused(length: object) -> None:
    with pytest.raises(units.UnitError, match=r"at least 35\.1 mm \(there spring is solid\)"):
        make().force(length)
    with pytest.raises(units.UnitError, match="from_length"):
        make().energy(length, "100 mm")


REFUSED = [
    ({"wire_diameter": 1.3}, 'spring.wire_diameter: got 1.3, which has no unit; try "1.3 mm" or "1.3 in"'),
    ({"wire_diameter": "0 mm"}, "spring.wire_diameter: got '0 mm'; must be 0.05 mm to 20 mm"),
    ({"outer_diameter": "2.5 mm"}, "must be more than two wire diameters, 2.6 mm"),
    ({"free_length": "35 mm", "preload": "0 mm"}, "must be more than 35.1 mm (there the coils touch"),
    ({"preload": "-1 mm"}, "a loose spring has a gap"),
    ({"gap": "-1 mm"}, "spring.gap"),
    ({"preload": "150 mm"}, "spring.preload: got 150 mm; must be less than 144.9 mm"),
    ({"active_coils": 0}, "spring.active_coils: got 0; must be 0.5 to 1000"),
    ({"active_coils": "many"}, "spring.active_coils"),
    ({"ends": "square"}, "spring.ends: got 'square'; must be "),
    ({"material": "EN 10270-1 S"}, 'try "EN 10270-1 S'),
    ({"material": ["x"]}, "spring.material: got ['x']; must be one of"),
    ({"material": "music wire"}, 'try "ASTM A228 music wire"'),
    ({"measured_rate": "0 N/m"}, "spring.rate: got '0 N/m'; must be 1 N/m to 100000 N/m"),
    ({"measured_mass": "4 N"}, "spring.mass: got '4 N'; must be a mass"),
    ({"guide": "glue"}, '; must be "not said" or "free" or "on a rod" or "in a tube"'),
    ({"guide_diameter": "-3 mm"}, "spring.guide_diameter"),
    ({"material": "ASTM A228 music wire", "wire_diameter": "7 mm", "outer_diameter": "40 mm",
      "free_length": "500 mm"},
     "spring.wire_diameter: got 7 mm; must be at most 6.35 mm (the moduli of ASTM A228 music wire"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "words"), REFUSED)
def test_what_cannot_be_built_is_refused_with_the_reason(changes: dict, words: str) -> None:
    with pytest.raises(units.UnitError) as error:
        make(**changes)
    assert words in str(error.value)


def test_all_faults_in_one_message_under_the_springs_own_name() -> None:
    with pytest.raises(units.UnitError) as error:
        make(wire_diameter="1.3", ends="x", material="y", name="springs[1]")
    lines = str(error.value).splitlines()
    assert [line.split(":")[0] for line in lines] == [
        "springs[1].wire_diameter",
        "springs[1].ends",
        "springs[1].material",
    ]


def test_ends_and_material_have_one_spelling() -> None:
    spring = make(ends=" Open / CLOSED ", material="en  10270-1 sh")
    assert spring.ends == "closed / open"
    assert spring.material == "EN 10270-1 SH"
    assert spring.total_coils == 25
    assert spring == make(ends="closed/open")
    assert pickle.loads(pickle.dumps(spring)) == spring


def test_cut_by_coils_and_by_length_agree() -> None:
    spring = make()
    by_coils = spring.cut(coils=4)
    assert by_coils.active_coils == 21  # the dead coil of the closed end goes first
    assert by_coils.ends == "closed / open"
    by_length = spring.cut(to_length=by_coils.free_length)
    assert by_length.active_coils == pytest.approx(21)
    assert by_length.rate.m_as("N/m") == pytest.approx(by_coils.rate.m_as("N/m"))
    assert by_coils.rate / spring.rate == pytest.approx(24 / 21)
    assert by_coils.pitch.m_as("mm") == pytest.approx(spring.pitch.m_as("mm"))
    assert by_coils.front_length.m_as("mm") == pytest.approx(150)  # the seat does not move


def test_bending_the_cut_end_closed_costs_a_coil() -> None:
    opened, bent = make().cut(coils=4), make().cut(coils=4, end="closed")
    assert bent.ends == "closed"
    assert opened.active_coils - bent.active_coils == pytest.approx(1)
    assert bent.rate > opened.rate
    assert bent.total_coils == opened.total_coils  # no wire lost by bending


def test_a_cut_spring_is_cut_at_its_open_end_again() -> None:
    twice = make().cut(coils=3).cut(coils=2)
    assert twice.ends == "closed / open"
    assert twice.active_coils == pytest.approx(20)
    assert twice == make().cut(coils=5)


def test_measured_values_scale_with_the_cut() -> None:
    spring = make(measured_rate="450 N/m", measured_mass="14 g").cut(coils=5)
    assert spring.rate.m_as("N/m") == pytest.approx(450 * 24 / 20)
    assert spring.mass.m_as("g") == pytest.approx(14 * 21 / 26)


def test_cut_past_the_preload_leaves_a_gap() -> None:
    loose = make(preload="5 mm").cut(to_length="160 mm")
    assert loose.preload.m_as("mm") == 0
    assert loose.gap.m_as("mm") == pytest.approx(15)
    tight = make(preload="0 mm", gap="4 mm").cut(to_length="170 mm")
    assert tight.gap.m_as("mm") == pytest.approx(14)


@pytest.mark.parametrize(
    ("how", "words"),
    [
        ({}, "either to_length or coils"),
        ({"to_length": "100 mm", "coils": 3}, "either to_length or coils"),
        ({"to_length": "190 mm"}, "must be a part of the spring of 180 mm"),
        ({"to_length": "2 mm"}, "must be a part of the spring"),
        ({"to_length": "3 mm"}, "must be 0.5 to 1000"),
        ({"coils": 26}, "must be a part of the spring"),
        ({"coils": 0.5}, "the closed end's own coil comes off first"),
        ({"coils": 40}, "coils cut off the end"),
        ({"coils": -1}, "coils cut off the end"),
        ({"coils": 3, "end": "glued"}, "cut.end: got 'glued'"),
    ],
)
def test_impossible_cuts_are_refused(how: dict, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        make().cut(**how)


def test_formulas_take_arrays() -> None:
    wires = np.array([1.2e-3, 1.3e-3])
    rates = coil.rate(wires, 0.0147, 24, 81.5e9)
    assert rates.shape == (2,)
    assert rates[1] / rates[0] == pytest.approx((1.3 / 1.2) ** 4)
    bends = coil.buckling_deflection(np.array([0.02, 0.2]), 0.018, 81.5e9, 206e9, 0.5)
    assert np.isinf(bends[0])  # short enough never to buckle
    assert bends[1] == pytest.approx(18.935432e-3, rel=1e-6)
