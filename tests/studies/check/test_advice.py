# SPDX-License-Identifier: GPL-3.0-or-later
"""No two remedies of one answer pull a part of the gate drive both ways, whatever fails together. No simulator."""

from __future__ import annotations

import ast
from dataclasses import replace
from itertools import combinations, product
from pathlib import Path

import pytest

import heatsim
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, case_deck
from heatsim.studies.check.advice import agreed, moves_of
from heatsim.studies.check.limits import case_limits
from heatsim.studies.check.limits.drive import LOWERED, MOVES
from heatsim.verdict import Finding, judge

TOLD = [*MOVES, *(f"{words} 68 ohm to 47 ohm." for words in LOWERED)]


@pytest.fixture(scope="module")
def scenario(checkout: Path) -> Scenario:
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


@pytest.fixture(scope="module")
def case(scenario: Scenario) -> CaseResult:
    deck = case_deck(scenario, "loaded")
    return CaseResult("loaded", "settled", "", {}, (), scenario.heater("loaded"), deck, None, None, (), 0.0)


def told(remedy: str, grade: str = "fails") -> Finding:
    return Finding("gate.left", "limit", 1.0, 2.0, "V", -1.0, grade, "rating", "Cause.", remedy)  # type: ignore[arg-type]


def torn(cases: tuple[CaseResult, ...]) -> set[str]:
    """Parts that more and less is asked of."""
    asked = {move for each in cases for found in each.findings if found.grade != "holds" for move in moves_of(found.remedy)}
    return {part for part, way in asked if (part, -way) in asked}


@pytest.mark.parametrize("count", [2, 3, 4])
def test_no_remedies_pull_both_ways(case: CaseResult, count: int) -> None:
    contradicted = 0
    for some in combinations(TOLD, count):
        cases = [replace(case, findings=(told(remedy),)) for remedy in some]
        contradicted += bool(torn(tuple(cases)))
        assert not torn(agreed(cases)), some
    assert contradicted


@pytest.mark.parametrize(("part", "way"), list(product(["pull-up", "gate resistor"], [1, -1])))
def test_what_was_simulated_stands(case: CaseResult, part: str, way: int) -> None:
    for remedy in MOVES:
        found = agreed([replace(case, findings=(told(remedy),))], {part: way})[0].findings[0]
        assert (part, -way) not in set(moves_of(found.remedy))
        opposed = (part, -way) in set(moves_of(remedy))
        assert (found.remedy == remedy) != opposed
        assert not opposed or "simulation shows that the opposite helps" in found.remedy


def test_what_holds_is_left_alone_and_asks_for_nothing(case: CaseResult) -> None:
    weaken, lower = (next(text for text in MOVES if text.startswith(word)) for word in ("Weaken", "Use a smaller pull-up so"))
    findings = (told(weaken, "holds"), told(lower))
    assert agreed([replace(case, findings=findings)])[0].findings == findings


def test_a_gate_that_is_late_beside_one_that_is_early_is_no_contradiction(scenario: Scenario, case: CaseResult) -> None:
    """Judged side by side: one drain up again when its gate comes, the other not yet down."""
    measures = {"tank.frequency_hz": 85e3, "gate.left.rise_delay_s": 2e-6, "gate.right.rise_delay_s": 1e-8}
    for side in ("left", "right"):
        measures |= {
            f"drain.{side}.peak_voltage_v": 130.0,
            f"switch.{side}.turn_on_voltage_v": 60.0,
            f"gate.{side}.max_voltage_v": 14.0,
        }
    limits = case_limits(scenario, case.heater, measures)
    both = replace(case, measures=measures, findings=judge(measures, limits, 0.1))
    assert torn((both,)) == {"pull-up"}
    assert not torn(agreed([both]))


def test_every_remedy_that_speaks_of_the_gate_drive_is_known() -> None:
    """Texts elsewhere in `check` that tell to change it would be contradicted unseen."""
    folder = Path(heatsim.__file__).parent / "studies" / "check"
    for path in folder.rglob("*.py"):
        if path.name == "drive.py":
            continue
        texts = [node.value for node in ast.walk(ast.parse(path.read_text("utf-8"))) if isinstance(node, ast.Constant)]
        for text in (each for each in texts if isinstance(each, str)):
            verb = text.split(" ")[0] in ("Lower", "Raise", "Weaken", "Add", "Make", "Take")
            assert not (verb and any(word in text for word in ("pull-up", "gate"))), (path.name, text)
