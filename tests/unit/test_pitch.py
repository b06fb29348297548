"""Pitch behaviour: centres, margin, and what tumbling costs."""

import math

import pytest

import blasterlab as bl
from blasterlab.flight.stability import MakeUp

HEAVY = MakeUp("12.7 mm", "8 mm", "0.6 g", "28 mm", "0.4 g", nose="round")
EVEN = MakeUp("12.7 mm", "0 mm", "0 g", "72 mm", "1 g")


def test_centre_of_mass_by_hand():
    assert EVEN.centre_of_mass.m_as("mm") == pytest.approx(36.0)
    tip, body = 0.6 * 0.625 * 8, 0.4 * (8 + 14)
    assert HEAVY.centre_of_mass.m_as("mm") == pytest.approx(tip + body)
    assert HEAVY.mass.m_as("g") == pytest.approx(1.0)
    assert HEAVY.length.m_as("mm") == pytest.approx(36.0)


@pytest.mark.parametrize(
    ("nose", "at_zero", "at_right_angle"),
    [
        # Slender-body theory: lift acts at l − V/A; a cone's own is at 2/3 of its length, a half ellipsoid's
        # at 1/3 (Allen & Perkins, NACA Report 1048, 1951, with the volumes of the shapes).
        ("flat", 0.0, None),
        ("round", 1 / 3, None),
        ("cone", 2 / 3, None),
    ],
)
def test_centre_of_pressure_limits(nose, at_zero, at_right_angle):
    dart = MakeUp("12.7 mm", "12 mm", "0.5 g", "30 mm", "0.5 g", nose=nose)
    assert dart.centre_of_pressure("0 deg").m_as("mm") == pytest.approx(12 * at_zero, abs=1e-9)
    flat = MakeUp("12.7 mm", "12 mm", "0.5 g", "30 mm", "0.5 g")
    assert flat.centre_of_pressure("90 deg").m_as("mm") == pytest.approx(21.0)  # middle of its side
    if nose != "flat":
        assert dart.centre_of_pressure("90 deg").m_as("mm") > 21.0  # less side at the front


def test_centre_of_pressure_goes_back_with_the_angle():
    places = [HEAVY.centre_of_pressure(f"{a} deg").m_as("mm") for a in range(0, 91, 10)]
    assert places == sorted(set(places))


def test_margin_changes_sign_at_the_wobble_angle():
    angle = HEAVY.wobble_angle.m_as("deg")
    assert 0 < angle < 90
    assert HEAVY.static_margin(f"{angle - 1} deg") < 0 < HEAVY.static_margin(f"{angle + 1} deg")
    assert "balance at" in str(HEAVY)


def test_mass_forward_steadies():
    angles = [
        MakeUp("12.7 mm", "8 mm", f"{tip} g", "28 mm", f"{1 - tip} g").wobble_angle.m_as("deg")
        for tip in (0.5, 0.7, 0.9)
    ]
    assert angles[0] > angles[1] > angles[2]
    nose_heavy = MakeUp("12.7 mm", "20 mm", "0.99 g", "60 mm", "0.011 g", nose="cone")
    assert nose_heavy.wobble_angle is not None


def test_an_even_dart_turns_over_and_pays():
    assert EVEN.wobble_angle is None
    assert "turns over" in str(EVEN)
    assert EVEN.tumbling_drag > 3 * EVEN.drag_coefficient
    straight = bl.fly(EVEN.projectile(), "40 m/s").at("8 m").speed
    tumbling = bl.fly(EVEN.projectile(tumbling=True), "40 m/s").at("8 m").speed
    assert tumbling < 0.6 * straight


def test_drag_at_the_ends():
    assert HEAVY.drag_at("0 deg") == pytest.approx(0.7)
    flat = MakeUp("12.7 mm", "0 mm", "0.5 g", "36 mm", "0.5 g", short_body=0.6)
    side_on = 0.6 * 1.2 * 36 * 12.7 / (math.pi * 12.7**2 / 4)
    assert flat.drag_at("90 deg") == pytest.approx(side_on, rel=1e-9)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({"diameter": "1 m"}, "make_up.diameter"),
        ({"tip_length": "-1 mm"}, "make_up.tip_length"),
        ({"tip_mass": "3 mm"}, "make_up.tip_mass"),
        ({"foam_mass": "0 g"}, "make_up.foam_mass"),
        ({"foam_length": 28}, "make_up.foam_length"),
        ({"nose": "sharp"}, "make_up.nose"),
        ({"drag_coefficient": 5.0}, "make_up.drag_coefficient"),
        ({"short_body": 0.1}, "make_up.short_body"),
    ],
)
def test_refused(changes, word):
    arguments = {
        "diameter": "12.7 mm", "tip_length": "8 mm", "tip_mass": "0.6 g", "foam_length": "28 mm",
        "foam_mass": "0.4 g",
    } | changes  # fmt: skip
    with pytest.raises(bl.UnitError) as caught:
        MakeUp(**arguments)
    assert word in str(caught.value)


@pytest.mark.parametrize("angle", ["-1 deg", "91 deg", "1 m"])
def test_angles_refused(angle):
    with pytest.raises(bl.UnitError, match="angle"):
        HEAVY.static_margin(angle)
    with pytest.raises(bl.UnitError, match="angle"):
        HEAVY.drag_at(angle)
