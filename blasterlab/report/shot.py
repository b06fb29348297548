"""A shot in words: how it ended, and where its numbers are less certain.

What it is for: sentences from codes and numbers of a shot, of many, of a barrel sweep, for panels, figures
and `print`.  What it leaves out: the numbers themselves (``shot``).
"""

from __future__ import annotations

from blasterlab import units
from blasterlab.shot.assumptions import TRANSIT
from blasterlab.shot.barrel_sweep import BarrelSweep
from blasterlab.shot.many import ShotBatch
from blasterlab.shot.rules import TIME_LIMIT
from blasterlab.shot.simulate import Shot

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
    return [f"{first[0].upper()}{first[1:]}.", *(f"Less certain here: {doubt}." for doubt in warnings(shot))]


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


def reasons(shots: ShotBatch) -> list[str]:
    """Why the darts of many shots did not leave, without numbers, "" where one did.

    Parameters
    ----------
    shots : ShotBatch [-]
        From `simulate_many`.

    Returns
    -------
    list of str
        Clauses, in the builds' order [-].
    """
    return [ENDINGS[status] for status in shots.status]


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
            found.append(
                f"the dart runs at {value:.2f} of the speed of sound in the gas behind it; the model takes "
                "that gas as one pressure with a small gradient, and leaves out its waves"
            )
        elif code == "heavy air":
            found.append(
                f"the air in the barrel weighs {units.show(value, 'mass', 3)}, more than the dart's "
                f"{units.show(limit, 'mass', 3)}; the model takes it as a small addition to the dart"
            )
        else:
            found.append(
                f"a wave needs {units.show(value, 'time', 3)} through the spring and the shot takes "
                f"{units.show(limit / TRANSIT, 'time', 3)}; the model lets the spring move as one, with a "
                "share of its mass on the plunger"
            )
    return found


def barrel_sweep(sweep: BarrelSweep) -> list[str]:
    """A barrel sweep in two lines: the best length with its 1 % band, and how the sweep was shot.

    Parameters
    ----------
    sweep : BarrelSweep [-]
        A sweep.

    Returns
    -------
    list of str
        Sentences [-].
    """
    best, speed = units.show(sweep.best_length, "length", 3), units.show(sweep.best_velocity, "speed", 3)
    short, long = (units.show(end, "length", 3) for end in sweep.flat_range(0.01))
    return [f"Best length {best}, {speed}; within 1 % from {short} to {long}.", method(sweep)]


def method(sweep: BarrelSweep) -> str:
    """How a barrel sweep was shot, and what that leaves out.

    Parameters
    ----------
    sweep : BarrelSweep [-]
        A sweep.

    Returns
    -------
    str
        A sentence [-].
    """
    if sweep.method == "separate shots":
        return "One integration for each length."
    if sweep.exact:
        return "Read off one integration through the longest barrel."
    longest = units.show(float(sweep.lengths[-1]), "length")
    return (
        f"Read off one integration through a barrel of {longest}: shorter ones have less air ahead of the "
        "dart and let its nose out earlier, which is left out."
    )
