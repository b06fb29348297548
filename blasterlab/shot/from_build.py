"""From a build's values to the shot's parameters, for one build or for many at once.

What it is for: the only place that knows both names, where they differ; losses keep theirs, so that a new one
passes through here untouched.  What it leaves out: checks, which the build has made.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import chain
from operator import itemgetter
from typing import Any

import numpy as np

from blasterlab.air import viscosity
from blasterlab.buildtext import MOST_SPRINGS
from blasterlab.shot.parameters import Floats, Parameters

WIDTH = len(Parameters._fields)
THIRD = 1.0 / 3.0
#: A spring whose waves come back within this share of √(plunger's mass / rate of all springs) moves as one,
#: with a third of its mass: over random shots that moves half of the muzzle velocities by less than 1e-7 and
#: none by more than 1e-4 (own choice).
LIGHT = 0.05
#: Parameter -> the build's name of the same value; a loss has the same name in both.
SAME = {
    "stroke": "chamber.stroke",
    "chamber_dead": "chamber.dead_volume",
    "length": "barrel.length",
    "barrel_dead": "barrel.dead_volume",
    "dart_mass": "dart.mass",
    "dart_length": "dart.length",
    "ambient_pressure": "air.pressure",
    "ambient_temperature": "air.temperature",
    "gas_constant": "air.gas_constant",
}


def _area(diameter: Any) -> Any:
    return math.pi / 4.0 * diameter * diameter


def _laminar(area: Any, bore: Any, length: Any, values: Mapping[str, Any]) -> Any:
    """The factor `laminar` of `orifice.leak`: a gap of this area and length around a bore, 0 for none."""
    t, width = values["air.temperature"], area / (math.pi * bore)
    resistance = 24.0 * viscosity(t) * values["air.gas_constant"] * t * length
    return np.where(length > 0.0, area * width**2 / np.where(length > 0.0, resistance, 1.0), 0.0)


def with_end_coils(values: Mapping[str, Any]) -> Any:
    """Mass of the plunger with the springs' dead coils that move with it: half of each spring's [kg]."""
    v = values
    springs = (n for n in range(MOST_SPRINGS) if f"spring{n}.rate" in v)
    dead = sum(v[f"spring{n}.mass"] - v[f"spring{n}.active_mass"] for n in springs)
    return v["chamber.plunger_mass"] + 0.5 * dead


def columns(values: Mapping[str, Any], charge: float = 0.0) -> dict[str, Any]:
    """The shot's parameters by name.

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
    springs = [n for n in range(MOST_SPRINGS) if f"spring{n}.rate" in v]
    rates = sum(v[f"spring{n}.rate"] for n in springs)
    as_one = v["losses.spring_mass_fraction"] * sum(v[f"spring{n}.mass"] for n in springs)
    result = {name: v[source] for name, source in SAME.items()}
    result |= {name: v[f"losses.{name}"] for name in Parameters._fields if f"losses.{name}" in v}
    result |= {
        "plunger_area": _area(v["chamber.bore"]),
        "port_area": v["losses.port_discharge"] * _area(v["chamber.port_diameter"]),
        "barrel_area": _area(v["barrel.bore"]),
        "charge": charge,
    }
    for loss, gap, part in (("seal", "seal_leak", "chamber"), ("blowby", "blowby", "barrel")):
        area, length = (v[f"losses.{gap}_{key}"] for key in ("area", "length"))
        result[f"{loss}_laminar"] = _laminar(area, v[f"{part}.bore"], length, v)
    waves = v["losses.spring_waves"] == 1.0
    moving = np.where(waves, with_end_coils(v), v["chamber.plunger_mass"] + as_one)
    for n in range(MOST_SPRINGS):
        active = v.get(f"spring{n}.active_mass", 0.0)
        # 2T against the time scale of plunger and springs; one so light moves as one
        light = n in springs and 4.0 * active / v[f"spring{n}.rate"] * rates < LIGHT**2 * moving
        result[f"wave_mass{n + 1}"] = np.where(waves & ~np.asarray(light), active, 0.0)
        moving = moving + np.where(waves & np.asarray(light), THIRD * active, 0.0)
    result["plunger_mass"] = moving
    for n in range(MOST_SPRINGS):
        result[f"rate{n + 1}"] = v.get(f"spring{n}.rate", 0.0)
        result[f"catch_compression{n + 1}"] = v.get(f"spring{n}.catch_compression", 0.0)
    return result


def parameters(values: Mapping[str, float], charge: float = 0.0) -> Parameters:
    """The shot's parameters of one build.

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
    """The shot's parameters of many builds, one a row.

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
    ndarray, shape (count, fields)
        Columns in the order of `Parameters` [SI].
    """
    table = np.empty((count, WIDTH))
    found = columns(values, charge)
    for place, name in enumerate(Parameters._fields):
        table[:, place] = found[name]
    return table


def packed(values: Sequence[Mapping[str, float]], charge: float = 0.0) -> Floats:
    """The shot's parameters of many separate builds, one a row.

    Parameters
    ----------
    values : sequence of mapping of str to float [SI]
        `Build.si` of each.
    charge : float [Pa]
        As in `columns`.

    Returns
    -------
    ndarray, shape (builds, fields)
        Columns in the order of `Parameters` [SI].
    """
    table = np.empty((len(values), WIDTH))
    sizes = np.array([len(v) for v in values])  # builds with as many springs have the same names
    for size in set(sizes):
        places = np.flatnonzero(sizes == size).tolist()
        names = list(values[places[0]])
        read = itemgetter(*names)
        every = chain.from_iterable(read(values[place]) for place in places)
        found = np.fromiter(every, float, len(places) * len(names)).reshape(len(places), len(names))
        table[places] = rows(dict(zip(names, found.T, strict=True)), len(places), charge)
    return table
