"""One tube of gas on its own, for problems with a known answer: shock tubes, pistons, organ pipes.

What it is for: `run_tube`, which drives a ``waves.gas_column`` between walls, pistons and open ends, so that
the scheme can be checked.  Compiled anew in each process: the package keeps code of its own sources only.
What it leaves out: holes, area changes, friction.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numba
import numpy as np

from blasterlab.compiled import COMPILED
from blasterlab.shot.parameters import GAMMA, Floats
from blasterlab.waves import gas_column as gas
from blasterlab.waves.gas_column import STATE, TOTALS
from blasterlab.waves.openings import mouth
from blasterlab.waves.riemann import wave_pressure

#: What an end of a tube does.
WALL, PISTON, OPEN = range(3)
LEFT, RIGHT, SPEED = range(3)  # places of the ends, and the free piston's speed
_CFL = 0.45  # time step over the time in which a wave crosses a cell
_compiled = numba.njit(nogil=True, error_model="numpy") if COMPILED else lambda function: function


class PistonMoment(NamedTuple):
    """A row of a tube's history, SI."""

    time: float
    place: float  # of the right end
    speed: float
    left_pressure: float
    right_pressure: float


class Tube(NamedTuple):
    """A tube of gas at the end of a run, and what its ends did."""

    x: Floats
    rho: Floats
    u: Floats
    p: Floats
    piston_place: float
    piston_speed: float
    piston_history: Floats  # columns as `PistonMoment`
    mass: float
    energy: float


@_compiled
def _end(
    column: Floats, cell: int, side: float, kind: int, speed: float, area: float, air: tuple[float, float]
) -> float:
    """Add what an end does to the rates of its cell; returns the pressure on it."""
    rho, u, p = gas.face(column, cell, side)
    if kind == OPEN:
        rate, h0, pressure, out = mouth((rho, side * u, p), *air)
        gas.add_end(column, cell, side, area, pressure, 0.0, side * rate * area, h0, side * out)
        return air[1]
    pressure = wave_pressure(rho, side * (u - speed), p)[0]
    gas.add_end(column, cell, side, area, pressure, speed, 0.0, 0.0, 0.0)
    return pressure


@_compiled
def _run(
    column: Floats, n: int, length: float, area: float, left: int, right: int, push: tuple[float, float],
    piston_mass: float, air: tuple[float, float], t_end: float, history: Floats,
) -> tuple[Floats, int]:  # fmt: skip
    """Heun steps of one tube; returns its `LEFT`, `RIGHT` and `SPEED` at the end, and rows of history."""
    body = np.array([0.0, length, 0.0])
    old, first, rate = np.zeros(3), np.zeros(3), np.zeros(3)
    t, dt, rows = 0.0, 0.0, 0
    while t < t_end:
        for stage in range(2):
            rate[LEFT] = push[0] + push[1] * (t + stage * dt) if left == PISTON else 0.0
            rate[RIGHT] = body[SPEED] if right == PISTON else 0.0
            width = body[RIGHT] - body[LEFT]
            fastest = gas.reconstruct(column, n, width, rate[LEFT], rate[RIGHT], area)
            gas.inner_rates(column, n, rate[LEFT], rate[RIGHT], area)
            p_left = _end(column, 0, -1.0, left, rate[LEFT], area, air)
            p_right = _end(column, n - 1, 1.0, right, rate[RIGHT], area, air)
            rate[SPEED] = p_right * area / piston_mass if right == PISTON else 0.0
            if stage == 0:
                if rows < len(history):
                    history[rows] = PistonMoment(t, body[RIGHT], body[SPEED], p_left, p_right)
                    rows += 1
                dt = min(_CFL * width / n / fastest, t_end - t)
                gas.half_step(column, n, dt)
                old[:], first[:] = body, rate
                body += dt * rate
            else:
                gas.full_step(column, n, dt)
                body[:] = old + 0.5 * dt * (first + rate)
        t = t + dt if t + dt < t_end * (1.0 - 1e-14) else t_end
    return body, rows


def run_tube(
    state: Floats,
    length: float,
    t_end: float,
    area: float = 1.0,
    left: int = WALL,
    right: int = WALL,
    push: tuple[float, float] = (0.0, 0.0),
    piston_mass: float = math.inf,
    air: tuple[float, float] = (1.2, 101325.0),
) -> Tube:
    """One tube of gas from a given start to a given time, in SI floats.

    d/dt ∫ (rho, rho u, E) dV = −∮ (flux − w (rho, rho u, E)) dA,  w the speed of the face

    Parameters
    ----------
    state : ndarray [kg/m³, m/s, Pa]
        Mean density, velocity and pressure of the cells, shape (3, n), n at least 3.
    length : float [m]
        Length of the tube at the start.
    t_end : float [s]
        When to stop.
    area : float [m²]
        Cross-section.
    left : int [-]
        ``WALL``, ``PISTON`` (moves as ``push`` says) or ``OPEN``.
    right : int [-]
        ``WALL``, ``PISTON`` (free, of ``piston_mass``, from rest) or ``OPEN``.
    push : tuple of float [m/s, m/s²]
        Speed at the start and constant acceleration of the left piston.
    piston_mass : float [kg]
        Mass of the right piston, with a vacuum on its far side.
    air : tuple of float [kg/m³, Pa]
        Density and pressure of the air outside an open end.

    Returns
    -------
    Tube
        Cell centres, state and history, SI.

    Raises
    ------
    ValueError
        For a state that is not (3, n) with n ≥ 3 or has a density or pressure that is not positive.
    """
    state = np.asarray(state, dtype=float)
    if state.ndim != 2 or state.shape[0] != 3 or state.shape[1] < 3:
        raise ValueError(f"state: got shape {state.shape}; must be (3, n) with n of at least 3")
    if not (state[0].min() > 0.0 and state[2].min() > 0.0):
        raise ValueError("state: density and pressure must be positive; the likely cause is their order")
    n = state.shape[1]
    rho, u, p = state
    column = np.zeros((gas.LAYERS, 3, n))
    column[TOTALS, :] = np.array([rho, rho * u, p / (GAMMA - 1.0) + 0.5 * rho * u * u]) * (length * area / n)
    history = np.empty((200_000, len(PistonMoment._fields)))
    body, rows = _run(
        column, n, float(length), float(area), left, right, tuple(map(float, push)), float(piston_mass),
        tuple(map(float, air)), float(t_end), history,
    )  # fmt: skip
    x_left, x_right = float(body[LEFT]), float(body[RIGHT])
    gas.reconstruct(column, n, x_right - x_left, 0.0, 0.0, area)
    x = x_left + (np.arange(n) + 0.5) * (x_right - x_left) / n
    mass, energy = column[TOTALS, 0].sum(), column[TOTALS, 2].sum()
    rho, u, p = column[STATE]
    return Tube(x, rho, u, p, x_right, float(body[SPEED]), history[:rows].copy(), float(mass), float(energy))
