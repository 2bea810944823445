# SPDX-License-Identifier: GPL-3.0-or-later
"""Device currents and turn-on voltage, by construction and by the ideal stage's laws."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.measures import switching as sw
from tests.support.shapes import Stage, uneven_time


def test_current_of_one_of_three() -> None:
    """Half of the time 30 A in the bank: each device 10 A peak and 10/sqrt(2) A rms."""
    time = uneven_time(1.0, 500, kinks=np.array([0.5, 0.5 + 1e-12]))
    found = sw.device_current(time, np.where(time > 0.5, 30.0, 0.0), 3)
    assert found.peak == pytest.approx(10.0)
    assert found.rms == pytest.approx(10.0 / np.sqrt(2), rel=1e-9)


def test_negative_peak_counts() -> None:
    assert sw.device_current(np.array([0.0, 1.0]), np.array([1.0, -8.0]), 2).peak == 4.0


def test_bank_without_devices() -> None:
    with pytest.raises(ValueError, match="at least one device"):
        sw.device_current(np.array([0.0, 1.0]), np.zeros(2), 0)


def test_rms_of_ideal_stage() -> None:
    """Idc/sqrt(2) a bank (section 8), straight lines across the switching step apart."""
    stage = Stage()
    waves = stage.waveforms(periods=8, points=2000)
    window = waves.between(2 / stage.frequency, 6 / stage.frequency)
    found = sw.device_current(window.time, window["switch.left.current"], 1)
    assert found.rms == pytest.approx(stage.supply_current / np.sqrt(2), rel=5e-4)


def test_drain_voltage_where_the_gate_passes_its_threshold() -> None:
    """Gate 0..10 V and back in triangles, so 4 V at 0.2 of each rise; drain falls along 50 - 100 t of the period."""
    time = uneven_time(5.0, 3000, kinks=np.arange(0, 5.1, 0.5))
    gate = 10 * np.interp(time % 1.0, [0.0, 0.5, 1.0], [0.0, 1.0, 0.0])
    drain = 50 - 100 * (time % 1.0) + np.floor(time)
    found = sw.turn_on_voltages(time, gate, drain, 4.0)
    assert found == pytest.approx(30.0 + np.arange(5), abs=1e-6)
    assert sw.turn_on_voltage(time, gate, drain, 4.0) == pytest.approx(34.0, abs=1e-6)
    assert sw.turn_on_voltage(time, gate, -drain, 4.0) == pytest.approx(-34.0, abs=1e-6)
    assert sw.turn_on_voltage(time, gate, drain, 11.0) is None


def test_ringing_gate_turns_on_once() -> None:
    """The gate dips by 0.6 V, less than a tenth of its swing, below its threshold again: the first passage counts."""
    time = np.arange(9.0)
    gate = np.array([0.0, 0.0, 8.0, 3.6, 8.0, 10.0, 10.0, 0.0, 0.0])
    assert sw.turn_on_voltages(time, gate, time, 4.0) == pytest.approx([1.5])
