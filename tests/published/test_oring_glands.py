"""O-rings against printed tables and charts, and a gland worked by hand."""

from __future__ import annotations

import re

import numpy as np
import pytest

from blasterlab import tables
from blasterlab.checks.seal import MOST_FILL, seal_fit
from blasterlab.checks.seal_friction import ring_load
from blasterlab.parts.rings import squeeze_limits


def test_the_worked_gland() -> None:
    """Bore 30.00 mm, ring 23.39 x 3.53, depth 3.07, width 4.75 (computed by hand from the definitions)."""
    fit = seal_fit("23.39 x 3.53 mm", "30 mm", "23.86 mm", "4.75 mm")
    assert fit.stretch.value == pytest.approx(0.020094, abs=5e-7)
    assert fit.squeeze.value == pytest.approx(0.12162, abs=5e-6)
    assert fit.fill.value == pytest.approx(0.6711, abs=5e-5)


#: AS568 = ISO 3601-1, inch sizes: series by hundreds, section and its tolerance, what the nominal bore is
#: larger than the ring's inside, then runs of dash numbers: first, last, bore of the first, step [in].
SERIES = {
    0: (0.070, 0.003, 0.011, [(6, 9, 1 / 8, 1 / 32), (10, 28, 1 / 4, 1 / 16), (29, 41, 3 / 2, 1 / 8),
                              (42, 50, 13 / 4, 1 / 4)]),
    1: (0.103, 0.003, 0.013, [(110, 150, 3 / 8, 1 / 16)]),
    2: (0.139, 0.004, 0.016, [(210, 222, 3 / 4, 1 / 16), (223, 240, 13 / 8, 1 / 8)]),
    3: (0.210, 0.005, 0.025, [(309, 324, 7 / 16, 1 / 16), (325, 329, 3 / 2, 1 / 8)]),
}  # fmt: skip
#: The section's half width by section, with those of the charts that the table of rings leaves out [in].
HALVES = {section: half for section, half, _, _ in SERIES.values()} | {
    0.040: 0.003, 0.050: 0.003, 0.060: 0.003, 0.275: 0.006,
}  # fmt: skip


def test_the_whole_table_follows_the_pattern_of_as568() -> None:
    """Every ring: its dash number, section and inside diameter, to the thousandth of an inch."""
    table = tables.read("tables/orings_as568").set_index("dash")
    bores = {
        dash: first + step * (dash - start)
        for _, _, _, runs in SERIES.values()
        for start, last, first, step in runs
        for dash in range(start, last + 1)
    }
    assert sorted(bores) == list(table.index)
    for dash, row in table.iterrows():
        section, half, less, _ = SERIES[int(dash) // 100]
        assert (row.cs_in, row.cs_tol_in) == (section, half), dash
        assert abs(row.id_in - (bores[int(dash)] - less)) <= 0.5e-3 + 1e-9, dash
    assert np.allclose(table.id_mm, 25.4 * table.id_in, atol=0.0051)
    assert np.allclose(table.cs_mm, 25.4 * table.cs_in, atol=0.0051)


#: Squeeze in per cent that a chart prints otherwise than its own inches give: section [in], end, by how much.
MISPRINTS = {
    "tables/orings_gland_moving_inch": {(0.139, "max"): 0.62},
    "reference/orings_gland_inch_b": {(0.275, "min"): -0.28},
}


@pytest.mark.parametrize("name", MISPRINTS)
def test_every_row_of_the_charts_follows_from_its_gland(name: str) -> None:
    """Printed charts of glands for reciprocating seals: squeeze and fill of every row recomputed.

    The greatest squeeze is that of the thickest ring in the shallowest gland, over its section; the least the
    other way round.  Inches to the thousandth, per cents to half of their last digit, or of the half per
    cents that one chart has.  The charts print no fill; their own limit is 85 per cent.
    """
    chart = tables.read(name)
    depth, inches, cents, width = (
        [column for column in chart if re.match(pattern, column)]
        for pattern in ("gland_depth", "squeeze_(in|m.._in)", "squeeze.*pct", "groove_w")
    )
    assert (len(chart), len(depth), len(inches), len(cents)) in {(5, 2, 2, 2), (8, 2, 2, 2)}
    off = {}
    for _, row in chart.iterrows():
        for end, sign, deep, inch, cent in zip(
            ("min", "max"), (-1, 1), reversed(depth), inches, cents, strict=True
        ):
            section, to = (
                row.cs_in + sign * HALVES[row.cs_in],
                0.1 / row.cs_in,
            )  # shares, so that size is free
            base = 10 * section  # a groove in which this ring is not stretched
            sizes = (base + 2 * row[deep], base, row[width[0]])
            fit = seal_fit(f"{to * base} x {to * section} in", *(f"{to * size} in" for size in sizes))
            assert fit.squeeze.value * section == pytest.approx(row[inch], abs=0.5e-3), (row.cs_in, end)
            assert fit.fill.value < MOST_FILL, (row.cs_in, end)
            wrong = row[cent] - 100 * fit.squeeze.value
            if abs(wrong) > (0.25 if row[cent] % 1 else 0.5):
                off[row.cs_in, end] = round(wrong, 2)
    assert off == MISPRINTS[name]


def test_the_limits_are_the_rows_of_the_chart() -> None:
    """Printed chart of glands for reciprocating seals, 3/32 and 1/8 in: 10 to 17 and 9 to 16 per cent."""
    assert squeeze_limits("0.103 in") == pytest.approx((0.10, 0.17))
    assert squeeze_limits("0.139 in") == pytest.approx((0.09, 0.16))


def test_the_ring_load_has_the_shape_of_the_formula() -> None:
    """F/(l d E) = 1.25 C^1.5 + 50 C^6 at 10, 15, 20 % (arithmetic by hand; the formula from memory)."""
    load = [ring_load(c) for c in (0.10, 0.15, 0.20)]
    assert load[1] / load[0] == pytest.approx(0.0731880 / 0.0395785, rel=2e-6)
    assert load[2] / load[0] == pytest.approx(0.1150034 / 0.0395785, rel=2e-6)
