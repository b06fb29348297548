"""Where compiled code is kept between sessions, so that an old equation never runs in place of a changed one.

What it is for: a folder named by a hash of every compiled source and every constant built into it, by
numba's version and by Python's.  A changed source has another folder, whatever the time stamps say, and
wherever the folder stands: in `NUMBA_CACHE_DIR` if that is set, else beside the package, in the user's
folder for caches, or in a private temporary one.  A cache that cannot be written or read costs time, never
an answer.  What it leaves out: the compiling itself (``compiled``), so any units.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import shutil
import stat
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path
from typing import Any

import numba
from numba.core.caching import CompileResultCacheImpl, FunctionCache
from numba.misc.appdirs import AppDirs

_PACKAGE = Path(__file__).resolve().parent
#: A module with compiled functions, and what a module imports at its top; tests compare it with the syntax.
_CORE = b"\n@compiled"
_IMPORT = re.compile(rb"^(?:from|import) blasterlab\.?([\w.]*)(?: import (\([^)]*\)|.*))?", re.MULTILINE)


def sources(package: Path) -> dict[Path, bytes]:
    """Every source that compiled code is made of: modules with compiled functions, and what they import.

    Parameters
    ----------
    package : Path [-]
        The package's folder.

    Returns
    -------
    dict of Path to bytes
        Contents by file, sorted [-].
    """
    every = {path: path.read_bytes() for path in package.rglob("*.py")}
    found: dict[Path, bytes] = {}
    waiting = [path for path, text in every.items() if _CORE in text]
    while waiting:
        path = waiting.pop()
        if path in every and path not in found:
            found[path] = every[path]
            waiting += _imported(package, every[path])
    return dict(sorted(found.items()))


def _imported(package: Path, text: bytes) -> Iterator[Path]:
    for module, names in _IMPORT.findall(text):
        base = package.joinpath(*module.decode().split("."))
        yield from (base.with_suffix(".py"), base / "__init__.py")
        yield from (base / f"{name}.py" for name in re.findall(r"\w+", names.decode()))


def _hash(package: Path, texts: dict[Path, bytes]) -> str:
    digest = hashlib.sha256()
    for path, text in texts.items():
        digest.update(f"{path.relative_to(package).as_posix()} {len(text)}\n".encode() + text)
    return digest.hexdigest()[:16]


def _parents() -> Iterator[Path]:
    """Where the folder may stand, the best first; outside of the package each copy of it has its own."""
    own = f"blasterlab-{hashlib.sha256(str(_PACKAGE).encode()).hexdigest()[:8]}"
    if chosen := vars(numba.config).get("CACHE_DIR"):
        yield Path(chosen) / own
    yield _PACKAGE / "__pycache__"
    if (
        home := Path(AppDirs("blasterlab", False).user_cache_dir)
    ).is_absolute():  # "~" where nobody has a home
        yield home / own
    with contextlib.suppress(OSError):
        private = Path(tempfile.gettempdir()) / f"{own}-{getattr(os, 'getuid', int)()}"
        private.mkdir(mode=0o700, exist_ok=True)
        state = private.lstat()  # what another user could write there would be run
        if os.name == "nt" or (state.st_uid == os.getuid() and state.st_mode == stat.S_IFDIR | 0o700):
            yield private


def _find_folder(key: str) -> Path | None:
    """The folder for code of these sources, made if it is new; folders of older sources beside it go."""
    same = f"compiled-py{sys.version_info[0]}{sys.version_info[1]}-numba{numba.__version__}-"
    for parent in _parents():
        folder = parent / f"{same}{key}"
        with contextlib.suppress(OSError):
            if not folder.is_dir():
                folder.mkdir(parents=True, exist_ok=True)
                for old in parent.glob(f"{same}*"):
                    if old != folder:
                        shutil.rmtree(old, ignore_errors=True)
            if os.access(folder, os.W_OK | os.X_OK):
                return folder
    return None


def _stamp(path: Path) -> tuple[int, int] | None:
    with contextlib.suppress(OSError):
        return path.stat().st_size, path.stat().st_mtime_ns
    return None


class _Place:
    """What numba asks about the place of one function's code."""

    def __init__(self, path: str) -> None:
        self._py_file = path  # numba names it in a warning

    def get_cache_path(self) -> str:
        return str(FOLDER)

    def ensure_cache_path(self) -> None:
        os.makedirs(str(FOLDER), exist_ok=True)

    def get_source_stamp(self) -> str:
        return KEY


class _Names(CompileResultCacheImpl):
    def __init__(self, function: Callable[..., Any]) -> None:
        code = function.__code__
        self._lineno, self._locator = code.co_firstlineno, _Place(code.co_filename)
        self._filename_base = f"{function.__module__}.{function.__qualname__}-{self._lineno}"


class _Cache(FunctionCache):
    """numba's cache of one function; whatever fails in it costs a compilation and no more."""

    _impl_class = _Names

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        try:
            return super().load_overload(sig, target_context)
        except Exception:  # a file cut short gives errors of many types
            shutil.rmtree(str(FOLDER), ignore_errors=True)
            return None

    def save_overload(self, sig: Any, data: Any) -> None:
        with contextlib.suppress(Exception):  # a full disk, a folder that is gone
            super().save_overload(sig, data)


@cache
def _as_hashed(_: str) -> bool:
    """Whether all sources are still those that were hashed, asked once a module as it is loaded."""
    return all(_stamp(path) == stamp for path, stamp in _STAMPS.items())


def keep(dispatcher: Any, function: Callable[..., Any]) -> Any:
    """Let a compiled function keep its code on the disk.

    Parameters
    ----------
    dispatcher : numba dispatcher [-]
        The compiled function.
    function : function [-]
        Its Python source.

    Returns
    -------
    dispatcher
        The same [-].
    """
    if FOLDER is not None and _as_hashed(function.__code__.co_filename):
        dispatcher._cache = _Cache(function)
    return dispatcher


_STAMPS = {path: _stamp(path) for path in _PACKAGE.rglob("*.py")}
_TEXTS = sources(_PACKAGE)
_STAMPS = {path: _STAMPS.get(path) for path in _TEXTS}
#: The hash of all compiled sources, and the folder where their code is kept; None where nothing can be kept.
KEY = _hash(_PACKAGE, _TEXTS)
FOLDER = _find_folder(KEY)
