"""Random shots over the whole range of the hobby and beyond, for tests of physics; SI parameters, seeded."""

from __future__ import annotations

import math

import numpy as np

import blasterlab as bl
from blasterlab.parts import barrel, chamber, dart, losses
from blasterlab.shot.equations import STATES
from blasterlab.shot.integrate import COLUMNS, Outcome, integrate
from blasterlab.shot.parameters import Parameters
from blasterlab.values import RULES, derive

NO_RECORD = np.empty((0, COLUMNS))
#: Changes of the demo build "workhorse" whose ledger closes to a few parts in a million only
#: at the tolerance that does for all others.
STUBBORN: tuple[dict[str, str | float], ...] = (
    {"chamber.bore": "33.4 mm", "chamber.stroke": "24 mm", "chamber.port_diameter": "10.3 mm",
     "dart.mass": "0.83 g", "losses.dart_friction": "0 N", "losses.dart_breakaway": "2.3 N",
     "losses.stop_restitution": 0.84},
    {"chamber.port_diameter": "0.2 mm", "losses.seal_friction_per_pressure": "100 N/kPa",
     "chamber.stroke": "11.274 mm"},
)  # fmt: skip


def area(diameter: float) -> float:
    return math.pi / 4.0 * diameter**2


def draw(rng: np.random.Generator, **fixed: float) -> Parameters:
    """One shot; every loss is off in some shots and on in others."""

    def between(low: float, high: float) -> float:
        return float(rng.uniform(low, high))

    def sometimes(low: float, high: float) -> float:
        return between(low, high) if rng.random() < 0.5 else 0.0

    stroke, bore, friction = between(0.03, 0.15), between(0.02, 0.05), between(0.0, 8.0)
    second = rng.random() < 0.3
    values = {
        "rate1": between(200, 1500),
        "catch_compression1": between(0.0, 0.05) + stroke,
        "rate2": between(100, 600) if second else 0.0,
        "catch_compression2": max(stroke - between(0.0, 0.03), 0.0) if second else 0.0,
        "rate3": 0.0,
        "catch_compression3": 0.0,
        "plunger_mass": between(0.015, 0.08),
        "plunger_area": area(bore),
        "stroke": stroke,
        "chamber_dead": between(0.5e-6, 6e-6),
        "port_area": between(0.5, 0.95) * area(between(0.004, bore)),
        "barrel_area": area(between(0.0125, 0.0135)),
        "length": between(0.08, 0.6),
        "barrel_dead": between(0.3e-6, 3e-6),
        "dart_mass": between(0.6e-3, 3e-3),
        "dart_length": between(0.02, 0.08),
        "seal_friction": friction,
        "seal_breakaway": friction * between(1.0, 2.0),
        "seal_friction_per_pressure": sometimes(0.0, 1e-4),
        "seal_leak_area": sometimes(0.0, 2e-6),
        "dart_friction": between(0.0, 4.0),
        "dart_breakaway": between(4.0, 8.0),
        "dart_friction_per_pressure": sometimes(0.0, 3e-5),
        "blowby_area": sometimes(0.0, 4e-6),
        "gas_inertia": float(rng.random() < 0.7),
        "air_ahead": float(rng.random() < 0.7),
        "wall_heat": float(rng.random() < 0.3),
        "stop_restitution": sometimes(0.0, 0.8),
        "ambient_pressure": between(80e3, 103e3),
        "ambient_temperature": between(265.0, 310.0),
        "gas_constant": 287.05,
        "charge": 0.0,
    }
    coils = np.random.default_rng(int(1e12 * values["plunger_mass"]))  # of its own: the other draws stay
    if coils.random() < 0.7:
        values["wave_mass1"] = 0.002 * 40.0 ** float(coils.random())
        values["wave_mass2"] = float(coils.uniform(0.002, 0.02)) if second else 0.0
    return Parameters(**{**values, **fixed})


def run(p: Parameters, tolerance: float) -> tuple[Outcome, np.ndarray]:
    """Integrate one; the outcome and the final state."""
    state = np.empty(STATES)
    return integrate(p, tolerance, 1.0, state, NO_RECORD), state


def at_the_ends(rng: np.random.Generator) -> dict[str, float]:
    """Values of a build that may be, as in `Build.si`, many of them at the ends of what is accepted."""
    demos = [dict(bl.demo_build(name).si) for name in bl.demo_builds()]
    while True:
        values = dict(demos[rng.integers(len(demos))])
        for part in (chamber, barrel, dart, losses):
            for name, field in part.FIELDS.items():
                name = f"{part.__name__.rpartition('.')[2]}.{name}"
                kind = rng.integers(4)
                if kind == 0 and name in values:
                    values[name] = float(rng.choice([field.low, field.high]))
                elif kind < 3 and name in values:
                    low = field.low or 1e-6 * field.high
                    values[name] = float(np.exp(rng.uniform(np.log(low), np.log(field.high))))
        for name in ("gas_inertia", "air_ahead", "wall_heat"):
            values[f"losses.{name}"] = float(rng.random() < 0.6)
        values = derive(values)
        if not any(rule.broken(values) for rule in RULES):
            return values
