"""The build sheet: one page of HTML that another builder can follow, on a phone or on paper.

What it is for: `build_sheet` puts what the kit knows of a build on two or three pages that need no network,
no script and no other file.  What it leaves out: any computing.

The page forbids itself everything but its own style and pictures that it holds, and every text of a user is
escaped, so that a title stays a title.

References
----------
W3C, *Content Security Policy Level 3*, 2018: default-src, style-src with a hash.
W3C, *CSS Paged Media Module Level 3*, 2018: @page, break-inside.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from html import escape
from importlib import metadata
from pathlib import Path

from blasterlab import units
from blasterlab.bench.cap_risk import Caps, speed_cap
from blasterlab.bench.predict import Prediction, chance_over
from blasterlab.bench.strings import ChronoString
from blasterlab.build import Build
from blasterlab.buildtext import write_lines
from blasterlab.checks.cautions import in_an_eye
from blasterlab.checks.finding import Finding
from blasterlab.checks.seal_friction import leak_from_leak_down
from blasterlab.doors import through
from blasterlab.faults import fault
from blasterlab.parts.rate_tolerance import as_bought
from blasterlab.plan.compare import expected
from blasterlab.plan.cut_lengths import cut_lengths
from blasterlab.report import build as build_words
from blasterlab.report import calibration, caps, strings
from blasterlab.report.numbers import chance, confidence, sentence
from blasterlab.report.shot import CAUTION
from blasterlab.report.tables import said
from blasterlab.units import show

_STYLE = (Path(__file__).parent / "sheet.css").read_text(encoding="utf-8")
_POLICY = (
    "default-src 'none'; img-src data:; style-src 'sha256-"
    + base64.b64encode(hashlib.sha256(_STYLE.encode()).digest()).decode()
    + "'; base-uri 'none'; form-action 'none'"
)
_BLANK = "________"


def build_sheet(
    build: Build,
    *,
    string: ChronoString | None = None,
    cap: Caps | None = None,
    shots: int = 10,
    bought: Mapping[str, str] | None = None,
) -> str:
    """One page with all that another builder needs: parts, cuts, section, speed, checks, how to verify.

    Parameters
    ----------
    build : Build [-]
        The build.
    string : ChronoString or None [m/s]
        Its measured shots, where there are any.
    cap : Quantity, str, a sequence of these, or None [m/s or J]
        Of an event: how likely any of the next shots breaks it.
    shots : int [-]
        How many those are.
    bought : mapping of str to str, or None [-]
        By a name of the parts' table, price and lead time in words, such as ``{"barrel": "9 EUR, 3 weeks"}``;
        blanks are left for the others.

    Returns
    -------
    str
        A page in HTML, units as chosen [-].

    Raises
    ------
    ValueError
        An unknown part, a cap or shots outside their ranges.
    """
    given = {name: cell for name, cell in build_words.parts(build).rows.items() if "lengths" not in name}
    unknown = [name for name in bought or {} if name not in given]
    if unknown:
        raise units.UnitError(fault("bought", units.shown(unknown[0]), f"one of {', '.join(given)}"))
    parts = [
        [name, *said(cell), (bought or {}).get(name, _BLANK)]
        for name, cell in given.items()
        if name != "prime"
    ]
    guess = expected(build)
    findings, drawing = build.check(), through("power_train")(build, width=_WIDE)
    picture = base64.b64encode(drawing.svg().encode()).decode()
    title, version = escape(build.title), metadata.version("blasterlab")
    body = [
        f"<h1>{title}</h1>",
        *(f"<p>{escape(text)}</p>" for text in (build.author, build.note, _MADE.format(version)) if text),
        f'<div class="caution"><strong>{escape(CAUTION)}</strong>{_findings(findings, grave=True)}</div>',
        f'<img alt="{escape(drawing.caption)}" src="data:image/svg+xml;base64,{picture}">',
        _section("What it shoots", _list(_speed(build, guess, string, cap, shots))),
        _section(
            "Parts",
            _table(("part", "what it is", "price, lead time"), parts) + _list(build_words.sources(build)),
        ),
        _section(
            "Cut list",
            _table(("cut", "to", "within 1 % of its speed"), _cuts(build)) + _list([*_uncut(build), _SAW]),
        ),
        _section("Prime", _list([_pull(build)])),
        _section(
            "Checks passed, or worth knowing",
            _list([_UNMEASURED] * bool(build.assumed)) + _findings(findings, grave=False),
        ),
        _section("How to verify it", _list(_verify(build, guess))),
        _section("Build text", f"<p>Copy all of it into the kit.</p><pre>{escape(build.to_text())}</pre>"),
    ]
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{escape(_POLICY)}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f"<title>{title}</title><style>{_STYLE}</style></head><body>\n"
        + "\n".join(body)
        + "\n</body></html>\n"
    )


_TUBE = "chamber.tube_length"
_WIDE = 540  # px: letters large enough for a phone
_MADE = "Computed by blasterlab {}: no licensed engineer's approval, and no permission to shoot."
_SAW = "Cut long, shoot, cut again: a cut cannot be undone. Clamp the part, wear eye protection, deburr it."
_UNMEASURED = "checked with values that are assumed, see Parts: measure them before you rely on these checks"


def _section(title: str, inside: str) -> str:
    return f"<section><h2>{title}</h2>{inside}</section>"


def _list(lines: Sequence[str]) -> str:
    items = (f"<li>{escape(sentence(line))}</li>" for line in lines)
    return f"<ul>{''.join(items)}</ul>" if lines else ""


def _findings(findings: Sequence[Finding], grave: bool) -> str:
    """Findings to mend or to mind, or the others, each with its source."""
    shown = [one for one in findings if (one.severity != "info") is grave]
    heads = [one.severity if grave else one.part for one in shown]
    return _list(
        [f"{head}: {one.message} Source: {one.source}" for head, one in zip(heads, shown, strict=True)]
    )


def _table(head: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    heads = "".join(f'<th scope="col">{escape(text)}</th>' for text in head)
    lines = "".join(f"<tr>{''.join(f'<td>{escape(text)}</td>' for text in row)}</tr>" for row in rows)
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{lines}</tbody></table>"


def _speed(
    build: Build, guess: Prediction | None, string: ChronoString | None, cap: Caps | None, shots: int
) -> list[str]:
    """Measured and predicted speed, and the risk of breaking a cap."""
    rows = strings.summary_rows(string.summary()) if string else {}
    told = [f"measured, {name}: {rows[name]}" for name in ("shots", "mean", "SD of one shot") if string]
    told += calibration.prediction(guess) if guess else ["the dart never leaves with these losses"]
    if guess:
        told.append(in_an_eye(0.5 * build.dart.mass * guess.speed**2, build.dart.diameter))
    if cap is None:
        return told
    if string is not None:
        return told + caps.cap_risk(
            (string if string.dart_mass else string.of_dart(build.dart)).cap_risk(cap, shots)
        )
    rules = speed_cap(cap, build.dart.mass).rules
    over, name = chance(chance_over(build, cap, shots)), "cap" if len(rules) == 1 else "strictest of"
    return [*told, f"any of {shots} shots over the {name} {caps.as_given(rules)}: {over}", caps.CAUTION]


def _cuts(build: Build) -> list[list[str]]:
    """Lengths to cut to, with the lengths that do as well; nobody cuts to an assumed one."""
    rows = [
        [
            build_words.plain(one.name),
            show(one.length, "length", 4),
            f"{show(one.low, 'length', 3)} to {show(one.high, 'length', 3)}",
        ]
        for one in cut_lengths(build)
        if one.name not in build.assumed
    ]
    if _TUBE in build.assumed:
        return rows
    tube, unsure = build.chamber, " (assumed)" * ("chamber.stroke" in build.assumed)
    least = f"not shorter: {show(tube.stroke, 'length', 4)} of stroke{unsure} and the plunger's head must fit"
    return [*rows, [build_words.plain(_TUBE), show(tube.tube_length, "length", 4), least]]


def _uncut(build: Build) -> list[str]:
    """Which lengths the cut list leaves out."""
    out = [build_words.plain(name) for name in ("barrel.length", _TUBE) if name in build.assumed]
    return [f"left out, because only assumed: {', '.join(out)}"] * bool(out)


def _pull(build: Build) -> str:
    pull = build.prime
    start, peak = (show(force, "force", 3) for force in (pull.start_force, pull.peak_force))
    work, way = show(pull.work, "energy", 3), show(pull.hand_travel, "length", 3)
    return f"{start} at the front stop, {peak} at the catch, {work} of work over {way}"


def _verify(build: Build, guess: Prediction | None) -> list[str]:
    """Measurements that tell whether the build is what its sheet says."""
    half = show(float(build.prime.curve["hand_force_N"].iloc[50]), "force", 3)
    peak = show(build.prime.peak_force, "force", 3)
    tests = [f"pull test: draw it slowly with a scale: {half} halfway, {peak} at the catch"]
    with suppress(units.UnitError):  # no tolerance is tabulated for a spring like this
        tests[0] += f"; a spring as bought has its rate to ±{100 * as_bought(build.spring).fraction:.0f} %"
    leak, way = build.si["losses.seal_leak_area"], min(0.5 * build.chamber.stroke, units.quantity(0.02, "m"))
    if leak > 0.0:
        push = units.quantity(20.0, "N")
        seconds = leak_from_leak_down(build.chamber.bore, way, "1 s", push).m_as("m^2") / leak
        tests.append(
            "leak-down: close the barrel and press the plunger with "
            f"{show(push + build.losses.seal_friction, 'force', 3)}; once the air is squeezed, "
            f"{show(way, 'length', 3)} should take {seconds:.2g} s or longer"
        )
    if guess:
        low, high = show(guess.mean_low, "speed", 3), show(guess.mean_high, "speed", 3)
        tests.append(
            f"chronograph: shoot ten; their mean should be {low} to {high} ({confidence(guess.level)}). "
            "The kit learns the losses from the ten readings and narrows the range"
        )
    return tests


def post(build: Build) -> str:
    """A build for a forum: what it shoots with its range and a caution, then its text in the fewest lines."""
    with_what, guess = f"a dart of {show(build.dart.mass, 'mass', 3)}", expected(build)
    told = f"{with_what} never leaves"
    if guess:
        low, high = show(guess.mean_low, "speed", 3), show(guess.mean_high, "speed", 3)
        told = f"{show(guess.speed, 'speed')}, {low} to {high} ({confidence(guess.level)}), with {with_what}"
        told += f", {calibration.WHEN[guess.source]}"
    first = f"blasterlab {metadata.version('blasterlab')}: {told}. Eye protection for everybody in range."
    return "\n".join([first, "```", *write_lines(build), "```", ""])
