# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and rows about the findings of a check, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from heatsim.errors import printable
from heatsim.report.base.findings import allowed_text as allowed_text
from heatsim.report.base.findings import comparison as comparison
from heatsim.report.base.findings import verdict_sentence as verdict_sentence
from heatsim.report.base.words import SIDES, family, measure_words, number, part_words, plural, split_key, value_text
from heatsim.studies.check import CaseResult, CheckResult, CheckWarning
from heatsim.verdict.finding import Finding

OUTCOMES = {
    "settled": "It oscillates and settles.",
    "drifting": "It oscillates, but was still moving when the run ended; its numbers are not final.",
    "latched": "It latches: both sides stay on.",
    "dead": "It does not oscillate.",
    "stalled": "The simulation did not finish.",
    "unsolved": "The simulator could not solve the circuit.",
}
"""Outcome of a run in a sentence."""


def warning_text(result: CheckResult, warning: CheckWarning) -> str:
    """A warning with the cases it is about, unless these are all there are."""
    every = len(warning.cases) == len(result.cases)
    return printable(warning.text if every else f"Case {', '.join(warning.cases)}: {warning.text}")


@dataclass(frozen=True)
class Line:
    """One line of a table of findings. finding: the one shown; parts: all it stands for, its own first."""

    case: str
    finding: Finding
    parts: tuple[str, ...]

    @property
    def name(self) -> str:
        """The part, or both sides of it."""
        if len(self.parts) == 1:
            return part_words(self.parts[0])
        return f"{plural(self.parts[0])}, both"


def merged(rows: Sequence[tuple[str, Finding]]) -> list[Line]:
    """Lines of a table in the given order; sides of a case that agree within two points of headroom share a line."""
    lines: list[Line] = []
    for case, finding in rows:
        for place, line in enumerate(lines):
            if line.case == case and _alike(line.finding, finding):
                lines[place] = Line(case, line.finding, (*line.parts, finding.part))
                break
        else:
            lines.append(Line(case, finding, (finding.part,)))
    return lines


def _alike(one: Finding, other: Finding) -> bool:
    same = (family(one.part), one.limit, one.grade) == (family(other.part), other.limit, other.grade)
    if not same or one.part == other.part:
        return False
    if one.headroom is None or other.headroom is None:
        return one.headroom == other.headroom and one.value == other.value
    return abs(one.headroom - other.headroom) < 0.02


@dataclass(frozen=True)
class Advice:
    """Findings that say the same of the same kind of part, shown once.

    worst: the finding shown; where: (case, part) of each that shares it.
    """

    worst: Finding
    where: tuple[tuple[str, str], ...]

    @property
    def places(self) -> str:
        """Parts and cases: "left and right choke; idle, loaded"."""
        cases, parts = (list(dict.fromkeys(each)) for each in zip(*self.where, strict=True))
        if len(parts) > 1 and all(part.split(".")[-1] in SIDES for part in parts):
            named = f"{' and '.join(part.split('.')[-1] for part in sorted(parts))} {family(parts[0])}"
        else:
            named = ", ".join(part_words(part) for part in parts)
        return printable(f"{named} ({', '.join(cases)})")


def advice(rows: Sequence[tuple[str, Finding]]) -> tuple[Advice, ...]:
    """Findings that do not hold, by kind of part, limit and grade, in the given order; the first of each is shown.

    Those without a number are shown together only when they have the same cause.
    """
    groups: dict[tuple[str, ...], list[tuple[str, Finding]]] = {}
    for case, finding in rows:
        if finding.grade != "holds":
            cause = finding.cause if finding.headroom is None else ""
            groups.setdefault((family(finding.part), finding.limit, finding.grade, cause), []).append((case, finding))
    return tuple(Advice(found[0][1], tuple((case, finding.part) for case, finding in found)) for found in groups.values())


HEADLINES = {
    "tank.frequency_hz": "",
    "tank.peak_voltage_v": "",
    "tank.thd_ratio": "",
    "coil.rms_current_a": "",
    "supply.mean_current_a": "",
    "supply.power_w": "",
    "workpiece.power_w": "",
    "drain.*.peak_voltage_v": ", highest",
    "choke.*.peak_current_a": ", highest",
    "choke.*.inductance_remaining_ratio": ", lowest",
    "choke.*.temperature_c": ", highest",
    "startup.time_s": "",
}
"""The dozen numbers a builder asks for first, and which side is shown."""


def headlines(case: CaseResult) -> tuple[tuple[str, str], ...]:
    """Label and text of the numbers asked for first; of the workpiece only where there is one."""
    rows = []
    for key, which in HEADLINES.items():
        sides = [value for side in SIDES if (value := number(case.measures, key.replace("*", side))) is not None]
        value = (min if which == ", lowest" else max)(sides) if sides else None
        if key.startswith("workpiece") and case.heater.workpiece is None:
            value = None
        rows.append((measure_words(key) + which, value_text(value, split_key(key)[1])))
    return tuple(rows)


COUNTED = {"fails": "fail", "unknown": "unknown", "marginal": "marginal", "holds": "hold"}
"""Grades, worst first, after a number."""


def tally(findings: Sequence[Finding]) -> str:
    """How many findings have each grade: "6 fail, 42 hold"."""
    counts = {word: sum(finding.grade == grade for finding in findings) for grade, word in COUNTED.items()}
    return ", ".join(f"{count} {word}" for word, count in counts.items() if count)
