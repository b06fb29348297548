"""Wire tables: how they are read between rows, and what lies outside them."""

import pytest

from blasterlab import tables, units
from blasterlab.parts.wire import MATERIALS, coil_tolerance, material, tensile_strength, wire_tolerance


def test_every_material_has_a_source_and_sane_constants() -> None:
    assert len(MATERIALS) >= 5
    for known in MATERIALS.values():
        assert known.source
        assert 60e9 < known.shear_modulus(1e-3) < 90e9
        assert 7000 < known.density < 9000
        poisson = known.youngs_modulus(1e-3) / (2 * known.shear_modulus(1e-3)) - 1
        assert 0.15 < poisson < 0.45


def test_band_tables_take_the_next_larger_row() -> None:
    # SM at 1.30 and 1.40 mm is published (data/tables/wire_en10270_strength.csv): 1900 and 1870 N/mm^2
    assert tensile_strength("EN 10270-1 SM", "1.3 mm").value == pytest.approx(1900e6)
    assert tensile_strength("EN 10270-1 SM", "1.31 mm").value == pytest.approx(1870e6)
    assert tensile_strength("EN 10270-1 SM", "1.4 mm").value == pytest.approx(1870e6)
    # 1.4310 NS: over 1.25 to 1.50 mm 1800 N/mm^2
    name = "stainless 302 / EN 10270-3 1.4310"
    assert tensile_strength(name, "1.5 mm").value == pytest.approx(1800e6)
    assert tensile_strength(name, "1.26 mm").value == pytest.approx(1800e6)
    assert tensile_strength(name, "0.1 mm").value == pytest.approx(2200e6)


def test_music_wire_is_read_by_linear_interpolation() -> None:
    # A228 minimum: 303 ksi at 0.051 in and 300 ksi at 0.055 in
    assert tensile_strength("ASTM A228 music wire", "0.051 in").value == pytest.approx(2089e6)
    middle = tensile_strength("ASTM A228 music wire", "0.053 in")
    assert middle.value == pytest.approx((2089e6 + 2068e6) / 2, rel=1e-6)
    assert middle.rule.startswith("linear")


def test_what_is_from_memory_is_said() -> None:
    assert tensile_strength("EN 10270-1 SM", "1.3 mm").certain
    doubtful = tensile_strength("EN 10270-1 SH", "1.3 mm")
    assert not doubtful.certain
    assert "from memory" in doubtful.source
    assert "inferred" in tensile_strength("EN 10270-1 SH", "2.5 mm").source
    frame = tables.read("tables/wire_en10270_strength")
    assert (frame["SH_min_MPa"] == frame["SM_max_MPa"] + 10).all()  # the rule that the table states


@pytest.mark.parametrize(
    ("name", "size", "words"),
    [
        ("EN 10270-1 SM", "0.7 mm", r"must be 0\.8 mm to 2\.6 mm .* tabulated there and not extrapolated"),
        ("EN 10270-1 SM", "2.7 mm", "not extrapolated"),
        ("ASTM A228 music wire", "3 mm", "not extrapolated"),
        ("stainless 302 / EN 10270-3 1.4310", "4 mm", "not extrapolated"),
        ("ASTM A227 hard drawn", "0.6 mm", "not extrapolated"),
        ("ASTM A401 chrome-silicon", "1.5 mm", r"must be 1\.6 mm to 9\.5 mm"),
        ("unobtainium", "1 mm", "got 'unobtainium'; must be one of"),
    ],
)
def test_outside_the_tables_is_refused(name: str, size: str, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        tensile_strength(name, size)


def test_moduli_steps_by_size_and_end() -> None:
    music = material("ASTM A228 music wire")
    assert music.shear_modulus(0.5e-3) > music.shear_modulus(1.3e-3) > music.shear_modulus(2.5e-3)
    with pytest.raises(units.UnitError, match=r"at most 6\.35 mm .* tabulated up to there"):
        music.youngs_modulus(7e-3)


def test_tolerances() -> None:
    # EN 10270-1: 1.05 to 1.70 mm ± 0.020 mm; EN 15800 grade 2: D over 16 to 25 mm, w over 8 to 14, ± 0.45 mm
    assert wire_tolerance("1.4 mm").m_as("mm") == pytest.approx(0.020)
    assert wire_tolerance("1.0 mm").m_as("mm") == pytest.approx(0.015)
    assert coil_tolerance("18 mm", 12.9).m_as("mm") == pytest.approx(0.45)
    assert coil_tolerance("16 mm", 8).m_as("mm") == pytest.approx(0.30)
    assert coil_tolerance("16 mm", 20).m_as("mm") == pytest.approx(0.40)


@pytest.mark.parametrize("size", ["0.1 mm", "5 mm"])
def test_wire_tolerance_outside_its_table(size: str) -> None:
    with pytest.raises(units.UnitError, match="tolerance table's range"):
        wire_tolerance(size)


@pytest.mark.parametrize(
    ("mean", "index", "words"),
    [("40 mm", 10, "tolerance table"), ("1 mm", 10, "tolerance table"), ("15 mm", 3, "no other index")],
)
def test_coil_tolerance_outside_its_table(mean: str, index: float, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        coil_tolerance(mean, index)
