# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html: one file that needs nothing else, with the verdict first."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from heatsim.report.base import words
from heatsim.report.check import origins
from heatsim.studies.check import ENERGY_LIMIT, CaseResult, CheckResult
from heatsim.verdict.finding import Finding

if TYPE_CHECKING:
    from jinja2 import Template

INK, PAPER = "#31363f", "#ffffff"
"""Colours of the pictures that follow the page's light or dark scheme; the same as in `style`."""

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


LABELS = {
    "thd": ("THD (orders 2 to 40 over the fundamental)", "ratio"),
    "crest": ("crest factor", ""),
    "form": ("form factor", ""),
    "period two": ("difference of every other period", "ratio"),
    "drift": ("drift over the window", "ratio"),
    "harmonic": ("harmonics, orders 1 to 10", "ratio"),
    "even harmonic": ("even harmonics together", "ratio"),
    "odd harmonic": ("odd harmonics together", "ratio"),
    "inductance zero": ("inductance at zero current", "H"),
    "inductance min": ("lowest differential inductance", "H"),
    "inductance remaining": ("inductance left", "ratio"),
    "ripple current": ("ripple current, peak to peak", "A"),
    "flux swing": ("flux swing, peak to peak", "Wb"),
    "imbalance": ("not accounted for", "ratio"),
    "stored change": ("still being stored", "W"),
    "time": ("settled after", "s"),
}
"""Measures whose key does not say enough: label and unit to show."""


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
        stem, unit = words.split_key(key)
        kind, *rest = stem.split(".")
        side = next((word for word in rest if word in words.SIDES), "")
        plain = " ".join(word for word in rest if word != side).replace("_", " ") or kind.replace("_", " ")
        label, unit = LABELS.get(plain, (plain, unit))
        kinds.setdefault(kind, {}).setdefault(label, {})[side] = words.value_text(_shown(value), unit)
    return [_group(GROUPS.get(kind, kind.replace("_", " ")), rows) for kind, rows in kinds.items() if rows]


def _shown(value: Any) -> Any:
    """Long lists are cut: a table is no place for forty harmonics."""
    return value[:10] if isinstance(value, list) else value


def _group(title: str, rows: Mapping[str, Mapping[str, str]]) -> NumberGroup:
    sides = tuple(side for side in words.SIDES if any(side in row for row in rows.values()))
    plain = tuple((label, row[""]) for label, row in rows.items() if "" in row)
    sided = tuple((label, tuple(row.get(side, "") for side in sides)) for label, row in rows.items() if "" not in row)
    return NumberGroup(title, sides, plain, sided)


@dataclass(frozen=True)
class PowerBalance:
    """Texts of a case's energy balance; flagged: it misses by more than ENERGY_LIMIT, or is not known at all."""

    supplied: str
    workpiece: str
    lost: str
    stored: str
    imbalance: str
    flagged: bool


def power_balance(case: CaseResult) -> PowerBalance | None:
    """In, out and what is missing; None for a run without powers."""
    measures = case.measures
    given = [words.number(measures, key) for key in ("supply.power_w", "gate_supply.power_w")]
    if given[0] is None:
        return None
    losses = [words.number(measures, key) or 0.0 for key in measures if key.startswith("loss.") and key.endswith("_w")]
    missing = words.number(measures, "energy.imbalance_ratio")
    supplied, work, lost, stored = (
        words.value_text(value, "W")
        for value in (
            sum(value or 0.0 for value in given),
            words.workpiece_power(case),
            sum(losses),
            words.number(measures, "energy.stored_change_w"),
        )
    )
    flagged = missing is None or abs(missing) > ENERGY_LIMIT
    return PowerBalance(supplied, work, lost, stored, words.value_text(missing, "ratio"), flagged)


@dataclass(frozen=True)
class Row:
    """A line of findings as the page shows it; low, high: ends of its headroom bar [% of the bar's width, zero at 50]."""

    case: str
    finding: Finding
    name: str
    parts: str
    found: str
    allowed: str
    headroom: str
    low: float
    high: float


def finding_rows(result: CheckResult) -> list[Row]:
    """Every finding, worst first; sides that agree share a row."""
    rows = []
    for line in words.merged(words.ordered(result)):
        finding = line.finding
        room = 50 * max(-1.0, min(finding.headroom or 0.0, 1.0))
        rows.append(
            Row(
                line.case,
                finding,
                line.name,
                " ".join(line.parts),
                words.value_text(finding.value, finding.unit),
                words.allowed_text(finding),
                words.headroom_text(finding),
                50 + min(room, 0),
                50 + max(room, 0),
            )
        )
    return rows


def inline(svg: str) -> str:
    """An SVG file's text to be put into the page: no prologue, scaled by the page, ink and paper of the page."""
    body = svg[svg.index("<svg") :]
    body = re.sub(r"(<svg[^>]*?) width=\"[^\"]*\"", r"\1", body, count=1)
    body = re.sub(r"(<svg[^>]*?) height=\"[^\"]*\"", r"\1", body, count=1)
    body = re.sub(r"<metadata>.*?</metadata>", "", body, count=1, flags=re.DOTALL)
    return body.replace(INK, "currentColor").replace(PAPER, "var(--card)")


@dataclass(frozen=True)
class Shown:
    """A picture on the page: heading, what one should see, SVG text."""

    title: str
    caption: str
    svg: str


def render_page(result: CheckResult, pictures: Mapping[str, list[Shown]]) -> str:
    """The page. pictures: case name -> its pictures in reading order. All texts are escaped but the SVG, which is ours."""
    rows = finding_rows(result)
    return template("report.html").render(
        result=result,
        sentence=words.verdict_sentence(result),
        advice=words.advice(words.ordered(result)),
        rows=rows,
        cases=[_case(case, pictures.get(case.name, [])) for case in result.cases],
        headlines=_side_by_side(result),
        tally=words.tally([finding for _, finding in result.findings]),
        file=result.scenario.label.rsplit("/", 1)[-1],
        origins=origins.origins(result),
        assumptions=origins.ASSUMPTIONS,
        cautions=origins.CAUTIONS,
        no_proof=origins.NO_PROOF,
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
    options = ", ".join(f"{name}={value}" for name, value in deck.options.items())
    detail = words.printable(case.outcome_detail).strip().rstrip(".")
    known = {key: value for key, value in case.measures.items() if value is not None or case.window is not None}
    return {
        "result": case,
        "outcome": words.OUTCOMES.get(case.outcome, case.outcome),
        "pictures": pictures,
        "detail": f"{detail[0].upper()}{detail[1:]}." if detail else "",
        "tally": words.tally(case.findings),
        "numbers": number_groups(known),
        "balance": power_balance(case),
        "bases": origins.bases(case),
        "settle": settle,
        "options": options or "the simulator's own",
        "step": words.value_text(deck.transient.max_step, "s"),
        "stop": words.value_text(deck.transient.stop, "s"),
    }


@lru_cache
def template(name: str) -> Template:
    """A page's template; everything is escaped unless marked, and unknown names are errors."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    loader = PackageLoader("heatsim.report")
    environment = Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["seconds"] = lambda value: words.value_text(value, "s")
    environment.filters["line"] = words.printable
    return environment.get_template(name)
