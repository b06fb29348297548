"""Rates of change in a shot with gas waves: three columns of gas, what is between them, two bodies.

What it is for: the right-hand side for ``gas_shot``, SI floats; the bodies' state is that of the shot model
(``shot.equations``), whose gas is here in the columns.  What it leaves out: time, events, results.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from blasterlab.compiled import compiled
from blasterlab.shot import equations as eq
from blasterlab.shot.equations import S, U, W, Y
from blasterlab.shot.parameters import Floats, Integers, Parameters
from blasterlab.shot.rules import dart_sliding, seal_sliding
from blasterlab.waves.gas_column import RATES, add_end, face, inner_rates, reconstruct
from blasterlab.waves.openings import hole, mouth

CHAMBER, BARREL, AHEAD = range(3)
FRONT_WORK = eq.JET  # place of the work on the air ahead, beyond that against the still atmosphere


class Found(NamedTuple):
    """What `flow` finds, SI."""

    step: float  # the longest time step that a wave allows
    at_plunger: float  # pressures on the plunger's face, on both sides of the port, on the dart
    at_port: float
    at_breech: float
    at_base: float
    at_nose: float
    on_plunger: float  # force of gas and atmosphere
    on_dart: float
    outflow: float  # mass lost to the open air


@compiled
def column_ends(p: Parameters, x: Floats) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """Left and right ends of the three columns, each from its own origin."""
    left = (x[S], -p.barrel_dead / p.barrel_area, x[Y] + p.dart_length)
    return left, (p.stroke + p.chamber_dead / p.plunger_area, x[Y], p.length)


@compiled
def _warm(p: Parameters, t: float, column: Floats, n: int, length: float, area: float) -> float:
    """Take the heat to the walls out of each cell; returns the sum."""
    total = 0.0
    side = math.sqrt(4.0 * math.pi * area) * length / n
    for i in range(n):
        rho, _u, pressure = face(column, i, 0.0)
        surface = side + (area if i == 0 or i == n - 1 else 0.0)
        temperature = pressure / (rho * p.gas_constant)
        flux = eq.wall_flux(p, t, pressure, temperature, p.ambient_temperature) * surface
        column[RATES, 2, i] -= flux
        total += flux
    return total


@compiled
def _inside(p: Parameters, t: float, x: Floats, columns: Floats, n: Integers, dx: Floats) -> float:
    """Rates inside the columns; returns the longest time step a wave allows."""
    left, right = column_ends(p, x)
    left_speed, right_speed = (x[U], 0.0, x[W]), (0.0, x[W], 0.0)
    step = math.inf
    dx[eq.HEAT] = 0.0
    for k in range(3):
        if n[k] > 0:
            area = p.plunger_area if k == CHAMBER else p.barrel_area
            length = right[k] - left[k]
            fastest = reconstruct(columns[k], n[k], length, left_speed[k], right_speed[k], area)
            step = min(step, length / n[k] / fastest)
            inner_rates(columns[k], n[k], left_speed[k], right_speed[k], area)
            if p.wall_heat > 0.0 and k != AHEAD:
                dx[eq.HEAT] += _warm(p, t, columns[k], n[k], length, area)
    return step


@compiled
def _between(
    columns: Floats, n: Integers, k: int, wall: float, left_area: float, right_area: float, body: float,
    opening: float, laminar: float, rho_air: float, p_air: float,
) -> tuple[float, float, float, float, float, float]:  # fmt: skip
    """Add what stands left of column k does to the columns on both sides; no area stands for still air.

    Returns the pressures on its left and right, the force on a body of that area, the rate through it with
    its total enthalpy, and the speed to the right.
    """
    left = right = (rho_air, wall, p_air)
    if left_area > 0.0:
        left = face(columns[k - 1], n[k - 1] - 1, 1.0)
    if right_area > 0.0:
        right = face(columns[k], 0, -1.0)
    rate, h0, p_left, v_left, p_right, v_right = hole(
        left, right, wall, left_area, right_area, opening, laminar
    )
    if left_area > 0.0:
        add_end(columns[k - 1], n[k - 1] - 1, 1.0, left_area, p_left, wall, rate, h0, v_left)
    if right_area > 0.0:
        add_end(columns[k], 0, -1.0, right_area, p_right, wall, rate, h0, v_right)
    force = (p_left - p_right) * body + rate * (v_left - v_right)
    return p_left, p_right, force, rate, h0, v_right


@compiled
def flow(p: Parameters, t: float, x: Floats, columns: Floats, n: Integers, dx: Floats) -> Found:
    """Rates of all gas, and what it does to the bodies."""
    step = _inside(p, t, x, columns, n, dx)
    pa, u, w = p.ambient_pressure, x[U], x[W]
    rho = pa / (p.gas_constant * p.ambient_temperature)
    chamber, barrel = p.plunger_area, p.barrel_area
    ahead = barrel if n[AHEAD] > 0 else 0.0
    _, at_plunger, on_plunger, leak, h0, _ = _between(
        columns, n, CHAMBER, u, 0.0, chamber, chamber, p.seal_leak_area, p.seal_laminar, rho, pa
    )
    dx[eq.LEAKED] = -leak * (h0 + 0.5 * u**2)
    at_port, at_breech, _, _, _, _ = _between(
        columns, n, BARREL, 0.0, chamber, barrel, 0.0, p.port_area, 0.0, rho, pa
    )
    at_base, at_nose, on_dart, blowby, h0, speed = _between(
        columns, n, AHEAD, w, barrel, ahead, barrel, p.blowby_area, p.blowby_laminar, rho, pa
    )
    dx[eq.LEAKED] += blowby * (h0 + w * speed + 0.5 * w**2)
    dx[FRONT_WORK] = (at_nose - pa) * barrel * w
    outflow = blowby
    if ahead > 0.0:
        last = n[AHEAD] - 1
        rate, h0, pressure, speed = mouth(face(columns[AHEAD], last, 1.0), rho, pa)
        outflow = rate * ahead
        add_end(columns[AHEAD], last, 1.0, ahead, pressure, 0.0, outflow, h0, speed)
    return Found(step, at_plunger, at_port, at_breech, at_base, at_nose, on_plunger, on_dart, outflow - leak)


@compiled
def move(p: Parameters, x: Floats, mode: Integers, found: Found, push: float, dx: Floats) -> None:
    """Rates of the bodies; push is the force of the springs along which waves run."""
    plunger, dart = mode[eq.PLUNGER], mode[eq.DART]
    dx[S], dx[Y] = x[U], x[W]
    dx[U] = dx[W] = dx[eq.SEAL_WORK] = dx[eq.DART_WORK] = dx[eq.LINE_WORK] = 0.0
    if plunger != 0:
        friction = seal_sliding(p, found.at_plunger)
        force = eq.spring_force(p, x[S]) + push + found.on_plunger
        dx[U] = (force - plunger * friction) / p.plunger_mass
        dx[eq.LINE_WORK] = push * x[U]
        dx[eq.SEAL_WORK] = friction * plunger * x[U]
    if dart != 0:
        friction = dart_sliding(p, found.at_base, x[Y], mode[eq.NOSE])
        dx[W] = (found.on_dart - dart * friction) / p.dart_mass
        dx[eq.DART_WORK] = friction * dart * x[W]
