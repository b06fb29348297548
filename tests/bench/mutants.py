# ruff: noqa: E501
"""Small faults, put into a copy of the package one at a time: which tests notice each?  By hand.

python tests/bench/mutants.py                # the likely tests first, then layer after layer
python tests/bench/mutants.py --likely       # the likely tests only
python tests/bench/mutants.py --likely 0:40  # some of the list, by their numbers

The copy stands in a temporary folder; code that a fault changes is compiled anew there (10 s and more).
"""

from __future__ import annotations

import argparse
import importlib
import os
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import pytest

from blasterlab import compile_cache

ROOT = Path(__file__).resolve().parents[2]
#: What a copy holds, and the layers of tests in the order in which they are tried.
PARTS = ("blasterlab", "data", "tests", "notebooks", "README.md", "pyproject.toml", "DEVELOPERS.md", "binder")
LAYERS = {
    "unit": ("tests/unit", "blasterlab"),
    "published": ("tests/published",),
    "physics": ("tests/physics",),
    "panels": ("tests/panels",),
    "notebooks": ("notebooks",),
}
#: What a small fault in the package's sources cannot move, or what tests the copying itself.
LEFT_OUT = (
    "test_wheel",
    "test_binder",
    "test_mutants",
    "test_compile_cache",
    "test_imports",
    "test_docstrings",
)


class Mutant(NamedTuple):
    """A fault: in which file, which text, what in its place, and which tests are likely to notice."""

    file: str
    text: str
    other: str
    likely: str  # test files or notebooks below tests/ and notebooks/, by name, parted by spaces


_M = Mutant
_SHOT = "test_integrator test_ledger test_shot_rules test_shot_faces"
MUTANTS = (
    # the shot: constants, signs, energies
    _M(
        "shot/parameters.py",
        "GAMMA = 1.4 ",
        "GAMMA = 1.395 ",
        "test_interior_flow_and_spring test_limits_tend",
    ),
    _M(
        "shot/equations.py",
        "CONDUCTIVITY = 0.0257",
        "CONDUCTIVITY = 0.02578",
        "test_limits_tend test_shot_faces",
    ),
    _M(
        "shot/equations.py",
        "/ math.sqrt(math.pi * diffusivity",
        "/ math.sqrt(3.0 * diffusivity",
        "test_limits_tend",
    ),
    _M(
        "shot/equations.py",
        "walls = 2.0 * area +",
        "walls = 2.5 * area +",
        "test_limits_tend test_waves_pieces",
    ),
    _M(
        "shot/equations.py",
        "THIRD, SIXTH = 1.0 / 3.0, 1.0 / 6.0",
        "THIRD, SIXTH = 1.0 / 3.0, 1.0 / 5.0",
        _SHOT,
    ),
    _M(
        "shot/equations.py",
        "0.5 * air_density(p) * p.barrel_area * w * w * w",
        "air_density(p) * p.barrel_area * w * w * w",
        _SHOT,
    ),
    _M(
        "shot/equations.py",
        "max(1e-3 * spring_work(p, p.stroke), 1e-12)",
        "max(1e3 * spring_work(p, p.stroke), 1e-12)",
        _SHOT,
    ),
    _M("shot/rules.py", "FLOOR = 1e-6 ", "FLOOR = 1e-3 ", _SHOT),
    _M("shot/rules.py", "QUIET = 0.02 ", "QUIET = 0.002 ", _SHOT),
    _M("shot/rules.py", "REBOUND = 1e-3 ", "REBOUND = 3e-2 ", _SHOT),
    _M("shot/rules.py", "TIME_LIMIT = 0.5 ", "TIME_LIMIT = 0.4 ", _SHOT),
    _M("shot/rules.py", "friction *= (p.length - y) / p.dart_length", "friction *= 1.0", _SHOT),
    _M("shot/rules.py", "+ max(p.dart_breakaway - p.dart_friction, 0.0)", "+ p.dart_breakaway", _SHOT),
    _M(
        "shot/rules.py",
        "return 0.5 * mass * (before * before - after * after)",
        "return 0.5 * mass * before * before",
        _SHOT,
    ),
    _M("shot/rules.py", "return NO_RELEASE if s == 0.0 else NO_BREAKAWAY", "return NO_BREAKAWAY", _SHOT),
    _M(
        "shot/orifice.py",
        "LEAK_PATCH = patch_from(0.99)",
        "LEAK_PATCH = patch_from(0.9)",
        "test_interior_flow_and_spring " + _SHOT,
    ),
    _M("shot/orifice.py", "3.0 * bend, 1.0", "2.0 * bend, 1.0", "test_interior_flow_and_spring " + _SHOT),
    _M(
        "shot/assumptions.py",
        "MACH = 0.5\n",
        "MACH = 0.55\n",
        "test_validity test_waves_model_grid test_shot_faces",
    ),
    _M(
        "shot/assumptions.py",
        "TRANSIT = 0.35",
        "TRANSIT = 0.4",
        "test_validity test_waves_model_grid test_shot_faces",
    ),
    _M(
        "shot/assumptions.py",
        "if air > p.dart_mass:",
        "if air > 1.2 * p.dart_mass:",
        "test_validity test_waves_model_grid",
    ),
    _M(
        "shot/ledger.py",
        "return dart, plunger + stop, coils",
        "return dart, plunger, coils",
        "test_ledger test_shot_faces",
    ),
    _M("shot/ledger.py", "leaked - moved, heat", "leaked, heat", "test_ledger test_shot_faces"),
    _M(
        "shot/from_build.py",
        "return math.pi / 4.0 * diameter * diameter",
        "return math.pi / 3.9 * diameter * diameter",
        "test_shot_faces test_limits_tend",
    ),
    _M(
        "shot/integrate.py",
        "peaks[0, HIGHEST], peaks[1, HIGHEST],",
        "peaks[1, HIGHEST], peaks[0, HIGHEST],",
        "test_shot_faces test_integrator",
    ),
    _M("shot/integrate.py", "MANY = 20_000 ", "MANY = 2_000_000 ", "test_stiff_leaks"),
    _M("shot/ark_step.py", "SLOW = 0.01 ", "SLOW = 0.0 ", "test_stiff_leaks"),
    _M(
        "shot/spring_line.py",
        "low, high = 3.0 * min(rise, 0.0), 3.0 * max(rise, 0.0)",
        "low, high = rise, rise",
        "test_stiff_leaks",
    ),
    # waves and closed forms
    _M(
        "waves/openings.py",
        "return min(rate, creep(laminar, p0, p_back)) if laminar > 0.0 else rate",
        "return rate",
        "test_long_gaps test_waves_pieces",
    ),
    _M(
        "waves/riemann.py",
        "power = z ** (2.0 / (GAMMA - 1.0))",
        "power = z ** (2.1 / (GAMMA - 1.0))",
        "test_waves_toro2009_riemann test_waves_pieces",
    ),
    _M(
        "waves/gas_column.py",
        "steepest = 2.0 * min(abs(a), abs(b))",
        "steepest = 3.0 * min(abs(a), abs(b))",
        "test_waves_pieces test_waves_toro2009_riemann test_waves_lagrange_problem",
    ),
    _M(
        "waves/openings.py",
        "sonic = (c + half * v) / (1.0 + half)",
        "sonic = (c - half * v) / (1.0 + half)",
        "test_waves_pieces",
    ),
    _M("waves/spring_chain.py", "stiffness = n * rate", "stiffness = (n + 1) * rate", "test_waves_spring"),
    _M(
        "closed_forms/reservoir_gun.py",
        "return (self.pressure / self.resistance) ** (1.0 / self.exponent)",
        "return self.pressure / self.resistance",
        "test_rohrbach2012_reservoir_gun test_limits_tend",
    ),
    _M(
        "closed_forms/prefilled.py",
        "swept = filled * (gun.pressure / gun.ambient) ** (1.0 / gun.exponent)",
        "swept = filled * (gun.pressure / gun.ambient)",
        "test_volume_ratio_closed_form test_volume_ratio",
    ),
    # flight
    _M(
        "flight/equations.py",
        "out[VX] = -factor * wx + p.gravity_x",
        "out[VX] = factor * wx + p.gravity_x",
        "test_flight",
    ),
    _M(
        "flight/equations.py",
        "out[VZ] = -factor * wz",
        "out[VZ] = -factor * state[VZ]",
        "test_mccoy1999_flight test_aiming test_flight_physics",
    ),
    _M(
        "shot/dormand_prince.py",
        "0, 500 / 1113, 125 / 192,",
        "0, 500 / 1113, 125 / 193,",
        "test_flight_physics test_flight",
    ),
    _M(
        "shot/dormand_prince.py",
        "71 / 57600, 0, -71 / 16695",
        "71 / 57600, 0, -71 / 1669.5",
        "test_flight_physics test_flight",
    ),
    _M(
        "flight/equations.py",
        "LONGEST, MOST_STEPS, NO_GROUND = 120.0",
        "LONGEST, MOST_STEPS, NO_GROUND = 60.0",
        "test_flight",
    ),
    _M(
        "flight/flat_fire.py",
        "0.5 + u / 3.0 + u * u / 6.0",
        "0.5 + u / 3.0 + u * u / 5.0",
        "test_mccoy1999_flight test_flight test_measured_drag",
    ),
    _M("flight/flat_fire.py", "/ (8.0 * mass)", "/ (4.0 * mass)", "test_flight test_mccoy1999_flight"),
    _M(
        "flight/wind.py",
        "hour * math.pi / 6.0",
        "hour * math.pi / 6.1",
        "test_mccoy1999_flight test_aiming test_flight",
    ),
    _M("flight/wind.py", "_STRONGEST = 40.0", "_STRONGEST = 45.0", "test_flight test_aiming"),
    _M(
        "flight/group_statistics.py",
        "CEP = math.sqrt(2.0 * math.log(2.0))",
        "CEP = math.sqrt(2.0 * math.log(2.1))",
        "test_groups test_grubbs1964_groups",
    ),
    _M(
        "flight/group_statistics.py",
        "nu = 2.0 * (count - 1)",
        "nu = 2.0 * count",
        "test_groups test_grubbs1964_groups",
    ),
    _M("flight/measured_group.py", "* [factor, -factor]", "* [factor, factor]", "test_groups test_photo"),
    _M("flight/measured_drag.py", "/ (first - 1) / first}", "/ first / first}", "test_measured_drag"),
    _M(
        "flight/measured_drag.py",
        "- mean(field, -by)[0]) / 2.0",
        "- mean(field, -by)[0]) / 3.0",
        "test_measured_drag",
    ),
    _M(
        "flight/stability.py", "CROSSFLOW_DRAG = 1.2", "CROSSFLOW_DRAG = 1.1", "test_drag test_flight_physics"
    ),
    _M(
        "flight/stability.py",
        '"cone": Nose(1.0 / 3.0, 0.75,',
        '"cone": Nose(1.0 / 3.0, 0.70,',
        "test_drag test_flight_physics",
    ),
    _M("flight/dispersion_result.py", "scale = 1.0 + z * z / n", "scale = 1.0 + z / n", "test_dispersion"),
    _M("flight/dispersion.py", "_LEAST = 0.05 ", "_LEAST = 0.5 ", "test_dispersion"),
    _M(
        "flight/comparison.py",
        "tail = 0.5 * (1.0 - self.level)",
        "tail = 1.0 - self.level",
        "test_groups test_dispersion",
    ),
    _M(
        "flight/aiming.py",
        "0.5 * (time + there) if turn else there",
        "time if turn else there",
        "test_aiming",
    ),
    # the bench: statistics, units, reading
    _M(
        "bench/statistics.py",
        "math.sqrt(max(square, 0.0) / (n - 1))",
        "math.sqrt(max(square, 0.0) / n)",
        "test_nist2012_string_statistics",
    ),
    _M(
        "bench/statistics.py",
        "special.stdtrit(dof, 0.5 + 0.5 * level)",
        "special.stdtrit(dof, level)",
        "test_nist2012_string_statistics",
    ),
    _M(
        "bench/statistics.py",
        "t_factor(level, n - 1) * math.sqrt(1.0 + 1.0 / n)",
        "t_factor(level, n - 1) * math.sqrt(1.0 / n)",
        "test_string_statistics test_nist2012_string_statistics",
    ),
    _M(
        "bench/statistics.py",
        "- 0.5 * dof * u**2",
        "- 0.49 * dof * u**2",
        "test_krishnamoorthy2009_string_limits",
    ),
    _M(
        "bench/significance.py",
        "level / (sides * n))) ** 2",
        "level / sides)) ** 2",
        "test_nist2012_string_statistics test_string_statistics",
    ),
    _M(
        "bench/significance.py",
        "error = math.sqrt(rest / (n - 2) / sxx)",
        "error = math.sqrt(rest / (n - 1) / sxx)",
        "test_string_statistics",
    ),
    _M(
        "bench/significance.py",
        "(a**2 / (first[2] - 1) +",
        "(a**2 / first[2] +",
        "test_string_statistics test_nist2012_string_statistics",
    ),
    _M("bench/summary.py", "self.trend.p < 0.05", "self.trend.p < 0.06", "test_string_statistics"),
    _M("bench/summary.py", "FEWEST_FOR_DRIFT = 6", "FEWEST_FOR_DRIFT = 5", "test_string_statistics"),
    _M("bench/cap_risk.py", "FEW = 8 ", "FEW = 9 ", "test_cap_risk"),
    _M(
        "bench/cap_chance.py",
        "np.sqrt(1.0 / n + (common * scale) ** 2)",
        "np.sqrt(1.0 / n + common**2)",
        "test_cap_risk",
    ),
    _M("bench/cells.py", '"feet/s": "ft/s"', '"feet/s": "m/s"', "test_string_accounting"),
    _M("bench/cells.py", '"km/h": "km/h"', '"km/h": "mph"', "test_string_accounting"),
    _M(
        "bench/cells.py",
        "extreme spread|spread|",
        "extreme spread|",
        "test_string_accounting test_string_reading",
    ),
    _M(
        "bench/source.py",
        "_SURELY_FEET = (200.0, 980.0)",
        "_SURELY_FEET = (180.0, 980.0)",
        "test_string_reading",
    ),
    _M(
        "bench/source.py",
        "SLOWEST, FASTEST = 1.0, 300.0",
        "SLOWEST, FASTEST = 1.0, 340.0",
        "test_string_reading",
    ),
    _M(
        "bench/reading.py",
        "max(values) <= 3.0 * max(min(values), 0.0)",
        "max(values) <= 5.0 * max(min(values), 0.0)",
        "test_string_reading",
    ),
    _M(
        "bench/reading.py",
        "rising = all(a <= b",
        "rising = all(a < b",
        "test_string_reading test_string_accounting",
    ),
    _M("parts/spring_rate.py", "_G = 9.80665", "_G = 9.81", "test_spring_rate"),
    _M(
        "parts/spring_rate.py",
        "fitted = 2 if known is None else 1",
        "fitted = 1 if known is None else 2",
        "test_spring_rate",
    ),
    _M(
        "bench/instrument.py",
        "value**2 * time / units.si(self.spacing",
        "value * time / units.si(self.spacing",
        "test_cap_risk test_string_statistics",
    ),
    _M("parts/priors.py", "NINE_IN_TEN = 1.6448536269514722", "NINE_IN_TEN = 1.96", "test_calibrate"),
    _M("shot/speed_range.py", "SETUP = 0.005", "SETUP = 0.006", "test_calibrate"),
    _M("bench/calibrate.py", "wide**2 / counts + setup**2", "wide**2 / counts + setup", "test_calibrate"),
    _M(
        "bench/posterior.py",
        "Answer(found.x, root @ root.T, 2.0 * found.cost)",
        "Answer(found.x, root @ root.T, found.cost)",
        "test_nist1998_nonlinear_fit test_posterior",
    ),
    _M(
        "bench/comparison.py",
        "pooled = math.sqrt(0.5 * (a.sd**2 + b.sd**2))",
        "pooled = math.sqrt(a.sd**2 + b.sd**2)",
        "test_string_statistics",
    ),
    # checks
    _M("checks/prime.py", '"pull women": 244.0', '"pull women": 247.0', "test_nest_and_prime test_checks"),
    _M("checks/prime.py", '"start women": 150.0', '"start women": 155.0', "test_nest_and_prime test_checks"),
    _M(
        "checks/spring_limits.py",
        "SOLID_SHARE = 0.56",
        "SOLID_SHARE = 0.57",
        "test_en13906_spring_case test_spring_findings",
    ),
    _M(
        "checks/spring_limits.py",
        "seating: float = 0.5)",
        "seating: float = 0.6)",
        "test_shigley2011_springs test_spring_findings",
    ),
    _M(
        "checks/spring_findings.py",
        "if not 4 <= w <= 20:",
        "if not 3.9 <= w <= 20:",
        "test_spring_findings test_checks",
    ),
    _M("checks/spring_findings.py", "if fresh > 1:", "if fresh > 1.02:", "test_spring_findings test_checks"),
    _M(
        "checks/spring_findings.py",
        "sum(spring.si_values().mass for spring in build.springs) / 3",
        "sum(spring.si_values().mass for spring in build.springs) / 2",
        "test_spring_findings test_checks",
    ),
    _M(
        "checks/fit.py",
        "return gap * (gap > (1.0 - _COUNTED)",
        "return 0.95 * gap * (gap > (1.0 - _COUNTED)",
        "test_fit",
    ),
    # survives: where a caution becomes a warning is the kit's own choice
    _M("checks/fit.py", "LOOSE_WARNS = 0.99", "LOOSE_WARNS = 0.95", "test_fit"),
    # parts and their tables
    _M(
        "parts/losses.py",
        '"number", 0.0, 0.9, "speed ratio',
        '"number", 0.0, 0.95, "speed ratio',
        "test_limits_of_ranges",
    ),
    _M(
        "parts/coil.py",
        "return (index + 0.5) / (index - 0.75)",
        "return (index + 0.5) / (index - 0.74)",
        "test_en13906_spring_case test_spring_part",
    ),
    _M(
        "parts/coil.py",
        "0.0015 * mean_diameter**2 / wire + 0.1 * wire",
        "0.0015 * mean_diameter**2 / wire + 0.11 * wire",
        "test_en13906_spring_case test_spring_part",
    ),
    _M(
        "parts/coil.py",
        "return math.pi**2 / 4.0 * wire**2",
        "return math.pi**2 / 4.1 * wire**2",
        "test_shigley2011_springs test_spring_part",
    ),
    _M("parts/rate_tolerance.py", "_COILS = 0.25 ", "_COILS = 0.3 ", "test_spring_part test_wire"),
    _M(
        "parts/rate_tolerance.py",
        "for share in shares.values()) / 3)",
        "for share in shares.values()) / 2)",
        "test_spring_part test_wire",
    ),
    _M(
        "parts/losses.py",
        "port_discharge: float = 0.8",
        "port_discharge: float = 0.82",
        "test_build test_shot_faces",
    ),
    _M(
        "parts/wire.py",
        "yield_share: float = 0.45",
        "yield_share: float = 0.46",
        "test_wire test_shigley2011_springs test_spring_findings",
    ),
    _M(
        "parts/nest.py",
        "0.5 * float(rates(every) @ (squeezed",
        "0.4 * float(rates(every) @ (squeezed",
        "test_nest_and_prime test_bhandari2010_concentric_springs",
    ),
    _M("data/tables/wire_en10270_strength.csv", "1.50,1850,", "1.50,1870,", "test_wire"),
    _M(
        "data/tables/wire_a228_min_strength.csv",
        "1.2192,0.048,306,2110",
        "1.2192,0.048,306,2130",
        "test_wire",
    ),
    _M("data/tables/wire_tolerance.csv", "1.05,1.70,0.020", "1.05,1.70,0.025", "test_wire test_spring_part"),
    _M(
        "data/tables/spring_diameter_tolerance.csv",
        "10.0,16.0,0.30,0.35,0.40",
        "10.0,16.0,0.35,0.35,0.40",
        "test_wire test_spring_part",
    ),
    # air, units, values, files
    _M(
        "air.py",
        "DRY_GAS_CONSTANT = 287.05287",
        "DRY_GAS_CONSTANT = 287.15",
        "test_picard2008_and_standard_atmosphere test_air",
    ),
    _M(
        "air.py", "1.00062 + 3.14e-8", "1.00062 + 3.24e-8", "test_picard2008_and_standard_atmosphere test_air"
    ),
    _M(
        "air.py",
        "(temperature + 110.4)",
        "(temperature + 111.4)",
        "test_picard2008_and_standard_atmosphere test_air",
    ),
    _M("air.py", "4.04 * vapour\n", "4.14 * vapour\n", "test_picard2008_and_standard_atmosphere test_air"),
    _M(
        "units.py",
        'Kind("friction per pressure", "N/Pa", "N/kPa", "lbf/psi"',
        'Kind("friction per pressure", "N/Pa", "N/Pa", "lbf/psi"',
        "test_units",
    ),
    _M("units.py", 'Kind("stress", "Pa", "MPa", "kpsi"', 'Kind("stress", "Pa", "MPa", "psi"', "test_units"),
    _M("values.py", "THINNEST = 1e-5\n", "THINNEST = 9e-6\n", "test_limits_of_ranges"),
    _M(
        "values.py",
        'v["losses.blowby_area"] > _disc(v["barrel.bore"])',
        'v["losses.blowby_area"] > 1.1 * _disc(v["barrel.bore"])',
        "test_limits_of_ranges",
    ),
    _M("values.py", "SQUASH = 0.15", "SQUASH = 0.155", "test_build"),
    _M(
        "values.py",
        'lambda v: v["barrel.bore"] > 2.0 * v["dart.diameter"]',
        'lambda v: v["barrel.bore"] > 2.2 * v["dart.diameter"]',
        "test_build",
    ),
    _M("files.py", "_SURELY_LEFT = 3600.0", "_SURELY_LEFT = -1.0", "test_files"),
    _M("files.py", "            os.fsync(file.fileno())\n", "", "test_files"),
    # words
    _M(
        "report/numbers.py",
        'if p < 1e-4:\n        return "p < 0.0001',
        'if p < 1e-3:\n        return "p < 0.0001',
        "test_report_numbers",
    ),
    _M("report/numbers.py", "if p > 0.999:", "if p > 0.99:", "test_report_numbers"),
    _M(
        "report/numbers.py",
        "power = 10 ** math.floor(math.log10(rarity))",
        "power = 10 ** math.ceil(math.log10(rarity))",
        "test_report_numbers",
    ),
)


def path_of(mutant: Mutant, root: Path = ROOT) -> Path:
    """The file that a fault is in."""
    return root / (mutant.file if mutant.file.startswith("data/") else f"blasterlab/{mutant.file}")


def faults_of_the_list() -> list[str]:
    """Entries that no longer fit: no such file or test, or a text that stands there never or twice."""
    wrong = []
    known = {path.stem for path in [*ROOT.glob("tests/*/*.py"), *ROOT.glob("notebooks/*.ipynb")]}
    for number, mutant in enumerate(MUTANTS):
        path = path_of(mutant)
        count = path.read_text(encoding="utf-8").count(mutant.text) if path.is_file() else -1
        if count != 1 or mutant.text == mutant.other:
            wrong.append(f"{number}: {mutant.text!r} stands {count} times in {mutant.file}")
        wrong += [f"{number}: no test {name}" for name in mutant.likely.split() if name not in known]
    return wrong


def likely(mutant: Mutant) -> list[str]:
    """Paths of the tests that are likely to notice; the one of plain facts always."""
    found = {path.stem: str(path.relative_to(ROOT)) for path in ROOT.glob("tests/*/*.py")}
    found |= {path.stem: str(path.relative_to(ROOT)) for path in ROOT.glob("notebooks/*.ipynb")}
    return [found[name] for name in [*mutant.likely.split(), "test_facts"]]


def layer_of(path: str) -> str:
    """The layer that a test belongs to."""
    return next((name for name, tops in LAYERS.items() if path.startswith(tops)), path)


_LONGEST = 1800  # s that a run of tests may take: a fault may make one hang, which is noticed too
#: What the tests load anyway: loaded once, since every run of pytest is a fork of this process.
_HEAVY = ("numba", "pandas", "scipy.stats", "scipy.optimize", "matplotlib.figure", "pint", "hypothesis", "IPython",
          "ipywidgets", "nbval.plugin", "_pytest.assertion.rewrite")  # fmt: skip


def first_failure(folder: Path, tests: list[str], variables: dict[str, str]) -> str:
    """The first failing test, or nothing."""
    ignored = [f"--ignore=tests/unit/{name}.py" for name in LEFT_OUT]
    told = folder.parent / "told.txt"
    if (child := os.fork()) == 0:
        code = 3
        signal.alarm(_LONGEST)
        try:
            os.chdir(folder)
            os.environ.update(variables)
            sys.path[:] = [str(folder), *(place for place in sys.path if Path(place) != ROOT)]
            for name in [name for name in sys.modules if name.split(".")[0] == "blasterlab"]:
                del sys.modules[name]
            with told.open("w") as file:
                os.dup2(file.fileno(), 1)
                os.dup2(file.fileno(), 2)
                how = ["-x", "-q", "-n0", "-p", "no:cacheprovider", *ignored]
                code = int(pytest.main([*how, *tests]))
                sys.stdout.flush()
        finally:
            os._exit(code)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    if code in (0, 5):
        return ""
    if code == -signal.SIGALRM:
        return f"{tests[0]} hangs"
    text = told.read_text(encoding="utf-8", errors="replace")
    failed = [line for line in text.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    return failed[0].split(" ", 2)[1] if failed else f"pytest ended with {code}: {text[-300:]}"


def try_one(mutant: Mutant, folder: Path, scratch: Path, only_likely: bool) -> str:
    """Put a fault in, run tests until one notices, take it out again; says which test noticed."""
    path = path_of(mutant, folder)
    whole = path.read_text(encoding="utf-8")
    path.write_text(whole.replace(mutant.text, mutant.other), encoding="utf-8")
    variables = {"PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    if path in compile_cache.sources(folder / "blasterlab"):  # the copy's own compiled code stays as it is
        variables |= {"NUMBA_CACHE_DIR": str(scratch)}
    try:
        layers = [] if only_likely else LAYERS.values()
        for tests in [likely(mutant), *map(list, layers)]:
            if noticed := first_failure(folder, tests, variables):
                return noticed
        return ""
    finally:
        path.write_text(whole, encoding="utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--likely", action="store_true", help="run the likely tests only")
    parser.add_argument("which", nargs="?", default=":", help="numbers, such as 0:40 or 3,7,9")
    chosen = parser.parse_args()
    if wrong := faults_of_the_list():
        sys.exit("\n".join(wrong))
    numbers = list(range(len(MUTANTS)))
    if ":" in chosen.which:
        first, _, last = chosen.which.partition(":")
        numbers = numbers[int(first or 0) : int(last or len(numbers))]
    else:
        numbers = [int(number) for number in chosen.which.split(",")]
    for name in _HEAVY:
        importlib.import_module(name)
    sys.dont_write_bytecode = True
    counts: dict[str, int] = {}
    survivors = []
    with tempfile.TemporaryDirectory() as top:
        folder, scratch = Path(top) / "copy", Path(top) / "compiled"
        for part in PARTS:
            source = ROOT / part
            (shutil.copytree if source.is_dir() else shutil.copy)(source, _made(folder) / part)
        for number in numbers:
            start, mutant = time.monotonic(), MUTANTS[number]
            noticed = try_one(mutant, folder, scratch, chosen.likely)
            layer = layer_of(noticed) if noticed else "SURVIVES"
            counts[layer] = counts.get(layer, 0) + 1
            survivors += [] if noticed else [number]
            took = time.monotonic() - start
            print(f"{number:3d} {layer:9s} {took:4.0f} s  {mutant.file}: {mutant.other.strip()[:50]}  {noticed}",
                  flush=True)  # fmt: skip
    print(", ".join(f"{layer} {count}" for layer, count in sorted(counts.items())), f"of {len(numbers)}")
    for number in survivors:
        print(f"survives: {number} {MUTANTS[number]}")


def _made(folder: Path) -> Path:
    folder.mkdir(exist_ok=True)
    return folder


if __name__ == "__main__":
    main()
