"""Holes from a photograph: a picture that is drawn here, whose every place is known."""

from __future__ import annotations

import base64
import io

import numpy as np
import pytest
from PIL import Image, ImageDraw

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.exterior.groups import MeasuredGroup
from blasterlab.panels.photo import MOST_BYTES, Photograph, as_lines, kept_picture, read_clicks

PER_MM = 4.0  # px of the photograph
AIM = (800.0, 600.0)
HOLES = np.array([[20.0, 12.5], [-31.0, 5.0], [4.0, -44.0], [60.0, -2.0]])  # mm right, up
RULER = ((100.0, 1100.0), (100.0 + 150.0 * PER_MM, 1100.0))  # 150 mm


def photograph(kind: str = "JPEG", size=(1600, 1200), **given) -> bytes:
    """A sheet with a black dot in each hole."""
    picture = Image.new("RGB", size, "white")
    draw = ImageDraw.Draw(picture)
    for right, up in HOLES:
        x, y = AIM[0] + PER_MM * right, AIM[1] - PER_MM * up
        draw.ellipse((x - 12, y - 12, x + 12, y + 12), fill="black")
    stored = io.BytesIO()
    picture.save(stored, kind, **given)
    return stored.getvalue()


def dots(picture: Image.Image) -> list[tuple[float, float]]:
    """Centres of the dark dots, found in the pixels themselves, from left to right."""
    from scipy import ndimage

    labels, count = ndimage.label(np.asarray(picture.convert("L")) < 128)
    centres = ndimage.center_of_mass(labels > 0, labels, range(1, count + 1))
    return sorted((x + 0.5, y + 0.5) for y, x in centres)


def typed(*clicks: tuple[float, float]) -> str:
    return "\n".join(f"{x:.1f}, {y:.1f}" for x, y in clicks)


def marks(scale: float = 1000 / 1600) -> list[tuple[float, float]]:
    return [(x * scale, y * scale) for x, y in (*RULER, AIM)]


def test_holes_of_a_picture_come_out_in_millimetres_where_they_were_drawn() -> None:
    part = Photograph()
    part.load(photograph())
    picture = kept_picture(photograph())
    assert picture.size == (1000, 750)
    part.length.value = "150 mm"
    part.clicks.value = typed(*marks(), *dots(picture))
    assert part.group is not None
    found = np.array(sorted((1000 * part.group.points).tolist()))
    np.testing.assert_allclose(found, sorted(HOLES.tolist()), atol=0.25)  # a pixel is 0.4 mm
    assert part.picture.value.count("<image ") == 1
    assert "4 so far" in part.message.value
    part.length.value = "15 in"  # a wrong length is a wrong scale, nothing else
    assert sorted(part.group.points.tolist()) == pytest.approx(found / 1000 * 381.0 / 150.0)


def test_the_next_click_is_said() -> None:
    part = Photograph()
    assert "Choose a picture" in part.message.value
    part.load(photograph())
    said = []
    for count in range(4):
        part.clicks.value = typed(*marks()[:count], *[(500.0, 300.0)] * max(0, count - 3))
        said.append(part.message.value)
    assert ["one end" in said[0], "other end" in said[1], "aim" in said[2], "0 so far" in said[3]] == [
        True
    ] * 4
    assert part.button.disabled
    part.clicks.value = typed(*marks(), (500.0, 300.0), (520.0, 310.0))
    assert not part.button.disabled


@pytest.mark.parametrize("turn", [3, 6, 8])
def test_a_phone_that_lay_on_its_side_is_turned_upright(turn: int) -> None:
    upright = Image.open(io.BytesIO(photograph("PNG")))
    back = {3: Image.Transpose.ROTATE_180, 6: Image.Transpose.ROTATE_90, 8: Image.Transpose.ROTATE_270}[turn]
    noted = Image.Exif()
    noted[0x0112] = turn
    stored = io.BytesIO()
    upright.transpose(back).save(stored, "JPEG", exif=noted)
    kept = kept_picture(stored.getvalue())
    assert kept.size == (1000, 750)
    np.testing.assert_allclose(dots(kept), dots(kept_picture(photograph())), atol=0.6)
    assert not kept.getexif()


def test_what_the_camera_noted_is_not_kept() -> None:
    noted = Image.Exif()
    noted[0x010F] = "maker of the camera"
    content = photograph(exif=noted)
    assert b"maker of the camera" in content
    part = Photograph()
    part.load(content)
    assert b"maker" not in base64.b64decode(part.picture.value.split("base64,")[1].split('"')[0])


def test_transparent_is_white() -> None:
    stored = io.BytesIO()
    Image.new("RGBA", (300, 200), (0, 0, 0, 0)).save(stored, "PNG")
    assert kept_picture(stored.getvalue()).getpixel((5, 5)) == (255, 255, 255)


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"", "cannot be read"),
        (b"<svg onload=alert(1)>", "cannot be read"),
        (photograph()[:4000], "cannot be read"),
        (b"\xff\xd8\xff" + bytes(MOST_BYTES), "MB"),
        (photograph("GIF"), "cannot be read"),
    ],
)
def test_a_file_that_is_no_picture_is_said_and_changes_nothing(content: bytes, part: str) -> None:
    panel = Photograph()
    panel.load(photograph())
    panel.clicks.value = typed(*marks())
    before = panel.picture.value
    panel.load(content, "<b>holes</b>.jpg")
    assert part in panel.message.value
    assert "<b>" not in panel.message.value
    assert 'role="alert"' in panel.message.value
    assert panel.picture.value == before
    assert panel.clicks.value


def test_a_picture_of_too_many_pixels_is_refused_before_it_is_unpacked() -> None:
    stored = io.BytesIO()
    Image.new("1", (12_000, 6_000)).save(stored, "PNG")
    with pytest.raises(units.UnitError, match="12000 x 6000 pixels"):
        kept_picture(stored.getvalue())


@pytest.mark.parametrize("text", ["1", "1, 2, 3", "a, b", "-5, 3", "1e9, 2", "nan, 1", "<i>, 2"])
def test_clicks_that_are_no_pixels_are_refused_by_line(text: str) -> None:
    with pytest.raises(units.UnitError, match="clicks, line 2"):
        read_clicks("10, 20\n" + text)


@pytest.mark.parametrize(
    ("length", "clicks", "part"),
    [
        ("12 g", typed(*marks(), (1, 2), (3, 4)), "mass"),
        ("100", typed(*marks(), (1, 2), (3, 4)), "bare number"),
        ("100 mm", typed((5, 5), (5, 5), (9, 9), (1, 2), (3, 4)), "two marks are in one place"),
        ("100 mm", typed(*marks(), (1, 2), (1, 2)), "one place"),
    ],
)
def test_what_gives_no_group_is_said_and_nothing_can_be_taken(length: str, clicks: str, part: str) -> None:
    panel = Photograph()
    panel.load(photograph())
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
    head, message, _, clicks = inside.children
    clicks.value = typed(*marks(), *[(AIM[0] * 0.625 + k, AIM[1] * 0.625) for k in (-25.0, 50.0)])
    length, button = head.children[1:]
    length.value = "150 mm"
    panel.set("unit", "cm")
    button.click()
    assert panel.values["holes"].splitlines() == [
        "# from a photograph: right, up",
        "-1.00, 0.00",
        "2.00, 0.00",
    ]
    assert panel.result.aimed.measured.points == pytest.approx(np.array([[-0.01, 0.0], [0.02, 0.0]]))
    assert "2 holes now stand" in message.value
