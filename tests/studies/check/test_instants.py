# SPDX-License-Identifier: GPL-3.0-or-later
"""Judged at the worst instant: made-up swings of known phases, and heaters whose supply swings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine import Run
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import SWITCH_ON, case_deck
from heatsim.studies.check.instants import instants, worst_findings
from heatsim.studies.check.limits import outcome_finding, over_voltage
from heatsim.verdict import Finding
from heatsim.waves import Waveforms

F, RIPPLE = 80e3, 8e-3


@pytest.fixture(scope="module")
def scenario(checkout) -> Scenario:  # type: ignore[no-untyped-def]
    return Scenario.from_file(checkout / "scenarios" / "bench-heater.toml")


def rippled_run(scenario: Scenario, leads: float) -> Run:
    """A tank that follows a ripple; the supply's current leads it by so many cycles."""
    deck = case_deck(scenario.change({"supply.ripple": "3 V", "supply.ripple_frequency": "125 Hz"}), "loaded")
    time = np.arange(0, 2.1 * RIPPLE, 1 / F / 40)
    slow = 2 * np.pi * time / RIPPLE
    carrier = np.sin(2 * np.pi * F * time)
    signals = {
        "tank.voltage": 130 * (1 + 0.05 * np.sin(slow)) * carrier,
        "supply.current": 26 + 2 * np.sin(slow + 2 * np.pi * leads),
        "choke.left.current": 13 + 0 * time,
        "choke.right.current": 13 + 0 * time,
    }
    return Run("settled", "", Waveforms(time, signals), deck)


@pytest.mark.parametrize("leads", [0.0, 0.25])
def test_crest_valley_and_what_leads_are_found_in_the_last_cycle(scenario: Scenario, leads: float) -> None:
    run = rippled_run(scenario, leads)
    found = {each.name: each for each in instants(run, 20)}
    middle = {name: (each.stop - each.periods / F / 2) / RIPPLE % 1 for name, each in found.items()}
    assert middle["crest"] == pytest.approx(0.25, abs=0.03)
    assert middle["valley"] == pytest.approx(0.75, abs=0.03)
    others = [middle[name] for name in found if name not in ("crest", "valley")]
    if leads:
        assert min(min(place, 1 - place) for place in others) < 0.03  # a quarter before the crest
        assert min(abs(place - 0.5) for place in others) < 0.03
    stops = [each.stop for each in found.values()]
    assert run.waveforms is not None and min(stops) > run.waveforms.time[-1] - 1.2 * RIPPLE
    assert {each.periods for each in found.values()} == {20}


def test_without_a_swing_there_are_no_instants(scenario: Scenario) -> None:
    run = rippled_run(scenario, 0.0)
    calm = replace(run.deck, settle=replace(run.deck.settle, ripple_period=0.0))
    assert instants(replace(run, deck=calm), 20) == ()
    swinging = replace(run.deck, settle=replace(run.deck.settle, ripple_period=0.0, swing_period=RIPPLE))
    assert instants(replace(run, deck=swinging), 20) == ()
    assert len(instants(replace(run, deck=swinging, outcome="drifting"), 20)) >= 2
    assert len(instants(replace(run, deck=swinging, detail="the supply's own resonance still swings"), 20)) >= 2


def finding(value: float, allowed: float, grade: str) -> Finding:
    return Finding(
        "supply", "mean current", value, allowed, "A", (allowed - value) / allowed, grade, "rating", "Too much.", "Less."
    )  # type: ignore[arg-type]


def test_of_each_limit_the_worst_instant_counts() -> None:
    crest = (finding(26.0, 27.0, "holds"), finding(3.0, 2.0, "fails"))
    valley = (finding(27.5, 27.0, "fails"), finding(1.0, 2.0, "holds"))
    found = worst_findings({"crest": crest, "valley": valley})
    assert [each.value for each in found] == [27.5, 3.0]
    assert "valley" in found[0].cause and found[1].cause == "Too much."


def test_an_unknown_at_one_instant_is_no_holds() -> None:
    unknown = replace(finding(1.0, 2.0, "unknown"), value=None, headroom=None)
    assert worst_findings({"crest": (finding(1.0, 2.0, "holds"),), "valley": (unknown,)})[0].grade == "unknown"


@pytest.mark.parametrize(("drain", "named"), [(201.0, True), (150.0, False), (2.0, False)])
def test_over_voltage_is_told_by_its_name(scenario: Scenario, drain: float, named: bool) -> None:
    heater = scenario.heater("loaded")
    time = np.linspace(0, 1e-3, 1000)
    volts = np.where(time < 0.5e-3, 230.0, drain)  # what the start leaves does not count
    waves = Waveforms(time, {"drain.left.voltage": volts, "drain.right.voltage": volts})
    run = Run("latched", "no oscillation while current stands high", waves, case_deck(scenario, "loaded"))
    found = outcome_finding(run.outcome, run.detail, over_voltage(run, heater))
    assert found.grade == "fails"
    assert ("Over-voltage" in found.cause and "200 V" in found.cause and "63.7 V" in found.remedy) == named
    assert ("rise faster" in found.remedy) == (not named)
    assert over_voltage(replace(run, outcome="settled"), heater) is None


@pytest.mark.ngspice
def test_a_supply_above_the_rating_is_over_voltage(scenario: Scenario) -> None:
    case = hs.check(scenario.change({"supply.voltage": "400 V", "simulate.steps_per_period": 100}), ["loaded"]).cases[0]
    assert case.grade == "fails"
    assert case.findings[0].cause.startswith("Over-voltage: on a supply of 400 V")


@pytest.mark.ngspice
@pytest.mark.slow
def test_a_ringing_supply_is_at_rest_before_it_is_judged(scenario: Scenario) -> None:
    """Leads of 300 uH before 2 mF ring at 205 Hz for 40 ms. The mean current is that without them: a coil drops no mean volts."""
    changes = {"supply.current_rating": "27 A", "heater.wanted_headroom": "2 %", "simulate.steps_per_period": 100}
    plain = hs.check(scenario.change(changes), ["loaded"]).cases[0]
    ringing = hs.check(scenario.change(changes | {"supply.inductance": "300 uH", "supply.reservoir": "2 mF"}), ["loaded"]).cases[0]
    assert (plain.grade, ringing.grade) == ("fails", "fails")
    assert ringing.outcome == "settled"
    assert ringing.measures["supply.mean_current_a"] == pytest.approx(plain.measures["supply.mean_current_a"], rel=4e-3)


@pytest.mark.ngspice
@pytest.mark.slow
@pytest.mark.timeout(1800)
@pytest.mark.parametrize(
    "changes",
    [{"supply.ripple": "3 V", "supply.ripple_frequency": "150 Hz"}, {"supply.inductance": "300 uH", "supply.reservoir": "2 mF"}],
)
def test_an_idle_heater_on_a_slow_supply_ends_in_a_verdict(scenario: Scenario, changes: dict[str, str]) -> None:
    """Idle hardly damps the supply's resonance: it swings on for 100 ms, and is judged at the worst instant of its swing. Switched
    on, it swings to nearly twice its voltage, and the drains to pi times that: over their 200 V, while all else holds."""
    quick = {"supply.current_rating": "27 A", "heater.wanted_headroom": "2 %", "simulate.steps_per_period": 100}
    result = hs.check(scenario.change({**quick, **changes, "simulate.time_limit": "1800 s"}), ["idle"])
    case = result.cases[0]
    short = {finding.limit for finding in case.findings if finding.grade != "holds"}
    assert (case.outcome, short) == ("settled", {SWITCH_ON} if "supply.inductance" in changes else set())
    crest, valley = (case.measures[f"{name}.tank.peak_voltage_v"] for name in ("crest", "valley"))
    assert isinstance(crest, float) and isinstance(valley, float) and crest > valley
    told = [warning.text for warning in result.warnings if "judged at the worst instant" in warning.text]
    assert bool(told) == ("supply.inductance" in changes)
    current = next(finding for finding in case.findings if finding.limit == "mean current")
    assert current.value is not None and current.value > max(
        case.measures[f"{name}.supply.mean_current_a"] or 0.0 for name in ("crest", "valley")
    )
