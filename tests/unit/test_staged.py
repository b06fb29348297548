"""Staged cuts: towards a target from one side, never past it."""

import pytest

from blasterlab.build import Build, demo_build
from blasterlab.plan.cutting import with_cut
from blasterlab.plan.staged import next_cut
from blasterlab.shot.simulate import simulate
from blasterlab.units import Quantity, UnitError, quantity


@pytest.fixture(scope="module")
def build() -> Build:
    return demo_build("workhorse")


def _shoot(true: Build, part: str, length: Quantity) -> Quantity:
    if part == "barrel":
        return simulate(true.replace({"barrel.length": length})).muzzle_velocity
    whole = true.spring.free_length
    return simulate(true if length >= whole else with_cut(true, to_length=length)).muzzle_velocity


@pytest.mark.parametrize(("part", "target", "near"), [("barrel", 50.0, 0.02), ("spring", 48.0, 0.04)])
@pytest.mark.parametrize("friction", ["1 N", "2.2 N"])
def test_cuts_come_down_to_the_target_and_never_pass_it(
    build: Build, part: str, target: float, near: float, friction: str
) -> None:
    true = build.replace({"losses.dart_friction": friction, "losses.seal_friction": "6 N"})
    length = build.barrel.length if part == "barrel" else build.spring.free_length
    means: list[tuple[Quantity, Quantity]] = []
    widths = []
    for _ in range(12):
        step = next_cut(build, f"{target} m/s", part, means)
        if step.code == "cut":
            assert step.to is not None
            assert step.to < length
            assert step.then[0].m >= target - 0.02
            length = step.to
        else:
            assert step.code == ("shoot" if not means else "done")
        if step.code == "done":
            break
        means.append((length, _shoot(true, part, length)))
        widths.append((step.now[2] - step.now[0]).m)
        assert means[-1][1].m >= target - 0.05  # the true build is never cut past it
    assert step.code == "done"
    assert len(means) > 1
    assert means[-1][1].m == pytest.approx(target, rel=near)  # 1 mm of this spring is 1.1 m/s
    assert widths[-1] < 0.2 * widths[0]


def test_a_barrel_that_is_too_long_gains_by_a_cut_and_stops_in_time(build: Build) -> None:
    long = build.replace({"barrel.length": "90 cm"})
    now = simulate(long).muzzle_velocity
    step = next_cut(long, now * 1.1, "barrel", [("90 cm", now)])
    assert step.code == "cut"
    assert step.to is not None
    assert step.then[2].m <= 1.1 * now.m + 0.02
    assert step.build.barrel.length.m_as("mm") == pytest.approx(step.to.m_as("mm"))


def test_words_and_what_cannot_be_reached(build: Build) -> None:
    first = next_cut(build, "50 m/s")
    assert "do not cut yet: shoot 5 with the barrel of 400 mm" in str(first)
    cut = next_cut(build, "50 m/s", "barrel", [("40 cm", "63 m/s")])
    assert "cut the barrel to" in str(cut)
    assert "cannot be undone" in str(cut)
    done = next_cut(build, "63 m/s", "barrel", [("40 cm", "63 m/s")])
    assert "stop cutting at 400 mm" in str(done)
    assert done.build is build
    never = next_cut(build, "110 m/s", "barrel", [("40 cm", "63 m/s")])
    assert never.code == "unreachable"
    assert "change another part" in str(never)


@pytest.mark.parametrize(
    ("means", "says"),
    [
        ([("41 cm", "60 m/s")], "at most 400 mm, the barrel as it was"),
        ([("30 cm", "60 m/s"), ("35 cm", "60 m/s")], "the one before"),
        ([("30 cm", "60 m/s"), ("30 cm", "60 m/s")], "the one before"),
        ([("30 cm", "60")], "no unit"),
    ],
)
def test_a_cut_longer_than_the_part(build: Build, means: list[tuple[str, str]], says: str) -> None:
    with pytest.raises(UnitError, match=says):
        next_cut(build, "50 m/s", "barrel", means)


def test_parts_that_cannot_be_cut(build: Build) -> None:
    with pytest.raises(UnitError, match="part: got 'dart'"):
        next_cut(build, quantity(50.0, "m/s"), "dart")
    with pytest.raises(ValueError, match="level"):
        next_cut(build, "50 m/s", level=2.0)
