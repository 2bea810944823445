# SPDX-License-Identifier: GPL-3.0-or-later
"""Starts that overshoot: which are simulated again, and that the worst of them is judged. No simulator is asked."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine import Run
from heatsim.measures.errors import stated_errors
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import SWITCH_ON, CaseResult, case_deck, case_limits, peak_key
from heatsim.studies.check.limits.start import OVER_VOLTS
from heatsim.studies.check.restart import again, at_worst_start, overshoots
from heatsim.studies.remedy import changes
from heatsim.studies.remedy.predict import predicted_measures
from heatsim.verdict import judge
from heatsim.waves import Waveforms

STEADY = 130.0


@pytest.fixture(scope="module")
def bench(checkout) -> Scenario:
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def record(drains: tuple[float, float], choke: float = 15.0) -> Waveforms:
    """So much at most in each drain [V] and in each choke [A]."""
    shape = np.array([0.0, 1.0, 0.5])
    signals = {f"drain.{side}.voltage": most * shape for side, most in zip(("left", "right"), drains, strict=True)}
    signals |= {f"choke.{side}.current": choke * shape for side in ("left", "right")}
    return Waveforms(np.array([0.0, 1e-3, 2e-3]), signals, dict.fromkeys(signals, "V"))


def found(scenario: Scenario, drains: tuple[float, float], choke: float = 15.0, outcome: str = "settled") -> CaseResult:
    """The loaded case with a start like that, of which nothing else is known."""
    heater = scenario.heater("loaded")
    measures: dict[str, Any] = {"startup.class": "starts"}
    for side, most in zip(("left", "right"), drains, strict=True):
        measures |= {peak_key(side): most, f"drain.{side}.peak_voltage_v": STEADY, f"choke.{side}.peak_current_a": 14.8}
    chosen = scenario.case("loaded")
    limits = [each for each in case_limits(chosen, heater, measures) if each.name == SWITCH_ON]
    findings = judge(measures, limits, 0.05)
    deck = case_deck(scenario, "loaded", heater)
    return CaseResult("loaded", outcome, "", measures, findings, heater, deck, record(drains, choke), None, (), 0.0, 0.05)


def run_of(waves: Waveforms | None, deck: Any) -> Run:
    return Run("drifting", "", waves, deck, (), 0.0, "none")


def test_drains_at_switch_on_are_judged_whatever_is_said_of_the_supply(bench: Scenario) -> None:
    """A file without [supply.source] held although its drains stood at their rating."""
    assert bench.heater("loaded").supply.source is None
    assert {each.grade for each in found(bench, (201.0, 203.0)).findings} == {"fails"}
    assert [each.part for each in found(bench, (201.0, 131.0)).findings if each.grade == "fails"] == ["switch.left"]
    assert {each.grade for each in found(bench, (133.0, 133.0)).findings} == {"holds"}


@pytest.mark.parametrize(
    ("drains", "choke", "outcome", "expected"),
    [
        ((133.0, 132.0), 15.0, "settled", False),
        ((133.0, 150.0), 15.0, "settled", True),
        ((133.0, 132.0), 24.0, "settled", True),
        ((133.0, 150.0), 15.0, "drifting", True),
        ((133.0, 150.0), 15.0, "latched", False),
    ],
)
def test_a_start_is_repeated_where_drains_or_chokes_went_beyond_their_steady_state(
    bench: Scenario, drains: tuple[float, float], choke: float, outcome: str, expected: bool
) -> None:
    assert overshoots(found(bench, drains, choke, outcome)) is expected


def test_drains_that_are_too_high_anyway_are_not_simulated_again(bench: Scenario) -> None:
    case = found(bench, (201.0, 203.0))
    assert not overshoots(replace(case, measures=case.measures | {"startup.class": OVER_VOLTS}))


def test_decks_of_further_starts_differ_in_the_capacitors_and_end_with_the_first_look(bench: Scenario) -> None:
    case = found(bench, (133.0, 150.0))
    one, other = (case_deck(bench, "loaded", heater).to_first_look() for heater in again(case))
    assert len({case.deck.text, one.text, other.text}) == 3
    for deck in (one, other):
        assert deck.settle.limit == deck.settle.first == pytest.approx(case.deck.settle.first, rel=1e-4)
    assert case.deck.settle.limit > 2 * case.deck.settle.first
    assert again(found(bench, (133.0, 132.0))) == []


def test_the_worst_start_is_judged_and_told_with_its_spread(bench: Scenario) -> None:
    case = found(bench, (150.0, 140.0))
    runs = [run_of(record((198.0, 120.0)), case.deck), run_of(record((135.0, 160.0)), case.deck)]
    worst = at_worst_start(case, bench, runs)
    assert worst.measures[peak_key("left")] == 198.0 and worst.measures[peak_key("right")] == 160.0
    left, right = worst.findings
    assert (left.grade, right.grade) == ("marginal", "holds")
    assert "3 starts" in left.cause and "120 V to 198 V" in left.cause
    assert worst.measures["startup.class"] == OVER_VOLTS
    assert stated_errors(worst.measures)[peak_key("left")] > 3 * np.std([150.0, 198.0, 135.0])


def test_starts_that_could_not_be_simulated_change_nothing(bench: Scenario) -> None:
    case = found(bench, (150.0, 140.0))
    assert at_worst_start(case, bench, [run_of(None, case.deck)]) is case


def test_a_calmer_start_is_foreseen_with_a_slower_rise_and_a_lower_supply(bench: Scenario) -> None:
    case = found(bench, (190.0, 130.0))
    slower = bench.change({"supply.rise_time": f"{2e3 * bench.heater('loaded').supply.rise_time:g} ms"}).heater("loaded")
    assert predicted_measures(case, slower)[peak_key("left")] == pytest.approx(STEADY + 60.0 / 2)
    half = bench.change({"supply.voltage": f"{bench.heater('loaded').supply.voltage / 2:g} V"}).heater("loaded")
    assert predicted_measures(case, half)[peak_key("left")] == pytest.approx(95.0)


def test_calmer_starts_have_the_gates_up_first_and_let_the_supply_rise_more_slowly(bench: Scenario) -> None:
    kinds = [each.kind for each in changes.calmer_starts(bench.change({"gate.supply_delay": "2 ms"}))]
    assert kinds[0] == "gates" and kinds[1] == "rise" and kinds[-1] == "gates"
    rises = [each.fields["supply.rise_time"] for each in changes.calmer_starts(bench) if each.kind == "rise"]
    assert len(rises) == len(set(rises)) > 0
