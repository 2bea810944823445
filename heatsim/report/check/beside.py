# SPDX-License-Identifier: GPL-3.0-or-later
"""Builds side by side: on the terminal (`show_beside`), and as `beside.html` with its pictures and numbers (`write_beside`)."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

from heatsim.errors import printable
from heatsim.files import write_whole
from heatsim.report.base.page import Shown, template
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.terminal import COLOURS, print_blocks, table
from heatsim.report.base.words import SAFETY
from heatsim.report.base.zoom import HOW, script
from heatsim.report.check import beside_words as words
from heatsim.report.check.folder import stem, whole_dict
from heatsim.studies.check import CaseRow, Comparison

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table
    from rich.text import Text

    from heatsim.verdict.finding import Finding

MOST = 12
"""Limits shown on a terminal unless all are asked for."""

CAPTION = (
    "Each build over its own period, laid on one another where the fundamental of the tank voltage rises through zero: "
    "what differs in shape is seen apart from what differs in frequency."
)


def beside_dict(comparison: Comparison) -> dict[str, Any]:
    """Plain data of the comparison, with the results of each check."""
    return comparison.as_dict() | {"results": [whole_dict(result, None) for result in comparison.results]}


def show_beside(comparison: Comparison, verbose: bool = False, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print a comparison to `stream` (standard output).

    verbose: every limit, not only those that changed; width: columns, by default the terminal's, 80 in a pipe
    """
    print_blocks(_blocks(comparison, verbose), stream, width)


def _blocks(comparison: Comparison, verbose: bool) -> Iterator[RenderableType]:
    """Every block of the output, in order."""
    from rich.text import Text

    yield Text(f"\nSide by side: {', '.join(words.names(comparison))}", style="bold")
    yield Text(words.verdict_line(comparison))
    yield from (Text(line) for line in words.alone_lines(comparison))
    yield Text("\nWhat differs in the files", style="bold")
    yield _field_table(comparison) if comparison.fields else Text(words.fields_line(comparison))
    if comparison.limits:
        yield Text("\nWhat that does to the limits", style="bold")
        yield from _limits(comparison, verbose)
    if comparison.measures:
        yield Text("\nWhat that does to the heater", style="bold")
        yield _measure_table(comparison)
        yield Text(f"In brackets: against {words.names(comparison)[0]}. {words.EXPLAINED}", style="dim")
    yield Text(f"\n{SAFETY}", style="dim")


def _field_table(comparison: Comparison) -> Table:
    """One line a field that differs."""
    builds = words.names(comparison)
    made = table(("field", *builds), "field", *builds, wide=("field", *builds))
    for row in comparison.fields:
        made.add_row(printable(row.field), *map(words.field_text, row.values))
    return made


def _limits(comparison: Comparison, verbose: bool) -> Iterator[RenderableType]:
    """The limits that changed, and how many others there are."""
    from rich.text import Text

    lines = words.lines(comparison)
    shown = lines if verbose else [line for line in lines if line.noticed][:MOST]
    if shown:
        yield _limit_table(comparison, shown)
    others = len(lines) - len(shown)
    if others:
        yield Text(f"{others} more, none of them with a larger change; --verbose lists all.", style="dim")


def _limit_table(comparison: Comparison, lines: Sequence[words.Line]) -> Table:
    """Headroom and grade in each build; the change in points of a hundred."""
    builds = words.names(comparison)
    made = table(("case", "part", "limit"), "case", "part", "limit", *builds, "change", wide=("part", "limit", *builds), gap=1)
    for line in lines:
        row = line.row
        cells = (_graded(finding) for finding in row.findings)
        made.add_row(printable(row.case), line.name, printable(row.limit), *cells, words.change_text(row))
    return made


def _graded(finding: Finding | None) -> Text:
    """Headroom with the grade, in its colour."""
    from rich.text import Text

    return Text(words.grade_text(finding), style=COLOURS[finding.grade] if finding else "dim")


def _measure_table(comparison: Comparison) -> Table:
    """One line a measure and case."""
    builds = words.names(comparison)
    made = table(("case", "measure"), "case", "measure", *builds, wide=("measure", *builds), gap=1)
    for row in comparison.measures:
        made.add_row(printable(row.case), words.measure_name(row), *words.measure_cells(row))
    return made


def render_beside(
    comparison: Comparison, pictures: Sequence[Shown] = (), linked: bool = True, figures: Sequence[tuple[str, str]] = ()
) -> str:
    """The page. All texts are escaped but SVG and figures, which are ours.

    linked: whether the report of each build lies in a folder of its name beside it; figures: title and figure shown instead of the
    pictures where scripts run
    """
    lines = words.lines(comparison)
    return template("beside.html").render(
        comparison=comparison,
        words=words,
        builds=words.names(comparison),
        lines=[line for line in lines if line.row.shared],
        alone=[line for line in lines if not line.row.shared],
        pictures=pictures,
        linked=linked,
        figures=figures,
        head=script() if figures else "",
        how=f"{CAPTION} {HOW}",
        safety=SAFETY,
    )


def write_beside(comparison: Comparison, out: Path, progress: Callable[[str], None] | None = None, png: bool = False) -> list[Path]:
    """Write page, numbers and pictures of a comparison into a folder (made if need be); returns the files, the page first.

    progress: called with a few words on what is being done; png: also write each picture as PNG
    Pictures of the same cases left by an earlier run are removed unless written anew. Raises OutputError.
    """
    from heatsim.report.base.pictures import files
    from heatsim.report.check.overlay import drawable, overlay
    from heatsim.report.check.zoomed import overlaid

    (progress or (lambda _: None))("drawing the builds side by side")
    content: dict[str, str | bytes] = {"beside.json": json_file(comparison.as_dict())}
    pictures, figures = [], []
    for row in comparison.cases:
        if len(drawable(row.results)) < 2:
            continue
        title = f"Tank and left drain, case {printable(row.name)}"
        made = files(overlay(row.results, words.names(comparison)), f"beside-{_stem(row)}", title, png)
        content |= made
        pictures.append(Shown.of(made, title, CAPTION))
        figures.append((title, overlaid(row.results, words.names(comparison))))
    stale = [out / f"beside-{_stem(row)}.{ending}" for row in comparison.cases for ending in ("svg", "png")]
    written = write_files(out, content, stale)
    return [write_whole(out / "beside.html", render_beside(comparison, pictures, figures=figures)), *written]


def _stem(row: CaseRow) -> str:
    """Start of the file names of a case."""
    return stem(next(result for result in row.results if result is not None))
