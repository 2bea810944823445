# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim match` shows: progress, then the answer, what was read, the causes, the fit, and what to do."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import TextIO

from heatsim.errors import printable
from heatsim.report.base.live import steps
from heatsim.report.base.terminal import WIDTH, print_lines, room, stacked, wrapped
from heatsim.report.base.words import SAFETY, sentence_case
from heatsim.report.match import beside, words
from heatsim.studies.match import NONE_OF_THESE, CauseCandidate, MatchResult, Record
from heatsim.studies.match.readings import ReadingsResult

LABEL = 35
"""Columns of the label in the table of fitted quantities."""

RANKING = 78
"""Columns of the table of causes without what is remarked on them."""


watching = steps
"""Shows what is being done; see `heatsim.report.base.live`."""


def show(result: MatchResult, stream: TextIO | None = None) -> None:
    """Print a result to `stream` (standard output), in signs it has."""
    print_lines(lines(result), stream)


def lines(result: MatchResult) -> Iterator[str]:
    """The text, line by line."""
    yield from wrapped(f"{printable(result.scenario.name)}: what explains {words.captures(result)}?")
    yield from wrapped(words.answer(result))
    for text in (*words.contradiction_sentences(result), *beside.against(result), *words.not_ranked_sentences(result)):
        yield from wrapped(text)
    for record in result.records:
        yield ""
        yield from _record(record)
    yield ""
    yield from _ranking(result)
    yield from wrapped(words.RANKED_ONLY if result.outside else words.TRUST, "  ", "  ")
    yield from _beside(result)
    if result.outside:
        yield from _outside(result)
    else:
        for candidate in words.alike(result):
            yield from _explained(candidate, result.decided)
    if result.spread:
        yield ""
        yield from wrapped(words.spread_sentence(result.spread))
    if result.best.estimates and not result.outside:
        yield ""
        yield from _fitted(result.best)
    yield from _left_over(result)
    if not result.outside:
        yield from fitted_check(result)
    if result.cure:
        yield ""
        yield from _cure(result)
    yield from closing(result)


def closing(result: MatchResult | ReadingsResult) -> Iterator[str]:
    """Cautions, and what the answer took."""
    yield ""
    yield "Before measuring"
    for heading, text in words.CAUTIONS:
        yield from _item(f"{heading}. {text}")
    yield ""
    spared = f", {result.spared} more kept from earlier runs" if result.spared else ""
    by = printable(result.simulator_version)
    yield from wrapped(f"{result.simulations} simulations by {by} in {result.wall_s:.1f} s{spared}. {SAFETY}")


def _item(text: str) -> Iterator[str]:
    yield from wrapped(text, "- ", "  ")


def _record(record: Record) -> Iterator[str]:
    yield f"Read from {printable(record.label)}"
    for label, text in words.record_rows(record):
        yield from wrapped(f"{label:<38}{text}", "  ", " " * 40)
    for heading, texts in (("harms the measurement", record.faults), ("assumed or done", record.notes)):
        for text in texts:
            yield from wrapped(f"{heading}: {printable(text)}", "  ", "    ")


def _ranking(result: MatchResult) -> Iterator[str]:
    whole = room() >= WIDTH
    if room() >= RANKING:
        yield f"{'':4}{'cause':<39}{'probability':>11}  {'odds':<13}{'misfit':>6}"
    for rank, each in enumerate(result.candidates, start=1):
        cause, misfit = printable(each.cause), words.misfit_text(each)
        if room() < RANKING:
            cells = ("", words.probability(each)), ("odds", words.behind_words(each)), ("misfit", misfit), ("", words.remark(each))
            yield from stacked(f"{rank:>2}  {cause}", cells)
        else:
            remark = f"  {words.remark(each)}" if whole else " *" if words.remark(each) else ""
            odds = f"{words.probability(each):>11}  {words.behind_words(each):<13}"
            yield f"{rank:>2}  {cause:<39}{odds}{misfit:>6}{remark}".rstrip()
        if words.finer(each):
            yield f"{'':6}{words.finer(each)}"
    if RANKING <= room() < WIDTH:
        yield from wrapped("* ruled out at first look", "  ", "  ")
    yield from wrapped(words.MISFIT, "  ", "  ")


def _beside(result: MatchResult) -> Iterator[str]:
    """Readings of meters, and what each cause makes of them."""
    if not result.readings:
        return
    yield ""
    yield beside.HEADING
    for reading in result.readings:
        yield from wrapped(beside.reading_label(reading), "  ", "    ")
        for cause, text in beside.reading_rows(result, reading):
            yield from wrapped(f"{cause:<41}{text}", "    ", " " * 45)


def _outside(result: MatchResult) -> Iterator[str]:
    """What is odd about a capture that nothing explains, and what to check."""
    yield ""
    yield "What is odd about it"
    for text in result.odd:
        yield from _item(text)
    yield from wrapped(words.OUTSIDE, "  ", "  ")


def _explained(candidate: CauseCandidate, decided: bool) -> Iterator[str]:
    """What speaks for a candidate, what would settle it, what to do."""
    remedy = "Remedy" if decided else "Remedy if so"
    parts = (("Seen", candidate.feature), ("To settle it", candidate.settle), (remedy, candidate.remedy))
    if any(text for _, text in parts):
        yield ""
        yield sentence_case(words.phrase(candidate))
    for heading, text in parts:
        if text:
            yield from wrapped(f"{heading}: {printable(text)}", "  ", "    ")


def _fitted(best: CauseCandidate) -> Iterator[str]:
    rows = words.estimate_rows(best.estimates)
    if room() < WIDTH:
        for label, *cells in rows:
            yield from stacked(label, zip(("", "95 % interval", "scenario", "from the capture:"), cells, strict=True))
    else:
        yield f"{'':<{LABEL}}{'fitted':>10}  {'95 % interval':<21}{'scenario':>10}  from the capture"
        for label, value, interval, expected, found in rows:
            first, *more = textwrap.wrap(label, LABEL - 1, break_on_hyphens=False) or [""]
            yield f"{first:<{LABEL}}{value:>10}  {interval:<21}{expected:>10}  {found}"
            yield from (f"  {text}" for text in more)
    for tied in best.tied:
        yield from _item(words.tied_sentence(tied, best.estimates))
    if words.untold(best.estimates):
        yield from _item(words.UNTOLD.format("the capture does"))


def _left_over(result: MatchResult) -> Iterator[str]:
    if not result.traces:
        return
    yield ""
    nearest = result.outside or result.best.cause == NONE_OF_THESE
    yield "What the nearest fit leaves" if nearest else "What the fit leaves"
    for label, text in words.residual_rows(result):
        yield from wrapped(f"{label}: {text}", "  ", "    ")


def fitted_check(result: MatchResult | ReadingsResult) -> Iterator[str]:
    """The heater as fitted, judged by every limit."""
    yield ""
    yield "As fitted, judged by every limit"
    yield from wrapped(printable(words.fitted_verdict(result)), "  ", "  ")
    for grade, case, text in words.fitted_findings(result):
        yield from wrapped(f"{grade:<9}{case:<8}{text}", "  ", " " * 19)


def _cure(result: MatchResult) -> Iterator[str]:
    cure = result.cure
    assert cure is not None
    yield "Put right, simulated"
    yield from wrapped(words.cure_sentence(cure), "  ", "  ")
    yield from wrapped(printable(words.cure_verdict(cure)), "  ", "  ")
    yield f"  {'':<38}{'as fitted':>12}{'put right':>12}"
    for label, before, after in words.cure_rows(cure):
        yield f"  {label:<38}{before:>12}{after:>12}"
    if cure.fields:
        yield from wrapped(f"Change in the fitted scenario: {words.fields_text(cure.fields)}", "  ", "    ")
