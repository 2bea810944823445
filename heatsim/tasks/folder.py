# SPDX-License-Identifier: GPL-3.0-or-later
"""The temporary folder of a pool: removed when the pool closes, or by the next pool when its process was killed.

A folder carries its process's number in its name and a file that the process keeps locked. One whose process is gone
and whose lock is free belongs to nobody any more. The lock holds where numbers mislead, as between containers that
share a folder for temporary files.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import stat
import tempfile
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows, where nothing is cleared away
    fcntl = None  # type: ignore[assignment]

PREFIX = "heatsim-pool-"
LOCK = "in-use"


class Folder:
    """A new folder, locked until `close`."""

    def __init__(self) -> None:
        clear_away(Path(tempfile.gettempdir()))
        self.path = Path(tempfile.mkdtemp(prefix=f"{PREFIX}{os.getpid()}-"))
        self._lock = os.open(self.path / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        if fcntl is not None:
            fcntl.flock(self._lock, fcntl.LOCK_EX)

    def close(self) -> None:
        """Remove it."""
        shutil.rmtree(self.path, ignore_errors=True)
        with contextlib.suppress(OSError):
            os.close(self._lock)


def clear_away(where: Path) -> None:
    """Remove folders of pools whose process was killed; folders of other users, links and anything else stay.

    where: folder for temporary files
    """
    for path in where.glob(f"{PREFIX}*-*") if fcntl is not None else ():
        with contextlib.suppress(OSError):
            if _abandoned(path):
                shutil.rmtree(path, ignore_errors=True)


def _abandoned(path: Path) -> bool:
    status, name = path.lstat(), re.fullmatch(rf"{PREFIX}(\d+)-\w+", path.name)
    if name is None or not stat.S_ISDIR(status.st_mode) or status.st_uid != os.getuid() or _alive(int(name[1])):
        return False
    lock = os.open(path / LOCK, os.O_RDWR | os.O_CLOEXEC | os.O_NOFOLLOW)
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    finally:
        os.close(lock)
    return True


def _alive(process: int) -> bool:
    """Whether there is a process of this number, of whatever user."""
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True
