# mypy: allow-untyped-defs
"""The shot with the waves in the spring resolved, beside the rule of the effective mass.

What it is for: a spring of some mass does not follow its plunger at once; a wave runs from the plunger to
its far end and back.  Each spring is a chain of equal masses and springs between a fixed end and the plunger,
on which it only presses: it may lift off and come back.  The gas is that of ``kernel``.  What it leaves out:
coils that touch (a spring pressed solid), friction in the spring, waves in the gas (``waves``).

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
from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.shot.equations import (
    DART,
    E1,
    E2,
    M1,
    M2,
    NOSE,
    PLUNGER,
    SEAL_WORK,
    STATES,
    S,
    U,
    W,
    Y,
    dart_net,
    energy,
    rates,
)
from blasterlab.shot.orifice import PATCH, orifice
from blasterlab.shot.parameters import GAMMA, Parameters
from blasterlab.shot.rules import EXITED, FAILED, NO_BREAKAWAY, NO_RELEASE, STALLED, seal_hold

AT_STOP, TURNS, AT_MUZZLE, DART_TURNS, NOSE_OUT, DART_STARTS = range(6)
TOUCH = 6  # and c: spring c meets the plunger again
EVENTS = TOUCH + 3
COLUMNS = 8  # of a record: time, s, u, y, w, chamber and barrel pressure, springs' force on the plunger
LONGEST = 2e-5  # s, of a step

_A = np.zeros((7, 6))
_A[1, 0] = 1 / 5
_A[2, :2] = 3 / 40, 9 / 40
_A[3, :3] = 44 / 45, -56 / 15, 32 / 9
_A[4, :4] = 19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729
_A[5, :5] = 9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656
_A[6, :6] = 35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84
_C = np.array([0, 1 / 5, 3 / 10, 4 / 5, 8 / 9, 1, 1])
_E = np.array([71 / 57600, 0, -71 / 16695, 71 / 1920, -17253 / 339200, 22 / 525, -1 / 40])


class ChainOutcome(NamedTuple):
    """What a shot with chain springs came to, SI floats; times that never came are −1."""

    status: int  # as in the lumped model
    muzzle_velocity: float
    time: float
    impact_speed: float  # fastest that the plunger hit its front stop
    stop_energy: float
    stop_time: float
    chamber_peak: float
    barrel_peak: float
    spring_work: float  # elastic energy that the springs gave up
    coil_motion: float  # kinetic energy left in the coils
    lifted: float  # time for which a spring did not press on the plunger
    residual: float  # energy that appeared
    steps: int
    records: int


@compiled
def chain_rates(z, v, n, rate, squeeze, mass, dz, dv):
    """Rates of the first n − 1 nodes of a chain, and the force of its last element on the node at its end."""
    stiffness = n * rate
    rest = squeeze / n
    before = stiffness * (rest - z[0])
    for i in range(n - 1):
        force = stiffness * (rest - (z[i + 1] - z[i]))
        dz[i] = v[i]
        dv[i] = (before - force) * n / mass
        before = force
    return before


@compiled
def _moving(p, springs, n, touch):
    """Mass of the plunger with the half masses at the ends of the springs that press on it."""
    mass = p.plunger_mass
    for c in range(len(springs)):
        mass += 0.5 * springs[c, 2] / n if touch[c] else 0.0
    return mass


@compiled
def _slopes(t, x, p, springs, n, mode, touch, out):
    """Time derivatives of everything; returns the force on the plunger's own mass by the springs."""
    v1 = p.plunger_area * (p.stroke - x[S]) + p.chamber_dead
    v2 = p.barrel_dead + p.barrel_area * x[Y]
    p1, p2 = (GAMMA - 1.0) * x[E1] / v1, (GAMMA - 1.0) * x[E2] / v2
    t1, t2 = p1 * v1 / (x[M1] * p.gas_constant), p2 * v2 / (x[M2] * p.gas_constant)
    q, power = orifice(p.port_area, p1, t1, p2, t2, p.gas_constant, PATCH)
    rates(t, x, p, mode, q, out)
    out[M1] -= q
    out[M2] += q
    out[E1] -= power
    out[E2] += power
    mass = _moving(p, springs, n, touch)
    force = 0.0
    for c in range(len(springs)):
        a = STATES + 2 * n * c
        b = a + n
        end = chain_rates(
            x[a:b], x[b : b + n], n, springs[c, 0], springs[c, 1], springs[c, 2], out[a:b], out[b : b + n]
        )
        if touch[c]:
            force += end
        else:
            out[b - 1] = x[b + n - 1]
            out[b + n - 1] = end / (0.5 * springs[c, 2] / n)
    if mode[PLUNGER] != 0:
        out[U] = (out[U] * p.plunger_mass + force) / mass
        force -= (mass - p.plunger_mass) * out[U]
    for c in range(len(springs)):
        if touch[c]:
            a = STATES + 2 * n * c
            out[a + n - 1] = x[U]
            out[a + 2 * n - 1] = out[U]
    return force


@compiled
def _step(t, x, h, p, springs, n, mode, touch, scale, k, z, new):
    """One step of the 5(4) pair from x into new, with the slopes at x in k[0].  Returns the error."""
    size = len(x)
    for i in range(1, 7):
        for m in range(size):
            total = 0.0
            for j in range(i):
                total += _A[i, j] * k[j, m]
            z[m] = x[m] + h * total
        if not (z[M1] > 0.0 and z[E1] > 0.0 and z[M2] > 0.0 and z[E2] > 0.0):
            return math.nan
        if p.plunger_area * (p.stroke - z[S]) + p.chamber_dead <= 0.0:
            return math.nan
        if p.barrel_dead + p.barrel_area * z[Y] <= 0.0:
            return math.nan
        _slopes(t + _C[i] * h, z, p, springs, n, mode, touch, k[i])
    norm = 0.0
    for m in range(size):
        error = 0.0
        for j in range(7):
            error += _E[j] * k[j, m]
        new[m] = z[m]
        if m < SEAL_WORK or m >= STATES:
            norm = max(norm, abs(h * error) / scale[m])
    return norm


@compiled
def _watch(x, p, n, mode, touch, springs, g):
    """Event functions into g, above 0 when past; returns the largest."""
    for m in range(EVENTS):
        g[m] = -1.0
    if mode[PLUNGER] != 0:
        g[AT_STOP] = (x[S] - p.stroke) / p.stroke if mode[PLUNGER] > 0 else -x[S] / p.stroke
        g[TURNS] = -mode[PLUNGER] * x[U]
    if mode[DART] != 0:
        g[AT_MUZZLE] = (x[Y] - p.length) / p.length if mode[DART] > 0 else -x[Y] / p.length
        g[DART_TURNS] = -mode[DART] * x[W]
        if mode[NOSE] == 0:
            g[NOSE_OUT] = (x[Y] - p.length + p.dart_length) / p.length
    else:
        net, hold = dart_net(p, x)
        g[DART_STARTS] = (net - hold) / max(hold, 1.0)
    for c in range(len(springs)):
        if not touch[c]:
            g[TOUCH + c] = (x[STATES + 2 * n * c + n - 1] - x[S]) / p.stroke
    late = -1.0
    for m in range(EVENTS):
        late = max(late, g[m])
    return late


@compiled
def _shorten(t, x, taken, late, p, springs, n, mode, touch, scale, k, z, new, after):
    """Shorten a step that ran past events until the first of them lies at its end (Illinois)."""
    low, high, f_low, f_high, side = 0.0, taken, -1.0, late, 0
    for _ in range(80):
        taken = (low * f_high - high * f_low) / (f_high - f_low)
        _step(t, x, taken, p, springs, n, mode, touch, scale, k, z, new)
        late = _watch(new, p, n, mode, touch, springs, after)
        if late > 0.0:
            high, f_high = taken, late
            f_low *= 0.5 if side == 1 else 1.0
            side = 1
        else:
            low, f_low = taken, late
            f_high *= 0.5 if side == -1 else 1.0
            side = -1
        if abs(late) < 1e-11 or high - low < 1e-13:
            break
    return taken


@compiled
def _stored(x, n, springs):
    """Elastic and kinetic energy of all chains, the half masses at the plunger included."""
    elastic = motion = 0.0
    for c in range(len(springs)):
        a = STATES + 2 * n * c
        before = 0.0
        for i in range(n):
            stretch = springs[c, 1] / n - (x[a + i] - before)
            before = x[a + i]
            elastic += 0.5 * n * springs[c, 0] * stretch * stretch
            motion += 0.5 * springs[c, 2] / n * x[a + n + i] ** 2 * (0.5 if i == n - 1 else 1.0)
    return elastic, motion


@compiled
def _start(p, springs, n, x, scale):
    """The state at the catch into x, and the size of each state into scale; returns the fastest speed."""
    cv = p.gas_constant / (GAMMA - 1.0)
    v1 = p.plunger_area * p.stroke + p.chamber_dead
    x[E1] = p.ambient_pressure * v1 / (GAMMA - 1.0)
    x[E2] = p.ambient_pressure * p.barrel_dead / (GAMMA - 1.0)
    x[M1], x[M2] = x[E1] / (cv * p.ambient_temperature), x[E2] / (cv * p.ambient_temperature)
    store, _ = _stored(x, n, springs)
    speed = math.sqrt(2.0 * store / p.plunger_mass)
    for m in range(len(x)):
        scale[m] = p.stroke
    for c in range(len(springs)):
        for i in range(n):
            scale[STATES + 2 * n * c + n + i] = speed
    scale[U], scale[Y] = speed, p.length
    scale[W] = min(math.sqrt(2.0 * store / p.dart_mass), 500.0)
    scale[M1], scale[M2] = x[M1], x[M2] + 0.1 * x[M1]
    scale[E1], scale[E2] = x[E1], x[E2] + 0.1 * x[E1]
    return speed


@compiled
def _chain_shot(p, springs, n, tolerance, t_max, record, every):
    """Integrate one shot with chain springs (rows: rate, compression at the catch, mass)."""
    pa = p.ambient_pressure
    size = STATES + 2 * n * len(springs)
    x, new, z, scale = np.zeros(size), np.zeros(size), np.zeros(size), np.zeros(size)
    k = np.zeros((7, size))
    after = np.zeros(EVENTS)
    mode = np.zeros(6, np.int64)
    mode[NOSE] = 1 if p.dart_length >= p.length else 0
    touch = np.ones(len(springs), np.bool_)
    speed = _start(p, springs, n, x, scale)
    store, _ = _stored(x, n, springs)
    start = energy(p, x) + store
    t, h = 0.0, 1e-6
    stop_energy = impact = lifted = peak1 = peak2 = 0.0
    stop_time = -1.0
    steps, rows, status = 0, 0, FAILED
    while steps < 2_000_000:
        # a second time when a body has broken away or a spring has lifted off
        pressed = _slopes(t, x, p, springs, n, mode, touch, k[0])
        p1 = (GAMMA - 1.0) * x[E1] / (p.plunger_area * (p.stroke - x[S]) + p.chamber_dead)
        p2 = (GAMMA - 1.0) * x[E2] / (p.barrel_dead + p.barrel_area * x[Y])
        peak1, peak2 = max(peak1, p1), max(peak2, p2)
        if rows < len(record) and t >= rows * every:
            record[rows, 0], record[rows, 1], record[rows, 2] = t, x[S], x[U]
            record[rows, 3], record[rows, 4] = x[Y], x[W]
            record[rows, 5], record[rows, 6], record[rows, 7] = p1, p2, pressed
            rows += 1
        # held bodies that break away, springs that lift off
        changed = False
        if mode[PLUNGER] == 0:
            hold = seal_hold(p, p1)
            net = pressed - (p1 - pa) * p.plunger_area
            if net > hold and x[S] < p.stroke:
                mode[PLUNGER], changed = 1, True
            elif -net > hold and x[S] > 0.0:
                mode[PLUNGER], changed = -1, True
        if mode[DART] == 0:
            net, hold = dart_net(p, x)
            if net > hold - 1e-9 * max(hold, 1.0) and net > 0.0:
                mode[DART], changed = 1, True
            elif -net > hold and x[Y] > 0.0:
                mode[DART], changed = -1, True
        for c in range(len(springs)):
            if touch[c]:
                a = STATES + 2 * n * c
                base = x[a + n - 2] if n > 1 else 0.0
                end = n * springs[c, 0] * (springs[c, 1] / n - (x[a + n - 1] - base))
                if end - 0.5 * springs[c, 2] / n * k[0, U] < 0.0:
                    touch[c], changed = False, True
        if changed:
            continue
        if t >= t_max:
            status = STALLED if x[Y] > 0.0 else (NO_RELEASE if x[S] == 0.0 else NO_BREAKAWAY)
            break
        while True:
            error = _step(t, x, h, p, springs, n, mode, touch, scale, k, z, new)
            if error <= tolerance or h < 1e-15:
                break
            h *= max(0.2, 0.9 * (tolerance / error) ** 0.2) if error == error else 0.25
        if not error <= tolerance:
            break
        taken = h
        h *= min(max(0.9 * (tolerance / max(error, 1e-3 * tolerance)) ** 0.2, 0.3), 3.0)
        h = min(h, LONGEST)
        late = _watch(new, p, n, mode, touch, springs, after)
        if late > 0.0:
            taken = _shorten(t, x, taken, late, p, springs, n, mode, touch, scale, k, z, new, after)
        for c in range(len(springs)):
            lifted += 0.0 if touch[c] else taken
        for m in range(size):
            x[m] = new[m]
        t += taken
        steps += 1
        near = -1e-10
        if after[AT_STOP] > near and mode[PLUNGER] != 0:
            back = 0.0
            if mode[PLUNGER] > 0:
                stop_time = t if stop_time < 0.0 else stop_time
                impact = max(impact, x[U])
                back = p.stop_restitution * x[U] if p.stop_restitution * x[U] > 1e-3 * speed else 0.0
                x[S] = p.stroke
            else:
                x[S] = 0.0
            stop_energy += 0.5 * _moving(p, springs, n, touch) * (x[U] ** 2 - back**2)
            x[U] = -back
            mode[PLUNGER] = -1 if back > 0.0 else 0
        elif after[TURNS] > near and mode[PLUNGER] != 0 and abs(x[U]) < 1e-6 * speed:
            x[U] = 0.0
            mode[PLUNGER] = 0
        if after[AT_MUZZLE] > near and mode[DART] != 0:
            if mode[DART] > 0:
                status = EXITED
                break
            stop_energy += 0.5 * p.dart_mass * x[W] ** 2
            x[Y], x[W], mode[DART] = 0.0, 0.0, 0
        elif after[DART_TURNS] > near and mode[DART] != 0 and abs(x[W]) < 1e-6 * scale[W]:
            x[W] = 0.0
            mode[DART] = 0
        if mode[NOSE] == 0 and after[NOSE_OUT] > near:
            mode[NOSE] = 1
        for c in range(len(springs)):
            end = STATES + 2 * n * c + n - 1
            if not touch[c] and after[TOUCH + c] > near and x[end + n] >= x[U]:
                # the end of the spring lands on the plunger and stays
                half, mass = 0.5 * springs[c, 2] / n, _moving(p, springs, n, touch)
                common = (mass * x[U] + half * x[end + n]) / (mass + half) if mode[PLUNGER] != 0 else 0.0
                stop_energy += 0.5 * (mass * x[U] ** 2 + half * x[end + n] ** 2)
                stop_energy -= 0.5 * (mass + half) * common**2
                x[U] = common
                touch[c] = True
        for c in range(len(springs)):
            if touch[c]:
                end = STATES + 2 * n * c + n - 1
                x[end], x[end + n] = x[S], x[U]
    elastic, motion = _stored(x, n, springs)
    residual = energy(p, x) + elastic + motion + stop_energy - start
    return ChainOutcome(
        status, x[W], t, impact, stop_energy, stop_time, peak1, peak2, store - elastic, motion, lifted,
        residual, steps, rows,
    )  # fmt: skip


def chain_run(
    p: Parameters,
    masses: tuple[float, ...],
    elements: int = 40,
    tolerance: float = 1e-7,
    t_max: float = 0.1,
    rows: int = 0,
    every: float = 2e-5,
) -> tuple[ChainOutcome, np.ndarray]:
    """One shot of the lumped gas model with its springs as chains, in SI floats.

    m_s/n d²z_j/dt² = F_j − F_(j+1); (m_p + m_s/2n) du/dt = F_n − (p − p_a) A_p − F_seal

    Parameters
    ----------
    p : Parameters [SI]
        As for the lumped model, but ``plunger_mass`` is the plunger's own, without a share of the springs.
    masses : tuple of float [kg]
        Mass of each spring that has a rate, in their order, above 0.
    elements : int [-]
        Links of each chain, 1 to 400.
    tolerance : float [-]
        Of the integrator, relative to the size of each state.
    t_max : float [s]
        When to give up on a dart that has not left.
    rows : int [-]
        The most samples to keep.
    every : float [s]
        Time between samples.

    Returns
    -------
    tuple [SI]
        The `ChainOutcome` and the samples: time, plunger travel and speed, dart travel and speed, chamber and
        barrel pressure, force of the springs on the plunger.

    Raises
    ------
    ValueError
        For masses that do not match the springs, a number of elements out of range, or a charged chamber.

    Notes
    -----
    A disturbance takes √(m_s/k) to run along a spring.  The effective mass holds when that is short against
    the shot.  The error of the chain falls with the square of its elements.

    References
    ----------
    See the module.
    """
    table = [
        (p.rate1, p.catch_compression1),
        (p.rate2, p.catch_compression2),
        (p.rate3, p.catch_compression3),
    ]
    table = [row for row in table if row[0] > 0.0]
    if len(masses) != len(table) or not all(mass > 0.0 for mass in masses):
        raise ValueError(f"masses: one above 0 for each of the {len(table)} springs is needed, got {masses}")
    if not 1 <= elements <= 400:
        raise ValueError(f"elements must be 1 to 400, got {elements}")
    if p.charge > 0.0:
        raise ValueError("charge: a charged chamber has no spring to resolve")
    springs = np.array([(*row, mass) for row, mass in zip(table, masses, strict=True)])
    free = Parameters(*(float(value) for value in p._replace(rate1=0.0, rate2=0.0, rate3=0.0)))
    record = np.empty((rows, COLUMNS))
    outcome = ChainOutcome(
        *_chain_shot(free, springs, int(elements), float(tolerance), float(t_max), record, float(every))
    )
    return outcome, record[: outcome.records]
