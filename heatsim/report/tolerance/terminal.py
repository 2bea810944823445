# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim tolerance` shows: progress, the answer in words, what is toleranced, and how the tightest limits spread."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base import terminal
from heatsim.report.base.live import AT_MOST, Line, Remaining, live
from heatsim.report.base.words import SAFETY
from heatsim.report.tolerance import words
from heatsim.studies.tolerance import ToleranceProgress, ToleranceResult

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

TIGHTEST = 5
"""Limits in the table."""


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[terminal.Latest[ToleranceProgress]]:
    """How far it is, on standard error while the block runs."""
    remaining = Remaining()

    def lines(now: ToleranceProgress) -> list[Line]:
        share = now.samples / now.most
        known = "" if now.share is None else f"{100 * now.share.value:.3g} % ± {100 * now.share.error:.2g} % keep every limit"
        return [Line([f"{now.samples} of at most {now.most} heaters", known], share, remaining.at(share), AT_MOST)]

    with live(hushed, stream) as update:
        yield terminal.Latest(lambda now: update(lines(now)))


def done_words(latest: ToleranceProgress | None) -> str:
    """How much is done: "30 heaters"; empty when that is not known."""
    return f"{latest.samples} heater{'s' if latest.samples > 1 else ''}" if latest and latest.samples else ""


def show(result: ToleranceResult, stream: TextIO | None = None, width: int | None = None) -> None:
    """Print the answer and what it rests on."""
    terminal.print_blocks(_blocks(result), stream, width)


def _blocks(result: ToleranceResult) -> Iterator[RenderableType]:
    from rich.text import Text

    yield Text(printable(f"{result.scenario.name}, case {' and '.join(result.cases)}: parts within their tolerances"), style="bold")
    first, *more = words.sentences(result)
    yield Text(first, style="bold")
    yield Text(" ".join(more))
    yield from (Text(text) for text in words.doubts(result))
    yield ""
    yield toleranced_table(result)
    if result.spreads:
        yield ""
        yield spread_table(result)
    yield ""
    yield Text(" ".join(words.how_sure(result)))
    yield Text(f"In {result.wall_s:.1f} s. {SAFETY}", style="dim")


def toleranced_table(result: ToleranceResult) -> Table:
    """A line a field: its band, and what it does to the least headroom."""
    made = terminal.table(("field",), "field", "share", "moves", wide=("field",))
    found = words.influences(result)
    for place, band in enumerate(result.bands):
        one = found.get(band.field.path)
        numbers = ("–", "–") if one is None else (f"{100 * one.total:.0f} %", words.moves_text(one.moves))
        made.add_row(printable(words.band_words(result, band, place)), *numbers)
    return made


def spread_table(result: ToleranceResult) -> Table:
    """The tightest limits: headroom nominal, and where nine heaters in ten lie."""
    headings = ("tightest limits", "nominal", "nine in ten within", "known to")
    made = terminal.table(headings[:1], *headings, wide=headings[:1])
    moving = [one for one in words.of_limits(result) if one.deviation > 0]
    for one in moving[:TIGHTEST]:
        made.add_row(*map(printable, words.spread_row(result, one, True)[:4]))
    return made
