"""A difference of two strings: real or chance, and how much of each single cause would do it."""

from __future__ import annotations

import math

import numpy as np
import pytest

import blasterlab as bl
from blasterlab import units
from blasterlab.bench.cells import StringError
from blasterlab.bench.comparison import Sample, noted
from blasterlab.build import Build, BuildError
from blasterlab.figures.plan import CausesView
from blasterlab.parts.priors import NINE_IN_TEN, PRIORS
from blasterlab.plan.explain import OFF, SCREENS, Explanation, sample
from blasterlab.report.explain import told
from blasterlab.shot.speed_range import SETUP
from blasterlab.values import kind_of

SLOWER = ("191 ft/s, SD 3 ft/s, 10 shots", "178 ft/s, SD 3 ft/s, 10 shots")


@pytest.fixture(scope="module")
def build() -> Build:
    return bl.demo_build("workhorse")


@pytest.fixture(scope="module")
def found(build: Build) -> Explanation:
    return bl.explain(build, *SLOWER)


def rows(found: Explanation) -> dict[str, dict]:
    return {row["name"]: row for row in found.table.to_dict("records")}


def test_a_mean_is_read_with_its_count() -> None:
    assert noted("191 ft/s; 10 shots; SD 3 ft/s") == noted("mean 191 fps, sd 3 ft/s, of 10 shots")
    assert noted("40, 12 shots, ± 0.5", unit="m/s") == Sample(40.0, 0.5, 12)
    assert noted("145 ft/s, SD 3, 10 shots") == noted("145 ft/s, SD 3 ft/s, 10 shots")
    usual = noted("40 m/s, 12 shots")
    assert usual == Sample(40.0, pytest.approx(0.8), 12, assumed=True)
    assert noted("151\n148\n153") is None  # a string
    assert noted("# title: 10 shots\n# note: calm\n151\n148\n153") is None
    for text, why in (
        ("191 ft/s, 1 shot", "before, count.*one shows no difference"),
        ("191, 10 shots", "no unit"),
        ("900 m/s, 10 shots", "before, mean"), ("191 ft/s, SD 300 ft/s, 10 shots", "before, SD"),
    ):  # fmt: skip
        with pytest.raises(ValueError, match=why):
            noted(text, name="before")


def test_two_means_are_compared_as_their_strings_are(build: Build) -> None:
    light, heavy = bl.demo_string("workhorse_wire_15"), bl.demo_string("workhorse_heavy_dart")
    found = bl.explain(build, light, heavy.to_csv())
    own = light.compare(heavy)
    assert (found.difference.p, found.difference.low) == (own.p, own.low)
    told_ = [f"{s.mean.m} m/s, {s.count} shots, SD {s.sd.m} m/s" for s in (light, heavy)]
    assert bl.explain(build, *told_).difference.p == pytest.approx(own.p)
    assert found.difference.shots_to_show is not None
    assert found.difference.shots_to_show < own.shots_to_show  # for 14 %, not for 2 %


def test_what_a_cause_would_have_to_be_does_it_when_shot(build: Build, found: Explanation) -> None:
    now, wanted = bl.simulate(build).muzzle_velocity.m, found.difference.relative
    enough = [row for name, row in rows(found).items() if not math.isnan(row["needed"])]
    shot = [row for row in enough if row["name"] != SCREENS]
    assert len(shot) >= 4
    for row in shot:
        kind = units.KINDS[kind_of(row["name"])].si
        other = build.replace({row["name"]: units.quantity(row["needed"], kind)})
        assert bl.simulate(other).muzzle_velocity.m / now - 1.0 == pytest.approx(wanted, rel=0.01)
        assert row["low"] <= row["needed"] <= row["high"]
        assert row["share"] >= 1.0
        assert row["use"] == pytest.approx(
            abs(row["needed"] - row["own"]) / max(
                abs(end - row["own"]) for end in (row["low"], row["high"])
                if (end - row["own"]) * (row["needed"] - row["own"]) > 0.0
            )
        )  # fmt: skip
        assert not math.isnan(row["needed_low"])
        ends = sorted((row["needed_low"], row["needed_high"]))
        assert math.isnan(ends[1]) or ends[0] < row["needed"] < ends[1]


def test_causes_are_ranked_and_ranges_are_those_of_the_kit(build: Build, found: Explanation) -> None:
    table = found.table
    enough = table["needed"].notna().tolist()
    assert enough == sorted(enough, reverse=True)
    uses = table["use"][table["needed"].notna()]
    assert list(uses) == sorted(uses)
    shares = table["share"][table["needed"].isna()]
    assert list(shares) == sorted(shares, reverse=True)
    by = rows(found)
    for name, prior in PRIORS.items():
        low, high = prior.si
        assert by[f"losses.{name}"]["high"] == max(high, build.si[f"losses.{name}"])
        assert by[f"losses.{name}"]["low"] == min(low, build.si[f"losses.{name}"])
    assert {row["source"] for row in by.values()} >= {"common practice, no source", "the kit's own choice"}
    assert all(table["source"])
    assert by["dart.mass"]["high"] == pytest.approx((1.0 + OFF["dart.mass"]) * build.si["dart.mass"])
    assert by["air.temperature"]["share"] < 0.5  # air alone hardly moves a shot


def test_screens_further_off_read_less_by_the_darts_drag(build: Build, found: Explanation) -> None:
    near = [50.1, 49.6, 50.8, 50.3]
    far = bl.ChronoString.from_readings(near, unit="m/s", distance="1 m", build=build)
    lost = bl.ChronoString.from_readings(near, unit="m/s").mean / far.mean - 1.0
    row = rows(found)[SCREENS]
    assert row["share"] * found.difference.relative == pytest.approx(float(lost), rel=1e-6)
    back = rows(bl.explain(build, *reversed(SLOWER)))[SCREENS]
    assert back["needed"] < 0.0 or math.isnan(back["needed"])


def test_faster_turns_every_cause_round(build: Build) -> None:
    by = rows(bl.explain(build, "44 m/s, 10 shots", "45 m/s, 10 shots"))
    for name in ("losses.dart_friction", "dart.mass"):
        assert by[name]["needed"] < by[name]["own"]
    assert by["spring.preload"]["needed"] > by["spring.preload"]["own"]


def test_chance_is_called_chance_and_reassembly_by_its_name(build: Build) -> None:
    chance = bl.explain(build, "191 ft/s, SD 3 ft/s, 5 shots", "189.5 ft/s, SD 3 ft/s, 5 shots")
    assert not chance.difference.differs
    said = told(chance)
    assert said.verdict.startswith(
        "Perhaps only chance, at 95 % confidence: 0.457 m/s slower (-0.8 %). It would"
    )
    assert "shots in each string" in said.verdict
    assert said.heard == ()
    small = bl.explain(build, "191 ft/s, SD 1 ft/s, 20 shots", "189.5 ft/s, SD 1 ft/s, 20 shots")
    assert small.difference.differs
    assert small.reassembled
    moved = 100.0 * NINE_IN_TEN * math.sqrt(2.0) * SETUP  # per cent
    for share, within in ((0.98 * moved, True), (1.02 * moved, False)):
        now = f"{100.0 - share} m/s, SD 0.1 m/s, 20 shots"
        assert bl.explain(build, "100 m/s, SD 0.1 m/s, 20 shots", now).reassembled is within
    assert "putting the same parts together again" in told(small).verdict
    same = bl.explain(build, SLOWER[0], SLOWER[0])
    assert told(same).verdict.startswith("No difference: ")
    near = bl.explain(build, SLOWER[0], "190 ft/s, SD 3 ft/s, 10 shots")
    assert told(near).verdict.startswith("Perhaps only chance, ")
    assert set(same.table["share"]) == {0.0}
    half = bl.explain(build, "191 ft/s, 10 shots", "60 ft/s, 10 shots")
    assert "look for two" in told(half).verdict or half.table["needed"].notna().any()


def test_words_say_size_confidence_cause_and_what_to_measure(found: Explanation) -> None:
    said = told(found)
    assert said.verdict.startswith("Real, at 95 % confidence: 3.96 m/s slower (-6.8 %). The least that")
    first = found.table["name"][0]
    assert first.startswith(("losses.", "dart", "spring"))
    assert any(line.startswith("Measure first what is quickest: ") for line in said.heard)
    assert any("), would do all of it; usual range " in line for line in said.heard)
    assert any("at most" in line for line in said.more)
    assert str(found) == "\n".join([said.verdict, *said.heard, *said.more])
    units.use_units("US customary")
    assert "13.0 ft/s slower" in told(found).verdict
    assumed = bl.explain(found.build, "191 ft/s, 10 shots", "178 ft/s, 10 shots")
    assert any("usual 2 %" in line for line in told(assumed).heard)


def test_a_build_that_shoots_what_the_second_string_did_is_counted_back_from(build: Build) -> None:
    now, own = bl.simulate(build).muzzle_velocity.m, build.si["losses.dart_friction"]
    two = f"{now} m/s, SD 0.5 m/s, 10 shots", f"{1.07 * now} m/s, SD 0.5 m/s, 10 shots"
    found = bl.explain(build, *reversed(two))
    assert found.back
    assert not bl.explain(build, *two).back
    row = rows(found)["losses.dart_friction"]
    assert row["needed"] < own  # it was less while the build was faster
    other = build.replace({"losses.dart_friction": units.quantity(row["needed"], "N")})
    assert bl.simulate(other).muzzle_velocity.m == pytest.approx(1.07 * now, rel=1e-3)
    ends = sorted((row["needed_low"], row["needed_high"]))
    assert ends[0] < row["needed"] < ends[1]
    assert row["speed_m_s"] <= found.difference.difference.m < 0.0  # its bar reaches over the dashed line
    said = told(found)
    first, stands = found.table.to_dict("records")[0], said.heard[0]
    assert stands.startswith(f"Your build stands for the second string, {now:.2f} m/s against {now:.2f} m/s")
    assert stands.endswith("each cause is what must have been different before.")
    assert " before, " in said.verdict
    assert said.verdict.endswith(" now.")
    assert first["needed"] != first["own"]
    assert not any("In the model" in line for line in said.lines)
    near = bl.explain(
        build, f"{1.07 * now} m/s, SD 0.5 m/s, 10 shots", f"{0.97 * now} m/s, SD 0.5 m/s, 10 shots"
    )
    assert near.back
    assert not bl.explain(build, f"{1.04 * now} m/s, 10 shots", f"{0.94 * now} m/s, 10 shots").back
    chance = bl.explain(build, f"{1.002 * now} m/s, 10 shots", f"{now} m/s, 10 shots")
    assert not chance.back  # no difference to place the build in


def test_a_build_far_from_its_strings_is_told_so(build: Build, found: Explanation) -> None:
    low = told(bl.explain(build, "44.2 m/s, 10 shots", "40 m/s, 10 shots")).heard
    assert any(line.startswith("In the model this build shoots 63.12 m/s, not the 44.20 m/s") for line in low)
    off = told(bl.explain(build, f"{found.speed / 1.139} m/s, 10 shots", "50 m/s, 10 shots")).heard
    assert any(line.startswith("In the model this build shoots 63.12 m/s, not the 55.42 m/s") for line in off)
    assert found.speed == pytest.approx(bl.simulate(build).muzzle_velocity.m, rel=1e-6)
    assert not any("In the model" in line for line in told(found).lines)


def test_the_picture_holds_the_causes_and_the_difference(found: Explanation) -> None:
    view = CausesView()
    view.draw_full(view.frame(found, None))
    view.draw_live(found)
    labels = [text.get_text() for text in view.ax.texts]
    assert "dart friction" in labels
    assert len(labels) == len(found.table)
    assert view.ax.lines[0].get_xdata()[0] == pytest.approx(found.difference.difference.m)


def test_a_nest_and_a_build_of_assumptions_are_explained_too() -> None:
    nest = rows(bl.explain(bl.demo_build("two_springs"), *SLOWER))
    assert {"springs[0].preload", "springs[1].preload"} <= set(nest)
    assert np.isfinite(nest["springs[1].preload"]["share"])


def test_what_cannot_be_explained_is_refused(build: Build) -> None:
    with pytest.raises(BuildError, match="a dart that stays in the barrel"):
        bl.explain(build.replace({"losses.dart_breakaway": "90 N"}), *SLOWER)
    with pytest.raises(StringError, match="after: got int; must be a string of shots"):
        bl.explain(build, SLOWER[0], 178)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="level"):
        bl.explain(build, *SLOWER, level=1.0)
    with pytest.raises(
        StringError, match=r'before: a mean is written "191 ft/s, 10 shots", with "SD 3 .*summary'
    ):
        bl.explain(build, "145 ft/s mean of ten (SD 3)", SLOWER[1])
    asks = (
        'after: how many shots was it the mean of[?] Write "{}, 10 shots"; add "SD 3 ft/s" where you know it'
    )
    for alone, unit in (("139 ft/s", ""), ("42.4 m/s", "ft/s"), ("139", "ft/s")):
        with pytest.raises(StringError, match=asks.format(alone)):
            bl.explain(build, SLOWER[0], alone, unit=unit)
        assert noted(f"{alone}, 10 shots", unit) is not None
    assert sample(bl.demo_string("workhorse_wire_15")).shots == 12
