# SPDX-License-Identifier: GPL-3.0-or-later
"""How far a heat is, while it runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from heatsim.report.base import terminal
from heatsim.report.base.live import IN_THIS_STEP, Line, Remaining, live
from heatsim.report.heat.words import celsius, time_words
from heatsim.studies.heat import Progress

LAST = "judging"
"""What a heat does last (`Progress.doing`)."""


def progress_lines(now: Progress, ends: float | None) -> list[Line]:
    """How far a heat is, and below that what is being done; ends: when that will be done, as by `time.monotonic` [s]."""
    apart = round(now.hottest) - round(now.coldest)
    warm = (f"{now.coldest:.0f} to {celsius(now.hottest)}" if apart else celsius(now.hottest)).replace("-", "−")
    states = f"{now.states} state{'' if now.states == 1 else 's'} of the heater simulated"
    so_far = f"{time_words(now.time)} into the heat"
    return [
        Line([(f"{warm}, wanted {celsius(now.wanted)}", warm), so_far], now.share, ends, IN_THIS_STEP),
        Line([now.doing, states]),
    ]


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[terminal.Latest[Progress]]:
    """How far it is, on standard error while the block runs."""
    remaining = Remaining()
    with live(hushed, stream, patience=0.0) as update:
        yield terminal.Latest(lambda now: update(progress_lines(now, remaining.at(now.share)), now.doing == LAST))


def done_words(latest: Progress | None) -> str:
    """What is kept of a heat that was interrupted: "7 simulated states of the heater"."""
    count = latest.states if latest else 0
    return f"The {count} states of the heater simulated so far" if count > 1 else "Simulated states of the heater"
