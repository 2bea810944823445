# SPDX-License-Identifier: GPL-3.0-or-later
"""What meters show of a period: closed forms, and that every reading of the steady state is kept."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from heatsim.scenario.scenario import Scenario
from heatsim.studies.match.metered import metered, metered_keys
from heatsim.studies.match.readings.meters import readables
from heatsim.waves import Waveforms

BENCH = Scenario.from_file(Path(__file__).resolve().parents[3] / "scenarios" / "bench-heater.toml").heater("loaded")


def test_every_reading_of_the_steady_state_is_kept() -> None:
    assert set(metered_keys(BENCH)) == {each.measure for each in readables(BENCH) if not each.timed}


def test_numbers_are_those_of_sines_and_direct_currents() -> None:
    phase = 2 * math.pi * np.linspace(0, 1, 4001)
    drain, choke = np.maximum(130 * np.sin(phase), 0.3), 12 + 2 * np.cos(phase)
    signals = {"tank.voltage": 130 * np.sin(phase), "supply.current": 24.0 + 0 * phase, "coil.current": 140 * np.cos(phase)}
    signals |= {"capacitor.current": 128 * np.cos(phase), "drain.left.voltage": drain, "drain.right.voltage": drain}
    signals |= {"choke.left.current": choke, "choke.right.current": choke - 1}
    waves = Waveforms(phase / (2 * math.pi * 85e3), signals, dict.fromkeys(signals, "V"))
    found = dict(zip(metered_keys(BENCH), np.exp(metered(BENCH, waves)), strict=True))
    expected = {
        "supply.mean_current_a": 24.0,
        "tank.frequency_hz": 85e3,
        "tank.peak_voltage_v": 130.0,
        "tank.rms_voltage_v": 130 / math.sqrt(2),
        "coil.rms_current_a": 140 / math.sqrt(2),
        "coil.peak_current_a": 140.0,
        "capacitor.rms_current_a": 128 / math.sqrt(2),
        "drain.left.peak_voltage_v": 130.0,
        "drain.right.peak_voltage_v": 130.0,
        "choke.left.mean_current_a": 12.0,
        "choke.right.mean_current_a": 11.0,
        "choke.left.rms_current_a": math.sqrt(144 + 2),
        "choke.right.rms_current_a": math.sqrt(121 + 2),
        "choke.left.ripple_current_a": 4.0,
        "choke.right.ripple_current_a": 4.0,
    }
    assert found == pytest.approx(expected, rel=1e-5)
