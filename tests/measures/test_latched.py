# SPDX-License-Identifier: GPL-3.0-or-later
"""Peaks of a latched pair, from waveforms known by formula."""

import numpy as np
import pytest

from heatsim.measures.latched import latched_measures
from heatsim.waves import Waveforms


def test_peaks_are_of_the_whole_record_and_the_supply_of_its_end():
    time = np.linspace(0.0, 1e-3, 1001)
    rising = 200.0 * time / time[-1]
    signals = {"supply.current": rising - 300.0 * (time < 1e-4)}
    for side, peak in (("left", 40.0), ("right", 55.0)):
        signals |= {
            f"drain.{side}.voltage": np.where(time < 2e-4, peak, 1.0),
            f"gate.{side}.voltage": 6.0 - 8.0 * (time < 1e-5),
            f"switch.{side}.current": -rising / 2,
        }
    found = latched_measures(Waveforms(time, signals), devices=4)
    assert found["drain.right.peak_voltage_v"] == 55.0
    assert found["switch.left.peak_current_a"] == pytest.approx(25.0)
    assert (found["gate.left.min_voltage_v"], found["gate.left.max_voltage_v"]) == (-2.0, 6.0)
    assert found["supply.mean_current_a"] == pytest.approx(200.0)
