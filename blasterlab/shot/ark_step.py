"""One step of the shot's integrator: an additive Runge-Kutta pair, implicit where gas passes openings.

What it is for: advance the state by one step and say how wrong that is.  What it leaves out: step sizes and
events (``integrate``), the physics (``equations``), the solution of a stage (``exchange``).

The port makes the system stiff (pressures equalise across it in microseconds) but in a single direction, the
exchange of gas q.  The pair, of order 4 with an embedded order 3, treats q implicitly, leaks as well where
one fills or empties its volume within microseconds, and all else explicitly.

References
----------
C. A. Kennedy and M. H. Carpenter, *Appl. Numer. Math.* 44, 139 (2003), ARK4(3)6L[2]SA: the tableaus.
L. F. Shampine, *Numerical Solution of Ordinary Differential Equations*, 1994: the filtered error.
"""

from __future__ import annotations

import math

import numpy as np

from blasterlab.compiled import compiled_bare, compiled_inline
from blasterlab.shot import equations as eq
from blasterlab.shot.equations import DYNAMIC, E1, E2, LEAKED, M1, M2, STATES, S, U, W, Y
from blasterlab.shot.exchange import exchange, exchange_leaking
from blasterlab.shot.parameters import Floats, Integers, Parameters
from blasterlab.shot.spring_line import press

EXCHANGE_WEIGHT = 0.01  # of the exchange's error, which decays at once; chosen by the error in velocity
STIFF = 30.0  # a step this many times the port's own time takes its first guesses from a closed form
LEAKING = 1e5  # 1/s: a leak that fills or empties its volume faster is solved for in the stages
SLOW = 0.01  # beside such leaks a port whose flow changes by a smaller share in a stage is first guessed
TINY = 1e-300
FLOW, LENGTH, LAST, NOW, END, PUSH, SEAL, BLOW, GUIDES = 0, 1, 7, 8, 9, 10, 11, 12, 13  # see `advance`
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
_SIDE = np.array([1.0, 0.0, 0.0, 0.0, 0.0, -1.0])  # of a jump at the step's end that belongs to the stage
_DB = _B - np.array([4586570599 / 29645900160, 0, 178811875 / 945068544, 814220225 / 1159782912,
                     -3700637 / 11593932, 61727 / 225920])  # fmt: skip

RESULT, ERROR, ROWS = 6, 7, 8  # rows after the six stages: the step's end, and how wrong it is
_EXPLICIT = np.vstack([_AE, _B, _DB])
_IMPLICIT = np.vstack([_AI, _B, _DB])


@compiled_inline
def size(error: Floats, per_scale: Floats, damp: float, both: float) -> float:
    """The norm of a step's error.

    The embedded error of the exchange is overstated by the stiffness, which damps it: filtered as in implicit
    methods; sums over both volumes are not, but for stiff leaks.
    """
    norm = max(abs(error[S]) * per_scale[S], abs(error[U]) * per_scale[U])
    norm = max(norm, abs(error[Y]) * per_scale[Y], abs(error[W]) * per_scale[W])
    mass, energy = both * abs(error[M1] + error[M2]), both * abs(error[E1] + error[E2])
    norm = max(norm, mass * per_scale[M2], energy * per_scale[E2])
    return max(norm, damp * abs(error[M2]) * per_scale[M2], damp * abs(error[E2]) * per_scale[E2])


@compiled_bare
def advance(
    t: float, x: Floats, h: float, p: Parameters, mode: Integers, tolerance: float,
    coils: Floats, per_scale: Floats, guide: Floats, rows: Floats, z: Floats, k: Floats, out: Floats,
) -> tuple[float, int]:  # fmt: skip
    """One step of the pair from x into out; gives the error norm, NaN when a stage left the gas empty.

    A stage's derivatives k (STATES) are added to all that needs them as soon as they are known: rows (ROWS,
    DYNAMIC) holds the six stages' states, the end's and the error's; z (DYNAMIC) is the stage at work.
    guide helps to guess the port flows.  Before: [FLOW] at the start and [LENGTH] of the last step (0: none),
    [LAST], the flow at its end; how far stages 1 to 5 lay from a straight line, over h^2, which changes
    little from step to step; [SEAL] and [BLOW], the leaks at its end.  After: [NOW] and [END], the flows at
    this step's start and end, [SEAL] and [BLOW], and [PUSH], the dart's acceleration at its start.
    """
    evaluations = 1
    q = first = change = slope = carried = drift = 0.0
    seal = seal_power = blow = blow_power = 0.0
    push = drag = 0.0
    stiff = leaking = False
    g = _DIAGONAL * h
    for n in range(DYNAMIC):
        for j in range(ERROR):
            rows[j, n] = x[n]
        rows[ERROR, n] = 0.0
    for n in range(DYNAMIC, STATES):
        out[n] = x[n]
    for i in range(6):
        for n in range(DYNAMIC):
            z[n] = rows[i, n]
        if not eq.holds_gas(p, z):
            return math.nan, evaluations
        if i == 0:
            q, carried, change = eq.port(p, z)
            stiff = -h * change > STIFF
            if guide[LAST] != 0.0 and q != 0.0:
                # across a stiff port a small error of the pressures is a large one of the flow
                first = guide[LAST] + (q - guide[LAST]) / (1.0 - g * change)
                carried *= first / q
                q = first
            first = q
            guide[NOW] = q
            seal, seal_power, blow, blow_power, slope = eq.leaks(p, z)
            leaking = -slope > LEAKING
            if leaking:
                seal_power, blow_power = seal_power / (seal + TINY), blow_power / (blow + TINY)
                seal = guide[SEAL] + (seal - guide[SEAL]) / (1.0 - g * slope)
                blow = guide[BLOW] + (blow - guide[BLOW]) / (1.0 - g * slope)
                seal_power, blow_power = seal_power * seal, blow_power * blow
            if guide[LENGTH] > 0.0:
                drift = (q - guide[FLOW]) / guide[LENGTH]
        else:
            line = first + drift * _C[i] * h
            guess = line + guide[1 + i] * h * h
            if leaking:
                if -g * change > SLOW:
                    guess = 0.0
                q, carried, seal, seal_power, blow, blow_power, count = exchange_leaking(
                    p, z, g, g * guess, tolerance, k
                )
                seal, seal_power, blow, blow_power = seal / g, seal_power / g, blow / g, blow_power / g
            else:
                q, carried, count = exchange(p, z, g, guess, stiff, tolerance)
                seal, seal_power, blow, blow_power, _slope = eq.leaks(p, z)
            q /= g
            carried /= g
            guide[1 + i] = (q - line) / (h * h)
            evaluations += count
        at = t + _C[i] * h
        if mode[eq.PLUNGER] != 0:  # else the catch or the front stop takes it
            push, drag = press(coils, at, _SIDE[i])
        eq.rates(at, z, p, mode, q - blow, push, drag, k)
        k[LEAKED] = seal_power + blow_power
        from1, power1, into2, power2 = q, carried, q, carried
        if leaking:
            from1, power1, into2, power2 = q + seal, carried + seal_power, q - blow, carried - blow_power
        else:
            k[M1] -= seal
            k[E1] -= seal_power
            k[M2] -= blow
            k[E2] -= blow_power
        if i == 0:
            guide[PUSH] = k[W]
        # by name: eight numbers that nothing overwrites are added to a row four at a time
        ds, du, dm1, de1, dy, dw, dm2, de2 = k[S], k[U], k[M1], k[E1], k[Y], k[W], k[M2], k[E2]
        for j in range(i + 1, ROWS):
            part, share = h * _EXPLICIT[j, i], h * _IMPLICIT[j, i]
            rows[j, S] += part * ds
            rows[j, U] += part * du
            rows[j, M1] = rows[j, M1] + part * dm1 - share * from1
            rows[j, E1] = rows[j, E1] + part * de1 - share * power1
            rows[j, Y] += part * dy
            rows[j, W] += part * dw
            rows[j, M2] = rows[j, M2] + part * dm2 + share * into2
            rows[j, E2] = rows[j, E2] + part * de2 + share * power2
        for n in range(DYNAMIC, STATES):
            out[n] += h * _B[i] * k[n]
    guide[END], guide[SEAL], guide[BLOW] = q, seal, blow
    error = z  # its last use is over
    for n in range(DYNAMIC):
        out[n] = rows[RESULT, n]
        error[n] = rows[ERROR, n]
    if not eq.holds_gas(p, out):
        return math.nan, evaluations
    both = 1.0 / (1.0 - g * slope) if leaking else 1.0
    return size(error, per_scale, EXCHANGE_WEIGHT / (1.0 - g * change), both), evaluations
