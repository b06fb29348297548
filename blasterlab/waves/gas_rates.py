# mypy: allow-untyped-defs
"""Rates of change in a shot with resolved waves: three columns of gas, the holes between them, two bodies.

What it is for: the right-hand side for ``waves``.  What it leaves out: time, events, results.
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.shot.equations import spring_force
from blasterlab.shot.equations import wall_flux as heat_flux
from blasterlab.shot.parameters import GAMMA
from blasterlab.waves.gas_column import inner_rates, mouth_flux, reconstruct
from blasterlab.waves.riemann import discharge, wave_pressure

CHAMBER, BARREL, AHEAD = 0, 1, 2
S, U, Y, W, SEAL_WORK, DART_WORK, LEAKED, HEAT, FRONT_WORK = range(9)
# what `flow` finds: pressures left and right of plunger, port and dart; the gas's force on each; mass lost
AT_LEFT, AT_RIGHT, FORCE, OUT_MASS = 0, 3, 6, 9
AT_PLUNGER, AT_PORT, AT_BREECH, AT_BASE, AT_NOSE = (
    AT_RIGHT,
    AT_LEFT + 1,
    AT_RIGHT + 1,
    AT_LEFT + 2,
    AT_RIGHT + 2,
)
ON_PLUNGER, ON_DART = FORCE, FORCE + 2


@compiled
def columns(p, B):
    """Left and right ends of the three columns, each from its own origin."""
    chamber = p.stroke + p.chamber_dead / p.plunger_area
    return B[S], chamber, -p.barrel_dead / p.barrel_area, B[Y], B[Y] + p.dart_length, p.length


@compiled
def hole(left, right, wall, area_left, area_right, cda):
    """Flow through a hole in a moving wall: rate, total enthalpy, pressure and speed on each side.

    ``left`` and ``right`` are density, velocity and pressure next to it; an area of zero stands for still air
    of that pressure.  The rate and the speeds (against the wall) are positive to the right.
    """
    vl, vr = left[1] - wall, right[1] - wall
    p_left = wave_pressure(left[0], vl, left[2], GAMMA)[0] if area_left > 0.0 else left[2]
    p_right = wave_pressure(right[0], -vr, right[2], GAMMA)[0] if area_right > 0.0 else right[2]
    if cda <= 0.0 or p_left == p_right:
        return 0.0, 0.0, p_left, 0.0, p_right, 0.0
    if p_left > p_right:
        side, up, v_up, area_up, down, v_down, area_down = 1.0, left, vl, area_left, right, vr, area_right
    else:
        side, up, v_up, area_up, down, v_down, area_down = -1.0, right, -vr, area_right, left, -vl, area_left
    rate, h0, p_up, q_up, p_down, q_down = discharge(
        up[0], v_up, up[2], area_up, down[0], v_down, down[2], area_down, cda, GAMMA
    )
    if side > 0.0:
        return rate, h0, p_up, q_up, p_down, q_down
    return -rate, h0, p_down, -q_down, p_up, -q_up


@compiled
def _through(K, cell, side, area, rate, h0, pressure, speed, wall):
    """Add what passes an end to the rates of its cell; ``side`` is +1 where the gas leaves to the right."""
    K[0, cell] -= side * rate
    K[1, cell] -= side * (pressure * area + rate * (wall + speed))
    K[2, cell] -= side * (pressure * area * wall + rate * (h0 + wall * speed + 0.5 * wall * wall))


@compiled
def _warm(p, t, Wk, n, length, area, K):
    """Heat to the walls out of each cell; returns the sum."""
    total = 0.0
    side = math.sqrt(4.0 * math.pi * area) * length / n
    for i in range(n):
        temperature = Wk[2, i] / (Wk[0, i] * p.gas_constant)
        surface = side + (area if i == 0 or i == n - 1 else 0.0)
        flux = heat_flux(p, t, Wk[2, i], temperature, p.ambient_temperature) * surface
        K[2, i] -= flux
        total += flux
    return total


@compiled
def flow(p, t, B, n, ahead, Q, Wk, D, K, dB, out):
    """Rates of all gas and the gas's forces; returns the longest time step a wave allows, in cells."""
    ends = columns(p, B)
    speeds = (B[U], 0.0, 0.0, B[W], B[W], 0.0)
    areas = (p.plunger_area, p.barrel_area, p.barrel_area)
    pa = p.ambient_pressure
    rho_air = pa / (p.gas_constant * p.ambient_temperature)
    step = 1e9
    for k in range(3 if ahead else 2):
        length = ends[2 * k + 1] - ends[2 * k]
        fastest = reconstruct(
            Q[k], n[k], length, speeds[2 * k], speeds[2 * k + 1], areas[k], GAMMA, Wk[k], D[k]
        )
        step = min(step, length / n[k] / fastest)
        inner_rates(Wk[k], D[k], n[k], speeds[2 * k], speeds[2 * k + 1], areas[k], GAMMA, K[k])
    dB[LEAKED] = 0.0
    dB[HEAT] = 0.0
    out[OUT_MASS] = 0.0
    if p.wall_heat > 0.0:
        for k in range(2):
            length = ends[2 * k + 1] - ends[2 * k]
            dB[HEAT] += _warm(p, t, Wk[k], n[k], length, areas[k], K[k])
    # what stands on either side of the plunger, the port and the dart
    end1, end2 = n[CHAMBER] - 1, n[BARREL] - 1
    sides = np.empty((6, 3))
    for m in range(3):
        sides[1, m] = Wk[CHAMBER, m, 0] - D[CHAMBER, m, 0]
        sides[2, m] = Wk[CHAMBER, m, end1] + D[CHAMBER, m, end1]
        sides[3, m] = Wk[BARREL, m, 0] - D[BARREL, m, 0]
        sides[4, m] = Wk[BARREL, m, end2] + D[BARREL, m, end2]
        sides[5, m] = Wk[AHEAD, m, 0] - D[AHEAD, m, 0]
    sides[0] = rho_air, B[U], pa
    if not ahead:
        sides[5] = rho_air, B[W], pa
    walls = (B[U], 0.0, B[W])
    tubes = (
        0.0,
        p.plunger_area,
        p.plunger_area,
        p.barrel_area,
        p.barrel_area,
        p.barrel_area if ahead else 0.0,
    )
    holes = (p.seal_leak_area, p.port_area, p.blowby_area)
    for i in range(3):
        left, right = tubes[2 * i], tubes[2 * i + 1]
        rate, h0, p_left, v_left, p_right, v_right = hole(
            sides[2 * i], sides[2 * i + 1], walls[i], left, right, holes[i]
        )
        out[AT_LEFT + i], out[AT_RIGHT + i] = p_left, p_right
        # the dart's and the plunger's own areas stand for still air
        on_left = p_left * max(left, areas[i]) + rate * v_left
        on_right = p_right * max(right, areas[i]) + rate * v_right
        out[FORCE + i] = on_left - on_right
        if i > 0:
            _through(K[i - 1], n[i - 1] - 1, 1.0, left, rate, h0, p_left, v_left, walls[i])
        if i < 2 or ahead:
            _through(K[i], 0, -1.0, right, rate, h0, p_right, v_right, walls[i])
        if i == 0:
            dB[LEAKED] -= rate * (h0 + 0.5 * B[U] ** 2)
            out[OUT_MASS] -= rate
        elif i == 2:
            dB[LEAKED] += rate * (h0 + B[W] * v_right + 0.5 * B[W] ** 2)
            dB[FRONT_WORK] = (p_right - pa) * p.barrel_area * B[W]
            out[OUT_MASS] += 0.0 if ahead else rate
    if ahead:
        last = n[AHEAD] - 1
        mass, momentum, energy = mouth_flux(
            Wk[AHEAD, 0, last] + D[AHEAD, 0, last],
            Wk[AHEAD, 1, last] + D[AHEAD, 1, last],
            Wk[AHEAD, 2, last] + D[AHEAD, 2, last],
            pa,
            rho_air,
            1.0,
            GAMMA,
        )
        K[AHEAD, 0, last] -= mass * p.barrel_area
        K[AHEAD, 1, last] -= momentum * p.barrel_area
        K[AHEAD, 2, last] -= energy * p.barrel_area
        out[OUT_MASS] += mass * p.barrel_area
    return step


@compiled
def friction(p, B, out):
    """Sliding friction of seal and dart, as in the lumped model but from the pressures at the faces."""
    seal = p.seal_friction + p.seal_friction_per_pressure * max(out[AT_PLUNGER] - p.ambient_pressure, 0.0)
    dart = p.dart_friction + p.dart_friction_per_pressure * max(out[AT_BASE] - p.ambient_pressure, 0.0)
    if B[Y] > p.length - p.dart_length:
        dart *= max(p.length - B[Y], 0.0) / p.dart_length
    return seal, dart


@compiled
def move(p, B, plunger, dart, out, dB):
    """Rates of the bodies; ``plunger`` and ``dart`` are −1, 0 (held) or 1 by the way they move."""
    seal, grip = friction(p, B, out)
    dB[S], dB[Y] = B[U], B[W]
    dB[U] = dB[W] = dB[SEAL_WORK] = dB[DART_WORK] = 0.0
    if plunger != 0:
        dB[U] = (spring_force(p, B[S]) + out[ON_PLUNGER] - plunger * seal) / p.plunger_mass
        dB[SEAL_WORK] = seal * plunger * B[U]
    if dart != 0:
        dB[W] = (out[ON_DART] - dart * grip) / p.dart_mass
        dB[DART_WORK] = grip * dart * B[W]
