# SPDX-License-Identifier: GPL-3.0-or-later
"""Sentences and cells about builds side by side, shared by terminal and page."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from heatsim.errors import printable, shortened
from heatsim.report.base.words import family, listed, measure_words, part_words, percent, plural, split_key, value_text
from heatsim.studies.check import Comparison, LimitRow, MeasureRow
from heatsim.verdict.finding import Finding

NOTICED = 0.01
"""Changes of headroom below this are told only where all are asked for."""

ALIKE = 0.02
"""Sides whose headroom differs by less share a line."""

SAME = "same"
"""Said of a measure that differs by no more than rounding may bring about."""

EXPLAINED = f"“{SAME}”: no further apart than rounding can put two runs of one circuit."


def names(comparison: Comparison) -> tuple[str, ...]:
    """Names of the builds, short enough for a heading."""
    return tuple(printable(shortened(name, 28)) for name in comparison.names)


def verdict_line(comparison: Comparison) -> str:
    """Whether the verdicts differ, and what they are."""
    pairs = list(zip(names(comparison), comparison.verdicts, strict=True))
    if comparison.verdicts_differ:
        return "The verdicts differ: " + listed([f"{name} {_said(grade)}" for name, grade in pairs]) + "."
    return f"The verdict is the same: each of {listed([name for name, _ in pairs])} {_said(pairs[0][1])}."


def _said(grade: str) -> str:
    return {"marginal": "is marginal", "unknown": "cannot be judged"}.get(grade, grade)


def fields_line(comparison: Comparison) -> str:
    """What is to be said of the fields beside their table; empty where the table says it."""
    if comparison.fields:
        return ""
    if len({result.scenario.hash for result in comparison.results}) > 1:
        return "No field differs, but a file that the scenarios name (a catalogue, a model) or the heater's name does."
    return "No field differs: the builds are the same."


def alone_lines(comparison: Comparison) -> Iterator[str]:
    """Cases that not every build has."""
    for row in comparison.cases:
        having = [name for name, result in zip(names(comparison), row.results, strict=True) if result is not None]
        if len(having) < len(row.results):
            yield f"Case {printable(row.name)}: only {listed(having)} {'has' if len(having) == 1 else 'have'} it."


def field_text(value: str | None) -> str:
    """A field's value as written; a dash where the file does not give it."""
    return "–" if value is None else printable(shortened(value, 80))


@dataclass(frozen=True)
class Line:
    """One line of the table of limits. row: the one shown; parts: all it stands for."""

    row: LimitRow
    parts: tuple[str, ...]

    @property
    def name(self) -> str:
        """The part, or both sides of it."""
        return part_words(self.parts[0]) if len(self.parts) == 1 else f"{plural(self.parts[0])}, both"

    @property
    def noticed(self) -> bool:
        """Whether it changed enough to be told unasked."""
        return abs(self.row.largest) >= NOTICED or len(set(self.row.grades)) > 1


def lines(comparison: Comparison) -> list[Line]:
    """The limits in their order; sides of a case that agree within ALIKE of headroom in every build share a line."""
    found: list[Line] = []
    for row in comparison.limits:
        for place, line in enumerate(found):
            if _alike(line.row, row):
                found[place] = Line(line.row, (*line.parts, row.part))
                break
        else:
            found.append(Line(row, (row.part,)))
    return found


def _alike(one: LimitRow, other: LimitRow) -> bool:
    same = (one.case, family(one.part), one.limit, one.grades) == (other.case, family(other.part), other.limit, other.grades)
    pairs = zip(one.headrooms, other.headrooms, strict=True)
    return same and one.part != other.part and all(a == b if a is None or b is None else abs(a - b) < ALIKE for a, b in pairs)


def headroom_text(finding: Finding | None) -> str:
    """Headroom of a limit in a build, its grade where there is none, "not there" where the build does not have the limit."""
    if finding is None:
        return "not there"
    return finding.grade if finding.headroom is None else percent(finding.headroom)


def grade_text(finding: Finding | None) -> str:
    """The same with the grade, where that is not that it holds."""
    text = headroom_text(finding)
    return text if finding is None or finding.grade in ("holds", text) else f"{text} {finding.grade}"


def change_text(row: LimitRow) -> str:
    """The largest change of headroom, in points of a hundred; a dash where there is none to tell."""
    return f"{100 * row.largest:+.0f}".replace("-", "−") if any(change is not None for change in row.changes[1:]) else "–"


def measure_name(row: MeasureRow) -> str:
    """A measure in words."""
    return measure_words(row.key)


def measure_cells(row: MeasureRow) -> tuple[str, ...]:
    """A measure in each build, with what it differs by from the first: in per cent, of temperatures in kelvin."""
    unit = split_key(row.key)[1]
    differences = (f" ({text})" if place and (text := _difference(row, place)) else "" for place in range(len(row.values)))
    return tuple(value_text(value, unit) + text for value, text in zip(row.values, differences, strict=True))


def _difference(row: MeasureRow, place: int) -> str:
    """What a build's value differs by from the first; empty where that cannot be told."""
    difference, change = row.differences[place], row.changes[place]
    if difference is None:
        return ""
    if row.within_errors[place]:
        return SAME
    if split_key(row.key)[1] == "°C":
        return f"{difference:+.1f} K".replace("-", "−")
    return "" if change is None else f"{100 * change:+.{1 if abs(change) < 1 else 0}f} %".replace("-", "−")
