"""Where the accepted ranges end: what stands just inside is taken, what stands just beyond is refused."""

from __future__ import annotations

import math

import pytest

import blasterlab as bl
from blasterlab.build import BuildError

WIDE = bl.demo_build("workhorse").replace({"barrel.bore": "60 mm", "dart.diameter": "60 mm"})
DISC = math.pi / 4.0 * 60.0**2  # mm^2


@pytest.mark.parametrize(
    ("field", "inside", "beyond"),
    [
        ("barrel.dead_volume", f"{0.0101 * DISC} mm^3", f"{0.0097 * DISC} mm^3"),  # 0.01 mm over the bore
        ("losses.stop_restitution", 0.9, 0.92),
        ("dart.mass", f"{0.0808e-3 * DISC} g", f"{0.0792e-3 * DISC} g"),  # 80 g/m^2, office paper (ISO 536)
    ],
)
def test_a_range_ends_where_it_is_said_to(field: str, inside: str | float, beyond: str | float) -> None:
    WIDE.replace({field: inside})
    with pytest.raises(BuildError, match=field.rpartition(".")[2]):
        WIDE.replace({field: beyond})


def test_no_dart_leaks_by_more_than_its_bore() -> None:
    build = bl.demo_build("workhorse")
    disc = math.pi / 4.0 * build.barrel.bore.m_as("mm") ** 2
    build.replace({"losses.blowby_area": f"{0.99 * disc} mm^2"})
    with pytest.raises(BuildError, match="the whole bore"):
        build.replace({"losses.blowby_area": f"{1.05 * disc} mm^2"})
