# SPDX-License-Identifier: GPL-3.0-or-later
"""Which starts are shortened, and which of those are simulated anew. No simulator is asked."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import heatsim as hs
from heatsim.engine import Attempt, Run, Rung
from heatsim.engine.steady import COARSE
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import SWITCH_ON, CaseResult, case_deck, case_limits, check, peak_key, study
from heatsim.studies.check.shortened import ROOM, shortened, too_close
from heatsim.verdict import judge
from heatsim.waves import Waveforms

WANTED = 0.05


@pytest.fixture(scope="module")
def bench(checkout) -> Scenario:
    return hs.load(checkout / "scenarios" / "bench-heater.toml")


def is_shortened(scenario: Scenario) -> bool:
    heater = scenario.heater("loaded")
    decks = (case_deck(scenario, "loaded", heater, paused=paused) for paused in (False, True))
    return shortened(*decks, heater).paused is not None


@pytest.mark.parametrize(
    ("fields", "wanted"),
    [
        ({}, True),
        ({"supply.ripple": "2 V", "supply.ripple_frequency": "100 Hz"}, False),
        ({"supply.source.kind": "switch mode", "supply.source.current_limit": "60 A", "supply.source.limit": "constant"}, False),
        ({"supply.inductance": "200 uH", "supply.reservoir": "10 mF"}, False),
    ],
)
def test_only_a_plain_supply_lets_a_start_be_shortened(bench: Scenario, fields: dict[str, str], wanted: bool) -> None:
    """Not one that ripples, that limits its current, or that swings slowly beside the tank."""
    assert is_shortened(bench.change(fields)) is wanted


def result(scenario: Scenario, drain: float, kind: str = "starts", choke: float = 14.0, rung: Rung = COARSE) -> CaseResult:
    """A shortened start whose drains reached so much [V]; its chokes carry 14 A later."""
    heater = scenario.heater("loaded")
    measures: dict[str, Any] = {"startup.class": kind}
    signals = {}
    for side in ("left", "right"):
        measures |= {peak_key(side): drain, f"drain.{side}.peak_voltage_v": 0.99 * drain, f"choke.{side}.peak_current_a": 14.0}
        signals |= {f"choke.{side}.current": np.array([0.0, choke, 14.0])}
    limits = [each for each in case_limits(scenario.case("loaded"), heater, measures) if each.name == SWITCH_ON]
    waves = Waveforms(np.array([0.0, 1e-3, 2e-3]), signals, dict.fromkeys(signals, "A"))
    tried = (Attempt(rung, "settled", "", 1.0, 2e-3),)
    deck = case_deck(scenario, "loaded", heater)
    found = judge(measures, limits, WANTED)
    return CaseResult("loaded", "settled", "", measures, found, heater, deck, waves, None, tried, 0.0, WANTED)


def test_a_limit_of_the_start_needs_room_beyond_the_wanted_headroom(bench: Scenario) -> None:
    rating = bench.heater("loaded").switch.voltage_rating
    least = WANTED + ROOM
    assert not too_close(bench, result(bench, (1 - least - 0.01) * rating))
    assert too_close(bench, result(bench, (1 - least + 0.01) * rating))


@pytest.mark.parametrize("changed", [{"kind": "starts late"}, {"choke": 16.0}])
def test_a_start_that_is_late_or_overshoots_is_simulated_anew(bench: Scenario, changed: dict[str, Any]) -> None:
    assert too_close(bench, result(bench, 100.0, **changed))


@pytest.mark.parametrize(("reached", "wanted"), [(1.8e-3, False), (1.9e-3, True)])
def test_a_start_that_ends_where_coarse_steps_end_is_simulated_anew(bench: Scenario, reached: float, wanted: bool) -> None:
    """Of 2 ms, the last 12 periods are 0.12 ms."""
    found = result(bench, 100.0)
    told = found.measures | {"tank.frequency_hz": 1e5, "startup.time_s": reached}
    assert too_close(bench, replace(found, measures=told)) is wanted


def test_a_run_that_did_not_settle_is_simulated_anew(bench: Scenario) -> None:
    assert too_close(bench, replace(result(bench, 100.0), outcome="unsolved"))


def test_a_run_that_went_the_long_way_stands(bench: Scenario) -> None:
    assert not too_close(bench, result(bench, 199.0, rung=Rung("as given")))


def test_what_is_simulated_anew_is_told_under_its_own_case(bench: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second of two cases ended early: it alone is simulated again, the long way, and its progress is that of place 1."""
    told: list[tuple[int, float]] = []
    asked: list[list[bool]] = []

    def run(decks: Any, jobs: Any, limit: float, progress: Any) -> list[Run]:
        asked.append([deck.paused is not None for deck in decks])
        progress(len(decks) - 1, 1.0, 2.0)
        rungs = [COARSE if deck.paused is not None and k else Rung("as given") for k, deck in enumerate(decks)]
        return [
            Run("unsolved", "", None, deck, (Attempt(rung, "unsolved", "", 1.0, 0.0),))
            for deck, rung in zip(decks, rungs, strict=True)
        ]

    monkeypatch.setattr(study, "run_decks", run)
    check(bench, ["idle", "loaded"], progress=lambda place, reached, target: told.append((place, reached)))
    assert asked == [[True, True], [False]]
    assert told == [(1, 1.0), (1, 1.0)]
