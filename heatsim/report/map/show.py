# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim map` shows and leaves: progress, the answer in words, a table of columns, the picture, results.json."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from heatsim.report.base.plain import as_json, write_whole
from heatsim.report.base.terminal import print_blocks
from heatsim.report.base.words import printable
from heatsim.report.map.words import OUTCOMES, ends_label, sentences, value
from heatsim.report.sweep.view import field_words
from heatsim.studies.map import JUDGED, MapProgress, MapResult, Reach

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.status import Status
    from rich.table import Table

FILES = ("results.json", "map.png", "map.svg")
"""What the folder of a map holds."""


class MapWatch:
    """Shows how far a map is; keeps the latest progress."""

    def __init__(self, status: Status | None) -> None:
        self._status = status
        self.latest: MapProgress | None = None

    def __call__(self, told: MapProgress) -> None:
        self.latest = told
        if self._status is not None:
            self._status.update(f"{told.step}: {told.points} points, {told.columns} columns done")


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[MapWatch]:
    """A line on standard error while the block runs, gone when it ends; nothing when hushed or not on a terminal."""
    from rich.console import Console

    console = Console(file=stream or sys.stderr, highlight=False, markup=False)
    if hushed or not console.is_terminal:
        yield MapWatch(None)
        return
    with console.status("first look") as status:
        yield MapWatch(status)


def say_interrupted(latest: MapProgress | None, store: Path, stream: TextIO | None = None) -> None:
    """Print what is kept and how to continue."""
    points = latest.points if latest is not None else 0
    kept = f"{points} points are kept in {store}" if points else f"finished points are kept in {store}"
    print_blocks([f"Interrupted. {kept}; run the same command again to continue."], stream or sys.stderr, width=200)


def show(result: MapResult, out: Path | None = None, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print the answer, what each column of the map says, and where everything lies."""
    print_blocks(_blocks(result, out), stream, width)


def _blocks(result: MapResult, out: Path | None) -> Iterator[RenderableType]:
    from rich.text import Text

    axes = f"{field_words(result.vertical.field.path)} against {field_words(result.horizontal.field.path)}"
    yield Text(f"{printable(result.scenario.name)}, case {printable(result.case)}: {axes}", style="bold")
    first, *more = sentences(result)
    yield Text(first, style="bold")
    yield Text(" ".join(more))
    yield ""
    yield reach_table(result)
    yield ""
    yield from _notes(result)
    if out is not None:
        yield Text(f"Picture: {out / 'map.png'}", style="bold", no_wrap=True, overflow="ignore")
    yield Text(
        f"{len(result.evidence.samples)} points, {result.known} of them known before, in {result.wall_s:.1f} s. "
        "A simulation does not make a build safe.",
        style="dim",
    )


def reach_table(result: MapResult) -> Table:
    """One line a column of the map: from where to where it is usable, and what ends it."""
    from rich.table import Table

    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim", pad_edge=False)
    headings = (field_words(result.horizontal.field.path), "from", "up to", "ends it", "next", "at about")
    for place, heading in enumerate(headings):
        table.add_column(
            printable(heading), justify="left" if place in (3, 4) else "right", no_wrap=place in (0, 1, 2, 5), overflow="fold"
        )
    for reach in result.answer.reaches:
        table.add_row(value(result.horizontal, reach.x), *_row(result, reach))
    return table


def _row(result: MapResult, reach: Reach) -> tuple[str, ...]:
    """Cells of a reach, without its place."""
    axis = result.vertical
    if reach.start is None or reach.stop is None:
        return "–", "–", f"nowhere usable: {ends_label(reach.fails)}", "", ""
    low = "" if reach.lower is None else value(axis, reach.start)
    ends = "no limit is met" if reach.upper is None else ends_label(reach.upper.ends, reach.upper.both)
    if reach.lower is not None:
        ends += f"; below: {ends_label(reach.lower.ends, reach.lower.both)}"
    after = reach.second
    second = ("", "") if after is None else (ends_label(after.ends, after.both), value(axis, after.at))
    return low, value(axis, reach.stop), ends, *second


def _notes(result: MapResult) -> Iterator[RenderableType]:
    """What could not be judged or computed."""
    from rich.text import Text

    if result.outdated:
        yield Text(
            f"{result.outdated:,} older points in the store were computed by another version of heatsim, its models or the "
            "simulator. They are not used."
        )
    if result.unjudged:
        yield Text(f"Not judged anywhere: {', '.join(ends_label(key) for key in result.unjudged)}.")
    doubtful = sum(not one.trusted for one in result.evidence.samples)
    if doubtful:
        yield Text(
            f"{doubtful} of {len(result.evidence.samples)} points miss their energy balance by more than a run may; "
            "headrooms next to them are less sure."
        )
    lost = [one for one in result.evidence.samples if one.outcome not in (*JUDGED, "dead", "latched")]
    if lost:
        clause = OUTCOMES.get(lost[0].outcome, lost[0].outcome)
        yield Text(printable(f"{len(lost)} points without a result; the first: {clause} ({lost[0].detail})."))


def write_folder(result: MapResult, out: Path) -> list[Path]:
    """Write results.json and the picture; each file whole or not at all. Raises OSError when it cannot be written."""
    from heatsim.report.check.figures import as_png, as_svg
    from heatsim.report.map.picture import figure

    out.mkdir(parents=True, exist_ok=True)
    drawn = figure(result)
    content = (as_json(plain(result)) + "\n").encode(), as_png(drawn), as_svg(drawn, "Operating map").encode()
    return [write_whole(out / name, text) for name, text in zip(FILES, content, strict=True)]


def plain(result: MapResult) -> dict[str, object]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"sentences": list(sentences(result))}


__all__ = ["FILES", "MapWatch", "plain", "reach_table", "say_interrupted", "show", "watching", "write_folder"]
