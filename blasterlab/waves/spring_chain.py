"""A spring as a chain of equal masses and springs between a fixed end and the plunger: its equations.

What it is for: a spring of some mass does not follow its plunger at once; a wave runs from the plunger to
its far end and back.  The chain only presses on the plunger: it may lift off and come back.  The gas is the
shot model's (``shot.equations``); SI floats.  What it leaves out: events and results (``chain_shot``),
coils that touch (a spring pressed solid), friction in the spring, waves in the gas (``gas_shot``).

Chain of n elements, z the displacement of a node from its place at the catch::

    F_j = n k (x/n - (z_j - z_(j-1)))          m_s/n d²z_j/dt² = F_j - F_(j+1)          z_0 = 0
    (m_p + m_s/2n) du/dt = F_n - (p - p_a) A_p - F_seal     while the spring presses on the plunger

x is the compression at the catch, k the rate, m_s the spring's mass, m_p the plunger's own mass.

References: Lord Rayleigh, *The Theory of Sound*, 2nd ed., 1894, vol. 1, ch. VI and VII (chains, rods); K. F.
Graff, *Wave Motion in Elastic Solids*, 1975, ch. 2 (a rod with a mass at its end); J. R. Dormand and P. J.
Prince, *J. Comput. Appl. Math.* 6, 19 (1980) (the integrator).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from blasterlab.compiled import compiled, compiled_inline
from blasterlab.shot import dormand_prince as dp
from blasterlab.shot import equations as eq
from blasterlab.shot.equations import STATES, U
from blasterlab.shot.parameters import Floats, Integers, Parameters

Flags = npt.NDArray[np.bool_]
RATE, COMPRESSION, MASS = range(3)  # columns of the table of springs; the compression is that at the catch


@compiled
def nodes(x: Floats, c: int, n: int) -> tuple[Floats, Floats]:
    """Displacements and speeds of the nodes of spring c; the last is its end at the plunger."""
    a = STATES + 2 * n * c
    return x[a : a + n], x[a + n : a + 2 * n]


@compiled_inline
def set_end(x: Floats, c: int, n: int, z: float, v: float) -> None:
    """Set displacement and speed of the end of spring c."""
    last = STATES + 2 * n * (c + 1) - 1
    x[last - n], x[last] = z, v


@compiled
def chain_rates(
    z: Floats, v: Floats, n: int, rate: float, compression: float, mass: float, dz: Floats, dv: Floats
) -> float:
    """Rates of the first n − 1 nodes of a chain, and the force of its last element on the node at its end."""
    stiffness = n * rate
    rest = compression / n
    before = stiffness * (rest - z[0])
    for i in range(n - 1):
        force = stiffness * (rest - (z[i + 1] - z[i]))
        dz[i] = v[i]
        dv[i] = (before - force) * n / mass
        before = force
    return before


@compiled
def end_force(x: Floats, springs: Floats, c: int, n: int) -> float:
    """Force of the last element of spring c on the node at its end."""
    last = STATES + 2 * n * c + n - 1
    stretch = x[last] - (x[last - 1] if n > 1 else 0.0)
    return n * springs[c, RATE] * (springs[c, COMPRESSION] / n - stretch)


@compiled
def moving_mass(p: Parameters, springs: Floats, n: int, touch: Flags) -> float:
    """Mass of the plunger with the half masses at the ends of the springs that press on it."""
    mass = p.plunger_mass
    for c in range(len(springs)):
        mass += 0.5 * springs[c, MASS] / n if touch[c] else 0.0
    return mass


@compiled
def slopes(
    t: float, x: Floats, p: Parameters, springs: Floats, n: int, mode: Integers, touch: Flags, out: Floats
) -> float:
    """Time derivatives of everything; returns the springs' force on the plunger's own mass."""
    eq.all_rates(t, x, p, mode, 0.0, 0.0, out)
    force = 0.0
    for c in range(len(springs)):
        z, v = nodes(x, c, n)
        dz, dv = nodes(out, c, n)
        end = chain_rates(z, v, n, springs[c, RATE], springs[c, COMPRESSION], springs[c, MASS], dz, dv)
        if touch[c]:
            force += end
        else:
            dz[n - 1], dv[n - 1] = v[n - 1], end / (0.5 * springs[c, MASS] / n)
    if mode[eq.PLUNGER] != 0:
        mass = moving_mass(p, springs, n, touch)
        out[U] = (out[U] * p.plunger_mass + force) / mass
        force -= (mass - p.plunger_mass) * out[U]
    for c in range(len(springs)):
        if touch[c]:
            set_end(out, c, n, x[U], out[U])
    return force


@compiled
def step(
    t: float, x: Floats, h: float, p: Parameters, springs: Floats, n: int, mode: Integers, touch: Flags,
    scale: Floats, k: Floats, z: Floats, new: Floats,
) -> float:  # fmt: skip
    """One step of the 5(4) pair from x into new, with the slopes at x in k[0].  Returns the error."""
    size = len(x)
    for i in range(1, 7):
        for m in range(size):
            total = 0.0
            for j in range(i):
                total += dp.A[i, j] * k[j, m]
            z[m] = x[m] + h * total
        if not eq.holds_gas(p, z):
            return math.nan
        slopes(t + dp.C[i] * h, z, p, springs, n, mode, touch, k[i])
    norm = 0.0
    for m in range(size):
        error = 0.0
        for j in range(7):
            error += dp.E[j] * k[j, m]
        new[m] = z[m]
        if m < eq.SEAL_WORK or m >= STATES:
            norm = max(norm, abs(h * error) / scale[m])
    return norm


@compiled
def stored(x: Floats, springs: Floats, n: int) -> tuple[float, float]:
    """Elastic and kinetic energy of all chains, the half masses at the plunger included."""
    elastic = motion = 0.0
    for c in range(len(springs)):
        z, v = nodes(x, c, n)
        before = 0.0
        for i in range(n):
            stretch = springs[c, COMPRESSION] / n - (z[i] - before)
            before = z[i]
            elastic += 0.5 * n * springs[c, RATE] * stretch * stretch
            motion += 0.5 * springs[c, MASS] / n * v[i] ** 2 * (0.5 if i == n - 1 else 1.0)
    return elastic, motion
