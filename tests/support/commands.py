# SPDX-License-Identifier: GPL-3.0-or-later
"""The command line in a process of its own, as a shell starts it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.support.processes import heed_interrupts

CHECKOUT = Path(__file__).resolve().parents[2]


def environment(**more: str) -> dict[str, str]:
    """Plain output, this package."""
    return {**os.environ, "NO_COLOR": "1", "COLUMNS": "120", "PYTHONPATH": str(CHECKOUT), **more}


def heatsim(*arguments: object, cwd: Path, before: Callable[[], None] = heed_interrupts, **options: Any) -> Any:
    """Run a command to its end; its standard output and error as text unless `options` send them elsewhere."""
    pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | options
    return subprocess.run(
        [sys.executable, "-m", "heatsim", *map(os.fspath, map(_plain, arguments))],
        text=True,
        timeout=180,
        cwd=cwd,
        env=environment(),
        preexec_fn=before,
        **pipes,
    )


def started(*arguments: object, cwd: Path, before: Callable[[], None] = heed_interrupts) -> Any:
    """Start a command in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "heatsim", *map(os.fspath, map(_plain, arguments))],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=cwd,
        env=environment(),
        start_new_session=True,
        preexec_fn=before,
    )


def children(pid: int) -> list[int]:
    """Processes whose parent is this one."""
    return [int(path.name) for path in Path("/proc").iterdir() if path.name.isdigit() and _parent(path / "stat") == pid]


def _parent(status: Path) -> int:
    """Parent of a process, 0 when it is gone or a zombie."""
    try:
        state, number = status.read_text().rsplit(")", 1)[1].split()[:2]
    except OSError:
        return 0
    return 0 if state == "Z" else int(number)


def _plain(argument: object) -> str | bytes:
    return argument if isinstance(argument, bytes) else str(argument)
