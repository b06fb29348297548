"""A shot in words: how it ended, where its energy went, and where its numbers are less certain.

What it is for: sentences and captions from codes and numbers of a shot, or of many, for panels, figures and
`print`.  What it leaves out: the numbers themselves (``shot``) and barrel lengths (``barrel_length``).
"""

from __future__ import annotations

from collections.abc import Sequence

from blasterlab import units
from blasterlab.bench.cap_risk import SpeedCap
from blasterlab.checks.cautions import EYES, LAW, in_an_eye
from blasterlab.checks.finding import Finding
from blasterlab.report.build import cost
from blasterlab.report.caps import standing
from blasterlab.report.findings import gravest
from blasterlab.report.numbers import WHEN, kept, sentence
from blasterlab.report.tables import Cell, Table
from blasterlab.shot.assumptions import TRANSIT
from blasterlab.shot.ledger import net_ledger
from blasterlab.shot.rules import TIME_LIMIT
from blasterlab.shot.simulate import Shot
from blasterlab.shot.speed_range import SpeedRange, range_of

CAUTION = f"{EYES} {LAW} A spring in its tube is loaded."
#: A speed within this part of its range from the upper end is said to be the best that can be (own choice).
_EDGE = 0.02
#: `rules.STATUS` in words that need no number; "" for a dart that left.
ENDINGS = {
    "exited": "",
    "no breakaway": "the dart never broke away",
    "stalled": "the dart stalled in the barrel",
    "no release": "the plunger never moved",
    "time limit": "the dart was still in the barrel at the time limit",
    "failed": "the integration did not converge",
    "not run": "interrupted before its turn",
}


FAST_DART = (
    "the dart runs at {} of the speed of sound in the gas behind it; the model takes that gas as one "
    "pressure with a small gradient, and leaves out its waves"
)
HEAVY_AIR = (
    "the air in the barrel weighs {}, more than the dart's {}; the model takes it as a small addition to the "
    "dart"
)


def summary(shot: Shot) -> list[str]:
    """A shot in a line: speed, energy, time and pressure, or why the dart stayed in; then its cautions.

    Parameters
    ----------
    shot : Shot [-]
        A shot.

    Returns
    -------
    list of str
        Sentences [-].
    """
    first = reason(shot)
    if shot.exited:
        speed, energy = units.show(shot.muzzle_velocity, "speed"), units.show(shot.muzzle_energy, "energy", 3)
        when, peak = units.show(shot.exit_time, "time", 3), units.show(shot.peak_pressure, "pressure", 3)
        first = f"{speed} ({energy}) after {when}; peak pressure {peak} absolute"
    return [sentence(first), *cautions(shot, [])]


def numbers(shot: Shot) -> Table:
    """A shot as a short table under its line, units as chosen; what was assumed and cautions below."""
    first, *rest = summary(shot)
    rows: dict[str, Cell] = {
        "muzzle velocity": (shot.muzzle_velocity, "speed", 4),
        "muzzle energy": (shot.muzzle_energy, "energy", 3),
        "time to the exit": (shot.exit_time, "time", 3),
        "peak pressure, absolute": (shot.peak_pressure, "pressure", 3),
        "given by the spring": (shot.spring_work, "energy", 3),
        "reached the dart": f"{100 * shot.efficiency:.1f} % of what the spring holds at the catch",
    }
    if shot.exited:
        rest.append(f"{carried(shot)} {EYES}")
    if shot.build.assumed and shot.charge is None:
        found = range_of(shot.build)
        rest[:0] = cost(shot.build.assumed, (found.low, found.best, found.high), found.shares)
    return Table(first, rows, rest)


def reason(shot: Shot) -> str:
    """Why a dart did not leave, "" when it did.

    Parameters
    ----------
    shot : Shot [-]
        A shot.

    Returns
    -------
    str
        A clause without a full stop [-].
    """
    if shot.status == "no breakaway":
        peak, hold = units.show(shot.peak_force, "force", 3), units.show(shot.dart_hold, "force", 3)
        return f"the dart never broke away: at most {peak} acts on it; it needs {hold} to start"
    if shot.status == "stalled":
        place = units.show(shot.dart_travel, "length", 3)
        return f"the dart stalled {place} down the barrel: too much friction or leak, or too long a barrel"
    if shot.status == "no release":
        hold = units.show(shot.seal_hold, "force", 3)
        return f"the plunger never moved: the spring pushes with less than the seal's {hold}"
    if shot.status == "time limit":
        return f"the dart was still in the barrel after {units.show(TIME_LIMIT, 'time', 3)}"
    if shot.status == "failed":
        return "the integration did not converge; please report this build"
    return ""


def warnings(shot: Shot) -> list[str]:
    """Assumptions of the model that a shot breaks.

    Parameters
    ----------
    shot : Shot [-]
        A shot.

    Returns
    -------
    list of str
        A clause without a full stop for each; empty when all hold [-].
    """
    found = []
    for code, value, limit in shot.broken_assumptions:
        if code == "fast dart":
            found.append(FAST_DART.format(f"{value:.2f}"))
        elif code == "heavy air":
            found.append(HEAVY_AIR.format(units.show(value, "mass", 3), units.show(limit, "mass", 3)))
        else:
            found.append(
                f"a wave needs {units.show(value, 'time', 3)} through the spring and the shot takes "
                f"{units.show(limit / TRANSIT, 'time', 3)}; the model lets the spring move as one, with a "
                "share of its mass on the plunger"
            )
    return found


def cautions(shot: Shot, findings: Sequence[Finding]) -> list[str]:
    """What a builder must hear beside a shot's numbers.

    Parameters
    ----------
    shot : Shot [-]
        A shot.
    findings : sequence of Finding [-]
        Of its build, the gravest first.

    Returns
    -------
    list of str
        The two gravest findings at the most, then each of `warnings` [-].
    """
    return [*gravest(findings), *(f"Less certain here: {doubt}." for doubt in warnings(shot))]


def carried(shot: Shot) -> str:
    """What the dart carries at the muzzle and what that is in an eye, for beside its energy; it left."""
    return f"{in_an_eye(shot.muzzle_energy, shot.build.dart.diameter)}."


def here(shot: Shot) -> str:
    """The muzzle velocity, or that the dart stays in: what stands at a shot's mark in a picture."""
    return kept(shot.muzzle_velocity, "speed") if shot.exited else "the dart stays in"


def reach(low: float, high: float) -> str:
    """The ends of a speed's range [m/s], such as ``"57.9 to 67.2 m/s"`` [-]."""
    return f"{kept(low, 'speed', 3).split()[0]} to {kept(high, 'speed', 3)}"


def answer(shot: Shot, found: SpeedRange | None, cap: SpeedCap | None) -> str:
    """The speed of a shot that came out, its range and what that rests on, and how it stands to a cap."""
    said = [here(shot)]
    if found is not None:
        said[0] += " at best" if found.best > found.high - _EDGE * (found.high - found.low) else ""
        said.append(f"{reach(found.low, found.high)} {WHEN[found.source]}")
    if cap is not None:
        said.append(standing(cap, shot.muzzle_velocity, None if found is None else found.high))
    return ", ".join(said)


def energy_rows(shot: Shot) -> list[tuple[str, float, str]]:
    """Where the energy of a shot went.

    Parameters
    ----------
    shot : Shot [-]
        A shot.

    Returns
    -------
    list of tuple of (str, float, str)
        Entry, energy [J], and both it and its share of what was put in in words, the largest first.
    """
    put_in, found = units.si(shot.energy_in, "energy"), []
    entries = net_ledger(shot.parameters, shot.outcome, shot.state)
    for name, value in sorted(entries.items(), key=lambda entry: -entry[1]):
        share = f", {100.0 * value / put_in:.1f} %" if put_in > 0.0 else ""
        found.append((name, value, units.show(value, "energy", 3) + share))
    return found


def _largest(shot: Shot) -> str:
    rows, put_in = energy_rows(shot)[:3], units.si(shot.energy_in, "energy")
    return ", ".join(f"{name} {100.0 * value / put_in:.1f} %" for name, value, _ in rows)


def energy_line(shot: Shot) -> str:
    """Where the energy of a shot went, in a sentence; the dart left."""
    given = units.show(shot.energy_in, "energy", 3)
    return f"By the time the dart left, the spring had given {given}: {_largest(shot)}."


def energy_caption(shot: Shot) -> str:
    """The caption of the energy ledger's picture."""
    if shot.energy_in.magnitude <= 0.0:
        return f"No energy was put in: {reason(shot) or 'the charge is at ambient pressure'}"
    return f"{units.show(shot.energy_in, 'energy')} put in: {_largest(shot)}"


def history_caption(shot: Shot) -> str:
    """The caption of a shot's pressures, travels and speeds in time."""
    peak = units.show(shot.peak_pressure, "pressure")
    lowest = units.show(float(shot.history["barrel_pressure_Pa"].min()), "pressure")
    left = f"the dart leaves after {units.show(shot.exit_time, 'time')} with {here(shot)}"
    return (
        f"Peak {peak} absolute; {left if shot.exited else reason(shot)}; lowest pressure behind it {lowest}"
    )
