# SPDX-License-Identifier: GPL-3.0-or-later
"""Fault models and nuisance parameters of a heater."""

from __future__ import annotations

from pathlib import Path

import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.fault_model import CAUSES, PROBE
from heatsim.studies.match.faults import fault_models, nuisance_parameters
from heatsim.studies.match.parameters import with_changes

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def test_every_cause_has_its_fault_models() -> None:
    causes = {fault.cause for fault in fault_models(BENCH.heater("loaded"))}
    assert causes == set(CAUSES) - {PROBE}
    assert "heavy load" not in {fault.cause for fault in fault_models(BENCH.heater("idle"))}
    one = BENCH.change({"heater.topology": "one-choke"}).heater("loaded")
    assert not any("weaker" in fault.name for fault in fault_models(one))


@pytest.mark.parametrize("case", ["loaded", "idle"])
def test_every_fault_model_builds_a_heater_over_its_whole_range(case: str) -> None:
    heater = BENCH.heater(case)
    for fault in fault_models(heater):
        for u in (0.0, 0.5, 1.0):
            changed = with_changes(heater, fault.changes(tuple(p.value(u) for p in fault.parameters)))
            assert 20e3 < changed.frequency < 400e3, fault.name
    for parameter in nuisance_parameters(heater):
        if parameter.name == "load" and case == "idle":
            continue
        assert with_changes(heater, {name: parameter.deviation * share for name, share in parameter.changes.items()}) != heater
