# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim heat --pull` shows: for each way the outcome, the worst on the way, and the limits that do not hold."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base.terminal import COLOURS, print_blocks, table
from heatsim.report.base.words import SAFETY
from heatsim.report.heat.pull import words
from heatsim.studies.heat.pull import Moved, PullResult

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def show_pull(result: PullResult, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print what comes of moving the piece to `stream` (standard output)."""
    print_blocks(_blocks(result), stream, width)


def _blocks(result: PullResult) -> Iterator[RenderableType]:
    from rich.text import Text

    colour = COLOURS[result.grade]
    name, told = printable(result.scenario.name), f" {words.headline(result).upper()} "
    yield Text.assemble((name, "bold"), f", case {printable(result.case)}   moving the piece: ", (told, f"reverse {colour}"))
    for moved in (result.leaves, result.enters):
        yield from _way(moved)
    yield Text()
    yield from (Text(f"Note: {printable(each)}") for each in words.left_out(result))
    yield Text()
    yield Text(f"Simulated by {printable(result.simulator_version)} in {result.wall_s:.0f} s. {SAFETY}", style="dim")


def _way(moved: Moved) -> Iterator[RenderableType]:
    """One direction."""
    from rich.padding import Padding
    from rich.text import Text

    yield Text(f"\n{words.WAYS[moved.leaves]}", style="bold")
    for told in (words.outcome(moved), words.passage(moved), words.highest(moved), words.limits_sentence(moved)):
        if told:
            yield Text(told)
    short = [line for line in words.lines(moved) if line.finding.grade != "holds"]
    if short:
        yield _table(short)
    for line, cause, remedy in words.advice(moved):
        grade = line.finding.grade
        yield Text.assemble((grade, COLOURS[grade]), " ", (f"{line.name}: {line.limit}", "bold"))
        yield Padding(Text("\n".join(filter(None, (cause, f"→ {remedy}" if remedy else "")))), (0, 0, 0, 2))


def _table(rows: list[words.Line]) -> Table:
    from rich.text import Text

    left = words.COLUMNS[:3]
    made = table(left, *words.COLUMNS, wide=("part", "limit"), gap=1)
    for line in rows:
        grade, *cells = line.cells
        made.add_row(Text(grade, style=COLOURS[grade]), *cells)
    return made
