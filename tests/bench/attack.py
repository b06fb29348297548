"""Attack the kit for as long as you like: by hand, fresh seeds, a table of what was tried and what broke.

python tests/bench/attack.py            # ten minutes
python tests/bench/attack.py 60 7       # sixty seconds, seeds from 7 on
"""

from __future__ import annotations

import random
import sys
import time
import traceback
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import attacks


def main() -> None:
    seconds = float(sys.argv[1]) if len(sys.argv) > 1 else 600.0
    first = int(sys.argv[2]) if len(sys.argv) > 2 else random.SystemRandom().randrange(10**6)
    print(f"seeds from {first} on, {seconds:g} s shared evenly among {len(attacks.ATTACKS)} attacks")
    for attack in attacks.ATTACKS:
        until, tried, slowest = time.monotonic() + seconds / len(attacks.ATTACKS), 0, 0.0
        broken: dict[str, int] = {}
        while time.monotonic() < until:
            start, seed = time.perf_counter(), first + tried
            try:
                said = attack(random.Random(seed))
            except Exception:
                said = traceback.format_exc(limit=-2)
            slowest = max(slowest, time.perf_counter() - start)
            tried += 1
            if said:
                broken.setdefault(said[:300] if len(said) < 2000 else said[:200] + said[-100:], seed)
        print(
            f"{attack.__name__:15s} {tried:6d} tried, {len(broken)} ways to break it, slowest {slowest:.2f} s"
        )
        for said, seed in broken.items():
            print(f"    seed {seed}: {said}")


if __name__ == "__main__":
    main()
