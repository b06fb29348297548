"""The panel foundation, driven in code with a model of one line: a square cut from a sheet."""

from __future__ import annotations

import io
import threading
import time

import ipywidgets as W  # noqa: N812
import pytest
from PIL import Image

import blasterlab as bl
from blasterlab import units
from blasterlab.figures.style import label, new_figure, steady
from blasterlab.panels import base
from blasterlab.panels.base import LONGEST, Panel
from blasterlab.panels.controls import LONGEST_LABEL, Choice, Control, Paste
from blasterlab.panels.progress import progress_bar


class SquareView:
    """Area against side, with the present side marked."""

    def __init__(self):
        self.figure, (self.ax,) = new_figure(300, 200)
        (self.dot,) = self.ax.plot([], [], "o")

    def frame(self, result, old):
        return (steady(old[0] if old else None, 0.0, float(units.display(result["side"], "length"))),)

    def draw_full(self, frame):
        self.ax.set_xlim(*frame[0])
        self.ax.set_xlabel(label("side", "length"))

    def draw_live(self, result):
        self.dot.set_data([units.display(result["side"], "length")], [0.5])
        return [self.dot]


def compute(state):
    if state["side"] > 0.08:
        raise units.UnitError("side: the sheet is 80 mm wide")
    if state["grade"] == "broken":
        raise ZeroDivisionError("a fault of the kit")
    return {**state, "area": state["side"] ** 2}


def words(result):
    return [
        f"side {units.show(result['side'], 'length')}, area {units.show(result['area'], 'area')}",
        "<b>plain</b>",
    ]


def make(**changes):
    controls = [
        Control("side", "side", "length", "10 mm", "90 mm", "40 mm", "0.5 mm", "what the saw can hold"),
        Choice("grade", "grade", ["fine", "coarse", "broken"], "fine"),
        Paste("note", "note", "first line", longest=30),
    ]
    given = {
        "title": "Square",
        "controls": controls,
        "compute": compute,
        "words": words,
        "views": [SquareView()],
    }
    return Panel(**{**given, **changes})


@pytest.fixture
def panel():
    units.use_units("metric")
    panel = make()
    yield panel
    panel.close()
    units.use_units("metric")


def row(panel, name):
    return panel._rows[name]


def test_starts_with_a_result_in_words_and_a_picture(panel):
    assert panel.text == "Square: side 40 mm, area 1600 mm²"
    assert panel.values["side"].m_as("mm") == pytest.approx(40)
    assert 'alt="Square: side 40 mm' in panel._sight.value
    assert "&lt;b&gt;plain" in panel._sight.value


def test_set_takes_units_and_moves_slider_box_and_picture(panel):
    before = panel._sight.value
    panel.set("side", "2 in")
    assert panel.text == "Square: side 50.8 mm, area 2581 mm²"
    assert row(panel, "side").slider.value == 51.0
    assert row(panel, "side").entry.value == "50.8"
    assert panel._sight.value != before


def test_a_control_that_does_not_count_is_grey(panel):
    side = Control("side", "side", "length", "10 mm", "90 mm", "40 mm", "1 mm", needs=("grade", "coarse"))
    _, grade, note = panel._controls.values()
    grey = make(controls=[side, grade, note])

    def disabled():
        return {part.disabled for part in (row(grey, "side").entry, row(grey, "side").slider)}

    assert disabled() == {True}
    grey.units = "US customary"  # gives it another slider
    assert disabled() == {True}
    row(grey, "grade").entry.value = "coarse"
    assert disabled() == {False}
    grey.reset()
    assert disabled() == {True}
    assert row(panel, "side").slider.disabled is False
    grey.close()


@pytest.mark.parametrize(
    ("panel", "name", "choice", "option"),
    [
        (lambda: bl.panels.group_panel(bl.demo_build("workhorse")), "height", "shape", "rectangle"),
        (lambda: bl.panels.scale_panel(), "free_length", "free", "given below"),
    ],
    ids=["group", "scale"],
)
def test_grey_is_what_moves_nothing(panel, name, choice, option):
    panel = panel()
    told = panel._sight.value
    panel.set(name, units.quantity(0.2, "m"))
    assert row(panel, name).entry.disabled
    assert panel._sight.value == told
    panel.set(choice, option)
    told = panel._sight.value
    panel.set(name, units.quantity(0.19, "m"))
    assert not row(panel, name).entry.disabled
    assert panel._sight.value != told
    panel.close()


def test_a_move_sends_the_browser_two_messages_and_no_echo(panel, monkeypatch):
    sent = []
    monkeypatch.setattr(W.Widget, "_send", lambda self, message, buffers=None: sent.append((self, message)))
    row(panel, "side").slider.set_state({"value": 55.0})
    assert "side 55 mm" in panel.text
    assert {message["method"] for _, message in sent} == {"update"}
    assert [widget for widget, _ in sent] == [panel._sight, row(panel, "side").entry]
    assert sent[0][1]["state"]["value"].count("<img") == len(panel._pngs)


def test_slider_noise_is_rounded(panel):
    row(panel, "side").slider.value = 33.00000000000001
    assert panel.values["side"].magnitude == pytest.approx(0.033, abs=1e-15)
    assert row(panel, "side").entry.value == "33.0"


def test_a_late_report_of_a_value_that_code_has_changed_since_is_no_move(panel):
    """A notebook runs on while the browser still draws the first state, and reports its rounding of that."""
    panel.set("side", "45 mm")
    panel.reset()
    row(panel, "side").slider.value = 45.00000000000001
    assert panel.values["side"].m_as("mm") == pytest.approx(40)
    row(panel, "side").slider.value = 45.0  # no noise: a hand
    assert panel.values["side"].m_as("mm") == pytest.approx(45)


def test_a_hand_that_goes_to_and_fro_is_heard_whatever_the_noise(panel):
    for shown, side in ((46.00000000000001, 46), (47.00000000000001, 47), (46.00000000000001, 46)):
        row(panel, "side").slider.value = shown
        assert panel.values["side"].m_as("mm") == pytest.approx(side)


def test_a_value_out_of_range_is_refused_with_the_range_as_it_is_written(panel):
    with pytest.raises(units.UnitError, match=r"allowed is 10 mm to 90 mm"):
        panel.set("side", "91 mm")


def test_a_label_of_a_plain_number_may_fill_the_room():
    Control("n", "x" * LONGEST_LABEL, "number", "0", "1", "0.5", "0.1")
    with pytest.raises(units.UnitError, match="too long"):
        Control("n", "x" * (LONGEST_LABEL + 1), "number", "0", "1", "0.5", "0.1").reach  # noqa: B018


def test_a_slider_that_the_browser_snaps_does_not_move_a_value_between_two_steps(panel):
    panel.set("side", "40.3 mm")
    assert row(panel, "side").slider.value == 40.5
    row(panel, "side").slider.value = 40.50000000000001
    assert panel.values["side"].m_as("mm") == pytest.approx(40.3)
    assert row(panel, "side").entry.value == "40.3"
    row(panel, "side").slider.value = 41.0
    assert panel.values["side"].m_as("mm") == pytest.approx(41)


@pytest.mark.parametrize("typed", ["1 1/2 in", "38.1", "3.81 cm", "38.1mm"])
def test_the_box_takes_a_bare_number_in_the_unit_shown_and_any_other_unit(panel, typed):
    row(panel, "side").entry.value = typed
    assert panel.values["side"].magnitude == pytest.approx(0.0381)
    assert panel.message == ""
    assert row(panel, "side").entry.value == "38.1"


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("abc", "plain number"),
        ("12,5", "decimals with a point"),
        ("900", "10 mm to 90 mm"),
        ("5 g", "that is a mass"),
        (" ", "side: empty; type a number, 10 mm to 90 mm; computed with 40 mm"),
    ],
)
def test_a_bad_entry_is_said_in_the_message_line_and_changes_nothing(panel, typed, part):
    row(panel, "side").entry.value = typed
    assert part in panel.message
    assert part in panel._message.value
    assert "side" in panel.message
    assert panel.values["side"].magnitude == pytest.approx(0.04)
    assert "no result" in panel.text
    assert "opacity:0.35" in panel._sight.value
    row(panel, "side").entry.value = "41"
    assert panel.message == panel._message.value == ""
    assert "opacity:1" in panel._sight.value


def test_the_last_good_words_are_dimmed_and_named_as_such(panel):
    head, dim = "Not for what you typed; last good values:", '<div style="opacity:0.65">'
    assert head not in panel._sight.value
    row(panel, "side").entry.value = "abc"
    shown = panel._sight.value
    assert shown.index("<img") < shown.index(head) < shown.index(dim) < shown.index("<b>side 40 mm, area")
    row(panel, "side").entry.value = "41"
    assert head not in panel._sight.value
    assert dim not in panel._sight.value
    row(panel, "side").slider.value = 85
    assert head in panel._sight.value


def test_the_dimmed_words_can_still_be_read():
    """W3C, Web Content Accessibility Guidelines 2.2, 2023, 1.4.3: 4.5:1; words are 87 % black on white."""
    grey = 1 - 0.87 * base._DIM_WORDS
    luminance = ((grey + 0.055) / 1.055) ** 2.4
    assert 1.05 / (luminance + 0.05) >= 4.5


def two_sides():
    controls = [
        Control(name, name, "length", "10 mm", "90 mm", "40 mm", "1 mm", "the saw")
        for name in ("side", "depth")
    ]
    return make(controls=controls, compute=lambda state: compute({**state, "grade": "fine"}))


def test_an_unread_entry_is_said_until_its_own_control_gets_a_value():
    panel = two_sides()
    side, depth = row(panel, "side"), row(panel, "depth")
    side.entry.value = "12,5"
    assert panel.text.startswith("Square: no result, side: read '12,5 mm'")
    depth.slider.value = 50
    assert panel.text == "Square: side 40 mm, area 1600 mm²"
    assert "opacity:1" in panel._sight.value
    assert side.entry.value == "12,5"
    assert "decimals with a point" in panel.message
    assert panel.message.endswith("; computed with 40 mm")
    assert "computed with 40 mm" in panel._message.value
    depth.entry.value = "abc"
    assert panel.text.startswith("Square: no result, depth: ")
    assert [line.split(":")[0] for line in panel.message.splitlines()] == ["side", "depth"]
    assert panel.message.endswith("; computed with 50 mm")
    assert panel._message.value.count("<br>") == 1
    side.slider.value = 85
    assert panel.message.splitlines()[0] == "side: the sheet is 80 mm wide"
    assert [line.split(":")[0] for line in panel.message.splitlines()] == ["side", "depth"]
    side.slider.value = 41
    assert panel.text == "Square: side 41 mm, area 1681 mm²"
    assert panel.message.startswith("depth: read 'abc'")
    depth.entry.value = "51"
    assert panel.message == panel._message.value == ""
    panel.close()


@pytest.mark.parametrize("way", ["entry", "slider", "set", "reset", "units"])
def test_what_clears_an_unread_entry(way):
    panel = two_sides()
    side = row(panel, "side")
    side.entry.value = "900"
    row(panel, "depth").entry.value = "60"
    assert "side: " in panel.message
    if way == "entry":
        side.entry.value = "42"
    elif way == "slider":
        side.slider.value = 42
    elif way == "set":
        panel.set("side", "42 mm")
    elif way == "reset":
        panel.reset()
    else:
        panel.units = "US customary"
    assert panel.message == panel._message.value == ""
    assert side.entry.value != "900"
    panel.units = "metric"
    panel.close()


def test_in_code_only_the_fault_of_the_very_call_is_raised():
    panel = two_sides()
    row(panel, "side").entry.value = "12,5"
    panel.set("depth", "50 mm")
    assert panel.message.startswith("side: read '12,5 mm'")
    with pytest.raises(units.UnitError) as caught:
        panel.set("depth", "1 m")
    assert "side" not in str(caught.value)
    assert len(panel.message.splitlines()) == 2
    panel.set("depth", "51 mm")
    assert len(panel.message.splitlines()) == 1
    panel.close()


def test_an_unread_text_is_said_with_what_stands_in_for_it(panel):
    row(panel, "note").entry.value = "x" * 31
    row(panel, "side").slider.value = 50
    assert panel.message == "note: 31 characters; allowed are 30; computed with the text before it"


def test_an_impossible_combination_keeps_the_control_where_it_was_put(panel):
    row(panel, "side").slider.value = 85
    assert panel.message == "side: the sheet is 80 mm wide"
    assert panel.text == "Square: no result, side: the sheet is 80 mm wide"
    assert row(panel, "side").entry.value == "85.0"
    assert panel.result["side"] == pytest.approx(0.04)
    row(panel, "side").slider.value = 70
    assert panel.text == "Square: side 70 mm, area 4900 mm²"


def test_in_code_an_input_error_is_raised_too(panel):
    with pytest.raises(units.UnitError, match="10 mm to 90 mm"):
        panel.set("side", "1 m")
    with pytest.raises(units.UnitError, match="sheet is 80 mm"):
        panel.set("side", "85 mm")
    with pytest.raises(units.UnitError, match="bare number"):
        panel.set("side", 12)
    with pytest.raises(units.UnitError, match="side: empty; type a number"):
        panel.set("side", "")
    with pytest.raises(units.UnitError, match="no control 'width'; it has side, grade, note"):
        panel.set("width", "12 mm")
    with pytest.raises(units.UnitError, match="would do: fine, coarse"):
        panel.set("grade", "rough")
    with pytest.raises(units.UnitError, match="31 characters"):
        panel.set("note", "x" * 31)
    with pytest.raises(units.UnitError, match="text is wanted"):
        panel.set("note", 3)


def test_a_fault_of_the_kit_is_raised_and_shown(panel):
    with pytest.raises(ZeroDivisionError):
        row(panel, "grade").entry.value = "broken"
    assert "fault of the kit" in panel.message


def test_reset_brings_back_the_first_values_and_the_first_picture(panel):
    before = panel._sight.value
    panel.set("side", "80 mm")
    panel.set("grade", "coarse")
    panel.set("note", "other")
    assert panel._sight.value != before
    panel.reset()
    assert panel._sight.value == before
    assert row(panel, "side").slider.value == pytest.approx(40)
    assert row(panel, "grade").entry.value == "fine"
    assert row(panel, "note").entry.value == "first line"


def test_the_unit_set_is_one_for_all_panels(panel):
    other = make(title="Other")
    panel._unit_box.value = "US customary"
    assert other.text == "Other: side 1.575 in, area 2.48 in²"
    assert other._unit_box.value == "US customary"
    slider = row(panel, "side").slider
    assert (slider.min, slider.max, slider.step) == (0.4, 3.54, 0.02)
    assert row(panel, "side").entry.description == "side, in"
    assert "0.3937 in to 3.543 in. what the saw can hold" in row(panel, "side").entry.tooltip
    assert panel.values["side"].magnitude == pytest.approx(0.04, abs=1e-15)
    slider.value = 2.0
    assert panel.values["side"].m_as("in") == pytest.approx(2.0)
    panel.units = "metric"
    assert panel.text == "Square: side 50.8 mm, area 2581 mm²"
    other.close()
    with pytest.raises(units.UnitError, match="metric or US customary"):
        panel.units = "imperial"


def test_a_temperature_step_is_a_difference():
    controls = [Control("t", "temperature", "temperature", "-20 degC", "50 degC", "20 degC", "1 degC")]
    panel = Panel("Air", controls, lambda state: state["t"], lambda t: [units.show(t, "temperature")])
    row(panel, "t").slider.value = 21
    assert panel.text == "Air: 21 °C"
    assert row(panel, "t").slider.min == -20
    panel.close()


def test_what_a_notebook_stores(panel):
    data, metadata = panel._repr_mimebundle_()
    assert data["text/plain"] == panel.text
    assert metadata["image/png"]["alt"] == panel.text
    assert "application/vnd.jupyter.widget-view+json" in data


def test_pictures_are_opaque_rgb(panel):
    picture = Image.open(io.BytesIO(panel._pngs[0]))
    assert (picture.mode, picture.size) == ("RGB", (300, 200))
    assert picture.getpixel((2, 2)) == (255, 255, 255)


def test_background_is_drawn_again_only_when_limits_or_units_change(panel):
    painter = panel._painters[0]
    assert painter.full_draws == 1
    for side in ("39 mm", "38 mm", "41 mm"):
        panel.set("side", side)
    assert painter.full_draws == 1
    panel.set("side", "12 mm")
    assert painter.full_draws == 2
    panel.units = "US customary"
    assert painter.full_draws == 3


def test_the_quick_picture_equals_a_full_drawing(panel):
    panel.set("side", "39 mm")
    quick = panel._pngs[0]
    panel._painters[0].forget()
    panel._refresh()
    assert panel._pngs[0] == quick


def test_callbacks_from_many_threads_leave_one_consistent_panel():
    inside, overlaps = [], []

    def slow(state):
        inside.append(1)
        overlaps.append(len(inside))
        time.sleep(0.002)
        inside.pop()
        return compute(state)

    panel = make(compute=slow)
    sides = list(range(20, 60, 2))
    threads = [threading.Thread(target=setattr, args=(row(panel, "side").slider, "value", s)) for s in sides]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(overlaps) == 1
    assert len(overlaps) >= len(sides)
    assert panel.text == f"Square: {words(panel.result)[0]}"
    assert panel.values["side"].m_as("mm") in [pytest.approx(s) for s in sides]
    panel.close()


def test_bad_definitions_are_refused():
    control = Control("side", "side", "length", "10 mm", "90 mm", "95 mm", "1 mm")
    rest = [Choice("grade", "grade", ["fine"], "fine")]
    with pytest.raises(units.UnitError, match="10 mm to 90 mm"):
        make(controls=[control])
    with pytest.raises(units.UnitError, match="same name"):
        make(controls=[Choice("a", "a", ["x"], "x")] * 2)
    with pytest.raises(units.UnitError, match="is empty"):
        make(controls=[Control("side", "side", "length", "90 mm", "10 mm", "20 mm", "1 mm")])
    with pytest.raises(units.UnitError, match="too long to show"):
        make(controls=[Control("side", "side of the square sheet", "length", "1 mm", "9 mm", "2 mm", "1 mm")])
    with pytest.raises(units.UnitError, match="sheet is 80 mm"):
        make(controls=[Control("side", "side", "length", "10 mm", "90 mm", "85 mm", "1 mm"), *rest])
    with pytest.raises(RuntimeError, match="characters"):
        make(words=lambda result: ["x" * LONGEST])


def test_a_progress_bar_counts_and_has_words_for_a_saved_notebook():
    bar = progress_bar()
    table = bl.sweep(bl.demo_build("workhorse"), {"dart.mass": ["0.9 g", "1 g"]}, progress=bar)
    assert (bar.widget.value, bar.widget.max, len(table)) == (2, 2, 2)
    assert bar.widget.bar_style == "success"
    assert bar.widget._repr_mimebundle_()["text/plain"] == "a bar that counted the shots"
