"""A few of each attack with fixed seeds, and faults that they notice; `tests/bench/attack.py` runs many."""

from __future__ import annotations

import contextlib
import itertools
import os
import random
import re
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attacks
import numpy as np
import pytest

from blasterlab import build, buildtext
from blasterlab.bench import reading, string_data
from blasterlab.figures import style
from blasterlab.panels import base
from blasterlab.report import tables
from blasterlab.shot import many

pytestmark = pytest.mark.skipif(os.name != "posix", reason="kills with a signal and limits a disk")
Patch = pytest.MonkeyPatch


@pytest.mark.parametrize("attack", attacks.ATTACKS, ids=lambda attack: attack.__name__)
def test_the_kit_holds(attack: attacks.Attack) -> None:
    assert attacks.ATTACKS[attack] > 0
    for seed in range(attacks.ATTACKS[attack]):
        assert (broke := attack(random.Random(seed))) is None, (seed, broke)


_SAVE_IN_PLACE = """
def write_in_place(path, text):
    import time
    with open(path, "w") as file:
        for line in text.splitlines(keepends=True):
            file.write(line)
            file.flush()
            time.sleep(1e-3)
from blasterlab import files
files.write_whole = write_in_place
"""
_OTHER_LITTER = "from blasterlab import files\nfiles._PREFIX = '.other-'\n"
_NOTHING_SAID = "from blasterlab import files\nfiles.write_whole = lambda path, text: None\n"


def saver(code: str) -> Callable[[Patch], None]:
    """A fault in the process that saves."""
    return lambda patch: patch.setattr(attacks, "SAVER", code + attacks.SAVER)


def instead(place: Any, name: str, other: Any) -> Callable[[Patch], None]:
    """A fault: something else in place of a function."""
    return lambda patch: patch.setattr(place, name, other)


def wrapped(place: Any, name: str, around: Callable[[Any], Any]) -> Callable[[Patch], None]:
    """A fault: the result of a function, spoilt."""
    whole = getattr(place, name)
    return lambda patch: patch.setattr(place, name, lambda *args, **more: around(whole(*args, **more)))


def _slightly_off(batch: Any) -> Any:
    speeds = np.asarray(batch.state)
    speeds[:] = np.nextafter(speeds, np.inf)
    return batch


def _unlocked(patch: Patch) -> None:
    """A panel whose callbacks do not wait for each other; the first of two shows its picture last."""
    whole, both, turn = style.Painter.png, threading.Barrier(2), itertools.count()

    def slow(painter: Any, result: Any) -> bytes:
        first = next(turn) % 2 == 0
        picture = whole(painter, result)
        try:
            both.wait(0.2)
        except threading.BrokenBarrierError:
            both.reset()
        time.sleep(0.01 * first)
        return picture

    patch.setattr(base.threading, "RLock", contextlib.nullcontext)
    patch.setattr(style.Painter, "png", slow)


#: A fault by its name: the attack that must notice it, and what puts it in.
FAULTS: dict[str, tuple[attacks.Attack, Callable[[Patch], None]]] = {
    "a saved number is rounded": (
        attacks.build_text, instead(buildtext, "_number", lambda value: f"{value:.2g}"),
    ),
    "a foreign exception": (attacks.build_text, instead(buildtext, "_made", lambda *_: {}["none"])),
    "a lost line": (attacks.string_text, instead(reading.Reading, "skip", lambda *_: None)),
    "a rounded reading": (
        attacks.string_text,
        wrapped(string_data, "csv_text", lambda text: re.sub(r"(,\d+)\.\d+", r"\1", text)),
    ),
    "a panel that forgets its message": (attacks.panel_events, instead(base.Panel, "message", "")),
    "a panel whose Reset does nothing": (attacks.panel_events, instead(base.Panel, "reset", lambda _: None)),
    "a slow panel": (attacks.panel_events, instead(attacks, "SLOW", 1e-4)),
    "threads that do not wait": (attacks.two_threads, _unlocked),
    "saving in place, killed": (attacks.saving_killed, saver(_SAVE_IN_PLACE)),
    "litter that nobody clears": (attacks.saving_killed, saver(_OTHER_LITTER)),
    "saving in place, by two": (attacks.two_kernels, saver(_SAVE_IN_PLACE)),
    "saving in place, disk full": (attacks.disk_full, saver(_SAVE_IN_PLACE)),
    "a full disk that nobody mentions": (attacks.disk_full, saver(_NOTHING_SAID)),
    "a batch that is a bit off": (attacks.one_and_many, wrapped(many, "simulate_rows", _slightly_off)),
    "a slow shot": (attacks.one_and_many, instead(attacks, "SLOW_SHOT", 1e-5)),
    "a title as mathematics": (attacks.hostile_build, instead(style.Drawing, "draw", style.Figure.draw)),
    "a title as markup": (attacks.hostile_string, instead(tables, "escape", str)),
    "a title as a formula": (
        attacks.hostile_string,
        wrapped(string_data, "csv_text", lambda text: text.replace('"# title: ', '"')),
    ),
    "a file under another name": (
        attacks.hostile_name,
        instead(build, "write_whole", lambda path, text: Path(f"{path}_").write_text(text)),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_fault_is_noticed(name: str, monkeypatch: Patch) -> None:
    attack, damage = FAULTS[name]
    damage(monkeypatch)
    noticed = False
    for seed in range(4 * attacks.ATTACKS[attack]):
        try:
            noticed = bool(attack(random.Random(seed)))
        except Exception:  # an attack stops at what the kit does not raise
            noticed = True
        if noticed:
            break
    assert noticed


def test_every_attack_has_a_fault_that_it_notices() -> None:
    assert {attack for attack, _ in FAULTS.values()} == set(attacks.ATTACKS)
