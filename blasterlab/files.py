"""Files: written whole or not at all.

What it is for: the one way in which the kit saves anything.  A full disk, a kill or a power cut leaves the
old file; what a killed save left behind is cleared away by the next one.  What it leaves out: reading, and
what stands in the file, so any units.
"""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import stat
import time
from pathlib import Path
from typing import BinaryIO

try:
    import fcntl
except ImportError:  # Windows has no such locks; an open file cannot be removed there
    fcntl = None  # type: ignore[assignment]

_PREFIX = ".blasterlab-unfinished-"
_OURS = re.compile(re.escape(_PREFIX) + "[0-9a-f]{16}")
#: Seconds after which an unfinished file is litter where no lock can tell: a choice of the kit.
_SURELY_LEFT = 3600.0


def write_whole(path: str | os.PathLike[str], text: str) -> None:
    """Write a text to a file, whole or not at all.

    Parameters
    ----------
    path : str or path [-]
        The file.  An older one is replaced only once the new one is complete on the disk, and keeps its
        permissions; a new one gets those of the umask.  Through a symbolic link the file that it points to is
        written.
    text : str [-]
        What to write, in UTF-8, its line ends as they are.

    Raises
    ------
    OSError
        A file that cannot be written, or a path that is no ordinary file; an old file is then still there.
    """
    data = text.encode("utf-8")
    target = Path(os.path.realpath(path))
    mode = None
    with contextlib.suppress(FileNotFoundError):
        mode = target.stat().st_mode
    if mode is not None and not stat.S_ISREG(mode):
        raise OSError(f"{path}: this is a folder or a device, not an ordinary file; try another name")
    _clear(target.parent)
    name, file = _unfinished(target.parent)
    try:
        with file:
            if mode is not None:
                name.chmod(stat.S_IMODE(mode))
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            if fcntl is None:
                file.close()  # Windows moves no open file
            os.replace(name, target)
    except BaseException:
        name.unlink(missing_ok=True)
        raise


def _unfinished(folder: Path) -> tuple[Path, BinaryIO]:
    """A new hidden file beside the target, locked for as long as its writer lives."""
    while True:
        name = folder / f"{_PREFIX}{secrets.token_hex(8)}"
        file = name.open("xb")
        _lock(file, wait=True)
        if name.exists():
            return name, file
        file.close()  # cleared by another process before it was locked


def _lock(file: BinaryIO, wait: bool = False) -> bool | None:
    """Take the lock of an unfinished file: False when its writer has it, None where there are no locks."""
    try:
        fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        return False
    except (AttributeError, OSError):
        return None
    return True


def _clear(folder: Path) -> None:
    """Remove unfinished files whose writer is gone; whatever cannot be removed stays."""
    with contextlib.suppress(OSError):
        for name in folder.glob(f"{_PREFIX}*"):
            if _OURS.fullmatch(name.name) and name.is_file() and not name.is_symlink():
                with contextlib.suppress(OSError):
                    _clear_one(name)


def _clear_one(name: Path) -> None:
    with name.open("rb") as file:
        free = _lock(file)
        if free:
            name.unlink()  # while it is locked: its writer, if it only just began, sees that it is gone
    if free is None and time.time() - name.stat().st_mtime > _SURELY_LEFT:
        name.unlink()
