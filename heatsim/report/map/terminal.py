# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim map` shows: progress, the answer in words, and a table of columns."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base import terminal
from heatsim.report.base.words import SAFETY, field_words, outdated_words
from heatsim.report.map.words import OUTCOMES, ends_label, lower_end, sentences, upper_end, value
from heatsim.studies.map import JUDGED, MapProgress, MapResult, Reach

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table


STEADY = "Most points are steady states: check one to see how it starts, drains at switch-on included."
"""Told below every map: a followed point has no start."""


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[terminal.Latest[MapProgress]]:
    """A line on standard error while the block runs, gone when it ends; nothing when hushed or not on a terminal."""
    with terminal.status_line(hushed, stream) as say:
        yield terminal.Latest(lambda now: say(f"{now.step}: {now.points} points, {now.columns} columns done"))


def done_words(latest: MapProgress | None) -> str:
    """How much is done: "30 points"; empty when that is not known."""
    return f"{latest.points} points" if latest and latest.points else ""


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
    words = ("ends it", "next")
    made = terminal.table(words, field_words(result.horizontal.field.path), "from", "up to", *words, "at about", wide=words)
    for reach in result.answer.reaches:
        made.add_row(value(result.horizontal, reach.x), *_row(result, reach))
    return made


def _row(result: MapResult, reach: Reach) -> tuple[str, ...]:
    """Cells of a reach, without its place."""
    axis = result.vertical
    if reach.start is None or reach.stop is None:
        return "–", "–", f"nowhere usable: {ends_label(reach.fails)}", "", ""
    low = "" if reach.lower is None else lower_end(result, reach)
    ends = "no limit is met" if reach.upper is None else ends_label(reach.upper.ends, reach.upper.both)
    if reach.lower is not None:
        ends += f"; below: {ends_label(reach.lower.ends, reach.lower.both)}"
    after = reach.second
    second = ("", "") if after is None else (ends_label(after.ends, after.both), value(axis, after.at))
    return low, upper_end(result, reach), ends, *second


def _notes(result: MapResult) -> Iterator[RenderableType]:
    """What could not be judged or computed."""
    from rich.text import Text

    if result.outdated:
        yield Text(f"{outdated_words(result.outdated)}.")
    doubtful = sum(not one.trusted for one in result.evidence.samples)
    if doubtful:
        yield Text(
            f"{doubtful} of {len(result.evidence.samples)} points miss their energy balance by more than a run may, and "
            "count as not usable."
        )
    lost = [one for one in result.evidence.samples if one.outcome not in (*JUDGED, "dead", "latched", "drifting")]
    if lost:
        clause = OUTCOMES.get(lost[0].outcome, lost[0].outcome)
        yield Text(printable(f"{len(lost)} points without a result; the first: {clause} ({lost[0].detail})."))
