"""The chronograph pictures and panel: what is drawn and said is what was computed."""

from __future__ import annotations

import io
import re
from functools import cache
from itertools import product
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from matplotlib.path import Path
from matplotlib.text import Text
from PIL import Image

import blasterlab as bl
from blasterlab import figures, panels, units
from blasterlab.bench.cap_chance import chance_any, chance_limits
from blasterlab.bench.cap_curve import cap_curve
from blasterlab.bench.statistics import mean_sd
from blasterlab.figures.chronograph import CapView, StringView
from blasterlab.figures.style import DPI
from blasterlab.panels.base import LONGEST
from blasterlab.panels.chronograph import ERRORS, StringResult, chronograph_panel, string_words
from blasterlab.report.numbers import chance as percent
from blasterlab.report.numbers import kept

SETTLING = bl.demo_string("workhorse_settling")
STRING = bl.demo_string("workhorse_wire_15")


def result(string: bl.ChronoString = SETTLING, cap: str = "57 m/s", shots: int = 10) -> StringResult:
    return StringResult(string.summary(next_shots=shots), cap_curve(string, cap, shots))


def drawn(view: StringView | CapView, what: object) -> None:
    view.draw_full(view.frame(what, None))
    view.draw_live(what)


@pytest.mark.parametrize("error", [0.0, 0.01])
def test_the_curve_is_the_risk_at_other_means(error: float) -> None:
    screens = bl.Chronograph.within(error) if error else None
    curve = cap_curve(STRING, "57.5 m/s", 8, chronograph=screens, level=0.9)
    mean, sd = mean_sd(STRING.speeds_si)
    common = screens.relative * 57.5 if screens else 0.0
    for place in (0, 7, 15, 24):
        margin = 57.5 - curve.means[place]
        assert curve.chance[place] == pytest.approx(chance_any(margin, sd, 12, 8, common), abs=1e-6)
        limits = 1.0 - (1.0 - np.array(chance_limits(margin, sd, 12, 0.9, common))) ** 8
        limits = min(limits[0], curve.chance[place]), max(limits[1], curve.chance[place])
        assert [curve.low[place], curve.high[place]] == pytest.approx(limits, abs=1e-6)
    assert curve.risk == STRING.cap_risk("57.5 m/s", 8, chronograph=screens, level=0.9)
    assert np.all(np.diff(curve.chance) >= -1e-12)
    four = cap_curve(bl.ChronoString.read([55.1, 54.8, 55, 54.9], unit="m/s"), "57.5 m/s", 10)
    assert np.all((four.low <= four.chance) & (four.chance <= four.high))
    assert curve.means[0] < mean < curve.means[-1]
    few = cap_curve(bl.ChronoString.read([30, 40, 50], unit="m/s"), "45 m/s", 1000, confidence=0.9999)
    assert few.risk.aim_mean is None


@pytest.mark.parametrize("chosen", units.UNIT_SETS)
def test_the_string_picture_draws_the_shots_in_the_chosen_units(chosen: str) -> None:
    units.use_units(chosen)
    view, what = StringView(), result()
    drawn(view, what)
    speeds = units.display(np.array(SETTLING.speeds_si), "speed")
    assert view.figure.artist("dots").get_xdata() == pytest.approx(list(SETTLING.numbers))
    assert view.figure.artist("dots").get_ydata() == pytest.approx(speeds)
    assert view.figure.artist("odd").get_xdata() == pytest.approx([11])
    assert view.figure.artist("odd").get_ydata() == pytest.approx([speeds[10]])
    assert view.figure.artist("cap").get_ydata() == pytest.approx([units.display(57.0, "speed")] * 2)
    assert view.figure.artist("mean").get_ydata()[0] == pytest.approx(speeds.mean())
    next_low, next_high = (
        units.display(q.m, "speed") for q in (what.summary.next_low, what.summary.next_high)
    )
    assert np.array(view.figure.artist("limits").get_ydata())[[0, 3]] == pytest.approx([next_low, next_high])
    band = view.figure.artist("band").get_window_extent()
    assert band.y0 == pytest.approx(view.ax.transData.transform((0, next_low))[1], abs=0.5)
    slope = what.summary.trend.slope.m_as("m/s") * units.display(1.0, "speed")
    assert np.diff(view.figure.artist("trend").get_ydata())[0] == pytest.approx(14 * slope)
    assert units.show_unit("speed") in view.ax.get_ylabel()
    few = result(bl.ChronoString.read([54.1, 54.0, 53.9, 53.8, 53.71], unit="m/s"))
    drawn(view, few)
    assert few.summary.trend.p < 0.05
    assert not view.figure.artist("trend").get_visible()  # too few shots to tell a drift
    calm = result(STRING)
    drawn(view, calm)
    assert not view.figure.artist("trend").get_visible()
    assert not view.figure.artist("odd").get_visible()
    assert not view.figure.artist("odd words").get_visible()


def test_words_beside_the_lines_do_not_cover_each_other() -> None:
    for cap in ("50.3 m/s", "54.1 m/s", "54.4 m/s", "57.9 m/s", "60 m/s"):
        view = StringView()
        drawn(view, result(cap=cap))
        renderer = view.figure.canvas.get_renderer()
        names = ("mean", "low", "high", "cap", "trend")
        boxes = [view.figure.artist(f"{name} words").get_window_extent(renderer) for name in names]
        assert not any(a.overlaps(b) for i, a in enumerate(boxes) for b in boxes[:i])
        assert all(box.x1 <= view.figure.bbox.x1 for box in boxes)


OTHERS = ("90.1\n89.8\n90\n91", "30\n40\n50", "55.1\n54.8\n55\n54.9", "60.1\n60\n57\n60\n59.9\n60.2")


def test_no_words_lie_on_a_line_a_band_a_mark_or_each_other() -> None:
    count = 0
    for string in (SETTLING, STRING, *(bl.ChronoString.read(text, unit="m/s") for text in OTHERS)):
        mean, sd = mean_sd(string.speeds_si)
        for caps, (shots, confidence) in product((-20, -1, 0.5, 3, 10), ((1, 0.5), (200, 0.95))):
            cap = units.quantity(max(mean + caps * sd, 5.0), "m/s")
            curve = cap_curve(string, cap, shots, confidence=confidence)
            what = StringResult(string.summary(next_shots=shots), curve)
            for chosen, view in product(units.UNIT_SETS, (CapView(), StringView())):
                units.use_units(chosen)
                drawn(view, what)
                count += len(legible(view))
    assert count > 1000


def legible(view: StringView | CapView) -> list[Text]:
    """The words of a picture, each inside it and clear of all else."""
    ax, found = view.ax, [text for text in view.ax.texts if text.get_visible()]
    boxes = [text.get_window_extent() for text in found]
    assert not any(one.overlaps(other) for n, one in enumerate(boxes) for other in boxes[:n])
    whole = view.figure.bbox
    assert all(box.x0 >= 0 and box.x1 <= whole.x1 and box.y1 <= whole.y1 for box in boxes)
    lines = [line for line in ax.lines if line.get_visible()]
    drawn = [line.get_path() for line in lines if line.get_linestyle() != "None"]
    drawn += [area.get_paths()[0] for area in ax.collections]
    paths = [box.get_transform().transform_path(box.get_path()) for box in ax.patches]
    for at in (ax.transData.transform(path.vertices) for path in drawn):
        gaps = np.isnan(at).any(axis=1)
        paths += [Path(part[~np.isnan(part[:, 0])]) for part in np.split(at, np.flatnonzero(gaps))]
    assert len(paths) >= 3
    for box, text in zip(boxes, found, strict=True):
        assert not any(path.intersects_bbox(box, filled=False) for path in paths), text.get_text()
        for line in (line for line in lines if line.get_marker() != "None"):
            around = box.padded(0.5 * line.get_markersize() * DPI / 72.0)
            assert not any(around.contains(*at) for at in ax.transData.transform(line.get_xydata())), text
    return found


def test_the_cap_picture_marks_now_and_aim() -> None:
    view, what = CapView(), cap_curve(STRING, "57.5 m/s", 10)
    drawn(view, SimpleNamespace(curve=what))
    assert view.figure.artist("curve").get_xdata() == pytest.approx(what.means)
    assert view.figure.artist("curve").get_ydata() == pytest.approx(100 * what.chance)
    assert view.figure.artist("here").get_xdata() == pytest.approx([STRING.mean.m_as("m/s")])
    assert view.figure.artist("here").get_ydata() == pytest.approx([100 * what.risk.any_shot])
    assert view.figure.artist("aim").get_xdata() == pytest.approx([what.risk.aim_mean.m_as("m/s")])
    assert view.figure.artist("aim").get_ydata() == pytest.approx([5.0])
    assert view.figure.artist("aim words").get_text().startswith("▲ aim for 55")
    room = cap_curve(STRING, "60 m/s", 10)
    drawn(view, SimpleNamespace(curve=room))
    assert (
        view.figure.artist("aim words")
        .get_text()
        .startswith(f"▲ not above {kept(room.risk.aim_mean, 'speed')}")
    )
    drawn(view, SimpleNamespace(curve=what))
    corners = view.figure.artist("band").get_paths()[0].vertices
    assert corners[:25, 1] == pytest.approx(100 * what.low)
    few = cap_curve(bl.ChronoString.read([30, 40, 50], unit="m/s"), "45 m/s", 1000, confidence=0.9999)
    drawn(view, SimpleNamespace(curve=few))
    assert not view.figure.artist("aim").get_visible()
    assert "no mean would do" in view.figure.artist("aim words").get_text()
    assert "no mean would do" in figures.cap_chart(few).caption


def test_frames_keep_still_while_a_slider_moves() -> None:
    view = StringView()
    frame = view.frame(result(cap="57 m/s"), None)
    assert view.frame(result(cap="57.5 m/s"), frame) == frame
    assert view.frame(result(cap="80 m/s"), frame) != frame
    assert view.frame(result(STRING), frame) != frame


def test_charts_carry_their_numbers_in_words() -> None:
    caption = figures.string_chart(SETTLING.summary(), "57 m/s").caption
    assert "15 shots: mean 54.56 m/s" in caption
    assert "shot 11 odd" in caption
    assert "no odd shot" in figures.string_chart(STRING.summary()).caption
    curve = cap_curve(STRING, "60 m/s", 10)
    caption = figures.cap_chart(curve).caption
    assert f"do not go above {kept(curve.risk.aim_mean, 'speed')}" in caption
    curve = cap_curve(STRING, "57 m/s", 10)
    assert f"aim for {kept(curve.risk.aim_mean, 'speed')}" in figures.cap_chart(curve).caption
    build = bl.demo_build("workhorse")
    fit = bl.calibrate([(build, STRING)], ["dart_friction", "blowby_area"])
    chart = figures.calibration_chart(fit)
    assert "dart friction is known best" in chart.caption
    assert len(chart.axes[0].lines) == 6  # range, limits and value of two losses
    ends = chart.axes[0].lines[1].get_xdata()
    low, high = fit.table.set_index("loss").loc["dart_friction", ["low", "high"]]
    assert ends == pytest.approx([(low - 0.3) / 3.7, (high - 0.3) / 3.7], rel=1e-4)
    misses = chart.axes[1].lines[-1].get_xdata()
    assert misses == pytest.approx(fit.residuals["in_standard_uncertainties"])
    guess = fit.predict(build)
    before = bl.predict(build)
    chart = figures.prediction_chart(guess, before, STRING)
    assert f"Predicted before any chronograph {units.show(before.speed, 'speed')}" in chart.caption
    assert f"after your strings {units.show(guess.speed, 'speed')}" in chart.caption
    assert f"12 shots then had a mean of {units.show(STRING.mean, 'speed')}" in chart.caption
    spans = [line.get_xdata() for line in chart.axes[0].lines]
    assert spans[0] == pytest.approx([guess.next_low.m, guess.next_high.m])
    assert spans[2] == pytest.approx([guess.mean_low.m, guess.mean_high.m])
    assert spans[4] == pytest.approx([before.mean_low.m, before.mean_high.m])
    alone = figures.prediction_chart(guess)
    assert "before" not in alone.caption
    assert "shots" not in alone.caption


def test_the_panel_says_what_the_string_says() -> None:
    panel = chronograph_panel()
    risk = SETTLING.cap_risk("58 m/s", 10)
    assert len(panel.text) <= LONGEST
    assert f"mean {kept(SETTLING.mean, 'speed')}" in panel.text
    assert f"aim for {kept(risk.aim_mean, 'speed')}" in panel.text
    assert panel.result.curve.risk == risk
    assert "odd shots left out" in panel.sight
    starts = "58 m/s is where the panel starts: type the cap of your event."
    assert starts in panel.sight
    assert "not permission" in panel.children[2].value
    panel.set("cap", "57 m/s")
    assert starts not in panel.sight
    panel.set("next", 20)
    panel.set("confidence", "99 %")
    panel.set("error", "1 %")
    screens = bl.Chronograph.within(ERRORS["1 %"])
    expected = SETTLING.cap_risk("57 m/s", 20, confidence=0.99, chronograph=screens)
    assert panel.result.curve.risk == expected
    assert panel.result.summary.next_shots == 20
    data, _ = panel._repr_mimebundle_()
    assert data["text/plain"] == panel.text
    panel.units = "US customary"
    assert "ft/s" in panel.text


def test_the_key_line_asks_for_no_speed_and_limits_few_shots() -> None:
    panel = chronograph_panel("55.1\n54.8\n55\n54.9 m/s", "57.5 m/s")
    risk = panel.result.curve.risk
    assert panel.text == (
        "Chronograph: only 4 shots, mean 54.95 m/s, any of 10 over: 0.11 % (limit too), not above 56.82 m/s"
    )
    assert "Only 4 shots: shoot ten before you trust this." in panel.sight
    assert "aim" not in panel.text + panel.sight
    assert panel.verdict.endswith(f": keep your mean at or below {kept(risk.aim_mean, 'speed')}.")
    panel.set("shots", "\n".join(f"{v} m/s" for v in SETTLING.speeds_si))
    assert "limit" not in panel.text
    for chosen in units.UNIT_SETS:
        units.use_units(chosen)
        for text in ("90.1\n89.8\n90\n91 m/s", "30\n40\n50 m/s"):
            for cap in ("60 m/s", "91 m/s", "95 m/s", "150 m/s"):
                for shots in (1, 200):
                    string = bl.ChronoString.read(text, unit="m/s")
                    key = string_words(result(string, cap, shots)).key
                    assert len(f"Chronograph: {key}") <= LONGEST
                    now = string.cap_risk(cap, shots)
                    chance, limit = percent(now.any_shot), percent(now.any_high)
                    assert f"{chance} (limit {'too' if limit == chance else limit})" in key
    assert risk.any_high >= risk.any_shot


def test_the_panel_asks_refuses_and_lists() -> None:
    panel = chronograph_panel("250\n252\n249\nErr\n251")
    assert "1 line not read: line 4: " in panel.sight
    with pytest.raises(ValueError, match="could be ft/s or m/s"):
        panel.set("shots", "80\n81\n82")
    assert 'could be ft/s or m/s; choose it under "unit of the shots"' in panel.message
    panel.set("unit", "m/s")
    assert panel.result.summary.string.readings == (80.0, 81.0, 82.0)
    for text in ("", "80", "80\n80\n80", "PK\x03\x04", "0\n80\n81", "/etc/passwd", "setup.csv", "9" * 5000):
        with pytest.raises(ValueError, match=r"\w"):
            panel.set("shots", text)
        assert panel.message
    panel.set("shots", '"# title: <script>x</script>"\n80\n81\n83')
    assert "<script" not in panel.sight
    assert not panel.message
    assert chronograph_panel(STRING).result.summary.string == STRING


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("80\n81\n82", 'could be ft/s or m/s; choose it under "unit of the shots"'),
        ("shot;speed\n1;40,2\n2;40.3\n3;41,1", "numbers with a point; write decimals with a point"),
        ("40,2\n39,8\n40,5", "one with a decimal comma; write decimals with a point"),
        ("shot;alpha;beta\n1;80;81\n2;82;83\n3;80;82", "paste only the column of speeds"),
        ("1;80;3\n2;9;83\n3;81;4", "paste only the column of speeds"),
    ],
)
def test_messages_name_controls_and_no_arguments(text: str, words: str) -> None:
    panel = chronograph_panel()
    with pytest.raises(ValueError, match=re.escape(words)):
        panel.set("shots", text)
    assert words in panel.message
    assert not re.search(r"\w=", panel.message)


def test_a_cap_typed_in_feet_is_asked_about() -> None:
    panel = chronograph_panel()
    panel.type("cap", "190")
    assert "must be 5 m/s to 150 m/s" in panel.message
    assert "; ft/s meant? write 190 ft/s" in panel.message
    panel.type("cap", "190 ft/s")
    assert not panel.message
    assert panel.result.cap.m_as("m/s") == pytest.approx(190 * 0.3048)
    for typed in ("3", "600", "600 ft/s", "200 km/h x", "700 km/h"):
        panel.type("cap", typed)
        assert panel.message
        assert "meant" not in panel.message
    assert panel.controls["next"].label == "shots still to fire"


def test_pictures_are_pictures() -> None:
    panel = chronograph_panel()
    sizes = [Image.open(io.BytesIO(png)).size for png in panel.pictures]
    assert sizes == 2 * [(416, 286)]
    panel.set("cap", "60 m/s")
    assert panels.chronograph_panel is chronograph_panel
    words = string_words(panel.result).lines
    assert all(word.endswith(".") for word in words[1:])


def test_the_display_step_counts_in_the_panel() -> None:
    panel = chronograph_panel("250\n252\n249\n251\n254 ft/s", "258 ft/s")
    assert "All readings are whole ft/s; if the display shows no finer step" in panel.sight
    panel.set("step", "1 ft/s")
    expected = bl.ChronoString.from_text("250\n252\n249\n251\n254 ft/s").cap_risk(
        "258 ft/s", 10, chronograph=bl.Chronograph(display_step="1 ft/s")
    )
    assert panel.result.curve.risk.any_shot == pytest.approx(expected.any_shot, rel=1e-12)
    panel.set("step", "1 m/s")
    with pytest.raises(ValueError, match="display_step: got 1 m/s; must be at most"):
        panel.set("shots", "250\n251\n250\n250\n251 ft/s")


@cache
def pasted_into() -> panels.Panel:
    """One panel for all texts: a new one each time would be slow."""
    return chronograph_panel()


PASTED = some.lists(
    some.sampled_from(
        ["60.1", "60,4", "61", "1", "2", ",,", ";", "\t", "1,60.1", "2;61", "speed", "shot;speed [m/s]", "#",
         "# 1", "# title: $x$", "Average: 61", "61 m/s cold,", "\u2028", "\f", "9e9", "-1", "''", '"', "=1"]
    ),
    max_size=8,
).map("\n".join)  # fmt: skip


@settings(max_examples=60)
@given(PASTED | some.text(max_size=60))
def test_whatever_is_pasted_is_shown_or_refused_in_words(text: str) -> None:
    panel = pasted_into()
    try:
        panel.set("shots", text)
    except ValueError as refused:
        assert len(str(refused)) > 10  # noqa: PT017
        return
    assert panel.result.summary.count >= 3
    assert not panel.message
    assert len(panel.text) <= LONGEST
