"""The implicit stage of a step: gas that passes port and leaks, solved for exactly.

What it is for: pressures equalise across the port in microseconds, and a leaky volume that is small is at
ambient pressure as fast; ``ark_step`` solves for these flows in each stage.  SI floats.  What it leaves out:
everything that is not stiff.

The upstream energy after an exchange is known in closed form (what stays behind has expanded), so that one
scalar equation gone = g Q(state(gone)) remains for each opening; Q falls as gone grows, hence one root.
"""

from __future__ import annotations

import math

from blasterlab.compiled import compiled_bare, compiled_inline
from blasterlab.shot.equations import DYNAMIC, E1, E2, M1, M2, per_energy, port
from blasterlab.shot.orifice import CHOKED, INVERSE, PATCH, discharge, leak
from blasterlab.shot.parameters import GAMMA, Floats, Parameters

CARRIED, LOST1, ENTHALPY1, LOST2, ENTHALPY2 = range(DYNAMIC, DYNAMIC + 5)  # behind the states of `passed`
INNER = 1e-12  # of its gas, to which the leak of a volume is known inside the solution for the port
NEARLY = 0.999999  # of all the gas that a volume could give


@compiled_inline
def exchange(
    p: Parameters, x: Floats, g: float, guess: float, stiff: bool, tolerance: float
) -> tuple[float, float, int]:
    """Solve the stage z = x + g N(z) for the port's exchange N, in place, by Newton with a bracket.

    Returns the mass and the energy moved, and the number of evaluations.
    """
    c1, c2 = per_energy(p, x)
    if c1 * x[E1] >= c2 * x[E2]:
        sign, c_up, m_up, e_up, c_down, e_down = 1.0, c1, x[M1], x[E1], c2, x[E2]
    else:
        sign, c_up, m_up, e_up, c_down, e_down = -1.0, c2, x[M2], x[E2], c1, x[E1]
    total = e_down + e_up
    relation = c_down / c_up
    # bounds of what is gone, q g: nothing, and what makes the pressures equal; the law means nothing beyond
    low = 0.0
    high = m_up * (e_up - relation * e_down) / (e_up * (1.0 + relation) + (GAMMA - 1.0) * relation * total)
    gone = sign * guess * g
    if stiff or not 0.0 < gone < high:
        # an incompressible flow a sqrt(2 rho D) whose pressure difference D falls in a straight line to zero
        # at the upper bound: a quadratic equation
        drop = c_up * e_up - c_down * e_down
        swept = g * p.port_area
        swept *= swept * (2.0 * INVERSE) * m_up * c_up * drop
        half = swept / (2.0 * high + 1e-120)  # its square stays a number
        gone = min(swept / (half + math.sqrt(half * half + swept) + 1e-300), high)
    limit = tolerance * min(x[M1], x[M2])
    count = 0
    for _ in range(60):
        # what stays behind has expanded: e / m = e_up / (left + gamma gone)
        left = m_up - gone
        spread = left + GAMMA * gone
        specific = e_up / spread
        ratio = relation * (total - specific * left) * (spread / (e_up * left))
        flow, steep, square = discharge(p.port_area, specific, left, c_up, c_down, ratio, PATCH)
        count += 1
        excess = gone - g * flow
        if excess > 0.0:
            high = gone
        else:
            low = gone
        full = square + g * steep
        trial = gone - excess * square / full
        if not low <= trial <= high:
            trial = 0.5 * (low + high)
        moved = abs(trial - gone)
        gone = trial
        # for a flow as the root of a pressure difference, Newton's next error is at most half of this
        if moved <= limit or moved * moved * full <= limit * gone * square:
            break
    energy_gone = sign * GAMMA * gone * e_up / (m_up - gone + GAMMA * gone)
    gone *= sign
    x[M1] -= gone
    x[E1] -= energy_gone
    x[M2] += gone
    x[E2] += energy_gone
    return gone, energy_gone, count


@compiled_inline
def drawn_in(p: Parameters, area: float, g: float) -> float:
    """The most that a leak can let in during a stage."""
    return g * area * p.ambient_pressure * CHOKED / math.sqrt(p.gas_constant * p.ambient_temperature)


@compiled_bare
def spill(
    p: Parameters, area: float, laminar: float, c: float, m: float, e: float, g: float, before: float
) -> tuple[float, float, float, float, float]:
    """Solve the stage for the leak of one volume out of which a mass goes `before`, by Newton with a bracket.

    Returns mass and energy that are left, mass and energy lost by the leak, and the energy that went before.
    """
    outside = INVERSE * p.gas_constant * p.ambient_temperature
    low, high = -drawn_in(p, area, g), m - before
    each = left = rest = lost = 0.0
    trial = 0.0 if high > 0.0 else 0.5 * (low + high)
    for _ in range(60):
        lost = trial
        came = max(-lost, 0.0)
        gone = before + max(lost, 0.0)
        left = m + came - gone
        each = (e + GAMMA * outside * came) / (left + GAMMA * gone)
        rest = each * left
        if area <= 0.0:
            break
        flow, _power, slope = leak(area, laminar, c, rest, left, p.ambient_pressure, outside)
        excess = lost - g * flow
        if excess > 0.0:
            high = lost
        else:
            low = lost
        trial = lost - excess / (1.0 - g * slope)
        if not low <= trial <= high:
            trial = 0.5 * (low + high)
        if abs(trial - lost) <= INNER * left:
            break
    return left, rest, lost, GAMMA * lost * (each if lost > 0.0 else outside), GAMMA * before * each


@compiled_bare
def passed(p: Parameters, x: Floats, g: float, gone: float, out: Floats) -> float:
    """The state into out once a mass has passed the port and the leaks have answered; gone - g Q there."""
    for n in range(DYNAMIC):
        out[n] = x[n]
    c1, c2 = per_energy(p, x)
    seal, blow = p.seal_leak_area, p.blowby_area
    long1, long2 = p.seal_laminar, p.blowby_laminar
    if gone >= 0.0:
        out[M1], out[E1], out[LOST1], out[ENTHALPY1], energy = spill(
            p, seal, long1, c1, x[M1], x[E1], g, gone
        )
        m, e = x[M2] + gone, x[E2] + energy
        out[M2], out[E2], out[LOST2], out[ENTHALPY2], _none = spill(p, blow, long2, c2, m, e, g, 0.0)
        out[CARRIED] = energy
    else:
        out[M2], out[E2], out[LOST2], out[ENTHALPY2], energy = spill(
            p, blow, long2, c2, x[M2], x[E2], g, -gone
        )
        m, e = x[M1] - gone, x[E1] + energy
        out[M1], out[E1], out[LOST1], out[ENTHALPY1], _none = spill(p, seal, long1, c1, m, e, g, 0.0)
        out[CARRIED] = -energy
    return gone - g * port(p, out)[0]


@compiled_bare
def exchange_leaking(
    p: Parameters, x: Floats, g: float, guess: float, tolerance: float, out: Floats
) -> tuple[float, float, float, float, float, float, int]:
    """Solve the stage for port and leaks together, in place, where a leak is stiff as well.

    By regula falsi (Illinois) between a guess of what is moved and what would move there; a guess but 0 will
    do where it lies within the tolerance of the root: no further off than what is left of the equation, whose
    slope is 1 at least.  Returns mass and energy moved through the port, lost from the chamber and lost from
    the barrel, and the number of evaluations; out (STATES) is for work.
    """
    most1 = NEARLY * (x[M1] + drawn_in(p, p.seal_leak_area, g))
    most2 = NEARLY * (x[M2] + drawn_in(p, p.blowby_area, g))
    limit = tolerance * min(x[M1], x[M2])
    gone = low = high = min(max(guess, -most2), most1)
    f_low = f_high = passed(p, x, g, low, out)
    count = 1
    if guess == 0.0 or abs(f_low) > limit:
        gone = high = min(max(low - f_low, -most2), most1)
        f_high = passed(p, x, g, high, out)
        count = 2
    while count < 80 and abs(high - low) > limit and f_high != f_low:
        gone = high - f_high * (high - low) / (f_high - f_low)
        f = passed(p, x, g, gone, out)
        count += 1
        low, f_low = (high, f_high) if f * f_high <= 0.0 else (low, 0.5 * f_low)
        high, f_high = gone, f
    for n in range(DYNAMIC):
        x[n] = out[n]
    return gone, out[CARRIED], out[LOST1], out[ENTHALPY1], out[LOST2], out[ENTHALPY2], count
