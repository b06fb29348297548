"""Cut lists, and the cut that reaches a wanted velocity."""

import numpy as np
import pytest

from blasterlab import units
from blasterlab.build import Build, BuildError, demo_build
from blasterlab.plan.cutting import cut_list, cut_to_reach, with_cut
from blasterlab.report.cutting import cut_words
from blasterlab.shot.simulate import simulate


@pytest.fixture(scope="module")
def build() -> Build:
    return demo_build("workhorse")


@pytest.fixture(scope="module")
def nested() -> Build:
    return demo_build("two_springs")


def test_with_cut_changes_one_spring_only(nested: Build) -> None:
    cut = with_cut(nested, coils=3, which=1)
    assert cut.springs[0] == nested.springs[0]
    assert cut.springs[1] == nested.springs[1].cut(coils=3)
    assert cut.chamber == nested.chamber
    with pytest.raises(units.UnitError, match="springs 0 to 1"):
        with_cut(nested, coils=3, which=2)


def test_a_spacer_keeps_the_preload(build: Build) -> None:
    cut = with_cut(build, coils=4, spacer=True)
    assert cut.spring.preload == build.spring.preload
    assert cut.spring.gap == build.spring.gap
    assert cut.prime.peak_force > build.prime.peak_force
    with pytest.raises(BuildError, match="before the catch"):
        with_cut(build, coils=16, spacer=True)


def test_cut_list_agrees_with_each_cut_on_its_own(build: Build) -> None:
    table = cut_list(build, ["5 mm", "12 mm", "30 mm"])
    assert list(table["cut_off_m"]) == pytest.approx([0, 0.005, 0.012, 0.030])
    for row in table.iloc[1:].to_dict("records"):
        cut = with_cut(build, to_length=units.quantity(0.2 - row["cut_off_m"], "m"))
        assert row["rate_N_m"] == pytest.approx(cut.spring.rate.m_as("N/m"))
        assert row["muzzle_velocity_m_s"] == pytest.approx(simulate(cut).muzzle_velocity.m_as("m/s"))
        assert row["energy_J"] == pytest.approx(cut.prime.stored.m_as("J"))
        assert row["rate_change"] == pytest.approx(cut.spring.rate / build.spring.rate - 1)
        assert row["energy_change"] == pytest.approx(cut.prime.stored / build.prime.stored - 1)
        assert row["peak_force_N"] + 4 == pytest.approx(cut.prime.peak_force.m_as("N"))  # seal friction 4 N
    assert np.all(np.diff(table["rate_N_m"]) > 0)
    assert np.all(np.diff(table["energy_J"]) < 0)


def test_cut_list_chooses_cuts_itself_and_says_them_in_words(build: Build) -> None:
    table = cut_list(build)
    assert len(table) == 9
    assert table["cut_off_m"].max() == pytest.approx(0.2 / 3)
    words = cut_words(table)
    assert len(words) == 8
    row = table.iloc[2]
    changes = f"{100 * row['rate_change']:+.0f} % rate, {100 * row['energy_change']:+.0f} % energy"
    assert words[1].startswith(f"cut {1000 * row['cut_off_m']:.3g} mm: {changes} at the same catch, ")
    assert "loose by" in words[-1]
    assert "loose" not in words[0]
    with pytest.raises(units.UnitError, match=r"cuts\[0\]"):
        cut_list(build, [5])
    with pytest.raises(units.UnitError, match=r"cuts\[0\]: got '45 cm'; must be 0 mm to 200 mm"):
        cut_list(build, ["45 cm"])


def test_the_cut_that_reaches_a_velocity(build: Build) -> None:
    cut = cut_to_reach(build, "45 m/s")
    assert cut.velocity.m_as("m/s") == pytest.approx(45, abs=1e-4)
    assert simulate(cut.build).muzzle_velocity == cut.velocity
    assert cut.free_length.m_as("mm") == pytest.approx(200 - cut.cut_off.m_as("mm"))
    # the same cut, by its coils
    again = with_cut(build, coils=cut.coils_off)
    assert again.spring.free_length.m_as("mm") == pytest.approx(cut.free_length.m_as("mm"))
    # the slope is that of the next millimetre
    further = with_cut(build, to_length=cut.free_length - units.quantity(0.2, "mm"))
    step = simulate(further).muzzle_velocity.m_as("m/s") - 45
    assert cut.per_millimetre.m_as("m/s") == pytest.approx(step / 0.2, rel=0.05)
    assert cut.per_millimetre.m_as("m/s") < 0


def test_it_is_the_smallest_such_cut(build: Build) -> None:
    cut = cut_to_reach(build, "45 m/s")
    for part in np.linspace(0.1, 0.95, 9):
        less = units.quantity(0.2 - part * cut.cut_off.m_as("m"), "m")
        assert simulate(with_cut(build, to_length=less)).muzzle_velocity > cut.velocity


def test_with_a_spacer_a_cut_adds(build: Build) -> None:
    cut = cut_to_reach(build, "66 m/s", spacer=True)
    assert cut.velocity.m_as("m/s") == pytest.approx(66, abs=1e-4)
    assert cut.per_millimetre.m_as("m/s") > 0


def test_the_second_spring_can_be_the_one_to_cut(nested: Build) -> None:
    now = simulate(nested).muzzle_velocity.m_as("m/s")
    cut = cut_to_reach(nested, units.quantity(0.95 * now, "m/s"), which=1, end="closed")
    assert cut.velocity.m_as("m/s") == pytest.approx(0.95 * now, abs=1e-4)
    assert cut.build.springs[0] == nested.springs[0]
    assert cut.build.springs[1].ends == "closed"


def test_under_a_cap_the_upper_end_of_a_shot_comes_down_to_it(build: Build) -> None:
    cut = cut_to_reach(build, "60 m/s", level=0.9)
    assert cut.expected.next_high.m_as("m/s") == pytest.approx(60, abs=1e-3)
    assert cut.velocity < cut.expected.next_high
    assert cut.expected.source == "prior"
    safer = cut_to_reach(build, "60 m/s", level=0.98)
    assert safer.cut_off > cut.cut_off
    bare = cut_to_reach(build, "60 m/s")
    assert bare.cut_off < cut.cut_off
    assert bare.expected.mean_low < bare.velocity < bare.expected.next_high
    said = str(cut).split("\n")
    assert said[0].startswith(f"cut {cut.cut_off.m_as('mm'):.4g} mm off (")
    assert "before any chronograph" in said[1]
    assert said[-1] == "a cut cannot be undone: cut less, shoot, and cut again"
    with pytest.raises(units.UnitError, match="uncut the upper end of one shot's range is"):
        cut_to_reach(build, "90 m/s", level=0.9)
    with pytest.raises(ValueError, match="level"):
        cut_to_reach(build, "60 m/s", level=90)


def test_a_cut_list_carries_the_range_of_each_cut(build: Build) -> None:
    table = cut_list(build, ["5 mm", "30 mm"])
    assert np.all(table["velocity_low_m_s"] < table["muzzle_velocity_m_s"])
    assert np.all(table["velocity_high_m_s"] > table["muzzle_velocity_m_s"])
    assert np.all(np.diff(table["velocity_high_m_s"]) < 0)


@pytest.mark.parametrize(
    ("velocity", "how", "words"),
    [
        ("90 m/s", {}, "uncut it shoots"),
        ("150 m/s", {"spacer": True}, "the cuts tried give"),
        ("45", {}, "which has no unit"),
        ("45 m/s", {"which": 1}, "springs 0 to 0"),
        ("45 m/s", {"end": "glued"}, "end: ends"),
        ("0 m/s", {}, "a muzzle velocity"),
    ],
)
def test_velocities_out_of_reach_say_what_is_in_reach(
    build: Build, velocity: str, how: dict, words: str
) -> None:
    with pytest.raises(units.UnitError, match=words):
        cut_to_reach(build, velocity, **how)
