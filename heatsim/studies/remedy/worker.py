# SPDX-License-Identifier: GPL-3.0-or-later
"""What a worker process does with a changed scenario: one case, simulated and judged as `check` does it."""

from __future__ import annotations

from dataclasses import replace

from heatsim.engine.worker import run
from heatsim.netlist.deck import as_trial
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, case_deck, judge_run, started_again
from heatsim.tasks import Context


def simulate(context: Context, scenario: Scenario, case: str) -> CaseResult:
    """One case from rest, without its waveforms; given up where it rings beyond what a sound heater does."""
    heater = scenario.heater(case)
    deck = case_deck(scenario, case, heater)
    found = run(context, replace(deck, settle=as_trial(deck.settle)), scenario.tables.simulate.time_limit)
    judged = judge_run(scenario, case, heater, found)
    judged = started_again(scenario, judged, lambda decks, limit: [run(context, deck, limit) for deck in decks])
    return replace(judged, waveforms=None)
