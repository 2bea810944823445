# SPDX-License-Identifier: GPL-3.0-or-later
"""Reads files in a process of its own that may take little more memory than it has, and tells how each of them went.

Run as a program it takes readers and paths in turn and prints one line of JSON a file; `outcomes` runs it.
"""

from __future__ import annotations

import json
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

ROOM = 600 * 2**20
"""Bytes a reader may take."""

LONGEST = 20
"""Seconds of processor time a reader may take; 5 are wanted, on a machine that does nothing else."""


def _catalogue(path: Path) -> object:
    from heatsim.scenario.catalogue import catalogue_with

    return catalogue_with(path.name, path.parent, "heater.toml:3: heater.catalogue")


def _model(path: Path) -> object:
    from heatsim.scenario.models import read_user_model

    return read_user_model(path, "mypart")


def readers() -> dict[str, Callable[[Path], object]]:
    """Everything that reads a file the user names."""
    from heatsim.scenario.ringtest import RingTest
    from heatsim.scenario.scenario import Scenario
    from heatsim.waves.capture import read_capture

    return {
        "scenario": Scenario.from_file,
        "catalogue": _catalogue,
        "model": _model,
        "ring test": RingTest.from_file,
        "capture": read_capture,
    }


def outcomes(files: Iterable[tuple[str, Path]]) -> list[dict[str, Any]]:
    """For each reader and file: `outcome` (read, refused or the name of an exception), `told` and `seconds`."""
    words = [str(word) for pair in files for word in pair]
    done = subprocess.run([sys.executable, "-m", "tests.support.limited", *words], capture_output=True, text=True, timeout=300)
    assert done.returncode == 0, done.stderr[-2000:]
    return [json.loads(line) for line in done.stdout.splitlines()]


def _outcome(read: Callable[[Path], object], path: Path) -> dict[str, Any]:
    from heatsim.errors import InputError

    begun = time.process_time()
    told, outcome = "", "read"
    try:
        read(path)
    except InputError as error:
        outcome, told = "refused", str(error)
    except BaseException as error:
        outcome, told = type(error).__name__, str(error)[:300]
    return {"outcome": outcome, "told": told, "seconds": time.process_time() - begun}


def main(words: list[str]) -> None:
    """Read each file and print its outcome."""
    import pyarrow.parquet
    from scipy.io import wavfile

    assert wavfile and pyarrow.parquet
    known = readers()
    used = int(Path("/proc/self/statm").read_text().split()[0]) * os.sysconf("SC_PAGE_SIZE")
    resource.setrlimit(resource.RLIMIT_AS, (used + ROOM, used + ROOM))
    for reader, path in zip(words[::2], words[1::2], strict=True):
        signal.setitimer(signal.ITIMER_PROF, LONGEST)  # ends the process: a hang is no outcome
        sys.stdout.write(json.dumps(_outcome(known[reader], Path(path))) + "\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main(sys.argv[1:])
