"""The panel foundation, driven in code with a model of one line: a square cut from a sheet."""

from __future__ import annotations

import io
import re
import threading
import time

import ipywidgets as W  # noqa: N812
import pytest
from PIL import Image

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.figures.style import Painter, label, new_figure, steady
from blasterlab.panels import base, sight
from blasterlab.panels.base import LONGEST, Panel
from blasterlab.panels.controls import LONGEST_LABEL, Choice, Control, Paste
from blasterlab.panels.progress import progress_bar
from blasterlab.report.asked import one_line
from blasterlab.report.told import Told


class SquareView:
    """Area against side, with the present side marked."""

    def __init__(self):
        self.figure, (self.ax,) = new_figure(300, 200)
        (self.dot,) = self.ax.plot([], [], "o", gid="dot")
        self.frames = []

    def frame(self, result, old):
        return (steady(old[0] if old else None, 0.0, float(units.display(result["side"], "length"))),)

    def draw_full(self, frame):
        self.frames.append(frame)
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
    key = f"side {units.show(result['side'], 'length')}, area {units.show(result['area'], 'area')}"
    return Told(key, "It fits.", (), ("<b>plain</b>",))


CONTROLS = [
    Control("side", "side", "length", "10 mm", "90 mm", "40 mm", "0.5 mm", "what the saw can hold"),
    Choice("grade", "grade", ["fine", "coarse", "broken"], "fine"),
    Paste("note", "note", "first line", longest=30),
]


def make(**changes):
    given = {
        "title": "Square",
        "controls": CONTROLS,
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


def inside(widget, kind):
    """All widgets of a kind in a panel, in the order shown."""
    found = [widget] if isinstance(widget, kind) else []
    return found + [each for child in getattr(widget, "children", ()) for each in inside(child, kind)]


def test_starts_with_a_result_in_words_and_a_picture(panel):
    assert panel.text == "Square: side 40 mm, area 1600 mm²"
    assert panel.values["side"].m_as("mm") == pytest.approx(40)
    assert 'alt="Square: side 40 mm' in panel.sight
    assert "&lt;b&gt;plain" in panel.sight


def test_the_answer_stands_over_the_picture_and_the_rest_is_folded(panel):
    shown = panel.sight
    assert panel.verdict == "It fits."
    assert shown.index("It fits.") < shown.index("side 40 mm, area") < shown.index("<img")
    assert shown.index("<img") < shown.index('<div class="bl-rest">') < shown.index("&lt;b&gt;plain")
    told = {html.value for html in inside(panel, W.HTML)}
    assert any('<details class="bl-more"><summary>more</summary></details>' in each for each in told)
    assert any(".bl-panel:has(.bl-more[open]) .bl-rest{display:block}" in each for each in told)


def test_help_is_in_the_page_with_range_meaning_and_how_to_measure(panel):
    heads = [html.value for html in inside(panel, W.HTML) if "<label" in html.value]
    assert heads[0].startswith('<label title="10 mm to 90 mm. What the saw can hold.">side, mm</label>')
    assert 'aria-label="About side, mm">?</summary>' in heads[0]
    assert heads[0].endswith('<div class="bl-help">10 mm to 90 mm. What the saw can hold.</div>')
    assert "<details>" not in heads[1]  # a list that explains itself
    assert inside(panel, W.Text)[0].tooltip == "side, mm: 10 mm to 90 mm. What the saw can hold."
    assert {text.description for text in inside(panel, W.Text)} == {""}  # else the tooltip never shows
    breakaway = Control("losses.dart_breakaway", "breakaway", "force", "0 N", "9 N", "3 N", "0.1 N", "first")
    measured = make(controls=[breakaway, *CONTROLS])
    assert "0 N to 9 N. First. Pull a seated dart with a scale." in measured.box("losses.dart_breakaway").tip
    measured.close()


def test_what_was_typed_is_echoed_until_the_value_is_another(panel):
    def said():
        return next(html.value for html in inside(panel, W.HTML) if "<label" in html.value)

    panel.type("side", "1 1/2 in")
    assert "side, mm<small>= 1 1/2 in</small></label>" in said()
    panel.type("side", "40")
    assert "<small>" not in said()
    panel.type("side", "2 <in")
    assert "<in" not in said()


def test_rows_of_one_fold_open_together():
    depth = Control("depth", "depth", "length", "10 mm", "90 mm", "40 mm", "1 mm", fold="Sheet")
    folded = make(controls=[CONTROLS[0], depth, *CONTROLS[1:]])
    box = inside(folded, W.Accordion)
    assert [(each.titles, each.selected_index) for each in box] == [(("Sheet",), None)]
    assert inside(box[0], W.Text)[0].value == "40"
    folded.set("depth", "2 cm")
    assert inside(box[0], W.Text)[0].value == "20"
    folded.close()


def test_a_slider_gets_the_quick_result_and_the_finished_one_when_it_rests(monkeypatch):
    def finish(result):
        return {**result, "side": 0.077}

    monkeypatch.setattr(base, "REST", 60.0)
    slow = make(finish=finish)
    assert slow.text.startswith("Square: side 77 mm, area 1600 mm²")
    slow.slide("side", 50)
    assert slow.text == "Square: side 50 mm, area 2500 mm²"
    slow.rest()
    assert slow.text == "Square: side 77 mm, area 2500 mm²"
    slow.slide("side", 51)
    slow.type("side", "52")
    assert slow.text.startswith("Square: side 77 mm")
    slow.slide("side", 85)  # no result: nothing to finish
    slow.rest()
    assert slow.text == "Square: no result, side: the sheet is 80 mm wide"
    monkeypatch.setattr(base, "REST", 0.01)
    slow.slide("side", 53)
    for _ in range(200):
        if "side 77 mm" in slow.text:
            break
        time.sleep(0.01)
    assert slow.text == "Square: side 77 mm, area 2809 mm²"
    slow.close()


def test_set_takes_units_and_moves_slider_box_and_picture(panel):
    before = panel.sight
    panel.set("side", "2 in")
    assert panel.text == "Square: side 50.8 mm, area 2581 mm²"
    assert panel.box("side").place == 51.0
    assert panel.box("side").text == "50.8"
    assert panel.sight != before


def test_a_control_that_does_not_count_is_grey(panel):
    side = Control("side", "side", "length", "10 mm", "90 mm", "40 mm", "1 mm", needs=("grade", "coarse"))
    grey = make(controls=[side, *CONTROLS[1:]])

    def disabled():
        assert grey.box("side").grey == inside(grey, W.Text)[0].disabled
        return {part.disabled for part in (*inside(grey, W.Text), *inside(grey, W.FloatSlider))}

    assert disabled() == {True}
    grey.units = "US customary"  # gives it another slider
    assert disabled() == {True}
    grey.type("grade", "coarse")
    assert disabled() == {False}
    grey.reset()
    assert disabled() == {True}
    assert panel.box("side").grey is False
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
    told = panel.sight
    panel.set(name, units.quantity(0.2, "m"))
    assert panel.box(name).grey
    assert panel.sight == told
    panel.set(choice, option)
    told = panel.sight
    panel.set(name, units.quantity(0.19, "m"))
    assert not panel.box(name).grey
    assert panel.sight != told
    panel.close()


def test_a_move_sends_the_browser_two_messages_and_no_echo(panel, monkeypatch):
    sent = []
    monkeypatch.setattr(W.Widget, "_send", lambda self, message, buffers=None: sent.append((self, message)))
    inside(panel, W.FloatSlider)[0].set_state({"value": 55.0})
    assert "side 55 mm" in panel.text
    assert {message["method"] for _, message in sent} == {"update"}
    sight = next(each for each in inside(panel, W.HTML) if each.value == panel.sight)
    assert [widget for widget, _ in sent] == [sight, inside(panel, W.Text)[0]]
    assert sent[0][1]["state"]["value"].count("<img") == len(panel.pictures)


def test_no_move_sends_the_style_of_the_page_again():
    """The browser would lay out every panel of the notebook anew."""
    panel = panels.build_panel(bl.demo_build("workhorse").to_text())
    before = {widget: widget.value for widget in base._widgets(panel) if isinstance(widget, W.HTML)}
    assert sum("<style" in value and ".bl-grid" in value for value in before.values()) == 1
    panel.type("build", panel.box("build").text.replace('"90', '"91'))
    moved = [widget.value for widget, value in before.items() if widget.value != value]
    assert any("changed, not saved" in value for value in moved)
    assert not any("<style" in value for value in moved)


@pytest.mark.parametrize("make", [panels.chronograph_panel, panels.scale_panel, panels.search_panel])
def test_no_label_breaks_before_its_plus_or_minus(make):
    heads = [row.head.value for row in make()._rows.values() if "±" in row.control.label]
    assert heads
    assert not [head for head in heads if " ±" in head or "\u00a0±" not in head]


def test_slider_noise_is_rounded(panel):
    panel.slide("side", 33.00000000000001)
    assert panel.values["side"].magnitude == pytest.approx(0.033, abs=1e-15)
    assert panel.box("side").text == "33.0"


def test_a_late_report_of_a_value_that_code_has_changed_since_is_no_move(panel):
    """A notebook runs on while the browser still draws the first state, and reports its rounding of that."""
    panel.set("side", "45 mm")
    panel.reset()
    panel.slide("side", 45.00000000000001)
    assert panel.values["side"].m_as("mm") == pytest.approx(40)
    panel.slide("side", 45.0)  # no noise: a hand
    assert panel.values["side"].m_as("mm") == pytest.approx(45)


def test_a_hand_that_goes_to_and_fro_is_heard_whatever_the_noise(panel):
    for shown, side in ((46.00000000000001, 46), (47.00000000000001, 47), (46.00000000000001, 46)):
        panel.slide("side", shown)
        assert panel.values["side"].m_as("mm") == pytest.approx(side)


def test_a_value_out_of_range_is_refused_with_the_range_as_it_is_written(panel):
    with pytest.raises(units.UnitError, match=r"must be 10 mm to 90 mm"):
        panel.set("side", "91 mm")


def test_a_label_of_a_plain_number_may_fill_the_room():
    Control("n", "x" * LONGEST_LABEL, "number", "0", "1", "0.5", "0.1")
    with pytest.raises(units.UnitError, match="too long"):
        Control("n", "x" * (LONGEST_LABEL + 1), "number", "0", "1", "0.5", "0.1").reach  # noqa: B018


def test_a_slider_that_the_browser_snaps_does_not_move_a_value_between_two_steps(panel):
    panel.set("side", "40.3 mm")
    assert panel.box("side").place == 40.5
    panel.slide("side", 40.50000000000001)
    assert panel.values["side"].m_as("mm") == pytest.approx(40.3)
    assert panel.box("side").text == "40.3"
    panel.slide("side", 41.0)
    assert panel.values["side"].m_as("mm") == pytest.approx(41)


@pytest.mark.parametrize("typed", ["1 1/2 in", "38.1", "3.81 cm", "38.1mm"])
def test_the_box_takes_a_bare_number_in_the_unit_shown_and_any_other_unit(panel, typed):
    panel.type("side", typed)
    assert panel.values["side"].magnitude == pytest.approx(0.0381)
    assert panel.message == ""
    assert panel.box("side").text == "38.1"


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("abc", "must be a number and its unit"),
        ("12,5", "a decimal point and no comma"),
        ("900", "10 mm to 90 mm"),
        ("5 g", "this is a mass"),
        (" ", "side: empty; type a number, 10 mm to 90 mm; still using 40 mm"),
    ],
)
def test_a_bad_entry_is_said_in_the_message_line_and_changes_nothing(panel, typed, part):
    panel.type("side", typed)
    assert part in panel.message
    assert part in panel.alert
    assert "side" in panel.message
    assert panel.values["side"].magnitude == pytest.approx(0.04)
    assert "no result" in panel.text
    assert "opacity:0.35" in panel.sight
    panel.type("side", "41")
    assert panel.message == panel.alert == ""
    assert "opacity:1" in panel.sight


def test_the_last_good_words_are_dimmed_and_named_as_such(panel):
    head, dim = "Showing the last valid result:", '<div style="opacity:0.65">'
    assert head not in panel.sight
    panel.type("side", "abc")
    shown = panel.sight
    assert shown.index(head) < shown.index(dim) < shown.index("<div>side 40 mm, area") < shown.index("<img")
    panel.type("side", "41")
    assert head not in panel.sight
    assert dim not in panel.sight
    panel.slide("side", 85)
    assert head in panel.sight


def test_the_dimmed_words_can_still_be_read():
    """W3C, Web Content Accessibility Guidelines 2.2, 2023, 1.4.3: 4.5:1; words are 87 % black on white."""
    grey = 1 - 0.87 * sight.DIM_WORDS
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
    panel.type("side", "12,5")
    assert panel.text.startswith("Square: no result, side: got '12,5 mm'")
    panel.slide("depth", 50)
    assert panel.text == "Square: side 40 mm, area 1600 mm²"
    assert "opacity:1" in panel.sight
    assert panel.box("side").text == "12,5"
    assert "a decimal point and no comma" in panel.message
    assert panel.message.endswith("; still using 40 mm")
    assert "still using 40 mm" in panel.alert
    panel.type("depth", "abc")
    assert panel.text.startswith("Square: no result, depth: ")
    assert [line.split(":")[0] for line in panel.message.splitlines()] == ["side", "depth"]
    assert panel.message.endswith("; still using 50 mm")
    assert panel.alert.count("<br>") == 1
    panel.slide("side", 85)
    assert panel.message.splitlines()[0] == "side: the sheet is 80 mm wide"
    assert [line.split(":")[0] for line in panel.message.splitlines()] == ["side", "depth"]
    panel.slide("side", 41)
    assert panel.text == "Square: side 41 mm, area 1681 mm²"
    assert panel.message.startswith("depth: got 'abc'")
    panel.type("depth", "51")
    assert panel.message == panel.alert == ""
    panel.close()


@pytest.mark.parametrize("way", ["entry", "slider", "set", "reset", "units"])
def test_what_clears_an_unread_entry(way):
    panel = two_sides()
    panel.type("side", "900")
    panel.type("depth", "60")
    assert "side: " in panel.message
    if way == "entry":
        panel.type("side", "42")
    elif way == "slider":
        panel.slide("side", 42)
    elif way == "set":
        panel.set("side", "42 mm")
    elif way == "reset":
        panel.reset()
    else:
        panel.units = "US customary"
    assert panel.message == panel.alert == ""
    assert panel.box("side").text != "900"
    panel.units = "metric"
    panel.close()


def test_in_code_only_the_fault_of_the_very_call_is_raised():
    panel = two_sides()
    panel.type("side", "12,5")
    panel.set("depth", "50 mm")
    assert panel.message.startswith("side: got '12,5 mm'")
    with pytest.raises(units.UnitError) as caught:
        panel.set("depth", "1 m")
    assert "side" not in str(caught.value)
    assert len(panel.message.splitlines()) == 2
    panel.set("depth", "51 mm")
    assert len(panel.message.splitlines()) == 1
    panel.close()


def test_an_unread_text_is_said_with_what_stands_in_for_it(panel):
    panel.type("note", "x" * 31)
    panel.slide("side", 50)
    assert panel.message == "note: got 31 characters; must be at most 30; still using the text from before"


def test_an_impossible_combination_keeps_the_control_where_it_was_put(panel):
    panel.slide("side", 85)
    assert panel.message == "side: the sheet is 80 mm wide"
    assert panel.text == "Square: no result, side: the sheet is 80 mm wide"
    assert panel.box("side").text == "85.0"
    assert panel.result["side"] == pytest.approx(0.04)
    panel.slide("side", 70)
    assert panel.text == "Square: side 70 mm, area 4900 mm²"


def test_in_code_an_input_error_is_raised_too(panel):
    with pytest.raises(units.UnitError, match="10 mm to 90 mm"):
        panel.set("side", "1 m")
    with pytest.raises(units.UnitError, match="sheet is 80 mm"):
        panel.set("side", "85 mm")
    with pytest.raises(units.UnitError, match="has no unit"):
        panel.set("side", 12)
    with pytest.raises(units.UnitError, match="side: empty; type a number"):
        panel.set("side", "")
    with pytest.raises(units.UnitError, match="no control 'width'; it has side, grade, note"):
        panel.set("width", "12 mm")
    with pytest.raises(units.UnitError, match="must be one of fine, coarse"):
        panel.set("grade", "rough")
    with pytest.raises(units.UnitError, match="31 characters"):
        panel.set("note", "x" * 31)
    with pytest.raises(units.UnitError, match="got 3; must be text"):
        panel.set("note", 3)


def test_a_fault_of_the_kit_is_raised_and_shown(panel):
    with pytest.raises(ZeroDivisionError):
        panel.type("grade", "broken")
    assert "this is a bug in the kit" in panel.message


def test_reset_brings_back_the_first_values_and_the_first_picture(panel):
    before = panel.sight
    panel.set("side", "80 mm")
    panel.set("grade", "coarse")
    panel.set("note", "other")
    assert panel.sight != before
    panel.reset()
    assert panel.sight == before
    assert panel.box("side").place == pytest.approx(40)
    assert panel.box("grade").text == "fine"
    assert panel.box("note").text == "first line"


def test_the_unit_set_is_one_for_all_panels(panel):
    other = make(title="Other")
    panel.type("units", "US customary")
    assert other.text == "Other: side 1.575 in, area 2.48 in²"
    assert other.box("units").text == "US customary"
    assert panel.box("side").grid == (0.4, 3.54, 0.02)
    assert panel.box("side").label == "side, in"
    assert "0.3937 in to 3.543 in. What the saw can hold" in panel.box("side").tip
    assert panel.values["side"].magnitude == pytest.approx(0.04, abs=1e-15)
    panel.slide("side", 2.0)
    assert panel.values["side"].m_as("in") == pytest.approx(2.0)
    panel.units = "metric"
    assert panel.text == "Square: side 50.8 mm, area 2581 mm²"
    other.close()
    with pytest.raises(units.UnitError, match="metric or US customary"):
        panel.units = "imperial"


def test_a_temperature_step_is_a_difference():
    controls = [Control("t", "temperature", "temperature", "-20 degC", "50 degC", "20 degC", "1 degC")]
    panel = Panel("Air", controls, lambda state: state["t"], lambda t: Told(units.show(t, "temperature")))
    panel.slide("t", 21)
    assert panel.text == "Air: 21 °C"
    assert panel.box("t").grid[0] == -20
    panel.close()


def test_what_a_notebook_stores(panel):
    data, metadata = panel._repr_mimebundle_()
    assert data["text/plain"] == panel.text
    assert metadata["image/png"]["alt"] == panel.text
    assert "application/vnd.jupyter.widget-view+json" in data


def test_pictures_are_opaque_rgb(panel):
    picture = Image.open(io.BytesIO(panel.pictures[0]))
    assert (picture.mode, picture.size) == ("RGB", (300, 200))
    assert picture.getpixel((2, 2)) == (255, 255, 255)


def test_background_is_drawn_again_only_when_limits_or_units_change(panel):
    drawn = panel.views[0].frames
    assert len(drawn) == 1
    for side in ("39 mm", "38 mm", "41 mm"):
        panel.set("side", side)
    assert len(drawn) == 1
    panel.set("side", "12 mm")
    assert len(drawn) == 2
    panel.units = "US customary"
    assert len(drawn) == 3


def test_the_quick_picture_equals_a_full_drawing(panel):
    panel.set("side", "39 mm")
    assert Painter(SquareView()).png(panel.result) == panel.pictures[0]


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
    threads = [threading.Thread(target=panel.slide, args=("side", s)) for s in sides]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert max(overlaps) == 1
    assert len(overlaps) >= len(sides)
    assert panel.text == f"Square: {words(panel.result).key}"
    assert panel.values["side"].m_as("mm") in [pytest.approx(s) for s in sides]
    panel.close()


def test_buttons_lines_and_artists_are_reached_by_their_names(panel):
    assert panel.lines == ["side 40 mm, area 1600 mm²", "It fits.", "<b>plain</b>"]
    dot = panel.views[0].figure.artist("dot")
    panel.slide("side", 50)
    assert dot.get_xdata() == [50]
    assert panel.lines[0] == "side 50 mm, area 2500 mm²"
    panel.press("Reset")
    assert dot.get_xdata() == [40]
    with pytest.raises(units.UnitError, match="no button 'Launch'; it has Undo, Redo, Reset"):
        panel.press("Launch")
    with pytest.raises(units.UnitError, match="no control 'width'; it has side"):
        panel.type("width", "3")
    with pytest.raises(KeyError, match="bar; named are dot"):
        panel.views[0].figure.artist("bar")


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


def test_a_line_of_numbers_that_is_too_long_is_cut_between_words():
    line = make(words=lambda result: Told("mine and yours\n" * LONGEST)).text
    assert line.endswith((" and …", " yours …", " mine …"))
    assert LONGEST - 12 <= len(line) <= LONGEST


@pytest.mark.parametrize("said", ["is 0.549 m/s, 12 of", "is +0.5 m/s", "90 % is", "12 to 14 mm, 3 cm³ is "])
def test_a_line_is_never_cut_between_a_number_and_its_unit(said):
    for lead in range(LONGEST - 50, LONGEST):
        line = one_line(f"{'x' * lead} {said} {'y' * LONGEST}", LONGEST)
        assert len(line) <= LONGEST
        assert not re.search(r"\d ?…$", line), line
    long = Told(f"{'x' * (LONGEST - 20)} is 0.549 m/s and {'y' * LONGEST}")
    assert make(words=lambda result: long).text.endswith("x is …")


def test_a_progress_bar_counts_and_has_words_for_a_saved_notebook():
    bar = progress_bar()
    table = bl.sweep(bl.demo_build("workhorse"), {"dart.mass": ["0.9 g", "1 g"]}, progress=bar)
    assert (bar.widget.value, bar.widget.max, len(table)) == (2, 2, 2)
    assert bar.widget.bar_style == "success"
    assert bar.widget._repr_mimebundle_()["text/plain"] == "a bar that counted the shots"
