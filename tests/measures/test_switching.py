# SPDX-License-Identifier: GPL-3.0-or-later
"""Turn-on voltage, by construction."""

from __future__ import annotations

import math

import numpy as np
import pytest

from heatsim.measures import switching as sw
from tests.support.shapes import uneven_time


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


@pytest.mark.parametrize("rise", [-0.04e-6, 0.7e-6, 2.5e-6])
def test_the_lag_of_a_gate_behind_the_opposite_drain(rise):
    """Square gate 0.9 us late to fall, against the half sines of a drain, whatever its lead or lag when it rises."""
    period, threshold = 12e-6, 4.0
    time = np.linspace(0.0, 10 * period, 40001)
    drain = 130.0 * np.clip(np.sin(2 * np.pi * time / period), 0.0, None)
    passes = period / (2 * np.pi) * math.asin(threshold / 130.0)
    phase = np.mod(time, period)
    gate = np.where((phase > passes + rise) & (phase < period / 2 - passes + 0.9e-6), 12.0, 0.0)
    step = time[1]
    assert sw.gate_delay(time, gate, drain, threshold) == pytest.approx(rise, abs=step)
    assert sw.gate_delay(time, gate, drain, threshold, rising=False) == pytest.approx(0.9e-6, abs=step)
    assert sw.gate_delay(time, np.full_like(time, 2.0), drain, threshold) is None


@pytest.mark.parametrize("trough", [3.5, 4.1, 4.5])
def test_a_gate_that_rings_about_its_threshold_is_down_at_the_last_passage(trough: float) -> None:
    """Falling, it swings back at 3.5 to 4.5 V: whether that is below the threshold of 4 V must not move the delay."""
    phase = np.array([0.0, 1.0, 1.1, 6.0, 6.1, 6.2, 6.6, 6.8, 12.0]) * 1e-6
    gate = np.array([0.5, 0.5, 12.0, 12.0, trough, 4.8, 4.6, 0.5, 0.5])
    time = np.arange(0.0, 60e-6, 1e-8)
    drain = np.where(np.mod(time, 12e-6) < 5.9e-6, 100.0, 0.0)
    found = sw.gate_delay(time, np.interp(np.mod(time, 12e-6), phase, gate), drain, 4.0, rising=False)
    assert found == pytest.approx(6.6e-6 + 0.2e-6 * 0.6 / 4.1 - 5.9e-6, abs=1.5e-8)


def test_a_spike_while_the_drain_conducts_is_no_swing() -> None:
    """6 V for 50 ns, 1 us after the drain has come down and 3 us before it goes up: delays of 0.2 and 0.4 us are found."""
    time = np.arange(0.0, 120e-6, 1e-8)
    phase = np.mod(time, 12e-6)
    spike = (np.abs(phase - 1e-6) < 25e-9) | (np.abs(phase - 3e-6) < 25e-9)
    drain = np.where(phase > 6e-6, 100.0, np.where(spike, 6.0, 0.5))
    gate = np.where((phase > 6.2e-6) | (phase < 0.4e-6), 12.0, 0.5)
    assert sw.gate_delay(time, gate, drain, 4.0) == pytest.approx(0.2e-6, abs=2e-8)
    assert sw.gate_delay(time, gate, drain, 4.0, rising=False) == pytest.approx(0.4e-6, abs=2e-8)


@pytest.mark.parametrize(("trough", "rise"), [(6.0, 1.0), (3.0, 1.0), (2.5, 3.0)])
def test_an_edge_that_rings_through_the_threshold_passes_it_three_times(trough: float, rise: float) -> None:
    """Rising to 12 V it falls back once, to above the threshold of 4 V, to a twelfth of its swing below it (which does not shut
    the channel), an eighth below it."""
    phase = np.array([0.0, 1.0, 1.1, 1.2, 1.3, 6.0, 6.1, 12.0]) * 1e-6
    gate = np.array([0.0, 0.0, 12.0, trough, 12.0, 12.0, 0.0, 0.0])
    time = np.arange(0.0, 60e-6, 5e-9)
    assert sw.crossings_an_edge(time, np.interp(np.mod(time, 12e-6), phase, gate), 4.0) == (rise, 1.0)


def test_a_gate_that_stays_where_it_is_has_no_edges() -> None:
    time = np.linspace(0.0, 1.0, 100)
    assert sw.crossings_an_edge(time, np.full(100, 5.0), 4.0) is None
