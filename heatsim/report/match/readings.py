# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim match` shows and writes of meter readings: terminal, and a folder with page, fitted scenario and results.json."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from pathlib import Path
from typing import Any, TextIO

from heatsim.errors import printable
from heatsim.report.base.page import template
from heatsim.report.base.plain import json_file, write_files
from heatsim.report.base.terminal import print_lines, wrapped
from heatsim.report.match import readings_words, words
from heatsim.report.match.terminal import closing, fitted_check
from heatsim.studies.match.readings import ReadingsResult

LABEL, FITTED_LABEL = 44, 37
"""Columns of the labels of readings and of fitted quantities."""


def show_readings(result: ReadingsResult, stream: TextIO | None = None) -> None:
    """Print a result to `stream` (standard output), in signs it has."""
    print_lines(_lines(result), stream)


def plain_readings(result: ReadingsResult) -> dict[str, Any]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"answer": readings_words.answer(result)}


def write_readings(result: ReadingsResult, out: Path) -> list[Path]:
    """Write the folder and return its files, the page first. Raises OutputError when it cannot be written."""
    tone = "holds" if result.consistent else "fails"
    page = template("readings.html").render(result=result, words=words, own=readings_words, tone=tone)
    content: dict[str, str | bytes] = {"fitted.toml": result.fitted, "results.json": json_file(plain_readings(result))}
    return write_files(out, {"index.html": page} | content, [])


def _lines(result: ReadingsResult) -> Iterator[str]:
    yield from wrapped(f"{printable(result.scenario.name)}: what do the readings tell?")
    yield from wrapped(readings_words.answer(result))
    yield ""
    yield from _readings(result)
    if result.consistent:
        yield from _fitted(result)
        yield from _next(result)
        yield from fitted_check(result)
    else:
        yield from wrapped(readings_words.CHECK_FIRST, "  ", "  ")
    yield from closing(result)


def _readings(result: ReadingsResult) -> Iterator[str]:
    yield f"{'':<{LABEL}}{'reading':>20}{'scenario':>12}{'fitted':>12}{'off by':>8}"
    for label, value, expected, fitted, off, source in readings_words.reading_rows(result):
        first, *more = textwrap.wrap(label, LABEL - 2, break_on_hyphens=False)
        yield f"{first:<{LABEL}}{value:>20}{expected:>12}{fitted:>12}{off:>8}"
        yield from (f"  {text}" for text in [*more, f"error: {source}"])
    yield from wrapped(readings_words.LEFT_OUT, "  ", "  ")
    yield from wrapped(readings_words.ERRORS, "  ", "  ")
    for text in readings_words.departures(result):
        yield from wrapped(f"Stands out from the ordinary spread: {text}.", "  ", "  ")


def _fitted(result: ReadingsResult) -> Iterator[str]:
    yield ""
    yield f"{'':<{FITTED_LABEL}}{'fitted':>10}  {'95 % interval':<21}{'scenario':>10}  from the readings"
    for label, value, interval, expected, told in words.estimate_rows(result.estimates):
        first, *more = textwrap.wrap(label, FITTED_LABEL - 2, break_on_hyphens=False)
        yield f"{first:<{FITTED_LABEL}}{value:>10}  {interval:<21}{expected:>10}  {told}"
        yield from (f"  {text}" for text in more)
    for tied in result.tied:
        yield from wrapped(words.tied_sentence(tied, result.estimates), "- ", "  ")
    if words.untold(result.estimates):
        yield from wrapped(words.UNTOLD.format("the readings do"), "- ", "  ")


def _next(result: ReadingsResult) -> Iterator[str]:
    yield ""
    yield "What to read next"
    for each in result.proposals:
        yield from wrapped(readings_words.proposal(each, bool(result.free)), "- ", "  ")
    if not result.proposals:
        yield from wrapped(readings_words.NOTHING_MORE, "  ", "  ")
