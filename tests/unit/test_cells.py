"""What a build, a shot and a sweep are in a cell: a short table in words, in HTML and as a DataFrame."""

from __future__ import annotations

import io
import re

import numpy as np
import pandas as pd
import pytest
from IPython.core.formatters import DisplayFormatter

import blasterlab as bl
from blasterlab import units

BUILD = bl.demo_build("workhorse")
RESULTS = {
    "build": BUILD,
    "shot": bl.simulate(BUILD),
    "sweep": bl.barrel_sweep(BUILD, "10 cm", "60 cm", points=20),
    "string": bl.demo_string(bl.demo_strings()[0]),
}


@pytest.mark.parametrize("name", RESULTS)
def test_a_bare_result_is_its_short_table_in_plain_and_in_html(name: str) -> None:
    result = RESULTS[name]
    data, _ = DisplayFormatter().format(result)
    assert data["text/plain"] == str(result) == bl.words(result)
    assert data["text/html"] == bl.html(result)
    assert "<table>" in data["text/html"]
    assert 4 <= len(str(result).splitlines()) <= 30
    assert max(map(len, str(result).splitlines())) <= 130 or name == "string"
    assert "Quantity" not in str(result)


def test_the_chosen_units_are_used() -> None:
    shot = RESULTS["shot"]
    metric = str(shot), str(BUILD), bl.html(shot)
    assert f"muzzle velocity          {units.show(shot.muzzle_velocity, 'speed')}" in metric[0]
    assert "35 mm bore, 110 mm long, 90 mm stroke" in metric[1]
    units.use_units("US customary")
    try:
        assert "ft/s" in str(shot)
        assert "m/s" not in str(shot).replace("mm/s", "").replace("ft/s", "")
        assert "1.378 in bore" in str(BUILD)
        assert bl.table(shot).unit[0] == "ft/s"
    finally:
        units.use_units("metric")


def test_a_title_is_escaped_in_html() -> None:
    hostile = BUILD.replace({"title": "<script>x</script>"})
    assert "<script>" not in bl.html(hostile)
    assert "&lt;script&gt;" in bl.html(hostile)


def test_the_lengths_of_a_printed_build_add_up() -> None:
    springs = bl.demo_build("two_springs")
    lines = [line for line in str(springs).splitlines() if "lengths" in line]
    for line, spring in zip(lines, springs.springs, strict=True):
        catch = re.search(r"([\d.]+) mm at the catch", line)
        assert catch
        squeeze = spring.preload + springs.chamber.stroke - spring.gap
        assert float(catch[1]) == pytest.approx((spring.free_length - squeeze).m_as("mm"), abs=0.1)


def test_every_table_comes_out_as_a_frame_and_as_csv() -> None:
    for result in RESULTS.values():
        table = bl.table(result)
        again = pd.read_csv(io.StringIO(table.to_csv(index=False)))
        assert list(again.columns) == list(table.columns)
        assert len(again) == len(table) > 3
    values = bl.table(BUILD).set_index("name")
    assert values.value["chamber.bore"] == pytest.approx(35.0)
    assert values.unit["chamber.bore"] == "mm"
    shot = bl.table(RESULTS["shot"]).set_index("name")
    assert shot.value["muzzle velocity"] == pytest.approx(RESULTS["shot"].muzzle_velocity.m_as("m/s"))
    assert np.array_equal(bl.table(RESULTS["sweep"]).muzzle_velocity_m_s, RESULTS["sweep"].velocities)
    with pytest.raises(TypeError, match="has no table"):
        bl.table(3)
    with pytest.raises(TypeError, match="has no words"):
        bl.words(3)
