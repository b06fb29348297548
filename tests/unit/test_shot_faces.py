"""One shot, many shots, a sweep: the same numbers behind every face, and words where there is no number."""

from __future__ import annotations

import re
import subprocess
import sys

import numpy as np
import pytest
from random_shots import STUBBORN, draw

import blasterlab as bl
from blasterlab import units
from blasterlab.report import shot as report
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot import many as batch
from blasterlab.shot import variants
from blasterlab.shot.barrel_sweep import separate
from blasterlab.shot.integrate import TOLERANCE, shoot
from blasterlab.shot.parameters import Parameters, parameters_of
from blasterlab.shot.simulate import simulate

BUILD = bl.demo_build("workhorse")


def test_a_shot_is_whole() -> None:
    shot = simulate(BUILD)
    assert shot.exited
    assert shot.status == "exited"
    assert report.reason(shot) == ""
    assert str(shot).startswith(f"{units.show(shot.muzzle_velocity, 'speed')} (")
    speed, mass = shot.muzzle_velocity, BUILD.dart.mass
    assert shot.muzzle_energy.m_as("J") == pytest.approx((0.5 * mass * speed**2).m_as("J"))
    assert 0.0 < shot.efficiency < 1.0
    assert shot.peak_pressure > shot.peak_barrel_pressure > BUILD.air.pressure
    history = shot.history
    assert history.index.name == "time_s"
    assert history.index.is_monotonic_increasing
    assert history["dart_speed_m_s"].iloc[-1] == pytest.approx(speed.m_as("m/s"), rel=1e-5)
    assert history["dart_travel_m"].iloc[-1] == pytest.approx(BUILD.barrel.length.m_as("m"))
    assert 1000 * history.index[-1] == pytest.approx(shot.exit_time.m_as("ms"), rel=1e-5)
    assert not history.isna().any().any()


STUCK = {
    "never broke away": {"losses.dart_breakaway": "100 N"},
    "stalled": {"losses.dart_friction": "9 N", "losses.dart_breakaway": "9 N", "barrel.length": "150 cm"},
    "never moved": {"losses.seal_friction": "150 N"},
}


@pytest.mark.parametrize("words", STUCK)
def test_a_dart_that_stays_in_is_a_result_with_a_reason(words: str) -> None:
    build = BUILD.replace(STUCK[words])
    shot = simulate(build)
    assert not shot.exited
    assert words in report.reason(shot)
    assert words in str(shot)
    assert shot.muzzle_velocity.magnitude == shot.muzzle_energy.magnitude == 0.0
    many = bl.simulate_many([build, BUILD])
    assert list(many.exited) == [False, True]
    assert words in report.ENDINGS[many.status[0]]
    assert many.status == [shot.status, "exited"]
    assert many.muzzle_velocity[0].magnitude == 0.0
    table = bl.sweep(build, {"dart.mass": ["1 g"]})
    assert table["status"][0] == shot.status
    assert not table["exited"][0]


def test_many_give_the_very_numbers_of_one() -> None:
    rng = np.random.default_rng(2)
    shots = [draw(rng) for _ in range(200)]
    shots += [draw(rng, charge=float(pressure)) for pressure in rng.uniform(120e3, 400e3, 50)]
    shots += [pack.parameters(BUILD.replace(changes).si) for changes in STUBBORN]
    many = batch.simulate_rows(np.array(shots))
    state = np.empty(k.STATES)
    for place, p in enumerate(shots):
        outcome = shoot(p, TOLERANCE, state)
        assert (many.state[:, place] == state).all()
        assert tuple(column[place] for column in many.outcome) == tuple(outcome)
        assert tuple(column[place] for column in many.parameters) == tuple(p)
    assert (many.outcome.tolerance[-len(STUBBORN) :] < TOLERANCE).all()  # these were shot again


def test_the_batch_follows_the_list_of_parameters() -> None:
    """A field more or less, or in another place, in one of the two only, is seen."""
    count = len(Parameters._fields)
    assert parameters_of(np.arange(count, dtype=float)) == Parameters(*map(float, range(count)))
    assert set(pack.columns(BUILD.si)) == set(Parameters._fields)
    row = pack.rows(BUILD.si, 1)[0]
    for name, value in zip(Parameters._fields, row, strict=True):
        assert value == getattr(pack.parameters(BUILD.si), name), name


@pytest.mark.parametrize("name", sorted({f"losses.{name}" for name in Parameters._fields} & set(BUILD.si)))
def test_a_loss_keeps_its_name_and_value_on_the_way(name: str) -> None:
    values = {**BUILD.si, name: 0.123}
    assert getattr(pack.parameters(values), name.removeprefix("losses.")) == 0.123


@pytest.mark.parametrize("bad", [{"charge": "50 kPa"}, {"charge": "6 MPa"}, {"tolerance": 1.0}])
def test_many_refuse_what_one_refuses(bad: dict) -> None:
    high = BUILD.replace({"air.pressure": "80 kPa"})
    with pytest.raises(units.UnitError) as one:
        simulate(BUILD, **bad)
    with pytest.raises(units.UnitError, match=re.escape(str(one.value))):
        bl.simulate_many([high, BUILD], **bad)


def test_a_charge_at_ambient_pressure_moves_nothing_in_one_and_in_many() -> None:
    still = simulate(BUILD, charge="101.325 kPa")
    assert still.status == bl.simulate_many([BUILD], charge="101.325 kPa").status[0] == "no breakaway"
    assert still.energy_in.m == 0.0


def test_arrays_come_in_the_order_of_the_builds() -> None:
    builds = [BUILD.replace({"dart.mass": "1.3 g"}), bl.demo_build("two_springs"), BUILD]
    many = bl.simulate_many(builds)
    assert len(many) == 3
    for place, build in enumerate(builds):
        assert tuple(column[place] for column in many.parameters) == pack.parameters(build.si)
    assert list(many.muzzle_velocity.m) == [simulate(build).muzzle_velocity.m for build in builds]
    assert (many.muzzle_energy.m > 0).all()
    assert (many.spring_work.m > 0).all()
    assert many.impact_speed.shape == many.peak_barrel_pressure.shape == (3,)
    assert bl.simulate_many([]).muzzle_velocity.shape == (0,)
    assert len(bl.simulate_many([]).table) == 0


def test_the_table_of_a_batch_has_a_row_a_shot_in_si() -> None:
    many = bl.simulate_many([BUILD, BUILD.replace({"losses.dart_breakaway": "500 N"})])
    table, shot = many.table, simulate(BUILD)
    assert list(table["status"]) == ["exited", "no breakaway"]
    assert all(re.fullmatch(r"[a-z_]+_(m_s|J|s|Pa|N)", name) for name in table.columns[1:])
    first = table.iloc[0]
    assert first["muzzle_velocity_m_s"] == shot.muzzle_velocity.m_as("m/s")
    assert first["exit_time_s"] == shot.exit_time.m_as("s")
    assert first["peak_pressure_Pa"] == shot.peak_pressure.m_as("Pa")
    assert first["peak_force_N"] == shot.peak_force.m_as("N")
    assert table["muzzle_energy_J"][1] == table["muzzle_velocity_m_s"][1] == 0.0


def test_an_interrupt_keeps_what_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "CHUNK", 4)
    told = []

    def stop(done: int, all_of_them: int) -> None:
        told.append((done, all_of_them))
        if done >= 8:
            raise KeyboardInterrupt

    many = bl.simulate_many([BUILD] * 12, progress=stop)
    assert told == [(4, 12), (8, 12)]
    assert not many.complete
    assert list(many.exited) == [True] * 8 + [False] * 4
    assert many.status[-1] == "not run"
    assert report.ENDINGS[many.status[-1]] == "interrupted before its turn"


def test_two_threads_at_once_do_not_abort() -> None:
    code = (
        "import blasterlab as bl, threading\n"
        "b = [bl.demo_build('workhorse')] * 300\n"
        "found = []\n"
        "run = lambda: found.append(bl.simulate_many(b).muzzle_velocity.m[0])\n"
        "threads = [threading.Thread(target=run) for _ in range(4)]\n"
        "[t.start() for t in threads]; [t.join() for t in threads]\n"
        "assert len(set(found)) == 1 and len(found) == 4\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=240)


def test_a_sweep_is_tidy_and_says_its_units() -> None:
    changes = {
        "spring.wire_diameter": ["1.4 mm", "0.059 in"],
        "barrel.length": [bl.Quantity(30, "cm"), "40 cm"],
    }
    table = bl.sweep(BUILD, changes)
    assert len(table) == 4
    assert list(table.columns[:3]) == [
        "spring.wire_diameter_mm",
        "barrel.length_mm",
        "muzzle_velocity_m_s",
    ]
    one = simulate(BUILD.replace({"spring.wire_diameter": "1.4 mm", "barrel.length": "30 cm"}))
    assert table["muzzle_velocity_m_s"][0] == one.muzzle_velocity.m_as("m/s")
    bl.use_units("US customary")
    american = bl.sweep(BUILD, changes)
    feet = american["muzzle_velocity_ft_s"][0]
    assert feet == pytest.approx(one.muzzle_velocity.m_as("ft/s"))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "at least one name"),
        ({"barrel.length": []}, "at least one"),
        ({"barel.length": ["1 cm"]}, "no such name"),
        ({"barrel.length": ["40"]}, "has no unit"),
        ({"spring.wire_diameter": ["1.4 mm", "3.2 mm"]}, "with spring.wire_diameter = 3.2 mm"),
    ],
)
def test_a_sweep_that_cannot_be_is_refused(changes: dict, words: str) -> None:
    with pytest.raises(bl.BuildError, match=words):
        bl.sweep(BUILD, changes)


def test_lists_of_different_lengths_are_refused() -> None:
    with pytest.raises(bl.BuildError, match="different lengths"):
        variants.values_of(BUILD, {"barrel.length": ["30 cm"], "dart.mass": ["1 g", "2 g"]})


def test_variants_hold_the_values_of_their_builds() -> None:
    values = variants.values_of(BUILD, {"spring.wire_diameter": ["1.4 mm", "1.5 mm"]})
    rows = pack.rows(values, 2)
    assert tuple(rows[1]) == pack.parameters(BUILD.si)


@pytest.mark.parametrize(("charge", "tolerance"), [("50 kPa", 1e-6), ("300", 1e-6), (None, 1.0), (None, 0.0)])
def test_bad_arguments_of_a_shot(charge: str | None, tolerance: float) -> None:
    with pytest.raises(units.UnitError):
        simulate(BUILD, charge=charge, tolerance=tolerance)


def test_a_smooth_curve_goes_through_the_sweep() -> None:
    sweep = bl.barrel_sweep(bl.demo_build("workhorse"), "10 cm", "50 cm", points=9)
    lengths, speeds = sweep.smooth(17)
    assert lengths[::2] == pytest.approx(sweep.lengths, rel=1e-12)
    assert speeds[::2] == pytest.approx(sweep.velocities, rel=1e-12)
    separate = bl.barrel_sweep(bl.demo_build("workhorse"), "10 cm", "50 cm", points=17)
    assert speeds == pytest.approx(separate.velocities, rel=1e-3)
    with pytest.raises(bl.UnitError, match="points: got 1"):
        sweep.smooth(1)


def test_best_length_and_flat_range() -> None:
    sweep = bl.barrel_sweep(BUILD)
    fine = bl.barrel_sweep(BUILD, start="30 cm", stop="37 cm", points=141)
    top = fine.lengths[np.argmax(fine.velocities)]
    assert sweep.best_length.m_as("m") == pytest.approx(top, abs=1.5e-3)
    assert sweep.best_velocity.m_as("m/s") == pytest.approx(fine.velocities.max(), rel=1e-5)
    for end in sweep.flat_range(0.01):
        assert sweep.velocity_at(end) / sweep.best_velocity == pytest.approx(0.99, abs=1e-6)
        at = simulate(BUILD.replace({"barrel.length": end})).muzzle_velocity
        assert at / sweep.best_velocity == pytest.approx(0.99, abs=1e-4)
    assert not sweep.at_end
    assert bl.barrel_sweep(BUILD, stop="20 cm").at_end
    assert list(sweep.table.columns) == ["barrel_length_m", "muzzle_velocity_m_s"]


#: Builds whose best barrel is short, or between few lengths that let the dart out at all.
STEEP = (
    {"losses.dart_friction": "2.2 N", "chamber.bore": "29 mm", "chamber.stroke": "40 mm",
     "dart.mass": "2.8 g", "losses.blowby_area": "6.5 mm^2"},
    {"losses.dart_friction": "9.2 N", "chamber.bore": "28.1 mm", "chamber.stroke": "66 mm",
     "dart.mass": "1.73 g", "losses.blowby_area": "3.4 mm^2"},
    {"losses.dart_friction": "2.769 N", "chamber.bore": "38.5 mm", "chamber.stroke": "72.2 mm",
     "dart.mass": "0.7815 g", "losses.blowby_area": "1.548 mm^2"},
)  # fmt: skip


@pytest.mark.parametrize("changes", STEEP)
@pytest.mark.parametrize("given", [{"points": 16, "spacing": "ratio"}, {}])
def test_the_best_length_is_that_of_many_single_shots(changes: dict, given: dict) -> None:
    build = bl.demo_build("workhorse").replace(changes)
    sweep = bl.barrel_sweep(build, "3 cm", "65 cm", **given)
    lengths = np.linspace(0.03, 0.65, 621)
    p = pack.parameters(build.si)
    each = separate(p, lengths, 1e-7)
    best = lengths[np.argmax(each)]
    assert sweep.best_length.m_as("m") == pytest.approx(best, abs=2e-3)
    assert sweep.best_velocity.m_as("m/s") == pytest.approx(each.max(), rel=1e-3)
    near = lengths[each >= 0.99 * each.max()]
    short, long = (end.m_as("m") for end in sweep.flat_range(0.01))
    assert (short, long) == pytest.approx((near[0], near[-1]), abs=2e-3)


@pytest.mark.parametrize("changes", STEEP)
def test_no_velocity_is_below_zero_where_darts_stay_in(changes: dict) -> None:
    build = bl.demo_build("workhorse").replace(changes)
    sweep = bl.barrel_sweep(build, "3 cm", "65 cm", points=20)
    assert (sweep.velocities == 0.0).any()
    _, speeds = sweep.smooth(500)
    assert (speeds >= 0.0).all()
    out, stays = sweep.nodes[0][sweep.nodes[1] > 0][-1], sweep.nodes[0][sweep.nodes[1] == 0][0]
    top = sweep.best_velocity.m_as("m/s")
    for length in (0.5 * out, 0.9 * out, 0.98 * out, 0.5 * (out + stays), 0.9 * stays + 0.1 * out, 0.64):
        read = sweep.velocity_at(units.quantity(length, "m")).m_as("m/s")
        shot = simulate(build.replace({"barrel.length": units.quantity(length, "m")}))
        assert read >= 0.0
        within = 0.05 * top if length < out else 1e-5  # beyond the last dart that leaves each is a shot
        assert read == pytest.approx(shot.muzzle_velocity.m_as("m/s"), abs=within)


@pytest.mark.parametrize(
    "bad",
    [
        {"spacing": "wide"},
        {"start": "0 mm"},
        {"start": "70 cm"},
        {"points": 3},
        {"stop": "40"},
    ],
)
def test_bad_arguments_of_a_barrel_sweep(bad: dict) -> None:
    with pytest.raises(units.UnitError):
        bl.barrel_sweep(BUILD, **bad)


def test_bad_questions_to_a_barrel_sweep() -> None:
    sweep = bl.barrel_sweep(BUILD, points=8)
    with pytest.raises(units.UnitError, match="the sweep's range"):
        sweep.velocity_at("2 m")
    with pytest.raises(units.UnitError, match="fraction"):
        sweep.flat_range(0.0)
    with pytest.raises(bl.BuildError, match="leaves no barrel"):
        bl.barrel_sweep(BUILD.replace({"losses.dart_breakaway": "100 N"}))
