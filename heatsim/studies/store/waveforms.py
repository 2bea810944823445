# SPDX-License-Identifier: GPL-3.0-or-later
"""The folder of waveforms beside a store: one compressed file a point, there completely or not at all.

Files are written and removed only while the store is locked for writing, in the transaction that writes the row which
says that they are there. So under that lock every file without such a row is left over from an interruption.
"""

from __future__ import annotations

import contextlib
import os
import re
import zipfile
from collections.abc import Collection
from pathlib import Path

from heatsim.errors import InputError
from heatsim.files import make_folder, shown_path
from heatsim.waves import Waveforms

_KEY = r"[0-9A-Za-z][0-9A-Za-z_.-]{0,99}"
_OURS = re.compile(rf"\.?{_KEY}\.(npz|part|unfinished)")


class Shelf:
    """The folder of one store."""

    def __init__(self, store: Path) -> None:
        self.folder = store.with_name(store.name + ".waves")

    def write(self, key: str, waves: Waveforms) -> None:
        """Write waveforms, all of it on disk. Only while the store is locked. OutputError when the disk is full or read-only."""
        waves.save_npz(make_folder(self.folder) / f"{checked_key(key)}.npz", key, compressed=True)
        if os.name != "nt":  # where a folder cannot be opened
            handle = os.open(self.folder, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)

    def discard(self, key: str) -> None:
        """Remove the waveforms of a point, if they are there. Only while the store is locked."""
        with contextlib.suppress(OSError):
            self._path(key).unlink()

    def read(self, key: str) -> Waveforms | None:
        """Waveforms of a point, None when somebody removed the file. InputError when it is damaged."""
        path = self._path(key)
        if not path.exists():
            return None
        try:
            if not zipfile.is_zipfile(path):
                raise ValueError("it is cut short")
            return Waveforms.load_npz(path, key)
        except Exception as error:  # whatever the readers of zip and of arrays say of a damaged file
            raise InputError.single(
                shown_path(path),
                f"waveforms cannot be read ({error})",
                "",
                "remove the file; the point's measures and findings are not in it",
            ) from None

    def tidy(self, kept: Collection[str]) -> None:
        """Remove what interruptions left over. Only while the store is locked."""
        wanted = {self._path(key).name for key in kept}
        for path in self.folder.iterdir() if self.folder.is_dir() else ():
            if _OURS.fullmatch(path.name) and path.name not in wanted:
                with contextlib.suppress(OSError):
                    path.unlink()

    def _path(self, key: str) -> Path:
        return self.folder / f"{checked_key(key)}.npz"


def checked_key(key: str) -> str:
    """The key, which becomes a file name. ValueError when it cannot be one."""
    if not re.fullmatch(_KEY, key):
        raise ValueError(f"{key!r} is not a key of a point: letters, digits, dot, dash and underscore, at most 100")
    return key
