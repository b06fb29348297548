"""The table kept with the kit that says how far off the shot model is, and what makes it again."""

import numpy as np
import pytest
from bench import make_model_grid as make
from bench import make_validation

import blasterlab as bl
from blasterlab import tables
from blasterlab.waves.gas_shot import wave_run
from blasterlab.waves.model_grid import VARIANTS


def test_table_covers_the_range():
    assert "not measured" in tables.source("computed/model_grid")
    table = bl.model_grid()
    assert len(table) == make.COUNT >= 60
    # spread over the range of each size that is asked for
    for column, low, high in (
        ("bore_mm", 20.0, 50.0),
        ("stroke_mm", 30.0, 150.0),
        ("barrel_mm", 80.0, 600.0),
        ("dart_g", 0.6, 3.0),
        ("port_mm", 4.0, 13.0),
    ):
        values = table[column]
        assert low <= values.min() < low + 0.1 * (high - low), column
        assert high >= values.max() > high - 0.1 * (high - low), column
    assert 15.0 <= table.both_m_s.min() < 20.0
    assert 90.0 < table.both_m_s.max() <= 110.0
    assert np.isfinite(table.to_numpy()).all()
    assert (table.wave_m_s > 0.0).all()


@pytest.mark.parametrize("row", [3, 40, 77])
def test_table_is_what_the_code_computes(row):
    case = make.design()[row]
    kept = tables.read("computed/model_grid").iloc[row]
    for name, value in case.values.items():
        assert kept[name] == pytest.approx(value, rel=1e-4), name
    assert make.gas_waves(case.p)[0] == pytest.approx(kept.wave_m_s, rel=2e-4)
    for name, (inertia, ahead) in VARIANTS.items():
        speed, _ = make.shot_model(case.p._replace(gas_inertia=inertia, air_ahead=ahead))
        assert speed == pytest.approx(kept[f"{name}_m_s"], rel=2e-4)
    # and the waves themselves are settled: finer cells move them little
    finer = wave_run(case.p, 0.5 * make.CELL).outcome.muzzle_velocity
    assert finer == pytest.approx(kept.wave_m_s, rel=1e-3)


def test_a_whole_row(tmp_path):
    make.main(["--count", "2", "--workers", "1", "--out", str(tmp_path / "grid.csv")])
    lines = (tmp_path / "grid.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0].startswith("# Computed by this kit")
    assert "--count 2" in lines[0]
    assert lines[2].startswith("build,")
    assert len(lines) == 5
    names, row = lines[2].split(","), [float(x) for x in lines[3].split(",")]
    made = dict(zip(names, row, strict=True))
    assert 15.0 <= made["both_m_s"] <= 110.0
    assert 80.0 <= made["wave_best_mm"] <= 600.0
    assert made["chain_m_s"] > 0.0


def test_each_correction_earns_its_place():
    summary = bl.model_grid_summary()
    mean = summary.mean_size_percent
    assert mean.iloc[0] > mean.iloc[1] > mean.iloc[3]
    assert mean.iloc[0] > mean.iloc[2] > mean.iloc[3]
    assert summary.beyond_2_percent.iloc[3] <= 0.05 * len(bl.model_grid())
    assert summary.median_size_percent.iloc[3] < 0.3
    with pytest.raises(ValueError, match="no builds"):
        bl.model_grid_summary(bl.model_grid().iloc[:0])


def test_design_refuses():
    with pytest.raises(ValueError, match="count"):
        make.design(0)


def test_the_answers_from_outside_are_met_by_what_the_code_computes():
    assert "not measured" in tables.source("computed/validation")
    kept, made = bl.validation(), make_validation.validation().set_index("case")
    assert list(kept.index) == list(made.index)
    assert list(kept.source) == list(made.source)
    assert kept.outside.to_numpy() == pytest.approx(made.outside.to_numpy(), rel=1e-7)
    assert kept.model.to_numpy() == pytest.approx(made.model.to_numpy(), rel=1e-7)
    assert (kept.off_percent.abs() < 0.1).all()
