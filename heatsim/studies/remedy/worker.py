# SPDX-License-Identifier: GPL-3.0-or-later
"""What a worker process does with a changed scenario: one case, simulated and judged as `check` does it."""

from __future__ import annotations

from dataclasses import replace

from heatsim.engine.worker import run
from heatsim.scenario.scenario import Scenario
from heatsim.studies.check import CaseResult, try_case
from heatsim.tasks import Context


def simulate(context: Context, scenario: Scenario, case: str) -> CaseResult:
    """One case from rest, without its waveforms; given up where it rings beyond what a sound heater does."""
    found = try_case(scenario, case, lambda decks, limit, _: [run(context, deck, limit) for deck in decks])
    return replace(found, waveforms=None)
