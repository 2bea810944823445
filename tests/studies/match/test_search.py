# SPDX-License-Identifier: GPL-3.0-or-later
"""Hypotheses and their priors."""

from __future__ import annotations

import math
from collections import Counter
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.fault_model import CAUSES, CONNECTION, HEAVIER, LOOSE_LEAD, NOTHING, RARE
from heatsim.studies.match.faults import fault_models
from heatsim.studies.match.response_library import ResponseSurface
from heatsim.studies.match.search import FIRST_LOOK, hypotheses, worth_simulating

pytestmark = pytest.mark.numerics

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")


def test_ordinary_causes_are_equally_likely_beforehand_and_sides_are_one_fault_model() -> None:
    """The priors of each cause's hypotheses add up to one, of a rare one to a half, of nothing wrong to two; a lead
    is as likely as both chokes' feeds together."""
    faults = fault_models(BENCH.heater("loaded"))
    surfaces = {fault.name: ResponseSurface(fault, (), np.zeros(1), np.ones((), bool), ()) for fault in faults}
    start = SimpleNamespace(waveforms={"tank.voltage": np.zeros(9), "drain.left.voltage": np.zeros(9)})
    observation = SimpleNamespace(layout=SimpleNamespace(orders=dict.fromkeys(start.waveforms)), clipped={})
    found = hypotheses([SimpleNamespace(library=SimpleNamespace(surfaces=surfaces, start=start), observation=observation)])
    total = Counter()
    for each in found:
        total[each.cause] += math.exp(each.prior)
    assert dict(total) == pytest.approx(dict.fromkeys(CAUSES, 1.0) | dict.fromkeys(RARE, 0.5) | {NOTHING: 2.0})
    priors = {each.name: math.exp(each.prior) for each in found if each.cause == CONNECTION}
    lead = priors.pop("loose lead between coil and bank")
    assert lead == pytest.approx(sum(priors.values())) and len(priors) == 2


def test_nothing_wrong_is_always_simulated() -> None:
    """However far behind the best it comes out at first look; the others only if they may be the best."""
    fits = [
        SimpleNamespace(hypothesis=SimpleNamespace(cause=cause, name=cause), evidence=-behind * FIRST_LOOK)
        for cause, behind in ((CONNECTION, 0.0), ("heavy load", 0.9), ("gate ringing", 1.1), (NOTHING, 40.0), (NOTHING, 50.0))
    ]
    assert worth_simulating(fits) == [0, 1, 3]
    assert worth_simulating(fits[3:]) == [0]


@pytest.mark.parametrize("names", [(LOOSE_LEAD, HEAVIER), (HEAVIER, LOOSE_LEAD)])
def test_a_loose_lead_is_simulated_where_a_heavier_workpiece_is_and_the_other_way_round(names: tuple[str, str]) -> None:
    """However far behind, and from its best start alone; neither of them where both are out of the question."""
    ahead, behind = names
    order = ((ahead, 0.0), ("gate leads ring", 20.0), (behind, 30.0), (behind, 31.0))
    fits = [SimpleNamespace(hypothesis=SimpleNamespace(cause=name, name=name), evidence=-far * FIRST_LOOK) for name, far in order]
    assert worth_simulating(fits) == [0, 2]
    assert worth_simulating(fits[1:]) == [0]
