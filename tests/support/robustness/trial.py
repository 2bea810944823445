# SPDX-License-Identifier: GPL-3.0-or-later
"""Numbered trials in processes of their own, with bounded time and memory: what each came to, and how to repeat one.

A kind is a module of this package with COUNT, `prepare(folder)` and `attempt(number, seed, prepared)`, which returns
"accepted", "refused" or another word of its own, and raises what must not come. A trial depends on its number and the seed alone.
"""

from __future__ import annotations

import importlib
import json
import os
import resource
import signal
import subprocess
import sys
import tempfile
import traceback
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from tests.support.deciding_code import ROOT

KINDS = ("scenarios", "catalogues", "ring_tests", "models", "captures", "stores", "outputs", "runs")
ROOM = 600 * 2**20
"""Bytes that a process may take on top of what it has when it begins."""

LONGEST = 30
"""Seconds of processor time for one trial."""


def module(kind: str) -> Any:
    """The module of a kind."""
    return importlib.import_module(f"tests.support.robustness.{kind}")


def outcomes(kind: str, seed: int, first: int, count: int) -> Iterator[dict[str, Any]]:
    """Trials `first` to `first + count`, each with its number, what it came to and, of a fault, what was seen.

    A process that ends in the middle is a fault of the trial it was at; another goes on after it.
    """
    at = first
    while at < first + count:
        command = [sys.executable, "-m", "tests.support.robustness.trial", kind, *map(str, (seed, at, first + count - at))]
        with (
            tempfile.TemporaryFile() as heard,
            subprocess.Popen(command, stdout=subprocess.PIPE, stderr=heard, cwd=ROOT) as process,
        ):
            assert process.stdout is not None
            for line in process.stdout:
                found = json.loads(line)
                at = found["number"] + 1
                yield found
            process.wait()
            heard.seek(0)
            said = heard.read().decode("utf-8", "replace")[-600:]
        if process.returncode or at < first + count:
            why = "no end within the time" if process.returncode == -signal.SIGPROF else f"process ended: {process.returncode}"
            yield {"number": at, "outcome": "fault", "told": f"{why} {said}"}
            at += 1


def one(kind: str, seed: int, number: int, prepared: Any) -> dict[str, Any]:
    """What a trial came to."""
    signal.setitimer(signal.ITIMER_PROF, LONGEST)  # ends the process: a hang is no outcome
    try:
        outcome, told = module(kind).attempt(number, seed, prepared), ""
    except BaseException:
        outcome, told = "fault", traceback.format_exc()[-1500:]
    signal.setitimer(signal.ITIMER_PROF, 0)
    return {"number": number, "outcome": outcome, "told": told}


def main(kind: str, seed: int, first: int, count: int) -> None:
    """A line of JSON for each trial; what else is written to standard output goes where messages go."""
    with tempfile.TemporaryDirectory() as folder, os.fdopen(os.dup(1), "w") as told:
        os.dup2(2, 1)
        prepared = module(kind).prepare(Path(folder))
        used = int(Path("/proc/self/statm").read_text().split()[0]) * os.sysconf("SC_PAGE_SIZE")
        resource.setrlimit(resource.RLIMIT_AS, (used + ROOM, used + ROOM))
        for number in range(first, first + count):
            told.write(json.dumps(one(kind, seed, number, prepared)) + "\n")
            told.flush()


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:5]))
