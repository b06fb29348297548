"""Rings in grooves: limits, tape, tolerances, ranking, and each refusal."""

from __future__ import annotations

import contextlib
import math
from typing import Any

import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.checks.seal import SealFit, rings_for, seal_fit, wraps_for
from blasterlab.checks.seal_friction import leak_cost, leak_from_leak_down, ring_load, seal_friction
from blasterlab.parts.rings import THINNING, ring, sizes, squeeze_limits, thinned

CASE = ("23.39 x 3.53 mm", "30 mm", "23.86 mm", "4.75 mm")


@pytest.mark.parametrize("text", ["216", "-216", "AS568-216", "as568-216"])
def test_a_dash_number_is_read_in_any_of_its_spellings(text: str) -> None:
    found = ring(text)
    assert (found.inside.m_as("mm"), found.section.m_as("mm")) == (28.17, 3.53)


def test_a_ring_by_its_measures_takes_units_once_or_twice() -> None:
    assert ring("23.39 x 3.53 mm").inside == ring("23.39mm x 3.53 mm").inside
    assert ring("1 in x 1/8 in").inside.m_as("mm") == pytest.approx(25.4)
    assert ring('1" x 3.53 mm').inside.m_as("mm") == pytest.approx(25.4)


@pytest.mark.parametrize(
    ("size", "words"),
    [
        ("999", "not in the AS568 table"),
        ("huge", "must be a dash number"),
        ("3 x 4", "no unit"),
        ("3 x 40 mm", "ring section"),
        ("1 x 2 x 3 mm", "must be a dash number"),
    ],
)
def test_a_ring_that_cannot_be_is_refused_by_name(size: str, words: str) -> None:
    with pytest.raises(units.UnitError, match=r"ring") as caught:
        ring(size)
    assert words in str(caught.value)


@pytest.mark.parametrize(
    ("size", "example"), [("29 x 3.5", "29 x 3.5 mm"), ("29 mm x 3.5", "23.39 x 3.53 mm")]
)
def test_a_ring_without_a_unit_is_told_one(size: str, example: str) -> None:
    with pytest.raises(units.UnitError) as caught:
        ring(size)
    assert str(caught.value) == f"ring: got '{size}', which has no unit; try \"{example}\""


def test_every_ring_of_the_list_is_a_ring() -> None:
    found = sizes()
    assert len(found) > 300
    assert len({part.name for part in found}) == len(found)
    assert all(part.inside > part.section for part in found if not part.name.startswith("AS568-00"))


def test_more_stretch_less_section_and_neither_model_grows_a_ring() -> None:
    for model in THINNING:
        left = [thinned(0.005 * n, model) for n in range(20)]
        assert left[0] == pytest.approx(1.0, abs=1e-4)
        assert left == sorted(left, reverse=True), model
        assert thinned(-0.1, model) == 1.0
    # SAE ARP 1231 (polynomial from memory: only that it takes more away, by less than a factor of two)
    assert 1.0 < (1 - thinned(0.02, "ARP 1231")) / (1 - thinned(0.02)) < 2.0
    with pytest.raises(units.UnitError, match="thinning"):
        thinned(0.02, "guess")


def test_tape_raises_the_groove_by_twice_its_thickness_a_turn() -> None:
    bare = seal_fit(CASE[0], "30 mm", "23.4 mm", "4.75 mm")
    wound = seal_fit(CASE[0], "30 mm", "23.4 mm", "4.75 mm", wraps=2, tape="0.1 mm")
    direct = seal_fit(CASE[0], "30 mm", "23.8 mm", "4.75 mm")
    assert wound.squeeze.value == pytest.approx(direct.squeeze.value, rel=1e-12)
    assert wound.squeeze.value > bare.squeeze.value
    thin = seal_fit(CASE[0], "30 mm", "23.4 mm", "4.75 mm", wraps=2, tape="0.1 mm", tape_stretch=1.0)
    half = seal_fit(CASE[0], "30 mm", "23.4 mm", "4.75 mm", wraps=1, tape="0.1 mm")
    assert thin.squeeze.value == pytest.approx(half.squeeze.value, rel=1e-12)


def test_the_turns_of_tape_bring_a_loose_groove_into_its_limits() -> None:
    loose = seal_fit("216", "36 mm", "28.6 mm", "4.8 mm")
    assert loose.faults == ("loose",)
    assert loose.seals == "no"
    found = wraps_for("216", "36 mm", "28.6 mm", "4.8 mm")
    assert found is not None
    assert found.wraps > 0
    assert found.limits[0] <= found.squeeze.value <= found.limits[1]
    middle = 0.5 * sum(found.limits)
    for other in (found.wraps - 1, found.wraps + 1):
        there = seal_fit("216", "36 mm", "28.6 mm", "4.8 mm", wraps=other)
        assert abs(there.squeeze.value - middle) >= abs(found.squeeze.value - middle)
    assert wraps_for("216", "80 mm", "28.6 mm", "4.8 mm") is None


def test_a_bad_day_is_the_worst_corner_and_the_likely_one_lies_inside() -> None:
    wide = {"bore": "0.1 mm", "groove": "0.05 mm", "section": "0.1 mm", "inside": "0.2 mm"}
    fit = seal_fit(*CASE, tolerances=wide)
    low, high = fit.squeeze.worst
    assert low < fit.squeeze.likely[0] < fit.squeeze.value < fit.squeeze.likely[1] < high
    worst = seal_fit("23.19 x 3.43 mm", "30.1 mm", "23.81 mm", "4.75 mm")
    assert low == pytest.approx(min(worst.squeeze.value, low), rel=1e-12)
    assert sum(fit.squeeze.shares.values()) == pytest.approx(1.0)
    assert max(fit.squeeze.shares, key=lambda name: fit.squeeze.shares[name]) == "section"
    assert fit.seals == "likely"
    assert seal_fit(*CASE).seals == "always"
    assert seal_fit(*CASE).squeeze.worst == (seal_fit(*CASE).squeeze.value,) * 2


def test_the_best_rings_have_no_fault_and_stand_first() -> None:
    found = rings_for("36 mm", "29.9 mm", "4.75 mm")
    assert 0 < len(found) <= 8
    assert found[0].faults == ()
    assert [len(fit.faults) for fit in found] == sorted(len(fit.faults) for fit in found)
    assert len(rings_for("36 mm", "29.9 mm", "4.75 mm", most=2)) == 2


@pytest.mark.parametrize(
    ("bore", "groove", "more"),
    [
        ("36 mm", "29.9 mm", {}),
        ("36 mm", "29 mm", {"moving": False, "thinning": THINNING[1]}),
        ("20 mm", "14 mm", {"wraps": 3, "tape": "0.1 mm"}),
        ("50 mm", "46.5 mm", {"tolerances": {"bore": "0.1 mm", "section": "0.05 mm"}}),
    ],
)
def test_the_best_rings_are_those_of_the_whole_list(bore: str, groove: str, more: dict[str, Any]) -> None:
    place, depth = (bore, groove, "4.75 mm"), 0.5 * (units.si(bore, "length") - units.si(groove, "length"))
    fits = []
    for part in sizes():
        if 0.5 < depth / part.section.m_as("m") < 1.05:
            with contextlib.suppress(units.UnitError):
                fits.append(seal_fit(part, *place, **more))

    def off(fit: SealFit) -> tuple[int, float]:
        low, high = fit.limits
        squeeze = abs(fit.squeeze.value - 0.5 * (low + high)) / (high - low)
        return len(fit.faults), squeeze + abs(fit.stretch.value / 0.02 - 1.0)

    found = rings_for(*place, **more)
    assert found == sorted(fits, key=off)[:8]
    assert len(found) == 8


def test_what_is_likely_is_never_wider_than_the_worst() -> None:
    found = seal_fit("30 x 3 mm", "36 mm", "30.88 mm", "3.6 mm", tolerances={"section": "0.5 mm"}).squeeze
    assert found.worst[0] <= found.likely[0] < found.value < found.likely[1] <= found.worst[1]


def test_faults_are_named() -> None:
    assert "tight" in seal_fit("23.39 x 3.53 mm", "30 mm", "24.6 mm", "4.75 mm").faults
    assert "slack" in seal_fit("26 x 3.53 mm", "30 mm", "23.86 mm", "4.75 mm").faults
    assert "stretched" in seal_fit("20 x 3.53 mm", "30 mm", "23.86 mm", "4.75 mm").faults
    assert "overfull" in seal_fit("23.39 x 3.53 mm", "30 mm", "23.86 mm", "3.5 mm").faults


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"groove": "31 mm"}, "groove: got 31"),
        ({"size": "10 x 3.53 mm"}, "cannot be stretched onto"),
        ({"wraps": 41}, "wraps"),
        ({"wraps": 39}, "too many turns"),
        ({"tape": "5 mm"}, "tape"),
        ({"tolerances": {"bore": "20 mm"}}, "tolerance of bore"),
        ({"tolerances": {"colour": "1 mm"}}, "tolerances: got"),
        ({"width": "0 mm"}, "groove width"),
        ({"size": "23 x 0.9 mm"}, "ring section"),
    ],
)
def test_a_groove_that_cannot_be_is_refused_by_name(changes: dict[str, object], words: str) -> None:
    given = dict(zip(("size", "bore", "groove", "width"), CASE, strict=True)) | changes
    with pytest.raises(units.UnitError) as caught:
        seal_fit(**given)  # type: ignore[arg-type]
    assert words in str(caught.value)


def test_a_fixed_ring_is_squeezed_more_than_a_moving_one() -> None:
    for section in ("1.78 mm", "2.62 mm", "3.53 mm"):
        assert squeeze_limits(section, moving=False)[1] > squeeze_limits(section)[1]
    with pytest.raises(units.UnitError, match="ring section"):
        squeeze_limits("9 mm")


def test_friction_grows_with_squeeze_and_hardness_and_keeps_its_order() -> None:
    tight, loose = seal_fit(*CASE), seal_fit(CASE[0], "30 mm", "23.6 mm", "4.75 mm")
    more, less = seal_friction(tight, "30 mm"), seal_friction(loose, "30 mm")
    assert more.running[0] < more.running[1] < more.running[2] < more.breakaway
    assert more.load > less.load
    assert ring_load(0.1, 80) > ring_load(0.1, 60)
    assert seal_friction(seal_fit(CASE[0], "31 mm", "23.6 mm", "4.75 mm"), "31 mm").load.m_as("N") == 0.0
    with pytest.raises(units.UnitError, match="hardness"):
        ring_load(0.1, 20)


def test_a_leak_down_follows_bernoulli_at_a_light_push() -> None:
    """Bernoulli's outflow sqrt(2 dp / rho) at a small overpressure (any textbook of fluid mechanics)."""
    area = math.pi / 4 * 0.035**2
    push = 0.5  # N, half a per cent of an atmosphere
    speed = math.sqrt(2.0 * push / area / 1.2041)
    found = leak_from_leak_down("35 mm", "20 mm", "10 s", f"{push} N")
    assert found.m_as("m^2") == pytest.approx(area * 0.020 / (10.0 * speed), rel=2 * push / area / 101325)
    quicker = leak_from_leak_down("35 mm", "20 mm", "5 s", f"{push} N")
    assert quicker.m_as("m^2") == pytest.approx(2 * found.m_as("m^2"))
    with pytest.raises(units.UnitError, match="time"):
        leak_from_leak_down("35 mm", "20 mm", "0 s", "20 N")


def test_a_leak_costs_speed_and_no_leak_costs_nothing() -> None:
    build = bl.demo_build("workhorse")
    cost = leak_cost(build, "2 mm^2")
    assert cost.tight > cost.leaking
    assert cost.leaking == bl.simulate(build.replace({"losses.seal_leak_area": "2 mm^2"})).muzzle_velocity
    assert leak_cost(build, "0 mm^2").tight == leak_cost(build, "0 mm^2").leaking == cost.tight
    assert "costs" in str(cost)
    with pytest.raises(bl.BuildError, match="seal_leak_area"):
        leak_cost(build, "-1 mm^2")
