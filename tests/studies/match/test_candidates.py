# SPDX-License-Identifier: GPL-3.0-or-later
"""Causes from fits: their order and odds."""

from __future__ import annotations

import math
from types import SimpleNamespace

import pytest

from heatsim.studies.match import study
from heatsim.studies.match.result import TEMPERED


def test_odds_are_a_power_of_the_evidence(monkeypatch: pytest.MonkeyPatch) -> None:
    """By hand: 10 nats apart count as 5.7, and the probabilities follow them."""
    evidence = {"heavy load": 0.0, "leaky drain": 10.0}
    monkeypatch.setattr(study, "by_cause", lambda fits: evidence)
    monkeypatch.setattr(study, "none_of_these", lambda datasets: -90.0)
    monkeypatch.setattr(study, "cause_quantities", lambda datasets, fits: ((), ()))
    monkeypatch.setattr(study, "feature", lambda datasets, one: "seen")
    fits = [SimpleNamespace(hypothesis=SimpleNamespace(cause=cause, name=cause), misfit=0.5, simulated=True) for cause in evidence]
    first, second, third = study.candidates_of([], fits)  # type: ignore[arg-type]
    assert (first.cause, second.cause, third.cause) == ("leaky drain", "heavy load", "none of these")
    assert (first.log_evidence, second.log_evidence, third.log_evidence) == pytest.approx((0.0, -5.7, -57.0))
    assert second.probability / first.probability == pytest.approx(math.exp(-10 * TEMPERED))
