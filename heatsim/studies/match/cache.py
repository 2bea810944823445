# SPDX-License-Identifier: GPL-3.0-or-later
"""What `match` has simulated before, in the user's cache folder: a second capture of a heater need not wait for its response
library again, nor a run that was killed half way.

An answer is found again under a hash of all it depends on: heatsim's own files and its model library, the versions of the
simulator and of the numerical libraries, and the heater with everything asked of it. Answers are arrays and JSON, nothing that
could run. Only the user's own files are read and deleted, in a folder that nobody else may write. Whatever is missing, damaged or
cannot be written costs time, nothing else.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import platform
import re
import stat
import time
from collections.abc import Mapping
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import scipy

from heatsim.engine.shooting import InitialGuess
from heatsim.errors import OutputError
from heatsim.files import replacing
from heatsim.identity import code_hash
from heatsim.netlist.deck import State
from heatsim.parts.heater import Heater
from heatsim.studies.match.faults import fault_models
from heatsim.studies.match.response_library import heater_at
from heatsim.studies.match.solver import Solution
from heatsim.waves import Waveforms

LARGEST = 300_000_000
"""Bytes kept; those used longest ago go first."""

SUFFIX = ".npz"
OWN = re.compile(r"[0-9a-f]{40}\.npz")
FORMER = re.compile(r"[0-9a-f]{40}\.kept")
"""Names of answers, and of those that earlier versions left."""

HALF_WRITTEN = re.compile(r"\.[0-9a-f]{40}\.npz\.\w+\.part")
STALE = 3600.0
"""Age [s] from which a half-written file is that of a process that was killed."""

CLASSES: dict[str, Any] = {each.__name__: each for each in (Solution, InitialGuess, State, Waveforms)}
"""Classes that an answer may hold. A solution's heater is not kept: it follows from the question."""


def user_folder() -> Path | None:
    """`heatsim/match` in the user's cache folder (XDG Base Directory Specification 0.8: XDG_CACHE_HOME if it is an absolute path,
    else ~/.cache); None for a user without a home."""
    named = Path(os.environ.get("XDG_CACHE_HOME", ""))
    try:
        return (named if named.is_absolute() else Path.home() / ".cache") / "heatsim" / "match"
    except RuntimeError:
        return None


class AnswerCache:
    """Answers in a folder. simulator: its version."""

    def __init__(self, folder: Path, simulator: str) -> None:
        self.folder = folder
        self._about = [code_hash(), simulator, np.__version__, scipy.__version__, platform.machine()]
        self._trimmed = False

    def place(self, asked: Any) -> Path:
        """Where the answer to what is asked is kept."""
        arrays: list[Any] = []
        text = json.dumps([self._about, _encoded(asked, arrays)], sort_keys=True)
        digest = hashlib.sha256(text.encode())
        for each in arrays:
            digest.update(f"{each.dtype}{each.shape}".encode() + each.tobytes())
        return self.folder / (digest.hexdigest()[:40] + SUFFIX)

    def get(self, asked: Any) -> Any:
        """The answer, None when it is not there."""
        path = self.place(asked)
        try:
            data = self._read(path)
            if data is None:
                return None
            with np.load(io.BytesIO(data), allow_pickle=False) as file:
                skeleton = json.loads(file["skeleton"].tobytes())
                answer = _with_heaters(asked, _decoded(skeleton, [file[str(k)] for k in range(len(file.files) - 1)]))
            os.utime(path)
        except Exception:  # a damaged file raises anything
            with contextlib.suppress(OSError):
                path.unlink()
            return None
        return answer

    def _read(self, path: Path) -> bytes | None:
        """The user's own file, None when it is missing or might be somebody else's; links are not followed."""
        if not self._private():
            return None
        try:
            handle = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
        except OSError:
            return None
        with open(handle, "rb") as stream:
            return stream.read(LARGEST) if _own(os.fstat(handle), stat.S_ISREG) else None

    def _private(self) -> bool:
        """Whether the folder is a real one, the user's own, and nobody else may write it."""
        try:
            return _own(self.folder.lstat(), stat.S_ISDIR)
        except OSError:
            return False

    def put(self, asked: Any, answer: Any) -> None:
        """Keep an answer; other processes see it whole or not at all."""
        arrays: list[Any] = []
        skeleton = json.dumps(_encoded(answer, arrays)).encode()
        try:
            self.folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            if not self._private():
                return
            if not self._trimmed:
                self._trimmed = True
                self._trim()
            with replacing(self.place(asked), private=True) as stream:
                named = {str(k): each for k, each in enumerate(arrays)}
                np.savez(stream, skeleton=np.frombuffer(skeleton, dtype=np.uint8), **named)
        except (OSError, OutputError):
            return

    def _trim(self) -> None:
        """Delete answers used longest ago, beyond `LARGEST`, those of earlier versions, and what killed processes left."""
        kept = []
        for entry in os.scandir(self.folder):
            status = entry.stat(follow_symlinks=False)
            if not _own(status, stat.S_ISREG):
                continue
            if OWN.fullmatch(entry.name):
                kept.append((status.st_mtime, status.st_size, entry.path))
            elif FORMER.fullmatch(entry.name) or (HALF_WRITTEN.fullmatch(entry.name) and status.st_mtime < time.time() - STALE):
                os.unlink(entry.path)
        total = 0
        for _, size, path in sorted(kept, reverse=True):
            total += size
            if total > LARGEST:
                os.unlink(path)


def _own(status: os.stat_result, sort: Any) -> bool:
    """Whether a file of a sort is the user's and nobody else may write it."""
    return bool(sort(status.st_mode)) and status.st_uid == os.getuid() and not status.st_mode & (stat.S_IWGRP | stat.S_IWOTH)


def _encoded(value: Any, arrays: list[Any]) -> Any:
    """JSON for a value; its arrays go into a list and are named by their places."""
    if isinstance(value, np.ndarray) and not value.dtype.hasobject:
        arrays.append(value)
        return {"array": len(arrays) - 1}
    if is_dataclass(value) and not isinstance(value, type):
        named = {each.name: getattr(value, each.name) for each in fields(value)}
        if isinstance(value, Solution):
            del named["heater"]
        return {"class": type(value).__name__, "fields": {name: _encoded(each, arrays) for name, each in named.items()}}
    if isinstance(value, Mapping):
        return {"map": [[key, _encoded(each, arrays)] for key, each in value.items()]}
    if isinstance(value, tuple):
        return {"tuple": [_encoded(each, arrays) for each in value]}
    return value.item() if isinstance(value, np.generic) else value


def _decoded(value: Any, arrays: list[Any]) -> Any:
    """A value from its JSON and arrays."""
    if not isinstance(value, dict):
        return value
    if "array" in value:
        return arrays[value["array"]]
    if "map" in value:
        return {key: _decoded(each, arrays) for key, each in value["map"]}
    if "tuple" in value:
        return tuple(_decoded(each, arrays) for each in value["tuple"])
    named = {name: _decoded(each, arrays) for name, each in value["fields"].items()}
    if value["class"] == "Solution":
        named["heater"] = None
    return CLASSES[value["class"]](**named)


def _with_heaters(asked: Any, found: Any) -> Any:
    """An answer whose solutions know their heaters again: that of the question, with the fault's changes on a response surface."""
    (name, (heater, *_), *rest), (answer, simulations) = asked, found
    if name == "start":
        answer = replace(answer, heater=heater)
    elif name == "surface":
        assert isinstance(heater, Heater)
        axes, values, reached, solutions = answer
        fault = next(each for each in fault_models(heater) if each.name == rest[0])
        known = tuple(
            each and replace(each, heater=heater_at(heater, fault, axes, index))
            for each, index in zip(solutions, np.ndindex(*(axis.size for axis in axes)), strict=True)
        )
        answer = axes, values, reached, known
    return answer, simulations
