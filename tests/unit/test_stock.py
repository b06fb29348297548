"""Stock: lists of parts on sale; every bad row named, the good ones kept."""

from pathlib import Path

import pytest

from blasterlab import units
from blasterlab.bench.cells import StringError
from blasterlab.plan.stock import KINDS, Stock, StockError, demo_stock

BARRELS = """# invented
name;bore [mm];length [cm];price [EUR];lead time [weeks]
B1;13,0;50;5,20;2

B2;13,0;long;4;1
B3;1/2 in;20;;
B4;13;20;cheap;1
B1;13;20;4;1
B5;13;20;4;1;9
"""


def test_demo_lists_hold_every_kind_and_say_that_they_are_invented() -> None:
    found = demo_stock()
    assert not found.unread
    assert all(found.of(kind) for kind in KINDS)
    assert found.currency == "EUR"
    for kind in KINDS:
        path = Path(__file__).parents[2] / "data" / "stock" / f"{kind}s.csv"
        assert path.read_text().startswith("# invented")


def test_good_rows_are_kept_and_each_bad_row_is_named() -> None:
    found = Stock.read(BARRELS)
    assert [item.name for item in found.items] == ["B1", "B3"]
    one, two = found.items
    assert units.si(one.values["bore"], "length") == pytest.approx(0.013)
    assert units.si(one.values["length"], "length") == pytest.approx(0.5)
    assert (one.price, one.currency, one.lead_time) == (5.2, "EUR", 14.0)
    assert units.si(two.values["bore"], "length") == pytest.approx(0.0127)
    assert (two.price, two.currency, two.lead_time) == (None, "", None)
    assert [line.number for line in found.unread] == [5, 7, 8, 9]
    for line, word in zip(found.unread, ("length", "price", "name", "cells"), strict=True):
        assert word in line.reason
    assert "not read: line 5" in str(found)


def test_a_list_is_read_from_a_file_and_lists_add_up(tmp_path: Path) -> None:
    path = tmp_path / "barrels.csv"
    path.write_text(BARRELS, encoding="utf-8")
    assert Stock.read(path).items == Stock.read(str(path)).items == Stock.read(BARRELS).items
    both = Stock.read(path) + demo_stock(["dart"])
    assert len(both.of("dart")) == len(demo_stock(["dart"]).items)
    with pytest.raises(StringError, match="not a file"):
        Stock.read(tmp_path / "none.csv")


def test_a_spring_is_told_by_coils_or_by_pitch() -> None:
    head = "name,wire diameter [mm],outer diameter [mm],free length [mm],"
    by_pitch = Stock.read(head + "pitch [mm]\nS,1.3,16,180,7.2\n").items[0]
    assert "pitch" in by_pitch.values
    for bad in ("total coils,active coils\nS,1.3,16,180,26,24", "ends\nS,1.3,16,180,closed"):
        with pytest.raises(StockError, match="one column of active coils"):
            Stock.read(head + bad)
    rows = ["S,1.3,16,180,26,closed", "T,1.3,2,180,26,closed", "U,1.3,16,180,200,closed"]
    rows += ["V,1.3,16,180,26,bent", "W,1.3,16,,26,closed"]
    unread = Stock.read(head + "total coils,ends\n" + "\n".join(rows)).unread
    for line, word in zip(unread, ("outer_diameter", "free_length", "ends", "free_length"), strict=True):
        assert word in line.reason


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "name,bore [mm],length [mm],price\nB,13,200,3",
            "no currency; must be a price with its currency",
        ),
        ("", "got 0 lines; must be a header"),
        ("name,bore [mm],length [mm],price [EUR],price [USD]\nB,13,200,3,4", "one column in one currency"),
        ("name,colour\nB,red", "columns that describe the part"),
        ("name,bore [mm],length [mm],colour\nB,13,200,red", "no such column"),
        ("name,bore [mm],length [mm],bore [in]\nB,13,200,1", "given twice"),
        ("name,bore [mm]\nB,13", "missing"),
        ("name,bore [mm,length\nB,13,2", "a name and its unit"),
        ("name,bore [mm],length [mm]\n", "a header and 1 to"),
        ("name,bore [mm],length [kg]\nB,13,200", "no row can be read; line 2: length"),
        ("name,inner diameter [mm],outer diameter [mm],length [mm]\nT,35,35,200", "less than the outer one"),
        ("name,ring\nR,AS568-999", "not in the AS568 table"),
        ("name,bore [mm],length [mm],lead time [moons]\nB,13,200,2", "in days or weeks"),
    ],
)
def test_a_list_without_sense_is_refused(text: str, says: str) -> None:
    with pytest.raises(StockError, match=says):
        Stock.read(text)


def test_two_currencies_do_not_add_up() -> None:
    head = "name,bore [mm],length [mm],price "
    both = Stock.read(head + "[EUR]\nB,13,200,3") + Stock.read(head + "[USD]\nC,13,200,3")
    with pytest.raises(StockError, match="EUR and USD"):
        _ = both.currency
    with pytest.raises(StockError, match="kinds"):
        demo_stock(["trigger"])
