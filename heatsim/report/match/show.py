# SPDX-License-Identifier: GPL-3.0-or-later
"""A match for people: progress, the text on the terminal, and the folder."""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TextIO

from heatsim.report.base.plain import as_json, write_whole
from heatsim.report.base.terminal import print_text
from heatsim.report.base.words import part_words, printable
from heatsim.report.match import words
from heatsim.studies.match.result import NONE_OF_THESE, Candidate, Estimate, MatchResult, Record

WIDTH = 100
"""Columns."""

LABEL = 35
"""Columns of the label in the table of fitted quantities."""

MISFIT = "Odds are to the first. Misfit: what is left, over what noise and model allow; near 1 explains all."
"""Under the ranking."""

Progress = Callable[[str, float], None]
"""Told what is being done and how much of all is done, 0 to 1."""


@contextmanager
def watching(hushed: bool = False, stream: TextIO | None = None) -> Iterator[Progress | None]:
    """A line on standard error while the block runs, gone when it ends; None when hushed or not on a terminal."""
    from rich.console import Console

    console = Console(file=stream or sys.stderr, highlight=False, markup=False)
    if hushed or not console.is_terminal:
        yield None
        return
    with console.status("reading") as status:
        yield lambda what, share: status.update(f"{printable(what)}, {100 * min(max(share, 0.0), 1.0):.0f} %")


def show(result: MatchResult, out: Path | None = None, stream: TextIO | None = None) -> None:
    """Print a result to `stream` (standard output), in signs it has; out: the folder to be named at the end."""
    print_text("\n".join(lines(result, out)) + "\n", stream)


def lines(result: MatchResult, out: Path | None = None) -> Iterator[str]:
    """The text, line by line."""
    yield from _wrapped(f"{printable(result.scenario.name)}: what explains {words.captures(result)}?")
    yield from _wrapped(words.answer(result))
    for record in result.records:
        yield ""
        yield from _record(record)
    yield ""
    yield from _ranking(result)
    for candidate in words.alike(result):
        yield from _explained(candidate, result.decided)
    if result.best.estimates:
        yield ""
        yield from _fitted(result.best)
    yield from _left_over(result)
    if result.cure:
        yield ""
        yield from _cure(result)
    yield ""
    yield "Before measuring"
    for heading, text in words.CAUTIONS:
        yield from _item(f"{heading}. {text}")
    yield ""
    if out is not None:
        yield f"Written: {out}: {', '.join(names(result))}"
    spared = f", {result.spared} more kept from earlier runs" if result.spared else ""
    yield f"{result.simulations} simulations by {printable(result.simulator_version)} in {result.wall_s:.1f} s{spared}."


def _wrapped(text: str, first: str = "", then: str = "") -> Iterator[str]:
    yield from textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_on_hyphens=False)


def _item(text: str) -> Iterator[str]:
    yield from _wrapped(text, "- ", "  ")


def _record(record: Record) -> Iterator[str]:
    yield f"Read from {printable(record.label)}"
    for label, text in words.record_rows(record):
        yield from _wrapped(f"{label:<38}{text}", "  ", " " * 40)
    for heading, told in (("harms the measurement", record.faults), ("assumed or done", record.notes)):
        for text in told:
            yield from _wrapped(f"{heading}: {printable(text)}", "  ", "    ")


def _ranking(result: MatchResult) -> Iterator[str]:
    yield f"{'':4}{'cause':<39}{'probability':>11}  {'odds':<13}{'misfit':>6}"
    for rank, each in enumerate(result.candidates, start=1):
        row = f"{rank:>2}  {printable(each.cause):<39}{words.probability(each):>11}  {words.behind_words(each):<13}"
        yield f"{row}{words.misfit_text(each):>6}  {words.remark(each)}".rstrip()
        if each.simulated and each.kind not in ("", each.cause):
            yield f"{'':6}{printable(each.kind)}"
    yield from _wrapped(MISFIT, "  ", "  ")


def _explained(candidate: Candidate, decided: bool) -> Iterator[str]:
    """What speaks for a candidate, what would settle it, what to do."""
    remedy = "Remedy" if decided else "Remedy if so"
    told = (("Seen", candidate.feature), ("To settle it", candidate.settle), (remedy, candidate.remedy))
    if any(text for _, text in told):
        name = words.phrase(candidate)
        yield ""
        yield name[:1].upper() + name[1:]
    for heading, text in told:
        if text:
            yield from _wrapped(f"{heading}: {printable(text)}", "  ", "    ")


def _fitted(best: Candidate) -> Iterator[str]:
    yield f"{'':<{LABEL}}{'fitted':>10}  {'95 % interval':<21}{'scenario':>10}  told by the capture"
    for estimate in best.estimates:
        yield from _row(estimate)
    for tied in best.tied:
        yield from _item(words.tied_sentence(tied, best.estimates))
    if any(each.told < words.PARTLY for each in best.estimates):
        yield from _item("Where the capture does not tell, the number is what the scenario and the usual spread of parts say.")


def _row(estimate: Estimate) -> Iterator[str]:
    label, value, interval, expected, told = words.estimate_cells(estimate)
    first, *more = textwrap.wrap(label, LABEL - 1, break_on_hyphens=False) or [""]
    yield f"{first:<{LABEL}}{value:>10}  {interval:<21}{expected:>10}  {told}"
    yield from (f"  {text}" for text in more)


def _left_over(result: MatchResult) -> Iterator[str]:
    if not result.traces:
        return
    yield ""
    yield "What the fit leaves" if result.best.cause != NONE_OF_THESE else "What the nearest fit leaves"
    several = len(result.records) > 1
    for trace in result.traces:
        name = part_words(trace.signal) + (f", capture {trace.record + 1}" if several else "")
        yield from _wrapped(f"{name}: {words.residual_words(trace.residual, trace.noise, trace.unit)}", "  ", "    ")


def _cure(result: MatchResult) -> Iterator[str]:
    cure = result.cure
    assert cure is not None
    yield "Put right, simulated"
    yield from _wrapped(words.cure_sentence(cure), "  ", "  ")
    yield f"  {'':<38}{'as fitted':>12}{'put right':>12}"
    for label, before, after in words.cure_rows(cure):
        yield f"  {label:<38}{before:>12}{after:>12}"
    if cure.fields:
        yield from _wrapped(f"Change in the fitted scenario: {words.fields_text(cure.fields)}", "  ", "    ")


def names(result: MatchResult) -> tuple[str, ...]:
    """Files of the folder, the page first."""
    return (
        "index.html",
        *(f"{name}.{kind}" for name in pictures(result).values() for kind in ("png", "svg")),
        "evidence.png",
        "fitted.toml",
        "results.json",
    )


def pictures(result: MatchResult) -> Mapping[int, str]:
    """Number of each record that has traces -> stem of its picture's file."""
    drawn = sorted({trace.record for trace in result.traces})
    return {record: "match" if len(result.records) == 1 else f"match-{record + 1}" for record in drawn}


def plain(result: MatchResult) -> dict[str, Any]:
    """Plain data for results.json with the answer in words."""
    return result.as_dict() | {"answer": words.answer(result)}


def write(result: MatchResult, out: Path) -> list[Path]:
    """Write the folder and return its files; each is complete or not there. Raises OSError when it cannot be written."""
    from heatsim.report.check.figures import as_png, as_svg
    from heatsim.report.check.page import Shown, inline
    from heatsim.report.match.page import render
    from heatsim.report.match.picture import evidence, overlay

    out.mkdir(parents=True, exist_ok=True)
    content: dict[str, bytes] = {}
    shown = []
    for record, stem in pictures(result).items():
        figure = overlay(result, record)
        svg = as_svg(figure, f"Capture {record + 1} and its best fit")
        content |= {f"{stem}.png": as_png(figure), f"{stem}.svg": svg.encode()}
        shown.append(Shown(f"Capture {record + 1}", PICTURE, inline(svg)))
    bars = evidence(result)
    content |= {
        "evidence.png": as_png(bars),
        "fitted.toml": result.fitted.encode(),
        "results.json": (as_json(plain(result)) + "\n").encode(),
    }
    bar_picture = Shown("Evidence", "", inline(as_svg(bars, "Probability of each cause")))
    content["index.html"] = render(result, shown, bar_picture).encode()
    _forget(out, content)
    return [write_whole(out / name, data) for name, data in content.items()]


PICTURE = (
    "Above, the capture should lie on the best fit; it leaves the scenario where something is wrong. Between, the same "
    "less the scenario: the dots should follow the area. Below, what neither explains: it should stay within the grey band."
)
"""What one should see in the picture of a record."""


def _forget(out: Path, content: Mapping[str, bytes]) -> None:
    """Take away pictures of an earlier match that this one does not write."""
    for path in (*out.glob("match.*"), *out.glob("match-*.*")):
        if path.suffix in (".png", ".svg") and path.name not in content:
            path.unlink(missing_ok=True)
