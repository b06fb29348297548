"""The shot's integrator: an additive Runge-Kutta pair with one implicit unknown, and located events.

What it is for: take the equations of ``kernel`` from the release at the catch until the dart's tail leaves
the muzzle or nothing moves any more.  What it leaves out: the physics (``kernel``) and units (``shot``).

The port makes the system stiff (pressures equalise across it in microseconds) but in a single direction, the
exchange of gas q.  The pair, of order 4 with an embedded order 3, treats q implicitly, by a scalar Newton
iteration in each stage, and all else explicitly.  Events are located by shortening the step until the first
of them lies at its end; everything that changes slope (the nose leaving the muzzle, a spring coming free) is
an event.

References
----------
C. A. Kennedy and M. H. Carpenter, *Appl. Numer. Math.* 44, 139 (2003), ARK4(3)6L[2]SA: the tableaus.
L. F. Shampine, *Numerical Solution of Ordinary Differential Equations*, 1994: the filtered error.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.interior.kernel import (
    CLAMPED,
    DART,
    DYNAMIC,
    E1,
    E2,
    FAILED,
    FREE2,
    FREE3,
    GAMMA,
    LEFT,
    M1,
    M2,
    NO_BREAKAWAY,
    NO_RELEASE,
    NOSE,
    PLUNGER,
    QUIET,
    STALLED,
    STATES,
    TIME_LIMIT,
    TIME_OUT,
    Floats,
    Integers,
    Parameters,
    S,
    U,
    W,
    Y,
    dart_net,
    discharge,
    energy,
    plunger_net,
    port,
    rates,
    spring_work,
)  # fmt: skip

MAX_STEPS = 200_000
COLUMNS = 17  # of a record: time, the 13 states, chamber, barrel and base pressure


class Outcome(NamedTuple):
    """What a shot came to, SI floats; times that never came are -1."""

    status: int
    time: float
    stop_energy: float
    impact_speed: float
    breakaway_time: float
    stop_time: float
    chamber_peak: float
    barrel_peak: float
    spring_work: float
    steps: int
    rejected: int
    evaluations: int
    records: int


(AT_STOP, PLUNGER_TURNS, PLUNGER_STARTS, PLUNGER_BACKS, SPRING2, SPRING3,
 AT_MUZZLE, DART_TURNS, NOSE_OUT, DART_STARTS, DART_BACKS) = range(11)  # fmt: skip
EVENTS = 11
EXCHANGE_WEIGHT = 0.01  # of the exchange's error, which decays at once; chosen by the error in velocity
DEFECT_WEIGHT = 100.0  # of what a step leaves of the energy balance
NEAR = 1e-10  # an event function this close to zero has happened
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


@compiled
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
    t: float, x: Floats, h: float, p: Parameters, mode: Integers, tolerance: float, scale: Floats,
    ke: Floats, ki: Floats, z: Floats, out: Floats,
) -> tuple[float, int]:  # fmt: skip
    """One step of the pair from x into out; gives the error norm, NaN when a stage left the gas empty.

    ke (6, 13) and ki (6, 2) hold the stages' explicit derivatives and port flows of mass and energy.
    """
    q, ki[0, 1], change = port(p, x)
    ki[0, 0] = first = q
    rates(t, x, p, mode, q, ke[0])
    evaluations = 1
    stiff = -h * change > 8.0
    for i in range(1, 6):
        z[:DYNAMIC] = x[:DYNAMIC]
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
        guess = first + (q - first) * _C[i] / _C[i - 1] if i > 1 else q
        q, ki[i, 1], count = exchange(p, z, _DIAGONAL * h, guess, stiff, tolerance)
        evaluations += count
        ki[i, 0] = q
        rates(t + _C[i] * h, z, p, mode, q, ke[i])
    error = np.zeros(STATES)
    for n in range(STATES):
        out[n] = x[n]
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


@compiled
def watch(p: Parameters, x: Floats, mode: Integers, g: Floats) -> None:
    """The event functions into g, each negative before its event and of order 1; -1 where there is none."""
    for n in range(EVENTS):
        g[n] = -1.0
    plunger = mode[PLUNGER]
    dart = mode[DART]
    if plunger > 0:
        g[AT_STOP] = (x[S] - p.stroke) / p.stroke
        g[PLUNGER_TURNS] = -x[U]
    elif plunger < 0:
        g[AT_STOP] = -x[S] / p.stroke
        g[PLUNGER_TURNS] = x[U]
    elif mode[CLAMPED] == 0:
        net, hold = plunger_net(p, x)
        if x[S] < p.stroke:
            g[PLUNGER_STARTS] = (net - hold) / max(hold, 1.0)
        if x[S] > 0.0:
            g[PLUNGER_BACKS] = (-net - hold) / max(hold, 1.0)
    if p.rate2 > 0.0:
        g[SPRING2] = (1.0 - 2.0 * mode[FREE2]) * (x[S] - p.squeeze2) / p.stroke
        g[SPRING3] = (1.0 - 2.0 * mode[FREE3]) * (x[S] - p.squeeze3) / p.stroke
    if dart > 0:
        g[AT_MUZZLE] = (x[Y] - p.length) / p.length
        g[DART_TURNS] = -x[W]
        if mode[NOSE] == 0:
            g[NOSE_OUT] = (x[Y] - p.length + p.dart_length) / p.length
    elif dart < 0:
        g[AT_MUZZLE] = -x[Y] / p.length
        g[DART_TURNS] = x[W]
    else:
        net, hold = dart_net(p, x)
        g[DART_STARTS] = (net - hold) / max(hold, 1.0)
        if x[Y] > 0.0:
            g[DART_BACKS] = (-net - hold) / max(hold, 1.0)


@compiled
def shorten(
    t: float,
    x: Floats,
    taken: float,
    p: Parameters,
    mode: Integers,
    tolerance: float,
    scale: Floats,
    ke: Floats,
    ki: Floats,
    z: Floats,
    new: Floats,
    before: Floats,
    after: Floats,
) -> tuple[float, int]:
    """Shorten a step that ran past events until the first of them has just happened at its end.

    Illinois false position on the largest event function among those that fired.
    Returns the step and the number of flow evaluations; `new` and `after` belong to that step.
    """
    fired = np.empty(EVENTS, np.bool_)
    f_lo = -1e300
    f_hi = 0.0
    for n in range(EVENTS):
        fired[n] = after[n] > 0.0
        if fired[n]:
            f_lo = max(f_lo, before[n])
            f_hi = max(f_hi, after[n])
    if f_lo >= 0.0:
        f_lo = -f_hi
    lo = 0.0
    hi = taken
    last = taken
    side = 0
    evaluations = 0
    for _ in range(60):
        mid = (lo * f_hi - hi * f_lo) / (f_hi - f_lo)
        width = 1e-12 * (t + hi)
        mid = min(max(mid, lo + width), hi - width) if hi - lo > 4.0 * width else 0.5 * (lo + hi)
        _error, count = advance(t, x, mid, p, mode, tolerance, scale, ke, ki, z, new)
        evaluations += count
        last = mid
        watch(p, new, mode, after)
        f_mid = -1e300
        for n in range(EVENTS):
            if fired[n]:
                f_mid = max(f_mid, after[n])
        if f_mid >= 0.0:
            hi = mid
            f_hi = f_mid
            if side == 1:
                f_lo *= 0.5
            side = 1
        else:
            lo = mid
            f_lo = f_mid
            if side == -1:
                f_hi *= 0.5
            side = -1
        if abs(f_mid) < NEAR or hi - lo < 4.0 * width:
            break
    if last != hi and not abs(f_mid) < NEAR:
        last = hi
        _error, count = advance(t, x, hi, p, mode, tolerance, scale, ke, ki, z, new)
        evaluations += count
        watch(p, new, mode, after)
    return last, evaluations


@compiled
def integrate(p: Parameters, tolerance: float, max_step: float, x: Floats, record: Floats) -> Outcome:
    """Integrate one shot; x (13 floats) becomes the final state; record is filled while it has rows.

    Returns an `Outcome`.  tolerance is relative to the natural size of each state.
    """
    pa = p.ambient_pressure
    cv = p.gas_constant / (GAMMA - 1.0)
    clamped = 1 if p.charge > 0.0 else 0
    for n in range(STATES):
        x[n] = 0.0
    x[S] = p.stroke if clamped == 1 else 0.0
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    p1 = p.charge if clamped == 1 else pa
    x[E1] = p1 * v1 / (GAMMA - 1.0)
    x[M1] = x[E1] / (cv * p.ambient_temperature)
    x[E2] = pa * p.barrel_dead / (GAMMA - 1.0)
    x[M2] = x[E2] / (cv * p.ambient_temperature)
    budget = (p1 - pa) * v1 / (GAMMA - 1.0) if clamped == 1 else spring_work(p, p.stroke)
    budget = max(budget, 1e-9)
    scale = np.empty(DYNAMIC)
    scale[S] = p.stroke
    scale[U] = math.sqrt(2.0 * budget / p.plunger_mass)
    scale[E1] = scale[E2] = 0.3 * budget
    scale[M1] = scale[M2] = 0.3 * budget / (cv * GAMMA * p.ambient_temperature)
    scale[Y] = p.length
    scale[W] = min(math.sqrt(2.0 * budget / p.dart_mass), 500.0)
    ke = np.empty((6, STATES))
    ki = np.empty((6, 2))
    z = np.empty(STATES)
    new = np.empty(STATES)
    before = np.empty(EVENTS)
    after = np.empty(EVENTS)
    mode = np.zeros(6, np.int64)
    mode[CLAMPED] = clamped
    mode[NOSE] = 1 if p.dart_length >= p.length else 0
    mode[FREE2] = 1 if p.squeeze2 <= x[S] else 0
    mode[FREE3] = 1 if p.squeeze3 <= x[S] else 0
    t = 0.0
    h = 1e-5
    steps = 0
    rejected = 0
    evaluations = 0
    records = 0
    stop_energy = 0.0
    impact_speed = 0.0
    breakaway_time = -1.0
    stop_time = -1.0
    held_since = 0.0  # when the dart was last stopped
    spent = -1.0  # when the plunger had done its best: stopped or turned for the first time
    status = FAILED
    fresh = True  # modes must be looked at
    peak1 = p1
    peak2 = pa
    old1 = p1
    old2 = pa
    previous_error = 1.0
    while steps < MAX_STEPS:
        balance = energy(p, x)
        if fresh:
            if mode[PLUNGER] == 0 and clamped == 0:
                net, hold = plunger_net(p, x)
                hold *= 1.0 - NEAR
                if net >= hold and net > 0.0 and x[S] < p.stroke:
                    mode[PLUNGER] = 1
                elif -net >= hold and net < 0.0 and x[S] > 0.0:
                    mode[PLUNGER] = -1
            if mode[DART] == 0:
                net, hold = dart_net(p, x)
                hold *= 1.0 - NEAR
                if net >= hold and net > 0.0:
                    mode[DART] = 1
                    if breakaway_time < 0.0:
                        breakaway_time = t
                elif -net >= hold and net < 0.0 and x[Y] > 0.0:
                    mode[DART] = -1
            if spent < 0.0 and mode[PLUNGER] <= 0:
                spent = t
            fresh = False
        if records < record.shape[0]:
            v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
            v2 = p.barrel_dead + p.barrel_area * x[Y]
            q, _h, _c = port(p, x)
            rates(t, x, p, mode, q, z)
            record[records, 0] = t
            for n in range(STATES):
                record[records, 1 + n] = x[n]
            record[records, 14] = (GAMMA - 1.0) * x[E1] / v1
            record[records, 15] = (GAMMA - 1.0) * x[E2] / v2
            record[records, 16] = record[records, 15] - p.gas_inertia * x[M2] / 3.0 * z[W] / p.barrel_area
            records += 1
        if mode[DART] == 0 and spent >= 0.0 and t - max(held_since, spent) > QUIET:
            if x[Y] > 0.0:
                status = STALLED
            elif x[S] == 0.0:
                status = NO_RELEASE
            else:
                status = NO_BREAKAWAY
            break
        if t > TIME_LIMIT:
            status = TIME_OUT
            break
        h = min(h, max_step)
        error, count = advance(t, x, h, p, mode, 1e-3 * tolerance, scale, ke, ki, z, new)
        evaluations += count
        if error == error:
            error = max(error, DEFECT_WEIGHT * abs(energy(p, new) - balance) / budget)
        if not error <= tolerance:
            rejected += 1
            h *= max(0.2, 0.9 * (tolerance / error) ** 0.25) if error == error else 0.25
            if h < 1e-14:
                break
            continue
        steps += 1
        taken = h
        ratio = max(error / tolerance, 1e-4)
        grow = 0.9 * ratio**-0.175 * previous_error**0.1
        previous_error = max(ratio, 1e-2)
        h *= min(max(grow, 0.3), 4.0)
        watch(p, new, mode, after)
        for n in range(EVENTS):
            if after[n] > 0.0:
                fresh = True
        if fresh:
            watch(p, x, mode, before)
            taken, count = shorten(
                t, x, taken, p, mode, 1e-3 * tolerance, scale, ke, ki, z, new, before, after
            )
            evaluations += count
        t += taken
        for n in range(STATES):
            x[n] = new[n]
        p1 = (GAMMA - 1.0) * x[E1] / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
        p2 = (GAMMA - 1.0) * x[E2] / (p.barrel_dead + p.barrel_area * x[Y])
        peak1 = max(peak1, p1)
        peak2 = max(peak2, p2)
        old1 = p1
        old2 = p2
        if fresh:
            if after[AT_STOP] > -NEAR:
                back = 0.0
                if mode[PLUNGER] > 0:
                    x[S] = p.stroke
                    if stop_time < 0.0:
                        stop_time = t
                    impact_speed = max(impact_speed, x[U])
                    back = p.restitution * x[U]
                    if back < 1e-3 * scale[U]:
                        back = 0.0
                else:  # thrown back to the catch
                    x[S] = 0.0
                stop_energy += 0.5 * p.plunger_mass * (x[U] * x[U] - back * back)
                x[U] = -back
                mode[PLUNGER] = -1 if back > 0.0 else 0
            elif after[PLUNGER_TURNS] > -NEAR:
                x[U] = 0.0
                mode[PLUNGER] = 0
            if after[SPRING2] > -NEAR:
                mode[FREE2] = 1 - mode[FREE2]
            if after[SPRING3] > -NEAR:
                mode[FREE3] = 1 - mode[FREE3]
            if after[AT_MUZZLE] > -NEAR:
                if mode[DART] > 0:
                    x[Y] = p.length
                    status = LEFT
                    break
                stop_energy += 0.5 * p.dart_mass * x[W] * x[W]
                x[Y] = 0.0
                x[W] = 0.0
                mode[DART] = 0
                held_since = t
            elif after[DART_TURNS] > -NEAR:
                x[W] = 0.0
                mode[DART] = 0
                held_since = t
            mode[NOSE] = 1 if x[Y] >= p.length - p.dart_length - NEAR * p.length else 0
    if records < record.shape[0] and status == LEFT:
        record[records, 0] = t
        for n in range(STATES):
            record[records, 1 + n] = x[n]
        record[records, 14] = old1
        record[records, 15] = old2
        record[records, 16] = old2 - p.gas_inertia * x[M2] / 3.0 * ke[5, W] / p.barrel_area
        records += 1
    work = 0.0 if clamped == 1 else spring_work(p, x[S])
    return Outcome(
        status, t, stop_energy, impact_speed, breakaway_time, stop_time, peak1, peak2, work,
        steps, rejected, evaluations, records,
    )  # fmt: skip
