# SPDX-License-Identifier: GPL-3.0-or-later
"""A worker for tests of crews: does what each point's `do` field says, over the real message streams."""

from __future__ import annotations

import os
import signal
import sys
import time
from pathlib import Path
from typing import Any, BinaryIO

from heatsim.engine.worker import main, send
from heatsim.studies.points import failed


def evaluate(session: Any, task: Any, outward: BinaryIO) -> None:
    """Answer, die, hang, raise or leave a point out; `last` answers after all others, as a follower may."""
    _, strip = task
    late = []
    for place, point in enumerate(strip.points):
        do, *rest = dict(point.fields)["do"].split(":")
        if do == "die" or do == "die once" and not Path(rest[0]).exists():
            Path(rest[0]).touch() if rest else None
            os.kill(os.getpid(), signal.SIGKILL)
        elif do == "hang":
            time.sleep(600)
        elif do == "raise":
            raise ArithmeticError("no such number")
        elif do == "sleep":
            time.sleep(float(rest[0]))
        if do == "last":
            late.append(place)
        elif do != "skip":
            send(outward, ("result", place, failed("settled", point.case, method=str(os.getpid()))))
    for place in late:
        send(outward, ("result", place, failed("settled", strip.points[place].case, method=str(os.getpid()))))
    send(outward, ("end", False))


if __name__ == "__main__":
    sys.exit(main(evaluate))
