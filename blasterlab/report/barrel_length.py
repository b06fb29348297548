"""A sweep of barrel lengths in words: the best length, how flat it is, and what this barrel costs.

What it is for: what a printed sweep, the picture's caption and labels, and the panels say.  What it leaves
out: the shot (``shot``) and the volume ratio (``volume_ratio``).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from blasterlab import units
from blasterlab.bench.cap_risk import SpeedCap
from blasterlab.checks.finding import Finding
from blasterlab.report.findings import sorted_out
from blasterlab.report.numbers import WHEN, kept, sentence
from blasterlab.report.shot import answer, carried, cautions, energy_line, here, reach, reason
from blasterlab.report.tables import Cell, Table
from blasterlab.report.told import Told
from blasterlab.shot.barrel_sweep import BarrelSweep
from blasterlab.shot.parameters import Floats
from blasterlab.shot.simulate import Shot
from blasterlab.shot.speed_range import SpeedRange

LONGEST = 92  # characters of a line of key numbers, so that it fits behind a panel's title


@dataclass(frozen=True)
class SweptShot:
    """A shot, and the sweep of barrel lengths of the same build: what `VelocityView` draws.

    Parameters
    ----------
    shot : Shot [-]
        From `simulate`.
    sweep : BarrelSweep [-]
        From `barrel_sweep`.
    findings : tuple of Finding [-]
        From `Build.check`, for the words beside the picture.
    near : SpeedRange or None [m/s]
        Where the shot's speed may lie.
    band : tuple of ndarray or None [m, m/s, m/s]
        Lengths, and the ends of the range there.
    cap : SpeedCap or None [m/s]
        That the build must keep.
    best : tuple of float or None [m]
        Between which lengths the best one lies, nine times in ten.
    """

    shot: Shot
    sweep: BarrelSweep
    findings: tuple[Finding, ...] = ()
    near: SpeedRange | None = None
    band: tuple[Floats, Floats, Floats] | None = None
    cap: SpeedCap | None = None
    best: tuple[float, float] | None = None


def sweep(found: BarrelSweep) -> list[str]:
    """A sweep in two lines: the best length with its 1 % band, and how the sweep was shot.

    Parameters
    ----------
    found : BarrelSweep [-]
        A sweep.

    Returns
    -------
    list of str
        Sentences [-].
    """
    said = sentence(f"{best(found, 'best length')}; {band(found)}")
    return [said, "One integration for each length."]


def lengths(found: BarrelSweep) -> Table:
    """A sweep as a short table: its line, nine of its lengths with their speeds, and how it was shot."""
    first, how = sweep(found)
    places = np.unique(np.linspace(0, len(found.lengths) - 1, 9).round().astype(int))
    rows: dict[str, Cell] = {
        units.show(found.lengths[place], "length", 3): (float(found.velocities[place]), "speed", 4)
        for place in places
    }
    return Table(first, rows, [how])


def best(found: BarrelSweep, name: str = "best") -> str:
    """The best length, or that it lies beyond the lengths that were shot.

    Parameters
    ----------
    found : BarrelSweep [-]
        A sweep.
    name : str [-]
        What it is called.

    Returns
    -------
    str
        Such as ``"best 332 mm, 61.20 m/s"`` [-].
    """
    length = units.show(found.best_length, "length", 3)
    if found.at_end:
        longest = units.si(found.best_length, "length") > 0.5 * (found.lengths[0] + found.lengths[-1])
        return f"{'still rising' if longest else 'already falling'} at {length}"
    return f"{name} {length}, {kept(found.best_velocity, 'speed')}"


def band(found: BarrelSweep) -> str:
    """The lengths within 1 % of the best velocity.

    Parameters
    ----------
    found : BarrelSweep [-]
        A sweep.

    Returns
    -------
    str
        Such as ``"within 1 % from 286 mm to 392 mm"`` [-].
    """
    short, long = (units.show(end, "length", 3) for end in found.flat_range(0.01))
    return f"within 1 % from {short} to {long}"


def caption(found: BarrelSweep, shot: Shot) -> str:
    """The caption of velocity against barrel length.

    Parameters
    ----------
    found : BarrelSweep [-]
        A sweep.
    shot : Shot [-]
        Of the same build, with the barrel as it is.

    Returns
    -------
    str
        One line [-].
    """
    length = units.show(shot.build.barrel.length, "length", 3)
    return (
        f"Muzzle velocity against barrel length: {best(found)}; {band(found)}; "
        f"this barrel, {length}: {here(shot)}"
    )


def no_barrel(shot: Shot, longest: str) -> str:
    """Why there is no best length up to the longest barrel that was shot; the dart stayed in this one."""
    return f"barrel.length: the dart does not leave any barrel up to {longest}; {reason(shot)}"


def panel_words(result: SweptShot) -> Told:
    """What the barrel length panel says: verdict, key numbers, findings, and the rest [-]."""
    shot, found, near = result.shot, result.sweep, result.near
    build = shot.build
    at = f"{units.show(build.si['barrel.length'], 'length')}: {here(shot)}"
    at += f" ({reach(near.low, near.high).rpartition(' ')[0]})" if near is not None and shot.exited else ""
    short, long = (units.show(end, "length", 3) for end in found.flat_range(0.01))
    rest = f"; {best(found)}; within 1 % {short.split()[0]} to {long}"
    energy = f", {units.show(shot.muzzle_energy, 'energy', 3)}" if shot.exited else ""
    key = f"{at}{energy}{rest}"
    if len(key) > LONGEST:
        key = f"{at}{rest}"
    heard, folded = sorted_out(result.findings)
    doubts = cautions(shot, [])
    if not shot.exited:
        why = reason(shot)
        return Told(key, f"Nothing comes out: {why}.", (*heard, *doubts), tuple(folded))
    more = (
        *folded,
        carried(shot),
        energy_line(shot),
        f"Volume ratio, swept chamber over barrel: {build.volume_ratio:.2f}.",
    )
    verdict = f"{answer(shot, near, result.cap)}. {advised(result)}"
    return Told(key, verdict, (*heard, *_where_best(result), *doubts), more)


def advised(result: SweptShot) -> str:
    """What to do about the barrel: over the cap what brings it under, else what the best length gives."""
    return _shorter(result) or f"{_judged(result.shot, result.sweep, result.cap)}."


def _where_best(result: SweptShot) -> list[str]:
    """Between which lengths the best one may lie, where that length would keep the cap."""
    if result.best is None or result.near is None or _over(result.sweep, result.cap):
        return []
    low, high = (units.show(end, "length", 2) for end in result.best)
    longest = result.best[1] > 0.99 * float(result.sweep.lengths[-1])
    reach, first = f"{low} or more" if longest else f"{low} to {high}", result.near.source == "prior"
    tail = ": cut long, shoot, cut again" if first else ""
    return [
        f"{WHEN[result.near.source].capitalize()} the best length may be {reach}, nine times in ten{tail}."
    ]


def _shorter(result: SweptShot) -> str:
    """For a build over its cap: which barrels would be under it, on average and at the range's upper end."""
    speeds, own = np.asarray(result.sweep.velocities), units.si(result.shot.muzzle_velocity, "speed")
    if result.cap is None or min(own, float(speeds.max())) <= result.cap.speed:
        return ""
    found = [_up_to(result.sweep.lengths, speeds, result.cap.speed)]
    found += [_up_to(result.band[0], result.band[2], result.cap.speed)] if result.band else []
    mean, *sure = (units.show(math.floor(one * 1e3) * 1e-3, "length", 3) for one in found)
    other = "a softer spring or less stroke keeps the barrel"
    if min(found) <= result.sweep.lengths[0]:
        return f"No short barrel is surely under the cap: {other}."
    tail = f", up to {sure[0]} at the upper end of the range" if sure else ""
    return f"Barrels up to {mean} are under the cap on average{tail}; {other}."


def _up_to(lengths: Floats, speeds: Floats, cap: float) -> float:
    """The length at which speeds first pass a cap; the shortest one where all are past it [m]."""
    over = int(np.argmax(speeds > cap))
    pair = slice(over - 1, over + 1)
    return float(np.interp(cap, speeds[pair], lengths[pair]) if over else lengths[0])


def shaded(near: SpeedRange | None) -> str:
    """What is shaded in the picture."""
    return "upright band: within 1 %" + (f"; curved band: range {WHEN[near.source]}" if near else "")


def _judged(shot: Shot, found: BarrelSweep, cap: SpeedCap | None) -> str:
    """Whether this barrel is long enough, and what it loses; where none was given, how long it should be.

    Where little is lost it says to leave it, else what the best length would give, if that keeps the cap.
    """
    length, at = shot.build.si["barrel.length"], units.si(found.best_length, "length")
    lost = max(0.0, 1.0 - units.si(shot.muzzle_velocity, "speed") / units.si(found.best_velocity, "speed"))
    if abs(length - at) < 1e-3 or lost < 5e-4:
        return "This barrel is at its best length: leave it"
    gap, side = units.show(abs(length - at), "length", 3), "longer" if length > at else "shorter"
    costs = f"This barrel is {gap} {side} than the best one and loses {100 * lost:.1f} % of its speed"
    if lost < 0.01:
        return f"{costs}: leave it"
    if _over(found, cap):
        return costs
    cut = units.show(at, "length", 3)
    if "barrel.length" in shot.build.assumed and not found.at_end:
        advice = f"Cut the barrel to {cut}" if length > at else f"A longer barrel, {cut}, would be best"
        short, long = (units.show(end, "length", 3) for end in found.flat_range(0.01))
        return f"{advice} (any length from {short} to {long} loses less than 1 %)"
    change = "cutting it to" if length > at else "one of"
    return f"{costs}: {change} {cut} would give {kept(found.best_velocity, 'speed')}"


def _over(found: BarrelSweep, cap: SpeedCap | None) -> bool:
    """Whether the best length's speed is over a cap, so that nothing speaks for that length."""
    return cap is not None and units.si(found.best_velocity, "speed") > cap.speed
