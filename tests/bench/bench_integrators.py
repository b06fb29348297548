"""What each way to integrate the same shot costs, and how wrong it is; prints a table, asserts nothing.

Use: ``python tests/bench/bench_integrators.py``.  The task is the smooth middle of one shot of a demo build,
from a state with the dart on its way to a time before its nose leaves, so that only the stepping differs
and no event; the second table is the throughput of whole shots.  The explicit pair is Dormand and Prince's
5(4) (*J. Comput. Appl. Math.* 6, 19 (1980)) on the same equations, with the flow function's patch beginning
at three pressure ratios.

All times are the least of many in one run on one machine; the ratios are what counts.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import numba
import numpy as np

import blasterlab as bl
from blasterlab.shot import ark_step as pair
from blasterlab.shot import equations as k
from blasterlab.shot import from_build as pack
from blasterlab.shot import integrate as stepper
from blasterlab.shot import many as batch
from blasterlab.shot import orifice
from blasterlab.shot.simulate import TOLERANCE

A = np.zeros((7, 7))
A[1, 0] = 1 / 5
A[2, :2] = 3 / 40, 9 / 40
A[3, :3] = 44 / 45, -56 / 15, 32 / 9
A[4, :4] = 19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729
A[5, :5] = 9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656
A[6, :6] = 35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84
B4 = np.array([5179 / 57600, 0, 7571 / 16695, 393 / 640, -92097 / 339200, 187 / 2100, 1 / 40])
DB = A[6] - B4


@numba.njit(error_model="numpy")
def slope(t, x, p, mode, patch, out):
    """All rates, the port explicit, its law straight above the pressure ratio `patch`."""
    cv = p.gas_constant / (k.GAMMA - 1.0)
    p1 = (k.GAMMA - 1.0) * x[k.E1] / (p.plunger_area * (p.stroke - x[k.S]) + p.chamber_dead)
    p2 = (k.GAMMA - 1.0) * x[k.E2] / (p.barrel_dead + p.barrel_area * x[k.Y])
    t1, t2 = x[k.E1] / (x[k.M1] * cv), x[k.E2] / (x[k.M2] * cv)
    q, heat = orifice.orifice(p.port_area, p1, t1, p2, t2, p.gas_constant, patch)
    seal, seal_heat, blow, blow_heat, _ = k.leaks(p, x)
    k.rates(t, x, p, mode, q - blow, 0.0, 0.0, out)
    out[k.M1] -= q + seal
    out[k.E1] -= heat + seal_heat
    out[k.M2] += q - blow
    out[k.E2] += heat - blow_heat
    out[k.LEAKED] = seal_heat + blow_heat


@numba.njit(error_model="numpy")
def explicit(p, mode, start, t0, t1, tolerance, scale, patch, x):
    """Dormand-Prince from t0 to t1; the state ends in x.  Returns steps and evaluations."""
    ke = np.zeros((7, k.STATES))
    z = np.empty(k.STATES)
    x[:] = start
    t, h, steps, evaluations = t0, 1e-6, 0, 0
    while t < t1:
        h = min(h, t1 - t)
        for i in range(7):
            z[:] = x
            for j in range(i):
                z += h * A[i, j] * ke[j]
            slope(t, z, p, mode, patch, ke[i])
        evaluations += 7
        error = 0.0
        for n in range(k.DYNAMIC):
            wrong = 0.0
            for j in range(7):
                wrong += DB[j] * ke[j, n]
            error = max(error, abs(h * wrong) / scale[n])
        if error <= tolerance:
            t += h
            steps += 1
            x[:] = z
        h *= min(4.0, max(0.2, 0.9 * (tolerance / max(error, 1e-30)) ** 0.2))
    return steps, evaluations


@numba.njit(error_model="numpy")
def implicit(p, mode, start, t0, t1, tolerance, scale, x):
    """The kit's pair from t0 to t1; the state ends in x.  Returns steps and evaluations."""
    guide, rows, slope = np.zeros(pair.GUIDES), np.empty((pair.ROWS, k.DYNAMIC)), np.empty(k.STATES)
    z, new, coils = np.empty(k.DYNAMIC), np.empty(k.STATES), np.empty((0, 0))
    x[:] = start
    budget = k.spring_work(p, p.stroke)
    t, h, steps, evaluations = t0, 1e-5, 0, 0
    while t < t1:
        h = min(h, t1 - t)
        error, count = pair.advance(
            t, x, h, p, mode, stepper.SOLVE * tolerance, coils, 1.0 / scale, guide, rows, z, slope, new
        )
        evaluations += count
        error = max(error, stepper.DEFECT_WEIGHT * abs(k.energy(p, new, 0) - k.energy(p, x, 0)) / budget)
        if error <= tolerance:
            t += h
            steps += 1
            guide[pair.FLOW], guide[pair.LAST], guide[pair.LENGTH] = guide[pair.NOW], guide[pair.END], h
            x[:] = new
        h *= min(4.0, max(0.2, 0.9 * (tolerance / max(error, 1e-30)) ** 0.2))
    return steps, evaluations


@numba.njit(parallel=True, error_model="numpy")
def roots_and_divisions(rows):
    """A thousand roots and divisions a row on all cores: what the machine itself does at the moment."""
    found = np.empty(rows)
    for i in numba.prange(rows):
        x = 1.0 + i
        for _ in range(1000):
            x = np.sqrt(x) + 2.0 / x
        found[i] = x
    return found


def least(run: Callable[[], Any], repeats: int = 300) -> float:
    """The least time of many runs, in us."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        run()
        times.append(time.perf_counter() - start)
    return 1e6 * min(times)


def throughput(waves: bool, repeats: int = 3000) -> None:
    """Whole shots a second, the demo builds in turn, at the default tolerance on all cores; best of five."""
    builds = [bl.demo_build(name).replace({"losses.spring_waves": waves}) for name in bl.demo_builds()]
    rows = np.array([pack.parameters(build.si) for build in builds] * repeats)
    batch.simulate_rows(rows[:10])
    took = least(lambda: batch.simulate_rows(rows), 5)
    speed = 1e6 * len(rows) / took
    whole = 1e6 * len(rows) / least(lambda: bl.simulate_many(builds * repeats), 5)
    roots_and_divisions(10)
    floor = 1e6 * len(rows) / least(lambda: roots_and_divisions(len(rows)), 5)
    print(f"\nsprings {'with waves' if waves else 'that move as one'}")
    print(f"batch of {len(rows)} shots on {numba.get_num_threads()} cores: {speed:.0f} a second")
    print(
        f"from a list of builds: {whole:.0f} a second; 1 000 roots and divisions each: {floor:.0f} a second"
    )
    print("one shot, one core: least of 300, us; steps, tries that failed, evaluations of the port")
    state, record = np.empty(k.STATES), np.empty((0, stepper.COLUMNS))
    for name, row in zip(bl.demo_builds(), rows.tolist(), strict=False):
        p = k.Parameters(*row)
        one = stepper.integrate(p, TOLERANCE, 1.0, state, record)
        took = least(lambda p=p: stepper.integrate(p, TOLERANCE, 1.0, state, record))
        print(f"{name:12s} {took:6.1f} {one.steps:5d} {one.rejected:3d} {one.evaluations:5d}")


def main() -> None:
    """Print the tables."""
    p = pack.parameters(bl.demo_build("workhorse").si)._replace(wave_mass1=0.0)  # a piece has no past
    record, state = np.empty((50_000, stepper.COLUMNS)), np.empty(k.STATES)
    outcome = stepper.integrate(p, 1e-9, 2e-5, state, record)
    rows = record[: outcome.records]
    first = int(np.argmax(rows[:, stepper.AT + k.Y] > 1e-4))
    last = int(np.argmax(rows[:, stepper.AT + k.Y] > p.length - p.dart_length - 0.01))
    start, t0, t1 = rows[first, stepper.AT : stepper.CHAMBER].copy(), rows[first, 0], rows[last, 0]
    mode = np.zeros(6, np.int64)
    mode[:2] = 1
    share = 0.3 * k.spring_work(p, p.stroke)
    mass = share / (k.GAMMA * p.gas_constant / (k.GAMMA - 1.0) * p.ambient_temperature)
    fast = (2.0 * share / 0.3 / p.dart_mass) ** 0.5
    scale = np.array([p.stroke, 10.0, mass, share, p.length, fast, mass, share])
    truth = np.empty(k.STATES)
    implicit(p, mode, start, t0, t1, 1e-10, scale, truth)
    x = np.empty(k.STATES)

    print(f"{'way':<44}{'steps':>7}{'evals':>8}{'error in speed':>16}{'us':>9}{'ratio':>7}")
    base = 0.0
    ways: dict[str, Callable[[], Any]] = {}
    for tolerance in (3e-6, 1e-7):
        ways[f"additive 4(3), port implicit, {tolerance:g}"] = lambda tol=tolerance: implicit(
            p, mode, start, t0, t1, tol, scale, x
        )
    for start_at, tolerance in ((0.999, 1e-6), (0.999, 1e-4), (0.99, 1e-6), (0.97, 1e-6)):
        patch = orifice.patch_from(start_at)
        ways[f"explicit 5(4), straight from {start_at}, {tolerance:g}"] = lambda tol=tolerance, r=patch: (
            explicit(p, mode, start, t0, t1, tol, scale, r, x)
        )
    for name, run in ways.items():
        steps, evaluations = run()
        error = abs(x[k.W] / truth[k.W] - 1.0)
        took = least(run)
        base = base or took
        print(f"{name:<44}{steps:>7}{evaluations:>8}{error:>16.1e}{took:>9.1f}{took / base:>7.2f}")
    throughput(waves=False)
    throughput(waves=True)


if __name__ == "__main__":
    main()
