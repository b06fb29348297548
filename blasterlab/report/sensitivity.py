"""What matters in words: what one step of each part does, and what to measure next.

What it is for: the sentences of `Steps` and `Matters`, and the caption of their picture.  What it leaves out:
any computing; numbers come in SI.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from blasterlab import assumed, units
from blasterlab.bench.next_measurement import DIRECT
from blasterlab.checks.cautions import EYES, LAW
from blasterlab.plan.sensitivity import Matters, Steps
from blasterlab.report.calibration import plain
from blasterlab.report.numbers import confidence, kept, share
from blasterlab.report.told import Told
from blasterlab.values import kind_of

CAUTION = f"Predicted, not measured: change one thing, shoot five, and compare. {EYES} {LAW}"

#: Keys that more than one part has, so that the part is said.
_SHARED = ("bore", "dead_volume", "length", "mass", "diameter")


def _signed(value: float, kind: str, digits: int = 3) -> str:
    text = kept(value, kind, digits)
    return text if value < 0.0 else f"+{text}"


def step_name(row: Mapping[Any, Any]) -> str:
    """A step in a builder's words, unit as chosen: ``"1 mm more stroke"``."""
    name, step = row["name"], row["step"]
    if not name:
        return "as it is"
    if name.endswith("active_coils") and step < 0.0:
        return f"{-step:g} coil{'s' if step < -1.0 else ''} cut off"
    size = units.show(abs(step), kind_of(name) or "number", 3)
    more = "more" if step > 0.0 else "less"
    return f"{size} {more} {unknown_name(name)}"


def steps(found: Steps) -> list[str]:
    """What one step of each part does, the strongest first, units as chosen.

    Parameters
    ----------
    found : Steps [-]
        From `blasterlab.plan.sensitivity.steps`.

    Returns
    -------
    list of str
        The strongest step, the build as it is, one line a step, a caution [-].
    """
    now, *rows = found.table.to_dict("records")
    lines = []
    if rows:
        first = rows[0]
        lines.append(
            f"{step_name(first)}: {_signed(first['speed_m_s'], 'speed')}, the strongest of {len(rows)}"
        )
    state = f"as it is{_best(now, ': ')}"
    if found.cap is not None:
        state += f", {_signed(now['margin_m_s'], 'speed')} from the upper end of one shot's range to the cap"
    return [*lines, state, *(step_line(row, found.cap) for row in rows), CAUTION]


def step_line(row: Mapping[Any, Any], cap: float | None) -> str:
    """One step with its ranges, units as chosen."""
    ends = (
        f"{_signed(row[f'{what}_{unit}'], kind)} ({_signed(row[f'{what}_low_{unit}'], kind)} to "
        f"{_signed(row[f'{what}_high_{unit}'], kind)})"
        for what, unit, kind in (("speed", "m_s", "speed"), ("pull", "N", "force"))
    )
    speed, pull = ends
    text = f"{step_name(row)}: {speed}"
    text += f", pull {pull}" if row["pull_N"] else ", the same pull"
    if cap is not None:
        text += f", margin to the cap {_signed(row['margin_m_s'], 'speed')}"
    return text + _best(row)


def _best(row: Mapping[Any, Any], after: str = ", ") -> str:
    """The best barrel with its range, where it was looked for."""
    barrel, low, high = (kept(row[f"best_{end}_m"], "length", 3) for end in ("barrel", "low", "high"))
    return f"{after}best barrel {barrel} ({low} to {high})" if row["best_barrel_m"] > 0.0 else ""


def steps_told(found: Steps) -> Told:
    """What the tuning panel says: where the build stands, which step helps under a cap, then every step."""
    now, *rows = found.table.to_dict("records")
    key = kept(now["muzzle_velocity_m_s"], "speed")
    if rows:
        key += f"; {step_name(rows[0])} does most, {_signed(rows[0]['speed_m_s'], 'speed')}"
    verdict = ""
    if found.cap is not None:
        room = kept(abs(now["margin_m_s"]), "speed", 3)
        verdict = f"Under the cap by {room}, counted from the upper end of one shot's range."
        if now["margin_m_s"] < 0.0:
            helps = [step_name(row) for row in rows if row["margin_m_s"] >= 0.0]
            verdict = f"Over the cap by {room}, counted from the upper end of one shot's range: " + (
                f"one step would do, {helps[-1]}." if helps else "no single step is enough."
            )
    return Told(key, verdict, (), tuple(steps(found)[:-1]))


def unknown_name(name: str) -> str:
    """An unknown, a measure or a step's value as it is said, no units."""
    part, _, key = name.rpartition(".")
    if not part or part == "losses" or key == "rate":
        return plain(key if part == "losses" else name)
    said = key.replace("_", " ")
    return f"{part} {said}" if key in _SHARED and not part.startswith("spring") else said


def matters(found: Matters) -> list[str]:
    """Which unknowns move the speed most, their part of the variance, and what to measure next."""
    rows = found.table.to_dict("records")
    lines = []
    for row in rows:
        swing = sorted((row["speed_at_low_m_s"], row["speed_at_high_m_s"]))
        if swing[1] - swing[0] > 1e-3 * found.speed:
            lines.append(
                f"{unknown_name(row['name'])}: {kept(swing[0], 'speed')} to {kept(swing[1], 'speed')}, "
                f"{share(max(row['total'], 0.0))} of the variance"
            )
    top = max(rows, key=lambda row: row["total"])
    head = f"{kept(found.speed, 'speed')}; {unknown_name(top['name'])} matters most"
    return [head, *lines, f"measure next: {how_to_measure(top['name'])}"]


def how_to_measure(name: str) -> str:
    """The bench test of an unknown, from the list that `measure_next` ranks, no units."""
    for test in DIRECT:
        if test.loss == name:
            return test.name
    if name.endswith((".rate", ".active_coils")):
        return "press the spring on a kitchen scale at two lengths"
    general = assumed.general(name)
    known = assumed.DEFAULTS.get(general) or assumed.DEFAULTS.get(f"losses.{name}")
    return known.measure if known else f"measure {unknown_name(name)} again, three times"


def steps_caption(found: Steps) -> str:
    """What a picture of steps shows, with the two strongest, units as chosen."""
    rows = found.table.iloc[1:3].to_dict("records")
    said = "; ".join(f"{step_name(row)}: {_signed(row['speed_m_s'], 'speed')}" for row in rows)
    return f"Change of muzzle velocity when one part changes, with {confidence(0.9)} ranges. {said}."


def matters_caption(found: Matters) -> str:
    """What a tornado shows, with its widest bar, units as chosen."""
    row = found.table.iloc[0]
    ends = sorted((row["speed_at_low_m_s"], row["speed_at_high_m_s"]))
    return (
        "Muzzle velocity at both ends of each unknown's range, the widest on top: "
        f"{unknown_name(row['name'])}, {kept(ends[0], 'speed')} to {kept(ends[1], 'speed')} "
        f"about {kept(found.speed, 'speed')}."
    )
