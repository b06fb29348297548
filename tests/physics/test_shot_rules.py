"""The rules that all models of the shot share, each at its edge."""

from __future__ import annotations

import numpy as np
import pytest
from random_shots import draw

from blasterlab.shot import rules
from blasterlab.shot.equations import DART_WORK, STATES, Y
from blasterlab.shot.integrate import AT, COLUMNS, integrate
from blasterlab.shot.parameters import Parameters


def history(p: Parameters) -> np.ndarray:
    record = np.empty((20_000, COLUMNS))
    return record[: integrate(p, 1e-8, 2e-5, np.empty(STATES), record).records]


def shot(**fixed: float) -> Parameters:
    return draw(np.random.default_rng(3), **fixed)


def test_the_volumes_at_both_ends() -> None:
    p = shot()
    first, last = rules.volumes(p, 0.0, 0.0), rules.volumes(p, p.stroke, p.length)
    assert first == pytest.approx((p.plunger_area * p.stroke + p.chamber_dead, p.barrel_dead))
    assert last == pytest.approx((p.chamber_dead, p.barrel_dead + p.barrel_area * p.length))


@pytest.mark.parametrize(
    ("net", "ahead", "behind", "way"),
    [
        (3.1, True, True, 1),
        (3.1, False, True, 0),
        (2.9, True, True, 0),
        (-3.1, True, True, -1),
        (-3.1, True, False, 0),
        (3.0 * (1.0 - 0.5 * rules.NEAR), True, True, 1),  # an event function that near zero has happened
    ],
)
def test_a_held_body_starts_when_more_than_its_hold_acts_and_it_has_room(
    net: float, ahead: bool, behind: bool, way: int
) -> None:
    assert rules.breaks_away(net, 3.0, ahead, behind) == way


def test_a_body_without_friction_is_held_against_rounding() -> None:
    loose = dict.fromkeys(("seal_friction", "seal_breakaway", "dart_friction", "dart_breakaway"), 0.0)
    p = shot(**loose, dart_friction_per_pressure=0.0, ambient_pressure=1e5)
    assert rules.dart_hold(p, 1e5) == pytest.approx(0.1 * p.barrel_area)
    assert rules.seal_hold(p, 1e5) == pytest.approx(0.1 * p.plunger_area)
    assert rules.breaks_away(0.05 * p.barrel_area, rules.dart_hold(p, 1e5), True, True) == 0


def test_the_grip_shrinks_with_the_nose_out_and_pressure_below_ambient_adds_nothing() -> None:
    p = shot(dart_friction=2.0, dart_friction_per_pressure=1e-5, length=0.3, dart_length=0.04)
    high, low = p.ambient_pressure + 1e5, p.ambient_pressure - 5e4
    for y, share in ((0.1, 1.0), (0.26, 1.0), (0.28, 0.5), (0.3, 0.0)):
        nose = rules.nose_out(p, y, 1)
        assert rules.dart_sliding(p, high, y, nose) == pytest.approx(3.0 * share, abs=1e-12)
        assert rules.dart_sliding(p, low, y, nose) == pytest.approx(2.0 * share, abs=1e-12)
    assert [rules.nose_out(p, y, 1) for y in (0.0, 0.259, 0.26, 0.261)] == [0, 0, 1, 1]
    assert [rules.nose_out(p, y, -1) for y in (0.0, 0.259, 0.26, 0.261)] == [
        0,
        0,
        0,
        1,
    ]  # back at the edge: in


def test_a_plunger_rebounds_from_the_front_stop_and_stays_at_the_catch() -> None:
    p = shot(stop_restitution=0.5)
    assert rules.stroke_end(p, 1, 2.0, 10.0) == (p.stroke, -1.0, -1)
    assert rules.stroke_end(p, 1, 0.019, 10.0) == (p.stroke, 0.0, 0)  # a rebound too slow to follow
    assert rules.stroke_end(p, -1, -2.0, 10.0) == (0.0, 0.0, 0)
    assert rules.stroke_end(p._replace(stop_restitution=0.0), 1, 2.0, 10.0) == (p.stroke, 0.0, 0)
    assert rules.lost(0.03, 2.0, -1.0) == pytest.approx(0.045)


@pytest.mark.parametrize(
    ("t", "s", "y", "dart", "held_since", "best_since", "stays", "status"),
    [
        (0.1, 0.05, 0.1, 1, 0.0, 0.01, False, rules.RUNNING),  # it moves
        (0.1, 0.05, 0.1, 0, 0.0, -1.0, False, rules.RUNNING),  # the plunger still does its best
        (0.1, 0.05, 0.1, 0, 0.09, 0.01, False, rules.RUNNING),  # it has just stopped
        (0.1, 0.05, 0.1, 0, 0.05, 0.01, False, rules.STALLED),
        (0.1, 0.05, 0.0, 0, 0.0, 0.01, False, rules.NO_BREAKAWAY),
        (0.1, 0.0, 0.0, 0, 0.0, 0.0, False, rules.NO_RELEASE),
        (0.0, 0.0, 0.0, 0, 0.0, 0.0, False, rules.NO_RELEASE),  # held at once
        (0.0, 0.0, 0.0, 0, 0.0, -1.0, False, rules.RUNNING),  # released
        (0.6, 0.05, 0.1, -1, 0.0, 0.01, False, rules.TIME_OUT),
        (0.1, 0.05, 0.1, 0, 0.09, 0.01, True, rules.STALLED),  # and provably cannot move again
        (0.1, 0.05, 0.1, 1, 0.09, 0.01, True, rules.RUNNING),
        (0.1, 0.05, 0.1, 0, 0.09, -1.0, True, rules.RUNNING),
    ],
)
def test_how_a_shot_ends(
    t: float, s: float, y: float, dart: int, held_since: float, best_since: float, stays: bool, status: int
) -> None:
    assert rules.ending(t, rules.TIME_LIMIT, s, y, dart, held_since, best_since, stays) == status


@pytest.mark.parametrize("seed", [276, 284, 285])
def test_a_dart_that_is_sucked_back_is_gripped_over_no_more_than_its_length(seed: int) -> None:
    fixed = {"dart_friction": 0.5, "dart_breakaway": 1.0, "dart_friction_per_pressure": 0.0, "air_ahead": 0.0}
    p = draw(np.random.default_rng(seed), length=1.2, **fixed)
    p = p._replace(length=float(history(p)[:, AT + Y].max()) + 0.3 * p.dart_length)
    rows = history(p)
    travel, work = rows[:, AT + Y], rows[:, AT + DART_WORK]
    turn, back = int(np.argmax(travel)), int(np.argmin(travel[np.argmax(travel) :])) + int(np.argmax(travel))
    assert travel[back] + 0.01 < p.length - p.dart_length < travel[turn]
    share = np.minimum((p.length - travel) / p.dart_length, 1.0)[turn : back + 1]
    rubbed = 0.5 * np.trapezoid(share, -travel[turn : back + 1])
    assert work[back] - work[turn] == pytest.approx(rubbed, rel=1e-6)
