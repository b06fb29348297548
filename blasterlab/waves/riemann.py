"""Waves of a perfect gas in one dimension: behind a face that moves, and the flux through one.

What it is for: the pieces from which the shot with gas waves is built; SI floats.  What it leaves out: meshes
and time (``gas_column``), holes (``openings``).

References: E. F. Toro, *Riemann Solvers and Numerical Methods for Fluid Dynamics*, 3rd ed., 2009, ch. 10
(HLLC), section 9.5 (pressure estimate for wave speeds); H. W. Liepmann and A. Roshko, *Elements of
Gasdynamics*, 1957, ch. 3 (piston waves).
"""

from __future__ import annotations

import math

from blasterlab.compiled import compiled
from blasterlab.shot.parameters import GAMMA

#: Density, velocity and pressure of a gas.
State = tuple[float, float, float]


@compiled
def wave_pressure(rho: float, u_change: float, p: float) -> tuple[float, float, float]:
    """Pressure, density and slope dp/du behind the wave that changes a gas's speed by ``u_change``.

    Positive: the face is run into (a shock, Rankine and Hugoniot); negative: it runs away (a rarefaction,
    Riemann).
    """
    if u_change > 0.0:
        a = 2.0 / ((GAMMA + 1.0) * rho)
        beta = (GAMMA - 1.0) / (GAMMA + 1.0)
        # rise² a − rise du² − du² (p + b) = 0 with p + b = p (1 + beta)
        root = math.sqrt(u_change * u_change + 4.0 * a * p * (1.0 + beta))
        rise = 0.5 / a * u_change * (u_change + root)
        ratio = 1.0 + rise / p
        slope = 2.0 * (rise + p * (1.0 + beta)) / root
        return p + rise, rho * (ratio + beta) / (beta * ratio + 1.0), slope
    c = math.sqrt(GAMMA * p / rho)
    z = max(1.0 + 0.5 * (GAMMA - 1.0) * u_change / c, 1e-6)
    power = z ** (2.0 / (GAMMA - 1.0))
    return p * power * z * z, rho * power, rho * c * power * z


@compiled
def hllc(left: State, right: State, face: float) -> tuple[float, float, float]:
    """Flux of mass, momentum and energy through a face of some speed (HLLC, Toro ch. 10)."""
    (rl, ul, pl), (rr, ur, pr) = left, right
    ul -= face
    ur -= face
    cl, cr = math.sqrt(GAMMA * pl / rl), math.sqrt(GAMMA * pr / rr)
    guess = max(0.5 * (pl + pr) - 0.125 * (ur - ul) * (rl + rr) * (cl + cr), 0.0)
    ql = math.sqrt(1.0 + 0.5 * (GAMMA + 1.0) / GAMMA * (guess / pl - 1.0)) if guess > pl else 1.0
    qr = math.sqrt(1.0 + 0.5 * (GAMMA + 1.0) / GAMMA * (guess / pr - 1.0)) if guess > pr else 1.0
    sl, sr = ul - cl * ql, ur + cr * qr
    middle = (pr - pl + rl * ul * (sl - ul) - rr * ur * (sr - ur)) / (rl * (sl - ul) - rr * (sr - ur))
    if middle >= 0.0:
        r, u, p, s = rl, ul, pl, sl
        outside = sl >= 0.0
    else:
        r, u, p, s = rr, ur, pr, sr
        outside = sr <= 0.0
    energy = p / (GAMMA - 1.0) + 0.5 * r * u * u
    mass, momentum, power = r * u, r * u * u + p, u * (energy + p)
    if not outside:
        k = r * (s - u) / (s - middle)
        mass += s * (k - r)
        momentum += s * (k * middle - r * u)
        power += s * (k * (energy / r + (middle - u) * (middle + p / (r * (s - u)))) - energy)
    # Back from the frame of the face.
    return mass, momentum + face * mass, power + face * momentum + 0.5 * face * face * mass
