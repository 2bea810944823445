# SPDX-License-Identifier: GPL-3.0-or-later
"""A cured heater is judged by every limit in every case, at its own supply voltage."""

from __future__ import annotations

import heatsim as hs
from heatsim.studies.match.cure import cured_check


def test_a_clean_wave_does_not_make_a_heater_that_holds(checkout) -> None:
    scenario = hs.load(checkout / "scenarios" / "bench-heater-small-rings.toml").change(supply__rise_time="300 us")
    found = cured_check(scenario, {"supply.voltage": "12 V", "choke.right.turns": 20})
    assert found is not None and found.verdict == "fails"
    assert {case.name for case in found.cases} == {"idle", "loaded"}
    assert found.scenario.tables.supply.voltage == 42.0
    assert max(case.measures["tank.thd_ratio"] for case in found.cases) < scenario.tables.limits.thd
    assert found.findings[0][1].limit == "temperature"


def test_a_cure_that_cannot_be_built_is_not_judged(checkout) -> None:
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    assert cured_check(scenario, {"coil.measured": {"inductance": "1 uH", "resistance": "200 mohm"}}) is None
