# SPDX-License-Identifier: GPL-3.0-or-later
"""What `match` has simulated before, kept in the user's cache folder: a second capture of a heater need not wait for its atlas
again, nor a run that was killed half way.

An answer is found again under a hash of all it depends on: heatsim's own files, the simulator's and the libraries' versions, and
the heater with everything asked of it. Answers are pickles, as between our processes; only files that are the user's own are
read. Whatever is missing, damaged or cannot be written costs time, nothing else.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import pickle
import platform
import stat
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import scipy

import heatsim

LARGEST = 300_000_000
"""Bytes kept; those used longest ago go first."""

SUFFIX = ".kept"


def user_folder() -> Path | None:
    """`heatsim/match` in the user's cache folder (XDG Base Directory Specification 0.8: XDG_CACHE_HOME if it is an absolute path,
    else ~/.cache); None for a user without a home."""
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    try:
        return (named if named.is_absolute() else Path.home() / ".cache") / "heatsim" / "match"
    except RuntimeError:
        return None


@cache
def _own_files() -> bytes:
    """Hash of all of heatsim's own files."""
    digest, top = hashlib.sha256(), Path(heatsim.__file__).parent
    for path in sorted(top.rglob("*")):
        if path.is_file() and path.suffix != ".pyc":
            digest.update(f"{path.relative_to(top)}\0".encode() + hashlib.sha256(path.read_bytes()).digest())
    return digest.digest()


class Kept:
    """Answers in a folder. simulator: its version."""

    def __init__(self, folder: Path, simulator: str) -> None:
        self.folder = folder
        self._about = _own_files(), simulator, np.__version__, scipy.__version__, platform.python_version(), platform.machine()

    def place(self, asked: Any) -> Path:
        """Where the answer to what is asked is kept."""
        return self.folder / (hashlib.sha256(pickle.dumps((self._about, asked), protocol=5)).hexdigest()[:40] + SUFFIX)

    def get(self, asked: Any) -> Any:
        """The answer, None when it is not there."""
        path = self.place(asked)
        try:
            with path.open("rb") as handle:
                status = os.fstat(handle.fileno())
                if status.st_uid != os.getuid() or status.st_mode & (stat.S_IWGRP | stat.S_IWOTH):
                    return None
                answer = pickle.load(handle)
            os.utime(path)
        except FileNotFoundError:
            return None
        except Exception:  # a damaged pickle raises anything
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        return answer

    def put(self, asked: Any, answer: Any) -> None:
        """Keep an answer; other processes see it whole or not at all."""
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=self.folder)
            try:
                with os.fdopen(handle, "wb") as stream:
                    pickle.dump(answer, stream, protocol=5)
                os.replace(name, self.place(asked))
            except BaseException:
                os.unlink(name)
                raise
            self._trim()
        except OSError:
            return

    def _trim(self) -> None:
        """Delete what was used longest ago, beyond `LARGEST`, and what a killed process left half written."""
        found = sorted(((path.stat(), path) for path in self.folder.iterdir()), key=lambda each: -each[0].st_mtime)
        total = 0
        for status, path in found:
            total += status.st_size
            stale = path.suffix != SUFFIX and status.st_mtime < found[0][0].st_mtime - 3600
            if total > LARGEST or stale:
                path.unlink(missing_ok=True)
