"""Zero, hold, lead, point-blank span and furthest distance."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import blasterlab as bl

DART = bl.Projectile("1.0 g", "12.7 mm", 0.70)
PEBBLE = bl.Projectile("1.0 g", "12.7 mm", 0.0)


def test_zero_meets_the_line_twice():
    found = bl.zero(DART, "40 m/s", distance="10 m", sight_height="40 mm")
    assert found.far.m_as("m") == pytest.approx(10.0, abs=1e-7)
    for crossing in (found.near, found.far):
        assert found.flight.at(crossing).height.m_as("m") == pytest.approx(0.0, abs=1e-7)
    assert found.near < found.top.distance < found.far
    assert found.top.height.m_as("m") > 0


def test_zero_at_the_near_crossing():
    far = bl.zero(DART, "40 m/s", distance="10 m", sight_height="40 mm")
    near = bl.zero(DART, "40 m/s", distance=far.near, sight_height="40 mm")
    assert near.angle.m_as("rad") == pytest.approx(far.angle.m_as("rad"), abs=1e-8)
    assert near.far.m_as("m") == pytest.approx(10.0, abs=1e-5)


def test_zero_without_air_by_hand():
    # sin 2θ = g x / v² for a line of sight through the muzzle.
    found = bl.zero(PEBBLE, "20 m/s", distance="30 m", muzzle_height="2 m")
    assert found.angle.m_as("rad") == pytest.approx(0.5 * math.asin(9.80665 * 30 / 400), abs=1e-8)
    assert found.near.m_as("m") == 0.0


def test_steep_zero_is_the_flatter_one():
    edge = 20.0**2 / 9.80665
    found = bl.zero(PEBBLE, "20 m/s", distance=f"{0.999 * edge} m", muzzle_height="2 m")
    expected = 0.5 * math.asin(0.999)
    assert found.angle.m_as("rad") == pytest.approx(expected, abs=1e-6)


def test_zero_out_of_reach_says_what_is():
    with pytest.raises(bl.UnitError) as caught:
        bl.zero(DART, "20 m/s", distance="60 m")
    text = str(caught.value)
    for word in ("zero: 60 m cannot be reached at 20 m/s", "is 17", "°", "nearer distance, more speed"):
        assert word in text
    reach = bl.furthest(DART, "20 m/s", muzzle_height="1 mm").distance.m_as("m")
    assert f"is {reach:.3g} m along" in text
    assert bl.zero(DART, "20 m/s", distance=f"{0.99 * reach} m").far is not None


@pytest.mark.parametrize("distance", ["-3 m", "0 m"])
def test_zero_behind_the_muzzle(distance):
    with pytest.raises(bl.UnitError, match="behind the muzzle"):
        bl.zero(DART, "40 m/s", distance=distance)


@settings(max_examples=30, deadline=None)
@given(st.floats(25.0, 90.0), st.floats(0.1, 1.0), st.floats(2.0, 14.0), st.floats(-0.05, 0.1))
def test_any_zero_meets_its_distance(speed, drag, x, sight):
    dart = bl.Projectile("1 g", "12.7 mm", drag)
    found = bl.zero(dart, f"{speed} m/s", distance=f"{x} m", sight_height=f"{sight} m", muzzle_height="50 m")
    assert found.flight.at(f"{x} m").height.m_as("m") == pytest.approx(0.0, abs=1e-7)


def test_hold_over_and_wind_hold():
    still = bl.hold(DART, "40 m/s", distance="10 m", zero_distance="10 m")
    assert still.up.m_as("m") == pytest.approx(0.0, abs=1e-7)
    assert still.right.m_as("m") == 0.0
    far = bl.hold(DART, "40 m/s", distance="15 m", zero_distance="10 m", wind="2 m/s from 9 o'clock")
    assert far.up.m_as("m") > 0.3
    assert far.right.m_as("m") < 0  # the wind from the left carries to the right
    assert far.up_angle.m_as("rad") == pytest.approx(math.atan(far.up.m_as("m") / 15))
    assert "high" in str(far)
    assert "left" in str(far)
    near = bl.hold(DART, "40 m/s", distance="5 m", zero_distance="10 m", wind="2 m/s from 3 o'clock")
    assert "low" in str(near)
    assert "right" in str(near)


def test_holding_as_told_hits_the_mark():
    where = {"distance": "14 m", "wind": "3 m/s from 8 o'clock"}
    told = bl.hold(DART, "40 m/s", zero_distance="9 m", sight_height="5 cm", **where)
    zero = bl.zero(DART, "40 m/s", distance="9 m", sight_height="5 cm")
    flight = bl.fly(DART, "40 m/s", angle=zero.angle, sight_height="5 cm", **where)
    assert flight.at("14 m").height.m_as("m") == pytest.approx(-told.up.m_as("m"), abs=1e-9)
    assert flight.at("14 m").drift.m_as("m") == pytest.approx(-told.right.m_as("m"), abs=1e-9)


def test_uphill_holds_lower():
    level = bl.hold(DART, "40 m/s", distance="12 m", zero_distance="10 m")
    up = bl.hold(DART, "40 m/s", distance="12 m", zero_distance="10 m", slope="40 deg")
    assert up.up < level.up


def test_lead_across_and_away():
    across = bl.lead(DART, "40 m/s", distance="10 m", target_speed="4 m/s")
    assert across.length.m_as("m") == pytest.approx(4 * across.time.m_as("s"))
    assert across.distance.m_as("m") == pytest.approx(math.hypot(10.0, across.length.m_as("m")), abs=1e-9)
    assert across.angle.m_as("rad") == pytest.approx(math.atan2(across.length.m_as("m"), 10.0), abs=1e-9)
    away = bl.lead(DART, "40 m/s", distance="10 m", target_speed="4 m/s", crossing="0 deg")
    assert away.distance.m_as("m") == pytest.approx(10 + 4 * away.time.m_as("s"), abs=1e-9)
    assert away.angle.m_as("rad") == 0.0
    towards = bl.lead(DART, "40 m/s", distance="10 m", target_speed="4 m/s", crossing="180 deg")
    assert towards.distance.m_as("m") == pytest.approx(10 - 4 * towards.time.m_as("s"), abs=1e-9)
    still = bl.lead(DART, "40 m/s", distance="10 m", target_speed="0 m/s")
    assert still.length.m_as("m") == 0.0


def test_lead_refused():
    with pytest.raises(bl.UnitError, match=r"lead: .* cannot be reached"):
        bl.lead(DART, "15 m/s", distance="12 m", target_speed="8 m/s", crossing="0 deg")
    with pytest.raises(bl.UnitError, match="target_speed"):
        bl.lead(DART, "40 m/s", distance="10 m", target_speed="-1 m/s")
    with pytest.raises(bl.UnitError, match="crossing"):
        bl.lead(DART, "40 m/s", distance="10 m", target_speed="1 m/s", crossing="200 deg")
    with pytest.raises(bl.UnitError, match=r"target_speed: .* leaves at 11 m/s"):
        bl.lead(DART, "11 m/s", distance="1 m", target_speed="12 m/s", crossing="180 deg")


def test_lead_that_does_not_settle(monkeypatch):
    monkeypatch.setattr("blasterlab.flight.aiming._TURNS", 2)
    with pytest.raises(bl.UnitError, match="only just meet"):
        bl.lead(DART, "40 m/s", distance="10 m", target_speed="4 m/s")


@pytest.mark.parametrize("sight", ["0 mm", "40 mm", "30 cm"])
def test_point_blank_span(sight):
    span = bl.point_blank(DART, "40 m/s", target_height="30 cm", sight_height=sight)
    assert span.near < span.zero < span.far
    assert span.flight.apex.height.m_as("m") == pytest.approx(0.15, abs=1e-7)
    assert span.flight.at(span.far).height.m_as("m") == pytest.approx(-0.15, abs=1e-6)
    if sight == "30 cm":  # the muzzle lies below the target's lower edge
        assert span.flight.at(span.near).height.m_as("m") == pytest.approx(-0.15, abs=1e-6)
    else:
        assert span.near.m_as("m") == 0.0


def test_point_blank_beats_any_other_angle():
    span = bl.point_blank(DART, "40 m/s", target_height="30 cm")
    for shift in (-0.3, -0.1, 0.05):
        other = bl.fly(DART, "40 m/s", angle=f"{span.angle.m_as('deg') + shift} deg", muzzle_height="15 cm")
        inside = other.apex.height.m_as("m") <= 0.15
        assert not inside or other.last.distance < span.far


def test_point_blank_refused():
    with pytest.raises(bl.UnitError, match="no angle brings the path to its top"):
        bl.point_blank(DART, "3 m/s", target_height="2 m")
    with pytest.raises(bl.UnitError, match="target_height"):
        bl.point_blank(DART, "40 m/s", target_height="0 mm")


def test_furthest_is_furthest():
    best = bl.furthest(DART, "40 m/s")
    angle = best.angle.m_as("deg")
    assert 20 < angle < 45
    for other in (angle - 2, angle + 2):
        landing = bl.fly(DART, "40 m/s", angle=f"{other} deg").last.distance
        assert landing < best.distance
    assert best.flight.last.distance == best.distance
    wind = bl.furthest(DART, "40 m/s", wind="4 m/s from 6 o'clock")
    assert wind.distance > best.distance


def test_loss_table():
    table = bl.loss_table(DART, ["40 m/s", "60 m/s"], distances=["0 m", "10 m"])
    assert len(table) == 4
    assert table["speed_left"].tolist()[::2] == [1.0, 1.0]
    assert table["energy_left"].tolist() == pytest.approx((table["speed_left"] ** 2).tolist())
    with pytest.raises(bl.UnitError, match="behind the muzzle"):
        bl.loss_table(DART, "40 m/s", distances=["-1 m"])


def test_air_effect():
    table = bl.air_effect(DART, "40 m/s", distance="10 m")
    assert table["drop_change_m"].iloc[0] == 0.0
    assert table.loc["0 °C", "speed_change_m_s"] < 0 < table.loc["35 °C", "speed_change_m_s"]
    assert table.loc["3000 m", "drop_m"] < table.loc["1500 m", "drop_m"] < table.loc["20 °C", "drop_m"]
    with pytest.raises(bl.UnitError, match="airs"):
        bl.air_effect(DART, "40 m/s", distance="10 m", airs={})


def test_a_hold_out_of_reach_says_how_far_the_dart_gets():
    with pytest.raises(bl.UnitError, match=r"with this zero.*further than 2\d.*try a nearer target"):
        bl.hold(DART, "20 m/s", distance="40 m", zero_distance="10 m")
