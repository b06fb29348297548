"""The shot with the waves in its springs resolved: a second opinion on the shot model's spring.

What it is for: `chain_run` integrates the equations of ``spring_chain`` with the shot model's events and
rules.  What it leaves out: as ``spring_chain``; units (``second_opinion``).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from blasterlab.compiled import compiled
from blasterlab.shot import equations as eq
from blasterlab.shot import events
from blasterlab.shot.equations import DYNAMIC, STATES, S, U, W, Y
from blasterlab.shot.integrate import begin, sizes
from blasterlab.shot.parameters import Floats, Integers, Parameters
from blasterlab.shot.rules import EXITED, FAILED, NEAR, RUNNING, TIME_LIMIT, lost, seal_hold
from blasterlab.waves import spring_chain as chain
from blasterlab.waves.spring_chain import MASS, Flags, nodes, set_end

LONGEST = 2e-5  # s, of a step; none is longer than the time between samples


class ChainMoment(NamedTuple):
    """A row of the history; pressures are absolute."""

    time: float
    plunger_travel: float
    plunger_speed: float
    dart_travel: float
    dart_speed: float
    chamber_pressure: float
    barrel_pressure: float
    spring_force: float  # of all springs on the plunger


class ChainOutcome(NamedTuple):
    """What a shot with chain springs came to, SI floats."""

    status: int  # as in `shot.rules`
    muzzle_velocity: float
    time: float
    impact_speed: float  # fastest that the plunger hit its front stop
    stop_energy: float
    chamber_peak: float
    spring_work: float  # elastic energy that the springs gave up
    coil_motion: float  # kinetic energy left in the coils
    lifted: float  # time for which a spring did not press on the plunger
    residual: float  # energy that appeared
    steps: int
    records: int


@compiled
def _watch(
    p: Parameters, x: Floats, mode: Integers, springs: Floats, n: int, touch: Flags, g: Floats
) -> float:
    """Event functions into g, above 0 when past, a spring that comes back to the plunger among them; returns
    the largest.  A held plunger is looked at between steps, where the springs' force is known."""
    events.watch(p, x, mode, 0.0, g)
    g[events.PLUNGER_STARTS] = g[events.PLUNGER_BACKS] = -1.0
    for c in range(len(springs)):
        if not touch[c]:
            g[events.TOUCH + c] = (nodes(x, c, n)[0][n - 1] - x[S]) / p.stroke
    return g.max()


@compiled
def _advance(
    t: float, x: Floats, h: float, longest: float, tolerance: float, p: Parameters, springs: Floats, n: int,
    mode: Integers, touch: Flags, scale: Floats, k: Floats, z: Floats, new: Floats,
) -> tuple[float, float]:  # fmt: skip
    """A step that meets the tolerance, h or shorter, into new: its length (0 when there is none) and the next
    one's."""
    while True:
        error = chain.step(t, x, h, p, springs, n, mode, touch, scale, k, z, new)
        if error <= tolerance:
            grow = 0.9 * (tolerance / max(error, 1e-3 * tolerance)) ** 0.2
            return h, min(h * min(max(grow, 0.3), 3.0), longest)
        if h < 1e-15:
            return 0.0, h
        h *= max(0.2, 0.9 * (tolerance / error) ** 0.2) if error == error else 0.25


@compiled
def _shorten(
    t: float, x: Floats, taken: float, late: float, p: Parameters, springs: Floats, n: int, mode: Integers,
    touch: Flags, scale: Floats, k: Floats, z: Floats, new: Floats, after: Floats,
) -> float:  # fmt: skip
    """Shorten a step that ran past events until the first of them lies at its end (Illinois)."""
    low, high, f_low, f_high = 0.0, taken, -1.0, late
    for _ in range(80):
        taken = (low * f_high - high * f_low) / (f_high - f_low)
        chain.step(t, x, taken, p, springs, n, mode, touch, scale, k, z, new)
        late = _watch(p, new, mode, springs, n, touch, after)
        low, f_low = (high, f_high) if late * f_high < 0.0 else (low, 0.5 * f_low)
        high, f_high = taken, late
        if abs(late) < 1e-11 or abs(high - low) < 1e-13:
            break
    return taken


@compiled
def _lift_off(x: Floats, springs: Floats, n: int, touch: Flags, acceleration: float) -> bool:
    """Let the springs lift off that would have to pull the plunger; says whether one did."""
    changed = False
    for c in range(len(springs)):
        push = chain.end_force(x, springs, c, n) - 0.5 * springs[c, MASS] / n * acceleration
        if touch[c] and push < 0.0:
            touch[c], changed = False, True
    return changed


@compiled
def _land(
    p: Parameters, x: Floats, mode: Integers, springs: Floats, n: int, touch: Flags, marks: Floats
) -> None:
    """Let the ends of lifted springs that reach the plunger stay on it, and pressing ones go with it."""
    for c in range(len(springs)):
        z, v = nodes(x, c, n)
        if not touch[c] and z[n - 1] >= x[S] - NEAR * p.stroke and v[n - 1] >= x[U]:
            half, mass = 0.5 * springs[c, MASS] / n, chain.moving_mass(p, springs, n, touch)
            common = (mass * x[U] + half * v[n - 1]) / (mass + half) if mode[eq.PLUNGER] != 0 else 0.0
            marks[events.STOP_ENERGY] += lost(mass, x[U], common) + lost(half, v[n - 1], common)
            x[U] = common
            touch[c] = True
    for c in range(len(springs)):
        if touch[c]:
            set_end(x, c, n, x[S], x[U])


@compiled
def _shoot(
    p: Parameters, springs: Floats, n: int, tolerance: float, t_max: float, record: Floats, every: float
) -> ChainOutcome:
    """Integrate one shot with chain springs; p has none of its own.

    The integration loop: everything that happens between two steps, in its order.
    """
    size = STATES + 2 * n * len(springs)
    x, new, z, scale = np.zeros(size), np.zeros(size), np.zeros(size), np.zeros(size)
    k, after = np.zeros((7, size)), np.zeros(events.EVENTS)
    touch, mode, marks = np.ones(len(springs), np.bool_), np.empty(eq.MODES, np.int64), events.fresh_marks()
    begin(p, x, mode)
    store, _ = chain.stored(x, springs, n)
    scale[:DYNAMIC] = sizes(p, store)
    for c in range(len(springs)):
        nodes(scale, c, n)[0][:], nodes(scale, c, n)[1][:] = p.stroke, scale[U]
    total = eq.energy(p, x, mode[eq.NOSE]) + store
    t, h, peak, free = 0.0, 1e-6, 0.0, 0.0
    longest = min(LONGEST, every) if len(record) > 0 else LONGEST
    steps, rows, status = 0, 0, FAILED
    while steps < 2_000_000:
        # a second time when a body has broken away or a spring has lifted off
        pressed = chain.slopes(t, x, p, springs, n, mode, touch, k[0])
        p1, p2 = eq.pressures(p, x)
        peak = max(peak, p1)
        if rows < len(record) and t >= rows * every:
            record[rows] = ChainMoment(t, x[S], x[U], x[Y], x[W], p1, p2, pressed)
            rows += 1
        push = pressed - (p1 - p.ambient_pressure) * p.plunger_area
        on_dart, grip = eq.dart_net(p, x)
        plunger, dart = mode[eq.PLUNGER], mode[eq.DART]
        events.release(t, x, p, mode, push, seal_hold(p, p1), on_dart, grip, marks)
        started = plunger != mode[eq.PLUNGER] or dart != mode[eq.DART]
        lifted = _lift_off(x, springs, n, touch, k[0, U])
        if started or lifted:
            continue
        status = events.how_ended(t, t_max, x, mode, marks, False)
        if status != RUNNING:
            break
        taken, h = _advance(t, x, h, longest, tolerance, p, springs, n, mode, touch, scale, k, z, new)
        if taken == 0.0:
            status = FAILED
            break
        late = _watch(p, new, mode, springs, n, touch, after)
        if late > 0.0:
            taken = _shorten(t, x, taken, late, p, springs, n, mode, touch, scale, k, z, new, after)
        for c in range(len(springs)):
            free += 0.0 if touch[c] else taken
        x[:] = new
        t += taken
        steps += 1
        before = x[U]
        status = events.settle(t, x, p, mode, after, scale[U], marks)
        ends = chain.moving_mass(p, springs, n, touch) - p.plunger_mass  # they stop with the plunger
        marks[events.STOP_ENERGY] += lost(ends, before, x[U])
        if status == EXITED:
            break
        _land(p, x, mode, springs, n, touch, marks)
    elastic, motion = chain.stored(x, springs, n)
    residual = eq.energy(p, x, mode[eq.NOSE]) + elastic + motion + marks[events.STOP_ENERGY] - total
    return ChainOutcome(
        status, x[W], t, marks[events.IMPACT_SPEED], marks[events.STOP_ENERGY], peak, store - elastic, motion,
        free, residual, steps, rows,
    )  # fmt: skip


def chain_run(
    p: Parameters,
    masses: tuple[float, ...],
    elements: int = 40,
    tolerance: float = 1e-7,
    t_max: float = TIME_LIMIT,
    rows: int = 0,
    every: float = 2e-5,
) -> tuple[ChainOutcome, Floats]:
    """One shot of the shot model with its springs as chains, in SI floats.

    m_s/n d²z_j/dt² = F_j − F_(j+1); (m_p + m_s/2n) du/dt = F_n − (p − p_a) A_p − F_seal

    Parameters
    ----------
    p : Parameters [SI]
        As for the shot model, but ``plunger_mass`` is the plunger's own, without a share of the springs.
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
        The `ChainOutcome` and the samples, columns as `ChainMoment`.

    Raises
    ------
    ValueError
        For masses that do not match the springs, a number of elements out of range, or a charged chamber.

    Notes
    -----
    A disturbance takes √(m_s/k) to run along a spring.  The rule of a third holds when that is short against
    the shot.  The error of the chain falls with the square of its elements.

    References
    ----------
    See ``blasterlab.waves.spring_chain``.
    """
    pairs = (p.rate1, p.catch_compression1), (p.rate2, p.catch_compression2), (p.rate3, p.catch_compression3)
    table = [pair for pair in pairs if pair[0] > 0.0]
    if len(masses) != len(table) or not all(mass > 0.0 for mass in masses):
        raise ValueError(f"masses: got {masses}; must be one above 0 for each of the {len(table)} springs")
    if not 1 <= elements <= 400:
        raise ValueError(f"elements: got {elements}; must be 1 to 400")
    if p.charge > 0.0:
        raise ValueError("charge: a charged chamber has no spring to resolve")
    springs = np.array([(*row, mass) for row, mass in zip(table, masses, strict=True)])
    none = dict.fromkeys(("rate1", "rate2", "rate3", "wave_mass1", "wave_mass2", "wave_mass3"), 0.0)
    free = Parameters(*(float(value) for value in p._replace(**none)))
    record = np.empty((rows, len(ChainMoment._fields)))
    outcome = ChainOutcome(
        *_shoot(free, springs, int(elements), float(tolerance), float(t_max), record, float(every))
    )
    return outcome, record[: outcome.records]
