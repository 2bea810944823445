# SPDX-License-Identifier: GPL-3.0-or-later
"""What the command line shows: progress while it works, then the verdict, the cases and what to change.

Reads well at 80 columns, in a pipe and without colour: every grade is a word, every bar has its number.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from heatsim.report.base import words
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.verdict.finding import Finding

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.progress import Progress, TaskID
    from rich.table import Table

COLOURS = {"holds": "green", "marginal": "yellow", "fails": "bold red", "unknown": "magenta"}
"""Style of each grade; the word itself is always there too."""

BAR = 5
"""Cells of a headroom bar; full at 100 %."""

ASCII = str.maketrans(
    {
        "µ": "u",
        "Ω": "ohm",
        "°": "deg ",
        "²": "2",
        "–": "-",
        "−": "-",
        "≤": "<",
        "≥": ">",
        "×": "x",
        "█": "#",
        "▏": "|",
        "·": ".",
        "◂": "<",
        "→": ">",
        "─": "-",
        "━": "-",
        "…": "..",
        "’": "'",
        "±": "+-",
        "—": "-",
    }
)
"""For outputs that know no other signs."""


def show(
    result: CheckResult, out: Path | None = None, verbose: bool = False, stream: TextIO | None = None, width: int | None = None
) -> None:
    """Print a result to `stream` (standard output). Colours only on a terminal and never with NO_COLOR set.

    out: the report folder to be named at the end; verbose: list the limits that hold as well; width: columns, by
    default the terminal's, 80 in a pipe.
    """
    print_blocks(report(result, out, verbose), stream, width)


def print_blocks(blocks: Iterable[RenderableType], stream: TextIO | None = None, width: int | None = None) -> None:
    """Print blocks one below the other, in signs that the stream has."""
    from rich.console import Console

    target = stream or sys.stdout
    console = Console(file=target, highlight=False, markup=False, emoji=False, width=width)
    with console.capture() as caught:
        for block in blocks:
            console.print(block)
    print_text(caught.get(), target)


def print_text(text: str, stream: TextIO | None = None) -> None:
    """Print a text as it is, in signs that the stream (standard output) has."""
    target = stream or sys.stdout
    target.write(_fitting(text, getattr(target, "encoding", None) or "utf-8"))
    target.flush()


def _fitting(text: str, encoding: str) -> str:
    """The text without trailing blanks, in signs the encoding has."""
    text = "\n".join(line.rstrip() for line in text.split("\n"))
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        return text.translate(ASCII).encode(encoding, "replace").decode(encoding)
    return text


def report(result: CheckResult, out: Path | None, verbose: bool) -> Iterator[RenderableType]:
    """Every block of the output, in order."""
    from rich.padding import Padding
    from rich.text import Text

    yield from _heading(result)
    yield Text()
    yield case_table(result.cases)
    shown = [(case, finding) for case, finding in words.ordered(result) if verbose or finding.grade != "holds"]
    if shown:
        yield Text()
        yield finding_table(shown)
    if not verbose:
        yield Text()
        for line in held(result):
            yield Text(line)
    advice = words.advice(words.ordered(result))
    if advice:
        yield Text("\nWhat to change", style="bold")
    for item in advice:
        yield _advice_head(item)
        told = [item.worst.cause, f"→ {item.worst.remedy}" if item.worst.remedy else ""]
        yield Padding(Text("\n".join(filter(None, told)) or "No more is known."), (0, 0, 0, 2))
    yield Text()
    yield from _ending(result, out)


def _heading(result: CheckResult) -> Iterator[RenderableType]:
    from rich.text import Text

    name = words.printable(result.scenario.name)
    yield Text.assemble((name, "bold"), "   ", (f" {result.verdict.upper()} ", f"reverse {COLOURS[result.verdict]}"))
    yield Text(words.verdict_sentence(result))


def _ending(result: CheckResult, out: Path | None) -> Iterator[RenderableType]:
    from rich.text import Text

    if out is not None:
        yield Text(f"Report: {out / 'report.html'}", style="bold", no_wrap=True, overflow="ignore")
    yield Text(
        f"Simulated by {words.printable(result.simulator_version)} in {result.wall_s:.1f} s. A simulation does not "
        "make a build safe.",
        style="dim",
    )


def case_table(cases: Sequence[CaseResult]) -> Table:
    """One line a case: how it ended and the numbers asked for first."""
    from rich.table import Table
    from rich.text import Text

    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim", pad_edge=False)
    for heading in ("case", "outcome", "tank", "peak", "THD", "supply", "power", "settled in"):
        table.add_column(heading, justify="left" if heading in ("case", "outcome") else "right", no_wrap=heading != "outcome")
    for case in cases:
        style = "" if case.outcome == "settled" else COLOURS[case.grade]
        table.add_row(words.printable(case.name), Text(case.outcome, style=style), *_numbers(case))
    return table


def _numbers(case: CaseResult) -> list[str]:
    keys = (
        ("tank.frequency_hz", "Hz"),
        ("tank.peak_voltage_v", "V"),
        ("tank.thd_ratio", "ratio"),
        ("supply.mean_current_a", "A"),
        ("supply.power_w", "W"),
        ("startup.time_s", "s"),
    )
    return [words.value_text(words.number(case.measures, key), unit) for key, unit in keys]


def finding_table(rows: Sequence[tuple[str, Finding]]) -> Table:
    """Findings in the given order; left and right of the same limit share a line when they agree."""
    from rich.table import Table

    table = Table(box=None, padding=(0, 1, 0, 0), header_style="dim", pad_edge=False)
    for heading in ("grade", "case", "part", "limit", "found", "allowed", "headroom"):
        right = heading in ("found", "allowed", "headroom")
        table.add_column(heading, justify="right" if right else "left", no_wrap=heading not in ("part", "limit"), overflow="fold")
    for line in words.merged(rows):
        finding = line.finding
        table.add_row(
            _grade(finding),
            words.printable(line.case),
            line.name,
            finding.limit,
            words.value_text(finding.value, finding.unit),
            words.allowed_text(finding),
            _room(finding),
        )
    return table


def _grade(finding: Finding) -> RenderableType:
    from rich.text import Text

    return Text(finding.grade, style=COLOURS[finding.grade])


def _room(finding: Finding) -> RenderableType:
    """Headroom as a number and a bar: filled from the left when there is room, pointing left when there is none."""
    from rich.text import Text

    if finding.headroom is None:
        return Text("–" + " " * (BAR + 1))
    cells = min(round(abs(finding.headroom) * BAR + 0.3), BAR)
    mark = "█" if finding.headroom >= 0 else "◂"
    return Text.assemble(words.headroom_text(finding), " ", (mark * cells + "·" * (BAR - cells), COLOURS[finding.grade]))


def held(result: CheckResult) -> Iterator[str]:
    """One line a case: how many limits hold, and the tightest of them."""
    for case in result.cases:
        kept = [finding for finding in case.findings if finding.grade == "holds"]
        tight = [finding for finding in kept if finding.headroom is not None]
        if kept:
            least = min(tight, key=lambda finding: finding.headroom or 0.0) if tight else None
            more = f"; tightest: {words.comparison(least)} ({words.headroom_text(least)})" if least else ""
            yield f"{words.printable(case.name)}: {len(kept)} {'limit holds' if len(kept) == 1 else 'limits hold'}{more}"


def _advice_head(item: words.Advice) -> RenderableType:
    from rich.text import Text

    return Text.assemble((item.worst.grade, COLOURS[item.worst.grade]), " ", (f"{item.places}: {item.worst.limit}", "bold"))


class Watch:
    """Progress of a check; called by the engine with deck index, simulated time so far and time aimed at [s]."""

    def __init__(self, bars: Progress | None, names: Sequence[str] = ()) -> None:
        self._bars, self._names = bars, tuple(names)
        self._tasks: dict[int | str, TaskID] = {}

    def __call__(self, index: int, reached: float, target: float) -> None:
        """One deck has come as far as `reached`; equal to `target` it has ended."""
        if self._bars is None:
            return
        if index not in self._tasks:
            name = self._names[index] if index < len(self._names) else str(index + 1)
            self._tasks[index] = self._bars.add_task(f"case {words.printable(name)}", note="")
        self._bars.update(self._tasks[index], completed=reached, total=target, note=f"{1e3 * reached:.2f} of {1e3 * target:.2f} ms")

    def note(self, text: str) -> None:
        """What is being done now, beside the cases."""
        if self._bars is None:
            return
        if "note" not in self._tasks:
            self._tasks["note"] = self._bars.add_task(text, total=None, note="")
        self._bars.update(self._tasks["note"], description=words.printable(text))


@contextmanager
def progress(hushed: bool = False, names: Sequence[str] = (), stream: TextIO | None = None) -> Iterator[Watch]:
    """Bars on standard error while the block runs, gone when it ends; nothing when hushed or not on a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = Console(file=stream or sys.stderr, highlight=False, markup=False)
    if hushed or not console.is_terminal:
        yield Watch(None)
        return
    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(28),
        TextColumn("{task.fields[note]}", markup=False),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=console, transient=True) as bars:
        yield Watch(bars, names)
