# SPDX-License-Identifier: GPL-3.0-or-later
"""Coarse cold starts: how near they come to fine ones, and which of them decide nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

import heatsim as hs
from heatsim.engine.session import Session
from heatsim.engine.simulate import simulate
from heatsim.studies.points import path as paths
from heatsim.studies.points.path import FOLLOWED
from heatsim.studies.points.point import ContinuationPath, Point, PointResult, failed, summarise
from heatsim.studies.points.same import departure

pytestmark = pytest.mark.ngspice


@pytest.mark.slow
@pytest.mark.parametrize("case", ["idle", "loaded"])
def test_a_coarse_start_comes_to_the_state_of_a_fine_one(session: Session, checkout: Path, case: str) -> None:
    """By less than half of what counts as the same state, at half of the time points. Furthest off are, loaded, the frequency,
    0.17 % low of 0.5 % (the error goes with the square of the step), and idle the supply's current, 0.7 of 3 %.
    """
    scenario = hs.load(checkout / "scenarios" / "bench-heater.toml")
    found = []
    for deck in (paths.case_deck(scenario, case), paths.case_deck(scenario, case).coarse()):
        run = simulate(session, deck.to_first_look(), 600)
        assert run.waveforms is not None
        judged = paths.judge_run(scenario, case, scenario.heater(case), run)
        found.append((summarise(judged, "cold start", 0.0), run.waveforms.time.size))
    (fine, many), (coarse, few) = found
    assert few < 0.6 * many
    assert departure(fine, fine, coarse, 0.0) < 0.5


def test_a_long_bank_is_started_in_full(session: Session, checkout: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its drains reach 156 V at switch-on with the usual steps, 58 V with coarse ones, so that these would miss a failing start."""
    scenario = hs.load(checkout / "scenarios" / "bench-heater-long-bank.toml")
    point = Point((("supply.voltage", "20 V"),), "loaded")
    followed = PointResult("settled", "", "holds", 0.2, "", {}, (), FOLLOWED, 0.0)
    full = failed("stalled", "stands for the full cold start", 0.0)
    monkeypatch.setattr(paths._Path, "_cold", lambda self, place: full)
    monkeypatch.setattr(paths, "same_state", lambda one, other: True)
    monkeypatch.setattr(paths, "_start_fails", lambda followed, cold: False)
    path = paths._Path(session, scenario, ContinuationPath((point,)), lambda place, result: None, lambda: None)
    assert path._checked(0, followed) is full
