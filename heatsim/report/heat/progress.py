# SPDX-License-Identifier: GPL-3.0-or-later
"""How far a heat is, while it runs."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base import terminal
from heatsim.report.heat.words import celsius, time_words
from heatsim.studies.heat import Progress

if TYPE_CHECKING:
    from rich.console import RenderableType

BAR = 24
"""Cells of the progress bar."""

LAST = "judging"
"""What a heat does last (`Progress.doing`)."""


def progress_line(now: Progress) -> str:
    """How far a heat is, in one line."""
    apart = round(now.hottest) - round(now.coldest)
    warm = f"{now.coldest:.0f} to {celsius(now.hottest)}" if apart else celsius(now.hottest)
    states = f"{now.states} state{'' if now.states == 1 else 's'} of the heater"
    return f"{time_words(now.time)} into the heat · {warm.replace('-', '−')}, wanted {celsius(now.wanted)} · {states}"


def progress_lines(now: Progress, start: float) -> RenderableType:
    """Bar and numbers, and below them what is being done; start: warmest temperature at first [°C]."""
    from rich.console import Group
    from rich.progress_bar import ProgressBar
    from rich.table import Table
    from rich.text import Text

    done = min(max(now.hottest - start, 0.0), now.wanted - start)
    line = Table.grid(padding=(0, 2, 0, 0))
    line.add_row(ProgressBar(total=max(now.wanted - start, 1.0), completed=done, width=BAR), progress_line(now))
    return Group(line, Text(printable(now.doing), style="dim", no_wrap=True, overflow="ellipsis"))


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[terminal.Latest[Progress]]:
    """Progress on standard error while the block runs: lines that renew themselves and are gone at the end on a terminal, a line
    now and then elsewhere, nothing when hushed.
    """
    start: list[float] = []
    with terminal.live_lines(hushed, stream) as update:

        def show_progress(now: Progress) -> None:
            if not start:
                start.append(now.hottest)
            update(progress_lines(now, start[0]), f"{progress_line(now)} · {now.doing}", now.doing == LAST)

        yield terminal.Latest(show_progress)


def done_words(latest: Progress | None) -> str:
    """What is kept of a heat that was interrupted: "7 simulated states of the heater"."""
    count = latest.states if latest else 0
    return f"The {count} states of the heater simulated so far" if count > 1 else "Simulated states of the heater"
