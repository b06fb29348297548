"""The section of the power train: one scale, nothing cut off, no label on another, findings marked."""

from __future__ import annotations

from itertools import combinations

import pytest
from matplotlib.collections import EllipseCollection
from matplotlib.patches import Rectangle

import blasterlab as bl
from blasterlab import units
from blasterlab.figures.section import layout, power_train
from blasterlab.figures.style import DPI, png


def boxes(figure: object) -> list:
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    return [
        (text.get_text(), text.get_window_extent(renderer))
        for ax in figure.axes  # type: ignore[attr-defined]
        for text in ax.texts
    ]


@pytest.mark.parametrize("width", [390, 720])
@pytest.mark.parametrize("system", units.UNIT_SETS)
@pytest.mark.parametrize("name", bl.demo_builds())
def test_no_label_is_cut_off_or_lies_on_another(name: str, system: str, width: int) -> None:
    units.use_units(system)
    try:
        figure = power_train(bl.demo_build(name), width)
        found = boxes(figure)
    finally:
        units.use_units("metric")
    assert len(found) > 12
    for text, box in found:
        assert box.x0 >= 0 and box.y0 >= 0, text  # noqa: PT018
        assert box.x1 <= figure.bbox.width and box.y1 <= figure.bbox.height, text  # noqa: PT018
    for (one, a), (other, b) in combinations(found, 2):
        assert not a.shrunk(0.96, 0.9).overlaps(b.shrunk(0.96, 0.9)), (one, other)


def rectangles(ax: object) -> list[Rectangle]:
    return [patch for patch in ax.patches if isinstance(patch, Rectangle)]  # type: ignore[attr-defined]


def test_one_scale_along_and_across() -> None:
    build = bl.demo_build("workhorse")
    figure = power_train(build)
    for ax in figure.axes:
        (x0, y0), (x1, y1) = ax.transData.transform([(0.0, 0.0), (0.01, 0.01)])
        assert x1 - x0 == pytest.approx(y1 - y0, rel=1e-3)
    tube, _, *_ = rectangles(figure.axes[0])
    assert tube.get_width() == pytest.approx(build.chamber.tube_length.m_as("m"))
    assert tube.get_y() == pytest.approx(build.chamber.bore.m_as("m") / 2)
    assert figure.get_figwidth() * DPI == pytest.approx(720)


@pytest.mark.parametrize("name", bl.demo_builds())
def test_the_spring_has_its_coils_and_its_length_in_both_states(name: str) -> None:
    build = bl.demo_build(name)
    stroke = build.si["chamber.stroke"]
    rest, primed = layout(build, stroke), layout(build, 0.0)
    assert rest.back - rest.fixed == pytest.approx(
        max(spring.front_length.m_as("m") for spring in build.springs)
    )
    assert rest.face - primed.face == pytest.approx(stroke)
    assert rest.fixed == primed.fixed
    figure = power_train(build)
    wires = [c for c in figure.axes[0].collections if isinstance(c, EllipseCollection)][1:]
    assert len(wires) == len(build.springs)
    for spring, wire in zip(build.springs, wires, strict=True):
        assert len(wire.get_offsets()) == pytest.approx(2 * spring.total_coils, abs=1)


def test_a_short_barrel_is_not_broken_and_a_long_one_is() -> None:
    build = bl.demo_build("workhorse")
    short, long = build.replace({"barrel.length": "6 cm"}), build.replace({"barrel.length": "60 cm"})
    assert layout(short, 0.0).cut[1] == 0.0
    there = layout(long, 0.0)
    assert there.cut[1] > 0.3
    assert there.drawn(there.muzzle) == pytest.approx(there.muzzle - there.cut[1])
    assert there.drawn(there.tail + long.si["dart.length"]) == there.tail + long.si["dart.length"]


def test_findings_are_marked_where_they_occur() -> None:
    build = bl.demo_build("workhorse").replace({"spring.outer_diameter": "14 mm", "spring.preload": "35 mm"})
    grave = [f for f in build.check() if f.severity in ("warning", "danger")]
    assert grave
    plain, marked = boxes(power_train(build)), boxes(power_train(build, findings=build.check()))
    assert len(marked) == len(plain) + len(grave)


def test_a_hostile_title_is_text_and_the_width_is_checked() -> None:
    build = bl.demo_build("workhorse").replace({"title": r"$\frac{$ <b>&\\"})
    assert png(power_train(build))[:4] == b"\x89PNG"
    assert build.title in power_train(build).caption
    with pytest.raises(units.UnitError, match="width"):
        power_train(build, 100)
