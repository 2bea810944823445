# SPDX-License-Identifier: GPL-3.0-or-later
"""Linear algebra in one thread: matrices of some sixty rows are solved sooner than threads have woken up."""

from __future__ import annotations

import ctypes
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

MAPS = Path("/proc/self/maps")
NAMES = ("scipy_openblas_{}_num_threads64_", "scipy_openblas_{}_num_threads", "openblas_{}_num_threads")


def _libraries() -> list[ctypes.CDLL]:
    """Those of linear algebra in this process; none where the system does not tell."""
    text = MAPS.read_text(encoding="utf-8") if MAPS.exists() else ""
    return [ctypes.CDLL(path) for path in sorted(set(re.findall(r"\S*openblas\S*\.so\S*", text)))]


def _function(library: ctypes.CDLL, verb: str) -> ctypes._CFuncPtr | None:
    return next((getattr(library, name.format(verb)) for name in NAMES if hasattr(library, name.format(verb))), None)


@contextmanager
def one_thread() -> Iterator[None]:
    """Inside, OpenBLAS takes one thread; afterwards as many as before."""
    before = []
    for library in _libraries():
        get, put = _function(library, "get"), _function(library, "set")
        if get is not None and put is not None:
            before.append((put, get()))
            put(1)
    try:
        yield
    finally:
        for put, count in before:
            put(count)
