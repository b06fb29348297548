"""Cut lists of a spring in words.

What it is for: one sentence a cut.  What it leaves out: any computing; lengths and speeds come in SI.
"""

from __future__ import annotations

from blasterlab import units
from blasterlab.plan.cutting import Cut
from blasterlab.plan.staged import SHOTS, NextCut
from blasterlab.report.calibration import prediction
from blasterlab.report.numbers import as_typed, kept
from blasterlab.tables import pd


def cut_words(table: pd.DataFrame) -> list[str]:
    """A cut list in words, one sentence a cut.

    Parameters
    ----------
    table : DataFrame [-]
        From `cut_list`.

    Returns
    -------
    list of str
        Such as ``"cut 12 mm: +6 % rate, -12 % energy at the same catch, 57.5 m/s"`` [-].
    """
    words = []
    for row in table.iloc[1:].to_dict("records"):
        loose = f", loose by {units.show(row['gap_m'], 'length', 3)}" if row["gap_m"] > 0 else ""
        words.append(
            f"cut {units.show(row['cut_off_m'], 'length', 3)}: {100 * row['rate_change']:+.0f} % rate, "
            f"{100 * row['energy_change']:+.0f} % energy at the same catch, "
            f"{units.show(row['muzzle_velocity_m_s'], 'speed', 3)}{loose}"
        )
    return words


def cut(found: Cut) -> list[str]:
    """The cut that reaches a velocity: what goes off, what it then shoots, a caution; units as chosen."""
    off, left = (units.show(v, "length", 4) for v in (found.cut_off, found.free_length))
    coils = f"{found.coils_off:.1f} coils"
    step = units.show(found.per_millimetre, "speed", 2)
    return [
        f"cut {off} off ({coils}), {left} remain; one millimetre more changes the speed by {step}",
        *prediction(found.expected),
        "a cut cannot be undone: cut less, shoot, and cut again",
    ]


def next_cut(found: NextCut) -> list[str]:
    """What to do next with a part that can only get shorter, units as chosen.

    Parameters
    ----------
    found : NextCut [-]
        From `blasterlab.plan.staged.next_cut`.

    Returns
    -------
    list of str
        What to do, what to expect, a caution [-].
    """
    now, then = (
        f"{kept(middle, 'speed')} ({kept(low, 'speed')} to {kept(high, 'speed')})"
        for low, middle, high in (found.now, found.then)
    )
    goal, length = as_typed(found.target, "speed"), units.show(found.length, "length", 4)
    if found.code == "shoot":
        return [
            f"do not cut yet: shoot {SHOTS} with the {found.part} of {length} and type their mean",
            f"expected {now}; wanted {goal}",
        ]
    if found.to is not None:
        to = units.show(found.to, "length", 4)
        return [
            f"cut the {found.part} to {to}, {units.show(found.length - found.to, 'length', 3)} off, "
            f"shoot {SHOTS} and type their mean",
            f"expected after the cut {then}, still on this side of the wanted {goal}",
            "a cut cannot be undone: mark it twice, deburr it, and wear eye protection",
        ]
    if found.code == "done":
        return [f"stop cutting at {length}: the mean is {now}, and no safe cut is closer to {goal}"]
    return [f"no cut of this {found.part} reaches {goal}: now {now}; change another part"]
