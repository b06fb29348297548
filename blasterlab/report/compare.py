"""Builds side by side in words: what differs, what each shoots, what made the difference.

What it is for: the lines, the table and the captions of a `BuildComparison`.  What it leaves out: any
computing beyond rounding, so that shown shares add up to the shown difference.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence

from blasterlab import units
from blasterlab.checks.cautions import EYES
from blasterlab.plan.compare import BuildComparison, Change, Value
from blasterlab.report.build import loss
from blasterlab.report.numbers import confidence, kept
from blasterlab.report.shot import ENDINGS, carried
from blasterlab.report.tables import Cell, Table, said
from blasterlab.report.told import Told
from blasterlab.units import Quantity, show
from blasterlab.values import kind_of

_DIGITS = 2  # decimals of a share, in the chosen unit
STAYS_IN = "stays in"


def names(found: BuildComparison) -> list[str]:
    """What each build is called: its place and its title, cut short."""
    return [f"{n}: {build.title[:32].strip()}" for n, build in enumerate(found.builds, 1)]


def value(name: str, one: Value) -> str:
    """A value of a build text, units as chosen; a dash where the build says nothing."""
    if one is None or isinstance(one, bool):
        return {None: "–", True: "on", False: "off"}[one]
    return one if isinstance(one, str) else show(one, kind_of(name) or "number", 4)


def rows(found: BuildComparison) -> dict[str, Cell]:
    """The table: differing values by dotted name, then results, each for every build; units as chosen."""
    shots, pulls = found.shots, [build.prime for build in found.builds]
    level = confidence(found.level)

    def told(kind: str, cells: Iterable[Sequence[Quantity] | None]) -> Cell:
        return [" to ".join(show(v, kind, 3) for v in cell) if cell else STAYS_IN for cell in cells]

    mean = [(one.mean_low, one.mean_high) if one else None for one in found.expected]
    one_shot = [(one.next_low, one.next_high) if one else None for one in found.expected]
    energy = [
        [0.5 * build.dart.mass * v**2 for v in pair] if pair else None
        for build, pair in zip(found.builds, one_shot, strict=True)
    ]
    return {
        **{name: [value(name, one) for one in values] for name, values in found.differing.items()},
        "muzzle velocity": [
            kept(shot.muzzle_velocity, "speed") if shot.exited else ENDINGS[shot.status] for shot in shots
        ],
        f"mean, {level} range": told("speed", mean),
        f"one shot, {level} range": told("speed", one_shot),
        "muzzle energy": told("energy", ([shot.muzzle_energy] for shot in shots)),
        f"energy of one shot, {level} range": told("energy", energy),
        "pull at the catch": told("force", ([pull.peak_force] for pull in pulls)),
        f"pull, {level} range": told("force", found.pulls),
        "work of the prime": told("energy", ([pull.work] for pull in pulls)),
        "volume ratio": [f"{build.volume_ratio:.2f}" for build in found.builds],
        "best barrel": told("length", ([one.best_length] if one else None for one in found.sweeps)),
        "barrels within 1 %": told("length", (one.flat_range() if one else None for one in found.sweeps)),
    }


def shares(found: BuildComparison, place: int) -> tuple[list[tuple[str, str]], str]:
    """What made the difference of the build at this place to the first, and the whole, units as chosen.

    Parameters
    ----------
    found : BuildComparison [-]
        The comparison.
    place : int [-]
        Of a build after the first, from 1.

    Returns
    -------
    tuple of (list of tuple of (str, str), str)
        Changed names and what they did, the largest first; the sum. The rounded shares add up to it.
    """
    given = found.shares[place - 1]
    exact = [_shown(v) * 10**_DIGITS for v in given.values()]
    whole = round(_shown(found.difference(place)) * 10**_DIGITS)
    parts = [math.floor(v) for v in exact]
    order = sorted(range(len(parts)), key=lambda i: parts[i] - exact[i])
    for i in order[: whole - sum(parts)]:  # the largest remainders are rounded up
        parts[i] += 1
    told = sorted(zip(given, parts, strict=True), key=lambda pair: -abs(pair[1]))
    return [(change_words(change), _signed(part)) for change, part in told], _signed(whole)


def between(found: BuildComparison, place: int) -> str:
    """The range of the difference of the build at this place to the first, units as chosen."""
    low, high = (_signed(round(_shown(end) * 10**_DIGITS)) for end in found.ranges[place - 1])
    return f"{low.split()[0]} to {high}, {confidence(found.level)} range"


def _shown(speed: Quantity) -> float:
    return float(units.display(units.si(speed, "speed"), "speed"))


def _signed(hundredths: int) -> str:
    return f"{hundredths / 10**_DIGITS:+.{_DIGITS}f} {units.show_unit('speed')}"


def change_words(change: Change) -> str:
    """The values that change together: up to three of a part by name, more of them by their number."""
    keys: dict[str, list[str]] = {}
    for name in change:
        head, _, key = name.partition(".")
        spring = re.fullmatch(r"springs\[(\d)\]", head)
        keys.setdefault(f"spring {int(spring[1]) + 1}" if spring else head, []).append(loss(key))
    return " with ".join(
        f"{head} {own[0]}".removeprefix("losses ")
        if len(own) == 1
        else f"{head} ({', '.join(own) if len(own) < 4 else f'{len(own)} values'})"
        for head, own in keys.items()
    )


def side_by_side(found: BuildComparison) -> Table:
    """Builds side by side as a table, then what made the difference."""
    return Table("", {"": names(found), **rows(found)}, remarks(found))


def remarks(found: BuildComparison) -> list[str]:
    """What made each difference, and how it was shared out."""
    said = []
    for place in range(1, len(found.builds)):
        parts, whole = shares(found, place)
        told = ", ".join(f"{name} {part}" for name, part in parts)
        why = f", of which {told}" if parts else "; nothing that differs changes the shot"
        said.append(f"{place + 1} against 1: {whole} ({between(found, place)}){why}.")
    stuck = [shot for shot in found.shots if not shot.exited]
    hardest = max(found.shots, key=lambda shot: shot.muzzle_energy)
    return [
        *([f"{carried(hardest)} {EYES}"] if hardest.exited else []),
        *said,
        "Each share is the mean over all orders of making the changes: none depends on which came first. "
        "What is unknown of both builds counts once, so a difference is better known than either speed.",
        *(["A dart that stays in the barrel counts as zero speed."] if stuck else []),
    ]


def caption(found: BuildComparison) -> str:
    """The caption of the overlaid curves."""
    table = {name.partition(",")[0]: said(cell) for name, cell in rows(found).items()}
    told = zip(names(found), table["muzzle velocity"], table["mean"], strict=True)
    speeds = "; ".join(f"{name} {speed} (mean {ends})" for name, speed, ends in told)
    ranges = f"{confidence(found.level)} ranges"
    return f"Velocity against barrel length with {ranges}, and pull against travel. {speeds}"


def share_caption(found: BuildComparison, place: int) -> str:
    """The caption of the shares' bars."""
    parts, whole = shares(found, place)
    told = ", ".join(f"{name} {part}" for name, part in parts[:3])
    return f"{place + 1} against 1: {whole}" + (f", mostly {told}" if told else "")


def panel_words(found: BuildComparison) -> Told:
    """What the panel says of two builds."""
    table = {name: said(cell) for name, cell in rows(found).items()}
    parts, whole = shares(found, 1)
    most = ", mostly {} {}".format(*parts[0]) if parts else ""
    key = f"{' and '.join(table['muzzle velocity'])}: {whole}"
    key += most if len(key + most) < 95 else ""
    told = [f"{name}: {', '.join(cells)}." for name, cells in table.items()]
    side = "faster" if found.difference(1).m > 0 else "slower"
    low, high = found.ranges[0]
    unsure = f", and may be no {side} at all" if low.m < 0.0 < high.m else ""
    verdict = (
        f"The second build is {whole.lstrip('+-')} {side} than the first ({between(found, 1)}{unsure}){most}."
    )
    more = (*remarks(found), *(f"{line[0].upper()}{line[1:]}" for line in told))
    return Told(key, verdict if parts else "Both builds shoot alike.", (), more)
