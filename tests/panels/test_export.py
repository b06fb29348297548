"""Pictures and tables out of the kit: files from a panel's button, and pictures on a user's own axes."""

from __future__ import annotations

import base64
import io
import re

import numpy as np
import pandas as pd
import pytest
from matplotlib.figure import Figure
from PIL import Image

import blasterlab as bl
from blasterlab import figures, panels
from blasterlab.page.share import page
from blasterlab.panels.base import _widgets as every_widget
from blasterlab.panels.export import Export

BUILD = bl.demo_build("workhorse")
PANELS = {
    "barrel": (lambda: panels.barrel_panel(BUILD), 1, "barrel_length_m"),
    "build": (panels.build_panel, 1, "barrel_length_m"),
    "spring": (panels.spring_panel, 1, "force"),
    "scale": (panels.scale_panel, 1, "residual_m"),
    "chronograph": (panels.chronograph_panel, 2, "reading"),
    "trajectory": (lambda: panels.trajectory_panel(BUILD), 1, "of"),
    "wind": (lambda: panels.wind_panel(BUILD), 2, None),
}

STEM = "barrel-length-workhorse-invented"


def links(panel):
    (export,) = [each for each in every_widget(panel) if isinstance(each, Export)]
    return export.value


def saved(panel):
    """The files behind the links, by name."""
    panel.press("Save picture")
    found = re.findall(r'download="([^"]+)" style="[^"]+" href="data:([^;]+);base64,([^"]+)"', links(panel))
    return {name: (kind, base64.b64decode(data)) for name, kind, data in found}


@pytest.mark.parametrize("name", PANELS)
def test_a_panels_button_saves_its_pictures_and_its_table(name):
    make, views, column = PANELS[name]
    panel = make()
    before = panel.pictures
    files = saved(panel)
    kinds = [kind for kind, _ in files.values()]
    assert kinds.count("image/png") == kinds.count("image/svg+xml") == views
    for kind, data in files.values():
        if kind == "image/png":
            image = np.asarray(Image.open(io.BytesIO(data)).convert("L"))
            assert image.shape[1] >= 800
            assert (image < 100).mean() > 0.002  # the moving lines and words are in it
        elif kind == "image/svg+xml":
            assert data.startswith(b"<?xml")
            assert data.count(b"<path") > 20
    tables = [pd.read_csv(io.BytesIO(data)) for kind, data in files.values() if kind == "text/csv"]
    assert len(tables) == (column is not None)
    assert all(len(table) > 3 and any(column in each for each in table.columns) for table in tables)
    panel.reset()
    assert panel.pictures == before  # saving leaves no trace in what moves on
    panel.close()


def test_the_saved_file_is_of_the_values_now():
    panel = panels.barrel_panel(BUILD)
    first = saved(panel)
    ends = (".png", ".svg", ".csv", "-sheet.html", "-share.html", "-post.txt")
    assert list(first) == [f"{STEM}{end}" for end in ends]
    panel.set("dart.mass", "1.4 g")
    second = saved(panel)
    assert all(second[name] != first[name] for name in first)
    table = pd.read_csv(io.BytesIO(second[f"{STEM}.csv"][1]))
    assert table.muzzle_velocity_m_s.max() == pytest.approx(panel.result.sweep.velocities.max(), rel=1e-9)
    assert panel.text.replace("<", "&lt;") in links(panel)
    moved = panel.result.shot.build
    assert bl.Build.from_text(second[f"{STEM}-post.txt"][1].decode()) == moved
    assert second[f"{STEM}-share.html"][1].decode() == page(moved)
    assert second[f"{STEM}-sheet.html"][1].decode() == bl.build_sheet(moved)
    panel.set("cap", "150 ft/s")
    capped = saved(panel)
    assert capped[f"{STEM}-share.html"][1].decode() == page(moved, "150 ft/s")
    assert capped[f"{STEM}-sheet.html"][1].decode() == bl.build_sheet(moved, cap="150 ft/s")
    panel.close()


def test_the_files_of_two_builds_have_two_names():
    def begin(name):
        return set(saved(panels.barrel_panel(BUILD.replace({"title": name}))))

    first, other = begin("Garage 3"), begin('Garage 7 (2) "><b>')
    assert "barrel-length-garage-3-share.html" in first
    assert "barrel-length-garage-7-2-b-share.html" in other
    assert not first & other
    assert max(map(len, begin("long " * 15))) < 90


SHOT = bl.simulate(BUILD)
CHARTS = {
    "velocity_curve": (1, lambda: (bl.barrel_sweep(BUILD), SHOT)),
    "energy_ledger": (1, lambda: (SHOT,)),
    "shot_history": (3, lambda: (SHOT,)),
    "spring_diagram": (1, lambda: (bl.force_line(BUILD.spring, BUILD.chamber.stroke),)),
    "prime_curve": (1, lambda: (BUILD.prime,)),
    "power_train": (2, lambda: (BUILD,)),
    "string_chart": (1, lambda: (bl.demo_string(bl.demo_strings()[0]).summary(),)),
}


@pytest.mark.parametrize("name", CHARTS)
def test_a_picture_is_drawn_on_axes_of_ones_own(name):
    count, arguments = CHARTS[name]
    figure = Figure(figsize=(4 * (count + 1), 4))
    mine = figure.subplots(1, count + 1)
    got = figures.on(mine[:count], getattr(figures, name), *arguments())
    assert got == list(mine[:count])
    assert figure.axes == list(mine)  # no axes beside those that were given
    assert all(len(ax.get_children()) > len(mine[count].get_children()) for ax in got)
    assert len(mine[count].lines) == len(mine[count].patches) == 0
    assert figure.caption == getattr(figures, name)(*arguments()).caption
    figure.savefig(io.BytesIO(), format="png")


def test_the_number_of_axes_must_fit_and_the_next_picture_has_its_own_again():
    figure = Figure()
    with pytest.raises(ValueError, match="axes: got 2; must be 3 for this picture"):
        figures.on(figure.subplots(1, 2), figures.shot_history, SHOT)
    assert figures.energy_ledger(SHOT) is not figure
    ax, = figures.on(figure.add_subplot(), figures.energy_ledger, SHOT)  # fmt: skip
    assert ax.figure is figure
