"""From a build's values to the kernel's parameters, for one build or for many at once.

What it is for: the only place that knows both names.  What it leaves out: checks, which the build has made.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from blasterlab.shot.parameters import Floats, Parameters

WIDTH = len(Parameters._fields)


def _area(diameter: Any) -> Any:
    return math.pi / 4.0 * diameter * diameter


def columns(values: Mapping[str, Any], charge: float = 0.0) -> dict[str, Any]:
    """The kernel's parameters by name.

    Parameters
    ----------
    values : mapping of str to float or ndarray [SI]
        `Build.si`, or the same with arrays of one length for what varies.
    charge : float [Pa]
        Absolute pressure of a charged chamber; 0 for a spring shot.

    Returns
    -------
    dict of str to float or ndarray
        A value for every field of `Parameters` [SI].
    """
    v = values
    springs = [n for n in range(3) if f"spring{n}.rate" in v]
    moving = sum(v[f"spring{n}.mass"] for n in springs)
    result = {
        "plunger_mass": v["chamber.plunger_mass"] + v["losses.spring_mass_fraction"] * moving,
        "plunger_area": _area(v["chamber.bore"]),
        "stroke": v["chamber.stroke"],
        "chamber_dead": v["chamber.dead_volume"],
        "port_area": v["losses.port_discharge"] * _area(v["chamber.port_diameter"]),
        "barrel_area": _area(v["barrel.bore"]),
        "length": v["barrel.length"],
        "barrel_dead": v["barrel.dead_volume"],
        "dart_mass": v["dart.mass"],
        "dart_length": v["dart.length"],
        "seal_friction": v["losses.seal_friction"],
        "seal_breakaway": np.maximum(v["losses.seal_breakaway"], v["losses.seal_friction"]),
        "seal_friction_per_pressure": v["losses.seal_friction_per_pressure"],
        "seal_leak_area": v["losses.seal_leak_area"],
        "dart_friction": v["losses.dart_friction"],
        "dart_breakaway": np.maximum(v["losses.dart_breakaway"], v["losses.dart_friction"]),
        "dart_friction_per_pressure": v["losses.dart_friction_per_pressure"],
        "blowby_area": v["losses.blowby_area"],
        "gas_inertia": v["losses.gas_inertia"],
        "air_ahead": v["losses.air_ahead"],
        "wall_heat": v["losses.wall_heat"],
        "stop_restitution": v["losses.stop_restitution"],
        "ambient_pressure": v["air.pressure"],
        "ambient_temperature": v["air.temperature"],
        "gas_constant": v["air.gas_constant"],
        "charge": charge,
    }
    for place in range(3):
        n = springs[place] if place < len(springs) else None
        result[f"rate{place + 1}"] = 0.0 if n is None else v[f"spring{n}.rate"]
        result[f"catch_compression{place + 1}"] = 0.0 if n is None else v[f"spring{n}.catch_compression"]
    return result


def parameters(values: Mapping[str, float], charge: float = 0.0) -> Parameters:
    """The kernel's parameters of one build.

    Parameters
    ----------
    values : mapping of str to float [SI]
        `Build.si`.
    charge : float [Pa]
        As in `columns`.

    Returns
    -------
    Parameters
        Floats [SI].
    """
    return Parameters(**{name: float(value) for name, value in columns(values, charge).items()})


def rows(values: Mapping[str, Any], count: int, charge: float = 0.0) -> Floats:
    """The kernel's parameters of many builds, one a row.

    Parameters
    ----------
    values : mapping of str to float or ndarray [SI]
        As in `columns`; arrays have `count` values.
    count : int [-]
        How many builds.
    charge : float [Pa]
        As in `columns`.

    Returns
    -------
    ndarray, shape (count, 32)
        Columns in the order of `Parameters` [SI].
    """
    table = np.empty((count, WIDTH))
    found = columns(values, charge)
    for place, name in enumerate(Parameters._fields):
        table[:, place] = found[name]
    return table
