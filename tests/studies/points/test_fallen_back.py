# SPDX-License-Identifier: GPL-3.0-or-later
"""A coarse cold start whose oscillation falls back on its way up decides nothing: the full one does."""

from __future__ import annotations

from pathlib import Path

import pytest

import heatsim as hs
from heatsim.engine.session import Session
from heatsim.studies.points import path as paths
from heatsim.studies.points.path import FOLLOWED
from heatsim.studies.points.point import ContinuationPath, Point, PointResult, failed

pytestmark = pytest.mark.ngspice


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
