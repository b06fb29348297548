"""Make the grid of builds by which the shot model is compared with the waves, some minutes::

    python tests/bench/make_model_grid.py

What it is for: ``data/computed/model_grid.csv``, anew.  What it leaves out: reading it (``model_grid``).

References: M. D. McKay, R. J. Beckman and W. J. Conover, *Technometrics* 21, 239 (1979) (Latin hypercube).
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline

from blasterlab import tables
from blasterlab.files import write_whole
from blasterlab.shot.equations import STATES, W
from blasterlab.shot.integrate import COLUMNS, Outcome, integrate
from blasterlab.shot.parameters import Floats, Parameters
from blasterlab.shot.rules import EXITED
from blasterlab.waves.chain_shot import ChainOutcome, chain_run
from blasterlab.waves.gas_shot import WaveOutcome, wave_run
from blasterlab.waves.model_grid import VARIANTS

if TYPE_CHECKING:
    import pandas as pd

#: The range of the grid, by column: low, high.  Own choice: what a hobby builder's bench holds.
RANGES = {
    "bore_mm": (20.0, 50.0),
    "stroke_mm": (30.0, 150.0),
    "barrel_mm": (80.0, 600.0),
    "dart_g": (0.6, 3.0),
    "port_share": (0.0, 1.0),  # from 4 mm to the full bore of the barrel
    "spring_J": (0.0, 1.0),  # from 1 J to 16 J, evenly in the logarithm
    "preload_share": (0.05, 0.6),  # of the stroke
    "plunger_g": (15.0, 80.0),
    "spring_g": (8.0, 50.0),
    "chamber_dead_cm3": (0.5, 4.5),
    "barrel_dead_cm3": (0.3, 2.0),
    "seal_N": (1.0, 8.0),
    "dart_N": (0.3, 3.0),
}
SLOWEST, FASTEST = 15.0, 110.0  # m/s, of the shot model: builds outside are left out
BARREL_BORE, DART_LENGTH, DISCHARGE = 13.0, 36.0, 0.8
COUNT, SEED = 96, 20260
CELL = 2.5e-3
LINKS = (40, 80)
TOLERANCE = 1e-8  # of the chain
LENGTHS = np.geomspace(0.08, 0.60, 10)


class Case(NamedTuple):
    """One build of the grid; its spring's whole mass carries waves."""

    values: dict[str, float]
    p: Parameters


def _disc(diameter_mm: float) -> float:
    return 0.25e-6 * math.pi * diameter_mm**2


def _case(share: Floats) -> Case:
    """A build from a point of the unit cube."""
    row = {
        name: low + (high - low) * float(x)
        for (name, (low, high)), x in zip(RANGES.items(), share, strict=True)
    }
    row["spring_J"] = 16.0 ** row["spring_J"]
    widest = min(BARREL_BORE, row["bore_mm"])
    row["port_mm"] = 4.0 + (widest - 4.0) * row.pop("port_share")
    row["preload_mm"] = row.pop("preload_share") * row["stroke_mm"]
    values = {name: float(f"{value:.4g}") for name, value in row.items()}
    stroke, preload = 1e-3 * values["stroke_mm"], 1e-3 * values["preload_mm"]
    numbers = dict.fromkeys(Parameters._fields, 0.0) | {
        "rate1": 2.0 * values["spring_J"] / ((preload + stroke) ** 2 - preload**2),
        "catch_compression1": preload + stroke, "plunger_mass": 1e-3 * values["plunger_g"],
        "wave_mass1": 1e-3 * values["spring_g"],
        "plunger_area": _disc(values["bore_mm"]), "stroke": stroke,
        "chamber_dead": 1e-6 * values["chamber_dead_cm3"], "port_area": DISCHARGE * _disc(values["port_mm"]),
        "barrel_area": _disc(BARREL_BORE), "length": 1e-3 * values["barrel_mm"],
        "barrel_dead": 1e-6 * values["barrel_dead_cm3"], "dart_mass": 1e-3 * values["dart_g"],
        "dart_length": 1e-3 * DART_LENGTH, "gas_inertia": 1.0, "air_ahead": 1.0,
        "seal_friction": values["seal_N"], "seal_breakaway": 1.3 * values["seal_N"],
        "dart_friction": values["dart_N"], "dart_breakaway": 2.0 * values["dart_N"],
        "ambient_pressure": 101_325.0, "ambient_temperature": 293.15, "gas_constant": 287.05,
    }  # fmt: skip
    return Case(values, Parameters(**numbers))


def shot_model(p: Parameters) -> tuple[float, Outcome]:
    """Muzzle velocity (0 when the dart stays) and outcome of the shot model [SI]."""
    state = np.empty(STATES)
    outcome = integrate(p, 1e-8, 1.0, state, np.empty((0, COLUMNS)))
    return (float(state[W]) if outcome.status == EXITED else 0.0), outcome


def gas_waves(p: Parameters) -> tuple[float, WaveOutcome]:
    """The same with the waves in the gas [SI]."""
    outcome = wave_run(p, CELL).outcome
    return (outcome.muzzle_velocity if outcome.status == EXITED else 0.0), outcome


def third(p: Parameters) -> Parameters:
    """The same build with a third of the spring's mass on the plunger in place of waves."""
    return p._replace(wave_mass1=0.0, plunger_mass=p.plunger_mass + p.wave_mass1 / 3.0)


def chain(p: Parameters) -> tuple[float, ChainOutcome]:
    """Muzzle velocity with the spring as a chain, extrapolated in its links, and the finer outcome [SI].

    The chain's error falls with the square of its links (L. F. Richardson, *Phil. Trans. R. Soc. A* 210, 307
    (1911)).
    """
    coarse, fine = (chain_run(p, (p.wave_mass1,), links, TOLERANCE)[0] for links in LINKS)
    if fine.status != EXITED or coarse.status != EXITED:
        return 0.0, fine
    gain = (fine.muzzle_velocity - coarse.muzzle_velocity) / ((LINKS[1] / LINKS[0]) ** 2 - 1.0)
    return fine.muzzle_velocity + gain, fine


def design(count: int = COUNT, seed: int = SEED) -> list[Case]:
    """The builds of the grid: a Latin hypercube, less those that shoot too slowly or too fast.

    Parameters
    ----------
    count : int [-]
        How many builds, 1 to 1000.
    seed : int [-]
        Of the design.

    Returns
    -------
    list of Case
        Builds [-].

    Raises
    ------
    ValueError
        A count out of range.

    References
    ----------
    McKay, Beckman and Conover, *Technometrics* 21, 239 (1979).
    """
    from scipy.stats import qmc

    if not 1 <= count <= 1000:
        raise ValueError(f"count: got {count}; must be 1 to 1000")
    points = qmc.LatinHypercube(len(RANGES), rng=seed).random(2 * count)
    kept = (case for case in map(_case, points) if SLOWEST <= shot_model(case.p)[0] <= FASTEST)
    return [case for case, _ in zip(kept, range(count), strict=False)]


def _best(speed_at: Callable[[float], float]) -> tuple[float, CubicSpline]:
    """The best barrel length within `LENGTHS`, and the curve through them."""
    known = {float(length): speed_at(float(length)) for length in LENGTHS}
    top = int(np.argmax(list(known.values())))
    low, high = LENGTHS[max(top - 1, 0)], LENGTHS[min(top + 1, len(LENGTHS) - 1)]
    # three more shots about the top, for the curve is coarse
    for share in (0.25, 0.5, 0.75):
        extra = float(low + share * (high - low))
        if min(abs(extra - length) for length in known) > 1e-6:
            known[extra] = speed_at(extra)
    curve = CubicSpline(*np.array(sorted(known.items())).T)
    fine = np.linspace(low, high, 2001)
    return float(fine[np.argmax(curve(fine))]), curve


def compare(case: Case) -> dict[str, float]:
    """Shoot one build in every model.

    Parameters
    ----------
    case : Case [-]
        A build of the grid.

    Returns
    -------
    dict of str to float
        The row of the table: speeds [m/s], pressures above ambient [kPa], lengths [mm], times [ms].
    """
    p, row = case.p, dict(case.values)
    row["wave_m_s"], wave = gas_waves(p)
    row["wave_top_m_s"] = wave.top_speed
    for name, (inertia, ahead) in VARIANTS.items():
        row[f"{name}_m_s"] = shot_model(p._replace(gas_inertia=inertia, air_ahead=ahead))[0]
    outcome = shot_model(p)[1]
    row["wave_peak_kPa"] = 1e-3 * (wave.chamber_peak - p.ambient_pressure)
    row["model_peak_kPa"] = 1e-3 * (outcome.chamber_peak - p.ambient_pressure)
    wave_best, curve = _best(lambda length: gas_waves(p._replace(length=length))[0])
    model_best, _ = _best(lambda length: shot_model(p._replace(length=length))[0])
    row["wave_best_mm"], row["model_best_mm"] = 1e3 * wave_best, 1e3 * model_best
    row["wrong_cut_percent"] = 100.0 * (1.0 - float(curve(model_best) / curve(wave_best)))
    row["chain_m_s"], links = chain(p)
    row["chain_best_mm"] = 1e3 * _best(lambda length: chain(p._replace(length=length))[0])[0]
    row["third_m_s"] = shot_model(third(p))[0]
    row["model_impact_m_s"], row["chain_impact_m_s"] = outcome.impact_speed, links.impact_speed
    row["model_stop_J"], row["chain_stop_J"] = outcome.stop_energy, links.stop_energy
    row["transit_ms"] = 1e3 * math.sqrt(p.wave_mass1 / p.rate1)
    row["exit_ms"] = 1e3 * wave.time
    return row


def grid(count: int = COUNT, seed: int = SEED, workers: int = 2, report: bool = False) -> pd.DataFrame:
    """The whole table, made anew: some minutes.

    Parameters
    ----------
    count : int [-]
        As for `design`.
    seed : int [-]
        As for `design`.
    workers : int [-]
        Builds shot at the same time.
    report : bool [-]
        Whether to say on the error stream how far it is.

    Returns
    -------
    DataFrame
        One row a build, columns named with their units.
    """
    import pandas as pd

    cases = design(count, seed)
    compare(cases[0])  # compiles before the threads start
    rows: list[dict[str, float]] = []
    with ThreadPoolExecutor(workers) as pool:
        for row in pool.map(compare, cases):
            rows.append(row)
            if report:
                print(f"\r{len(rows)} of {len(cases)} builds", end="", file=sys.stderr, flush=True)
    table = pd.DataFrame(rows)
    table.insert(0, "build", np.arange(1, len(table) + 1))
    return table


def main(arguments: list[str] | None = None) -> None:
    """Write the table.

    Parameters
    ----------
    arguments : list of str or None [-]
        Of the command line.
    """
    command = "python tests/bench/make_model_grid.py"
    parser = argparse.ArgumentParser(prog=command, description=__doc__)
    parser.add_argument("--count", type=int, default=COUNT, help="how many builds")
    parser.add_argument("--seed", type=int, default=SEED, help="of the design")
    parser.add_argument("--workers", type=int, default=2, help="builds shot at the same time")
    parser.add_argument("--out", type=Path, help="file to write (default: the table kept with the kit)")
    chosen = parser.parse_args(arguments)
    path = chosen.out or tables.data_folder() / "computed" / "model_grid.csv"
    table = grid(chosen.count, chosen.seed, chosen.workers, report=True)
    head = (
        "# Computed by this kit, not measured: the shot model against the models with waves, over invented "
        f"builds. Make it again: {command} --count {chosen.count} --seed {chosen.seed}\n"
        f"# Bore of the barrel {BARREL_BORE:g} mm, dart {DART_LENGTH:g} mm long, port discharge "
        f"{DISCHARGE:g}, no leaks, no wall heat, 20 degC, 101.325 kPa; peaks above ambient; breakaway of the "
        "seal 1.3 and of the dart 2 times its friction; the chain extrapolated in its links.\n"
    )
    write_whole(path, head + table.to_csv(index=False, float_format="%.5g", lineterminator="\n"))
    print(f"\n{len(table)} builds in {path.name}", file=sys.stderr)


if __name__ == "__main__":
    main()
