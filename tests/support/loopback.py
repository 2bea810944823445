# SPDX-License-Identifier: GPL-3.0-or-later
"""A Dask scheduler and workers on loopback, started as a user starts them and ended by their process id.

The scheduler cannot import heatsim: it only passes on what it does not understand.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path
from types import TracebackType

Process = subprocess.Popen[bytes]


class Loopback:
    """Ports of the system's choosing, no dashboards. Use it in a `with` statement: nothing survives it.

    patience: how long a worker seeks a scheduler that is gone, by default as long as Dask has it.
    """

    def __init__(self, folder: Path, patience: str = "30s") -> None:
        self.folder, self.patience = folder, patience
        self.processes: list[Process] = []
        self.address = ""

    def worker(self, preload: str = "", threads: int = 1) -> Process:
        """One more worker; preload: Python lines it runs before it starts, in order to make it another one."""
        script = self.folder / f"preload{len(self.processes)}.py"
        script.write_text(preload)
        process = self._start(
            "worker",
            self.address,
            "--host",
            "127.0.0.1",
            "--nthreads",
            str(threads),
            "--no-nanny",
            "--no-dashboard",
            "--local-directory",
            str(self.folder),
            "--preload",
            str(script),
        )
        self.told(process, "Registered to:")
        return process

    def told(self, process: Process, what: str) -> str:
        """The word after `what` in a process's log, once it is there."""
        log = self.folder / f"{self.processes.index(process)}.log"
        until = time.monotonic() + 30
        while time.monotonic() < until and process.poll() is None:
            for line in log.read_text().splitlines():
                if what in line and line.split(what)[1].strip():
                    return line.split(what)[1].split()[0]
            time.sleep(0.05)
        raise AssertionError(log.read_text())

    def _start(self, *command: str) -> Process:
        with (self.folder / f"{len(self.processes)}.log").open("wb") as log:
            process = subprocess.Popen(
                [sys.executable, "-m", "dask", *command],
                stdout=log,
                stderr=subprocess.STDOUT,
                cwd=self.folder,
                env=os.environ
                | {
                    "PYTHONWARNINGS": "",
                    "PYTHONPATH": str(Path(__file__).resolve().parents[2]),
                    "DASK_DISTRIBUTED__COMM__TIMEOUTS__CONNECT": self.patience,
                },
            )
        self.processes.append(process)
        return process

    def __enter__(self) -> Loopback:
        try:
            script = self.folder / "scheduler.py"
            script.write_text("import sys\nsys.modules['heatsim'] = None\n")
            scheduler = self._start("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--preload", str(script))
            self.address = self.told(scheduler, "Scheduler at:")
        except BaseException:
            self.end()
            raise
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self.end()

    def end(self) -> None:
        """End every process, the workers first."""
        for process in reversed(self.processes):
            process.kill()
            process.wait()
