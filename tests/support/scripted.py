# SPDX-License-Identifier: GPL-3.0-or-later
"""Functions for worker processes in tests: light ones, which do what they are told, over the real message streams."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from typing import Any

from heatsim.errors import SetupError
from heatsim.tasks import Context, LocalPool


def pool(size: int) -> LocalPool:
    """Workers without a simulator."""
    return LocalPool(size, "tests.support.scripted:start")


def start() -> str:
    """A version of nothing."""
    return os.environ.get("SCRIPTED_VERSION", "scripted-1")


def refuse() -> str:
    """A start that wants something that is not installed."""
    raise SetupError("install the thing")


def echo(context: Context, *values: Any) -> Any:
    """Tell all values but the last, return that with the number of the process."""
    for value in values[:-1]:
        context.tell(value)
    return values[-1], os.getpid()


def wear(context: Context) -> int:
    """Work no more after this."""
    context.worn = True
    return os.getpid()


def act(context: Context, what: str) -> int:
    """Tell the number of the process, then do one thing, see `do`."""
    context.tell(os.getpid())
    do(what)
    return os.getpid()


def fell(context: Context) -> None:
    """Kill the process that started this one, as what takes all memory of a machine may."""
    os.kill(os.getppid(), signal.SIGKILL)
    time.sleep(600)


def do(what: str) -> None:
    """Die, sleep, hang or raise, as told; anything else is nothing to do."""
    verb, _, more = what.partition(":")
    if verb == "die once" and not Path(more).exists():
        Path(more).touch()
        verb = "die"
    if verb == "die":
        sys.stderr.write("as I was told\n")
        sys.stderr.flush()
        os.kill(os.getpid(), signal.SIGKILL)
    elif verb == "sleep":
        time.sleep(float(more))
    elif verb == "hang":
        time.sleep(600)
    elif verb == "raise":
        raise ArithmeticError("no such number")
