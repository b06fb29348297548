"""The search: brute force, exact speeds and ranges, the front, executors, interrupts, hopeless wants."""

import os
import re
import signal
from collections.abc import Iterator
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from blasterlab import units
from blasterlab.build import Build, BuildError, demo_build
from blasterlab.checks.finding import SEVERITIES
from blasterlab.plan import shooting
from blasterlab.plan.options import build_of
from blasterlab.plan.search import REASONS, Plan, front_of, plan_build
from blasterlab.plan.stock import Stock, StockError, demo_stock
from blasterlab.plan.wants import Wants
from blasterlab.shot.simulate import simulate
from blasterlab.shot.speed_range import range_of
from blasterlab.units import UnitError

_COSTS = "price [EUR],lead time [days]\n"
SPRINGS = f"name,wire diameter [mm],outer diameter [mm],free length [mm],active coils,{_COSTS}"
SPRINGS += """thin,1.2,15,200,26,3,5
thick,1.6,17,200,24,5,12
middle,1.5,16,200,26,4,5
long,1.5,18,260,56,6,5
"""
TUBES = """name,outer diameter [mm],inner diameter [mm],length [mm],price [EUR],lead time [days]
same,39,35,250,9,5
wide,42,38,150,10,30
short,42,38,100,10,5
"""
BARRELS = "name,bore [mm],length [cm],price [EUR],lead time [days]\nB,12.9,30,5,3\nC,13.1,45,4,3\n"
STOCK = Stock.read(SPRINGS) + Stock.read(TUBES) + Stock.read(BARRELS)
COILS, LENGTHS = (0.0, 4.0, 60.0), ("12 cm", "25 cm", "40 cm")
WANTS = Wants(least="30 m/s", velocity_cap="70 m/s", prime_force="120 N", price="25 EUR", lead_time="2 weeks")


@pytest.fixture(scope="module")
def build() -> Build:
    return demo_build("workhorse")


@pytest.fixture(scope="module")
def plan(build: Build) -> Plan:
    return plan_build(STOCK, WANTS, build, coils=COILS, lengths=LENGTHS)


def _by_hand(build: Build, names: tuple[str, str, str], coils: float, length: str) -> Build:
    """A candidate put together from the build's text keys alone."""
    spring, tube, barrel = (next(item for item in STOCK.items if item.name == name) for name in names)
    seat = build.spring.free_length - build.spring.preload
    whole = build.replace({f"spring.{k}": v for k, v in spring.values.items()} | {"spring.preload": "0 mm"})
    part = whole.spring.cut(coils=coils) if coils else whole.spring
    room = (part.free_length - seat).m_as("m")
    inner, outer = (tube.values[f"{side}_diameter"].to("m").m for side in ("inner", "outer"))
    wider = (inner / 0.035) ** 2
    return whole.replace(
        {
            "spring.free_length": part.free_length,
            "spring.active_coils": part.active_coils,
            "spring.ends": part.ends,
            "spring.preload": units.quantity(max(room, 0.0), "m"),
            "spring.gap": units.quantity(max(-room, 0.0), "m"),
            "chamber.bore": tube.values["inner_diameter"],
            "chamber.wall": units.quantity(0.5 * (outer - inner), "m"),
            "chamber.plunger_mass": build.chamber.plunger_mass * wider,
            "chamber.dead_volume": build.chamber.dead_volume * wider,
            "barrel.bore": barrel.values["bore"],
            "barrel.length": length,
        }
    )


def test_brute_force_finds_the_same_candidates(build: Build, plan: Plan) -> None:
    good, refused = {}, 0
    for spring, coils, tube, barrel, length in product(
        ("thin", "thick", "middle", "long"), COILS, ("same", "wide", "short"), ("B", "C"), LENGTHS
    ):
        prices = {"thin": 3, "thick": 5, "middle": 4, "long": 6, "same": 9, "wide": 10, "B": 5, "C": 4}
        days = {"thick": 12, "wide": 30}
        dear = prices[spring] + prices.get(tube, 10) + prices[barrel] > 25
        late = max(days.get(spring, 5), days.get(tube, 5)) > 14
        if coils > 20 or tube == "short" or (barrel == "B" and length == "40 cm"):
            refused += 1
            continue
        try:
            one = _by_hand(build, (spring, tube, barrel), coils, length)
        except BuildError:
            refused += 1
            continue
        speed = simulate(one).muzzle_velocity.m
        grave = {finding.severity for finding in one.check()} & {"warning", "danger"}
        weak = one.prime.peak_force.m_as("N") > 120
        if not (dear or late or weak or grave) and 30 <= speed <= 70:
            good[spring, coils, tube, barrel, float(length[:2]) / 100] = speed
    keys = ["spring", "coils_cut_off", "tube", "barrel", "barrel_length_m"]
    near = plan.reason == REASONS.index("cap_chance")  # refused for its range, which comes after all others
    both = plan.rows(*plan.order, *np.flatnonzero(near))
    found = {tuple(row[key] for key in keys): row["muzzle_velocity_m_s"] for row in both.to_dict("records")}
    assert len(good) >= 5
    assert found == pytest.approx(good, rel=1e-9)
    assert len(plan) == 4 * 3 * 3 * 2 * 3
    early = ("no_cut", "tube_short", "barrel_short", "ring", "solid", "misfit")
    assert sum(plan.rejected.get(name, 0) for name in early) == refused
    assert sum(plan.rejected.values()) + len(plan.order) == len(plan)
    assert {"no_cut", "tube_short", "barrel_short", "solid"} <= set(plan.rejected)


def test_a_candidate_shoots_as_planned_to_the_last_digit(plan: Plan) -> None:
    table = plan.table
    for place in range(len(table)):
        row, one = table.iloc[place], plan.candidate(place)
        assert simulate(one).muzzle_velocity.m == row["muzzle_velocity_m_s"]
        band = range_of(one)
        assert (band.low, band.high) == (row["velocity_low_m_s"], row["velocity_high_m_s"])
        assert one.prime.peak_force.m_as("N") == pytest.approx(row["prime_force_N"], rel=1e-12)
        assert one.prime.work.m_as("J") == pytest.approx(row["prime_work_J"], rel=1e-12)
    with pytest.raises(StockError, match="a row of the table"):
        plan.candidate(len(table))


def test_findings_are_those_of_each_build_on_its_own(build: Build, plan: Plan) -> None:
    judged = np.flatnonzero(~np.isnan(plan.values["margin"]) & np.isin(plan.reason, (0, len(REASONS) - 1)))
    refused = np.flatnonzero(plan.reason == REASONS.index("finding"))
    assert len(judged)
    for at in (*judged, *refused):
        one = build_of([found[k] for found, k in zip(plan.choices, plan.index[:, at], strict=True)], build)
        assert SEVERITIES[int(plan.values["gravest"][at])] == one.check()[0].severity


def test_two_springs_keep_the_second_and_prime_both() -> None:
    nested = demo_build("two_springs")
    wants = Wants(least="5 m/s", owned=("tube", "barrel"), gravest="danger")
    found = plan_build(Stock.read(SPRINGS), wants, nested, coils=[0, 3])
    one, row = found.candidate(0), found.table.iloc[0]
    assert one.springs[1] == nested.springs[1]
    assert simulate(one).muzzle_velocity.m == row["muzzle_velocity_m_s"]
    assert one.prime.peak_force.m_as("N") == pytest.approx(row["prime_force_N"], rel=1e-12)
    assert one.prime.work.m_as("J") == pytest.approx(row["prime_work_J"], rel=1e-12)


def test_ranking_and_chances(plan: Plan) -> None:
    table = plan.table
    assert list(table["chance"]) == sorted(table["chance"], reverse=True)
    assert (table["chance"] <= table["cap_chance"]).all()
    assert (table["cap_chance"] >= 0.95).all()
    assert table["on_front"].any()
    assert len(plan.front) == table["on_front"].sum()
    assert (table["velocity_margin_m_s"] > 0).all()
    assert "of 216 go solid before the catch" in str(plan)
    assert "Eye protection" in str(plan)


def test_a_light_dart_can_break_the_cap(build: Build) -> None:
    stock = STOCK + demo_stock(["dart"])
    wants = {"least": "40 m/s", "velocity_cap": "60 m/s", "owned": ("dart",)}
    alone = plan_build(stock, Wants(**wants), build, lengths=["25 cm"])
    light = plan_build(stock, Wants(**wants, cap_darts=("D-light",)), build, lengths=["25 cm"])
    assert 0 < len(light.order) < len(alone.order)
    assert light.rejected["cap_chance"] > alone.rejected.get("cap_chance", 0)
    with pytest.raises(StockError, match="cap_darts"):
        plan_build(stock, Wants(**wants, cap_darts=("D-lead",)), build)


def test_rings_are_judged_by_the_groove(build: Build) -> None:
    stock = STOCK + demo_stock(["ring"])
    left_out = plan_build(stock, WANTS, build, lengths=["25 cm"])
    assert left_out.rings_left_out
    assert "fit.groove_diameter" in str(left_out)
    grooved = build.replace({"fit.groove_diameter": "29.9 mm", "fit.groove_width": "4 mm"})
    found = plan_build(stock, WANTS, grooved, lengths=["25 cm"])
    assert len(found) == 5 * len(left_out)
    assert found.rejected["ring"] > 0
    assert set(found.table["ring"]) <= {"R-26x3", "R-30x3", "R-33x3", "R-218", "R-219"}
    for place in range(len(found.table)):
        assert not {f.severity for f in found.candidate(place).check()} & {"warning", "danger"}


def test_what_is_owned_costs_nothing(build: Build, plan: Plan) -> None:
    owned = plan_build(STOCK, Wants(least="40 m/s", owned=("wide", "barrel")), build, coils=COILS)
    assert set(owned.table["barrel"]) == {"own"}
    row = owned.table[owned.table["tube"] == "wide"].iloc[0]
    assert row["price_EUR"] == {"thin": 3, "thick": 5, "middle": 4, "long": 6}[row["spring"]]


# ---- the front ------------------------------------------------------------------------------------

COSTS = st.lists(st.tuples(*[st.integers(0, 4)] * 3), min_size=1, max_size=40)


@given(COSTS)
@settings(max_examples=200, deadline=None)
def test_a_dominated_candidate_is_never_on_the_front(rows: list[tuple[int, ...]]) -> None:
    costs = np.array(rows, dtype=float)

    def dominated(at: int) -> bool:
        return any((one <= costs[at]).all() and (one < costs[at]).any() for one in costs)

    assert sorted(front_of(costs)) == [at for at in range(len(costs)) if not dominated(at)]


def test_the_front_of_a_plan_is_that_of_its_table(plan: Plan) -> None:
    t = plan.table
    costs = np.column_stack(
        [-t["velocity_margin_m_s"], t["prime_work_J"], t["price_EUR"], t["lead_time_days"], t["range_share"]]
    )
    for at, on in enumerate(t["on_front"]):
        assert on != any((one <= costs[at]).all() and (one < costs[at]).any() for one in costs)


# ---- executors and interrupts ----------------------------------------------------------------------


class _Lossy(Executor):
    """Loses every other chunk, as a pool does whose worker was killed."""

    def __init__(self) -> None:
        self.sent = self.lost = 0

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future:
        future: Future = Future()
        self.sent += 1
        if self.sent % 2:
            future.set_result(fn(*args, **kwargs))
        else:
            self.lost += 1
            future.set_exception(BrokenProcessPool("a worker was killed"))
        return future


def _same(one: Plan, other: Plan) -> None:
    assert np.array_equal(one.reason, other.reason)
    assert np.array_equal(one.order, other.order)
    assert np.array_equal(one.on_front, other.on_front)
    for name, column in one.values.items():
        assert np.array_equal(column, other.values[name], equal_nan=True), name


@pytest.fixture
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shooting, "CHUNK", 16)


@pytest.mark.usefixtures("small_chunks")
def test_another_executor_gives_the_same_to_the_last_digit(build: Build, plan: Plan) -> None:
    with ThreadPoolExecutor(2) as pool:
        _same(plan, plan_build(STOCK, WANTS, build, coils=COILS, lengths=LENGTHS, executor=pool))
    lossy = _Lossy()
    _same(plan, plan_build(STOCK, WANTS, build, coils=COILS, lengths=LENGTHS, executor=lossy))
    assert lossy.lost > 2


@pytest.fixture
def cluster() -> Iterator[Any]:
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, host="127.0.0.1", dashboard_address=None
        ) as local,
        distributed.Client(local) as client,
    ):
        yield client


@pytest.mark.slow
@pytest.mark.usefixtures("small_chunks")
def test_a_cluster_gives_the_same_even_when_a_worker_is_killed(
    build: Build, plan: Plan, cluster: Any
) -> None:
    killed: list[int] = []

    def kill_one(done: int, everything: int) -> None:
        if not killed:
            killed.append(next(iter(cluster.run(os.getpid).values())))
            os.kill(killed[0], signal.SIGKILL)

    asked = {"coils": COILS, "lengths": LENGTHS}
    with cluster.get_executor() as executor:
        _same(plan, plan_build(STOCK, WANTS, build, **asked, executor=executor, progress=kill_one))
        assert killed


@pytest.mark.usefixtures("small_chunks")
def test_what_was_found_before_an_interrupt_is_kept(build: Build, plan: Plan) -> None:
    told: list[tuple[int, int]] = []

    def stop(done: int, everything: int) -> None:
        told.append((done, everything))
        if done >= 32:
            raise KeyboardInterrupt

    found = plan_build(STOCK, WANTS, build, coils=COILS, lengths=LENGTHS, progress=stop)
    assert told[:2] == [(16, told[0][1]), (32, told[0][1])]
    assert not found.complete
    shot = ~np.isnan(found.values["speed"])
    assert shot.sum() == 32
    assert np.array_equal(found.values["speed"][shot], plan.values["speed"][shot])
    assert found.rejected["not_shot"] > 0
    assert "stopped before the end" in str(found)


@pytest.mark.usefixtures("small_chunks")
def test_an_interrupt_among_the_ranges_keeps_the_speeds(build: Build, plan: Plan) -> None:
    count = int(np.sum(~np.isnan(plan.values["speed"])))

    def stop(done: int, everything: int) -> None:
        if everything != count:
            raise KeyboardInterrupt

    found = plan_build(STOCK, WANTS, build, coils=COILS, lengths=LENGTHS, progress=stop)
    assert not found.complete
    assert np.array_equal(found.values["speed"], plan.values["speed"], equal_nan=True)
    assert len(found.order) >= len(plan.order)


def test_few_ranges_are_said(build: Build) -> None:
    found = plan_build(STOCK, WANTS, build, coils=COILS, lengths=LENGTHS, most_ranges=1)
    assert not found.ranged
    assert int(np.sum(~np.isnan(found.values["chance"]))) == 1
    assert "only the best have a range" in str(found)


# ---- wants and stock that cannot be ----------------------------------------------------------------


def test_hopeless_wants_say_which_is_the_hardest_and_by_how_much(build: Build) -> None:
    found = plan_build(STOCK, Wants(least="300 m/s", prime_force="120 N"), build, lengths=["25 cm"])
    assert not len(found.order)
    assert found.hardest is not None
    name, miss = found.hardest
    assert name == "least"
    assert miss == pytest.approx(300 - np.nanmax(found.values["speed"]))
    assert "the hardest requirement is the least velocity: the nearest candidate misses it by" in str(found)
    assert re.search(r"nearest in all: .*; it misses the least velocity by \d", str(found))
    soft = str(plan_build(STOCK, Wants(least="40 m/s", prime_force="15 N"), build))
    assert re.search(r"nearest in all: .*; it misses the prime force by .* N", soft)
    assert not len(found.table)
    assert not len(found.front)


def test_wants_that_each_somebody_meets_but_nobody_all(build: Build) -> None:
    found = plan_build(STOCK, Wants(least="60 m/s", prime_work="3 J"), build, lengths=["25 cm"])
    assert not len(found.order)
    assert found.hardest is not None
    assert found.nearest is not None
    name, miss = found.hardest
    limits = {"least": 60.0, "prime_work": 3.0}
    shares = {want: found.misses[want] / limit for want, limit in limits.items()}
    assert all(np.nanmin(share) <= 0.0 for share in shares.values())
    worst = np.maximum(*shares.values())
    assert worst[found.nearest] == np.nanmin(worst) > 0.0
    assert miss == found.misses[name][found.nearest] == pytest.approx(worst[found.nearest] * limits[name])
    said = rf"requirement is the {name.replace('_', ' ')}.*: the nearest candidate misses it by [\d.]+ "
    alone = int(np.sum(found.misses[name] <= 0.0))
    assert re.search(said + rf".*; {alone} would meet it alone, but none meets all", str(found))


def test_limits_that_are_met_by_none_that_is_sure_or_passes_the_checks(build: Build) -> None:
    asked = {"least": "40 m/s", "velocity_cap": "52 m/s", "owned": ("tube", "barrel", "dart")}
    unsure = plan_build(STOCK, Wants(**asked, confidence=0.9999), build)
    assert not len(unsure.order)
    assert unsure.hardest is not None
    assert unsure.nearest is not None
    sure = float(np.nanmax(unsure.values["cap_chance"]))
    assert unsure.hardest == ("cap_chance", pytest.approx(0.9999 - sure))
    assert unsure.values["cap_chance"][unsure.nearest] == sure
    said = rf"meets every limit, but those .* the cap with less than 99\.99 % .*, by {100 * (1 - sure):.2g}"
    assert re.search(said, str(unsure))
    wants = Wants(least="5 m/s", owned=("tube", "barrel", "dart"), gravest="info")
    strict = plan_build(STOCK, wants, build)
    assert not len(strict.order)
    assert "meets every limit, but those like it have a caution or worse" in str(strict)


def test_a_price_that_no_list_tells_is_the_hardest_want(build: Build) -> None:
    untold = Stock.read("name,bore [mm],length [cm]\nB,12.9,30\n")
    wants = Wants(least="40 m/s", price="40 EUR", owned=("tube", "spring", "dart"))
    assert "the hardest requirement is the price: the nearest candidate gives none" in str(
        plan_build(untold, wants, build)
    )


@pytest.mark.parametrize(
    ("wants", "says"),
    [
        ({}, "no speed is asked for"),
        ({"least": "60 m/s", "velocity_cap": "50 m/s"}, "velocity_cap: got 50 m/s; must be at least 60 m/s"),
        ({"target": "60 m/s", "velocity_cap": "180 fps"}, "velocity_cap"),
        ({"target": "50 m/s", "least": "60 m/s"}, "target"),
        ({"least": "40 m/s", "price": "40"}, "wants.price"),
        ({"least": "40 m/s", "lead_time": "3 moons"}, "days or weeks"),
        ({"least": "40 m/s", "gravest": "bad"}, "gravest"),
        ({"least": "40"}, "no unit"),
        ({"target": "40 m/s", "within": 0.9}, "within"),
        ({"least": "40 m/s", "confidence": 2.0}, "confidence|level"),
    ],
)
def test_wants_that_contradict_or_cannot_be_read(wants: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Wants(**wants)


def test_stock_that_lacks_what_the_search_needs(build: Build) -> None:
    with pytest.raises(StockError, match="no barrels"):
        plan_build(Stock.read(SPRINGS) + Stock.read(TUBES), WANTS, build)
    with pytest.raises(StockError, match="owned"):
        plan_build(STOCK, Wants(least="40 m/s", owned="trigger"), build)
    with pytest.raises(UnitError, match="at most 450 mm, the longest barrel"):
        plan_build(STOCK, WANTS, build, lengths=["60 cm"])
    with pytest.raises(StockError, match="in EUR, as the stock"):
        plan_build(STOCK, Wants(least="40 m/s", price="40 USD"), build)
    with pytest.raises(StockError, match="EUR and USD"):
        plan_build(STOCK + Stock.read(BARRELS.replace("EUR", "USD").replace("B,", "D,")), WANTS, build)
    with pytest.raises(StockError, match="at most 500000"):
        plan_build(demo_stock(), WANTS, build, coils=np.linspace(0, 9, 300).tolist())
