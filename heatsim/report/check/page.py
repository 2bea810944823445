# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html: the verdict first, then what to change, every limit and every number, and what it all rests on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from heatsim.errors import printable
from heatsim.report.base.page import Shown, template
from heatsim.report.base.words import MEASURES, SIDES, number, percent, sentence_case, split_key, value_text
from heatsim.report.check import origins, words
from heatsim.studies.check import ENERGY_LIMIT, CaseResult, CheckResult

GROUPS = {
    "tank": "Tank",
    "coil": "Work coil",
    "capacitor": "Capacitor bank",
    "drain": "Drains",
    "switch": "Switches, each device",
    "gate": "Gates",
    "choke": "Chokes",
    "supply": "Supply",
    "gate_supply": "Gate supply",
    "workpiece": "Workpiece",
    "loss": "Losses in the simulated circuit",
    "energy": "Energy",
    "startup": "Start-up",
    "window": "What was measured",
}
"""First word of a measure's key -> heading of its group."""


@dataclass(frozen=True)
class NumberGroup:
    """Measures of one kind of part. plain: label and text; sided: label and one text for each of `sides`."""

    title: str
    sides: tuple[str, ...]
    plain: tuple[tuple[str, str], ...]
    sided: tuple[tuple[str, tuple[str, ...]], ...]


def number_groups(measures: Mapping[str, Any]) -> list[NumberGroup]:
    """The measures in tables for a person, in order of `GROUPS`; kinds without a heading come last under their own."""
    kinds: dict[str, dict[str, dict[str, str]]] = {kind: {} for kind in GROUPS}
    for key, value in measures.items():
        stem, unit = split_key(key)
        kind, *rest = stem.split(".")
        side = next((word for word in rest if word in SIDES), "")
        plain = " ".join(word for word in rest if word != side).replace("_", " ") or kind.replace("_", " ")
        label, unit = MEASURES.get(plain, (plain, unit))
        kinds.setdefault(kind, {}).setdefault(label, {})[side] = value_text(value[:10] if isinstance(value, list) else value, unit)
    return [_group(GROUPS.get(kind, kind.replace("_", " ")), rows) for kind, rows in kinds.items() if rows]


def _group(title: str, rows: Mapping[str, Mapping[str, str]]) -> NumberGroup:
    sides = tuple(side for side in SIDES if any(side in row for row in rows.values()))
    plain = tuple((label, row[""]) for label, row in rows.items() if "" in row)
    sided = tuple((label, tuple(row.get(side, "") for side in sides)) for label, row in rows.items() if "" not in row)
    return NumberGroup(title, sides, plain, sided)


@dataclass(frozen=True)
class PowerBalance:
    """Texts of a case's energy balance; flagged: it misses by more than ENERGY_LIMIT, or is not known at all."""

    flagged: bool
    supplied: str
    workpiece: str
    lost: str
    stored: str
    imbalance: str


def power_balance(case: CaseResult) -> PowerBalance | None:
    """In, out and what is missing; None for a run without powers."""
    found = {key: value for key in case.measures if (value := number(case.measures, key)) is not None}
    if "supply.power_w" not in found:
        return None
    supplied = found["supply.power_w"] + found.get("gate_supply.power_w", 0.0)
    work = None if case.heater.workpiece is None else found.get("workpiece.power_w")
    lost = sum(value for key, value in found.items() if key.startswith("loss.") and key.endswith("_w"))
    missing = found.get("energy.imbalance_ratio")
    flagged = missing is None or abs(missing) > ENERGY_LIMIT
    stored = found.get("energy.stored_change_w")
    texts = (value_text(supplied, "W"), value_text(work, "W"), value_text(lost, "W"), value_text(stored, "W"))
    return PowerBalance(flagged, *texts, value_text(missing, "ratio"))


@dataclass(frozen=True)
class Row:
    """A line of findings as the page shows it; low, high: ends of its headroom bar [% of the bar's width, zero at 50]."""

    line: words.Line
    found: str
    allowed: str
    headroom: str
    low: float
    high: float


def finding_rows(result: CheckResult) -> list[Row]:
    """Every finding, worst first; sides that agree share a row."""
    rows = []
    for line in words.merged(result.findings):
        finding = line.finding
        found, allowed = value_text(finding.value, finding.unit), words.allowed_text(finding)
        bar = 50 * max(-1.0, min(finding.headroom or 0.0, 1.0))
        rows.append(Row(line, found, allowed, percent(finding.headroom), 50 + min(bar, 0), 50 + max(bar, 0)))
    return rows


def render_page(result: CheckResult, pictures: Mapping[str, list[Shown]]) -> str:
    """The page. pictures: case name -> its pictures in reading order. All texts are escaped but the SVG, which is ours."""
    return template("report.html").render(
        result=result,
        sentence=words.verdict_sentence(result),
        advice=words.advice(result.findings),
        rows=finding_rows(result),
        cases=[_case(case, pictures.get(case.name, [])) for case in result.cases],
        headlines=_side_by_side(result),
        tally=words.tally([finding for _, finding in result.findings]),
        file=result.scenario.label.rsplit("/", 1)[-1],
        origins=origins.origins(result),
    )


def _side_by_side(result: CheckResult) -> list[tuple[str, list[str]]]:
    """Headline numbers, a column a case."""
    columns = [dict(words.headlines(case)) for case in result.cases]
    return [(label, [column[label] for column in columns]) for label in columns[0]] if columns else []


def _case(case: CaseResult, pictures: list[Shown]) -> dict[str, Any]:
    """What the template needs of a case."""
    deck = case.deck
    settle = (
        f"drift below {100 * deck.settle.tolerance:g} % between two stretches of {deck.settle.periods} periods; "
        f"at the longest {1e3 * deck.settle.limit:g} ms"
    )
    detail = printable(case.outcome_detail).strip().rstrip(".")
    known = {key: value for key, value in case.measures.items() if value is not None or case.window is not None}
    return {
        "result": case,
        "outcome": words.OUTCOMES.get(case.outcome, case.outcome),
        "pictures": pictures,
        "detail": f"{sentence_case(detail)}." if detail else "",
        "tally": words.tally(case.findings),
        "numbers": number_groups(known),
        "balance": power_balance(case),
        "bases": origins.bases(case),
        "settle": settle,
        "options": ", ".join(f"{name}={value}" for name, value in deck.options.items()) or "the simulator's own",
        "step": value_text(deck.transient.max_step, "s"),
        "stop": value_text(deck.transient.stop, "s"),
    }
