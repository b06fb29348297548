"""Words for springs: one in its stroke, and the captions of its pictures.

What it is for: the sentences beside force lines, cuts and pulls, in the chosen unit set.  What it leaves out:
findings, whose sentences stand with the checks, and every computation.
"""

from __future__ import annotations

from collections.abc import Sequence

from blasterlab.bench.cap_risk import SpeedCap
from blasterlab.checks.spring_limits import ForceLine
from blasterlab.checks.spring_use import SpringUse
from blasterlab.parts import coil
from blasterlab.parts.prime import Prime
from blasterlab.parts.spring import Spring
from blasterlab.report.findings import counted
from blasterlab.report.numbers import share
from blasterlab.report.shot import answer
from blasterlab.report.told import Told
from blasterlab.shot.simulate import Shot
from blasterlab.shot.speed_range import SpeedRange
from blasterlab.tables import pd
from blasterlab.units import Quantity, show

#: What the change columns of a cut list are called, in sentences and on the picture.
CUT_COLUMNS = {"rate": "rate_change", "energy": "energy_change", "muzzle velocity": "velocity_change"}
#: Characters of a line of key numbers, so that it stays on one line behind a panel's title.
_LONGEST = 92


def spring_use(use: SpringUse) -> list[str]:
    """A spring in its stroke: the line of key numbers first, then sentences."""
    return panel_words(use).lines


def panel_words(use: SpringUse, ends: Sequence[Quantity] = ()) -> Told:
    """What the spring panel says of a spring in its stroke, and perhaps between what ends its pull lies."""
    spring, pull = use.spring, use.pull
    keys = [_key(use, digits, both) for digits, both in ((3, True), (2, True), (2, False))]
    low, high = (show(end, "force", 2) for end in ends) if ends else ("", "")
    reach = f" ({low.partition(' ')[0]} to {high})" if ends else ""
    grave = [found for found in use.findings if found.severity != "info"][:2]
    heard, folded = (
        [f"{one.severity.capitalize()}: {one.message}" for one in use.findings if (one in grave) == loud]
        for loud in (True, False)
    )
    return Told(
        next((key for key in keys if len(key) <= _LONGEST), keys[-1]),  # a very soft spring in US units
        f"{_verdict(use)}; the hand pulls {show(pull.peak_force, 'force', 2)} at most{reach}.",
        (*heard, *counted(folded)),
        (
            *folded,
            f"The hand pulls {show(pull.start_force, 'force', 3)} at first, does "
            f"{show(pull.work, 'energy', 3)} of work over {show(pull.hand_travel, 'length', 3)}, and "
            f"{share(pull.stored_share)} of that is stored.",
            f"At the catch {show(use.limits.travel_to_solid, 'length', 3)} remain before the coils touch; "
            f"mass {show(spring.mass, 'mass', 3)}, index {spring.index:.1f}, the coils' own frequency "
            f"(surge) {show(spring.natural_frequency, 'frequency', 3)}.",
        ),
    )


def preload_assumed(ends: Sequence[SpringUse]) -> list[str]:
    """What the ends of an assumed preload do to pull and stress; nothing where it is not assumed."""
    if not ends:
        return []
    pulls = " to ".join(show(use.pull.peak_force, "force", 3) for use in ends)
    shares = [use.limits.use_at_length for use in ends]
    stress = " to ".join(_most(part) for part in shares if part is not None)
    return [
        f"The spring's preload is assumed: the hand pulls {pulls} at most"
        + (f", and the wire carries {stress} of its static limit." if stress else ".")
    ]


def if_it_is(wire: str, verdict: str) -> str:
    """A verdict that holds for a wire material that is assumed, with its condition; "" where none is."""
    return f"If it is {wire} wire, which is assumed: {verdict[0].lower()}{verdict[1:]}" if wire else verdict


def as_measured(spring: Spring) -> str:
    """Coils and preload as they are counted and measured on the bench, units as chosen."""
    total = coil.total_coils(spring.active_coils, spring.ends)
    room = show(spring.front_length, "length")
    said = f"As counted and measured: {total:.4g} total coils, wire end to wire end; installed length {room}."
    return f"{said} The barrel length panel takes both this way, under “More from your callipers”."


def shoots(shot: Shot | None, near: SpeedRange | None, cap: SpeedCap | None) -> str:
    """What a build shoots with the spring, its range, and how that stands to a cap, in a sentence."""
    if shot is None:
        return "This build has no room for it."
    return f"This build shoots {answer(shot, near, cap)}." if shot.exited else "This build's dart stays in."


def _verdict(use: SpringUse) -> str:
    """Whether the spring lasts, in a clause; no permission."""
    static, fresh = use.limits.use_at_length, use.limits.use_of_yield
    if static is None or fresh is None:
        return "Nothing is known of this wire's strength, so nobody can say whether it lasts"
    if static > 1.0:
        return f"Too much for this wire: {_most(static)} of its static limit at the catch"
    if fresh > 1.0:
        return "The wire bears it, but a new spring will shorten a little"
    return "The wire bears it, and the spring keeps its length"


def _key(use: SpringUse, digits: int, both: bool) -> str:
    static, fresh = use.limits.use_at_length, use.limits.use_of_yield
    stress = "stress not judged"
    if static is not None and fresh is not None:
        stress = f"{_most(static)} of the static limit"
        stress += f", {_most(fresh)} of a new spring's yield" if both else ""
    return (
        f"{show(use.spring.rate, 'spring rate', digits)}, pull {show(use.pull.peak_force, 'force', digits)}, "
        f"{show(use.line.energy, 'energy', digits)}, {stress}"
    )


def _most(use: float) -> str:
    return share(use) if use < 9.995 else ">999 %"


def line_caption(line: ForceLine) -> str:
    """The caption of a force line."""
    sets = "no yield before solid"
    if line.set_length is not None:
        sets = f"a new spring starts to shorten below {show(line.set_length, 'length', 3)}"
    if line.limit_length is not None:
        sets += f", the static limit is at {show(line.limit_length, 'length', 3)}"
    return (
        f"Force against length: {show(line.front_force, 'force', 3)} at the front stop, "
        f"{show(line.catch_force, 'force', 3)} at the catch, {show(line.energy, 'energy', 3)} between; "
        f"solid at {show(line.solid, 'length', 3)}; {sets}"
    )


def cut_caption(table: pd.DataFrame) -> str:
    """The caption of a cut list's picture: what the deepest cut changes."""
    last = table.iloc[-1]
    changes = ", ".join(f"{name} {100 * last[column]:+.0f} %" for name, column in CUT_COLUMNS.items())
    return f"Cutting {show(float(last['cut_off_m']), 'length', 3)} off: {changes}, at the same catch"


def prime_caption(pull: Prime) -> str:
    """The caption of a pull's picture."""
    return (
        f"The pull starts at {show(pull.start_force, 'force', 3)} and peaks at "
        f"{show(pull.peak_force, 'force', 3)}; {show(pull.work, 'energy', 3)} of work, "
        f"{share(pull.stored_share)} of it stored"
    )
