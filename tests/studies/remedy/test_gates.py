# SPDX-License-Identifier: GPL-3.0-or-later
"""Heaters of our own invention whose gates are at fault: a value is found, written into the file, and holds when checked."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult
from heatsim.studies.remedy import find_remedies, fixed_text
from heatsim.studies.remedy import study as remedy_study
from heatsim.studies.remedy.result import Tried
from heatsim.studies.remedy.search import Ground, gate_faults, gate_moves, gate_search
from heatsim.verdict import Finding

QUICK = {"supply.rise_time": "0.5 ms", "simulate.longest": "6 ms", "simulate.steps_per_period": 100}

SICK = {
    "gates that fall late": ({"gate.resistor": "82 ohm"}, "gate.resistor", "current of a device"),
    "a pull-up too weak to drive": ({"gate.pull_up": "470 ohm"}, "gate.pull_up", "gate drive reached"),
    "a pull-up so weak that it latches": ({"gate.pull_up": "3.3 kohm"}, "gate.pull_up", "starts and settles"),
}
"""What is wrong -> fields, the field that cures it, and a limit that fails."""


@pytest.fixture(scope="module")
def loaded(checkout: Path) -> Scenario:
    """The bench heater with nothing but its loaded case."""
    text = (checkout / "scenarios" / "bench-heater.toml").read_text("utf-8").replace("[case.idle]\n", "")
    return Scenario.from_text(text, "bench-heater.toml", checkout / "scenarios").change(QUICK)


@pytest.mark.slow
@pytest.mark.ngspice
@pytest.mark.timeout(1800)
@pytest.mark.parametrize("name", SICK)
def test_a_gate_value_is_found_and_holds_when_applied(loaded: Scenario, name: str) -> None:
    fields, field, limit = SICK[name]
    sick = loaded.change(fields)
    result = hs.check(sick)
    assert any(limit in finding.limit for _, finding in result.findings if finding.grade == "fails")
    remedies = find_remedies(result, jobs=1, seconds=math.inf, most=16, enough=1)
    assert remedies.found, remedies.why_not or remedies.ended
    first = remedies.found[0]
    assert [change.kind for change in first.changes] == ["gates"] and field in first.changes[0].fields
    applied = hs.check(Scenario.from_text(fixed_text(sick, first), sick.label, sick.folder))
    assert applied.verdict == "holds"


def failing(part: str, limit: str, remedy: str, grade: str = "fails") -> Finding:
    return Finding(part, limit, 2.0, 1.0, "A", -1.0, grade, "rating", "", remedy)  # type: ignore[arg-type]


def test_switches_that_a_late_gate_overloads_are_a_fault_of_the_gates(loaded: Scenario) -> None:
    """The limit is one of currents; its remedy says what is behind it."""
    late = failing(
        "switch.left",
        "peak current of a device",
        "Use a smaller gate resistor so that the gate falls earlier; check the coupling diodes.",
    )
    other = failing(
        "switch.left", "peak current of a device", "Put more devices in parallel on each side, or lower the supply voltage."
    )
    assert gate_moves([late]) == {("gate resistor", -1)} and gate_moves([other]) == frozenset()
    assert gate_moves([failing("switch.left", "peak current of a device", late.remedy, "holds")]) == frozenset()
    assert gate_faults([]) == frozenset()


def test_a_turn_on_that_no_gate_came_to_is_searched_for_all_the_same() -> None:
    unmeasured = Finding("switch.left", "drain voltage at turn-on", None, 12.0, "V", None, "unknown", "common practice", "", "")
    unrated = Finding("switch.left", "peak current of a device", None, None, "A", None, "unknown", "rating", "", "")
    assert not remedy_study._stays_unknown(unmeasured) and remedy_study._stays_unknown(unrated)


def test_a_trial_that_came_to_no_steady_state_cures_nothing(loaded: Scenario) -> None:
    """Its limits could not be judged, so that none of them failed."""
    asked: list[Tried] = []
    search = gate_search(Ground(loaded, {}, ("loaded",)), (), frozenset({("pull-up", -1)}), frozenset(), asked)
    first = next(search)
    stalled = CaseResult("loaded", "stalled", "", {}, (), loaded.heater("loaded"), None, None, None, (), 0.0)  # type: ignore[arg-type]
    second = search.send(Tried(first.changes, loaded, {"loaded": stalled}, ("loaded",)))
    assert not asked and second.changes != first.changes
    with pytest.raises(StopIteration):
        search.send(Tried(second.changes, loaded, {"loaded": replace(stalled, outcome="settled")}, ("loaded",)))
    assert [each.changes for each in asked] == [second.changes]
