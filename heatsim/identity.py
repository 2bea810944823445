# SPDX-License-Identifier: GPL-3.0-or-later
"""What computes a number: heatsim's own code, its model library, and the simulator. Stored results are found again only by
what would compute them alike.
"""

from __future__ import annotations

import ctypes.util
import hashlib
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path

import heatsim
from heatsim.netlist.library import library_folder

SHOWING = ("report", "cli", "docs")
"""Sub-packages that show numbers and do not make them."""

PATIENCE = 20.0
"""Seconds the simulator may take to tell its version."""

_ASK = """
import ctypes, sys
library = ctypes.CDLL(sys.argv[1])
text = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p)
end = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_int, ctypes.c_bool, ctypes.c_bool, ctypes.c_int, ctypes.c_void_p)
said, ended = text(lambda line, *_: print(line.decode("ascii", "replace")) or 0), end(lambda *_: 0)
library.ngSpice_Init(said, None, ended, None, None, None, None)
library.ngSpice_Command(b"version -f")
"""


def made_with() -> dict[str, str]:
    """Versions of heatsim and of the simulator, and the hash of the code, as plain data."""
    return {"heatsim": heatsim.__version__, "simulator": simulator_version(), "code": code_hash()[:16]}


def origin_hash(scenario_hash: str) -> str:
    """Hash of a scenario together with what computes it; keys of stored points are made from it."""
    return hashlib.sha256("\0".join([scenario_hash, *made_with().values()]).encode()).hexdigest()


@cache
def code_hash() -> str:
    """SHA-256 over the files that decide numbers: the model library, and all of heatsim but what only shows results."""
    top, models = Path(heatsim.__file__).resolve().parent, library_folder()
    own = [
        path
        for path in top.rglob("*")
        if path.is_file() and path.suffix != ".pyc" and path.relative_to(top).parts[0] not in SHOWING and models not in path.parents
    ]
    named = {f"heatsim/{path.relative_to(top).as_posix()}": path for path in own}
    named |= {f"netlists/{path.name}": path for path in models.glob("*.lib")}
    digest = hashlib.sha256()
    for name in sorted(named):
        digest.update(f"{name}\0".encode() + hashlib.sha256(named[name].read_bytes()).digest())
    return digest.hexdigest()


def simulator_version() -> str:
    """Such as `ngspice-39`; empty without a simulator. Asked in a process of its own, because the simulator may end its process."""
    library = os.environ.get("NGSPICE_LIBRARY_PATH") or ctypes.util.find_library("ngspice") or ""
    return _version_of(library) if library else ""


@cache
def _version_of(library: str) -> str:
    """The version of one library file."""
    place = os.path.abspath(library) if os.path.dirname(library) else library
    try:
        done = subprocess.run(
            [sys.executable, "-I", "-S", "-c", _ASK, place],
            capture_output=True,
            timeout=PATIENCE,
            cwd=os.path.abspath(os.sep),  # away from start-up files of the user's
            env=os.environ | {"HOME": os.devnull},
        )
    except (OSError, ValueError, subprocess.TimeoutExpired):
        return ""
    found = re.search(rb"ngspice-[\w.+-]+", done.stdout)
    return found[0].decode() if found else ""


__all__ = ["code_hash", "made_with", "origin_hash", "simulator_version"]
