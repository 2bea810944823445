# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of waveforms beside a store: one compressed file a point, there completely or not at all.

A file is written under another name, forced to disk, and renamed while the store is locked for writing, together with
the row that says it is there. So under that lock every file without such a row is left over from an interruption.
"""

from __future__ import annotations

import contextlib
import os
import re
import time
import uuid
import zipfile
from collections.abc import Collection
from pathlib import Path

from heatsim.errors import InputError
from heatsim.waves import Waveforms

UNFINISHED = ".unfinished"
"""Ending of a file that is being written."""

ABANDONED = 3600.0
"""Seconds after which a file that is being written is not any more."""

_KEY = re.compile(r"[0-9A-Za-z][0-9A-Za-z_.-]{0,99}")


class Shelf:
    """The folder of one store."""

    def __init__(self, store: Path) -> None:
        self.folder = store.with_name(store.name + ".waves")

    def write(self, key: str, waves: Waveforms) -> Path:
        """Write waveforms under an unfinished name, all of it on disk. InputError when the disk is full or read-only."""
        path = self.folder / f"{key}.{uuid.uuid4().hex[:8]}{UNFINISHED}"
        try:
            self.folder.mkdir(exist_ok=True)
            waves.save_npz(path)
            _sync(path)
        except OSError as error:
            self.discard(path)
            raise InputError.single(
                str(self.folder),
                f"waveforms cannot be written ({error.strerror})",
                "",
                "make room or allow writing there, then run the same command again: finished points are kept",
            ) from None
        except BaseException:
            self.discard(path)
            raise
        return path

    def finish(self, key: str, unfinished: Path) -> None:
        """Give a written file its name. Only while the store is locked."""
        os.replace(unfinished, self._path(key))
        _sync(self.folder)

    def discard(self, path: Path) -> None:
        """Remove a file, if it is there."""
        for left in (path, path.with_name(path.name + ".part")):
            with contextlib.suppress(OSError):
                left.unlink()

    def read(self, key: str) -> Waveforms | None:
        """Waveforms of a point, None when somebody removed the file. InputError when it is damaged."""
        path = self._path(key)
        if not path.exists():
            return None
        try:
            if not zipfile.is_zipfile(path):
                raise ValueError("it is cut short")
            return Waveforms.load_npz(path)
        except Exception as error:  # whatever the readers of zip and of arrays say of a damaged file
            raise InputError.single(
                str(path),
                f"waveforms cannot be read ({error})",
                "",
                "remove the file; the point's measures and findings are not in it",
            ) from None

    def tidy(self, kept: Collection[str]) -> int:
        """Remove what interruptions left over; only while the store is locked. Returns how many files."""
        if not self.folder.is_dir():
            return 0
        wanted = {self._path(key).name for key in kept}
        left = [path for path in self.folder.iterdir() if _ours(path) and path.name not in wanted and not _fresh(path)]
        for path in left:
            self.discard(path)
        return len(left)

    def _path(self, key: str) -> Path:
        return self.folder / f"{checked_key(key)}.npz"


def checked_key(key: str) -> str:
    """The key, which becomes a file name. ValueError when it cannot be one."""
    if not _KEY.fullmatch(key):
        raise ValueError(f"{key!r} is not a key of a point: letters, digits, dot, dash and underscore, at most 100")
    return key


def _ours(path: Path) -> bool:
    return path.name.endswith((".npz", UNFINISHED, UNFINISHED + ".part"))


def _fresh(path: Path) -> bool:
    """Whether a file may be being written by somebody who has not locked the store yet."""
    try:
        return path.suffix != ".npz" and time.time() - path.stat().st_mtime < ABANDONED
    except OSError:
        return True


def _sync(path: Path) -> None:
    """Force a file, or the names in a folder, to disk; where a folder cannot be opened the system does without."""
    if os.name == "nt" and path.is_dir():
        return
    handle = os.open(path, os.O_RDONLY if path.is_dir() else os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


__all__ = ["Shelf", "checked_key"]
