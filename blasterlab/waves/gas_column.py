"""A column of gas between two ends that may move: finite volumes on a mesh that stretches with the ends.

What it is for: one tube of the shot with gas waves (``gas_shot``), and the tubes with a known answer by which
the tests prove the scheme.  Second order in space (limited linear reconstruction, HLLC flux) and time
(Heun), conservative in mass and energy to rounding, whatever the ends do.  SI floats.  What it leaves out:
wall friction and heat, area changes inside a column.

References: E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, ch. 13
and 14; B. van Leer, J. Comput. Phys. 32, 101 (1979) (limited reconstruction); C. W. Hirt, A. A. Amsden and
J. L. Cook, J. Comput. Phys. 14, 227 (1974) (moving meshes).
"""

from __future__ import annotations

import math

from blasterlab.compiled import compiled, compiled_inline
from blasterlab.shot.parameters import GAMMA, Floats
from blasterlab.waves.riemann import State, hllc

#: The layers of a column, each of shape (3, cells), SI; the first so many cells are in use, equally long:
#: mass, momentum and energy in each cell; density, velocity and pressure; their changes over half a cell; the
#: totals' rates; totals and rates at the start of a step.
TOTALS, STATE, SLOPE, RATES, BEFORE, FIRST = range(6)
LAYERS = 6


@compiled
def fill(column: Floats, n: int, volume: float, density: float, pressure: float) -> None:
    """Fill n cells of a column of some volume with gas at rest."""
    for i in range(n):
        column[TOTALS, 0, i] = density * volume / n
        column[TOTALS, 2, i] = pressure / (GAMMA - 1.0) * volume / n


@compiled
def _limit(a: float, b: float) -> float:
    """Monotonised central slope (van Leer 1977)."""
    if a * b <= 0.0:
        return 0.0
    steepest = 2.0 * min(abs(a), abs(b))
    return math.copysign(min(0.5 * abs(a + b), steepest), a)


@compiled
def reconstruct(
    column: Floats, n: int, length: float, left_speed: float, right_speed: float, area: float
) -> float:
    """Set the states and slopes of a column; returns the fastest wave through its moving mesh, m/s."""
    totals, states, slopes = column[TOTALS], column[STATE], column[SLOPE]
    volume = length * area / n
    fastest = 0.0
    for i in range(n):
        mass = totals[0, i]
        u = totals[1, i] / mass
        p = (GAMMA - 1.0) * (totals[2, i] - 0.5 * mass * u * u) / volume
        states[0, i], states[1, i], states[2, i] = mass / volume, u, p
        mesh = left_speed + (right_speed - left_speed) * (i + 0.5) / n
        fastest = max(fastest, math.sqrt(GAMMA * p * volume / mass) + abs(u - mesh))
    for k in range(3):
        w = states[k]
        for i in range(1, n - 1):
            slopes[k, i] = 0.5 * _limit(w[i] - w[i - 1], w[i + 1] - w[i])
        # One-sided at the ends, second order on a moving end too, but never to nothing.
        first = last = 0.0
        if n >= 3:
            first = 0.5 * _limit(w[1] - w[0], w[2] - w[1])
            last = 0.5 * _limit(w[n - 2] - w[n - 3], w[n - 1] - w[n - 2])
            if k != 1:
                first = min(first, 0.5 * w[0])
                last = max(last, -0.5 * w[n - 1])
        slopes[k, 0], slopes[k, n - 1] = first, last
    return fastest


@compiled_inline
def face(column: Floats, cell: int, side: float) -> State:
    """Density, velocity and pressure at a cell's left (side -1) or right (1) face."""
    w, d = column[STATE], column[SLOPE]
    return w[0, cell] + side * d[0, cell], w[1, cell] + side * d[1, cell], w[2, cell] + side * d[2, cell]


@compiled
def inner_rates(column: Floats, n: int, left_speed: float, right_speed: float, area: float) -> None:
    """Set the rates by the fluxes between the cells; what passes the ends is the caller's to add."""
    rates = column[RATES]
    rates[:, :n] = 0.0
    for i in range(n - 1):
        speed = left_speed + (right_speed - left_speed) * (i + 1) / n
        flux = hllc(face(column, i, 1.0), face(column, i + 1, -1.0), speed)
        for k in range(3):
            rates[k, i] -= flux[k] * area
            rates[k, i + 1] += flux[k] * area


@compiled
def add_end(
    column: Floats, cell: int, side: float, area: float, pressure: float, wall: float,
    rate: float, h0: float, speed: float,
) -> None:  # fmt: skip
    """Add to the rates what a wall at an end does, and the stream through it: of total enthalpy h0, and of
    a speed against the wall; side is 1 at the right end, -1 at the left, the rate positive to the right."""
    rates = column[RATES]
    rates[0, cell] -= side * rate
    rates[1, cell] -= side * (pressure * area + rate * (wall + speed))
    rates[2, cell] -= side * (pressure * area * wall + rate * (h0 + wall * speed + 0.5 * wall * wall))


@compiled
def half_step(column: Floats, n: int, dt: float) -> None:
    """First half of Heun's step: on with the rates at its start, which are kept."""
    for k in range(3):
        for i in range(n):
            column[BEFORE, k, i], column[FIRST, k, i] = column[TOTALS, k, i], column[RATES, k, i]
            column[TOTALS, k, i] += dt * column[RATES, k, i]


@compiled
def full_step(column: Floats, n: int, dt: float) -> None:
    """Second half: the step again, with the mean of the rates at its ends."""
    for k in range(3):
        for i in range(n):
            mean = 0.5 * (column[FIRST, k, i] + column[RATES, k, i])
            column[TOTALS, k, i] = column[BEFORE, k, i] + dt * mean


@compiled
def remesh(column: Floats, n: int, new: int) -> None:
    """Share n cells out among `new` equal ones, keeping every total; limited linear inside a cell."""
    totals, old, slopes = column[TOTALS], column[BEFORE], column[SLOPE]
    ratio = n / new
    old[:, :n] = totals[:, :n]
    slopes[:, :n] = 0.0
    for k in range(3):
        for i in range(1, n - 1):
            slopes[k, i] = _limit(old[k, i] - old[k, i - 1], old[k, i + 1] - old[k, i])
        for j in range(new):
            start, stop = j * ratio, (j + 1) * ratio
            total = 0.0
            i = int(start)
            while i < n and i < stop:
                a, b = max(start, i) - i, min(stop, i + 1.0) - i
                # Integral of Q + D (x - 1/2) over the part of the cell.
                total += (b - a) * (old[k, i] + 0.5 * slopes[k, i] * (a + b - 1.0))
                i += 1
            totals[k, j] = total
