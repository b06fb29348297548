# mypy: allow-untyped-defs
"""A column of gas between two ends that may move: finite volumes on a mesh that stretches with the ends.

What it is for: one tube of the wave-resolving shot (``waves``), and the tubes with a known answer that
prove the scheme.  Second order in space (limited linear reconstruction, HLLC flux) and time (Heun),
conservative in mass and energy to rounding, whatever the ends do.  What it leaves out: wall friction and
heat, area changes inside a column.

A column is an array of totals per cell: mass [kg], momentum [kg m/s], energy [J], shape (3, cells), of
which the first ``n`` cells are in use, all equally long.

References: E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, ch. 13
and 14; B. van Leer, J. Comput. Phys. 32, 101 (1979) (limited reconstruction); C. W. Hirt, A. A. Amsden and
J. L. Cook, J. Comput. Phys. 14, 227 (1974) (moving meshes).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.waves.riemann import hllc, wave_pressure

#: What an end of a column does.
WALL, PISTON, OPEN = 0, 1, 2


@compiled
def _limit(a, b):
    """Monotonised central slope (van Leer 1977)."""
    if a * b <= 0.0:
        return 0.0
    steepest = 2.0 * min(abs(a), abs(b))
    return math.copysign(min(0.5 * abs(a + b), steepest), a)


@compiled
def reconstruct(Q, n, length, speed_left, speed_right, area, g, W, D):
    """Fill ``W`` with density, velocity, pressure and ``D`` with their changes over half a cell.

    Returns the highest speed of a wave through the moving mesh [m/s].
    """
    volume = length * area / n
    fastest = 0.0
    for i in range(n):
        mass = Q[0, i]
        u = Q[1, i] / mass
        p = (g - 1.0) * (Q[2, i] - 0.5 * mass * u * u) / volume
        W[0, i] = mass / volume
        W[1, i] = u
        W[2, i] = p
        mesh = speed_left + (speed_right - speed_left) * (i + 0.5) / n
        fastest = max(fastest, math.sqrt(g * p * volume / mass) + abs(u - mesh))
    for k in range(3):
        for i in range(1, n - 1):
            D[k, i] = 0.5 * _limit(W[k, i] - W[k, i - 1], W[k, i + 1] - W[k, i])
        D[k, 0] = 0.0
        D[k, n - 1] = 0.0
        if n >= 3:
            # One-sided at the ends, second order on a moving end too, but never to nothing.
            first = 0.5 * _limit(W[k, 1] - W[k, 0], W[k, 2] - W[k, 1])
            last = 0.5 * _limit(W[k, n - 2] - W[k, n - 3], W[k, n - 1] - W[k, n - 2])
            if k != 1:
                first = min(first, 0.5 * W[k, 0])
                last = max(last, -0.5 * W[k, n - 1])
            D[k, 0] = first
            D[k, n - 1] = last
    return fastest


@compiled
def inner_rates(W, D, n, speed_left, speed_right, area, g, K):
    """Set ``K`` to the rates of change by the fluxes between the cells; the ends are the caller's to add."""
    for k in range(3):
        for i in range(n):
            K[k, i] = 0.0
    for i in range(n - 1):
        face = speed_left + (speed_right - speed_left) * (i + 1) / n
        mass, momentum, energy = hllc(
            W[0, i] + D[0, i],
            W[1, i] + D[1, i],
            W[2, i] + D[2, i],
            W[0, i + 1] - D[0, i + 1],
            W[1, i + 1] - D[1, i + 1],
            W[2, i + 1] - D[2, i + 1],
            face,
            g,
        )
        K[0, i] -= mass * area
        K[1, i] -= momentum * area
        K[2, i] -= energy * area
        K[0, i + 1] += mass * area
        K[1, i + 1] += momentum * area
        K[2, i + 1] += energy * area


@compiled
def remesh(Q, n, new, W, D, g):
    """Share the column out among ``new`` equal cells, keeping every total; limited linear inside a cell."""
    for k in range(3):
        for i in range(n):
            W[k, i] = Q[k, i]
        for i in range(n):
            D[k, i] = 0.0
            if 0 < i < n - 1:
                D[k, i] = _limit(Q[k, i] - Q[k, i - 1], Q[k, i + 1] - Q[k, i])
        ratio = n / new
        for j in range(new):
            start, stop = j * ratio, (j + 1) * ratio
            total = 0.0
            i = int(start)
            while i < n and i < stop:
                a, b = max(start, i) - i, min(stop, i + 1.0) - i
                # Integral of Q + D (x − 1/2) over the part of the cell.
                total += (b - a) * (W[k, i] + 0.5 * D[k, i] * (a + b - 1.0))
                i += 1
            Q[k, j] = total
    return new


@compiled
def fill(Q, n, length, area, rho, u, p, g):
    """Fill a column with gas of one state."""
    volume = length * area / n
    for i in range(n):
        Q[0, i] = rho * volume
        Q[1, i] = rho * u * volume
        Q[2, i] = (p / (g - 1.0) + 0.5 * rho * u * u) * volume


@compiled
def wall_flux(rho, u, p, face, outward, g):
    """Pressure on an end that moves at ``face``; ``outward`` is +1 at a right end, −1 at a left end."""
    pressure, _, _ = wave_pressure(rho, outward * (u - face), p, g)
    return pressure


@compiled
def mouth_flux(rho, u, p, p_air, rho_air, outward, g):
    """Flux of mass, momentum and energy out of a mouth at rest into still air, positive outwards.

    Outflow leaves at the pressure of the air (or at sonic speed); inflow is drawn without loss from air at
    rest.
    """
    v = outward * u
    c = math.sqrt(g * p / rho)
    half = 0.5 * (g - 1.0)
    if p_air < p:
        speed = v + c / half * (1.0 - (p_air / p) ** (half / g))
    else:
        speed = v - (p_air - p) * math.sqrt(2.0 / ((g + 1.0) * rho) / (p_air + (g - 1.0) / (g + 1.0) * p))
    if speed >= 0.0:
        sonic = (c + half * v) / (1.0 + half)
        speed = min(speed, max(sonic, v))
        pressure, density, _ = wave_pressure(rho, v - speed, p, g)
        h = g / (g - 1.0) * pressure / density + 0.5 * speed * speed
        rate = density * speed
        return rate, pressure + rate * speed, rate * h
    # Inflow at speed q > 0: isentropic from air at rest, matched to the wave in the tube (Newton).
    h_air = g / (g - 1.0) * p_air / rho_air
    q = -speed
    pressure = p
    for _ in range(30):
        pressure, _, slope = wave_pressure(rho, v + q, p, g)
        z = max(1.0 - 0.5 * q * q / h_air, 0.1)
        outside = p_air * z ** (g / (g - 1.0))
        step = (outside - pressure) / (slope + g / (g - 1.0) * outside * q / (h_air * z))
        new = max(q + step, 0.0)
        done = abs(new - q) <= 1e-13 * c
        q = new
        if done:
            break
    z = 1.0 - 0.5 * q * q / h_air
    rate = -rho_air * z ** (1.0 / (g - 1.0)) * q
    return rate, p_air * z ** (g / (g - 1.0)) - rate * q, rate * h_air


class Tube(NamedTuple):
    """One column of gas at the end of a run, and what its ends did."""

    x: np.ndarray
    rho: np.ndarray
    u: np.ndarray
    p: np.ndarray
    time: float
    piston_place: float
    piston_speed: float
    piston_history: np.ndarray
    mass: float
    energy: float


@compiled
def _run(
    Q, n, x_left, x_right, area, left, right, push, mass, p_ahead, p_air, rho_air, t_end, cfl, g, history
):
    """Heun steps of one column; a left PISTON moves by ``push`` (speed, rate), a right one is free."""
    W, D = np.empty_like(Q), np.empty_like(Q)
    K, first = np.empty_like(Q), np.empty_like(Q)
    t, v = 0.0, 0.0
    rows = 0
    old = np.empty_like(Q)
    while t < t_end:
        dt = 0.0
        x0, x1, v0 = x_left, x_right, v
        dx0 = dx1 = dv0 = 0.0
        for stage in range(2):
            time = t + dt * stage
            speed_left = push[0] + push[1] * time if left == PISTON else 0.0
            speed_right = v if right == PISTON else 0.0
            fastest = reconstruct(Q, n, x_right - x_left, speed_left, speed_right, area, g, W, D)
            inner_rates(W, D, n, speed_left, speed_right, area, g, K)
            a, b = W[:, 0] - D[:, 0], W[:, n - 1] + D[:, n - 1]
            if left == OPEN:
                rate, momentum, energy = mouth_flux(a[0], a[1], a[2], p_air, rho_air, -1.0, g)
                K[0, 0] -= rate * area
                K[1, 0] += momentum * area
                K[2, 0] -= energy * area
                p_left = p_air
            else:
                p_left = wall_flux(a[0], a[1], a[2], speed_left, -1.0, g)
                K[1, 0] += p_left * area
                K[2, 0] += p_left * speed_left * area
            force = 0.0
            if right == OPEN:
                rate, momentum, energy = mouth_flux(b[0], b[1], b[2], p_air, rho_air, 1.0, g)
                K[0, n - 1] -= rate * area
                K[1, n - 1] -= momentum * area
                K[2, n - 1] -= energy * area
            else:
                p_right = wall_flux(b[0], b[1], b[2], speed_right, 1.0, g)
                K[1, n - 1] -= p_right * area
                K[2, n - 1] -= p_right * speed_right * area
                force = (p_right - p_ahead) * area
            acceleration = force / mass if right == PISTON else 0.0
            if stage == 0:
                if rows < len(history):
                    history[rows, 0], history[rows, 1], history[rows, 2] = t, x_right, v
                    history[rows, 3], history[rows, 4] = p_left, force / area + p_ahead
                    rows += 1
                dt = min(cfl * (x_right - x_left) / n / fastest, t_end - t)
                old[:, :n] = Q[:, :n]
                first[:, :n] = K[:, :n]
                dx0, dx1, dv0 = speed_left, speed_right, acceleration
                Q[:, :n] += dt * K[:, :n]
                x_left += dt * dx0
                x_right += dt * dx1
                v += dt * dv0
            else:
                Q[:, :n] = old[:, :n] + 0.5 * dt * (first[:, :n] + K[:, :n])
                x_left = x0 + 0.5 * dt * (dx0 + speed_left)
                x_right = x1 + 0.5 * dt * (dx1 + speed_right)
                v = v0 + 0.5 * dt * (dv0 + acceleration)
        t = t + dt if t + dt < t_end * (1.0 - 1e-14) else t_end
    return x_left, x_right, v, rows


def run_tube(
    state: np.ndarray,
    length: float,
    t_end: float,
    area: float = 1.0,
    left: int = WALL,
    right: int = WALL,
    push: tuple[float, float] = (0.0, 0.0),
    piston_mass: float = math.inf,
    p_ahead: float = 0.0,
    air: tuple[float, float] = (1.2, 101325.0),
    cfl: float = 0.45,
    gamma: float = 1.4,
) -> Tube:
    """One column of gas from a given start to a given time, in SI floats.

    d/dt ∫ (rho, rho u, E) dV = −∮ (flux − w (rho, rho u, E)) dA,  w the speed of the face

    Parameters
    ----------
    state : ndarray [kg/m³, m/s, Pa]
        Mean density, velocity and pressure of the cells, shape (3, n), n at least 3.
    length : float [m]
        Length of the column at the start.
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
        Mass of the right piston.
    p_ahead : float [Pa]
        Pressure on the far side of the right piston.
    air : tuple of float [kg/m³, Pa]
        Density and pressure of the air outside an open end.
    cfl : float [-]
        Time step in units of the time in which a wave crosses a cell.
    gamma : float [-]
        Ratio of specific heats.

    Returns
    -------
    Tube
        Cell centres, state and the piston's history (columns: time, place and speed of the right end,
        pressure on the left and the right end), SI.

    Raises
    ------
    ValueError
        For a state that is not (3, n) with n ≥ 3 or has a density or pressure that is not positive.

    Examples
    --------
    >>> gas = np.tile([[1.2], [0.0], [101325.0]], (1, 20))
    >>> tube = run_tube(gas, 0.1, 1e-4, left=PISTON, push=(10.0, 0.0))
    >>> round(float(tube.piston_history[0, 3]) / 1e3, 1)
    105.5
    """
    state = np.asarray(state, dtype=float)
    if state.ndim != 2 or state.shape[0] != 3 or state.shape[1] < 3:
        raise ValueError(f"state: shape (3, n) with n of at least 3 is needed, got {state.shape}")
    if not (state[0].min() > 0.0 and state[2].min() > 0.0):
        raise ValueError("state: density and pressure must be positive; the likely cause is their order")
    n = state.shape[1]
    volume = length * area / n
    rho, u, p = state
    Q = np.array([rho, rho * u, p / (gamma - 1.0) + 0.5 * rho * u * u]) * volume
    history = np.empty((200_000, 5))
    x_left, x_right, v, rows = _run(
        Q,
        n,
        0.0,
        length,
        area,
        left,
        right,
        push,
        piston_mass,
        p_ahead,
        air[1],
        air[0],
        t_end,
        cfl,
        gamma,
        history,
    )
    volume = (x_right - x_left) * area / n
    x = x_left + (np.arange(n) + 0.5) * (x_right - x_left) / n
    rho, u = Q[0] / volume, Q[1] / Q[0]
    p = (gamma - 1.0) * (Q[2] / volume - 0.5 * rho * u * u)
    return Tube(x, rho, u, p, t_end, x_right, v, history[:rows].copy(), float(Q[0].sum()), float(Q[2].sum()))
