"""A fit of ISO 286 as a chain of two lengths."""

from __future__ import annotations

import pytest

from blasterlab.checks.tolerance import stack


def test_20_h7_g6() -> None:
    """ISO 286-2: 20 H7 = +21/0 and 20 g6 = -7/-20 micrometres, so the clearance is 7 to 41 micrometres."""
    clearance = stack(
        {"hole": "20.0105 mm", "shaft": "19.9865 mm"}, {"hole": "0.0105 mm", "shaft": "0.0065 mm"}, {"hole"}
    )
    assert [1e6 * end for end in clearance.worst] == pytest.approx([7.0, 41.0], abs=1e-6)
    assert clearance.value == pytest.approx(24e-6)
