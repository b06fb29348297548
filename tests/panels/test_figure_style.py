"""The look of pictures: margins, limits that keep still, alternative text, the quick redraw."""

from __future__ import annotations

import base64
import io
import subprocess
import sys
from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib import color_sequences
from matplotlib.colors import to_hex
from matplotlib.patheffects import withStroke
from matplotlib.text import Text
from PIL import Image

from blasterlab import units
from blasterlab.figures import lettering, stored, style


def test_margins_are_fixed_in_pixels():
    figure, axes = style.new_figure(400, 300, rows=2, columns=2, left=50, right=10, top=20, bottom=40)
    boxes = [ax.get_position() for ax in axes]
    assert boxes[0].x0 * 400 == pytest.approx(50)
    assert boxes[1].x1 * 400 == pytest.approx(390)
    assert boxes[0].y1 * 300 == pytest.approx(280)
    assert boxes[3].y0 * 300 == pytest.approx(40)
    assert boxes[0].y0 * 300 - boxes[2].y1 * 300 == pytest.approx(28)
    assert boxes[1].x0 * 400 - boxes[0].x1 * 400 == pytest.approx(60)
    assert figure.get_size_inches() * 96 == pytest.approx([400, 300])


def test_row_heights_and_a_shared_axis():
    _, axes = style.new_figure(rows=2, heights=[3, 1], share_x=True)
    assert axes[0].get_position().height == pytest.approx(3 * axes[1].get_position().height)
    axes[1].set_xlim(0, 7)
    assert axes[0].get_xlim() == (0, 7)


@pytest.mark.parametrize(
    ("old", "low", "high", "new"),
    [
        (None, 0.0, 41.0, (0.0, 50.0)),
        (None, 0.0, 50.0, (0.0, 60.0)),
        ((0.0, 50.0), 0.0, 49.0, (0.0, 50.0)),
        ((0.0, 50.0), 0.0, 51.0, (0.0, 60.0)),
        ((0.0, 50.0), 0.0, 20.0, (0.0, 25.0)),
        (None, -3.0, 8.0, (-4.0, 10.0)),
        (None, 0.0, 0.0, (0.0, 1.0)),
    ],
)
def test_limits_keep_still_while_the_data_fit(old, low, high, new):
    assert style.steady(old, low, high) == pytest.approx(new)


def test_limits_hold_the_data_whatever_they_are():
    for high in np.geomspace(1e-4, 1e5, 200):
        assert high < style.steady(None, 0.0, high)[1] <= 1.6 * high


def test_a_figure_shows_itself_with_its_caption():
    figure, _ = style.new_figure(400, 300)
    figure.caption = "45.2 m/s at 250 mm"
    data, metadata = figure._repr_mimebundle_()
    assert data["text/plain"] == "<Figure size 400x300> 45.2 m/s at 250 mm"
    assert metadata["image/png"] == {"alt": "45.2 m/s at 250 mm", "width": 400}
    picture = Image.open(io.BytesIO(base64.b64decode(data["image/png"])))
    assert picture.size == (600, 450)
    assert picture.convert("RGBA").getpixel((1, 1)) == (255, 255, 255, 255)


@pytest.mark.parametrize("notebook", [True, False])
def test_in_a_notebook_a_small_style_goes_before_the_picture(notebook, monkeypatch):
    sent = []
    shell = SimpleNamespace(kernel=None) if notebook else SimpleNamespace()
    monkeypatch.setattr("IPython.core.getipython.get_ipython", lambda: shell)
    monkeypatch.setattr("IPython.display.display", lambda data, raw: sent.append((data, raw)))
    figure, _ = style.new_figure(400, 300)
    data, _ = figure._repr_mimebundle_()
    assert data == figure.bundle()[0]
    assert set(data) == {"text/plain", "image/png"}  # what a page without styles shows
    assert sent == [({"text/html": stored.STYLE, "text/plain": ""}, True)] * notebook
    assert len(stored.STYLE) < 300


def test_colours_are_okabe_and_itos_and_never_stand_alone():
    # M. Okabe, K. Ito, Color Universal Design (2008), as matplotlib carries it under their names
    published = {to_hex(colour).upper() for colour in color_sequences["okabe_ito"]}
    used = {colour for colour, _, _ in style.CYCLE} | {style.SKY, style.YELLOW}
    assert used <= published
    assert len({str(line) for _, line, _ in style.CYCLE}) == len(style.CYCLE)
    assert len({marker for *_, marker in style.CYCLE}) == len(style.CYCLE)
    assert len({colour for colour, _, _ in style.CYCLE}) == len(style.CYCLE)


def test_the_quick_picture_is_the_drawn_one_to_the_pixel():
    figure, (ax,) = style.new_figure(301, 203)
    ax.plot([0, 1], [0, 1], color=style.VERMILION)
    figure.canvas.draw()
    drawn = np.asarray(figure.canvas.buffer_rgba())[:, :, :3]
    picture = Image.open(io.BytesIO(stored.quick_png(drawn)))
    picture.verify()
    picture = Image.open(io.BytesIO(stored.quick_png(drawn)))
    assert (picture.format, picture.mode, picture.size) == ("PNG", "RGB", (301, 203))
    assert np.array_equal(np.asarray(picture), drawn)


def test_labels_follow_the_unit_set():
    assert style.label("muzzle velocity", "speed") == "muzzle velocity, m/s"
    units.use_units("US customary")
    assert style.label("muzzle velocity", "speed") == "muzzle velocity, ft/s"
    assert style.label("drag coefficient", "number") == "drag coefficient"


def test_no_picture_touches_pyplot():
    code = "import sys, blasterlab.figures.shot; print('matplotlib.pyplot' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"


def _ink(draw):
    """Which pixels of a blank figure a drawing changes: first and last row and column, how dark in all."""
    figure, _ = style.new_figure()
    canvas = figure.canvas
    canvas.draw()
    blank = np.array(canvas.buffer_rgba())[:, :, :3].astype(int)
    draw(figure)
    change = np.abs(np.asarray(canvas.buffer_rgba())[:, :, :3].astype(int) - blank).sum(axis=2)
    rows, columns = np.nonzero(change)
    return np.array([rows.min(), rows.max(), columns.min(), columns.max()]), change.sum()


@pytest.mark.parametrize("side", ["left", "center", "right"])
@pytest.mark.parametrize("height", ["bottom", "baseline", "center", "top"])
@pytest.mark.parametrize("weight", ["normal", "bold"])
def test_quick_lettering_lies_where_matplotlib_puts_it(side, height, weight):
    """The reference is matplotlib's own text, which sets letters by fractions of a pixel."""
    for words in ("best 337 mm, 63.7 m/s", "gypsy 12 mm²", "x"):
        text = Text(0.43, 0.52, words, ha=side, va=height, fontsize=9, fontweight=weight, color="#D55E00")

        def slow(figure, text=text):
            figure.add_artist(text)
            figure.draw_artist(text)

        def quick(figure, text=text):
            text.set_transform(figure.transFigure)
            lettering.write(np.asarray(figure.canvas.buffer_rgba()), text, figure.dpi)

        wanted, dark = _ink(slow)
        found, as_dark = _ink(quick)
        assert np.abs(found - wanted)[:2].max() <= 2
        assert np.abs(found - wanted)[2:].max() <= 1 + 0.03 * (wanted[3] - wanted[2])
        assert as_dark == pytest.approx(dark, rel=0.12)


@pytest.mark.parametrize("pad", [0.0, 0.12, 0.5])
@pytest.mark.parametrize("height", ["bottom", "center", "top"])
def test_a_plain_box_lies_where_matplotlib_puts_it(pad, height):
    box = {"boxstyle": f"square,pad={pad}", "facecolor": "#3366CC", "edgecolor": "none", "alpha": 0.85}
    text = Text(0.43, 0.52, "best 337 mm", va=height, fontsize=9, color="#3366CC", bbox=box, clip_on=False)
    assert lettering.is_plain(text)

    def slow(figure):
        figure.add_artist(text)
        figure.draw_artist(text)

    def quick(figure):
        text.set_transform(figure.transFigure)
        lettering.write(np.asarray(figure.canvas.buffer_rgba()), text, figure.dpi)

    (wanted, dark), (found, as_dark) = _ink(slow), _ink(quick)
    assert np.abs(found - wanted).max() <= 2
    assert as_dark == pytest.approx(dark, rel=0.08)


def test_quick_lettering_is_cut_at_the_edges_and_leaves_out_what_is_empty():
    figure, _ = style.new_figure(120, 90)
    figure.canvas.draw()
    pixels = np.array(figure.canvas.buffer_rgba())
    for x, y in ((-0.05, 0.5), (0.98, 0.5), (0.5, -0.02), (0.5, 1.0), (3.0, 3.0)):
        lettering.write(pixels, Text(x, y, "words", transform=figure.transFigure), figure.dpi)
    before = pixels.copy()
    lettering.write(pixels, Text(0.5, 0.5, "", transform=figure.transFigure), figure.dpi)
    lettering.write(pixels, Text(0.5, 0.5, "hidden", transform=figure.transFigure, visible=False), 96.0)
    assert (pixels == before).all()
    assert (pixels[:, :, 3] == 255).all()


@pytest.mark.parametrize(
    ("words", "more"),
    [
        ("two\nlines", {}),
        ("a", {"rotation": 30}),
        ("a", {"alpha": 0.5}),
        ("a", {"clip_on": True}),
        ("a", {"va": "center_baseline"}),
        ("a", {"bbox": {"facecolor": "w"}}),
        ("a", {"path_effects": [withStroke(linewidth=2)]}),
    ],
)
def test_other_text_is_left_to_matplotlib(words, more):
    assert not lettering.is_plain(Text(0, 0, words, **({"clip_on": False} | more)))
    assert lettering.is_plain(Text(0, 0, "a", clip_on=False))


@pytest.mark.parametrize("words", ["$x$", r"$\frac{$", r"\$"])
def test_a_dollar_sign_starts_no_mathematics(words):
    """As it stands in a picture that follows a slider (`lettering`), and in one that matplotlib draws."""
    assert lettering.is_plain(Text(0, 0, words, clip_on=False))
    figure, (ax,) = style.new_figure(400, 300)
    text, bare = (ax.text(0.5, 0.5, each) for each in (words, words.replace("$", "")))
    style.png(figure)
    assert text.get_window_extent().width > bare.get_window_extent().width + 4


def test_half_a_character_is_drawn_as_a_question_mark():
    figure, (ax,) = style.new_figure(400, 300)
    text = ax.text(0.5, 0.5, "dart \ud800 é")
    style.png(figure)
    assert text.get_text() == "dart ? é"
