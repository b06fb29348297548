"""O-rings against printed tables and charts, and a gland worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.checks.seal import seal_fit
from blasterlab.checks.seal_friction import ring_load
from blasterlab.parts.rings import squeeze_limits


def test_the_worked_gland() -> None:
    """Bore 30.00 mm, ring 23.39 x 3.53, depth 3.07, width 4.75 (computed by hand from the definitions)."""
    fit = seal_fit("23.39 x 3.53 mm", "30 mm", "23.86 mm", "4.75 mm")
    assert fit.stretch.value == pytest.approx(0.020094, abs=5e-7)
    assert fit.free_squeeze == pytest.approx(0.13031, abs=5e-6)
    assert fit.squeeze.value == pytest.approx(0.12162, abs=5e-6)
    assert fit.fill.value == pytest.approx(0.6711, abs=5e-5)


def test_as568_follows_its_pattern() -> None:
    """AS568 = ISO 3601-1: within a series the inside diameters step by sixteenths or eighths of an inch."""
    table = tables.read("tables/orings_as568")
    assert len(table) > 130
    for series, step in ((0, 1 / 16), (1, 1 / 16), (2, 1 / 16)):
        rows = table[(table.dash // 100 == series) & (table.dash % 100 >= 12) & (table.dash % 100 <= 22)]
        assert len(rows) >= 8, series
        assert np.allclose(np.diff(rows.id_in), step, atol=0.0011), series
    assert np.allclose(table.id_mm, 25.4 * table.id_in, atol=0.006)
    assert np.allclose(table.cs_mm, 25.4 * table.cs_in, atol=0.006)


@pytest.mark.parametrize("name", ["tables/orings_gland_moving_inch", "reference/orings_gland_inch_b"])
def test_the_squeeze_of_the_charts_follows_from_their_depths(name: str) -> None:
    """Printed charts of glands for reciprocating seals: squeeze recomputed from section and depth."""
    chart = tables.read(name)
    depth = [column for column in chart if column.startswith("gland_depth")]
    share = [column for column in chart if column.startswith("squeeze") and "pct" in column]
    assert len(depth) == len(share) == 2
    rounding = 1.6  # per cent of the section: the charts count the section's own tolerance in
    for _, row in chart.iterrows():
        nominal = [100 * (1 - row[column] / row.cs_in) for column in reversed(depth)]
        assert row[share[0]] - rounding - 100 * 0.005 / row.cs_in <= nominal[0]
        assert nominal[1] <= row[share[1]] + rounding


def test_the_limits_are_the_rows_of_the_chart() -> None:
    """Printed chart of glands for reciprocating seals, 3/32 and 1/8 in: 10 to 17 and 9 to 16 per cent."""
    assert squeeze_limits("0.103 in") == pytest.approx((0.10, 0.17))
    assert squeeze_limits("0.139 in") == pytest.approx((0.09, 0.16))


def test_the_ring_load_has_the_shape_of_the_formula() -> None:
    """F/(l d E) = 1.25 C^1.5 + 50 C^6 at 10, 15, 20 % (arithmetic by hand; the formula from memory)."""
    load = [ring_load(c) for c in (0.10, 0.15, 0.20)]
    assert load[1] / load[0] == pytest.approx(0.0731880 / 0.0395785, rel=2e-6)
    assert load[2] / load[0] == pytest.approx(0.1150034 / 0.0395785, rel=2e-6)
