"""Losses learned from strings: recovered where they can be, and honest where they cannot."""

from __future__ import annotations

import dataclasses
import tomllib

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.bench.calibrate import calibrate
from blasterlab.bench.calibration import Calibration
from blasterlab.bench.loss_model import CalibrationError, LossModel
from blasterlab.bench.next_measurement import Candidate, usual_candidates
from blasterlab.bench.predict import predict
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.parts.priors import PRIORS, Prior, priors_for
from blasterlab.report.calibration import cannot_tell, plain, remarks

TRUTH = {"losses.dart_friction": "1.8 N", "losses.blowby_area": "1.4 mm^2"}
FREE = ["dart_friction", "blowby_area"]
BASE = bl.demo_build("workhorse").replace({"barrel.length": "28 cm"})
SOFT = BASE.replace({"spring.wire_diameter": "1.4 mm"})
SHORT = BASE.replace({"barrel.length": "12 cm"})
TARGET = BASE.replace({"spring.wire_diameter": "1.6 mm", "barrel.length": "22 cm", "title": "Target"})


def shoot(build: bl.Build, spread: float = 0.012, shots: int = 10, seed: int = 1) -> bl.ChronoString:
    """A string whose mean and relative SD are exactly what they should be."""
    speed = bl.simulate(build.replace(TRUTH)).muzzle_velocity.m_as("m/s")
    noise = np.random.default_rng(seed).normal(size=shots)
    noise = (noise - noise.mean()) / noise.std(ddof=1)
    return bl.ChronoString.read(speed * (1.0 + spread * noise), unit="m/s", title=f"string {seed}")


@pytest.fixture(scope="module")
def two() -> Calibration:
    return calibrate([(BASE, shoot(BASE)), (SOFT, shoot(SOFT, seed=2))])


def test_known_losses_come_back_when_the_strings_can_tell_them() -> None:
    builds = [BASE, SOFT, SHORT, TARGET]
    pairs = [(build, shoot(build, 1e-3, seed=i)) for i, build in enumerate(builds)]
    fit = calibrate(pairs, FREE, setup=0.0)
    friction, gap = fit.losses["dart_friction"].m_as("N"), fit.losses["blowby_area"].m_as("mm^2")
    assert friction == pytest.approx(1.8, abs=2 * fit.uncertainty["dart_friction"].m_as("N"))
    assert gap == pytest.approx(1.4, abs=2 * fit.uncertainty["blowby_area"].m_as("mm^2"))
    assert fit.uncertainty["dart_friction"].m_as("N") < 0.05
    assert fit.uncertainty["blowby_area"].m_as("mm^2") < 0.05
    low, high = fit.table.set_index("loss").loc["dart_friction", ["low", "high"]]
    assert high - low == pytest.approx(2 * 1.645 * fit.uncertainty["dart_friction"].m_as("N"), rel=0.05)
    assert np.sqrt(np.mean(fit.off**2)) < 0.5
    assert "2 of 2 combinations" in str(fit)


def test_one_string_cannot_tell_two_losses_and_says_so() -> None:
    free = {"dart_friction": ("0.3 N", "4 N"), "seal_friction": ("1 N", "30 N")}
    fit = calibrate([(BASE, shoot(BASE))], free)
    text = str(fit)
    assert "dart friction and seal friction trade off (correlation -0." in text
    assert "1 string fixes 1 of 2 combinations" in text
    assert fit.correlation.loc["dart_friction", "seal_friction"] < -0.5
    assert fit.residuals["in_standard_uncertainties"].abs().max() < 0.5  # yet it fits


def test_what_the_data_do_not_touch_keeps_its_range(two: Calibration) -> None:
    port = next(i for i, prior in enumerate(two.priors) if prior.name == "port_discharge")
    assert two.learned.sd_si[port] > 0.8 * PRIORS["port_discharge"].sd
    assert "port_discharge" in two.no_news
    said = "port discharge: hardly known better than before; still your starting guess"
    assert said in cannot_tell(two)
    assert said in str(two)


def test_a_second_barrel_parts_friction_from_blow_by() -> None:
    one = calibrate([(BASE, shoot(BASE))], FREE)
    other = calibrate([(BASE, shoot(BASE)), (SHORT, shoot(SHORT, seed=2))], FREE)
    for name in FREE:
        assert other.uncertainty[name] < one.uncertainty[name]


def test_a_prediction_adds_up(two: Calibration) -> None:
    guess = two.predict(TARGET, 0.9)
    truth = bl.simulate(TARGET.replace(TRUTH)).muzzle_velocity
    assert guess.mean_low < truth < guess.mean_high
    parts = [guess.from_losses, guess.from_setup, guess.from_chronograph]
    known = float(np.sqrt(sum(part.m_as("m/s") ** 2 for part in parts)))
    assert (guess.mean_high - guess.speed).m_as("m/s") == pytest.approx(1.6449 * known, rel=0.05)
    assert guess.next_high - guess.speed > guess.mean_high - guess.speed
    assert guess.from_shots.m_as("m/s") == pytest.approx(0.012 * guess.speed.m_as("m/s"), rel=0.01)
    wide = two.predict(TARGET, 0.99)
    assert wide.mean_low < guess.mean_low
    assert "Target: " in str(guess)
    direct = predict(two.build(TARGET), two.learned, 0.9)
    assert direct == guess
    assert two.build(TARGET).losses.dart_friction == two.losses["dart_friction"]


def test_a_prediction_goes_no_lower_than_standing_still(two: Calibration) -> None:
    wild = dataclasses.replace(two.learned, setup=0.9, shot_spread=0.9)
    guess = predict(two.build(TARGET), wild, 0.95)
    assert (guess.mean_low.m, guess.next_low.m) == (0.0, 0.0)
    assert "-" not in str(guess).split("\n")[0]


def test_the_shared_error_of_the_chronograph_is_one_more_unknown(two: Calibration) -> None:
    screens = bl.Chronograph.within("2 %")
    fit = calibrate(two.pairs, chronograph=screens)
    assert fit.learned.names[-1] == "chronograph"
    assert abs(fit.learned.reads - 1.0) < 0.02
    assert fit.uncertainty["dart_friction"] > two.uncertainty["dart_friction"]
    guess = fit.predict(TARGET)
    assert guess.from_chronograph.m_as("m/s") > 0.5
    # the same chronograph reads the target, so most of its error drops out of the reading
    total = (guess.mean_high - guess.speed).m_as("m/s") / 1.6449
    assert total < np.hypot(guess.from_losses.m_as("m/s"), guess.from_chronograph.m_as("m/s"))
    assert fit.correlation.shape == (6, 6)
    assert len(fit.measure_next(TARGET)) > 5


def test_what_to_measure_next_keeps_its_promise(two: Calibration) -> None:
    table = two.measure_next(TARGET)
    assert table["sd_after_m_s"].is_monotonic_increasing
    assert table["experiment"].iloc[-1] == "nothing more"
    assert table["sd_before_m_s"].nunique() == 1
    before = two.predict(TARGET).from_losses.m_as("m/s")
    assert table["sd_before_m_s"].iloc[0] == pytest.approx(before, rel=0.08)  # the one linear, the other not
    length = BASE.barrel.length * 0.6
    barrel = Candidate("a shorter barrel", {"barrel.length": length})
    promised = two.measure_next(TARGET, [barrel])["sd_after_m_s"].iloc[0]
    cut = BASE.replace(barrel.changes)
    expected = two.predict(cut).speed.m_as("m/s")  # a string that brings no surprise
    shots = shoot(cut, seed=3).speeds_si
    string = bl.ChronoString.read([v * expected / np.mean(shots) for v in shots], unit="m/s")
    after = calibrate([*two.pairs, (cut, string)]).predict(TARGET).from_losses.m_as("m/s")
    assert after == pytest.approx(promised, rel=0.05)
    assert promised < 0.98 * before


def test_a_direct_test_of_a_loss_narrows_it_as_promised(two: Calibration) -> None:
    pull = Candidate("pull", loss="dart_friction", within=0.1)
    value = two.losses["dart_friction"].m_as("N")
    promised = two.measure_next(TARGET, [pull])["sd_after_m_s"].iloc[0]
    prior = PRIORS["dart_friction"]
    error = 0.1 * max(value, prior.sd)
    weight = [1 / prior.sd**2, 1 / error**2]
    sd = 1 / np.sqrt(sum(weight))
    mean = (prior.mean * weight[0] + value * weight[1]) * sd**2
    half = 1.6448536269514722 * sd
    free = {
        name: Prior(name, *(f"{mean + sign * half} N" for sign in (-1, 1))) if name == "dart_friction" else p
        for name, p in PRIORS.items()
    }
    after = calibrate(two.pairs, free).predict(TARGET).from_losses.m_as("m/s")
    assert after == pytest.approx(promised, rel=0.1)


def test_candidates_that_cannot_be_are_left_out(two: Calibration) -> None:
    impossible = Candidate("a stroke beyond the tube", {"chamber.stroke": "200 mm"})
    fine = Candidate("a longer barrel", {"barrel.length": "40 cm"})
    assert set(two.measure_next(TARGET, [impossible, fine])["experiment"]) == {
        "a longer barrel",
        "nothing more",
    }
    with pytest.raises(CalibrationError, match="none of them can be done"):
        two.measure_next(TARGET, [impossible])
    names = [candidate.name for candidate in usual_candidates(bl.demo_build("two_springs"))]
    assert len(names) == len(set(names)) > 8


def test_slopes_by_hand() -> None:
    model = LossModel([BASE, SOFT], FREE)
    here = np.array([1.5, 1e-6])
    speeds, slopes = model.linear(here, [0.5, 1e-6])
    assert speeds == pytest.approx(model.readings(here[None])[0])
    for i, step in enumerate((0.01, 1e-8)):
        moved = np.eye(2)[i] * step
        up, down = model.readings(np.array([here + moved, here - moved]))
        assert slopes[:, i] == pytest.approx((up - down) / (2 * step), rel=5e-3)
    edge = LossModel([BASE], ["dart_friction"])
    one_sided = edge.linear(np.array([0.0]), [0.5])[1][0, 0]
    up = edge.readings(np.array([[0.0], [0.02], [0.04]]))[:, 0]
    assert one_sided == pytest.approx((4 * up[1] - up[2] - 3 * up[0]) / 0.04, rel=0.02)


def test_remarks() -> None:
    odd = bl.ChronoString.read([*shoot(BASE).readings, 80.0], unit="m/s")
    fit = calibrate([(BASE, odd), (BASE.replace({"dart.mass": "1.4 g"}), shoot(BASE, seed=2))], FREE)
    text = "\n".join(remarks(fit))
    assert "odd: shot 11" in text
    assert "different darts or barrel bores are assumed to share one friction" in text
    fast = bl.ChronoString.read([v * 1.3 for v in shoot(BASE).readings], unit="m/s")
    text = "\n".join(remarks(calibrate([(BASE, fast)], FREE)))
    assert "far outside the usual range: " in text
    assert "standard uncertainties from the calibrated model" in text


def test_two_answers_that_fit_alike_are_both_told() -> None:
    """A dart that starts later first gains pressure, then loses barrel: two starting forces, one speed."""
    short = BASE.replace({"barrel.length": "15 cm"})

    def speed(build: bl.Build) -> float:
        return bl.simulate(build).muzzle_velocity.m_as("m/s")

    wanted = speed(short.replace({"losses.dart_breakaway": "7 N"}))
    assert speed(short.replace({"losses.dart_breakaway": "12 N"})) > 1.01 * wanted
    shots = wanted * (1.0 + 0.004 * np.array([-1.5, -0.5, 0.5, 1.5]))
    string = bl.ChronoString.from_readings(list(shots), unit="m/s")
    fit = calibrate([(short, string)], {"dart_breakaway": ("3 N", "20 N")}, setup=0.0)
    assert len(fit.alternatives) == 1
    both = sorted([fit.losses["dart_breakaway"].m_as("N"), fit.alternatives[0]["dart_breakaway"].m_as("N")])
    assert both[0] == pytest.approx(7.0, abs=0.5)
    for force in both:
        again = speed(short.replace({"losses.dart_breakaway": f"{force} N"}))
        assert again == pytest.approx(wanted, rel=0.003)
    low, high = fit.table.set_index("loss").loc["dart_breakaway", ["low", "high"]]
    assert low < both[0] + 0.5
    assert high > both[1] - 0.5
    said = f"another answer fits about as well: dart breakaway {units.show(both[1], 'force', 2)}"
    assert said in str(fit) or said.replace(f"{both[1]:.2g}", f"{both[0]:.2g}") in str(fit)
    assert calibrate([(BASE, shoot(BASE))], FREE).alternatives == []


def test_a_start_in_a_side_valley_does_not_stop_the_search() -> None:
    """Whatever the start, no descent from anywhere in the ranges ends lower than the answer."""
    pairs = [(SHORT, shoot(SHORT)), (SOFT, shoot(SOFT, seed=2))]
    fit = calibrate(pairs, {"dart_breakaway": ("1 N", "20 N"), "dart_friction": ("0.3 N", "4 N")})
    priors = list(fit.priors)
    model = LossModel([build for build, _ in pairs], [prior.name for prior in priors])
    scores = np.random.default_rng(4).normal(size=(4000, 2))
    values = np.column_stack([prior.values(scores[:, i]) for i, prior in enumerate(priors)])
    measured = fit.residuals["measured_m_s"].to_numpy()
    error = (np.array(fit.predicted) - measured) / fit.off
    costs = np.sum(((model.readings(values) - measured) / error) ** 2, axis=1) + np.sum(scores**2, axis=1)
    assert np.sum(fit.off**2) + np.sum(fit.scores**2) < costs.min() + 1e-6


def test_before_any_string_a_prediction_rests_on_usual_ranges() -> None:
    before = predict(TARGET)
    after = calibrate([(BASE, shoot(BASE)), (SOFT, shoot(SOFT, seed=2))], FREE).predict(TARGET)
    assert (before.source, after.source) == ("prior", "strings")
    assert before.speed.m_as("m/s") == pytest.approx(
        bl.simulate(TARGET).muzzle_velocity.m_as("m/s"), rel=1e-5
    )
    truth = bl.simulate(TARGET.replace(TRUTH)).muzzle_velocity
    assert before.mean_low < truth < before.mean_high
    assert after.mean_high - after.mean_low < 0.5 * (before.mean_high - before.mean_low)
    assert before.next_low < before.mean_low
    assert before.next_high > before.mean_high
    assert before.from_shots.m_as("m/s") == pytest.approx(0.02 * before.speed.m_as("m/s"), rel=1e-6)
    assert "before any chronograph" in str(before)
    assert "after your strings" in str(after)
    largest = max(before.shares, key=lambda name: before.shares[name])
    assert f"largest single source: {plain(largest)}, " in str(before)
    pulled = predict(TARGET, ranges={"dart_friction": ("1.4 N", "1.6 N")}, callipers="0.01 mm")
    assert pulled.shares["dart_friction"] < 0.1
    assert pulled.mean_high - pulled.mean_low < before.mean_high - before.mean_low
    with pytest.raises(units.UnitError, match="must hold the build's own"):
        predict(TARGET, ranges={"dart_friction": ("3 N", "4 N")})


def test_a_dart_that_may_stay_in_is_predicted_from_nothing_upwards() -> None:
    long = BASE.replace({"barrel.length": "60 cm", "losses.dart_friction": "3.5 N"})
    guess = predict(long, ranges={"dart_friction": ("1 N", "9 N")})
    assert guess.mean_low.m == 0.0
    assert guess.mean_high.m > 30.0
    assert "with some of these losses the dart stays in the barrel" in str(guess)
    assert "chronograph" not in str(guess).split("\n")[1]


def test_the_held_back_string_of_the_demo_lies_in_the_first_range() -> None:
    thick = bl.demo_build("workhorse").replace({"spring.wire_diameter": "1.6 mm"})
    first = predict(thick)
    assert first.mean_low < bl.demo_string("workhorse_wire_16").mean < first.mean_high


def test_a_string_at_a_distance_is_carried_back_with_the_builds_dart() -> None:
    near = shoot(BASE)
    k = near.of_build(BASE).drag_constant
    far = dataclasses.replace(
        near, readings=tuple(v * np.exp(-k * 2.0) for v in near.readings), distance="2 m"
    )
    assert not far.at_muzzle
    one, other = (
        calibrate([(BASE, string)], FREE).losses["dart_friction"].m_as("N") for string in (near, far)
    )
    assert other == pytest.approx(one, rel=1e-6)


def test_words_are_escaped(two: Calibration) -> None:
    build = BASE.replace({"title": "<b>bold"})
    string = dataclasses.replace(shoot(build), title="<i>")
    fit = calibrate([(build, string)], FREE)
    assert "<b>bold" not in fit.predict(build)._repr_html_()
    assert "<i>" not in fit._repr_html_()


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: calibrate([]), "pairs: none given"),
        (lambda: calibrate(3), "pairs: expected a list of"),
        (lambda: calibrate([BASE]), "pairs: expected a list of"),
        (
            lambda: calibrate([(shoot(BASE), BASE)]),
            r"pair 1: got \(ChronoString, Build\); must be \(Build, Chrono",
        ),
        (lambda: calibrate([(BASE, shoot(BASE))], setup=0.5), "setup: got 0.5; must be 0 to 0.2"),
        (
            lambda: calibrate([(BASE, shoot(BASE))], "dart_friction"),
            "free: got 'dart_friction'; must be a list",
        ),
        (lambda: priors_for(["colour"]), "free: 'colour' has no range here"),
        (lambda: priors_for(["dart_breakaway"]), "free: dart_breakaway has no range here; give one"),
        (lambda: priors_for([]), "must be each loss once, at least one"),
        (lambda: priors_for(["dart_friction", "losses.dart_friction"]), "each loss once"),
        (lambda: priors_for({"dart_friction": 3}), "dart_friction: got 3; must be a range of two ends"),
        (lambda: priors_for({"colour": ("1 N", "2 N")}), "free: got 'colour'; must be among"),
        (lambda: priors_for({"dart_friction": ("2 N", "1 N")}), "two different ends from 0 to 500"),
        (lambda: priors_for({"dart_friction": (1, 2)}), "free.dart_friction: got 1, which has no unit"),
        (
            lambda: calibrate([(BASE, shoot(BASE))], {"dart_friction": ("90 N", "110 N")}),
            "with usual losses the dart never leaves",
        ),
        (
            lambda: calibrate([(BASE, shoot(BASE))], FREE).predict(STUCK),
            "with these losses the dart never leaves",
        ),
        (lambda: calibrate([(BASE, shoot(BASE))], FREE).measure_next(STUCK), "the dart never leaves"),
        (lambda: calibrate([(BASE, shoot(BASE))], FREE).predict(BASE, 90), "level: got 90"),
    ],
)
def test_refusals(call: object, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        call()  # type: ignore[operator]


STUCK = BASE.replace({"losses.dart_breakaway": "400 N"})
GOOD = {
    "names": ("dart_friction", "chronograph"),
    "sd": ("0.3 N", 0.005),
    "correlation": ((1.0, -0.2), (-0.2, 1.0)),
    "shot_spread": 0.012,
    "spread_dof": 18,
    "setup": 0.005,
    "reads": 1.001,
    "strings": 2,
    "shots": 20,
}


def test_what_a_build_can_carry() -> None:
    learned = LossUncertainty(**GOOD)
    assert learned.sd_si == pytest.approx([0.3, 0.005])
    assert learned.covariance == pytest.approx(np.array([[0.09, -0.0003], [-0.0003, 2.5e-5]]))
    assert (
        LossUncertainty(**{**GOOD, "names": list(GOOD["names"]), "correlation": [[1, -0.2], [-0.2, 1]]})
        == learned
    )
    guess = predict(BASE, learned)
    assert guess.from_losses.m_as("m/s") > 0.0


def test_what_a_build_carries_is_written_and_read_exactly(two: Calibration) -> None:
    fit = calibrate(two.pairs, chronograph=bl.Chronograph.within("1 %"))
    for learned in (two.learned, fit.learned, LossUncertainty(**{**GOOD, "setup": 0, "reads": 1})):
        table = tomllib.loads(learned.to_text())["calibration"]
        assert LossUncertainty.from_table(table) == learned
        assert predict(two.build(TARGET), LossUncertainty.from_table(table)) == predict(
            two.build(TARGET), learned
        )
    table = tomllib.loads(two.learned.to_text())["calibration"]
    with pytest.raises(
        units.UnitError, match=r"calibration.colour: no such key.*\n.*calibration.sd: missing"
    ):
        LossUncertainty.from_table(
            {key: value for key, value in table.items() if key != "sd"} | {"colour": 1}
        )


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("names", "dart_friction", "calibration.names: must be a list of losses"),
        ("names", ("colour", "chronograph"), "calibration.names: got"),
        ("names", ("chronograph", "chronograph"), "calibration.names: got"),
        ("sd", ("0.3 N",), "calibration.sd: must be 2 values"),
        ("sd", ("0.3 mm", 0.005), "calibration.sd of dart_friction: got '0.3 mm'; must be a force"),
        ("sd", ("-1 N", 0.005), "calibration.sd of dart_friction: got '-1 N'; must be"),
        ("sd", ("1 N", 0.9), "calibration.sd of chronograph: got 0.9; must be"),
        ("correlation", ((1.0, 0.2),), "calibration.correlation: must be 2 rows of 2"),
        ("correlation", ((1.0, "x"), (0.0, 1.0)), "calibration.correlation: must be 2 rows of 2"),
        ("correlation", ((1.0, 0.3), (0.2, 1.0)), "is no correlation"),
        ("correlation", ((1.0, 1.2), (1.2, 1.0)), "is no correlation"),
        ("correlation", ((0.9, 0.2), (0.2, 1.0)), "is no correlation"),
        ("shot_spread", -0.1, "calibration.shot_spread: got -0.1; must be 0 to 1"),
        ("shot_spread", float("nan"), "calibration.shot_spread: got nan"),
        ("spread_dof", 0, "calibration.spread_dof: got 0"),
        ("reads", True, "calibration.reads: got True"),
        ("setup", "0.1", "calibration.setup: got '0.1'"),
    ],
)
def test_what_a_build_cannot_carry(key: str, value: object, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        LossUncertainty(**{**GOOD, key: value})
