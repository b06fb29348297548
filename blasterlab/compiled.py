"""One switch for compiled code: numba where it is wanted, the plain Python source where it is not.

Functions decorated here take and return floats, tuples and float arrays only, so that the same source runs
either way.  Set the environment variable ``BLASTERLAB_PLAIN=1`` before the import to run without numba
(slower, same numbers).  Leaves out: any physics.
"""

from __future__ import annotations

import os
import threading
import warnings
from collections.abc import Callable
from importlib.util import find_spec
from typing import Any

#: Held around every call of a parallel function: numba's fall-back threading layer aborts on two at once.
PARALLEL = threading.Lock()
#: True when functions are compiled; without numba the same source runs as plain Python.
_WANTED = os.environ.get("BLASTERLAB_PLAIN", "") in ("", "0")
COMPILED = _WANTED and find_spec("numba") is not None
if _WANTED and not COMPILED:
    warnings.warn("numba is not installed: the same numbers, a few hundred times slower", stacklevel=2)

if COMPILED:
    from numba import njit
    from numba import prange as prange

    from blasterlab.compile_cache import keep

    _OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy", "_nrt": True}
    _BARE = _OPTIONS | {"_nrt": False}

    def compiled(function: Callable[..., Any]) -> Any:
        """Compile a function of floats and arrays, without fast-math, kept on disk, releasing the GIL."""
        return keep(njit(**_OPTIONS)(function), function)

    def compiled_bare(function: Callable[..., Any]) -> Any:
        """As `compiled` [SI], for a function that makes no array: numba need not count references to any.

        The counts are atomic and took a quarter of a shot.  The option has no public name; without it numba
        compiles the same numbers, slower.
        """
        return keep(njit(**_BARE)(function), function)

    def compiled_inline(function: Callable[..., Any]) -> Any:
        """As `compiled_bare`, and written into its callers: for small functions in the hottest loops [SI]."""
        return keep(njit(**_BARE, inline="always")(function), function)

    def compiled_parallel(function: Callable[..., Any]) -> Any:
        """Compile a function whose `prange` loops run on all cores; call it with `PARALLEL` held."""
        return keep(njit(**_OPTIONS, parallel=True)(function), function)

else:
    prange = range  # type: ignore[misc]

    def compiled(function: Callable[..., Any]) -> Any:
        """Leave the function as it is."""
        return function

    compiled_bare = compiled_inline = compiled_parallel = compiled


def _generated(source: str, kind: type) -> Callable[..., Any]:
    """The function `made` of a source that names `kind`, compiled where all are; for the two below."""
    names: dict[str, Any] = {"kind": kind}
    exec(source, names)
    function: Callable[..., Any] = names["made"]
    return njit(nogil=True)(function) if COMPILED else function


def from_row(kind: Any) -> Callable[..., Any]:
    """A function from a row of floats to a named tuple, a column a field [SI]."""
    places = ", ".join(f"row[{place}]" for place in range(len(kind._fields)))
    return _generated(f"def made(row):\n    return kind({places})", kind)


def into_row(kind: Any) -> Callable[..., Any]:
    """A function that writes a named tuple into a row of floats, a column a field [SI]."""
    lines = "".join(f"\n    row[{place}] = value.{name}" for place, name in enumerate(kind._fields))
    return _generated(f"def made(value, row):{lines}", kind)
