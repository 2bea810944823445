# SPDX-License-Identifier: GPL-3.0-or-later
"""What the command line shows of sweeps: how far one is while it runs, what it found, what a store holds."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import numpy as np

from heatsim.report.base.terminal import COLOURS, print_blocks
from heatsim.report.base.words import printable
from heatsim.report.sweep.view import SweepView, either_side, ends_words, field_words
from heatsim.studies.points import Point
from heatsim.studies.store import FAILED, SweepInfo
from heatsim.studies.sweep import SweepProgress, SweepResult, Worst
from heatsim.verdict.finding import SEVERITY

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.live import Live
    from rich.table import Table

PLAIN_EVERY = 30.0
"""Seconds between two lines of progress where there is no terminal."""

BAR = 28
"""Cells of the progress bar."""

ROWS = 8
"""Limits in the table of what decides, at most."""


def duration(seconds: float | None) -> str:
    """Time for a person: "8 s", "2 min 05 s", "3 h 20 min", "4 d 02 h"."""
    if seconds is None:
        return "–"
    minutes, rest = divmod(round(seconds), 60)
    hours, days = minutes // 60, minutes // 1440
    if days:
        return f"{days} d {hours % 24:02d} h"
    if hours:
        return f"{hours} h {minutes % 60:02d} min"
    return f"{minutes} min {rest:02d} s" if minutes else f"{rest} s"


def percent(ratio: float | None) -> str:
    """Headroom with its sign."""
    return "–" if ratio is None or not np.isfinite(ratio) else f"{100 * ratio:+.1f} %".replace("-", "−")


def point_words(point: Point) -> str:
    """A point in words: "supply voltage 42 V, workpiece share 50 % (loaded)"."""
    told = ", ".join(f"{field_words(field)} {value}" for field, value in point.fields)
    return printable(f"{told} ({point.case})")


def progress_line(told: SweepProgress) -> str:
    """How far a sweep is, in one line."""
    parts = [f"{told.done:,} of {told.total:,} points"]
    if told.rate is not None and told.done < told.total:
        parts += [f"{told.rate:.3g} a second", f"{duration(told.left_s)} left"]
    if told.failed:
        parts.append(f"{told.failed:,} without a result")
    return " · ".join(parts)


def worst_line(worst: Worst | None) -> str:
    """The worst headroom so far and where."""
    if worst is None:
        return ""
    where = f" at {point_words(worst.point)}" if worst.point is not None else ""
    ends = f", {ends_words(worst.ends)}" if worst.ends else ""
    return f"least headroom {percent(worst.headroom)}{ends}{where}"


class SweepWatch:
    """Shows the progress of a sweep: two lines that renew themselves on a terminal, a line now and then elsewhere."""

    def __init__(self, live: Live | None, stream: TextIO | None) -> None:
        self._live, self._stream = live, stream
        self._next = 0.0
        self.latest: SweepProgress | None = None

    def __call__(self, told: SweepProgress) -> None:
        self.latest = told
        if self._live is not None:
            self._live.update(_Lines(told))
        elif self._stream is not None and (time.monotonic() >= self._next or told.done == told.total):
            self._next = time.monotonic() + PLAIN_EVERY
            print_blocks([f"{progress_line(told)}{f' · {told.note}' if told.note else ''}"], self._stream, width=200)


class _Lines:
    """The two lines, drawn anew whenever the terminal asks, so that the bar fits it."""

    def __init__(self, told: SweepProgress) -> None:
        self.told = told

    def __rich__(self) -> RenderableType:
        from rich.console import Group
        from rich.progress_bar import ProgressBar
        from rich.table import Table
        from rich.text import Text

        line = Table.grid(padding=(0, 2, 0, 0))
        line.add_row(ProgressBar(total=max(self.told.total, 1), completed=self.told.done, width=BAR), progress_line(self.told))
        below = self.told.note or worst_line(self.told.worst)
        return Group(line, Text(below, style="dim", no_wrap=True, overflow="ellipsis"))


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[SweepWatch]:
    """Progress on standard error while the block runs, gone from a terminal when it ends; none when hushed."""
    from rich.console import Console
    from rich.live import Live

    target = stream or sys.stderr
    console = Console(file=target, highlight=False, markup=False)
    if hushed or not console.is_terminal:
        yield SweepWatch(None, None if hushed else target)
        return
    with Live(console=console, transient=True, refresh_per_second=4) as live:
        yield SweepWatch(live, None)


def show(result: SweepResult, files: Sequence[Path] = (), stream: TextIO | None = None, width: int | None = None) -> None:
    """Print what a sweep found: grades, what decides, points without a result, and where everything lies."""
    print_blocks(_result(result, files), stream, width)


def _result(result: SweepResult, files: Sequence[Path]) -> Iterator[RenderableType]:
    from rich.text import Text

    view = SweepView(result.as_dict()["plan"], result.frame())
    progress = result.progress
    yield Text(f"{view.name}: {progress_line(progress)}", style="bold")
    if result.stale > result.outdated:
        yield Text(
            f"{result.stale - result.outdated:,} older points in the store are of another version of this file and do not match; "
            "they stay there under their own sweeps."
        )
    if result.outdated:
        yield Text(
            f"{result.outdated:,} older points in the store were computed by another version of heatsim, its models or the "
            "simulator. They are not used and stay there under their own sweeps."
        )
    yield ""
    yield grade_table(view)
    yield ""
    yield decides_table(view)
    yield from causes(view)
    yield ""
    for path in files:
        yield Text(f"Written: {path}", no_wrap=True, overflow="ignore")
    yield Text(f"Store: {result.store}, sweep {result.number}", no_wrap=True, overflow="ignore")
    told = f"{result.evaluated:,} points evaluated in {duration(result.wall_s)} ({result.evaluated / result.wall_s:.3g} a second)."
    told = told if result.evaluated else "Nothing was left to evaluate."
    yield Text(f"{told} A simulation does not make a build safe.", style="dim")


def grade_table(view: SweepView) -> RenderableType:
    """How many points have each grade, case by case."""
    from rich.text import Text

    table = _table("grade", *view.cases)
    grades = view.cube(view.texts("grade")).reshape(len(view.cases), -1)
    for grade in sorted(SEVERITY, key=lambda name: SEVERITY[name]):
        counts = (grades == grade).sum(axis=1)
        if counts.any():
            shares = [f"{count:,}  {100 * count / grades.shape[1]:3.0f} %" for count in counts]
            table.add_row(Text(grade, style=COLOURS[grade]), *shares)
    return table


def decides_table(view: SweepView) -> RenderableType:
    """Which limits decide, at how many points, and where each leaves least."""
    table = _table("decides", "points", "least headroom", "there")
    words = np.array([either_side(text) if text else "" for text in view.texts("ends")], dtype=object)
    headroom = view.column("headroom")
    rows = []
    for limit in sorted(set(words) - {""}):
        places = np.flatnonzero(words == limit)
        known = places[np.isfinite(headroom[places])]
        worst = int(known[np.argmin(headroom[known])]) if len(known) else int(places[0])
        rows.append((headroom[worst] if len(known) else -np.inf, limit, len(places), worst))
    for least, limit, count, worst in sorted(rows)[:ROWS]:
        table.add_row(limit, f"{count:,}", percent(least) if np.isfinite(least) else "fails", view.where(worst))
    return table


def causes(view: SweepView) -> Iterator[RenderableType]:
    """Points without a result, by cause."""
    from rich.text import Text

    outcomes, details = view.texts("outcome"), view.texts("outcome_detail")
    lost = np.flatnonzero(np.isin(outcomes, FAILED))
    if not len(lost):
        return
    yield ""
    yield Text(f"{len(lost):,} points have no result:")
    by_cause: dict[str, list[int]] = {}
    for place in lost:
        by_cause.setdefault(f"{outcomes[place]}: {printable(details[place])[:300]}", []).append(int(place))
    for cause, places in sorted(by_cause.items(), key=lambda item: -len(item[1]))[:ROWS]:
        yield Text(f"  {len(places):,} × {cause}, first at {view.where(places[0])}")


def say_interrupted(latest: SweepProgress | None, store: Path, stream: TextIO | None = None) -> None:
    """How to go on after an interruption."""
    done = f" {progress_line(latest)} are in {store}." if latest is not None and latest.done else ""
    print_blocks([f"heatsim: interrupted.{done} Run the same command again to continue."], stream or sys.stderr)


def status_data(path: Path, sweeps: Sequence[SweepInfo]) -> dict[str, Any]:
    """What a store holds, as plain data."""
    return {
        "schema": "heatsim.sweeps/1",
        "store": str(path),
        "sweeps": [
            {
                "number": told.number,
                "plan": told.plan,
                "total": told.total,
                "done": told.done,
                "failed": told.failed,
                "grades": dict(told.grades),
                "least_headroom": told.least_headroom,
                "started": told.started.isoformat(),
                "last_put": told.last_put and told.last_put.isoformat(),
            }
            for told in sweeps
        ],
    }


def show_store(path: Path, sweeps: Sequence[SweepInfo], stream: TextIO | None = None, width: int | None = None) -> None:
    """Print what a store holds: a line for each sweep."""
    print_blocks(_store(path, sweeps), stream, width)


def _store(path: Path, sweeps: Sequence[SweepInfo]) -> Iterator[RenderableType]:
    if not sweeps:
        yield f"{path}: no sweep yet"
        return
    table = _table("sweep", "of", "varied", "points", "done", "without result", "least headroom", "last result")
    for told in sweeps:
        scenario = told.plan.get("scenario", {})
        table.add_row(
            str(told.number),
            printable(f"{scenario.get('file', '')}"),
            varied_words(told.plan),
            f"{told.total:,}",
            f"{told.done:,}",
            f"{told.failed:,}",
            percent(told.least_headroom),
            "–" if told.last_put is None else f"{told.last_put.astimezone():%Y-%m-%d %H:%M}",
        )
    yield table


def varied_words(plan: Mapping[str, Any]) -> str:
    """What a sweep varies: "supply voltage × load, 64 samples of 3 tolerances"."""
    told = [" with ".join(field_words(axis["field"]) for axis in group) for group in plan.get("groups", [])]
    samples = plan.get("samples")
    found = [" × ".join(told)] if told else []
    if samples:
        found.append(f"{samples['count']} samples of {', '.join(field_words(told['field']) for told in samples['fields'])}")
    return printable(", ".join(found))


def _table(*headings: str) -> Table:
    from rich.table import Table

    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim", pad_edge=False)
    words = ("grade", "decides", "there", "of", "varied")
    for heading in headings:
        table.add_column(printable(heading), justify="left" if heading in words else "right")
    return table


__all__ = ["SweepWatch", "duration", "progress_line", "say_interrupted", "show", "show_store", "status_data", "watching"]
