"""Many shots in chunks: here, or by the workers of any executor, the same numbers to the last digit.

What it is for: runs of some hundred thousand shots, told as they go on, and kept where they are
stopped.  What it leaves out: which shots (``search``).
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from contextlib import suppress

import numpy as np

from blasterlab.shot.many import CHUNK, simulate_rows
from blasterlab.shot.parameters import Floats

Progress = Callable[[int, int], None]


def speeds_of(rows: Floats, tolerance: float) -> Floats:
    """Muzzle velocities of rows of `Parameters`, 0 where a dart stays in, NaN where not shot [m/s]."""
    many = simulate_rows(rows, tolerance)
    found = np.array(many.muzzle_velocity.m_as("m/s"))
    if not many.complete:
        found[[status == "not run" for status in many.status]] = np.nan
    return found


def shoot(
    rows: Floats, tolerance: float, executor: Executor | None = None, progress: Progress | None = None
) -> Floats:
    """Muzzle velocities of many shots.

    Parameters
    ----------
    rows : ndarray, shape (n, parameters) [SI]
        As for ``simulate_rows``.
    tolerance : float [-]
        As in ``simulate``.
    executor : concurrent.futures.Executor or None [-]
        Who shoots the chunks; None shoots here.  A chunk that an executor loses, with a worker that was
        killed, is shot here.
    progress : callable or None [-]
        Called with the number done and the number of all after each chunk.

    Returns
    -------
    ndarray, shape (n,)
        Speeds; not a number behind the place where a keyboard interrupt came [m/s].
    """
    found = np.full(len(rows), np.nan)
    chunks = [slice(first, first + CHUNK) for first in range(0, len(rows), CHUNK)]
    sent = [executor.submit(speeds_of, rows[chunk], tolerance) for chunk in chunks] if executor else []
    try:
        for place, chunk in enumerate(chunks):
            if sent:
                with suppress(Exception):  # an error of the shots themselves comes again below
                    found[chunk] = sent[place].result()
            if np.isnan(found[chunk]).any():
                found[chunk] = speeds_of(rows[chunk], tolerance)
            if np.isnan(found[chunk]).any():
                break
            if progress is not None:
                progress(min(chunk.stop, len(rows)), len(rows))
    except KeyboardInterrupt:
        pass
    for future in sent:
        future.cancel()
    return found
