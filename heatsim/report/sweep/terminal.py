# SPDX-License-Identifier: GPL-3.0-or-later
"""What the command line shows of sweeps: how far one is while it runs, what it found, what a store holds."""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TextIO

import numpy as np

from heatsim.errors import printable
from heatsim.files import shown_path
from heatsim.report.base import terminal
from heatsim.report.base.live import Line, live
from heatsim.report.base.terminal import COLOURS, print_blocks
from heatsim.report.base.words import SAFETY, duration, field_words, limit_words, outdated_words, percent
from heatsim.report.sweep.summary import causes, deciding, followed, lost
from heatsim.report.sweep.view import SweepView
from heatsim.studies.points import Point
from heatsim.studies.store import SweepInfo
from heatsim.studies.sweep import SweepProgress, SweepResult, Worst
from heatsim.verdict.finding import SEVERITY

if TYPE_CHECKING:
    from rich.console import RenderableType

ROWS = 8
"""Limits in the table of what decides, at most."""


def point_words(point: Point) -> str:
    """A point in words: "supply voltage 42 V, workpiece share 50 % (loaded)"."""
    fields = ", ".join(f"{field_words(field)} {value}" for field, value in point.fields)
    return printable(f"{fields} ({point.case})")


def done_parts(now: SweepProgress) -> list[str]:
    """How far a sweep is, without the time left."""
    parts = [f"{now.done:,} of {now.total:,} points"]
    parts += [f"{now.failed:,} without a result"] if now.failed else []
    return parts + ([f"{now.rate:.3g} a second"] if now.rate is not None and now.done < now.total else [])


def worst_parts(worst: Worst | None) -> list[str]:
    """The worst headroom so far, what it is of, and where."""
    if worst is None:
        return []
    of = [limit_words(worst.ends)] if worst.ends else []
    return [f"least headroom {percent(worst.headroom, 1)}", *of, *([point_words(worst.point)] if worst.point is not None else [])]


def progress_lines(now: SweepProgress, told: float) -> list[Line]:
    """How far a sweep is, and below that what is being done or the worst point so far; told: when it was so, as by
    `time.monotonic`."""
    ends = told + now.left_s if now.left_s is not None and now.done < now.total else None
    below = Line([now.note]) if now.note else Line(worst_parts(now.worst), aside=True)
    return [Line(done_parts(now), now.done / max(now.total, 1), ends), below]


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[terminal.Latest[SweepProgress]]:
    """Progress on standard error while the block runs: two lines that renew themselves and are gone at the end on a terminal,
    a line now and then elsewhere, nothing when hushed.
    """
    with live(hushed, stream, patience=0.0) as update:
        yield terminal.Latest(lambda now: update(progress_lines(now, time.monotonic()), now.done == now.total))


def done_words(latest: SweepProgress | None) -> str:
    """How much is done: "700 of 1,400 points"; empty when that is not known."""
    return f"{latest.done:,} of {latest.total:,} points" if latest and latest.done else ""


def show(result: SweepResult, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print what a sweep found: grades, what decides, points without a result, and where the store lies."""
    print_blocks(_result(result), stream, width)


def _result(result: SweepResult) -> Iterator[RenderableType]:
    from rich.text import Text

    view = SweepView(result.as_dict()["plan"], result.frame())
    progress = result.progress
    yield Text(f"{view.name}: {' · '.join(done_parts(progress))}", style="bold")
    changed = result.stale - result.outdated
    if changed > 0:
        yield Text(
            f"{changed:,} older points in the store belong to another version of this file. They are not used and stay there "
            "under their own sweeps."
        )
    if result.outdated:
        yield Text(f"{outdated_words(result.outdated)} and stay there under their own sweeps.")
    yield ""
    yield grade_table(view)
    yield ""
    yield decides_table(view)
    yield from not_whole(view)
    yield ""
    yield Text(f"Store: {shown_path(result.store)}, sweep {result.number}", no_wrap=True, overflow="ignore")
    rate = f"{result.evaluated / result.wall_s:.3g} a second"
    work = f"{result.evaluated:,} points simulated in {duration(result.wall_s)} ({rate})."
    yield Text(f"{work if result.evaluated else 'Nothing was left to simulate.'} {SAFETY}", style="dim")


def grade_table(view: SweepView) -> RenderableType:
    """How many points have each grade, case by case."""
    from rich.text import Text

    table = terminal.table(("grade",), "grade", *view.cases)
    grades = view.cube(view.texts("grade")).reshape(len(view.cases), -1)
    for grade in sorted(SEVERITY, key=lambda name: SEVERITY[name]):
        counts = (grades == grade).sum(axis=1)
        if counts.any():
            shares = [f"{count:,}  {100 * count / grades.shape[1]:3.0f} %" for count in counts]
            table.add_row(Text(grade, style=COLOURS[grade]), *shares)
    return table


def decides_table(view: SweepView) -> RenderableType:
    """Which limits decide, at how many points, and where each leaves least."""
    words = ("decides", "there")
    table = terminal.table(words, words[0], "points", "least headroom", words[1], wide=words)
    for one in deciding(view)[:ROWS]:
        least = percent(one.least, 1) if np.isfinite(one.least) else "fails"
        table.add_row(one.limit, f"{one.count:,}", least, view.where(one.place))
    return table


def not_whole(view: SweepView) -> Iterator[RenderableType]:
    """Points without a result, by cause, and how many points are known in their steady state only."""
    from rich.text import Text

    if lost(view):
        yield ""
        yield Text(f"{lost(view):,} points have no result:")
        yield from (Text(f"  {cause}") for cause in causes(view))
    if followed(view):
        yield ""
        yield Text(followed(view))


def status_data(path: Path, sweeps: Sequence[SweepInfo]) -> dict[str, Any]:
    """What a store holds, as plain data."""
    return {
        "schema": "heatsim.sweeps/1",
        "store": str(path),
        "sweeps": [
            {name: getattr(sweep, name) for name in ("number", "plan", "total", "done", "failed")}
            | {"grades": dict(sweep.grades), "least_headroom": sweep.least_headroom, "started": sweep.started.isoformat()}
            | {"last_put": sweep.last_put and sweep.last_put.isoformat(), "made_with": sweep.made_with, "current": sweep.current}
            for sweep in sweeps
        ],
    }


def show_store(path: Path, sweeps: Sequence[SweepInfo], stream: TextIO | None = None, width: int | None = None) -> None:
    """Print what a store holds: how far each sweep is, then what each varies."""
    print_blocks(_store(path, sweeps), stream, width)


def _store(path: Path, sweeps: Sequence[SweepInfo]) -> Iterator[RenderableType]:
    if not sweeps:
        yield f"{shown_path(path)}: no sweep yet"
        return
    table = terminal.table((), "sweep", "points", "done", "without result", "least headroom", "last result")
    for sweep in sweeps:
        last = "–" if sweep.last_put is None else f"{sweep.last_put.astimezone():%Y-%m-%d %H:%M}"
        counts = (f"{count:,}" for count in (sweep.total, sweep.done, sweep.failed))
        table.add_row(str(sweep.number), *counts, percent(sweep.least_headroom, 1), last)
    yield table
    yield ""
    for sweep in sweeps:
        file = printable(str(sweep.plan.get("scenario", {}).get("file", "")))
        yield f"Sweep {sweep.number}: {varied_words(sweep.plan)} of {file}"
    yield from _outdated(sweeps)


def _outdated(sweeps: Sequence[SweepInfo]) -> Iterator[RenderableType]:
    """Which sweeps today's heatsim would not compute alike."""
    by_maker: dict[str, list[str]] = {}
    for sweep in (sweep for sweep in sweeps if not sweep.current):
        made = sweep.made_with
        maker = f"heatsim {made['heatsim']} with {made['simulator'] or 'no simulator'}" if made else "an earlier heatsim"
        by_maker.setdefault(maker, []).append(str(sweep.number))
    for maker, numbers in by_maker.items():
        which = f"Sweep {numbers[0]} was" if len(numbers) == 1 else f"Sweeps {', '.join(numbers[:-1])} and {numbers[-1]} were"
        yield printable(
            f"{which} computed by {maker}, other than today's. Their points can be shown, exported and drawn; a new run of the "
            "same sweep computes them again."
        )


def varied_words(plan: Mapping[str, Any]) -> str:
    """What a sweep varies: "supply voltage × load, 64 samples of 3 tolerances"."""
    groups = [" with ".join(field_words(axis["field"]) for axis in group) for group in plan.get("groups", [])]
    samples = plan.get("samples")
    found = [" × ".join(groups)] if groups else []
    if samples:
        found.append(f"{samples['count']} samples of {', '.join(field_words(band['field']) for band in samples['fields'])}")
    return printable(", ".join(found))
