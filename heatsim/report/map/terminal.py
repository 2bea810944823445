# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim map` shows: progress, the answer in words, and a table of columns."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base import terminal
from heatsim.report.base.live import IN_THIS_STEP, Line, Remaining, live
from heatsim.report.base.words import SAFETY, field_words
from heatsim.report.map.words import STEADY, doubts, reach_row, sentences, value
from heatsim.studies.map import MapProgress, MapResult

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[terminal.Latest[MapProgress]]:
    """How far it is, on standard error while the block runs."""
    remaining = Remaining()

    def lines(now: MapProgress) -> list[Line]:
        done = [f"{now.points:,} points", *([f"{now.columns} columns done"] if now.columns else [])]
        return [Line(done, now.share, remaining.at(now.share), IN_THIS_STEP), Line([now.step])]

    with live(hushed, stream) as update:
        yield terminal.Latest(lambda now: update(lines(now)))


def done_words(latest: MapProgress | None) -> str:
    """How much is done: "30 points"; empty when that is not known."""
    return f"{latest.points} point{'s' if latest.points > 1 else ''}" if latest and latest.points else ""


def show(result: MapResult, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print the answer and what each column of the map says."""
    terminal.print_blocks(_blocks(result), stream, width)


def _blocks(result: MapResult) -> Iterator[RenderableType]:
    from rich.text import Text

    axes = f"{field_words(result.vertical.field.path)} against {field_words(result.horizontal.field.path)}"
    yield Text(printable(f"{result.scenario.name}, case {result.case}: {axes}"), style="bold")
    first, *more = sentences(result)
    yield Text(first, style="bold")
    yield Text(" ".join(more))
    yield ""
    yield reach_table(result)
    yield ""
    yield from _notes(result)
    count = f"{len(result.evidence.samples)} points, {result.known} of them known before, in {result.wall_s:.1f} s."
    yield Text(f"{count} {STEADY} {SAFETY}", style="dim")


def reach_table(result: MapResult) -> Table:
    """One line a column of the map: from where to where it is usable, and what ends it."""
    words = ("limited by", "next")
    made = terminal.table(words, field_words(result.horizontal.field.path), "from", "up to", *words, "at about", wide=words)
    for reach in result.answer.reaches:
        made.add_row(value(result.horizontal, reach.x), *reach_row(result, reach))
    return made


def _notes(result: MapResult) -> Iterator[RenderableType]:
    """What could not be judged or computed."""
    from rich.text import Text

    yield from (Text(text) for text in doubts(result))
