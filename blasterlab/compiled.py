"""One switch for compiled code: numba where it is wanted, the plain Python source where it is not.

Functions decorated here take and return floats, tuples and float arrays only, so that the same source runs
either way.  Set the environment variable ``BLASTERLAB_PLAIN=1`` before the import to run without numba
(slower, same numbers).  Leaves out: any physics.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable
from typing import Any

#: Held around every call of a parallel function: numba's fall-back threading layer aborts on two at once.
PARALLEL = threading.Lock()
#: True when functions are compiled.
COMPILED = os.environ.get("BLASTERLAB_PLAIN", "") in ("", "0")

if COMPILED:
    import numba
    from numba import prange

    def compiled(function: Callable[..., Any]) -> Any:
        """Compile a function of floats and arrays, without fast-math, cached on disk, releasing the GIL."""
        return numba.njit(cache=True, nogil=True, error_model="numpy")(function)

    def compiled_parallel(function: Callable[..., Any]) -> Any:
        """Compile a function whose `prange` loops run on all cores; call it with `PARALLEL` held."""
        return numba.njit(cache=True, nogil=True, parallel=True, error_model="numpy")(function)

else:
    prange = range

    def compiled(function: Callable[..., Any]) -> Any:
        """Leave the function as it is."""
        return function

    compiled_parallel = compiled

__all__ = ["COMPILED", "PARALLEL", "compiled", "compiled_parallel", "prange"]
