"""What one step of each part does, the tornado, and the tuning panel."""

import numpy as np
import pandas as pd
import pytest

from blasterlab.build import Build, demo_build, demo_builds
from blasterlab.figures import steps_chart, tornado_chart
from blasterlab.panels import tuning_panel
from blasterlab.plan import sensitivity
from blasterlab.plan.cutting import with_cut
from blasterlab.plan.sensitivity import Matters, Steps, steps, what_matters
from blasterlab.shot.barrel_sweep import barrel_sweep
from blasterlab.shot.simulate import simulate
from blasterlab.shot.speed_range import unknowns
from blasterlab.units import UnitError, use_units


@pytest.fixture(scope="module")
def build() -> Build:
    return demo_build("workhorse")


@pytest.fixture(scope="module")
def found(build: Build) -> Steps:
    return steps(build, cap="70 m/s")


@pytest.fixture(scope="module")
def matters(build: Build) -> Matters:
    return what_matters(build, samples=128)


def test_a_step_changes_what_two_simulations_differ_by(build: Build, found: Steps) -> None:
    now = simulate(build).muzzle_velocity.m
    rows = {row["name"]: row for row in found.table.to_dict("records")}
    others = {
        "chamber.stroke": build.replace({"chamber.stroke": "91 mm"}),
        "spring.wire_diameter": build.replace({"spring.wire_diameter": "1.6 mm"}),
        "spring.active_coils": with_cut(build, coils=1),
        "barrel.length": build.replace({"barrel.length": "39 cm"}),
        "losses.dart_friction": build.replace({"losses.dart_friction": "1 N"}),
    }
    assert set(others) < set(rows)
    for name, other in others.items():
        row = rows[name]
        assert row["speed_m_s"] == pytest.approx(simulate(other).muzzle_velocity.m - now, abs=2e-4)
        assert row["pull_N"] == pytest.approx((other.prime.peak_force - build.prime.peak_force).m_as("N"))
        assert row["speed_low_m_s"] <= row["speed_m_s"] <= row["speed_high_m_s"]
    assert list(abs(found.table["speed_m_s"][1:])) == sorted(abs(found.table["speed_m_s"][1:]), reverse=True)


def test_the_best_barrel_is_that_of_the_sweep_where_losses_are_known(build: Build) -> None:
    table = steps(build, sizes={}).table
    assert len(table) == 1
    assert table["best_low_m"][0] < barrel_sweep(build).best_length.m_as("m") < table["best_high_m"][0]
    assert np.isnan(table["margin_m_s"][0])


def test_steps_in_a_builders_words(found: Steps) -> None:
    said = str(found)
    assert "1 mm more stroke: +" in said
    assert "1 coil cut off: -" in said
    assert "margin to the cap" in said
    assert steps_chart(found).caption.startswith(
        "Change of muzzle velocity when one part changes, with 90 % ranges. "
    )
    use_units("US customary")
    try:
        assert "0.0394 in more stroke: +" in str(found)
    finally:
        use_units("metric")


def test_steps_that_cannot_be_built_are_left_out(build: Build) -> None:
    table = steps(build, sizes={"chamber.stroke": "60 mm", "losses.dart_friction": "-5 N"}).table
    assert list(table["name"]) == [""]
    with pytest.raises(UnitError):
        steps(build, sizes={"chamber.stroke": "1 g"})
    with pytest.raises(UnitError, match="cap"):
        steps(build, cap="fast")


def test_a_tornado_shows_each_end_alone(build: Build, matters: Matters) -> None:
    rows = {row["name"]: row for row in matters.table.to_dict("records")}
    assert matters.speed == pytest.approx(simulate(build).muzzle_velocity.m, abs=1e-3)
    friction, stroke = rows["dart_friction"], rows["chamber.stroke"]
    asked = unknowns(build)
    assert friction["low"] == asked.low[asked.names.index("dart_friction")]
    for row, key, unit in ((friction, "losses.dart_friction", "N"), (stroke, "chamber.stroke", "m")):
        for end in ("low", "high"):
            other = simulate(build.replace({key: f"{row[end]!r} {unit}"})).muzzle_velocity.m
            assert row[f"speed_at_{end}_m_s"] == pytest.approx(other, abs=1e-3)
    width = (matters.table["speed_at_high_m_s"] - matters.table["speed_at_low_m_s"]).abs()
    assert list(width) == sorted(width, reverse=True)
    assert matters.table["total"].between(-0.05, 1.3).all()
    assert matters.table["total"].sum() > 0.9


def test_matters_say_what_to_measure_next(matters: Matters) -> None:
    assert "dart friction matters most" in str(matters)
    assert "measure next: pull a dart through the barrel with a kitchen scale" in str(matters)
    assert "dart friction" in tornado_chart(matters).caption


@pytest.mark.parametrize(
    "bad", [{"chamber.stroke": "90 mm"}, {"chamber.stroke": -0.1}, {"fit.setback": "1 mm"}]
)
def test_tolerances_that_cannot_be(build: Build, bad: dict[str, str | float]) -> None:
    with pytest.raises((UnitError, TypeError)):
        what_matters(build, bad)


def test_the_tuning_panel_says_which_step_helps_under_the_cap(build: Build) -> None:
    panel = tuning_panel(build)
    assert panel.text.startswith("Tuning: 63.12 m/s; 0.1 mm more wire diameter does most, +")
    panel.set("cap", "80 m/s")
    assert panel.lines[1].startswith("Under the cap by")
    now = panel.result.table["margin_m_s"][0]
    panel.set("cap", f"{79.9 - now} m/s")
    assert panel.lines[1].startswith("Over the cap by 0.100 m/s")
    assert "one step would do" in panel.lines[1]
    panel.set("cap", "12 m/s")
    assert "no single step is enough" in panel.lines[1]
    panel.set("barrel.length", "20 cm")
    assert panel.result.build.barrel.length.m_as("cm") == pytest.approx(20)
    assert panel.pictures


def test_best_barrels_wait_until_the_slider_rests(build: Build) -> None:
    panel = tuning_panel(build)
    panel.slide("chamber.stroke", 88.0)
    panel._pause.cancel()
    sliding = panel.result.table
    assert sliding[["best_barrel_m", "best_low_m", "best_high_m"]].isna().all(axis=None)
    assert "best barrel" not in "".join(panel.lines)
    panel.rest()
    resting = panel.result.table
    known = [name for name in resting.columns if not name.startswith("best_")]
    pd.testing.assert_frame_equal(sliding[known], resting[known], rtol=1e-9)
    asked = panel.result.build, f"{panel.result.cap} m/s"
    pd.testing.assert_frame_equal(resting, steps(*asked).table, check_exact=True)
    assert "best barrel" in panel.lines[-1]


@pytest.mark.parametrize("name", demo_builds())
def test_best_barrels_are_the_same_as_among_all_lengths(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    build = demo_build(name)
    near = steps(build, "60 m/s").table
    monkeypatch.setattr(sensitivity, "_near", lambda _: slice(0, None))
    pd.testing.assert_frame_equal(steps(build, "60 m/s").table, near, check_exact=True)


def test_no_steps_at_all_leave_the_build_as_it_is() -> None:
    assert list(steps(demo_build("workhorse"), sizes={}).table["name"]) == [""]
