"""Many shots in chunks: here, or by the workers of any executor, the same numbers to the last digit.

What it is for: runs of some hundred thousand shots, told as they go on, and kept where they are
stopped.  What it leaves out: which shots (``search``).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from contextlib import suppress
from typing import Any

import numpy as np
import numpy.typing as npt

from blasterlab.checks.finding import SEVERITIES
from blasterlab.checks.fit import LOOSE_WARNS, loose_gap
from blasterlab.shot import from_build
from blasterlab.shot.integrate import TOLERANCE
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


def loose_darts(
    si: Mapping[str, Any], speed: Floats, which: npt.NDArray[np.intp], executor: Executor | None
) -> Floats:
    """How grave the finding on a loose dart is, for many builds at once, as `check_loose_dart` has it.

    Parameters
    ----------
    si : mapping of str to float or ndarray [SI]
        As `Build.si`, with arrays of one length for what varies.
    speed : ndarray, shape (n,) [m/s]
        Muzzle velocities with the losses as told.
    which : ndarray of int [-]
        The builds that are asked.
    executor : concurrent.futures.Executor or None [-]
        As for `shoot`.

    Returns
    -------
    ndarray, shape of `which` [-]
        Places in `SEVERITIES`; not a number where an interrupt came first.
    """
    gap = np.broadcast_to(loose_gap(si), speed.shape)[which]
    asked, grave = which[gap > 0.0], np.zeros(len(which))
    some = {name: v[asked] if isinstance(v, np.ndarray) else v for name, v in si.items()}
    rows = from_build.rows(some | {"losses.blowby_area": gap[gap > 0.0]}, len(asked))
    loose = shoot(rows, TOLERANCE, executor)
    worse = np.where(loose < LOOSE_WARNS * speed[asked], *map(SEVERITIES.index, ("warning", "caution")))
    grave[gap > 0.0] = np.where(np.isnan(loose), np.nan, worse)
    return grave
