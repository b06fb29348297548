"""What a search costs: wall and processor time and memory; prints a table, asserts nothing.

Use: ``python tests/bench/bench_search.py [candidates]``; some hundred thousand where nothing is said.  The
stock is the invented demo stock, with as many cuts of springs and barrels as it takes.
"""

from __future__ import annotations

import os
import sys
import time

import numpy as np

import blasterlab as bl
from blasterlab.plan.options import options
from blasterlab.plan.search import plan_build
from blasterlab.plan.stock import demo_stock
from blasterlab.plan.wants import Wants


def memory() -> str:
    """The largest memory of this process so far [MB]; a dash where the system does not tell."""
    if sys.platform == "win32":
        return "-"
    import resource

    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return f"{most / (1024.0 if sys.platform != 'darwin' else 1024.0**2):.0f}"


def main(least: int) -> None:
    build, stock = bl.demo_build("workhorse"), demo_stock()
    lengths = [f"{length} mm" for length in range(100, 420, 20)]
    wants = {
        "usual limits": Wants(least="40 m/s", velocity_cap="60 m/s", prime_force="100 N", price="40 EUR"),
        "wide limits": Wants(least="30 m/s", velocity_cap="70 m/s", prime_force="120 N", price="60 EUR"),
    }
    coils = [0.0]
    while (
        np.prod([len(each) for each in options(stock, wants["wide limits"], build, coils, lengths)]) < least
    ):
        coils.append(coils[-1] + 0.5)
    plan_build(stock, wants["wide limits"], build, coils=[0.0], lengths=lengths[:2])  # what is compiled once
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f} before: other work adds to the times")
    print(f"{'wants':<14} {'candidates':>10} {'meet all':>9} {'wall, s':>8} {'CPU, s':>7} {'memory, MB':>11}")
    for name, limits in wants.items():
        wall, cpu = time.perf_counter(), time.process_time()
        plan = plan_build(stock, limits, build, coils=coils, lengths=lengths)
        wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
        met = len(plan.table)
        print(
            f"{name:<14} {len(plan.reason):>10} {met:>9} {wall:>8.1f} {cpu:>7.1f} {memory():>11}", flush=True
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100_000)
