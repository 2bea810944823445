# SPDX-License-Identifier: GPL-3.0-or-later
"""A fitted heater as a scenario file, and a cured one judged by every limit in every case, at its own supply voltage."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import heatsim as hs
from heatsim.scenario.scenario import Scenario
from heatsim.scenario.written import with_fields
from heatsim.studies.match.cure import cured_text, fitted_fields
from heatsim.studies.match.fitted import built
from heatsim.studies.match.parameters import with_changes
from heatsim.studies.match.pool import MatchPool

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def test_fitted_fields_make_the_fitted_heater() -> None:
    """Through text and back: every electrical value within the digits written."""
    changes = {
        "log_capacitance": -0.1,
        "log_coil": 0.02,
        "log_load": 0.3,
        "log_strength_right": -0.8,
        "log_reach_right": 0.2,
        "feed_left": 0.2,
        "short_resistance_left": 2.0,
        "short_inductance_left": 1e-5,
        "log_pull_up": 0.5,
        "threshold": 0.2,
        "log_supply": -0.1,
        "capacitor_resistance": 0.01,
        "lead_resistance": 0.02,
    }
    wanted = with_changes(BENCH.heater("loaded"), changes)
    text = with_fields(BENCH, fitted_fields(BENCH, "loaded", wanted), "fitted for a test")
    assert text.startswith("# fitted for a test\n")
    found = Scenario.from_text(text).heater("loaded")
    assert found.frequency == pytest.approx(wanted.frequency, rel=2e-3)
    for one, other in (
        (found.supply.voltage, wanted.supply.voltage),
        (found.capacitors.capacitance, wanted.capacitors.capacitance),
        (found.loaded_inductance, wanted.loaded_inductance),
        (found.loaded_resistance, wanted.loaded_resistance),
        (found.gate.pull_up, wanted.gate.pull_up),
        (found.switch.threshold, wanted.switch.threshold),
    ):
        assert one == pytest.approx(other, rel=2e-3)
    for a, b in zip(found.chokes, wanted.chokes, strict=True):
        currents = np.linspace(0, 60, 40)
        assert a.curve.inductance(currents) == pytest.approx(b.curve.inductance(currents), abs=0.02 * b.curve.inductance_zero)
        assert a.resistance == pytest.approx(b.resistance, rel=1e-4)
        assert a.short == b.short


@pytest.mark.slow
def test_a_clean_wave_does_not_make_a_heater_that_holds() -> None:
    scenario = hs.load(ROOT / "scenarios" / "bench-heater-small-rings.toml").change(supply__rise_time="300 us")
    cured = built(scenario, cured_text(scenario, {"supply.voltage": "12 V", "choke.right.turns": 20}))
    with MatchPool() as pool:
        found, none = pool.checked([cured, None])
    assert none is None
    assert found is not None and found.verdict == "fails"
    assert {case.name for case in found.cases} == {"idle", "loaded"}
    assert found.scenario.tables.supply.voltage == 42.0
    assert max(case.measures["tank.thd_ratio"] for case in found.cases) < scenario.tables.limits.thd
    failing = {(finding.part, finding.limit) for _, finding in found.findings if finding.grade == "fails"}
    assert {("choke.left", "temperature"), ("choke.right", "temperature")} <= failing
    assert found.findings[0][1].limit == "windability, copper fill"


def test_a_cure_that_cannot_be_built_is_none() -> None:
    assert built(BENCH, cured_text(BENCH, {"coil.measured": {"inductance": "1 uH", "resistance": "200 mohm"}})) is None
