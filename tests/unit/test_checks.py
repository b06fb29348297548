"""Checks together: the gravest first, and none looks at a value that it does not declare."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from blasterlab.build import Build, demo_build, demo_builds
from blasterlab.buildtext import PARTS
from blasterlab.checks import all as every
from blasterlab.checks.finding import SEVERITIES, Finding


class Watched:
    """A build that notes the dotted names of all values that are read from it."""

    def __init__(self, build: Build, read: set[str], part: str = "") -> None:
        self._build, self._read, self._part = build, read, part

    def __getattr__(self, name: str) -> Any:
        if self._part:
            self._read.add(f"{self._part}.{name}")
        elif name in PARTS:
            return Watched(getattr(self._build, name), self._read, name)
        elif name == "si":
            return WatchedFloats(self._build.si, self._read)
        elif isinstance(found := getattr(Build, name, None), property):
            return found.fget(self)  # type: ignore[misc]
        else:
            self._read.add(name)
        return getattr(self._build, name)


class WatchedFloats(dict):
    def __init__(self, values: dict[str, float], read: set[str]) -> None:
        super().__init__(values)
        self._read = read

    def __getitem__(self, name: str) -> float:
        self._read.add("springs" if name.startswith("spring") else name)
        return super().__getitem__(name)


#: What a builder may tell of seal, rod and tube, so that every check has something to do.
TOLD = {
    "fit.ring": "29 x 3.5 mm", "fit.groove_diameter": "28 mm", "fit.groove_width": "4.7 mm",
    "fit.setback": "6 mm", "fit.front_gap": "3 mm", "fit.tube_material": "acrylic",
    "fit.rod_diameter": "8 mm", "fit.pad_thickness": "5 mm", "fit.pad_stiffness": "300 N/mm",
    "fit.catch_area": "20 mm^2", "fit.catch_material": "printed PLA along",
}  # fmt: skip


def read_by(
    check: Callable[[Any], object], name: str = "two_springs", changes: dict[str, str] | None = None
) -> set[str]:
    read: set[str] = set()
    check(Watched(demo_build(name).replace(changes or {}), read))
    return {"springs" if each == "spring" else each for each in read}


@pytest.mark.parametrize("name", demo_builds())
def test_each_check_reads_what_it_declares(name: str) -> None:
    assert len(every.CHECKS) >= 5
    for check, declared in every.CHECKS.items():
        assert read_by(check, name) <= set(declared)
        assert read_by(check, name, TOLD | {"barrel.bore": "13.2 mm"}) == set(declared)


@pytest.mark.parametrize(
    ("check", "read"),
    [
        (lambda build: build.barrel.length, {"barrel.length"}),
        (lambda build: build.si["dart.mass"], {"dart.mass"}),
        (lambda build: build.si["spring0.rate"], {"springs"}),
        (lambda build: build.spring.rate, {"springs"}),
        (lambda build: build.title, {"title"}),
        (lambda build: build.prime, {"springs", "chamber.stroke", "losses.seal_friction"}),
    ],
)
def test_a_check_that_reads_something_else_is_caught(check: Callable[[Any], object], read: set[str]) -> None:
    assert read_by(check) == read


def test_a_build_is_asked_everything_the_gravest_first() -> None:
    build = demo_build("two_springs")
    found = build.check()
    assert len(found) == sum(len(check(build)) for check in every.CHECKS)
    for check in every.CHECKS:
        assert all(item in found for item in check(build))
    ranks = [SEVERITIES.index(item.severity) for item in found]
    assert ranks == sorted(ranks, reverse=True)
    assert all(isinstance(item, Finding) and item.source for item in found)


def test_no_accepted_build_is_refused_by_a_check() -> None:
    """The stiffest spring on the lightest plunger: an empty shot has a speed beyond any range of speeds."""
    wild = demo_build("workhorse").replace({"spring.rate": "1e5 N/m", "chamber.plunger_mass": "0.1 g"})
    (slam,) = [item for item in wild.check() if "do not fire it empty" in item.message]
    assert slam.value > slam.limit  # type: ignore[operator]
