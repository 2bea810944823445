# SPDX-License-Identifier: GPL-3.0-or-later
"""Jobs of a report shared with processes that are split off.

Not by `heatsim.tasks`: its workers begin with nothing, and would take as long to load what draws as drawing itself takes.
"""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import os
import signal
import sys
from collections.abc import Callable, Iterator, Sequence
from multiprocessing.connection import Connection
from typing import Any, TypeVar

Made = TypeVar("Made")

MOST = 4
"""Processes at most: a report is not much work."""

TICKET = 2
"""Bytes of a job's number."""


def side_by_side(jobs: Sequence[Callable[[], Made]]) -> list[Made]:
    """What jobs return, in their order, each done by whichever process is free; all here where none can be split off.

    A process that is split off has in memory whatever this one has: nothing need be loaded or sent. What jobs return must be fit
    for pickling. Should such a process fail, its jobs are done here.
    """
    count = min(os.cpu_count() or 1, MOST, len(jobs)) - 1
    if sys.platform != "linux" or count < 1:
        return [job() for job in jobs]
    tickets = _tickets(len(jobs))
    others: list[tuple[Any, Connection]] = []
    try:
        for _ in range(count):
            others.append(_split_off(jobs, tickets, [answers for _, answers in others]))
        made: dict[int, Any] = {number: jobs[number]() for number in _taken(tickets)}
        for _, answers in others:
            with contextlib.suppress(EOFError):
                made |= answers.recv()
    finally:
        os.close(tickets)
        for process, answers in others:
            answers.close()
            process.kill()  # it has nothing left to do, or nobody waits for it
            process.join()
    return [made[number] if number in made else job() for number, job in enumerate(jobs)]


def _tickets(count: int) -> int:
    """A pipe with a ticket a job, of which each goes to one process; with its end after the last."""
    outlet, inlet = os.pipe()
    os.write(inlet, b"".join(number.to_bytes(TICKET) for number in range(count)))  # a pipe holds many more
    os.close(inlet)
    return outlet


def _taken(tickets: int) -> Iterator[int]:
    """The tickets that come to this process."""
    while ticket := os.read(tickets, TICKET):
        yield int.from_bytes(ticket)


def _split_off(jobs: Sequence[Callable[[], Any]], tickets: int, before: list[Connection]) -> tuple[Any, Connection]:
    """A process, and where it answers. before: where those before it answer"""
    context = multiprocessing.get_context("fork")
    inward, outward = context.Pipe(duplex=False)
    other = context.Process(target=_do, args=(jobs, tickets, outward, [*before, inward]), daemon=True)
    other.start()
    outward.close()
    return other, inward


def _do(jobs: Sequence[Callable[[], Any]], tickets: int, outward: Connection, inward: Sequence[Connection]) -> None:
    """Do jobs in the process split off; where one fails all of its jobs are done, and that is told of, by the other process.

    inward: where the other process reads answers; left open here, nobody would notice when that is gone
    """
    gc.disable()  # it would touch, and so copy, all that the processes have in common, and this one does not live long
    for answers in inward:
        answers.close()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C reaches the whole group; the process that waits decides
    with contextlib.suppress(Exception):
        outward.send({number: jobs[number]() for number in _taken(tickets)})
