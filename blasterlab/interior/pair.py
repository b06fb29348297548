"""One step of the shot's integrator: an additive Runge-Kutta pair with a single implicit unknown.

What it is for: advance the state by one step and say how wrong that is.  What it leaves out: step sizes and
events (``stepper``), the physics (``kernel``).

The port makes the system stiff (pressures equalise across it in microseconds) but in a single direction, the
exchange of gas q.  The pair, of order 4 with an embedded order 3, treats q implicitly, by a scalar Newton
iteration in each stage, and all else explicitly.

References
----------
C. A. Kennedy and M. H. Carpenter, *Appl. Numer. Math.* 44, 139 (2003), ARK4(3)6L[2]SA: the tableaus.
L. F. Shampine, *Numerical Solution of Ordinary Differential Equations*, 1994: the filtered error.
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled, compiled_inline
from blasterlab.interior.kernel import (
    DYNAMIC,
    E1,
    E2,
    GAMMA,
    M1,
    M2,
    STATES,
    Floats,
    Integers,
    Parameters,
    S,
    U,
    W,
    Y,
    discharge,
    port,
    rates,
)  # fmt: skip

EXCHANGE_WEIGHT = 0.01  # of the exchange's error, which decays at once; chosen by the error in velocity
_AE = np.zeros((6, 6))
_AE[1, 0] = 1 / 2
_AE[2, :2] = 13861 / 62500, 6889 / 62500
_AE[3, :3] = -116923316275 / 2393684061468, -2731218467317 / 15368042101831, 9408046702089 / 11113171139209
_AE[4, :4] = (-451086348788 / 2902428689909, -2682348792572 / 7519795681897,
              12662868775082 / 11960479115383, 3355817975965 / 11060851509271)  # fmt: skip
_AE[5, :5] = (647845179188 / 3216320057751, 73281519250 / 8382639484533, 552539513391 / 3454668386233,
              3354512671639 / 8306763924573, 4040 / 17871)  # fmt: skip
_AI = np.zeros((6, 6))
_DIAGONAL = 1 / 4
_AI[1, :2] = 1 / 4, 1 / 4
_AI[2, :3] = 8611 / 62500, -1743 / 31250, 1 / 4
_AI[3, :4] = 5012029 / 34652500, -654441 / 2922500, 174375 / 388108, 1 / 4
_AI[4, :5] = (
    15267082809 / 155376265600,
    -71443401 / 120774400,
    730878875 / 902184768,
    2285395 / 8070912,
    1 / 4,
)
_AI[5, :6] = 82889 / 524892, 0, 15625 / 83664, 69875 / 102672, -2260 / 8211, 1 / 4
_B = _AI[5].copy()
_C = np.array([0, 1 / 2, 83 / 250, 31 / 50, 17 / 20, 1])
_DB = _B - np.array([4586570599 / 29645900160, 0, 178811875 / 945068544, 814220225 / 1159782912,
                     -3700637 / 11593932, 61727 / 225920])  # fmt: skip


@compiled_inline
def exchange(
    p: Parameters, x: Floats, g: float, guess: float, stiff: bool, tolerance: float
) -> tuple[float, float, int]:
    """Solve the implicit stage z = x + g N(z) for the port's exchange N, in place.

    The upstream energy after the exchange is known in closed form, so that one scalar equation
    q = Q(z(q)) remains; Q falls as q grows, hence one root, found by Newton with a bracket.
    Returns the flow, the energy moved per time, and the number of evaluations.
    """
    c1 = (GAMMA - 1.0) / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
    c2 = (GAMMA - 1.0) / (p.barrel_dead + p.barrel_area * x[Y])
    if c1 * x[E1] >= c2 * x[E2]:
        sign, c_up, m_up, e_up, c_down, e_down = 1.0, c1, x[M1], x[E1], c2, x[E2]
    else:
        sign, c_up, m_up, e_up, c_down, e_down = -1.0, c2, x[M2], x[E2], c1, x[E1]
    high = m_up  # in what is gone, q g: all of it
    low = 0.0
    gone = sign * guess * g
    if stiff or not 0.0 < gone < high:
        # the root of D + 2 b sqrt(D) = D0 for the pressure difference D that an incompressible flow
        # a sqrt(2 rho D) would leave
        drop = c_up * e_up - c_down * e_down
        swept = g * p.port_area * math.sqrt(2.0 / (GAMMA - 1.0) * m_up * c_up)
        half = 0.5 * swept * GAMMA * e_up / m_up * (c_up + c_down)
        gone = min(swept * drop / (half + math.sqrt(half * half + drop) + 1e-300), 0.5 * high)
    limit = tolerance * m_up
    count = 0
    for _ in range(60):
        left = m_up - gone
        kept = e_up * left / (left + GAMMA * gone)
        flow, change = discharge(p.port_area, kept, left, c_up, e_down + e_up - kept, c_down)
        count += 1
        excess = gone - g * flow
        if excess > 0.0:
            high = gone
        else:
            low = gone
        trial = gone - excess / (1.0 - g * change)
        if not low <= trial <= high:
            trial = 0.5 * (low + high)
        moved = abs(trial - gone)
        gone = trial
        # Newton's next error is about the square of this step over the flow itself
        if moved <= limit or 4.0 * moved * moved <= limit * gone:
            break
    left = m_up - gone
    energy_gone = e_up - e_up * left / (left + GAMMA * gone)
    gone *= sign
    energy_gone *= sign
    x[M1] -= gone
    x[E1] -= energy_gone
    x[M2] += gone
    x[E2] += energy_gone
    return gone / g, energy_gone / g, count


@compiled
def advance(
    t: float, x: Floats, h: float, drift: float, p: Parameters, mode: Integers, tolerance: float,
    scale: Floats, ke: Floats, ki: Floats, z: Floats, out: Floats,
) -> tuple[float, int]:  # fmt: skip
    """One step of the pair from x into out; gives the error norm, NaN when a stage left the gas empty.

    ke (6, 13) and ki (6, 2) hold the stages' explicit derivatives and port flows of mass and energy; drift is
    the last step's rate of change of the port flow, for a first guess.
    """
    evaluations = 1
    q = first = change = 0.0
    stiff = False
    for i in range(6):
        for n in range(DYNAMIC):
            z[n] = x[n]
        for j in range(i):
            part = h * _AE[i, j]
            for n in range(DYNAMIC):
                z[n] += part * ke[j, n]
            part = h * _AI[i, j]
            z[M1] -= part * ki[j, 0]
            z[E1] -= part * ki[j, 1]
            z[M2] += part * ki[j, 0]
            z[E2] += part * ki[j, 1]
        if not (z[M1] > 0.0 and z[E1] > 0.0 and z[M2] > 0.0 and z[E2] > 0.0):
            return math.nan, evaluations
        if (
            p.plunger_area * (p.stroke - z[S]) + p.chamber_dead <= 0.0
            or p.barrel_dead + p.barrel_area * z[Y] <= 0.0
        ):
            return math.nan, evaluations
        if i == 0:
            q, ki[0, 1], change = port(p, z)
            first = q
            stiff = -h * change > 8.0
        else:
            guess = first + drift * _C[i] * h
            if i > 1:
                guess += (q - first - drift * _C[i - 1] * h) * (_C[i] / _C[i - 1]) ** 2
            q, ki[i, 1], count = exchange(p, z, _DIAGONAL * h, guess, stiff, tolerance)
            evaluations += count
        ki[i, 0] = q
        rates(t + _C[i] * h, z, p, mode, q, ke[i])
    error = z  # its last use is over
    for n in range(STATES):
        out[n] = x[n]
        error[n] = 0.0
    for j in range(6):
        part = h * _B[j]
        wrong = h * _DB[j]
        for n in range(STATES):
            out[n] += part * ke[j, n]
            error[n] += wrong * ke[j, n]
        for n in range(2):
            out[M1 + n] -= part * ki[j, n]
            out[M2 + n] += part * ki[j, n]
            error[M1 + n] -= wrong * ki[j, n]
            error[M2 + n] += wrong * ki[j, n]
    # the embedded error of the exchange is overstated by the stiffness, which damps it: filtered as in
    # implicit methods; sums over both volumes are not
    damp = EXCHANGE_WEIGHT / (1.0 - _DIAGONAL * h * change)
    norm = max(
        abs(error[S]) / scale[S], abs(error[U]) / scale[U], abs(error[Y]) / scale[Y], abs(error[W]) / scale[W]
    )
    norm = max(norm, abs(error[M1] + error[M2]) / scale[M2], abs(error[E1] + error[E2]) / scale[E2])
    norm = max(norm, damp * abs(error[M2]) / scale[M2], damp * abs(error[E2]) / scale[E2])
    if not (out[M1] > 0.0 and out[E1] > 0.0 and out[M2] > 0.0 and out[E2] > 0.0):
        return math.nan, evaluations
    return norm, evaluations
