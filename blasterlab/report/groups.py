"""Groups in words: predicted and measured spreads, their causes, the chance of a hit, and both side by side.

What it is for: sentences, captions and labels from groups.  What it leaves out: single flights
(`report.flight`).
"""

from __future__ import annotations

from collections.abc import Sequence

from blasterlab import units
from blasterlab.flight.comparison import DIRECTIONS, Comparison
from blasterlab.flight.dispersion_result import Causes, Dispersion
from blasterlab.flight.group_on_target import GroupOnTarget
from blasterlab.flight.group_statistics import Interval
from blasterlab.flight.measured_group import MeasuredGroup
from blasterlab.report.numbers import chance, kept, sentence, share
from blasterlab.report.told import Told
from blasterlab.units import Quantity

_NAMED, _LEAST = 3, 0.05  # causes that are named at most, and the least share of one
_SAID = {"across": "across", "up and down": "up and down", "together": "overall"}


def interval(one: Interval[Quantity]) -> str:
    """A length with the ends of its interval, such as ``"41.0 mm (33.1 to 55.0 mm)"`` [-]."""
    value, low, high = (kept(end, "length", 3) for end in (one.value, one.low, one.high))
    return f"{value} ({low.removesuffix(units.show_unit('length')).strip()} to {high})"


def dispersion(group: Dispersion) -> str:
    """A predicted group in one sentence [-]."""
    return (
        f"{_shots(group)}: extreme spread {interval(group.extreme_spread)}, half within "
        f"{kept(group.cep, 'length', 3)} of the centre"
    )


def _shots(group: Dispersion) -> str:
    return f"{group.shots} shots at {units.show(group.distance, 'distance', 3)}"


def causes(result: Causes) -> str:
    """Which causes make the vertical and the horizontal spread, in one sentence [-]."""
    parts = []
    for name, axis, sd in (("vertical", 1, result.sd_up), ("horizontal", 0, result.sd_right)):
        ranked = sorted(((part[axis], cause) for cause, part in result.shares.items()), reverse=True)
        told = ", ".join(f"{share(part)} {cause}" for part, cause in ranked[:_NAMED] if part >= _LEAST)
        parts.append(f"{name} spread {kept(sd, 'length', 3)}: {told}" if told else f"no {name} spread")
    return "; ".join(parts)


def measured_group(group: MeasuredGroup) -> str:
    """A measured group in one sentence [-]."""
    right, up = (units.si(one, "length") for one in group.centre)
    spot = (
        f"{kept(abs(right), 'length', 2)} {'right' if right >= 0 else 'left'} and "
        f"{kept(abs(up), 'length', 2)} {'high' if up >= 0 else 'low'}"
    )
    return (
        f"{group.count} shots, centre {spot}; sigma {interval(group.sigma)}, extreme spread "
        f"{kept(group.extreme_spread, 'length', 3)}"
    )


def comparison(result: Comparison) -> str:
    """A measured group against the predicted one, in one sentence [-]."""
    parts = [
        f"{_SAID[name]} {one.value:.2f} times the prediction ({one.low:.2f} to {one.high:.2f})"
        if (one := result.ratio.get(name))
        else f"{_SAID[name]} no spread is predicted"
        for name in DIRECTIONS
    ]
    return f"{'; '.join(parts)}: {_verdict(result)}"


def _verdict(result: Comparison) -> str:
    if not result.odd:
        return "chance alone explains that"
    found = []
    for word, names in (
        ("wider", [name for name in result.odd if result.larger[name] < 0.5]),
        ("narrower", [name for name in result.odd if result.larger[name] >= 0.5]),
    ):
        if names:
            where = "in every direction" if len(names) == len(DIRECTIONS) else _listed(names)
            found.append(f"{word} than predicted {where}")
    return f"{' and '.join(found)}; chance alone is unlikely"


def _listed(names: Sequence[str]) -> str:
    said = [_SAID[name] for name in names]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def on_target(result: GroupOnTarget) -> str:
    """The group and the chance of a hit in one line: the caption of `group_chart` [-]."""
    words = f"{dispersion(result.group)}; {chance(result.chance.value)} hit the target"
    return words if result.measured is None else f"{words}; measured {measured_group(result.measured)}"


def hits(result: GroupOnTarget) -> str:
    """The chance of a hit, and where it falls to one half: the caption of `hit_chart` [-]."""
    half, last = result.half_way, result.corrected["distance_m"].iloc[-1]
    where = (
        f"one half at {kept(half, 'distance', 2)}"
        if half
        else (f"above one half up to {units.show(float(last), 'distance', 3)}")
    )
    return f"Chance of a hit {hit_label(result)}, {where} with the hold corrected"


def hit_label(result: GroupOnTarget) -> str:
    """The chance at the target [-]."""
    return f"{chance(result.chance.value)} at {units.show(result.group.distance, 'distance', 3)}"


def face_labels(result: GroupOnTarget) -> dict[str, str]:
    """The labels of `group_chart`, by what they stand at [-]."""
    measured = result.measured
    return {
        "dots": "darts",
        "half": kept(result.group.cep, "length", 3),
        "mean": kept(result.group.mean_radius.value, "length", 3),
        "target": chance(result.chance.value),
        "holes": f"{measured.count} holes" if measured else "",
        "circle": kept(measured.cep.value, "length", 3) if measured else "",
    }


def group_words(result: GroupOnTarget) -> Told:
    """What the group panel says [-]."""
    group, heard = result.group, list[str]()
    spread = kept(result.group.extreme_spread.value, "length", 3)
    key = (
        f"{_shots(group)}: extreme spread {spread}, half within "
        f"{kept(group.cep, 'length', 3)}, {chance(result.chance.value)} hit"
    )
    lines = [
        f"Extreme spread {interval(result.group.extreme_spread)} in nine groups of ten.",
        *map(sentence, causes(group.causes).split("; ")),
        f"Mean radius {interval(result.group.mean_radius)}.",
        f"{hits(result)}.",
    ]
    if result.lone_hole:
        heard.append("One hole cannot show a spread; add another.")
    if result.measured is not None and result.comparison is not None:
        heard.append(f"The holes against the prediction: {_verdict(result.comparison)}.")
        lines += [
            f"Measured: {measured_group(result.measured)}.",
            f"Against the prediction: {comparison(result.comparison)}.",
        ]
    tens = 10.0 * result.chance.value
    of_ten = f"about {tens:.0f} darts in 10 hit"
    if not 0.95 <= tens < 9.5:
        of_ten = "nearly every dart hits" if tens > 1.0 else "fewer than one dart in 10 hits"
    verdict = (
        f"At {units.show(group.distance, 'distance', 3)} {of_ten} this target; a group of {group.shots} "
        f"spans about {spread}."
    )
    return Told(key, verdict, tuple(heard), tuple(lines))


#: What the first clicks on a photograph mean, in order; all later ones are holes.
_STEPS = (
    "one end of a length you know, such as a ruler or an edge of the paper",
    "the other end of that length",
    "the point of aim",
)
CLICKS = len(_STEPS)


def next_click(done: int, loaded: bool, known: bool) -> str:
    """What to do now with a photograph: clicks that are done, whether it and its length are there [-]."""
    if not loaded:
        return "Choose a picture taken square to the paper, with a length on it that you know."
    if done > 1 and not known:
        return "Type the length between your two marks into the box, such as 150 mm."
    if done < CLICKS:
        return f"Click {_STEPS[done]}."
    return f"Click each hole: {done - CLICKS} so far. To take a click back, delete its line in the box."


def photograph(clicks: int) -> str:
    """The alternative text of a photograph [-]."""
    return f"The photograph with {clicks} clicks on it"


def taken(group: MeasuredGroup) -> str:
    """That a photograph's holes are in the panel [-]."""
    return f"{group.count} holes are now in the panel's box of measured holes."


def sheet(square: str) -> str:
    """What to do with the sheet, whose squares are so wide [-]."""
    return f"Click where a hole is; one square is {square}. To take one back, delete its line in the box."


def sheet_alt(square: str) -> str:
    """The alternative text of the sheet [-]."""
    return f"A sheet to click holes on; one square is {square}"
