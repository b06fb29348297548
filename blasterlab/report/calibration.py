"""Calibrations and predictions in words: what was learned, what the strings leave open, what to expect.

What it is for: the sentences of `Calibration` and `Prediction`, and the captions of their pictures.  Leaves
out: any computing; numbers come in SI or with their units.
"""

from __future__ import annotations

import math

from blasterlab import units
from blasterlab.bench.calibration import Calibration
from blasterlab.bench.predict import Prediction
from blasterlab.bench.strings import ChronoString
from blasterlab.parts.loss_uncertainty import loss_kind
from blasterlab.parts.priors import NINE_IN_TEN
from blasterlab.plan.learning import Learning
from blasterlab.report import build
from blasterlab.report.numbers import WHEN, confidence, kept, sentence, share
from blasterlab.report.told import Told
from blasterlab.tables import pd
from blasterlab.units import Quantity

_PRESS = "Press Learn: these strings tell what friction and leaks this build has."
_PASTE = "Paste the shots of this build into string 1, then press Learn."
_SAME = "Both strings are taken as shot with the same build: choose what was changed for string 2."
_USE = "“Use these losses in my build” saves them with it: every notebook then starts from them."
_CARRIES = "Saved as {}, which carries these losses: every notebook that starts from it uses them."
_ANEW = "This build carries learned losses already; Learn finds them anew, from the strings below alone."
_ASSUMED, _DEMO = "Assumed, not measured", "Still the demo's, unless yours is the same"
_ALIKE = 0.005  # of a speed: two that differ less are said to be the same; own choice


def calibration(found: Calibration) -> list[str]:
    """What was learned, how well it fits, and what to mind, units as chosen; one line each."""
    strings = _count(len(found.pairs), "string")
    lines = [f"losses learned from {strings}, {_count(found.learned.shots, 'shot')}"]
    for row in learned_table(found).to_dict("records"):
        lines.append(
            f"  {row['loss']}: {row['best']} ({row['after']}; before {row['before']}; "
            f"uncertainty left {row['uncertainty_left']})"
        )
    for row in found.residuals.to_dict("records"):
        measured, model = (units.show(row[f"{key}_m_s"], "speed") for key in ("measured", "predicted"))
        lines.append(
            f"  {row['string']}: measured {measured}, calibrated model {model} "
            f"({row['in_standard_uncertainties']:+.1f} standard uncertainties)"
        )
    return [*lines, *cannot_tell(found), *remarks(found)]


def learned_table(found: Calibration) -> pd.DataFrame:
    """Each free loss in words, units as chosen: range before, best value, 90 % limits, uncertainty left."""
    rows = []
    for row in found.table.to_dict("records"):
        name, best, high = row["loss"], row["best"], row["high"]
        sd = (high - row["low"]) / (2 * NINE_IN_TEN)
        fine = max(1 + math.ceil(math.log10(max(best / sd, 1.0))), 2)
        rows.append(
            {
                "loss": plain(name),
                "before": f"{_loss(name, row['before_low'])} to {_loss(name, row['before_high'])}",
                "best": _loss(name, best, fine),
                "after": f"{_loss(name, row['low'], fine)} to {_loss(name, high, fine)}",
                "uncertainty_left": share(min(row["left"], 1.0)),
            }
        )
    return pd.DataFrame(rows)


def cannot_tell(found: Calibration) -> list[str]:
    """What the strings leave open, one sentence each, no units."""
    lines = [
        f"{plain(name)}: hardly known better than before; still your starting guess" for name in found.no_news
    ]
    for one, other, r in found.trade_offs:
        pair = f"{plain(one)} and {plain(other)}"
        lines.append(f"{pair} trade off (correlation {r:+.2f}): the strings fix only a mix of the two")
    strings, count = len(found.pairs), len(found.names)
    verb = "fixes" if strings == 1 else "fix"
    return [
        *lines,
        f"{_count(strings, 'string')} {verb} {found.fixed} of {_count(count, 'combination')} of the free "
        "losses; the rest is your starting range",
    ]


def remarks(found: Calibration) -> list[str]:
    """What to mind about a calibration, one sentence each, no units."""
    odd = [
        f"{string.title or build.title}: {string.odd_shots()}"
        for build, string in found.pairs
        if string.odd_shots()
    ]
    if found.mixed_darts:
        odd.append("different darts or barrel bores are assumed to share one friction and one gap")
    if found.far_out:
        names = ", ".join(plain(name) for name in found.far_out)
        odd.append(f"far outside the usual range: {names}; check the build's dimensions")
    for other in found.alternatives:
        values = ", ".join(f"{plain(name)} {_loss(name, value, 2)}" for name, value in other.items())
        odd.append(f"another answer fits about as well: {values}; a string of another kind tells which")
    if found.effective < 100.0:
        odd.append("the strings leave an odd-shaped range: its limits are rough")
    worst = float(abs(found.off).max())
    if worst > 3.0:
        odd.append(
            f"a string is {worst:.1f} standard uncertainties from the calibrated model: a dimension of that "
            "build, its spring rate or the string is wrong, or the model lacks something there"
        )
    return odd


def prediction(guess: Prediction) -> list[str]:
    """A predicted speed with its intervals, and what makes them up, units as chosen."""
    main, most = max(guess.shares.items(), key=lambda one: one[1])
    losses = "losses" if guess.source == "strings" else "losses and springs"
    parts = {losses: guess.from_losses, "setup": guess.from_setup, "chronograph": guess.from_chronograph}
    parts |= {"one shot": guess.from_shots}
    ends = [guess.mean_low.m, guess.speed.m, guess.mean_high.m]
    stuck = ["with some of these losses the dart stays in the barrel"] if guess.mean_low.m == 0.0 else []
    return [
        f"{guess.title}: {_speed(guess.speed)} {WHEN[guess.source]}; mean {_speed(guess.mean_low, 3)} to "
        f"{_speed(guess.mean_high, 3)}, one shot {_speed(guess.next_low, 3)} to {_speed(guess.next_high, 3)} "
        f"({confidence(guess.level)})",
        "standard uncertainties: " + ", ".join(f"{k} {_speed(v, 2)}" for k, v in parts.items() if v.m > 0.0),
        *build.cost(guess.assumed, ends, guess.shares),
        f"largest single source: {plain(main)}, {share(min(most, 1.0))} of the mean's variance",
        *stuck,
    ]


def calibration_caption(found: Calibration) -> str:
    """Caption of `calibration_chart`, units as chosen."""
    best = learned_table(found).iloc[int(found.left.argmin())]
    worst = float(abs(found.off).max())
    return (
        f"Calibration: {best['loss']} is known best, {best['best']} ({best['after']}); "
        f"the largest residual is {worst:.1f} standard uncertainties"
    )


def prediction_caption(guess: Prediction, before: Prediction | None, string: ChronoString | None) -> str:
    """Caption of `prediction_chart`, units as chosen."""
    caption = "; ".join(
        f"{WHEN[one.source]} {_speed(one.speed)} (mean {_speed(one.mean_low, 3)} to "
        f"{_speed(one.mean_high, 3)}, {confidence(one.level)})"
        for one in (before, guess)
        if one is not None
    )
    shots = "" if string is None else f"; {string.count} shots then had a mean of {_speed(string.mean)}"
    return f"Predicted {caption}{shots}"


def learning_told(found: Learning) -> Told:
    """What the panel of the losses says: the speed and why, what was learned, what is still a guess."""
    before, after, fit, heard = found.before, found.after, found.fit, _unmeasured(found)
    if len(found.pairs) == 2 and found.pairs[0][0] == found.pairs[1][0]:
        heard.append(_SAME)
    if fit is None or after is None or found.next is None:
        key, verdict = "not learned yet", _PRESS if found.pairs else _PASTE
        if (known := found.build.calibration) is not None:
            key, verdict = f"already learned from {_count(known.strings, 'string')}", _ANEW
        return Told(f"{key}; {WHEN[before.source]} {_ends(before)}", verdict, tuple(heard))
    rows = dict(zip(fit.names, learned_table(fit).to_dict("records"), strict=True))
    news, gap = [name for name in rows if name not in fit.no_news], after.speed.m - before.speed.m
    why, says = "as its text", "said" if found.used else "says"
    if abs(gap) > _ALIKE * before.speed.m:
        why = f"{kept(abs(gap), 'speed', 2)} {'slower' if gap < 0.0 else 'faster'} than its text"
        says += _because(found, fit.no_news, gap, {name: row["best"] for name, row in rows.items()})
    told = (f"{rows[name]['loss']} {rows[name]['best']} ({rows[name]['after']})" for name in news)
    guessed = [f"{plain(name)} {rows[name]['best']}" for name in fit.no_news]
    first = found.next.iloc[0]
    now, then = (kept(float(first[f"sd_{when}_m_s"]), "speed", 2) for when in ("before", "after"))
    heard += [
        f"Learned: {'; '.join(told) or 'hardly anything'}.",
        *([f"Still a guess: {', '.join(guessed)}."] if guessed else []),
        *(f"Only their mix is known: {plain(one)} and {plain(other)}." for one, other, _ in fit.trade_offs),
        *map(sentence, remarks(fit)),
        f"What would narrow it most: {first['experiment']}, {first['effort']}; the mean's "
        f"standard uncertainty from the losses, now {now}, would become {then}.",
        _CARRIES.format(found.used) if found.used else _USE,
    ]
    verdict = f"Your build shoots {_ends(after)}, {why} {says}."
    key = f"{_ends(after)}, before {_ends(before)}; {plain(best := fit.names[int(fit.left.argmin())])} "
    more = (sentence(line.strip()) for line in [*calibration(fit), *prediction(after)])
    return Told(key + rows[best]["best"], verdict, tuple(heard), tuple(more))


def _unmeasured(found: Learning) -> list[str]:
    """What matters to the speed and was only assumed, or is the demo's; units as chosen."""
    lines = []
    for head, names in ((_ASSUMED, found.assumed), (_DEMO, found.demo)):
        said = ", ".join(build.valued(found.build, name) for name in names)
        it, is_ = ("it", "it is") if len(names) == 1 else ("them", "they are")
        rest = f"Losses learned with {it} make up for whatever {is_} wrong by: measure {it} first."
        lines += [f"{head}: {said}. {rest}"] * bool(names)
    return lines


def _because(found: Learning, guesses: list[str], gap: float, best: dict[str, str]) -> str:
    """The loss that did more than half of a difference, else the largest three with what each did [m/s]."""
    side = math.copysign(1.0, gap)
    done = sorted(((side * part, name) for name, part in found.shares.items()), reverse=True)
    guess = dict.fromkeys(guesses, " (still a guess)")
    most, main = done[0]
    if most > 0.5 * abs(gap):
        own = _loss(main, getattr(found.build.losses, main))
        return f", most of it because {plain(main)} is {best[main]}, not {own}{guess.get(main, '')}"
    named = (f"{plain(n)} {kept(part, 'speed', 2)}{guess.get(n, '')}" for part, n in done[:3] if part > 0.0)
    return f"; of that: {', '.join(named)}"


def _ends(guess: Prediction) -> str:
    """A predicted speed and the range of its mean, units as chosen."""
    low, high = (kept(end, "speed", 3) for end in (guess.mean_low, guess.mean_high))
    return f"{kept(guess.speed, 'speed')} ({low.partition(' ')[0]} to {high})"


def plain(name: str) -> str:
    """A loss's name as it is said, no units."""
    if "." in name and not name.endswith(".rate"):
        return build.plain(name)
    if name.startswith("spring"):
        return f"rate of spring {int(name[6]) + 1}" if name != "spring0.rate" else "spring rate"
    return build.loss(name)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def _loss(name: str, value: Quantity | float, digits: int = 3) -> str:
    kind = loss_kind(name)
    return f"{value:.{digits}g}" if kind == "number" else units.show(value, kind, digits)


def _speed(value: Quantity, digits: int = 4) -> str:
    return units.show(value, "speed", digits)
