"""The range beside a speed: few shots against many, before any chronograph and after strings."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

import blasterlab as bl
from blasterlab import units
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.parts.losses import FIELDS
from blasterlab.parts.priors import PRIORS, Prior
from blasterlab.shot import from_build
from blasterlab.shot.many import simulate_rows
from blasterlab.shot.speed_range import (
    ROWS,
    TOLERANCE,
    independent,
    normal_scores,
    range_of,
    speeds_of,
    unknowns,
)

WORKHORSE = bl.demo_build("workhorse")
LEARNED = LossUncertainty(
    names=("dart_friction", "blowby_area", "chronograph"),
    sd=("0.4 N", "0.5 mm^2", 0.005),
    correlation=((1.0, -0.7, 0.3), (-0.7, 1.0, 0.1), (0.3, 0.1, 1.0)),
    shot_spread=0.012,
    spread_dof=18,
    setup=0.004,
    reads=1.003,
)


def learned(build: bl.Build) -> bl.Build:
    return bl.Build.from_text(build.to_text() + "\n" + LEARNED.to_text())


def monte_carlo(build: bl.Build, shots: int = 8192) -> np.ndarray:
    """Mean readings of many builds like this one, each with its own losses, springs and setup."""
    asked = unknowns(build)
    draw = np.random.default_rng(11)
    values = asked.values(draw.normal(size=(shots, len(asked.names))))
    si: dict[str, object] = dict(build.si)
    factor = 1.0 + asked.setup * draw.normal(size=shots)
    for name, column in zip(asked.names, values.T, strict=True):
        if name in FIELDS:
            si[f"losses.{name}"] = column
        elif name.startswith("spring"):
            si[name] = build.si[name] * column
        else:
            factor = factor * column
    return simulate_rows(from_build.rows(si, shots), TOLERANCE).muzzle_velocity.m * factor


BUILDS = [
    WORKHORSE,
    bl.demo_build("two_springs"),
    bl.demo_build("apprentice").replace({"barrel.length": "12 cm"}),
    WORKHORSE.replace({"barrel.length": "15 cm"}),
    WORKHORSE.replace({"spring.wire_diameter": "1.6 mm", "losses.blowby_area": "0 mm^2"}),
    WORKHORSE.replace({"dart.mass": "2 g", "losses.port_discharge": 0.95}),
    learned(WORKHORSE),
    learned(WORKHORSE.replace({"barrel.length": "15 cm"})),
]


@pytest.mark.parametrize("place", range(len(BUILDS)))
def test_two_dozen_shots_say_what_eight_thousand_say(place: int) -> None:
    found, many = range_of(BUILDS[place]), monte_carlo(BUILDS[place])
    low, high = np.quantile(many, [0.05, 0.95])
    assert found.low == pytest.approx(low, abs=0.12 * (high - low))
    assert found.high == pytest.approx(high, abs=0.12 * (high - low))
    inside = np.mean((many > found.low) & (many < found.high))
    assert inside == pytest.approx(0.9, abs=0.05)
    assert found.low <= found.best <= found.high


def test_the_best_is_the_builds_own_speed_and_the_source_is_told() -> None:
    found, later = range_of(WORKHORSE), range_of(learned(WORKHORSE))
    speed = bl.simulate(WORKHORSE).muzzle_velocity.m_as("m/s")
    assert found.best == pytest.approx(speed, rel=1e-5)
    assert later.best == pytest.approx(1.003 * speed, rel=1e-5)  # as its chronograph reads
    assert (found.source, later.source) == ("prior", "strings")
    assert later.high - later.low < 0.3 * (found.high - found.low)
    wide = range_of(WORKHORSE, 0.99)
    assert wide.low < found.low
    assert wide.high > found.high
    assert wide.level == 0.99


def test_a_share_is_what_goes_when_that_loss_is_known() -> None:
    found = range_of(WORKHORSE)
    assert set(found.shares) == {*PRIORS, "spring0.rate", "setup"}
    assert max(found.shares, key=found.shares.__getitem__) == "dart_friction"
    assert 0.6 < sum(found.shares.values()) < 1.2
    known = range_of(WORKHORSE, ranges={"dart_friction": ("1.45 N", "1.55 N")})
    assert known.shares["dart_friction"] < 0.05
    assert known.high - known.low < found.high - found.low


def test_many_lengths_at_once_are_the_same_as_one_by_one() -> None:
    lengths = np.array([0.15, 0.25, 0.4])
    asked = unknowns(WORKHORSE)
    speeds = speeds_of(asked, {**WORKHORSE.si, "barrel.length": lengths}, 3)
    band = asked.range(speeds)
    assert speeds.shape == (ROWS, 3)
    for place, length in enumerate(lengths):
        one = range_of(WORKHORSE.replace({"barrel.length": units.quantity(length, "m")}))
        assert (band.low[place], band.best[place]) == pytest.approx((one.low, one.best), rel=1e-9)
        assert band.high[place] == pytest.approx(one.high, rel=1e-9)
        assert band.shares["dart_friction"][place] == pytest.approx(one.shares["dart_friction"], rel=1e-9)


def test_springs_have_the_standards_tolerance_or_the_callipers_or_a_measured_rate() -> None:
    def width(build: bl.Build, **how: str) -> float:
        asked = unknowns(build, **how)
        return float((asked.high - asked.low)[asked.names.index("spring0.rate")])

    fraction = bl.as_bought(WORKHORSE.spring).fraction
    assert width(WORKHORSE) == pytest.approx(1.6449 * fraction, rel=1e-4)
    assert width(WORKHORSE, callipers="0.005 mm") < width(WORKHORSE) < width(WORKHORSE, callipers="0.1 mm")
    weighed = WORKHORSE.replace({"spring.rate": "700 N/m"})
    assert "spring0.rate" not in unknowns(weighed).names
    two = unknowns(bl.demo_build("two_springs")).names
    assert {"spring0.rate", "spring1.rate"} < set(two)
    thick = WORKHORSE.replace({"spring.outer_diameter": "34 mm", "chamber.bore": "40 mm"})
    assert "spring0.rate" not in unknowns(thick).names  # an index beyond the standard's table
    assert "spring0.rate" in unknowns(thick, callipers="0.02 mm").names


def test_nine_cases_in_ten_lie_between_the_ends_and_most_near_the_builds_own_value() -> None:
    asked = unknowns(WORKHORSE)
    values = asked.values(normal_scores(20_000, len(asked.names)))
    inside = np.mean((values > asked.low) & (values < asked.high), axis=0)
    assert inside == pytest.approx(np.full(len(asked.names), 0.9), abs=0.01)
    for side, end in ((1.0, asked.high), (-1.0, asked.low)):
        steps = side * (values - asked.best) / np.maximum(np.abs(end - asked.best), 1e-12)
        near, far = (np.mean((steps > at) & (steps < at + 0.2), axis=0) for at in (0.0, 0.6))
        assert np.all(near > 1.2 * far)


def test_a_value_outside_the_usual_range_widens_it() -> None:
    build = WORKHORSE.replace({"losses.dart_friction": "6 N", "losses.seal_leak_area": "0 mm^2"})
    asked = unknowns(build)
    ends = {name: (low, high) for name, low, high in zip(asked.names, asked.low, asked.high, strict=True)}
    assert ends["dart_friction"] == pytest.approx((0.3, 6.0 + 1.85))
    assert ends["seal_leak_area"] == pytest.approx((0.0, 3e-6))
    assert np.all(asked.values(normal_scores(500, len(asked.names)))[:, :4] >= 0.0)


def test_priors_are_cut_off_normals() -> None:
    for prior in PRIORS.values():
        field = FIELDS[prior.name]
        cut = stats.truncnorm(
            (field.low - prior.mean) / prior.sd, (field.high - prior.mean) / prior.sd, prior.mean, prior.sd
        )
        scores = np.array([-3.0, -1.0, 0.0, 1.5, 3.0])
        np.testing.assert_allclose(prior.values(scores), cut.ppf(stats.norm.cdf(scores)), rtol=1e-6)
        assert prior.spread == pytest.approx(cut.std(), rel=0.02)


def test_scores_are_even_and_always_the_same() -> None:
    scores = normal_scores(512, 6)
    np.testing.assert_array_equal(scores, normal_scores(512, 6))
    assert np.abs(scores.mean(axis=0)).max() < 1e-9
    np.testing.assert_allclose(np.cov(scores.T), np.eye(6), atol=0.08)
    assert not np.array_equal(scores, normal_scores(512, 6, 512))


@pytest.mark.parametrize(
    ("how", "words"),
    [
        (
            {"ranges": {"dart_friction": ("2 N", "3 N")}},
            r"dart_friction: got a range from 2 N to 3 N; must hold the build's own 1.5 N",
        ),
        ({"ranges": {"dart_friction": ("3 N", "1 N")}}, "the lower first"),
        ({"ranges": {"colour": ("3 N", "1 N")}}, "free: got 'colour'"),
        (
            {"ranges": {"seal_friction": Prior("seal_friction", "5 N", "6 N")}},
            "must hold the build's own 4 N",
        ),
        ({"callipers": "3 mm"}, "callipers"),
        ({"callipers": 0.02}, "callipers"),
    ],
)
def test_refusals(how: dict, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        unknowns(WORKHORSE, **how)


def test_ranges_of_anything_else_add_up_as_squares() -> None:
    asked = independent({"a": (9.0, 10.0, 11.0), "b": (-2.0, 0.0, 2.0)}, "strings")
    one, other = asked.table.T
    found = asked.range(np.column_stack([one + other, one - 20.0]))
    half = np.hypot(1.0, 2.0)
    assert found.low == pytest.approx([10.0 - half, -11.0], abs=0.06)
    assert found.high == pytest.approx([10.0 + half, -9.0], abs=0.06)
    assert found.best == pytest.approx([10.0, -10.0])
    assert (found.shares["a"] + found.shares["b"])[0] == pytest.approx(1.0, abs=0.05)
    assert found.shares["b"] == pytest.approx([0.8, 0.0], abs=0.05)


def test_a_sweep_carries_its_ranges_and_what_it_varies_counts_as_known() -> None:
    lengths = ["20 cm", "30 cm"]
    table = bl.sweep(WORKHORSE, {"barrel.length": lengths}, level=0.9)
    for length, row in zip(lengths, table.to_dict("records"), strict=True):
        one = range_of(WORKHORSE.replace({"barrel.length": length}))
        assert (row["low_m_s"], row["high_m_s"]) == pytest.approx((one.low, one.high), rel=1e-9)
    assert "low_m_s" not in bl.sweep(WORKHORSE, {"barrel.length": lengths})
    known = bl.sweep(WORKHORSE, {"losses.dart_friction": ["1.5 N"], "spring.rate": ["700 N/m"]}, level=0.9)
    one = range_of(WORKHORSE)
    assert (known["high_m_s"] - known["low_m_s"])[0] < 0.7 * (one.high - one.low)
    assert unknowns(learned(WORKHORSE), known=["barrel.length"]).source == "strings"
    assert unknowns(learned(WORKHORSE), known=["losses.dart_friction"]).source == "prior"  # set by hand
