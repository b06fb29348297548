"""The invented demo strings come from the shot model, waves in the spring included, with hidden losses and
seeded noise; nothing was measured.

Run as a script to write them again: ``python tests/unit/test_demo_strings.py``.
"""

from __future__ import annotations

import numpy as np
import pytest

import blasterlab as bl
from blasterlab.bench.strings import ChronoString

#: What the demo build's losses "really" are in the invented world; its build file has others.
HIDDEN = {
    "losses.dart_friction": "2.1 N",
    "losses.blowby_area": "1.1 mm^2",
    "losses.seal_friction": "5 N",
    "losses.seal_leak_area": "0.5 mm^2",
    "losses.port_discharge": 0.74,
}
#: Name -> (title, changes, shots, odd shot, drift of the mean from first to last shot, unit, seed).
STRINGS = {
    "workhorse_wire_15": ("Spring of 1.5 mm wire", {}, 12, None, 0.0, "ft/s", 21),
    "workhorse_wire_14": (
        "Spring of 1.4 mm wire",
        {"spring.wire_diameter": "1.4 mm"},
        10,
        None,
        0.0,
        "ft/s",
        22,
    ),
    "workhorse_wire_16": (
        "Spring of 1.6 mm wire, held back",
        {"spring.wire_diameter": "1.6 mm"},
        10,
        None,
        0.0,
        "ft/s",
        23,
    ),
    "workhorse_heavy_dart": ("A dart of 1.3 g", {"dart.mass": "1.3 g"}, 10, None, 0.0, "m/s", 24),
    "workhorse_settling": ("A new spring settles", {}, 15, 11, -0.05, "m/s", 25),
}
SPREAD, SETUP, STEP = 0.011, 0.004, {"ft/s": 0.1, "m/s": 0.01}


def invent(name: str) -> ChronoString:
    title, changes, shots, odd, drift, unit, seed = STRINGS[name]
    build = bl.demo_build("workhorse").replace({**HIDDEN, **changes})
    draw = np.random.default_rng(seed)
    mean = bl.simulate(build).muzzle_velocity.m_as(unit) * (1.0 + SETUP * draw.normal())
    speeds = mean * (1.0 + SPREAD * draw.normal(size=shots)) * (1.0 + drift * np.linspace(0.0, 1.0, shots))
    if odd is not None:
        speeds[odd - 1] *= 0.91
    step = STEP[unit]
    return ChronoString(
        tuple(float(round(round(v / step) * step, 2)) for v in speeds),
        unit,
        title=title,
        note="Invented: shots simulated with waves in the spring, made-up losses and random spread; nobody "
        "measured anything.",
        dart="1.3 g demo dart" if "dart" in name else "1 g demo dart",
        build="Workhorse (invented)",
        temperature="20 degC",
    )


@pytest.mark.parametrize("name", STRINGS)
def test_the_file_is_what_the_model_invents(name: str) -> None:
    made, kept = invent(name), bl.demo_string(name)
    assert (made.title, made.note, made.unit, made.count) == (kept.title, kept.note, kept.unit, kept.count)
    # a last digit may round the other way on another machine
    np.testing.assert_allclose(made.readings, kept.readings, atol=1.01 * STEP[made.unit])


def test_all_files_are_invented_here() -> None:
    assert bl.demo_strings() == sorted(STRINGS)


def test_what_the_strings_are_there_to_show() -> None:
    settling = bl.demo_string("workhorse_settling")
    assert settling.odd_shots().shots == (11,)
    assert settling.without(11).trend.p < 0.05
    for name in ("workhorse_wire_15", "workhorse_wire_14", "workhorse_wire_16", "workhorse_heavy_dart"):
        assert not bl.demo_string(name).odd_shots()
        assert bl.demo_string(name).trend.p > 0.05


if __name__ == "__main__":
    from blasterlab.tables import data_folder

    for string_name in STRINGS:
        invent(string_name).save(data_folder() / "strings" / f"{string_name}.csv")
