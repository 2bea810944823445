# SPDX-License-Identifier: GPL-3.0-or-later
"""What runs inside a worker process that has a simulator."""

from __future__ import annotations

import time
from functools import cache
from typing import TYPE_CHECKING

from heatsim.engine.outcome import Run
from heatsim.netlist.deck import Deck
from heatsim.tasks import Context

if TYPE_CHECKING:
    from heatsim.engine.session import Session

REPORT_EVERY = 0.1
"""Seconds between two progress messages."""


@cache
def simulator() -> Session:
    """The one simulator of this process. SetupError says what to install."""
    from heatsim.engine.session import Session

    return Session()


def start() -> str:
    """Start the simulator; returns its version, such as ngspice-39."""
    return simulator().version


def run(context: Context, deck: Deck, time_limit: float) -> Run:
    """Run one deck, telling the time reached and aimed at [s] now and then, and each `Attempt` that ended.

    time_limit: wall clock [s]
    """
    from heatsim.engine.simulate import simulate
    from heatsim.engine.steady import start_to_steady

    session, latest = simulator(), 0.0

    def report(reached: float, target: float) -> None:
        nonlocal latest
        if time.monotonic() - latest > REPORT_EVERY:
            latest = time.monotonic()
            context.tell((reached, target))

    found = start_to_steady(session, deck, time_limit, report)
    if found is None:
        found = simulate(session, deck, time_limit, report, context.tell)
    context.worn = session.poisoned or found.outcome == "unsolved"
    return found
