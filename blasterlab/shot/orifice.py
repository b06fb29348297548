"""Gas through holes and long gaps: the laws of port and leaks, choked or not, fast to evaluate.

What it is for: a mass flow from two pressures, SI floats.  What it leaves out: which volumes it joins
(``equations``), and its share in an implicit step (``ark_step``).

References
----------
A. J. C. B. de Saint-Venant and L. Wantzel, *J. École Polytech.* 16, 85 (1839).
R. B. Bird, W. E. Stewart, E. N. Lightfoot, *Transport Phenomena*, 2nd ed., 2002, ch. 2: a narrow slit; with
the gas law m' = pi d h^3 (p1^2 - p2^2) / (24 mu R T L) for a ring of width h, length L and diameter d.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled_bare, compiled_inline
from blasterlab.shot.parameters import GAMMA, Floats

CRITICAL = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))  # 0.528282, choking pressure ratio
CHOKED = math.sqrt(GAMMA) * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (2.0 * (GAMMA - 1.0)))  # 0.684731
INVERSE = 1.0 / (GAMMA - 1.0)  # products cost a quarter of what divisions do


def flow_law(ratio: Floats) -> Floats:
    """Saint-Venant and Wantzel's flow function above the critical pressure ratio, as it is written."""
    root = ratio ** (1.0 / GAMMA)
    return np.sqrt(2.0 * GAMMA / (GAMMA - 1.0) * (root * root - ratio * root))


def _series() -> tuple[Floats, Floats]:
    """psi / sqrt(x) as a polynomial in x = 1 - r, and one for the slope: within 1e-10, and no power."""
    x = 0.5 * (1.0 - CRITICAL) * (1.0 - np.cos(np.pi * (np.arange(400) + 0.5) / 400))
    fit = np.polynomial.Chebyshev.fit(x, flow_law(1.0 - x) / np.sqrt(x), 11, domain=[0.0, 1.0 - CRITICAL])
    coefficients = np.asarray(fit.convert(kind=np.polynomial.Polynomial).coef, dtype=np.float64)
    return coefficients, (0.5 + np.arange(12)) * coefficients


_VALUE, _SLOPE = _series()


class Patch(NamedTuple):
    """Above a pressure ratio an odd cubic through zero takes over: it meets the law with value and slope."""

    start: float  # pressure ratio
    steep: float  # slope at zero
    bend: float


def patch_from(start: float) -> Patch:
    """The cubic that takes over at a pressure ratio."""
    edge = 1.0 - start
    value = math.sqrt(edge) * float(np.polynomial.polynomial.polyval(edge, _VALUE))
    slope = float(np.polynomial.polynomial.polyval(edge, _SLOPE)) / math.sqrt(edge)
    bend = (edge * slope - value) / (2.0 * edge**3)
    return Patch(start, value / edge - bend * edge**2, bend)


PATCH = patch_from(0.999)
LEAK_PATCH = patch_from(0.99)  # for the small leaks, which stay explicit


@compiled_inline
def _polynomial(c: Floats, x: float) -> float:
    """A polynomial of degree 11 by Estrin's scheme."""
    x2 = x * x
    x4 = x2 * x2
    low = (c[0] + c[1] * x) + (c[2] + c[3] * x) * x2
    middle = (c[4] + c[5] * x) + (c[6] + c[7] * x) * x2
    high = (c[8] + c[9] * x) + (c[10] + c[11] * x) * x2
    return low + (x4 * middle + (x4 * x4) * high)


@compiled_inline
def flow_parts(ratio: float, patch: Patch) -> tuple[float, float, float]:
    """The flow function as (a, b, s): its value is a sqrt(s), its slope -b / sqrt(s); no root is taken."""
    if ratio <= CRITICAL:
        return CHOKED, 0.0, 1.0
    gap = 1.0 - ratio
    if ratio > patch.start:
        bend = patch.bend * gap * gap
        return gap * (patch.steep + bend), patch.steep + 3.0 * bend, 1.0
    return _polynomial(_VALUE, gap), _polynomial(_SLOPE, gap), gap


@compiled_bare
def flow_function(ratio: float, patch: Patch) -> tuple[float, float]:
    """The flow function and its slope at a downstream over upstream pressure ratio; see `flow_law`."""
    value, fall, square = flow_parts(ratio, patch)
    root = math.sqrt(square)
    return root * value, -fall / root


@compiled_bare
def orifice(
    area: float, p_from: float, t_from: float, p_to: float, t_to: float, gas_constant: float, patch: Patch
) -> tuple[float, float]:
    """Mass flow from one side to the other (negative the other way) and the enthalpy flow with it."""
    cp = gas_constant * GAMMA / (GAMMA - 1.0)
    if p_from >= p_to:
        flow = area * p_from / math.sqrt(gas_constant * t_from) * flow_function(p_to / p_from, patch)[0]
        return flow, flow * cp * t_from
    flow = -area * p_to / math.sqrt(gas_constant * t_to) * flow_function(p_from / p_to, patch)[0]
    return flow, flow * cp * t_to


@compiled_inline
def discharge(
    area: float, specific: float, m_up: float, c_up: float, c_down: float, ratio: float, patch: Patch
) -> tuple[float, float, float]:
    """Flow out of the volume of higher pressure, kg/s, and its slope in the mass exchanged, 1/s.

    c is (g - 1) / V, so that a pressure is c e; specific is e / m upstream, ratio the pressures', downstream
    over upstream.  Returns (flow, a, s): the slope is -a / s.
    """
    value, fall, square = flow_parts(ratio, patch)
    root = math.sqrt(INVERSE * specific * square)
    steep = (GAMMA * area) * (fall * (c_down + ratio * c_up) + value * square * c_up)
    return root * ((area * c_up) * m_up * value), root * steep, square


@compiled_inline
def _short_leak(
    area: float, c: float, e: float, m: float, outside: float, e_outside: float
) -> tuple[float, float, float]:
    """`leak` through an orifice."""
    pressure = c * e
    if pressure >= outside:
        flow, steep, square = discharge(area, e / m, m, c, 0.0, outside / pressure, LEAK_PATCH)
        return flow, flow * GAMMA * (e / m), -steep / square
    # the outside is a volume without end: its mass times its own c is its density times (g - 1)
    flow, steep, square = discharge(
        area, e_outside, outside / e_outside, 1.0, c, pressure / outside, LEAK_PATCH
    )
    return -flow, -flow * GAMMA * e_outside, -steep / square


@compiled_inline
def creep(laminar: float, p_from: float, p_to: float) -> float:
    """Mass flow through a long gap, plane Poiseuille flow of a gas as warm as the gap."""
    return laminar * (p_from - p_to) * (p_from + p_to)


@compiled_inline
def leak(
    area: float, laminar: float, c: float, e: float, m: float, outside: float, e_outside: float
) -> tuple[float, float, float]:
    """As `orifice`, from a volume of mass m and pressure c e to the outside, of specific energy e_outside.

    Through a long gap no more flows than `creep` says.  Returns (flow, its enthalpy flow, its slope in the
    mass exchanged).
    """
    flow, power, slope = _short_leak(area, c, e, m, outside, e_outside)
    if laminar > 0.0:
        creeping = creep(laminar, c * e, outside)
        if abs(creeping) < abs(flow):
            each = GAMMA * (e / m if creeping > 0.0 else e_outside)
            return creeping, creeping * each, -2.0 * laminar * c * c * e * each
    return flow, power, slope
