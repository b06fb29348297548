"""What starting and shooting costs: import, first shot in a fresh process, one shot, against solve_ivp.

Use: ``python tests/bench/bench_start.py``; prints a table beside what is wanted, asserts nothing.  Fresh
processes start with warm file and compile caches: each is run once before it is timed.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

IMPORT = "import blasterlab"
#: Every name of the front door, which loads every room but figures and panels.
ROOMS = "import blasterlab; [getattr(blasterlab, name) for name in blasterlab.__all__]"
SHOT = 'import blasterlab as bl; bl.simulate(bl.demo_build("workhorse")).muzzle_velocity'
#: What numba itself needs for a function that is compiled and cached already, without this kit.
NUMBA = "import numba\n@numba.njit(cache=True)\ndef f(x): return x + 1.0\nf(1.0)"
PANEL = (
    'import blasterlab as bl; from blasterlab import panels; panels.barrel_panel(bl.demo_build("workhorse"))'
)


def process(code: str, runs: int = 9) -> str:
    """Median wall time from the start of a fresh process to its result, less that of an empty one [s].

    What a process does to end itself, a quarter of a second with numba, is not part of an answer.
    """

    def once(text: str) -> tuple[float, float]:
        start = time.perf_counter()
        with subprocess.Popen(
            [sys.executable, "-c", f"{text}\nimport time; print(time.process_time(), flush=True)"],
            stdout=subprocess.PIPE, text=True, cwd=ROOT,
        ) as child:  # fmt: skip
            assert child.stdout
            used = float(child.stdout.readline())
            return time.perf_counter() - start, used

    once(code)
    pairs = [(once(code), once("pass")) for _ in range(runs)]
    wall, used = (statistics.median(full[n] - empty[n] for full, empty in pairs) for n in (0, 1))
    return f"{wall:.2f} s ({used:.2f} s)"


def process_file(code: str) -> str:
    """`process` of code that must be a file, since numba caches no function that is typed in."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "trivial.py").write_text(code, encoding="utf-8")
        return process(f"import sys; sys.path.insert(0, {folder!r}); import trivial")


def call(function: Callable[[], object], runs: int) -> float:
    """Median time of a call, after one that is not counted [s]."""
    function()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def row(what: str, measured: str, wanted: str) -> None:
    print(f"{what:<68} {measured:>16} {wanted:>14}", flush=True)


def main() -> None:
    from other_model import shoot

    import blasterlab as bl
    from blasterlab.shot.from_build import parameters

    build = bl.demo_build("workhorse")
    row("what (processor time in brackets)", "median", "wanted")
    row("import of the package, fresh process", process(IMPORT), "< 1.0 s")
    row("the same with every public name loaded", process(ROOMS), "")
    row("first shot, fresh process, warm compile cache", process(SHOT), "< 1.5 s")
    row("  numba alone: its import and one trivial cached function", process_file(NUMBA), "")
    row("barrel panel with its first pictures, fresh process", process(PANEL), "")
    shot = call(lambda: bl.simulate(build), 300)
    row("one shot, by its public name", f"{1e3 * shot:.3f} ms", "< 1 ms")
    sweep = call(lambda: bl.barrel_sweep(build, start="5 cm", stop="60 cm"), 50)
    row("one barrel sweep", f"{1e3 * sweep:.2f} ms", "")
    many = call(lambda: bl.simulate_many([build] * 500), 5) / 500
    row("one shot of 500 at once", f"{1e3 * many:.3f} ms", "")
    for method, rtol in [("RK45", 1e-6), ("DOP853", 1e-6), ("DOP853", 1e-10)]:
        plain = call(lambda method=method, rtol=rtol: shoot(parameters(build.si), method, rtol), 2)
        name = f"solve_ivp {method} at {rtol:g} on the same equations in plain Python"
        row(name, f"{plain:.2f} s", f"{plain / shot:.0f} x a shot")


if __name__ == "__main__":
    main()
