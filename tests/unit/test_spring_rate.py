"""Rate and coil count from the bench."""

import numpy as np
import pytest

from blasterlab import units
from blasterlab.bench.coil_count import coils_from_count, coils_from_pitch, coils_from_rate
from blasterlab.parts.spring import Spring
from blasterlab.parts.spring_rate import rate_from_readings, read_readings, reading_force
from blasterlab.report.scale import interval_from


def readings(k: float, free: float, forces: list[float], noise: list[float] | None = None) -> list[tuple]:
    off = noise or [0.0] * len(forces)
    return [
        (units.quantity(free - f / k + e, "m"), units.quantity(f, "N"))
        for f, e in zip(forces, off, strict=True)
    ]


def test_exact_readings_give_the_rate_back() -> None:
    fit = rate_from_readings(readings(400, 0.18, [10, 20, 30, 40]))
    assert fit.rate.m_as("N/m") == pytest.approx(400)
    assert fit.free_length.m_as("m") == pytest.approx(0.18)
    assert fit.spare == 2
    assert fit.rate_low.m_as("N/m") == pytest.approx(400)
    assert fit.spread.m_as("m") == pytest.approx(0, abs=1e-12)


def test_interval_against_scipy_and_by_hand() -> None:
    from scipy.stats import linregress, t

    noise = [0.0004, -0.0003, -0.0002, 0.0005, -0.0004]
    pairs = readings(400, 0.18, [8, 14, 22, 30, 41], noise)
    fit = rate_from_readings(pairs)
    forces = [p[1].m for p in pairs]
    line = linregress(forces, [p[0].m for p in pairs])
    assert 1 / fit.rate.m_as("N/m") == pytest.approx(-line.slope)
    assert fit.free_length.m_as("m") == pytest.approx(line.intercept)
    wide = t.ppf(0.975, 3)
    assert 1 / fit.rate_low.m_as("N/m") == pytest.approx(-line.slope + wide * line.stderr)
    assert 1 / fit.rate_high.m_as("N/m") == pytest.approx(-line.slope - wide * line.stderr)
    assert (fit.free_high - fit.free_low).m_as("m") == pytest.approx(2 * wide * line.intercept_stderr)


def test_interval_covers_the_truth_as_often_as_it_says() -> None:
    # 400 simulated benches, ruler noise 0.3 mm: 95 % within 4 binomial standard deviations
    rng = np.random.default_rng(30)
    hits = hits_known = 0
    for _ in range(400):
        pairs = readings(400, 0.18, [8, 16, 24, 32, 40], list(rng.normal(0, 0.0003, 5)))
        fit, known = rate_from_readings(pairs), rate_from_readings(pairs, free_length="180 mm")
        hits += fit.rate_low.m <= 400 <= fit.rate_high.m
        hits_known += known.rate_low.m <= 400 <= known.rate_high.m
    allowed = 4 * (0.95 * 0.05 / 400) ** 0.5
    assert abs(hits / 400 - 0.95) < allowed
    assert abs(hits_known / 400 - 0.95) < allowed


def test_known_free_length_needs_one_reading_only() -> None:
    fit = rate_from_readings([("80 mm", "40 N")], free_length="180 mm")
    assert fit.rate.m_as("N/m") == pytest.approx(400)
    assert fit.rate_low is None
    assert (fit.interval_from, fit.spread) == ("", None)
    assert "no interval" in str(fit)
    with_ruler = rate_from_readings([("80 mm", "40 N")], free_length="180 mm", length_resolution="0.5 mm")
    # the length is uncertain by 0.5 mm / sqrt 3 times 1.96 of 100 mm
    assert with_ruler.rate_high / with_ruler.rate - 1 == pytest.approx(0.5 / 3**0.5 * 1.95996 / 100, rel=0.01)
    assert with_ruler.free_low == with_ruler.free_length == with_ruler.free_high
    assert with_ruler.interval_from == "resolution"
    assert "interval from the ruler's resolution" in interval_from(with_ruler)


def test_resolution_is_a_floor_only() -> None:
    noisy = readings(400, 0.18, [8, 14, 22, 30, 41], [0.002, -0.003, 0.0, 0.003, -0.002])
    assert (
        interval_from(rate_from_readings(noisy, length_resolution="0.1 mm"))
        == "interval from 3 readings more than needed"
    )
    exact = readings(400, 0.18, [10, 20, 30])
    assert rate_from_readings(exact, length_resolution="0.5 mm").interval_from == "resolution"


def test_grams_are_read_as_a_scale_means_them() -> None:
    assert reading_force("1000 g") == pytest.approx(9.80665)
    assert reading_force("1 kgf") == pytest.approx(9.80665)
    assert reading_force("2 lbf") == pytest.approx(8.896443, rel=1e-6)
    with pytest.raises(units.UnitError, match=r"reading: got '5 mm'; must be a force \(this is a length\)"):
        reading_force("5 mm", "reading")
    a = rate_from_readings([("150 mm", "1223.66 g"), ("120 mm", "2447.32 g")])
    assert a.rate.m_as("N/m") == pytest.approx(400, rel=1e-5)


def test_residuals_are_in_order_and_sum_to_nothing() -> None:
    noise = [0.0004, -0.0003, -0.0002, 0.0005, -0.0004]
    table = rate_from_readings(readings(400, 0.18, [41, 8, 22, 30, 14], noise)).residuals
    assert list(table["force_N"]) == sorted(table["force_N"])
    assert table["residual_m"].sum() == pytest.approx(0, abs=1e-12)
    assert (table["length_m"] - table["line_m"]).to_numpy() == pytest.approx(table["residual_m"].to_numpy())


@pytest.mark.parametrize(
    ("pairs", "how", "words"),
    [
        ([("80 mm", "40 N")], {}, "one is enough when the free length is given"),
        ([], {"free_length": "180 mm"}, "got 0; must be 1 to 200"),
        ([("80 mm", "40 N"), ("80 mm", "40 N")], {}, "do not differ"),
        ([("80 mm", "40 N"), ("100 mm", "50 N")], {}, "pushes less when it is shorter"),
        ([("80 mm", "-4 N"), ("100 mm", "50 N")], {}, "forces not below zero"),
        ([("0 mm", "4 N"), ("100 mm", "50 N")], {}, "more than zero"),
        ([("80", "40 N"), ("100 mm", "50 N")], {}, r"readings\[0\].length"),
        ([("80 mm", "40 N"), ("100 mm", "50")], {}, r"readings\[1\].force"),
        ([("80 mm", "40 N"), ("130 mm", "30 N"), ("90 mm", "20 N"), ("120 mm", "10 N")], {}, "rate is open"),
        ([("80 mm", "40 N"), ("100 mm", "30 N")], {"level": 1.0}, "confidence level"),
        ([("80 mm", "40 N"), ("100 mm", "30 N")], {"length_resolution": "-1 mm"}, "ruler"),
    ],
)
def test_readings_that_will_not_do(pairs: list, how: dict, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        rate_from_readings(pairs, **how)


def test_pasted_readings() -> None:
    text = "# spring 3\n150 mm, 1.2 kg\n\n120 mm; 2.4 kg\n4.5 in\t30 N\n"
    assert read_readings(text) == [("150 mm", "1.2 kg"), ("120 mm", "2.4 kg"), ("4.5 in", "30 N")]
    with pytest.raises(units.UnitError, match="line 2: got '120 mm'"):
        read_readings("150 mm, 1 kg\n120 mm")
    with pytest.raises(units.UnitError, match="must be at most 200"):
        read_readings("100 mm, 1 N\n" * 201)


def test_coils_from_what_can_be_seen() -> None:
    spring = Spring("1.3 mm", "16 mm", "180 mm", 24)
    over = units.quantity(10 * spring.pitch.m, "m")
    assert coils_from_pitch("180 mm", "1.3 mm", over, 10) == pytest.approx(24)
    assert coils_from_count(25, "closed / open") == 24
    assert coils_from_rate(spring, spring.rate) == pytest.approx(24)
    assert coils_from_rate(spring, spring.rate * 2) == pytest.approx(12)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: coils_from_pitch("180 mm", "1.3 mm", "10 mm", 10), "the pitch comes out as 1 mm"),
        (lambda: coils_from_pitch("180 mm", "1.3 mm", "400 mm", 2), "less than the free length"),
        (lambda: coils_from_pitch("180 mm", "1.3 mm", "70 mm", 10, "square"), "ends: got 'square'"),
        (lambda: coils_from_pitch("180 mm", "1.3 mm", "70 mm", 0), "measured over"),
        (lambda: coils_from_count(1.5, "closed"), "the closed ends alone take 2 coils"),
        (lambda: coils_from_count(10, "square"), "ends: got 'square'"),
        (lambda: coils_from_rate(Spring("1.3 mm", "16 mm", "180 mm", 24), "0 N/m"), "spring on a scale"),
    ],
)
def test_counts_that_cannot_be(call: object, words: str) -> None:
    with pytest.raises(units.UnitError, match=words):
        call()  # type: ignore[operator]
