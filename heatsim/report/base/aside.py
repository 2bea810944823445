# SPDX-License-Identifier: GPL-3.0-or-later
"""A process that is split off before there is work for it, and loads and draws while this one simulates, judges and prints."""

from __future__ import annotations

import contextlib
import gc
import os
import signal
import sys
from collections.abc import Callable
from typing import TYPE_CHECKING, Any, Self

if TYPE_CHECKING:
    from multiprocessing.connection import Connection


class Aside:
    """One process, on Linux with two cores or more; where it cannot be, `here` is false and nothing must be asked of it.

    It has in memory what this one had when it was split off, which is to be while no other thread runs: such a thread might hold a
    lock that nobody in the new process would ever release.
    """

    def __init__(self) -> None:
        self.here = False
        self._process, self._asked = 0, 0
        self._line: Connection | None = None

    def split_off(self) -> None:
        """Begin."""
        if sys.platform != "linux" or (os.cpu_count() or 1) < 2:
            return
        from multiprocessing import Pipe

        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(OSError, ValueError, AttributeError):
                stream.flush()  # or both would write what is left in it
        self._line, other = Pipe()
        self._process = os.fork()
        if not self._process:
            self._line.close()
            _serve(other)
        other.close()
        with contextlib.suppress(OSError):
            os.setpgid(self._process, self._process)  # with all that it splits off itself, which is not before it is asked
        self.here = True

    def begin(self, job: Callable[..., Any], *arguments: Any) -> None:
        """Have it do a job after those before; both must be fit for pickling."""
        assert self._line is not None
        with contextlib.suppress(OSError):  # it is gone, which is told where it is asked
            self._line.send((job, arguments))
            self._asked += 1

    def answer(self) -> Any:
        """What the last job returned. Raises EOFError when that failed, or the process did."""
        assert self._line is not None
        done, value = False, None
        try:
            while self._asked:
                self._asked -= 1
                done, value = self._line.recv()
        except OSError:
            done = False
        if not done:
            raise EOFError
        return value

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self._line is not None and self._process:
            self._line.close()
            with contextlib.suppress(OSError):
                os.killpg(self._process, signal.SIGKILL)
            with contextlib.suppress(OSError):
                os.waitpid(self._process, 0)
        self.here = False


def _serve(line: Connection) -> None:
    """Do jobs until the other end is closed; never returns."""
    gc.disable()  # it would touch, and so copy, all that the processes have in common, and this one does not live long
    try:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # the process that waits decides, and ends this one's group
        signal.signal(signal.SIGTERM, signal.SIG_DFL)
        while True:
            job, arguments = line.recv()
            try:
                answer = True, job(*arguments)
            except Exception:  # the other process does it again, and says why it fails
                answer = False, None
            line.send(answer)
    except (EOFError, OSError):
        pass
    finally:
        os._exit(0)
