# SPDX-License-Identifier: GPL-3.0-or-later
"""What `heatsim check` shows: the verdict, the cases, what does not hold and what to change."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, TextIO

from heatsim.errors import printable
from heatsim.report.base.terminal import COLOURS, print_blocks, table
from heatsim.report.base.words import SAFETY, number, percent, split_key, value_text
from heatsim.report.check import copper, gates, silicon, trouble, words
from heatsim.report.check import remedies as told
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.studies.remedy import Remedies
from heatsim.verdict.finding import Finding

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

BAR = 5
"""Cells of a headroom bar; full at 100 %."""

CASE_COLUMNS = {
    "tank": "tank.frequency_hz",
    "peak": "tank.peak_voltage_v",
    "THD": "tank.thd_ratio",
    "supply": "supply.mean_current_a",
    "power": "supply.power_w",
    "settled in": "startup.time_s",
}
"""Heading -> measure of a case's line."""


def show(
    result: CheckResult,
    verbose: bool = False,
    stream: TextIO | None = None,
    width: int | None = None,
    remedies: Remedies | None = None,
) -> None:
    """Print a result to `stream` (standard output). Colours only on a terminal and never with NO_COLOR set.

    verbose: list the limits that hold as well; width: columns, by default the terminal's, 80 in a pipe; remedies: of a search.
    """
    print_blocks(_blocks(result, verbose, remedies), stream, width)


def _blocks(result: CheckResult, verbose: bool, remedies: Remedies | None) -> Iterator[RenderableType]:
    """Every block of the output, in order."""
    from rich.padding import Padding
    from rich.text import Text

    name, colour = printable(result.scenario.name), COLOURS[result.verdict]
    yield Text.assemble((name, "bold"), "   ", (f" {result.verdict.upper()} ", f"reverse {colour}"))
    yield Text(words.verdict_sentence(result))
    for warning in result.warnings:
        yield Text.assemble(("Warning: ", f"bold {COLOURS['marginal']}"), words.warning_text(result, warning))
    yield Text()
    yield _case_table(result.cases)
    shown = [(case, finding) for case, finding in result.findings if verbose or finding.grade != "holds"]
    if shown:
        yield Text()
        yield _finding_table(shown)
    if not verbose:
        yield Text()
        yield from (Text(line) for line in _held(result))
    yield from (Text(line) for case in result.cases for line in copper.lines(case))
    yield from (Text(printable(line)) for case in result.cases if (line := silicon.line(case)) is not None)
    yield from (Text(line) for line in _gate_heat(result, verbose))
    advice = words.advice(result.findings)
    if advice:
        yield Text("\nWhat to change", style="bold")
    for item in advice:
        worst = item.worst
        yield Text.assemble((worst.grade, COLOURS[worst.grade]), " ", (f"{item.places}: {worst.limit}", "bold"))
        lines = [printable(worst.cause), printable(f"→ {worst.remedy}") if worst.remedy else ""]
        yield Padding(Text("\n".join(filter(None, lines)) or "No more is known."), (0, 0, 0, 2))
    if remedies is not None:
        yield from _remedies(remedies)
    yield from _troubles(result)
    yield Text()
    yield Text(f"Simulated by {printable(result.simulator_version)} in {result.wall_s:.1f} s. {SAFETY}", style="dim")


def _remedies(remedies: Remedies) -> Iterator[RenderableType]:
    """What to change so that everything holds, or what came nearest to it."""
    from rich.padding import Padding
    from rich.text import Text

    yield Text(f"\n{told.HEADING}", style="bold")
    yield Text(printable(told.summary(remedies)))
    for place, each in enumerate(told.told(remedies), start=1):
        first, *others = each.steps
        yield Text(f"{place} {printable(first)}", style="bold")
        lines = [*others, *(f"Needs for {need}" for need in each.needs), each.outcome]
        yield Padding(Text("\n".join(printable(line) for line in lines if line)), (0, 0, 0, 2))


def _troubles(result: CheckResult) -> Iterator[RenderableType]:
    """What becomes of it in every trouble that was asked about."""
    from rich.padding import Padding
    from rich.text import Text

    if result.troubles:
        yield Text(f"\n{trouble.HEADING}", style="bold")
    for each in result.troubles:
        yield Text.assemble((f"{each.name}: ", "bold"), (each.grade, COLOURS[each.grade]))
        yield Padding(Text("\n".join(printable(line) for line in trouble.told(each))), (0, 0, 0, 2))


def _case_table(cases: Sequence[CaseResult]) -> Table:
    """One line a case: how it ended and the numbers asked for first."""
    from rich.text import Text

    made = table(("case", "outcome"), "case", "outcome", *CASE_COLUMNS, wide=("outcome",))
    for case in cases:
        style = "" if case.outcome == "settled" else COLOURS[case.grade]
        numbers = (value_text(number(case.measures, key), split_key(key)[1]) for key in CASE_COLUMNS.values())
        made.add_row(printable(case.name), Text(case.outcome, style=style), *numbers)
    return made


def _finding_table(rows: Sequence[tuple[str, Finding]]) -> Table:
    """Findings in the given order; left and right of the same limit share a line when they agree."""
    from rich.text import Text

    left = ("grade", "case", "part", "limit")
    made = table(left, *left, "found", "allowed", "headroom", wide=("part", "limit"), gap=1)
    for line in words.merged(rows):
        finding = line.finding
        grade, found = Text(finding.grade, style=COLOURS[finding.grade]), value_text(finding.value, finding.unit)
        made.add_row(grade, printable(line.case), line.name, finding.limit, found, words.allowed_text(finding), _headroom(finding))
    return made


def _headroom(finding: Finding) -> RenderableType:
    """Headroom as a number and a bar: filled from the left when there is room, pointing left when there is none."""
    from rich.text import Text

    if finding.headroom is None:
        return Text("–" + " " * (BAR + 1))
    cells = min(round(abs(finding.headroom) * BAR + 0.3), BAR)
    mark = "█" if finding.headroom >= 0 else "◂"
    return Text.assemble(percent(finding.headroom), " ", (mark * cells + "·" * (BAR - cells), COLOURS[finding.grade]))


def _gate_heat(result: CheckResult, verbose: bool) -> Iterator[str]:
    """What the parts round the gates turn into heat, a line a case; unless verbose, only that of parts without a rating."""
    for case in result.cases:
        name = printable(case.name)
        rows = gates.heat_rows(case) if verbose else []
        if rows:
            yield f"\n{name}: {gates.drive_words(case.heater)} Heat, left and right:"
            yield ", ".join(f"{row.name} {row.left} and {row.right}" for row in rows) + "."
        if told := gates.not_judged(case, 0.0 if verbose else gates.WARM):
            yield told if verbose else f"{name}: {told}"


def _held(result: CheckResult) -> Iterator[str]:
    """One line a case: how many limits hold, and the tightest of them."""
    for case in result.cases:
        kept = [finding for finding in case.findings if finding.grade == "holds"]
        tight = [finding for finding in kept if finding.headroom is not None]
        if kept:
            least = min(tight, key=lambda finding: finding.headroom or 0.0) if tight else None
            more = f"; tightest: {words.comparison(least)} ({percent(least.headroom)})" if least else ""
            yield f"{printable(case.name)}: {len(kept)} {'limit holds' if len(kept) == 1 else 'limits hold'}{more}"
