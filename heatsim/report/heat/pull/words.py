# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and rows of a piece that leaves the coil or goes in, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from heatsim.errors import printable
from heatsim.report.base.findings import allowed_text
from heatsim.report.base.words import listed, part_words, percent, plural, sentence_case, value_text
from heatsim.studies.heat.pull import Moved, PullResult
from heatsim.verdict import SEVERITY, Finding, worst

WAYS = {True: "When the piece leaves", False: "When a piece goes in"}
"""Headings, by whether it leaves."""

HEADLINES = {"holds": "holds", "marginal": "only just holds", "fails": "fails", "unknown": "not known in full"}
"""The verdict on both ways, after "moving the piece"."""

STEPS = {"marginal": "only just does", "fails": "does not", "unknown": "cannot be judged"}
"""Likewise of the step, after a slower movement that holds."""

OUTCOMES = {
    "runs on": "The heater keeps running",
    "does not settle": "The heater oscillates, but was still moving when the run ended",
    "not simulated": "It could not be simulated",
    "stops": "The oscillation stops",
    "latches": "The heater latches: both banks stay on, and the supply is shorted through the chokes",
}

TALLY = {
    "fails": ("fails", "fail"),
    "unknown": ("cannot be judged", "cannot be judged"),
    "marginal": ("only just holds", "only just hold"),
    "holds": ("holds", "hold"),
}
"""Grade -> words for one finding of it, and for more."""

TAKEN_BACK = 0.02
"""Share of the supply's highest current [1] from which a current back into it is told."""

ENDINGS = (" when the workpiece leaves", " when the workpiece is put in")
"""What the names of limits end in; the heading says it already."""

COLUMNS = ("grade", "part", "limit", "step", "slowly", "allowed", "headroom")


@dataclass(frozen=True)
class Line:
    """A limit as a row: the worse of both sides."""

    finding: Finding
    name: str
    limit: str
    step: str
    slower: str
    allowed: str

    @property
    def cells(self) -> tuple[str, ...]:
        """In the order of COLUMNS."""
        each = self.finding
        return each.grade, self.name, self.limit, self.step, self.slower, self.allowed, percent(each.headroom)


def headline(result: PullResult) -> str:
    """The verdict in a few words."""
    if result.exit_code == 3:
        return "could not be simulated"
    slowly = worst(each.slower.grade if each.slower else each.grade for each in (result.leaves, result.enters))
    if slowly == "holds" and result.grade != "holds":
        return f"holds when it is moved slowly; a sudden step {STEPS[result.grade]}"
    return HEADLINES[result.grade]


def outcome(moved: Moved) -> str:
    """What becomes of the heater, in a sentence or two."""
    told = OUTCOMES[moved.outcome]
    if moved.cause:
        return printable(f"{told}. {sentence_case(moved.cause)}".rstrip(".") + ".")
    settled = moved.measures.get("settling.time_s")
    within = "" if settled is None else f"; the tank has settled after {value_text(settled, 's')}"
    return f"{told}, in the state that a start from rest reaches{within}."


def passage(moved: Moved) -> str:
    """From which state to which, in a sentence; empty where there is none."""
    parts = []
    for key, unit, name in (
        ("tank.frequency_hz", "Hz", ""),
        ("tank.peak_voltage_v", "V", "tank "),
        ("supply.mean_current_a", "A", "supply "),
    ):
        before, after = (moved.measures.get(f"{when}.{key}") for when in ("before", "after"))
        if before is not None and after is not None:
            parts.append(f"{name}from {value_text(before, unit)} to {value_text(after, unit)}")
    return f"Steady states: {listed(parts)}." if parts else ""


def highest(moved: Moved) -> str:
    """What is highest on the way, in a sentence; empty where nothing was measured."""
    told = [
        (
            name,
            max((each for side in ("left", "right") if (each := moved.measures.get(key.format(side))) is not None), default=None),
        )
        for name, key in (("drains", "drain.{}.peak_voltage_v"), ("chokes", "choke.{}.peak_current_a"))
    ]
    told += [(name, moved.measures.get(key)) for name, key in (("coil", "coil.peak_current_a"), ("supply", "supply.max_current_a"))]
    units = ("V", "A", "A", "A")
    found = [f"{name} {value_text(value, unit)}" for (name, value), unit in zip(told, units, strict=True) if value is not None]
    return f"Highest on the way: {listed(found)}." if found else ""


def limits_sentence(moved: Moved) -> str:
    """How many limits are kept, and of a slower movement where one was simulated."""
    told = f"{sentence_case(_tally(moved.findings, ' limits'))}."
    if moved.slower is None:
        return told
    return (
        f"{told} Moved in {value_text(moved.slower.duration, 's')}, ten times as fast as a hand, {_tally(moved.slower.findings)}."
    )


def _tally(findings: Sequence[Finding], noun: str = "") -> str:
    """How many findings have each grade, in words: "of 17 limits 2 fail and 15 hold"; "all 17 limits hold"."""
    count = len(findings)
    if all(each.grade == "holds" for each in findings):
        return f"all {count}{noun} hold"
    counts = [(sum(each.grade == grade for each in findings), verbs) for grade, verbs in TALLY.items()]
    return f"of {count}{noun} {listed([f'{some} {verbs[some > 1]}' for some, verbs in counts if some])}"


def lines(moved: Moved) -> list[Line]:
    """Every limit that has a value or does not hold, worst first; of two sides the worse."""
    found: dict[tuple[str, str], tuple[Finding, int]] = {}
    for each in moved.findings:
        key = plural(each.part), each.limit
        kept, count = found.get(key, (each, 0))
        found[key] = (min(kept, each, key=_order), count + 1)
    slower = {(each.part, each.limit): each for each in (moved.slower.findings if moved.slower else ())}
    rows = [_line(each, count, slower.get((each.part, each.limit))) for each, count in found.values()]
    return sorted(rows, key=lambda row: _order(row.finding))


def _order(finding: Finding) -> tuple[int, float]:
    return -SEVERITY[finding.grade], 9.0 if finding.headroom is None else finding.headroom


def _line(each: Finding, sides: int, slower: Finding | None) -> Line:
    limit = each.limit
    for ending in ENDINGS:
        limit = limit.removesuffix(ending)
    name = plural(each.part) if sides > 1 else part_words(each.part)
    slowly = "–" if slower is None else _found(slower)
    return Line(each, printable(name), printable(limit), _found(each), slowly, allowed_text(each))


def _found(each: Finding) -> str:
    """What was found: the value, or the grade where there is none."""
    return each.grade if each.value is None else value_text(each.value, each.unit)


def advice(moved: Moved) -> Iterator[tuple[Line, str, str]]:
    """Rows that do not hold, with cause and remedy; a cause that two rows share is told once."""
    told: set[str] = set()
    for line in lines(moved):
        cause, remedy = printable(line.finding.cause), printable(line.finding.remedy)
        if line.finding.grade == "holds" or not (cause or remedy) or cause + remedy in told:
            continue
        told.add(cause + remedy)
        yield line, cause, remedy


def left_out(result: PullResult) -> Iterator[str]:
    """What the numbers leave out, in sentences."""
    table = result.scenario.tables.case[result.case].workpiece
    instants = max(result.leaves.instants, result.enters.instants)
    yield (
        f"The step takes a tenth of the tank's period, the worst case: a hand takes 0.1 s or more. It was tried at {instants} "
        "instants of the period, and each number is the worst of them; under a ripple of the supply it falls where the "
        "ripple happens to be."
    )
    if table is not None and table.measured is None:
        field = f"case.{result.case}.workpiece.temperature"
        yield (
            f"The piece is at {table.temperature:g} °C throughout ({field}). Steel takes most while hot but still "
            "magnetic, at some 500 °C to 600 °C: try that too."
        )
    for moved in (result.leaves, result.enters):
        most, least = (moved.measures.get(f"supply.{end}_current_a") for end in ("max", "min"))
        if most is not None and least is not None and least < -TAKEN_BACK * most:
            yield (
                f"{WAYS[moved.leaves]}, up to {value_text(-least, 'A')} flow back into the supply, which the simulated one takes. "
                "If diodes block that, the reservoir voltage rises instead."
            )
    yield "Only the coil's load changes: a piece that touches the coil, sticks in it or falls is not simulated."
