"""How far to trust the lumped model: a designed grid of builds, shot in every model.

What it is for: the table ``data/computed/model_grid.csv``, which says by how much the lumped model's muzzle
velocity, best barrel length and peak pressure differ from the wave-resolving model's, with and without its
two corrections, and what the effective mass of the spring misses.  Remake it with::

    python -m blasterlab.waves.model_grid

What it leaves out: the truth.  Both models share the port law, the friction and the leaks; only a chronograph
judges those.

References: M. D. McKay, R. J. Beckman and W. J. Conover, *Technometrics* 21, 239 (1979) (Latin hypercube).
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from scipy.interpolate import CubicSpline

from blasterlab import tables
from blasterlab.files import write_whole
from blasterlab.shot import equations as k
from blasterlab.shot import integrate as stepper
from blasterlab.shot import rules
from blasterlab.waves.gas_shot import wave_run
from blasterlab.waves.spring_chain import chain_run

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
SLOWEST, FASTEST = 15.0, 110.0  # m/s, of the lumped model: builds outside are left out
BARREL_BORE, DART_LENGTH, DISCHARGE = 13.0, 36.0, 0.8
COUNT, SEED = 96, 20260
CELL = 2.5e-3
LENGTHS = np.geomspace(0.08, 0.60, 10)
#: The lumped model's variants: column, Lagrange's correction, air ahead.
VARIANTS = {"plain": (0.0, 0.0), "lagrange": (1.0, 0.0), "ahead": (0.0, 1.0), "both": (1.0, 1.0)}
LIMIT = 0.02


class Case(NamedTuple):
    """One build of the grid."""

    values: dict[str, float]
    p: k.Parameters
    spring_mass: float


def _case(share: Any) -> Case:
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
    spring = 1e-3 * values["spring_g"]
    numbers = dict.fromkeys(k.Parameters._fields, 0.0) | {
        "rate1": 2.0 * values["spring_J"] / ((preload + stroke) ** 2 - preload**2),
        "catch_compression1": preload + stroke,
        "plunger_mass": 1e-3 * values["plunger_g"] + spring / 3.0,
        "plunger_area": 0.25e-6 * math.pi * values["bore_mm"] ** 2,
        "stroke": stroke,
        "chamber_dead": 1e-6 * values["chamber_dead_cm3"],
        "port_area": DISCHARGE * 0.25e-6 * math.pi * values["port_mm"] ** 2,
        "barrel_area": 0.25e-6 * math.pi * BARREL_BORE**2,
        "length": 1e-3 * values["barrel_mm"],
        "barrel_dead": 1e-6 * values["barrel_dead_cm3"],
        "dart_mass": 1e-3 * values["dart_g"],
        "dart_length": 1e-3 * DART_LENGTH,
        "seal_friction": values["seal_N"],
        "seal_breakaway": 1.3 * values["seal_N"],
        "dart_friction": values["dart_N"],
        "dart_breakaway": 2.0 * values["dart_N"],
        "gas_inertia": 1.0,
        "air_ahead": 1.0,
        "ambient_pressure": 101_325.0,
        "ambient_temperature": 293.15,
        "gas_constant": 287.05,
    }
    return Case(values, k.Parameters(**numbers), spring)


def _lumped(p: k.Parameters) -> tuple[float, stepper.Outcome]:
    state = np.empty(k.STATES)
    outcome = stepper.integrate(p, 1e-8, 1.0, state, np.empty((0, stepper.COLUMNS)))
    return (float(state[k.W]) if outcome.status == rules.EXITED else 0.0), outcome


def _wave(p: k.Parameters) -> float:
    outcome = wave_run(p, CELL).outcome
    return outcome.muzzle_velocity if outcome.status == rules.EXITED else 0.0


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
        raise ValueError(f"count: read {count}; allowed is 1 to 1000")
    points = qmc.LatinHypercube(len(RANGES), rng=seed).random(2 * count)
    kept = (case for case in map(_case, points) if SLOWEST <= _lumped(case.p)[0] <= FASTEST)
    return [case for case, _ in zip(kept, range(count), strict=False)]


def _best(speed_at: Callable[[float], float]) -> tuple[float, CubicSpline]:
    """The best barrel length within `LENGTHS`, and the curve through them."""
    speeds = [speed_at(float(length)) for length in LENGTHS]
    top = int(np.argmax(speeds))
    low, high = LENGTHS[max(top - 1, 0)], LENGTHS[min(top + 1, len(LENGTHS) - 1)]
    # three more shots about the top, for the curve is coarse
    known = dict(zip(map(float, LENGTHS), speeds, strict=True))
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
    p = case.p
    wave = wave_run(p, CELL).outcome
    row = dict(case.values)
    row["wave_m_s"] = wave.muzzle_velocity if wave.status == rules.EXITED else 0.0
    row["wave_top_m_s"] = wave.top_speed
    for name, (inertia, ahead) in VARIANTS.items():
        row[f"{name}_m_s"] = _lumped(p._replace(gas_inertia=inertia, air_ahead=ahead))[0]
    outcome = _lumped(p)[1]
    row["wave_peak_kPa"] = 1e-3 * (wave.chamber_peak - p.ambient_pressure)
    row["lumped_peak_kPa"] = 1e-3 * (outcome.chamber_peak - p.ambient_pressure)
    wave_best, curve = _best(lambda length: _wave(p._replace(length=length)))
    lumped_best, _ = _best(lambda length: _lumped(p._replace(length=length))[0])
    row["wave_best_mm"], row["lumped_best_mm"] = 1e3 * wave_best, 1e3 * lumped_best
    row["wrong_cut_percent"] = 100.0 * (1.0 - float(curve(lumped_best) / curve(wave_best)))
    own = p._replace(plunger_mass=p.plunger_mass - case.spring_mass / 3.0)
    chain, _ = chain_run(own, (case.spring_mass,), 60, t_max=0.3)
    row["chain_m_s"] = chain.muzzle_velocity if chain.status == rules.EXITED else 0.0
    row["rule_impact_m_s"], row["chain_impact_m_s"] = outcome.impact_speed, chain.impact_speed
    row["rule_stop_J"], row["chain_stop_J"] = outcome.stop_energy, chain.stop_energy
    row["transit_ms"] = 1e3 * math.sqrt(case.spring_mass / p.rate1)
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


def model_grid() -> pd.DataFrame:
    """The committed table of the grid, with the errors worked out.

    Error = lumped / wave − 1 in percent

    Returns
    -------
    DataFrame
        One row a build: the table's columns, and an error [%] for each variant, the peak pressure, the best
        length and the effective mass of the spring; ``over_long`` is the barrel over its best length,
        ``slowed`` the share of its top speed that the dart has lost again at the muzzle, ``air_share`` the
        air that a barrel holds over the dart's mass.

    Examples
    --------
    >>> len(model_grid()) >= 60
    True
    """
    table = tables.read("computed/model_grid").copy()
    for name in VARIANTS:
        table[f"{name}_error"] = 100.0 * (table[f"{name}_m_s"] / table.wave_m_s - 1.0)
    table["peak_error"] = 100.0 * (table.lumped_peak_kPa / table.wave_peak_kPa - 1.0)
    table["best_error"] = 100.0 * (table.lumped_best_mm / table.wave_best_mm - 1.0)
    table["spring_error"] = 100.0 * (table.both_m_s / table.chain_m_s - 1.0)
    table["over_long"] = table.barrel_mm / table.wave_best_mm
    table["slowed"] = 1.0 - table.wave_m_s / table.wave_top_m_s
    air = 1.2041 * math.pi / 4.0 * BARREL_BORE**2 * table.barrel_mm * 1e-6  # g, at 20 °C and 1 atm
    table["air_share"] = air / table.dart_g
    return table


def model_grid_summary(table: pd.DataFrame | None = None) -> pd.DataFrame:
    """What each correction buys: the error in muzzle velocity over the grid, in percent.

    Parameters
    ----------
    table : DataFrame or None [-]
        From `model_grid`, or a part of it; None for all of it.

    Returns
    -------
    DataFrame
        One row a variant: mean, middle and largest size of the error, mean with its sign [%], and how many
        builds are beyond 2 %.

    Raises
    ------
    ValueError
        A table without rows.
    """
    import pandas as pd

    table = model_grid() if table is None else table
    if len(table) == 0:
        raise ValueError("table: no builds in it; the likely cause is a choice that none of them meets")
    words = {
        "plain": "neither correction",
        "lagrange": "Lagrange's gas inertia",
        "ahead": "air ahead of the dart",
        "both": "both (the default)",
    }
    rows = []
    for name, word in words.items():
        error = table[f"{name}_error"]
        rows.append(
            {
                "model": word,
                "mean_size_percent": error.abs().mean(),
                "median_size_percent": error.abs().median(),
                "largest_percent": error.abs().max(),
                "mean_percent": error.mean(),
                "beyond_2_percent": int((error.abs() > 100.0 * LIMIT).sum()),
            }
        )
    return pd.DataFrame(rows).set_index("model")


def main(arguments: list[str] | None = None) -> None:
    """Write the table.

    Parameters
    ----------
    arguments : list of str or None [-]
        Of the command line.
    """
    parser = argparse.ArgumentParser(prog="python -m blasterlab.waves.model_grid", description=__doc__)
    parser.add_argument("--count", type=int, default=COUNT, help="how many builds")
    parser.add_argument("--seed", type=int, default=SEED, help="of the design")
    parser.add_argument("--workers", type=int, default=2, help="builds shot at the same time")
    parser.add_argument("--out", type=Path, help="file to write (default: the committed table)")
    chosen = parser.parse_args(arguments)
    path = chosen.out or tables.data_folder() / "computed" / "model_grid.csv"
    table = grid(chosen.count, chosen.seed, chosen.workers, report=True)
    head = (
        "# Computed by this kit, not measured: the lumped model against the wave-resolving model over "
        f"invented builds. Remake: python -m blasterlab.waves.model_grid --count {chosen.count} "
        f"--seed {chosen.seed}\n"
        f"# Bore of the barrel {BARREL_BORE:g} mm, dart {DART_LENGTH:g} mm long, port discharge "
        f"{DISCHARGE:g}, no leaks, no wall heat, 20 degC, 101.325 kPa; peaks above ambient; breakaway of the "
        "seal 1.3 and of the dart 2 times its friction.\n"
    )
    text = table.to_csv(index=False, float_format="%.5g", lineterminator="\n")
    write_whole(path, head + text)
    print(f"\n{len(table)} builds in {path.name}", file=sys.stderr)


if __name__ == "__main__":
    main()
