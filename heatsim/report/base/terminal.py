# SPDX-License-Identifier: GPL-3.0-or-later
"""What the command line shows: blocks and tables, and what was written.

Reads well at 80 columns, in a pipe and without colour: every grade is a word, every bar has its number.
"""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Generic, TextIO, TypeVar

from heatsim.errors import printable
from heatsim.files import shown_path

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

Progressed = TypeVar("Progressed")

COLOURS = {"holds": "green", "marginal": "yellow", "fails": "bold red", "unknown": "magenta"}
"""Style of each grade; the word itself is always there too."""

ASCII = str.maketrans("–−≤≥×█▏·◂→─━’—²", "--<>x#|.<>--'-2") | {
    ord(sign): text for sign, text in (("µ", "u"), ("Ω", "ohm"), ("°", "deg "), ("…", ".."), ("±", "+-"))
}
"""For outputs that know no other signs."""

WIDTH, NARROWEST = 100, 40
"""Columns of running text, and of the narrowest terminal."""


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


def room() -> int:
    """Columns of running text: those of the terminal, WIDTH at most and where there is none."""
    shown = "COLUMNS" in os.environ or (sys.stdout is not None and sys.stdout.isatty())
    return max(min(WIDTH, shutil.get_terminal_size((WIDTH, 24)).columns), NARROWEST) if shown else WIDTH


def wrapped(text: str, first: str = "", then: str = "") -> Iterator[str]:
    """Lines of a text, as wide as there is room; first, then: before the first line and the others."""
    width = room()
    then = then if len(then) < width // 2 else " " * 4
    yield from textwrap.wrap(text, width, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)


def stacked(heading: str, cells: Iterable[tuple[str, str]]) -> Iterator[str]:
    """A row of a table as running text, where there is no room for its columns. cells: heading and content of each."""
    told = [f"{name} {content}".strip() for name, content in cells if content.strip()]
    yield from wrapped(f"{heading.strip()}: {', '.join(told)}", "  ", "    ")


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


class Latest(Generic[Progressed]):
    """Shows the progress of a study, and keeps the latest."""

    def __init__(self, show: Callable[[Progressed], None]) -> None:
        self._show = show
        self.latest: Progressed | None = None

    def __call__(self, progress: Progressed) -> None:
        self.latest = progress
        self._show(progress)
