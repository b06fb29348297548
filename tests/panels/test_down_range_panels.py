"""The down-range pictures and panels: what is drawn and said is what was computed."""

from __future__ import annotations

import io
import re
from typing import Any

import numpy as np
import pytest
from PIL import Image

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.figures.aim import AimView, HoldView
from blasterlab.figures.group import GroupView, HitView
from blasterlab.figures.style import WIDTH
from blasterlab.figures.trajectory import PathView
from blasterlab.flight.aiming_results import Zero
from blasterlab.flight.group_on_target import GroupOnTarget
from blasterlab.flight.hold_curve import hold_curve
from blasterlab.flight.target_flight import TargetFlight
from blasterlab.panels.base import LONGEST
from blasterlab.panels.group import BOX, HOLES, ROUND
from blasterlab.panels.wind import HOURS
from blasterlab.report.flight import height
from blasterlab.report.numbers import chance, kept
from blasterlab.report.shot import reach

BUILD = bl.demo_build("workhorse")
HEAVY = BUILD.replace({"dart.mass": "1.3 g"})
DART = bl.Projectile("1.0 g", "12.7 mm", 0.70)
MEASURED = bl.MeasuredGroup.read("10, 5; -12, 8; 3, -15; 0, 20; -6, -9", unit="mm")
#: Control -> a value that must show, for each panel.
MOVES: dict[str, dict[str, Any]] = {
    "trajectory": {"distance": "12 m", "zero": "8 m", "sight": "60 mm", "speed": "50 m/s", "mass": "1.2 g",
                   "drag": 0.5, "height": "40 cm", "slope": "20 deg"},
    "two": {"1.speed": "50 m/s", "1.mass": "1.2 g", "1.drag": 0.5, "2.speed": "45 m/s", "2.mass": "1.6 g",
            "2.drag": 0.5},
    "wind": {"distance": "12 m", "wind": "4 m/s", "hour": HOURS[9], "walk": "3 m/s", "towards": "to the left",
             "zero": "8 m", "sight": "60 mm", "speed": "50 m/s", "drag": 0.5},
    "group": {"distance": "12 m", "shape": BOX, "width": "200 mm", "shots": 20, "sd": "2 m/s",
              "pointing": "0.5 deg", "drag": 0.15, "mass": 0.1, "gust": "1 m/s", "draws": "10 000, exact",
              "holes": "10, 5\n-12, 8", "unit": "cm", "dart.speed": "50 m/s", "dart.mass": "1.2 g",
              "dart.drag": 0.8},
}  # fmt: skip


def make(name: str) -> Any:
    if name == "two":
        return panels.trajectory_panel({"1.0 g": BUILD, "1.3 g": HEAVY})
    return {
        "trajectory": panels.trajectory_panel,
        "wind": panels.wind_panel,
        "group": panels.group_panel,
    }[name](BUILD)


def at(zeros: tuple[Zero, ...], metres: float, names: tuple[str, ...] = ("",)) -> list[TargetFlight]:
    """Flights and a target 30 cm tall."""
    where, tall = units.quantity(metres, "m"), units.quantity(0.3, "m")
    return [TargetFlight(name, zero, where, tall) for name, zero in zip(names, zeros, strict=True)]


def told(panel: Any) -> str:
    return panel.text + panel.sight


def drawn(view: Any, what: object) -> Any:
    view.draw_full(view.frame(what, None))
    view.draw_live(what)
    return view


def labels(view: Any) -> list[Any]:
    """The words of a picture that are named."""
    return view.figure.findobj(lambda artist: str(artist.get_gid()).endswith((" words", " name")))


def words_in(artists: list[Any], view: Any) -> list[Any]:
    renderer = view.figure.canvas.get_renderer()
    texts = [artist for artist in artists if hasattr(artist, "get_text") and artist.get_text()]
    assert texts
    return [text.get_window_extent(renderer) for text in texts]


# ---- pictures -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_the_path_is_the_flight_in_the_chosen_units(chosen: str) -> None:
    units.use_units(chosen)
    zero = bl.zero(DART, "40 m/s", distance="10 m", sight_height="40 mm")
    view = drawn(PathView(), at((zero,), 8.0))
    artist = view.figure.artist
    x, y = artist("path 1").get_data()
    for k in (0, 20, 40):
        there = zero.flight.at(units.quantity(x[k] / units.display(1.0, "distance"), "m"))
        assert y[k] == pytest.approx(units.display(there.height.m_as("m"), "length"), abs=1e-6)
    there = zero.flight.at("8 m")
    assert artist("hit mark 1").get_ydata() == pytest.approx(
        [units.display(there.height.m_as("m"), "length")]
    )
    assert artist("speed mark 1").get_ydata() == pytest.approx(
        [units.display(there.speed.m_as("m/s"), "speed")]
    )
    assert artist("zeros 1").get_xdata()[1] == pytest.approx(units.display(10.0, "distance"))
    assert artist("hit words 1").get_text() == f"{height(there.height)}, {there.time.m_as('s'):.2f} s"
    band = artist("target").get_ydata()
    assert band == pytest.approx([units.display(end, "length") for end in (-0.15, 0.15)])
    assert units.show_unit("length") in view.ax.get_ylabel()
    assert units.show_unit("distance") in view.below.get_xlabel()


def test_time_marks_stand_at_round_times_on_the_path() -> None:
    zero = bl.zero(DART, "40 m/s", distance="10 m")
    view = drawn(PathView(), at((zero,), 10.0))
    xs, ys = view.figure.artist("marks 1").get_data()
    assert len(xs) >= 3
    shown = [view.figure.artist(f"time {k} 1").get_text() for k in range(7)]
    step = next(float(text[:-2]) / (k + 1) for k, text in enumerate(shown) if text)
    path = zero.flight.path(4001)
    for k, (x, y) in enumerate(zip(xs, ys, strict=True)):
        distance, height = (
            np.interp(step * (k + 1), path["time"], path[name]) for name in ("distance", "height")
        )
        assert x == pytest.approx(distance, abs=2e-3)
        assert y == pytest.approx(1000 * height, abs=2)


def test_the_path_says_where_the_dart_lands_short() -> None:
    zero = bl.zero(DART, "30 m/s", distance="8 m")
    chart = figures.trajectory_chart(zero, distance="35 m")
    end = kept(zero.flight.last.distance, "distance", 3)
    assert f"At 35 m, out of reach, lands at {end}" in chart.caption
    view = drawn(PathView(), at((zero,), 35.0))
    assert view.figure.artist("hit words 1").get_text() == ""
    assert view.figure.artist("ground words").get_text() == "ground"
    ground = view.figure.artist("ground").get_ydata()[0]
    assert ground == pytest.approx(1000 * zero.flight.last.height.m_as("m"))


@pytest.mark.parametrize(
    "speeds", [("40 m/s",), ("40 m/s", "40.5 m/s"), ("30 m/s", "60 m/s"), ("60 m/s", "30 m/s")]
)
@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_words_on_paths_do_not_cover_each_other(speeds: tuple[str, ...], chosen: str) -> None:
    units.use_units(chosen)
    zeros = tuple(bl.zero(DART, speed, distance="8 m", sight_height="40 mm") for speed in speeds)
    names = ("one", "two")[: len(speeds)]
    for distance in (3.0, 5.0, 8.0, 9.0, 11.5, 15.0, 18.0):
        view, paths = PathView(len(speeds)), at(zeros, distance, names)
        live = drawn(view, paths).draw_live(paths)
        speed_words = [view.figure.artist(f"speed words {row}") for row in range(1, len(speeds) + 1)]
        boxes = words_in([artist for artist in live if artist not in speed_words], view)
        pairs = [(a, b) for i, a in enumerate(boxes) for b in boxes[:i] if a.overlaps(b)]
        assert not pairs, (distance, pairs)
        assert all(box.x1 <= view.figure.bbox.x1 and box.x0 >= 0 for box in words_in(live, view)), distance
        note = view.figure.artist("note")
        notes = words_in([note, *view.ax.get_legend().texts] if len(speeds) > 1 else [note], view)
        assert not any(a.overlaps(b) for b in boxes for a in notes)
        assert len(notes) == 1 or not any(notes[0].overlaps(one) for one in notes[1:])
        hits = [view.figure.artist(f"hit words {row}").get_text() for row in range(1, len(speeds) + 1)]
        flown = [zero.flight.last.distance.m_as("m") >= distance for zero in zeros]
        assert [bool(words) for words in hits] == flown  # they are never left out


def test_a_picture_holds_one_or_two_flights() -> None:
    zero = bl.zero(DART, "40 m/s", distance="10 m")
    assert (
        "a on the mark, 0.33 s" in figures.trajectory_chart({"a": zero, "b": zero}, distance="10 m").caption
    )
    with pytest.raises(units.UnitError, match="holds one or two"):
        figures.trajectory_chart({"a": zero, "b": zero, "c": zero}, distance="10 m")
    with pytest.raises(units.UnitError, match="holds one or two"):
        figures.trajectory_chart({}, distance="10 m")


def test_the_holds_are_those_that_are_computed() -> None:
    wind, at = "2 m/s from 9 o'clock", "14 m"
    curve = hold_curve(DART, "40 m/s", distance=at, zero_distance="10 m", wind=wind, target_speed="1.4 m/s")
    hold = bl.hold(DART, "40 m/s", distance=at, zero_distance="10 m", wind=wind)
    lead = bl.lead(DART, "40 m/s", distance=at, target_speed="1.4 m/s", wind=wind)
    view = drawn(HoldView(), curve)
    dots = [float(view.figure.artist(f"{name} dot").get_ydata()[0]) for name in ("drop", "wind", "lead")]
    assert dots[0] == pytest.approx(hold.up.m_as("mm"), abs=1.5)
    assert dots[1] == pytest.approx(hold.right.m_as("mm"), abs=1.5)
    assert dots[2] == pytest.approx(
        lead.length.m_as("mm"), rel=0.02
    )  # the curve takes the target's own distance
    assert curve.distances[0] == 0.0
    assert np.all(np.diff(curve.distances) > 0)
    face = drawn(AimView(), curve)
    assert face.figure.artist("aim").get_xdata() == pytest.approx([(hold.right + lead.length).m_as("mm")])
    assert face.figure.artist("aim").get_ydata() == pytest.approx([hold.up.m_as("mm")])
    assert "mm left" in face.figure.artist("wind words").get_text()  # the wind blows to the right
    assert "mm right" in face.figure.artist("lead words").get_text()
    calm = hold_curve(DART, "40 m/s", distance="10 m", zero_distance="10 m")
    face = drawn(AimView(), calm)
    assert face.figure.artist("lead words").get_text() == "no lead"
    assert face.figure.artist("wind words").get_text() == "no wind hold"
    assert face.figure.artist("aim words").get_text() == "x  aim here: on the mark, not to the side"


def test_a_curve_gives_the_holds_of_hold_itself_and_refuses_a_single_point() -> None:
    case = {
        "distance": "14 m",
        "zero_distance": "9 m",
        "wind": "3 m/s from 8 o'clock",
        "sight_height": "4 cm",
    }
    curve, hold = hold_curve(DART, "40 m/s", **case), bl.hold(DART, "40 m/s", **case)
    assert curve.hold.up.m_as("mm") == pytest.approx(hold.up.m_as("mm"), abs=1e-3)
    assert curve.hold.right.m_as("mm") == pytest.approx(hold.right.m_as("mm"), abs=1e-3)
    for points in (1, 0, -3):
        with pytest.raises(units.UnitError, match=f"points: got {points}; must be 2 or more"):
            hold_curve(DART, "40 m/s", points=points, **case)
    with pytest.raises(units.UnitError, match="cannot be reached"):
        hold_curve(DART, "40 m/s", distance="190 m", zero_distance="5 m")


def test_words_of_the_aim_stand_clear_of_each_other() -> None:
    for wind, pace, right in (
        ("3 m/s from 3 o'clock", "4 m/s", False),
        ("9 m/s from 9 o'clock", "8 m/s", True),
    ):
        curve = hold_curve(DART, "40 m/s", distance="18 m", zero_distance="5 m", wind=wind, target_speed=pace,
                           to_the_right=right)  # fmt: skip
        for view in (AimView(), HoldView()):
            drawn(view, curve)
            boxes = words_in(labels(view), view)
            assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])
            assert all(box.x1 <= view.figure.bbox.x1 for box in boxes)


def test_the_face_draws_darts_circles_and_holes() -> None:
    group = bl.group(DART, "40 m/s", distance="10 m", speed_spread="1 m/s", pointing="3 mrad", draws=2000)
    target = {"diameter": "20 cm"}
    view = drawn(GroupView(), GroupOnTarget(group, target, MEASURED))
    dots = np.column_stack(view.figure.artist("dots").get_data())
    assert dots[:5, 0] == pytest.approx(group.right.m_as("mm")[:5])
    half = np.column_stack(view.figure.artist("half").get_data())
    middle = np.array([group.right.m_as("mm").mean(), group.up.m_as("mm").mean()])
    assert np.hypot(*(half - middle).T) == pytest.approx(group.cep.m_as("mm"))
    ring = np.column_stack(view.figure.artist("target").get_data())
    assert np.hypot(*ring.T) == pytest.approx(100)
    spoke = view.figure.artist("mean").get_xdata()
    assert spoke[1] - spoke[0] == pytest.approx(group.mean_radius.value.m_as("mm"))
    assert np.column_stack(view.figure.artist("holes").get_data()) == pytest.approx(1000 * MEASURED.points)
    assert view.figure.artist("holes words").get_text() == "5 holes"
    assert view.figure.artist("holes sample").get_visible()
    bare = drawn(GroupView(), GroupOnTarget(group, {"width": "20 cm", "height": "20 cm"}))
    assert bare.figure.artist("target").get_xdata() == pytest.approx([-100, 100, 100, -100, -100])
    assert not bare.figure.artist("holes sample").get_visible()
    assert bare.figure.artist("circle words").get_text() == ""
    low, high = view.ax.get_ylim()
    assert low < -100 < 100 < high
    box, span = view.ax.get_window_extent(), view.ax.get_xlim()
    assert box.height / (high - low) == pytest.approx(box.width / (span[1] - span[0]))  # circles are round


def test_the_chance_is_that_of_the_table() -> None:
    group = bl.group(DART, "40 m/s", distance="10 m", speed_spread="1 m/s", pointing="6 mrad", draws=2000)
    view = drawn(HitView(), GroupOnTarget(group, {"diameter": "15 cm"}))
    table = group.hit_table(diameter="15 cm")
    left = group.hit_table(diameter="15 cm", hold="unchanged")
    assert view.figure.artist("corrected").get_ydata() == pytest.approx(100 * table["chance"])
    assert view.figure.artist("unchanged").get_ydata() == pytest.approx(100 * left["chance"])
    assert view.figure.artist("here").get_ydata() == pytest.approx(
        [100 * group.hit_chance(diameter="15 cm").value]
    )
    assert view.figure.artist("band").get_paths()[0].vertices[: len(table), 1] == pytest.approx(
        100 * table["low"]
    )
    assert all(box.x1 <= view.figure.bbox.x1 for box in words_in(labels(view), view))
    assert "one half at" in figures.hit_chart(group, diameter="10 cm").caption
    assert "above one half up to 15 m" in figures.hit_chart(group, diameter="1 m").caption
    caption = figures.group_chart(group, MEASURED, width="10 cm", height="20 cm").caption
    assert "10 shots at 10 m: extreme spread" in caption
    assert "measured 5 shots" in caption
    with pytest.raises(units.UnitError, match="one single shape"):
        figures.group_chart(group)
    with pytest.raises(units.UnitError, match="one single shape"):
        figures.hit_chart(group, diameter="1 m", width="1 m")


@pytest.mark.parametrize("width", ["10 mm", "30 cm", "4 m"])
def test_the_words_beside_the_face_stay_in_the_picture(width: str) -> None:
    group = bl.group(DART, "40 m/s", distance="10 m", speed_spread="1 m/s", pointing="3 mrad", draws=500)
    view = drawn(GroupView(), GroupOnTarget(group, {"diameter": width}, MEASURED))
    assert view.figure.artist("target words").get_text().startswith({"4 m": "above"}.get(width, ""))
    for box in words_in(labels(view), view):
        assert box.x1 <= view.figure.bbox.x1


def test_the_margin_picture_marks_where_a_dart_balances() -> None:
    tip = bl.MakeUp("12.7 mm", "0 mm", "0.6 g", "36 mm", "0.4 g")
    tail = bl.MakeUp("12.7 mm", "30 mm", "0.1 g", "6 mm", "0.9 g")
    assert tail.wobble_angle is None
    chart = figures.margin_chart({"tip": tip, "tail": tail})
    assert chart.caption == f"tip balances at {tip.wobble_angle.m_as('deg'):.0f}°; tail turns over"
    curve = chart.axes[0].lines[1].get_ydata()
    assert curve[15] == pytest.approx(tip.static_margin("30 deg"))
    for many in ({}, {str(k): tip for k in range(5)}):
        with pytest.raises(units.UnitError, match="holds 1 to 4"):
            figures.margin_chart(many)


# ---- panels ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", MOVES)
def test_every_control_moves_something(name: str) -> None:
    panel = make(name)
    assert name == "two" or set(MOVES[name]) | {"height"} == set(panel.values) | {"height"}
    start, pictures = told(panel), list(panel.pictures)
    for control, value in MOVES[name].items():
        panel.set(control, value)
        assert told(panel) != start or panel.pictures != pictures, control
        panel.reset()
        assert told(panel) == start


@pytest.mark.parametrize("name", MOVES)
def test_lines_are_short_and_follow_the_units(name: str) -> None:
    panel = make(name)
    assert len(panel.text) <= LONGEST
    panel.units = "US customary"
    assert len(panel.text) <= LONGEST
    assert " in" in panel.text
    assert " mm" not in told(panel)
    for picture in panel.pictures:
        wide, tall = Image.open(io.BytesIO(picture)).size
        assert wide == WIDTH
        assert tall >= 250 / 440 * WIDTH


def test_the_trajectory_panel_says_what_is_computed() -> None:
    panel = make("trajectory")
    speed = bl.simulate(BUILD).muzzle_velocity
    zero = bl.zero(BUILD, distance="10 m", sight_height="40 mm")
    there = zero.flight.at("15 m")
    assert panel.values["speed"].m_as("m/s") == pytest.approx(speed.m_as("m/s"))
    assert panel.text.startswith(f"Trajectory: At 15 m, {height(there.height)}, ")
    assert f"hold {height(-there.height)}" in told(panel)
    span = bl.point_blank(BUILD, target_height="300 mm", sight_height="40 mm")
    assert f"With the zero at {kept(span.zero, 'distance', 3)} instead, you hit this target" in told(panel)
    past = abs(there.height.m_as("mm")) - 150.0  # half of the target's 300 mm
    assert past > 0.0
    assert f"{past:.3g} mm past the target" in told(panel)
    panel.set("distance", "10 m")
    assert "on the target" in told(panel)
    panel.set("distance", "15 m")
    assert "note:" not in told(panel).lower()
    panel.set("mass", "1.3 g")
    slower = bl.simulate(HEAVY).muzzle_velocity
    assert f"the build is predicted to shoot {kept(slower, 'speed', 3)} with this dart" in told(panel)
    panel.set("speed", slower)
    assert "the build is predicted" not in told(panel)
    panel.reset()
    panel.set("slope", "30 deg")
    held = bl.hold(BUILD, distance="15 m", zero_distance="10 m", sight_height="40 mm", slope="30 deg")
    assert f"hold {height(held.up)}" in told(panel)
    panel.set("distance", "40 m")
    assert "before it reaches the target" in told(panel)


def test_the_trajectory_panel_refuses() -> None:
    panel = make("trajectory")
    panel.set("speed", "15 m/s")
    good = panel.result
    with pytest.raises(units.UnitError, match=r"cannot be reached.*; try a nearer"):
        panel.set("zero", "25 m")
    assert "no result" in panel.text
    assert panel.result is good
    with pytest.raises(units.UnitError, match="must be 1 m"):
        panel.set("distance", "-3 m")
    with pytest.raises(units.UnitError, match="one, or two over each other"):
        panels.trajectory_panel([BUILD, HEAVY, BUILD])
    stuck = BUILD.replace({"losses.dart_breakaway": "400 N", "losses.dart_friction": "400 N"})
    with pytest.raises(units.UnitError, match="nothing flies down range"):
        panels.trajectory_panel(stuck)


def test_two_builds_lie_over_each_other() -> None:
    panel = panels.trajectory_panel([BUILD, HEAVY])
    first, second = panel.result
    assert first.zero.flight.at("0 m").speed > second.zero.flight.at("0 m").speed
    assert panel.text.startswith("Trajectory: At 15 m, 1: ")
    assert "; 2: " in panel.text
    assert panel.verdict.startswith("At 15 m number 1, Workhorse (invented), strikes ")
    assert " At 15 m number 2, Workhorse (invented), strikes " in panel.verdict
    panel.set("distance", "35 m")
    assert panel.verdict.startswith("Number 1, Workhorse (invented), lands at ")
    named = panels.trajectory_panel({"1.0 g dart": BUILD, "1.3 g dart": HEAVY})
    assert "number 2, 1.3 g dart, strikes" in named.verdict
    assert any(line.startswith("Number 1, 1.0 g dart: It leaves at ") for line in named.lines)


def test_a_tall_target_has_no_best_zero() -> None:
    panel = make("trajectory")
    assert "without changing the hold" in told(panel)
    for name, value in {
        "zero": "1 m",
        "mass": "0.5 g",
        "drag": 1.5,
        "speed": "5 m/s",
        "height": "2 m",
    }.items():
        panel.set(name, value)
    assert panel.result[0].span is None
    assert "without changing the hold" not in told(panel)


def test_what_is_not_known_of_the_speed_is_flown_too() -> None:
    """Both ends of `predict`, zeroed by `zero` and held by `hold`; nothing where a hand set the speed."""
    panel, wind, known = make("trajectory"), make("wind"), bl.predict(BUILD)
    ends = f"the speed may be {reach(known.mean_low.m, known.mean_high.m)}. With the same zero, "
    fast = bl.zero(BUILD, known.mean_high, distance="10 m", sight_height="40 mm").flight.at("15 m")
    slow = bl.zero(BUILD, known.mean_low, distance="10 m", sight_height="40 mm").flight.last.distance
    assert slow.m_as("m") < 15.0
    assert f"{ends}it falls short at the low end, and it strikes {height(fast.height)} at" in told(panel)
    asked: dict[str, Any] = {"distance": "15 m", "zero_distance": "10 m", "sight_height": "40 mm"}
    asked["wind"] = "2 m/s from 3 o'clock"
    up = (bl.hold(BUILD, speed, **asked).up for speed in (known.mean_low, known.mean_high))
    low, high = (re.escape(height(one)) for one in up)
    assert re.search(rf"{ends}aim {low} and .* at the low end, and aim {high} and .* at the", told(wind))
    for one in (panel, wind):
        one.set("speed", "60 m/s")
        assert "the speed may be" not in told(one)
        one.reset()
    panel.set("mass", "1.3 g")
    assert "the speed may be" not in told(panel)


def test_the_wind_panel_says_where_to_aim() -> None:
    panel = make("wind")
    curve = hold_curve(BUILD, distance="15 m", zero_distance="10 m", wind="2 m/s from 3 o'clock",
                       target_speed="1.4 m/s", sight_height="40 mm")  # fmt: skip
    right, up = curve.aim
    assert f"aim {units.show(up, 'length', 3)} high, {units.show(right, 'length', 3)} right" in panel.text
    assert "to the left." in told(panel)  # the drift
    panel.set("wind", "0 m/s")
    panel.set("walk", "0 m/s")
    assert "No drift to the side." in told(panel)
    assert "walks" not in panel.sight
    panel.set("distance", "13.9 m")
    with pytest.raises(units.UnitError, match="to 12 m/s"):
        panel.set("wind", "-3 m/s")
    panel.set("speed", "20 m/s")
    with pytest.raises(units.UnitError, match="cannot be reached"):
        panel.set("distance", "40 m")


def test_a_hold_is_found_at_every_distance() -> None:
    for tenths in range(10, 400, 7):
        distance = units.quantity(0.1 * tenths, "m")
        assert bl.hold(DART, "60 m/s", distance=distance, zero_distance="10 m").time.m_as("s") > 0


def test_the_group_panel_says_what_is_computed() -> None:
    panel = make("group")
    aimed = panel.result
    assert aimed.measured is not None
    assert aimed.measured.count == len(HOLES.splitlines()) - 1
    assert f"{chance(aimed.chance.value)} hit" in panel.text
    assert "Against the prediction: across" in told(panel)
    assert panel.result.comparison.ratio["across"].value == pytest.approx(
        aimed.measured.sd_right.value / aimed.group.sd_right
    )
    speed = bl.simulate(BUILD).muzzle_velocity
    again = bl.group(BUILD, distance="10 m", speed_spread=0.015 * speed, mass_spread=0.02, drag_spread=0.05,
                     pointing="0.25 deg", draws=1000)  # fmt: skip
    assert aimed.group.sd_up.m_as("mm") == pytest.approx(again.sd_up.m_as("mm"))
    panel.set("shape", BOX)
    assert panel.result.target.half_height == pytest.approx(0.3)
    narrow = chance(panel.result.chance.value)
    panel.set("height", "50 mm")
    assert chance(panel.result.chance.value) != narrow
    panel.set("shape", ROUND)
    assert panel.result.target.is_round


def test_a_group_that_is_pointed_perfectly_is_compared_too() -> None:
    panel = panels.group_panel(BUILD, HOLES)
    panel.set("pointing", "0 deg")
    assert "across no spread is predicted" in told(panel)
    assert "no horizontal spread" in told(panel).lower()
    for name, value in {"sd": "0 m/s", "drag": 0, "mass": 0}.items():
        panel.set(name, value)
    assert "wider than predicted in every direction" in told(panel)


def test_holes_come_by_paste_by_box_and_by_button() -> None:
    panel = panels.group_panel(BUILD, "")
    assert panel.result.measured is None
    assert "Measured" not in told(panel)
    sheet = panel.children[-2].children[0]
    right, up, button = sheet.children[1].children
    right.value, up.value = 20.0, -5.0
    button.click()
    assert panel.values["holes"] == "20, -5"
    assert "One hole cannot show a spread" in told(panel)
    right.value = -30.0
    button.click()
    assert panel.result.measured.points == pytest.approx(np.array([[0.02, -0.005], [-0.03, -0.005]]))
    assert sheet.children[0].value.count("m0 -") == 2  # two crosses
    assert "onclick=" in sheet.children[0].value
    panel.set("unit", "in")
    assert panel.result.measured.points[0] == pytest.approx([20 * 0.0254, -5 * 0.0254])
    panel.set("holes", "1 cm, 2 cm\n-1 in, 0 in")
    assert panel.result.measured.points == pytest.approx(np.array([[0.01, 0.02], [-0.0254, 0.0]]))
    bad = ["abc", "5 g, 3", "12,5; 3,2", "12,5 3,2\n1,5 2,5", "1, 2\nleft, right", "1, 2, 3\n4, 5, 6"]
    for text in [*bad, "5, 5\n5, 5", "1 kg, 2 kg\n3 kg, 4 kg"]:
        with pytest.raises(ValueError, match="group"):
            panel.set("holes", text)
        assert panel.message


def test_holes_are_never_markup() -> None:
    panel = panels.group_panel(BUILD, "")
    with pytest.raises(ValueError, match="group"):
        panel.set("holes", "<script>x</script>, 1\n2, 3")
    assert "<script" not in panel.alert
    assert "<script" not in panel.children[-2].children[0].children[0].value


def test_invented_holes_are_compared_with_the_demos_own_settings_alone() -> None:
    panel = make("group")
    assert panel.result.measured is not None
    panel.set("distance", "50 ft")
    assert panel.result.measured is None
    assert "Measured" not in told(panel)
    panel.set("holes", "10, 20\n-30, 5")  # one's own
    assert panel.result.measured.count == 2
    panel.reset()
    assert panel.result.measured is not None
    own = panels.group_panel(BUILD.replace({"dart.mass": "1.1 g"}))
    assert own.values["holes"] == ""


def test_the_group_panel_knows_velocity_and_dart() -> None:
    panel = make("group")
    assert panel.box("dart.speed").label == "velocity, m/s"
    before = panel.result.group
    panel.set("dart.speed", "40 m/s")
    assert panel.result.group.cep.m != before.cep.m
    sd = 0.015 * bl.simulate(BUILD).muzzle_velocity
    slow = bl.group(BUILD, speed="40 m/s", distance="10 m", speed_spread=sd,
                    mass_spread=0.02, drag_spread=0.05, pointing="0.25 deg", draws=1000)  # fmt: skip
    assert panel.result.group.sd_up.m_as("mm") == pytest.approx(slow.sd_up.m_as("mm"))
    panel.set("dart.drag", 1.2)
    assert "At 10 m " in panel.verdict
    assert "darts in 10 hit" in panel.verdict or "nearly every dart hits" in panel.verdict
