# SPDX-License-Identifier: GPL-3.0-or-later
"""report.html: the verdict first, then what to change, every limit and every number, and what it all rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from heatsim.errors import printable
from heatsim.measures.errors import stated_errors
from heatsim.measures.gather import STANDARD
from heatsim.report.base.page import Shown, template
from heatsim.report.base.sheet import HEATER_CAUTIONS, NO_PROOF, simulated
from heatsim.report.base.topics import topic_of_limit
from heatsim.report.base.words import SIDES, number, sentence_case, split_key, told_as, value_text
from heatsim.report.base.zoom import HOW, script
from heatsim.report.check import bank, copper, gates, origins, silicon, trouble, words
from heatsim.report.check import remedies as remedy_words
from heatsim.report.check.zoomed import MOST_CASES, STILL, Zoomed
from heatsim.studies.check import ENERGY_LIMIT, CaseResult, CheckResult
from heatsim.studies.remedy import Remedies

GROUPS = {
    "tank": "Tank",
    "coil": "Work coil",
    "capacitor": "Capacitor bank",
    "drain": "Drains",
    "switch": "Switches, each device",
    "gate": "Gates",
    "choke": "Chokes",
    "conductor": "Conductors",
    "supply": "Supply",
    "gate_supply": "Gate supply",
    "workpiece": "Workpiece",
    "loss": "Losses in the simulated circuit",
    "energy": "Energy",
    "startup": "Start-up",
    "window": "What was measured",
    "crest": "At the crest of the supply's swing",
    "valley": "In the valley of the supply's swing",
}
"""First word of a measure's key -> heading of its group."""


SHOWN = 0.05
"""An error is shown beside a measure where it is more than this share of it."""

CURVES = (".warm_up_c", ".currents_a")
"""Measures that are drawn and not written out."""


@dataclass(frozen=True)
class NumberGroup:
    """Measures of one kind of part. sides: those there are; rows: label -> side ("" for none) -> text."""

    title: str
    sides: tuple[str, ...]
    rows: Mapping[str, Mapping[str, str]]


def number_groups(measures: Mapping[str, Any]) -> list[NumberGroup]:
    """The measures in tables for a person, in order of `GROUPS`; kinds without a heading come last under their own."""
    kinds: dict[str, dict[str, dict[str, str]]] = {kind: {} for kind in GROUPS}
    errors = stated_errors(measures)
    for key, value in measures.items():
        if STANDARD in key or key.endswith(CURVES):
            continue
        stem, unit = split_key(key)
        kind, *rest = stem.split(".")
        side = next((word for word in rest if word in SIDES), "")
        numbered = next((f", number {word}" for word in rest if word.isdigit()), "")
        plain = " ".join(word for word in rest if word != side and not word.isdigit()).replace("_", " ") or kind.replace("_", " ")
        label, unit = told_as(kind, plain, unit)
        kinds.setdefault(kind, {}).setdefault(label + numbered, {})[side] = measure_text(value, unit, errors.get(key))
    groups = []
    for kind, rows in kinds.items():
        sides = tuple(side for side in SIDES if any(side in row for row in rows.values()))
        groups += [NumberGroup(GROUPS.get(kind, kind.replace("_", " ")), sides, rows)] if rows else []
    return groups


def measure_text(value: Any, unit: str, error: float | None) -> str:
    """A measure, with its error where that is more than SHOWN of it; of a ratio smaller than its error, only that it is."""
    if isinstance(value, list):
        return value_text(value[:10], unit)
    if not error or not isinstance(value, float) or error <= SHOWN * abs(value):
        return value_text(value, unit)
    told = value_text(error, unit, 2)
    return f"below {told}" if unit == "ratio" and abs(value) < error else f"{value_text(value, unit)} ± {told}"


def power_balance(case: CaseResult) -> tuple[dict[str, str], bool]:
    """In, out and what is missing, as texts, none for a run without powers; and whether the balance misses by more than
    ENERGY_LIMIT or is not known at all.
    """
    found = {key: value for key in case.measures if (value := number(case.measures, key)) is not None}
    if "supply.power_w" not in found:
        return {}, False
    missing = found.get("energy.imbalance_ratio")
    powers = {
        "supplied": found["supply.power_w"] + found.get("gate_supply.power_w", 0.0),
        "into the workpiece": None if case.heater.workpiece is None else found.get("workpiece.power_w"),
        "lost in named parts": sum(value for key, value in found.items() if key.startswith("loss.") and key.endswith("_w")),
        "still being stored": found.get("energy.stored_change_w"),
    }
    texts = {label: value_text(power, "W") for label, power in powers.items()}
    texts["not accounted for"] = f"{value_text(missing, 'ratio')} of the supplied power"
    return texts, missing is None or abs(missing) > ENERGY_LIMIT


def render_page(
    result: CheckResult,
    pictures: Mapping[str, list[Shown]],
    remedies: Remedies | None = None,
    device: Sequence[Shown] = (),
    circuits: Sequence[Shown] = (),
    zoomed: Mapping[str, Sequence[Zoomed]] | None = None,
    together: Zoomed | None = None,
) -> str:
    """The page. All texts are escaped but SVG and figures, which are ours.

    pictures: case name -> its pictures in reading order; remedies: of a search; device: the MOSFET's curves; circuits: each case's;
    zoomed: case name -> figures shown instead of some pictures where scripts run; together: the cases over one another
    """
    worst = result.findings[0][0] if result.findings else result.cases[0].name
    file = result.scenario.label.rsplit("/", 1)[-1]
    return template("report.html").render(
        result=result,
        words=words,
        copper=copper,
        origins=origins,
        device_pictures=device,
        circuits=sorted(zip((case.name for case in result.cases), circuits, strict=False), key=lambda pair: pair[0] != worst),
        together=together,
        head=script() if together or zoomed and any(zoomed.values()) else "",
        still=STILL if len(result.cases) > MOST_CASES else "",
        how=HOW,
        findings=[finding for _, finding in result.findings],
        advice=words.advice(result.findings),
        remedies=remedies,
        remedy_words=remedy_words,
        trouble=trouble,
        rows=words.merged(result.findings),
        topic_of_limit=topic_of_limit,
        cases=[_case(case, pictures.get(case.name, []), (zoomed or {}).get(case.name, ())) for case in result.cases],
        headlines=[dict(words.headlines(case)) for case in result.cases],
        caution=NO_PROOF,
        cautions=HEATER_CAUTIONS,
        simulated=simulated(result.scenario.label),
        file=file,
    )


def _case(case: CaseResult, pictures: list[Shown], zoomed: Sequence[Zoomed]) -> dict[str, Any]:
    """What the template needs of a case beside its result."""
    settle, detail = case.deck.settle, printable(case.outcome_detail).strip().rstrip(".")
    known = {key: value for key, value in case.measures.items() if value is not None or case.window is not None}
    balance, flagged = power_balance(case)
    return {
        "result": case,
        "pictures": pictures,
        "zoomed": zoomed,
        "instead": [title for figure in zoomed for title in figure.titles],
        "bank": bank.advice(case.measures, case.heater.capacitors.rails),
        "detail": f"{sentence_case(detail)}." if detail else "",
        "numbers": number_groups(known),
        "drive": gates.drive_words(case.heater),
        "gate_heat": gates.heat_rows(case),
        "gate_heat_not_judged": gates.not_judged(case),
        "balance": balance,
        "conductors": copper.conductors(case),
        "water": copper.water(case),
        "flagged": flagged,
        "silicon": silicon.rows(case),
        "silicon_note": silicon.note(case),
        "settle": f"drift below {100 * settle.tolerance:g} % between two stretches of {settle.periods} periods; "
        f"at the longest {1e3 * settle.limit:g} ms",
        "end": case.deck.transient.stop if case.waveforms is None else float(case.waveforms.time[-1]),
        "options": ", ".join(f"{name}={value}" for name, value in case.deck.options.items()) or "the simulator's own",
    }
