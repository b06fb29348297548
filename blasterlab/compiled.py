"""One switch for compiled code: numba where it is wanted, the plain Python source where it is not.

Functions decorated here take and return floats, tuples and float arrays only, so that the same source runs
either way.  Set the environment variable ``BLASTERLAB_PLAIN=1`` before the import to run without numba
(slower, same numbers).  Leaves out: any physics.
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

#: Held around every call of a parallel function: numba's fall-back threading layer aborts on two at once.
PARALLEL = threading.Lock()
#: True when functions are compiled.
COMPILED = os.environ.get("BLASTERLAB_PLAIN", "") in ("", "0")


def forget_stale(package: Path) -> list[str]:
    """Remove compiled code that is older than any compiled source of its room.

    numba stamps a cached function with its own file only, yet the functions that it calls are built into it:
    after a change of the kernel the stepper's cache would still run the old one.

    Parameters
    ----------
    package : Path [-]
        The package's folder.

    Returns
    -------
    list of str
        The names of the removed files [-].
    """
    gone = []
    for cache in (folder / "__pycache__" for folder in package.iterdir() if folder.is_dir()):
        stored = [path for pattern in ("*.nbi", "*.nbc") for path in cache.glob(pattern)]
        sources = {cache.parent / f"{path.name.split('.')[0]}.py" for path in stored}
        with contextlib.suppress(OSError):  # read-only, or another process was quicker
            newest = max((source.stat().st_mtime for source in sources if source.exists()), default=0.0)
            for path in stored:
                if path.stat().st_mtime < newest:
                    path.unlink(missing_ok=True)
                    gone.append(path.name)
    return gone


if COMPILED:
    import numba
    from numba import prange

    forget_stale(Path(__file__).resolve().parent)

    def compiled(function: Callable[..., Any]) -> Any:
        """Compile a function of floats and arrays, without fast-math, cached on disk, releasing the GIL."""
        return numba.njit(cache=True, nogil=True, error_model="numpy")(function)

    def compiled_inline(function: Callable[..., Any]) -> Any:
        """As `compiled`, and written into its callers: for small functions in the hottest loops [SI]."""
        return numba.njit(cache=True, nogil=True, error_model="numpy", inline="always")(function)

    def compiled_parallel(function: Callable[..., Any]) -> Any:
        """Compile a function whose `prange` loops run on all cores; call it with `PARALLEL` held."""
        return numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")(function)

else:
    prange = range  # type: ignore[misc]

    def compiled(function: Callable[..., Any]) -> Any:
        """Leave the function as it is."""
        return function

    compiled_inline = compiled_parallel = compiled

__all__ = ["COMPILED", "PARALLEL", "compiled", "compiled_inline", "compiled_parallel", "prange"]
