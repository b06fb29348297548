"""The exact solution of the Riemann problem of a perfect gas, by which tests check fluxes and tubes.

E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, ch. 4.  A state is
density, velocity and pressure.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

State = tuple[float, float, float]
G = 1.4


class StarState(NamedTuple):
    """Between the two outer waves."""

    p: float
    u: float
    rho_left: float
    rho_right: float


def _speed_change(pressure: float, rho: float, p: float) -> tuple[float, float]:
    """Toro's f_K(p) (eqs 4.6 and 4.7) and its slope."""
    if pressure > p:
        a = 2.0 / ((G + 1.0) * rho)
        b = (G - 1.0) / (G + 1.0) * p
        root = math.sqrt(a / (pressure + b))
        return (pressure - p) * root, root * (1.0 - 0.5 * (pressure - p) / (pressure + b))
    c = math.sqrt(G * p / rho)
    ratio = pressure / p
    change = 2.0 * c / (G - 1.0) * (ratio ** (0.5 * (G - 1.0) / G) - 1.0)
    return change, ratio ** (-0.5 * (G + 1.0) / G) / (rho * c)


def _density(pressure: float, rho: float, p: float) -> float:
    """Behind a shock (Rankine and Hugoniot, eq. 4.50) or in a rarefaction (eq. 4.53)."""
    ratio, beta = pressure / p, (G - 1.0) / (G + 1.0)
    return rho * (ratio + beta) / (beta * ratio + 1.0) if ratio > 1.0 else rho * ratio ** (1.0 / G)


def star_state(left: State, right: State) -> StarState:
    """The state between the waves: f_L(p*) + f_R(p*) + u_R - u_L = 0, by Newton's method."""
    (rl, ul, pl), (rr, ur, pr) = left, right
    if min(rl, rr, pl, pr) <= 0.0:
        raise ValueError(f"left and right need positive density and pressure, got {left} and {right}")
    cl, cr = math.sqrt(G * pl / rl), math.sqrt(G * pr / rr)
    top = cl + cr - 0.5 * (G - 1.0) * (ur - ul)
    if top <= 0.0:
        raise ValueError(f"the gases part at {ur - ul:g} m/s, a vacuum opens; the likely cause is a sign")
    # Two rarefactions: exact when both are, and a positive start otherwise (eq. 4.46).
    power = 0.5 * (G - 1.0) / G
    p = (top / (cl / pl**power + cr / pr**power)) ** (1.0 / power)
    for _ in range(60):
        (fl, dl), (fr, dr) = _speed_change(p, rl, pl), _speed_change(p, rr, pr)
        step = (fl + fr + ur - ul) / (dl + dr)
        p = max(p - step, 1e-3 * p)
        if abs(step) <= 1e-14 * p:
            break
    u = 0.5 * (ul + ur) + 0.5 * (_speed_change(p, rr, pr)[0] - _speed_change(p, rl, pl)[0])
    return StarState(p, u, _density(p, rl, pl), _density(p, rr, pr))


def riemann_profile(left: State, right: State, speeds: np.ndarray) -> np.ndarray:
    """Density, velocity and pressure at values of x/t (section 4.5), shape (3, n)."""
    star = star_state(left, right)
    out = np.empty((3, len(speeds)))
    for i, speed in enumerate(speeds):
        # The right half is the left one seen in a mirror.
        side, (rho, u, p) = (1.0, left) if speed <= star.u else (-1.0, right)
        rho_star = star.rho_left if speed <= star.u else star.rho_right
        u, x, u_star = side * u, side * speed, side * star.u
        c = math.sqrt(G * p / rho)
        state = (rho_star, u_star, star.p)
        if star.p > p:
            shock = u - c * math.sqrt(0.5 * (G + 1.0) / G * star.p / p + 0.5 * (G - 1.0) / G)
            state = (rho, u, p) if x < shock else state
        elif x < u - c:
            state = (rho, u, p)
        elif x <= u_star - math.sqrt(G * star.p / rho_star):
            z = 2.0 / (G + 1.0) + (G - 1.0) / (G + 1.0) / c * (u - x)
            fan_u = 2.0 / (G + 1.0) * (c + 0.5 * (G - 1.0) * u + x)
            state = (rho * z ** (2.0 / (G - 1.0)), fan_u, p * z ** (2.0 * G / (G - 1.0)))
        out[:, i] = state[0], side * state[1], state[2]
    return out
