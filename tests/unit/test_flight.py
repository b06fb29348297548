"""`fly`, `Wind` and `Trajectory`: what they answer and what they refuse."""

import math

import numpy as np
import pytest
from spheres import sphere_table

import blasterlab as bl
from blasterlab.flight.fly import DragRangeWarning

DART = bl.Projectile("1.0 g", "12.7 mm", 0.70)


@pytest.mark.parametrize(
    ("text", "along", "across"),
    [
        ("4 m/s from 12 o'clock", -4.0, 0.0),
        ("4 m/s from 3 o'clock", 0.0, -4.0),
        ("4 m/s from 6", 4.0, 0.0),
        ("4 m/s from 9 oclock", 0.0, 4.0),
        ("4 m/s from 10:30", -4 * math.cos(math.pi / 4), 4 * math.sin(math.pi / 4)),
        ("0 mph from 1", 0.0, 0.0),
    ],
)
def test_wind_by_the_clock(text, along, across):
    wind = bl.Wind.read(text)
    assert wind.si == pytest.approx((along, 0.0, across), abs=1e-12)


@pytest.mark.parametrize(
    ("wind", "words"),
    [
        ("-3 m/s from 9 o'clock", ["never negative", "from 3 o'clock"]),
        ("-3 m/s from 6 o'clock", ["from 12 o'clock"]),
        ("3 m/s", ["speed and direction", "from 9 o'clock"]),
        ("3 from 9", ["wind.speed", "has no unit"]),
        ("3 m/s from 13 o'clock", ["wind.hour", "12 o'clock"]),
        ("3 m/s from 0 o'clock", ["wind.hour"]),
        ("90 m/s from 1 o'clock", ["wind.speed", "40 m/s"]),
        (3.0, ["speed and direction"]),
        ("3 m/s from " + "9" * 90, ["speed and direction"]),
    ],
)
def test_wind_refused(wind, words):
    with pytest.raises(bl.UnitError) as caught:
        bl.fly(DART, "40 m/s", wind=wind)
    for word in words:
        assert word in str(caught.value)


def test_wind_component_refused():
    with pytest.raises(bl.UnitError, match=r"wind\.up"):
        bl.Wind(up="50 m/s")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"speed": None}, ["speed", "missing"]),
        ({"speed": "0 m/s"}, ["speed", "0.1 m/s"]),
        ({"speed": "500 m/s"}, ["speed", "300 m/s"]),
        ({"speed": 40}, ["speed", "has no unit"]),
        ({"air": "cold"}, ["air", "Air(temperature"]),
        ({"angle": "95 deg"}, ["angle", "90"]),
        ({"slope": "85 deg"}, ["slope"]),
        ({"sight_height": "2 m"}, ["sight_height"]),
        ({"muzzle_height": "0 m"}, ["muzzle_height", "lands at once"]),
        ({"muzzle_height": "-1 m"}, ["muzzle_height"]),
        ({"distance": "-5 m"}, ["distance", "behind the muzzle"]),
        ({"distance": "0 m"}, ["behind the muzzle"]),
        ({"distance": "2 km"}, ["distance", "1000"]),
    ],
)
def test_flights_refused(changes, words):
    arguments = {"speed": "40 m/s"} | changes
    with pytest.raises(bl.UnitError) as caught:
        bl.fly(DART, **arguments)
    for word in words:
        assert word in str(caught.value)


def test_answers_hang_together():
    flight = bl.fly(DART, "40 m/s", angle="2 deg", sight_height="40 mm", wind="2 m/s from 9 o'clock")
    there = flight.at("33 ft")
    assert there.distance.m_as("m") == pytest.approx(33 * 0.3048, rel=1e-9)
    assert flight.time("33 ft") == there.time
    assert flight.drop("33 ft") == there.drop
    assert there.energy.m_as("J") == pytest.approx(0.5e-3 * there.speed.m_as("m/s") ** 2)
    bore = math.tan(math.radians(2)) * there.distance.m_as("m")
    assert there.height.m_as("m") == pytest.approx(bore - there.drop.m_as("m") - 0.04, abs=1e-12)
    assert flight.end == "landed"
    assert flight.last.height.m_as("m") == pytest.approx(-1.44, abs=1e-9)
    assert flight.at("0 m").speed.m_as("m/s") == pytest.approx(40.0)


def test_the_plane_of_the_end_is_part_of_the_flight():
    """The last knot may lie a rounding error before the distance that was asked for."""
    for tenths in range(10, 400, 3):
        distance = bl.Quantity(0.1 * tenths, "m")
        flight = bl.fly(DART, "62.9 m/s", distance=distance, muzzle_height="300 m")
        assert flight.time(distance).m_as("s") == pytest.approx(flight.last.time.m_as("s"), rel=1e-9)


def test_beyond_and_behind():
    flight = bl.fly(DART, "40 m/s")
    with pytest.raises(bl.UnitError, match=r"landed at 15\.\d+ m\. A higher angle"):
        flight.at("30 m")
    with pytest.raises(bl.UnitError, match="behind the muzzle"):
        flight.at("-1 m")


def test_tables_and_paths():
    flight = bl.fly(DART, "40 m/s", distance="10 m")
    table = flight.table
    assert len(table) == 26
    assert next(iter(table.columns)) == "distance_m"
    assert table["distance_m"].iloc[-1] == pytest.approx(10.0)
    assert (np.diff(table["speed_m_s"]) < 0).all()
    chosen = flight.table_at(["1 m", "10 ft"])
    assert chosen["distance_m"].tolist() == pytest.approx([1.0, 3.048])
    path = flight.path(11)
    assert path["distance"][[0, -1]] == pytest.approx([0.0, 10.0])
    assert not table.isna().any().any()


def test_straight_up():
    flight = bl.fly(DART, "40 m/s", angle="90 deg")
    assert flight.apex.height.m_as("m") == pytest.approx(21.3, abs=0.1)
    assert flight.last.height.m_as("m") == pytest.approx(-1.4)
    table = flight.table
    assert len(table) == 26
    assert np.isfinite(table.to_numpy()).all()


def test_crossings_without_any():
    level = bl.fly(DART, "40 m/s", sight_height="40 mm")
    assert level.crossings == (None, None)
    assert level.apex.distance.m_as("m") == 0.0


def test_slope_shortens_the_drop():
    """Uphill or downhill only the part of the weight square to the line of sight bends the path."""
    level = bl.fly(DART, "60 m/s").drop("8 m").m_as("m")
    for slope in ("30 deg", "-30 deg"):
        steep = bl.fly(DART, "60 m/s", slope=slope).drop("8 m").m_as("m")
        assert steep == pytest.approx(level * math.cos(math.radians(30)), rel=0.02)


def test_outside_the_drag_table_warns_and_marks():
    table = bl.DragTable(mach=[0.08, 0.3], drag_coefficient=[0.7, 0.72])
    with pytest.warns(DragRangeWarning, match="held"):
        flight = bl.fly(DART.replace(drag_coefficient=table), "40 m/s")
    assert flight.outside_table
    with pytest.warns(DragRangeWarning):
        slow = bl.fly(bl.Projectile("1 g", "40 mm", sphere_table()), "100 m/s")
    assert slow.outside_table  # above the drag crisis
    assert not bl.fly(DART, "40 m/s").outside_table


def test_a_build_brings_its_dart_air_and_speed():
    build = bl.demo_build(bl.demo_builds()[0])
    flight = bl.fly(build)
    assert flight.at("0 m").speed.m_as("m/s") == pytest.approx(bl.simulate(build).muzzle_velocity.m_as("m/s"))
    assert flight.launch.air == build.air
    assert bl.fly(build, "30 m/s").at("0 m").speed.m_as("m/s") == pytest.approx(30.0)


def test_a_feather_that_the_wind_lifts():
    feather = bl.Projectile("10 mg", "40 mm", 1.2)
    flight = bl.fly(feather, "10 m/s", wind=bl.Wind(up="5 m/s"))
    assert flight.end == "in the air"
    with pytest.raises(bl.UnitError, match=r"furthest: .*120 s"):
        bl.furthest(feather, "10 m/s", wind=bl.Wind(up="5 m/s"))


def test_a_launch_is_read_once_and_goes_everywhere():
    launch = bl.Launch.of(DART, "40 m/s", wind="3 m/s from 9 o'clock", sight_height="40 mm")
    told = {"wind": "3 m/s from 9 o'clock", "sight_height": "40 mm"}
    assert bl.fly(launch).last == bl.fly(DART, "40 m/s", **told).last
    assert bl.hold(launch, distance="14 m", zero_distance="10 m") == bl.hold(
        DART, "40 m/s", distance="14 m", zero_distance="10 m", **told
    )
    faster = bl.Launch.of(launch, "50 m/s", wind=None, sight_height="0 mm")  # what is given wins, None is not
    assert faster.speed.m_as("m/s") == pytest.approx(50.0)
    assert (faster.wind, faster.sight) == (launch.wind, 0.0)
    with pytest.raises(TypeError, match="muzzle_height"):
        bl.Launch.of(DART, "40 m/s", muzzle_height="1 m")
    with pytest.raises(TypeError, match="muzzle_height"):
        bl.hold(DART, "40 m/s", distance="14 m", zero_distance="10 m", muzzle_height="1 m")


def test_a_build_that_shoots_nothing_is_no_launch():
    stuck = bl.demo_build("workhorse").replace(
        {"losses.dart_breakaway": "400 N", "losses.dart_friction": "400 N"}
    )
    with pytest.raises(bl.UnitError, match="stays in the barrel"):
        bl.fly(stuck)
