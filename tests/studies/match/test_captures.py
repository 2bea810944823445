# SPDX-License-Identifier: GPL-3.0-or-later
"""Channels told by their shape."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.errors import InputError
from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.captures import assign, looks
from heatsim.waves.capture import Probe, read_capture

ROOT = Path(__file__).resolve().parents[3]
BENCH = Scenario.from_file(ROOT / "scenarios" / "bench-heater.toml")
DEMO = ROOT / "scenarios" / "captures" / "distorted.csv"


def test_signals_are_told_by_shape() -> None:
    found, notes = assign(read_capture(DEMO), BENCH, "loaded", {})
    assert found == {"CH1": "tank.voltage", "CH2": "drain.left.voltage"}
    assert len(notes) == 2


def test_the_tank_is_the_widest_that_alternates_in_any_order(tmp_path: Path) -> None:
    """Drains, a drain without its mean and a current before the tank: taken for what they are, or left out with a word."""
    phase = 2 * math.pi * 85e3 * np.arange(4000) * 4e-8
    half = np.maximum(np.sin(phase), 0.0)
    path = tmp_path / "scope.npz"
    np.savez(
        path,
        time=np.arange(4000) * 4e-8,
        a=131 * half - 131 / math.pi,
        b=131 * np.maximum(-np.sin(phase), 0.0),
        c=131 * half,
        d=131 * np.sin(phase),
        e=60 * np.cos(phase),
    )
    found, notes = assign(read_capture(path), BENCH, "loaded", {})
    assert found == {"d": "tank.voltage", "b": "drain.right.voltage", "c": "drain.left.voltage"}
    assert sum("alternates about zero too" in note for note in notes) == 2


def test_stated_signals_win_and_wrong_ones_are_named() -> None:
    capture = read_capture(DEMO)
    assert assign(capture, BENCH, "loaded", {"2": "drain.right.voltage"})[0] == {"CH2": "drain.right.voltage"}
    with pytest.raises(InputError, match=r"did you mean tank\.voltage"):
        assign(capture, BENCH, "loaded", {"CH1": "tank.volt"})
    with pytest.raises(InputError, match="CH7"):
        assign(capture, BENCH, "loaded", {"CH7": "tank.voltage"})


def test_a_forgotten_probe_factor_is_asked_about() -> None:
    capture = read_capture(DEMO, stated={"CH1": Probe(0.1)})
    assert any("probe's factor" in note for note in looks(capture, {"CH1": "tank.voltage"}, 42.0))
    assert not any("probe's factor" in note for note in looks(read_capture(DEMO), {"CH1": "tank.voltage"}, 42.0))
