# SPDX-License-Identifier: GPL-3.0-or-later
"""Labels, units and sentences shared by terminal and page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heatsim.quantity import format_quantity
from heatsim.studies.check import CaseResult, CheckResult
from heatsim.verdict.finding import SEVERITY, Finding

SUFFIXES = (
    ("_a_per_m2", "A/m2"),
    ("_hz", "Hz"),
    ("_wb", "Wb"),
    ("_ratio", "ratio"),
    ("_ratios", "ratio"),
    ("_v", "V"),
    ("_a", "A"),
    ("_w", "W"),
    ("_h", "H"),
    ("_s", "s"),
    ("_c", "°C"),
    ("_t", "T"),
    ("_j", "J"),
    ("_k", "K"),
)
"""Ends of measure keys and the SI unit each stands for, longer ones first."""

SIDES = ("left", "right", "centre")

OUTCOMES = {
    "settled": "It oscillates and settles.",
    "drifting": "It oscillates, but was still moving when the run ended; its numbers are not final.",
    "latched": "It latches: both sides stay on.",
    "dead": "It does not oscillate.",
    "stalled": "The simulation did not finish.",
    "unsolved": "The simulator could not solve the circuit.",
}
"""Outcome of a run in a sentence."""

BASES = {
    "published": "published data",
    "common practice": "common practice, no source",
    "memory": "recalled, not looked up",
    "measured": "measured on the bench",
    "estimate": "estimated",
    "rating": "rating in the scenario file",
    "builder": "the builder's own limit",
    "unknown": "not known",
}
"""What a finding rests on, in plain words."""


def split_key(key: str) -> tuple[str, str]:
    """A measure's key without its unit, and the unit; no unit for keys that end in none."""
    for suffix, unit in SUFFIXES:
        if key.endswith(suffix):
            return key[: -len(suffix)], unit
    return key, ""


def printable(text: str) -> str:
    """One line without control characters."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def part_words(part: str) -> str:
    """`choke.left` -> "left choke", `gate_supply` -> "gate supply"."""
    head, _, tail = part.replace("_", " ").partition(".")
    side, _, more = tail.partition(".")
    words = f"{side} {head}" if side in SIDES else f"{head} {side}".strip()
    return f"{words} {more}".strip()


def family(part: str) -> str:
    """The part without its side: `choke.left` -> "choke"."""
    return " ".join(word for word in part.replace("_", " ").split(".") if word not in SIDES)


def value_text(value: Any, unit: str) -> str:
    """A measured value for a person: numbers with units, lists one after the other, None as a dash."""
    if value is None:
        return "–"
    if isinstance(value, list | tuple):
        return ", ".join(value_text(item, unit) for item in value)
    if isinstance(value, str):
        return value
    if not unit:
        return f"{value:.4g}"
    if unit == "ratio" and 0 < abs(value) < 1e-4:
        return "< 0.01 %"
    if not math.isfinite(value):
        return "–"
    return format_quantity(float(value), unit).replace("A/mm2", "A/mm²").replace("-", "−")


def is_lower_limit(finding: Finding) -> bool | None:
    """Whether the value must stay above what is allowed; None when the finding does not tell.

    Read from the signs: headroom is positive on the good side, so they say which side that is.
    """
    if finding.value is None or finding.allowed is None or not finding.headroom:
        return None
    return (finding.value > finding.allowed) == (finding.headroom > 0)


def allowed_text(finding: Finding) -> str:
    """The limit with its direction, such as "≤ 200 V"."""
    lower = is_lower_limit(finding)
    sign = "" if lower is None else "≥ " if lower else "≤ "
    return sign + value_text(finding.allowed, finding.unit) if finding.allowed is not None else "–"


def headroom_text(finding: Finding) -> str:
    """Headroom in per cent with its sign, "–" when it cannot be judged."""
    return "–" if finding.headroom is None else f"{100 * finding.headroom:+.0f} %".replace("-", "−")


def comparison(finding: Finding) -> str:
    """One finding as a clause: "left choke, temperature: 179 °C, at most 120 °C allowed"."""
    head = f"{part_words(finding.part)}, {finding.limit}"
    if finding.value is None or finding.allowed is None:
        return head
    lower = is_lower_limit(finding)
    bound = "" if lower is None else "at least " if lower else "at most "
    found, allowed = (value_text(value, finding.unit) for value in (finding.value, finding.allowed))
    return f"{head}: {found}, {bound}{allowed} allowed"


def ordered(result: CheckResult) -> list[tuple[str, Finding]]:
    """Every finding with its case, worst first; a failure beyond all numbers, such as not starting, before the others."""
    return sorted(
        result.findings, key=lambda row: (-SEVERITY[row[1].grade], row[1].grade == "fails" and row[1].headroom is not None)
    )


def verdict_sentence(result: CheckResult) -> str:
    """The verdict and what decides it, in a sentence or two."""
    rows = ordered(result)
    if not rows:
        return "Nothing could be judged."
    case, first = rows[0]
    count = sum(finding.grade == result.verdict for _, finding in rows)
    if result.verdict == "holds":
        tight = [(name, finding) for name, finding in rows if finding.headroom is not None]
        lead = f"Everything that was asked for holds: {len(rows)} of {len(rows)} limits."
        return f"{lead} The tightest is {_named(*tight[0])}." if tight else lead
    verb = "is" if count == 1 else "are"
    words = {"fails": f"{verb} not kept", "marginal": f"{verb} kept with less headroom than wanted", "unknown": "cannot be judged"}[
        result.verdict
    ]
    return f"{count} of {len(rows)} limits {words}, first of all {_named(case, first)}."


def _named(case: str, finding: Finding) -> str:
    where = f"case {printable(case)}"
    if finding.headroom is None:
        return f"{comparison(finding)} ({where})"
    return f"{comparison(finding)} ({where}, headroom {headroom_text(finding)})"


@dataclass(frozen=True)
class Line:
    """One line of a table of findings. finding: the one told; parts: all it stands for, its own first."""

    case: str
    finding: Finding
    parts: tuple[str, ...]

    @property
    def name(self) -> str:
        """The part, or both sides of it."""
        if len(self.parts) == 1:
            return part_words(self.parts[0])
        kind = family(self.parts[0])
        return f"{kind}{'es' if kind.endswith('ch') else 's'}, both"


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
    """Findings that say the same of the same kind of part, told once.

    worst: the finding told; where: (case, part) of each that shares it.
    """

    worst: Finding
    where: tuple[tuple[str, str], ...]

    @property
    def places(self) -> str:
        """Parts and cases: "left and right choke; idle, loaded"."""
        cases = list(dict.fromkeys(printable(case) for case, _ in self.where))
        parts = list(dict.fromkeys(part for _, part in self.where))
        if len(parts) > 1 and all(part.split(".")[-1] in SIDES for part in parts):
            named = f"{' and '.join(part.split('.')[-1] for part in sorted(parts))} {family(parts[0])}"
        else:
            named = ", ".join(part_words(part) for part in parts)
        return f"{named} ({', '.join(cases)})"


def advice(rows: Sequence[tuple[str, Finding]]) -> tuple[Advice, ...]:
    """Findings that do not hold, by kind of part, limit and grade, in the given order; the first of each is told.

    Those without a number are told together only when they have the same cause.
    """
    groups: dict[tuple[str, ...], list[tuple[str, Finding]]] = {}
    for case, finding in rows:
        if finding.grade != "holds":
            cause = finding.cause if finding.headroom is None else ""
            groups.setdefault((family(finding.part), finding.limit, finding.grade, cause), []).append((case, finding))
    return tuple(Advice(found[0][1], tuple((case, finding.part) for case, finding in found)) for found in groups.values())


def number(measures: Mapping[str, Any], key: str) -> float | None:
    """A measure that is a finite number, else None."""
    value = measures.get(key)
    return float(value) if isinstance(value, int | float) and math.isfinite(value) else None


def extreme(measures: Mapping[str, Any], part: str, key: str, lowest: bool = False) -> float | None:
    """The largest (or lowest) of a measure over the sides of a part: extreme(m, "choke", "temperature_c")."""
    values = [value for side in SIDES if (value := number(measures, f"{part}.{side}.{key}")) is not None]
    return (min(values) if lowest else max(values)) if values else None


def workpiece_power(case: CaseResult) -> float | None:
    """Power into the workpiece [W]; None when there is none or it was not measured."""
    return number(case.measures, "workpiece.power_w") if case.heater.workpiece is not None else None


def headlines(case: CaseResult) -> tuple[tuple[str, str], ...]:
    """The dozen numbers a builder asks for first, as (label, text)."""
    m = case.measures
    rows = [
        ("tank frequency", number(m, "tank.frequency_hz"), "Hz"),
        ("tank voltage, peak", number(m, "tank.peak_voltage_v"), "V"),
        ("distortion of the tank voltage", number(m, "tank.thd_ratio"), "ratio"),
        ("coil current, rms", number(m, "coil.rms_current_a"), "A"),
        ("supply current, mean", number(m, "supply.mean_current_a"), "A"),
        ("supply power", number(m, "supply.power_w"), "W"),
        ("power into the workpiece", workpiece_power(case), "W"),
        ("drain voltage, highest peak", extreme(m, "drain", "peak_voltage_v"), "V"),
        ("choke current, highest peak", extreme(m, "choke", "peak_current_a"), "A"),
        ("choke inductance left, lowest", extreme(m, "choke", "inductance_remaining_ratio", lowest=True), "ratio"),
        ("choke temperature, hottest", extreme(m, "choke", "temperature_c"), "°C"),
        ("settled after", number(m, "startup.time_s"), "s"),
    ]
    return tuple((label, value_text(value, unit)) for label, value, unit in rows)


COUNTED = {"fails": "fail", "marginal": "marginal", "unknown": "unknown", "holds": "hold"}


def tally(findings: Sequence[Finding]) -> str:
    """How many findings have each grade: "6 fail, 42 hold"."""
    return ", ".join(f"{count} {COUNTED[grade]}" for grade, count in by_grade(findings).items())


def by_grade(findings: Sequence[Finding]) -> dict[str, int]:
    """How many findings have each grade, worst grade first, absent grades left out."""
    order = sorted(SEVERITY, key=lambda grade: -SEVERITY[grade])
    counts = {grade: sum(finding.grade == grade for finding in findings) for grade in order}
    return {grade: count for grade, count in counts.items() if count}
