"""The volume ratio in words: a map of chambers and barrels, the closed form, and what a fixed ratio costs.

What it is for: what the volume ratio's pictures and panel say.  What it leaves out: the shot (``shot``) and
the barrel's own sentences (``barrel_length``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from blasterlab import units
from blasterlab.closed_forms.prefilled import FullChamber
from blasterlab.report.barrel_length import SweptShot, advised, best
from blasterlab.report.build import short_tube
from blasterlab.report.findings import sorted_out
from blasterlab.report.shot import answer, cautions, here, reason
from blasterlab.report.told import Told
from blasterlab.shot.barrel_sweep import BarrelSweep
from blasterlab.shot.simulate import Shot
from blasterlab.shot.volume_map import VolumeMap
from blasterlab.tables import pd


@dataclass(frozen=True)
class MappedShot(SweptShot):
    """A build over a map of chamber volume and barrel length, and its sweep.

    Attributes
    ----------
    map : VolumeMap [-]
        Velocities over barrel length and chamber volume.
    """

    map: VolumeMap = field(kw_only=True)


def key_numbers(shot: Shot, sweep: BarrelSweep) -> str:
    """The build's own ratio and velocity, and the best barrel for its chamber, as a ratio, in one line.

    Parameters
    ----------
    shot : Shot [-]
        With the barrel as it is.
    sweep : BarrelSweep [-]
        Of the same build.

    Returns
    -------
    str
        Without the ratios where the best barrel lies beyond the sweep [-].
    """
    said = f"ratio {shot.build.volume_ratio:.2f}, {here(shot)}; {best(sweep)}"
    if sweep.at_end:
        return said
    short, long = sweep.flat_range(0.01)
    top, low, high = (sweep.ratio_at(length) for length in (sweep.best_length, long, short))
    return f"{said}, ratio {top:.2f}; within 1 %: {low:.2f} to {high:.2f}"


def map_caption(found: VolumeMap, shot: Shot, sweep: BarrelSweep) -> str:
    """The caption of a map: what makes the volume, the fastest cell, and the build's own point."""
    row = int(np.nanargmax(found.best_velocities))
    top = units.show(float(found.best_velocities[row]), "speed", 3)
    volume, ratio = units.show(float(found.volumes[row]), "volume", 3), found.best_ratios[row]
    return (
        f"Velocity over barrel length and chamber volume, larger by a {_LARGER[found.vary]}: up to {top} at "
        f"{volume}, ratio {ratio:.2f}; this build: {key_numbers(shot, sweep)}"
    )


_LARGER = {"stroke": "longer stroke", "bore": "wider bore"}


def panel_words(result: MappedShot) -> Told:
    """What the volume ratio panel says: verdict, key numbers, findings, and the rest [-]."""
    found, shot, sweep = result.map, result.shot, result.sweep
    build, (heard, lines) = shot.build, sorted_out(result.findings)
    heard += cautions(shot, [])
    verdict = f"nothing comes out: {reason(shot)}."
    if shot.exited:
        verdict = f"{answer(shot, result.near, result.cap)}. {advised(result)}"
    volumes = (units.show(each, "volume", 3) for each in (build.chamber.swept_volume, build.barrel.volume))
    heard = [*short_tube(found.build, build.si["chamber.stroke"]), *heard]
    lines.append("The plunger sweeps {}; the barrel holds {}.".format(*volumes))
    known = np.flatnonzero(np.isfinite(found.best_lengths) & ~found.at_end)
    if known.size > 1:
        low, high = (
            f"{found.best_ratios[row]:.2f} at {units.show(float(found.volumes[row]), 'volume', 3)}"
            for row in known[[0, -1]]
        )
        lines.append(f"Along the line of best lengths, the ratio runs from {low} to {high}.")
    if found.solid_from < found.highest:
        heard.append(
            f"From {units.show(found.solid_from, 'volume', 3)} up, the spring is solid at the catch."
        )
    said = f"Ratio {build.volume_ratio:.2f}: {verdict}"
    return Told(key_numbers(shot, sweep), said, tuple(heard), tuple(lines))


def full_chamber_caption(cases: Mapping[str, FullChamber]) -> str:
    """The caption of the closed form: the best ratio of each case, all of one pressure."""
    pressure = units.show(next(iter(cases.values())).pressure, "pressure", 3)
    said = "; ".join(f"{name}, ratio {case.filled:.2f}" for name, case in cases.items())
    return f"Best filled chamber / barrel at {pressure}: {said}"


def rule_caption(table: pd.DataFrame, ratio: float) -> str:
    """The caption of what a fixed ratio costs, from the table of `ratio_rule`."""
    worst = table.lost_percent.idxmax()
    return (
        f"Best ratios from {table.best_ratio.min():.2f} to {table.best_ratio.max():.2f}; the rule of "
        f"{ratio:.2f} costs {worst} most: {table.lost_percent.max():.1f} % of its speed"
    )
