# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim heat` shows: verdict, answers, what happens when, limits that do not hold, and how well all of it is known."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base.terminal import COLOURS, print_blocks, table
from heatsim.report.base.words import SAFETY, percent
from heatsim.report.heat import words
from heatsim.studies.heat import HeatResult

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


def show(result: HeatResult, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print a heat to `stream` (standard output). Colours only on a terminal and never with NO_COLOR set."""
    print_blocks(_blocks(result), stream, width)


def _blocks(result: HeatResult) -> Iterator[RenderableType]:
    """Every block of the output, in order."""
    from rich.text import Text

    colour = COLOURS[words.tone(result)]
    yield Text.assemble(
        (printable(result.scenario.name), "bold"), "   ", (f" {words.headline(result).upper()} ", f"reverse {colour}")
    )
    yield Text(words.lead(result))
    yield Text(words.limits_sentence(result))
    yield Text()
    yield _pairs(words.answers(result))
    yield Text("\nWhat happens when", style="bold")
    yield _pairs(words.happenings(result))
    yield from _limits(result)
    yield Text("\nHow well it is known", style="bold")
    yield Text(words.confirmed_sentence(result))
    yield _pairs(words.trust_rows(result))
    yield from (Text(f"Note: {printable(each)}") for each in result.cautions)
    yield Text()
    yield Text(f"Simulated by {printable(result.simulator_version)} in {result.wall_s:.0f} s. {SAFETY}", style="dim")


def _pairs(rows: Iterable[tuple[str, str]]) -> Table:
    """What and text, side by side."""
    from rich.table import Table
    from rich.text import Text

    made = Table.grid(padding=(0, 2, 0, 0))
    made.add_column(no_wrap=True)
    made.add_column()
    for what, text in rows:
        made.add_row(Text(what, style="dim"), Text(text))
    return made


def _limits(result: HeatResult) -> Iterator[RenderableType]:
    """Limits that do not hold all along, with what would change that."""
    from rich.padding import Padding
    from rich.text import Text

    short = [line for line in words.lines(result) if line.watched.grade != "holds"]
    if not short:
        return
    yield Text("\nLimits to see to", style="bold")
    left = ("grade", "part", "limit")
    made = table(left, *left, "worst", "allowed", "headroom", "at", "not kept", wide=("part", "limit", "not kept"), gap=1)
    for line in short:
        worst = line.watched.worst
        grade = Text(worst.grade, style=COLOURS[worst.grade])
        made.add_row(
            grade, line.name, printable(worst.limit), line.found, line.allowed, percent(worst.headroom), line.at, line.broken
        )
    yield made
    for line in short:
        worst = line.watched.worst
        told = [printable(worst.cause), printable(f"→ {worst.remedy}") if worst.remedy else ""]
        if any(told):
            yield Text.assemble((worst.grade, COLOURS[worst.grade]), " ", (f"{line.name}: {printable(worst.limit)}", "bold"))
            yield Padding(Text("\n".join(filter(None, told))), (0, 0, 0, 2))
