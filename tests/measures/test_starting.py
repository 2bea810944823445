# SPDX-License-Identifier: GPL-3.0-or-later
"""What a start does to supply and switches, and the modulation of the tank, on waves known by formula."""

import numpy as np
import pytest

from heatsim.measures.modulation import depth_of, modulation_depth
from heatsim.measures.starting import begins, drain_peaks, limited_share, trips
from heatsim.waves import Waveforms

TIME = np.linspace(0.0, 2e-3, 40001)


def test_an_oscillation_begins_when_it_has_swung_both_ways():
    growing = 100.0 * TIME / TIME[-1] * np.sin(2 * np.pi * 50e3 * TIME)
    assert begins(Waveforms(TIME, {"tank.voltage": growing}), 50.0) == pytest.approx(1e-3, abs=25e-6)
    assert begins(Waveforms(TIME, {"tank.voltage": np.abs(growing)}), 50.0) is None


def test_drains_are_judged_from_switch_on():
    waves = Waveforms(TIME, {"drain.left.voltage": np.exp(-TIME / 1e-4), "drain.right.voltage": 0 * TIME})
    assert drain_peaks(waves) == {"left": 1.0, "right": 0.0}


def test_a_limited_supply_gives_less_than_it_is_meant_to():
    signals = {"supply.wanted_voltage": np.full_like(TIME, 40.0), "supply.voltage": np.full_like(TIME, 30.0)}
    assert limited_share(Waveforms(TIME, signals)) == pytest.approx(0.75)
    assert limited_share(Waveforms(TIME, {"supply.voltage": TIME})) is None
    off = signals | {"supply.shut_off": (TIME > 1.9e-3).astype(float)}
    assert limited_share(Waveforms(TIME, off)) is None


def test_trips_are_counted():
    off = (np.sin(2 * np.pi * 1500 * TIME) > 0.5).astype(float)
    assert trips(Waveforms(TIME, {"supply.shut_off": off})) == 3
    assert trips(Waveforms(TIME, {"supply.voltage": off})) is None


@pytest.mark.parametrize("depth", [0.05, 0.3])
def test_the_depth_of_a_modulated_sine_is_found(depth):
    wave = 80.0 * (1 + depth * np.cos(2 * np.pi * 1000 * TIME)) * np.sin(2 * np.pi * 60e3 * TIME)
    assert modulation_depth(TIME, wave, 1e-3) == pytest.approx(depth, rel=5e-3)
    assert depth_of(80.0 * (1 + depth), 80.0 * (1 - depth)) == pytest.approx(depth)


def test_a_lopsided_signal_is_not_modulated():
    wave = np.sin(2 * np.pi * 60e3 * TIME)
    wave = np.where(wave > 0, wave, 0.7 * wave)
    assert modulation_depth(TIME, wave, 1e-3) == pytest.approx(0.0, abs=2e-3)
