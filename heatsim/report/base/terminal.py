# SPDX-License-Identifier: GPL-3.0-or-later
"""What the command line shows: blocks and tables, progress while it works, and what was written.

Reads well at 80 columns, in a pipe and without colour: every grade is a word, every bar has its number.
"""

from __future__ import annotations

import sys
import textwrap
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TextIO, TypeVar

from heatsim.errors import printable
from heatsim.files import shown_path

if TYPE_CHECKING:
    from rich.console import Console, RenderableType
    from rich.progress import Progress, TaskID
    from rich.table import Table

Progressed = TypeVar("Progressed")

COLOURS = {"holds": "green", "marginal": "yellow", "fails": "bold red", "unknown": "magenta"}
"""Style of each grade; the word itself is always there too."""

ASCII = str.maketrans("–−≤≥×█▏·◂→─━’—²", "--<>x#|.<>--'-2") | {
    ord(sign): text for sign, text in (("µ", "u"), ("Ω", "ohm"), ("°", "deg "), ("…", ".."), ("±", "+-"))
}
"""For outputs that know no other signs."""

WIDTH = 100
"""Columns of running text."""

EVERY = 30.0
"""Seconds between two lines of progress where there is no terminal."""


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
    encoding, text = getattr(target, "encoding", None) or "utf-8", "\n".join(line.rstrip() for line in text.split("\n"))
    try:
        text.encode(encoding)
    except UnicodeEncodeError:
        text = text.translate(ASCII).encode(encoding, "replace").decode(encoding)
    target.write(text)
    target.flush()


def show_files(files: Sequence[Path], stream: TextIO | None = None) -> None:
    """Say what was written: of each folder the first file, and how many lie beside it."""
    folders = {path.parent: [each for each in files if each.parent == path.parent] for path in files}
    for first, *others in folders.values():
        beside = f", and {len(others)} more beside it" if others else ""
        print_text(f"Written: {shown_path(first)}{beside}\n", stream)


def print_lines(lines: Iterable[str], stream: TextIO | None = None) -> None:
    """Print lines, none of which can steer a terminal, in signs that the stream (standard output) has."""
    print_text("".join(f"{printable(line)}\n" for line in lines), stream)


def wrapped(text: str, first: str = "", then: str = "") -> Iterator[str]:
    """Lines of a text of at most WIDTH columns; first, then: before the first line and the others."""
    yield from textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)


def columns(stream: TextIO | None = None) -> int:
    """Columns of the terminal that a stream (standard output) is, 80 where it is none."""
    from rich.console import Console

    return Console(file=stream or sys.stdout).width


def table(left: Iterable[str], *headings: str, wide: Iterable[str] = (), gap: int = 2) -> Table:
    """A table without lines. left: headings of columns of words, the others are numbers; wide: those that may wrap; gap: blanks
    between columns.
    """
    from rich.table import Table

    made = Table(box=None, padding=(0, gap, 0, 0), header_style="dim", pad_edge=False)
    for heading in headings:
        side = "left" if heading in left else "right"
        made.add_column(printable(heading), justify=side, no_wrap=heading not in wide, overflow="fold")  # type: ignore[arg-type]
    return made


def _terminal(hushed: bool, stream: TextIO | None) -> Console | None:
    """Standard error (or the stream) if it is a terminal and may be written to."""
    from rich.console import Console

    console = Console(file=stream or sys.stderr, highlight=False, markup=False)
    return None if hushed or not console.is_terminal else console


class Latest(Generic[Progressed]):
    """Shows the progress of a study, and keeps the latest."""

    def __init__(self, show: Callable[[Progressed], None]) -> None:
        self._show = show
        self.latest: Progressed | None = None

    def __call__(self, progress: Progressed) -> None:
        self.latest = progress
        self._show(progress)


@contextmanager
def status_line(hushed: bool = False, stream: TextIO | None = None) -> Iterator[Callable[[str], None]]:
    """A line on standard error that renews itself while the block runs, gone when it ends; none off a terminal."""
    console = _terminal(hushed, stream)
    if console is None:
        yield lambda text: None
        return
    with console.status("starting") as status:
        yield lambda text: status.update(printable(text))


@contextmanager
def live_lines(hushed: bool = False, stream: TextIO | None = None) -> Iterator[Callable[[RenderableType, str, bool], None]]:
    """Lines on standard error that renew themselves on a terminal; off it the plain text now and then, and when it is the last."""
    from rich.live import Live

    console, due = _terminal(hushed, stream), 0.0

    def plain(_: RenderableType, text: str, last: bool) -> None:
        nonlocal due
        if not hushed and (last or time.monotonic() >= due):
            due = time.monotonic() + EVERY
            print_blocks([printable(text)], stream or sys.stderr, width=200)

    if console is None:
        yield plain
        return
    with Live(console=console, transient=True, refresh_per_second=4) as live:
        yield lambda block, text, last: live.update(block)


class Watch:
    """Progress of a check; called by the engine with deck index, simulated time so far and time aimed at [s]."""

    def __init__(self, bars: Progress, names: Sequence[str] = ()) -> None:
        self._bars, self._names = bars, tuple(names)
        self._tasks: dict[int | str, TaskID] = {}

    def __call__(self, index: int, reached: float, target: float) -> None:
        """One deck has come as far as `reached`; equal to `target` it has ended."""
        if index not in self._tasks:
            name = self._names[index] if index < len(self._names) else str(index + 1)
            self._tasks[index] = self._bars.add_task(f"case {printable(name)}", note="")
        self._bars.update(self._tasks[index], completed=reached, total=target, note=f"{1e3 * reached:.2f} of {1e3 * target:.2f} ms")

    def note(self, text: str) -> None:
        """What is being done now, beside the cases."""
        if "note" not in self._tasks:
            self._tasks["note"] = self._bars.add_task(text, total=None, note="")
        self._bars.update(self._tasks["note"], description=printable(text))


@contextmanager
def progress(hushed: bool = False, names: Sequence[str] = (), stream: TextIO | None = None) -> Iterator[Watch]:
    """Bars on standard error while the block runs, gone when it ends; nothing when hushed or not on a terminal."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    console = _terminal(hushed, stream)
    name, note = (TextColumn(text, markup=False) for text in ("{task.description}", "{task.fields[note]}"))
    columns = (name, BarColumn(28), note, TimeElapsedColumn())
    with Progress(*columns, console=console or Console(quiet=True), transient=True, disable=not console) as bars:
        yield Watch(bars, names)
