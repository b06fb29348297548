"""Holes from a photograph: clicks on places that are known, in the scale of a length that is known."""

from __future__ import annotations

import base64
import io

import numpy as np
import pytest
from PIL import Image

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.panels.photo import Photograph, as_lines, kept_picture, read_clicks

PER_MM = 2.5  # px of the photograph
AIM = (500.0, 375.0)
HOLES = np.array([[20.0, 12.5], [-31.0, 5.0], [4.0, -44.0], [60.0, -2.0]])  # mm right, up
RULER = ((60.0, 700.0), (60.0 + 150.0 * PER_MM * 0.6, 700.0 - 150.0 * PER_MM * 0.8))  # 150 mm, aslant
PLACES = [(AIM[0] + PER_MM * right, AIM[1] - PER_MM * up) for right, up in HOLES]


def handed_over(size: tuple[int, int] = (1000, 750)) -> str:
    """A photograph as the browser hands it over."""
    stored = io.BytesIO()
    Image.new("RGB", size, "white").save(stored, "JPEG")
    data = base64.b64encode(stored.getvalue()).decode()
    return f"{size[0]},{size[1]},data:image/jpeg;base64,{data}"


def loaded() -> Photograph:
    part = Photograph()
    part.kept.value = handed_over()
    return part


def typed(*clicks: tuple[float, float]) -> str:
    return "\n".join(f"{x:.1f}, {y:.1f}" for x, y in clicks)


def test_holes_come_out_in_millimetres_where_they_were_clicked() -> None:
    part = loaded()
    part.length.value = "150 mm"
    part.clicks.value = typed(*RULER, AIM, *PLACES)
    assert part.group is not None
    assert 1000 * part.group.points == pytest.approx(HOLES, abs=0.05)  # the clicks are to 0.1 px
    assert part.picture.value.count("<image ") == 1
    assert "4 so far" in part.message.value
    part.length.value = "15 in"  # a wrong length is a wrong scale, nothing else
    assert 1000 * part.group.points == pytest.approx(HOLES * 381.0 / 150.0, abs=0.15)


def test_the_next_click_is_said() -> None:
    part = Photograph()
    assert "Choose a picture" in part.message.value
    part.kept.value = handed_over()
    part.clicks.value = typed(*RULER, AIM, *PLACES)
    assert "length between your two marks" in part.message.value
    assert part.button.disabled
    part.length.value = "150 mm"
    said = []
    for count in range(4):
        part.clicks.value = typed(*[*RULER, AIM][:count])
        said.append(part.message.value)
    for words, wanted in zip(said, ("one end", "other end", "point of aim", "0 so far"), strict=True):
        assert wanted in words
    part.clicks.value = typed(*RULER, AIM, PLACES[0])
    assert part.button.disabled
    part.clicks.value = typed(*RULER, AIM, *PLACES[:2])
    assert not part.button.disabled


def test_a_new_photograph_takes_the_clicks_of_the_old_one_away() -> None:
    part = loaded()
    part.clicks.value = typed(*RULER, AIM, *PLACES)
    part.kept.value = handed_over((750, 1000))
    assert part.clicks.value == ""
    assert part.group is None
    assert 'viewBox="0 0 750 1000"' in part.picture.value


@pytest.mark.parametrize(
    "text",
    [
        "? <b>holes</b>.heic",
        "1000,750,data:image/svg+xml;base64,AAAA",
        '1000,750,data:image/jpeg;base64,AAAA" onload="alert(1)',
        "0,750,data:image/jpeg;base64,AAAA",
        "99999,750,data:image/jpeg;base64,AAAA",
        "1000,750,data:image/jpeg;base64," + 5_000_000 * "A",
    ],
)
def test_what_is_no_photograph_is_said_and_changes_nothing(text: str) -> None:
    part = loaded()
    part.clicks.value = typed(*RULER)
    before = part.picture.value
    part.kept.value = text
    assert "photograph: " in part.message.value
    assert "cannot be read" in part.message.value
    assert "<b>" not in part.message.value
    assert 'role="alert"' in part.message.value
    assert len(part.message.value) < 500
    assert part.picture.value == before
    assert part.clicks.value == typed(*RULER)
    with pytest.raises(units.UnitError, match="cannot be read"):
        kept_picture(text)


@pytest.mark.parametrize("text", ["1", "1, 2, 3", "a, b", "-5, 3", "1e9, 2", "nan, 1", "<i>, 2"])
def test_clicks_that_are_no_pixels_are_refused_by_line(text: str) -> None:
    with pytest.raises(units.UnitError, match="clicks, line 2"):
        read_clicks("10, 20\n" + text)


@pytest.mark.parametrize(
    ("length", "clicks", "part"),
    [
        ("12 g", typed(*RULER, AIM, (1, 2), (3, 4)), "mass"),
        ("100", typed(*RULER, AIM, (1, 2), (3, 4)), "has no unit"),
        ("100 mm", typed((5, 5), (5, 5), (9, 9), (1, 2), (3, 4)), "two marks are in one place"),
        ("100 mm", typed(*RULER, AIM, (1, 2), (1, 2)), "one place"),
    ],
)
def test_what_gives_no_group_is_said_and_nothing_can_be_taken(length: str, clicks: str, part: str) -> None:
    panel = loaded()
    panel.length.value = length
    panel.clicks.value = clicks
    assert part in panel.message.value
    assert panel.group is None
    assert panel.button.disabled


def test_lines_read_back_as_the_same_group() -> None:
    group = MeasuredGroup.read("10.12 mm, 5 mm; -12.34 mm, 8 mm; 0 mm, -0.01 mm")
    for unit, close in (("mm", 6e-5), ("cm", 6e-5), ("in", 2e-5)):
        again = MeasuredGroup.read(as_lines(group, unit), unit)
        assert again.points == pytest.approx(group.points, abs=close)
        assert "-0.0," not in as_lines(group, unit)


def test_the_button_hands_the_holes_to_the_group_panel_in_its_unit() -> None:
    panel = panels.group_panel(bl.demo_build("workhorse"), "")
    inside = panel.children[-1].children[0]
    head, message, _, clicks, _ = inside.children
    clicks.value = typed(*RULER, AIM, *[(AIM[0] + k, AIM[1]) for k in (-25.0, 50.0)])
    length, button = head.children[1:]
    length.value = "150 mm"
    panel.set("unit", "cm")
    button.click()
    assert panel.values["holes"].splitlines() == [
        "# from a photograph: right, up",
        "-1.00, 0.00",
        "2.00, 0.00",
    ]
    assert panel.result.measured.points == pytest.approx(np.array([[-0.01, 0.0], [0.02, 0.0]]))
    assert "2 holes are now in" in message.value
