"""The search panel: wants in boxes, a search at the button alone, a stop, and a candidate on the bench."""

from __future__ import annotations

import re
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import panels, units
from blasterlab.bench import kept
from blasterlab.panels import behind, search
from blasterlab.panels.base import Panel
from blasterlab.parts.loss_uncertainty import LossUncertainty
from blasterlab.plan import shooting
from blasterlab.plan.order import Order, read_lists
from blasterlab.plan.stock import StockError
from blasterlab.report import numbers
from blasterlab.report.plan import candidate

COSTS = "price [EUR],lead time [days]"
SPRINGS = f"""name,wire diameter [mm],outer diameter [mm],free length [mm],active coils,{COSTS}
middle,1.5,16,200,26,4,5
thin,1.4,15,200,26,3,5
bent,1.5,16,long,26,4,5
"""
BARRELS = f"name,bore [mm],length [cm],{COSTS}\nB,12.9,30,5,3\n"
TUBES = f"name,outer diameter [mm],inner diameter [mm],length [mm],{COSTS}\nT,39,35,250,9,5\n"


@pytest.fixture
def calls(monkeypatch: pytest.MonkeyPatch) -> list[bl.Wants]:
    """The wants of every search that was started."""
    found: list[bl.Wants] = []

    def counted(stock: Any, wants: bl.Wants, build: bl.Build, **more: Any) -> Any:
        found.append(wants)
        return bl.plan_build(stock, wants, build, **more)

    monkeypatch.setattr(search, "plan_build", counted)
    return found


def small(build: bl.Build | None = None) -> Panel[Order]:
    """A panel with few parts on sale."""
    panel = panels.search_panel(build)
    for name, text in {"spring": SPRINGS, "tube": TUBES, "barrel": BARRELS, "ring": "", "dart": ""}.items():
        panel.set(name, text)
    panel.set("aim", "at least")
    panel.set("speed", "40 m/s")
    panel.set("velocity_cap", "60 m/s")
    return panel


@pytest.mark.parametrize("chosen", ["metric", "mm and ft/s"])
def test_before_a_search_the_picture_holds_the_build_and_the_limits(chosen: str) -> None:
    units.use_units(chosen)
    build = bl.demo_build("workhorse").replace({"spring.wire_diameter": "1.8 mm"})
    panel = panels.search_panel(build)
    assert build.prime.peak_force.m_as("N") > 80.0  # past the greatest pull
    ax = panel.views[0].figure.axes[0]
    ((x,), (y,)) = ax.lines[4].get_data()
    assert x == pytest.approx(build.prime.peak_force.m_as("N"))
    assert x < ax.get_xlim()[1]
    cap = units.quantity(52.0, "m/s").m_as("m/s" if chosen == "metric" else "ft/s")
    assert max(y, cap) < ax.get_ylim()[1]


def test_it_searches_at_the_button_alone_and_finds_what_the_code_finds(calls: list[bl.Wants]) -> None:
    panel = small()
    assert calls == []
    assert panel.text == "Parts to order: not searched yet; your build as it is: 63.12 m/s"
    assert panel.verdict.startswith("Press Search")
    assert "Not read: springs, line 4: free_length: got 'long'" in panel.lines[-1]
    assert len(panel.pictures) == 1
    panel.press("Search")
    assert len(calls) == 1
    stock = bl.Stock.read(SPRINGS) + bl.Stock.read(TUBES) + bl.Stock.read(BARRELS)
    wants = bl.Wants(least="40 m/s", velocity_cap="60 m/s", prime_force="80 N", owned="dart")
    same = bl.plan_build(stock, wants, bl.demo_build("workhorse"))
    plan = panel.result.plan
    assert plan is not None
    assert plan.table.equals(same.table)
    assert bl.report.table(panel.result).equals(same.table)
    row = same.table.iloc[0]
    speed = numbers.kept(row["muzzle_velocity_m_s"], "speed")
    assert panel.verdict.startswith(
        f"{len(same.order)} of {len(same)} combinations meet all requirements; order: spring "
    )
    assert f"{row['spring']} " in panel.verdict
    length = units.show(row["barrel_length_m"], "length")
    barrel = f"cut to {length}" if row["barrel_length_m"] < 0.299 else f"as it is ({length})"
    assert f"barrel B {barrel}, your dart; {speed}, " in panel.verdict
    assert f"candidate 1: {speed}, pull " in panel.text
    assert any(line.startswith("Of the rest, ") for line in panel.lines)
    assert row["chance"] > 0.5
    assert panel.verdict.endswith(
        f"; {numbers.chance(row['chance'])} likely to meet them all before any chronograph."
    )
    assert any("type a name (a used one gets a number)" in line for line in panel.lines)
    assert panel.sight.count("<tr>") == 1 + min(len(same.order), 5)
    figure = panel.views[0].figure
    legend = figure.axes[0].get_legend()
    assert legend.get_window_extent(figure.canvas.get_renderer()).x1 < figure.bbox.x1
    assert legend.legend_handles[0].get_markersize() > 5  # though thousands of dots are small and faint
    assert legend.legend_handles[0].get_alpha() is None
    star, refused = panel.views[0]._points[3].get_data(), panel.views[0]._points[0].get_data()
    assert star == ([row["prime_force_N"]], [row["muzzle_velocity_m_s"]])
    assert len(refused[0]) == len(same) - len(same.order)


def test_what_is_unlikely_to_meet_all_is_no_order() -> None:
    panel = small()
    panel.set("speed", "55 m/s")
    panel.press("Search")
    plan = panel.result.plan
    assert plan is not None
    best, second = plan.table["chance"][:2]
    assert 0.0 < second < best < 0.5
    for number, said, p in ((1, "nearest: spring ", best), (2, "candidate 2: spring ", second)):
        panel.set("candidate", number)
        assert f"combinations meet all requirements; {said}" in panel.verdict
        assert "order:" not in panel.verdict
        assert panel.verdict.endswith(
            f"; {numbers.chance(p)} likely to meet them all before any chronograph: measure your build first."
        )
        assert len(panel.verdict) < 300


@pytest.mark.parametrize(("want", "cap"), [("60 m/s", "60 m/s"), ("130 m/s", "0 m/s")])
def test_a_miss_keeps_its_unit_where_the_line_is_cut(want: str, cap: str) -> None:
    panel = small()
    panel.set("velocity_cap", "0 m/s")
    panel.set("speed", want)
    panel.set("velocity_cap", cap)
    panel.press("Search")
    for chosen in units.UNIT_SETS:
        panel.units = chosen
        plan = panel.result.plan
        assert plan is not None
        assert plan.hardest is not None
        assert panel.text.endswith(f" misses it by {numbers.kept(plan.hardest[1], 'speed', 3)}")
        whole = next(line for line in str(plan).splitlines() if line.startswith("the hardest"))
        assert whole in panel.lines


def test_changed_wants_wait_for_the_button_and_undo_brings_the_found_back(calls: list[bl.Wants]) -> None:
    panel = small()
    panel.press("Search")
    found = panel.text
    panel.set("speed", "45 m/s")
    assert "not searched yet" in panel.text
    assert "not searched yet" in panel.views[0].figure.axes[0].get_title(loc="left")
    panel.press("Undo")
    assert panel.text == found
    panel.press("Redo")
    panel.press("Search")
    assert panel.text != found
    assert [wants.least for wants in calls] == [units.quantity(v, "m/s") for v in (40.0, 45.0)]
    panel.units = "US customary"
    assert " ft/s, pull " in panel.text


def test_another_candidate_is_chosen_and_goes_to_the_bench_once_it_is_started_from(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    panel = small()
    panel.press("Search")
    plan = panel.result.plan
    assert plan is not None
    panel.set("candidate", 2)
    assert f"candidate 2: {numbers.kept(plan.table['muzzle_velocity_m_s'][1], 'speed')}" in panel.text
    assert panel.result.build == plan.candidate(1)
    assert panel.result.shot.muzzle_velocity.m == plan.table["muzzle_velocity_m_s"][1]
    panel.save("Ordered")
    assert bl.my_builds.load("Ordered") == plan.candidate(1)
    assert panel.result.plan is plan  # the same search is still in sight
    assert panel._bench.whose.value == (
        "Saved as Ordered. Panels still start from demo build workhorse (invented); "
        "to work on the new one, choose it under “start from”."
    )
    other = panels.barrel_panel()
    assert (bl.my_builds.chosen(), other.result.shot.build) == ("", bl.demo_build("workhorse"))
    other.start_from("Ordered")
    assert bl.my_builds.current() == other.result.shot.build == plan.candidate(1)
    with pytest.raises(ValueError, match=rf"candidate: got 99; must be 1 to {len(plan.order)}"):
        panel.set("candidate", 99)


def test_a_candidate_under_a_used_name_never_replaces_a_build(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(kept.VARIABLE, str(tmp_path))
    bl.my_builds.save("Garage 3", bl.demo_build("workhorse"))
    bl.my_builds.save("Garage 4", bl.demo_build("apprentice"))
    panel = small()
    assert "changed, not saved" not in panel.children[0].value
    panel.press("Search")
    assert "your build Garage 3, saved " not in panel.children[0].value  # the last one saved is on the bench
    assert panel.children[0].value.endswith("; changed, not saved")
    plan = panel.result.plan
    assert plan is not None
    panel.press("Save build")  # the name of what it started from stands in the box
    assert panel.message == ""
    assert bl.my_builds.names() == ["Garage 3", "Garage 4", "Garage 4 (2)"]
    assert bl.my_builds.current() == bl.my_builds.load("Garage 4") == bl.demo_build("apprentice")
    assert bl.my_builds.load("Garage 4 (2)") == plan.candidate(0)
    assert "Garage 4 (2)" in dict(panel._bench.start.options)
    said = panel._bench.whose.value
    assert said.startswith("Saved as Garage 4 (2). Panels still start from your build Garage 4, saved ")
    assert "your build Garage 4, saved " in panel.children[0].value
    assert "changed, not saved" not in panel.children[0].value
    panel.press("Save build")  # once more: it replaces nothing
    assert bl.my_builds.load("Garage 4") == bl.demo_build("apprentice")
    panel.set("candidate", 2)
    assert panel._bench.whose.value == ""
    assert panel.children[0].value.endswith("; changed, not saved")
    panel.save("Garage 3")
    assert bl.my_builds.load("Garage 3") == bl.demo_build("workhorse")
    assert bl.my_builds.load("Garage 3 (2)") == plan.candidate(1)


def test_what_was_found_before_stop_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shooting, "CHUNK", 8)
    panel = small()
    shot, go = threading.Event(), threading.Event()
    told = behind.Behind._told

    def slow(self: Any, done: int, everything: int) -> None:
        told(self, done, everything)
        shot.set()
        assert go.wait(20.0)

    monkeypatch.setattr(behind.Behind, "_told", slow)
    begun = threading.Thread(target=panel.press, args=("Search",))
    begun.start()
    assert shot.wait(20.0)
    stop = next(each for each in panel.children[1].children if getattr(each, "description", "") == "Stop")
    stop.click()
    go.set()
    begun.join(20.0)
    plan = panel.result.plan
    assert plan is not None
    assert not plan.complete
    assert 8 <= int(np.sum(~np.isnan(plan.values["speed"]))) < len(plan)
    assert "Stopped before the end: what was found until then is kept." in panel.lines
    bar = panel.children[1].children[2]
    assert (bar.value, bar.bar_style) == (0, "")
    panel.press("Search")
    assert panel.result.plan is not None
    assert panel.result.plan.complete
    assert (bar.value, bar.max, bar.bar_style) == (1, 1, "success")


def test_wants_that_cannot_be_and_lists_that_cannot_be_read_are_named(calls: list[bl.Wants]) -> None:
    panel = small()
    with pytest.raises(ValueError, match=r"^speed cap: got 30 m/s; must be at least 40 m/s"):
        panel.set("velocity_cap", "30 m/s")
    panel.press("Search")
    assert calls == []
    assert panel.message.startswith("speed cap: got 30 m/s")
    panel.set("velocity_cap", "0 m/s")
    with pytest.raises(ValueError, match=r"barrels: .*columns that describe the part"):
        panel.set("barrel", "name,colour\nB,red")
    with pytest.raises(ValueError, match="price: got EUR and USD; must be in one currency"):
        panel.set("barrel", BARRELS.replace("EUR", "USD"))
    panel.set("barrel", "")
    panel.set("speed", "130 m/s")
    panel.press("Search")
    assert panel.verdict.startswith("None of ")
    assert "the hardest requirement is the least velocity: the nearest candidate misses it by " in panel.text
    assert panel.result.wants.owned == ("barrel", "dart")
    assert len(panel.pictures) == 1


def test_darts_and_limits_become_wants() -> None:
    panel = small()
    panel.set("dart", search.demo_list("dart"))
    panel.set("darts", search.EACH)
    assert panel.result.wants.cap_darts == ("D-light", "D-middle", "D-heavy")
    panel.set("darts", search.ANY)
    assert panel.result.wants.owned == ()
    for name, value in {"tube_diameter": "45 mm", "overall_length": "50 cm", "energy_cap": "2 J",
                        "price": 40, "lead_time": 14}.items():  # fmt: skip
        panel.set(name, value)
    limits = panel.result.wants.limits()
    assert limits == {"least": 40.0, "velocity_cap": 60.0, "prime_force": 80.0, "tube_diameter": 0.045,
                      "overall_length": 0.5, "energy_cap": 2.0, "price": 40.0, "lead_time": 14.0}  # fmt: skip
    for name, none in {"prime_force": "0 N", "price": 0, "lead_time": 0, "tube_diameter": "0 mm"}.items():
        panel.set(name, none)
    assert set(panel.result.wants.limits()) == {"least", "velocity_cap", "overall_length", "energy_cap"}


def test_nobody_sets_a_price_or_a_lead_time_at_first_and_a_share_is_in_per_cent() -> None:
    panel = panels.search_panel(bl.demo_build("workhorse"))
    assert panel.values["aim"] == "at least"
    assert not {"price", "lead_time", "target"} & set(panel.result.wants.limits())
    assert panel.values["within"] == "5 %"
    assert panel.box("within").grey
    panel.set("aim", "target")
    assert not panel.box("within").grey
    panel.set("within", "10 %")
    assert panel.result.wants.within == pytest.approx(0.1)


def test_a_barrel_of_its_full_length_is_not_cut(calls: list[bl.Wants]) -> None:
    stock = bl.Stock.read(SPRINGS) + bl.Stock.read(TUBES) + bl.Stock.read(BARRELS)
    wants = bl.Wants(least="30 m/s", owned=("dart",))
    found = bl.plan_build(stock, wants, bl.demo_build("workhorse"), coils=[0], lengths=["28 cm", "30 cm"])
    rows = found.table.set_index("barrel_length_m")["barrel_cut_off_m"]
    assert rows[0.28].to_numpy() == pytest.approx(0.02)
    assert not rows[0.30].to_numpy().any()
    said = [candidate(row, "EUR") for row in found.table.to_dict("records")]
    assert {"barrel B cut to 280 mm" in text for text in said} == {True, False}
    assert all(("barrel B as it is (300 mm)" in text) != ("barrel B cut to 280 mm" in text) for text in said)


def test_losses_learned_with_another_bore_are_said_to_change() -> None:
    spread = LossUncertainty(("seal_friction",), ("1 N",), ((1.0,),), 0.01, 9, strings=1, shots=10)
    build = replace(bl.demo_build("workhorse"), calibration=spread)
    panel = small(build)
    panel.set("barrel", BARRELS.replace("12.9", "12.8"))
    panel.press("Search")
    told = [line for line in panel.lines if line.startswith("The losses were learned with your dart")]
    bore = units.show(build.barrel.bore, "length", 4)
    assert told == [f"The losses were learned with your dart in a bore of {bore}; another bore changes them: "
                    "shoot a few and learn them again."]  # fmt: skip
    assert re.search(r"; .* % likely to meet them all with the losses you learned[.:]", panel.verdict)
    panel.set("barrel", "")  # the build's own barrel and dart
    panel.press("Search")
    assert panel.result.plan is not None
    assert len(panel.result.plan.order)
    assert not any("learned with your dart" in line for line in panel.lines)
    panel.set("dart", search.demo_list("dart").replace("D-", "E-"))
    panel.set("darts", search.ANY)
    panel.press("Search")
    assert any("in a bore of 12.9 mm; another dart changes them" in line for line in panel.lines)


@pytest.mark.parametrize(("aim", "speed", "cap"), [("at least", 46.0, 46.1), ("target", 46.0, 48.4)])
def test_what_is_wanted_and_the_cap_are_written_apart(aim: str, speed: float, cap: float) -> None:
    panel = small()
    panel.set("velocity_cap", f"{cap + 50.0} m/s")
    for name, value in {"aim": aim, "speed": f"{speed} m/s", "velocity_cap": f"{cap} m/s"}.items():
        panel.set(name, value)
    figure = panel.views[0].figure
    texts = {text.get_text(): text for text in figure.axes[0].texts}
    draw = figure.canvas.get_renderer()
    wanted, over = (texts[name].get_window_extent(draw) for name in ("shaded: wanted", "cap"))
    band = figure.axes[0].patches[0].get_extents().transformed(figure.axes[0].transData.inverted())
    assert band.y1 == pytest.approx(min(cap, 1.05 * speed if aim == "target" else cap))
    line = figure.axes[0].transData.transform((0.0, cap))[1]
    assert wanted.y1 < line < over.y0


def test_lists_are_read_from_text_and_from_files_and_each_is_named(tmp_path: Path) -> None:
    path = tmp_path / "barrels.csv"
    path.write_text(BARRELS, encoding="utf-8")
    stock, unread = read_lists({"springs": SPRINGS, "barrels": str(path), "tubes": "  "})
    assert [item.name for item in stock.items] == ["middle", "thin", "B"]
    assert len(unread) == 1
    assert unread[0].startswith("springs, line 4: free_length: got 'long'")
    with pytest.raises(StockError, match=r"tubes: .*none\.csv"):
        read_lists({"tubes": "none.csv"})
