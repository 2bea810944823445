# SPDX-License-Identifier: GPL-3.0-or-later
"""A frequency that jumps along a record is told from one that is steady or follows a rippling supply, and its lines are right."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.measures.lines import record_lines

FREQUENCY, NAME = 85e3, "tank.voltage"


def record(down: float, amplitude: float, ripple: float = 0.0, periods: float = 40.0) -> tuple[np.ndarray, np.ndarray]:
    """Time and a wave with 4 % of third harmonic, 1e-3 of noise; in three stretches of the record its frequency and amplitude
    are lower by shares of `down` and `amplitude`; ripple: share of the amplitude, a cycle in the record."""
    time = np.linspace(0, periods / FREQUENCY, 8000, endpoint=False)
    there = np.isin((time * FREQUENCY // 7).astype(int), (1, 2, 4)).astype(float)
    phase = 2 * np.pi * np.cumsum(FREQUENCY * (1 - down * there)) * (time[1] - time[0])
    size = (1 - amplitude * there) * (1 + ripple * np.sin(2 * np.pi * time * FREQUENCY / periods))
    noise = 1e-3 * np.random.default_rng(3).normal(size=time.size)
    return time, 130 * (size * (np.cos(phase) + 0.04 * np.cos(3 * phase + 1)) + noise)


def test_a_steady_frequency_does_not_wander() -> None:
    for down, amplitude, ripple in ((0.0, 0.0, 0.0), (0.0, 0.01, 0.0), (0.0, 0.0, 0.1)):
        time, volts = record(down, amplitude, ripple)
        assert record_lines(time, {NAME: volts}, FREQUENCY, 9, NAME).wander is None


def test_a_frequency_that_follows_a_ripple_is_the_ripple_s() -> None:
    time, volts = record(2e-4, 0.0, 0.1)
    found = record_lines(time, {NAME: volts}, FREQUENCY, 9, NAME)
    assert found.wander is None
    assert found.modulation is not None


@pytest.mark.parametrize("down", [3e-3, 1e-2])
def test_a_frequency_that_jumps_is_found_with_its_lines(down: float) -> None:
    """The swing within a third; the third harmonic within 1e-3, where a steady phase would leave it off by more."""
    time, volts = record(down, 0.8 * down)
    found = record_lines(time, {NAME: volts}, FREQUENCY, 9, NAME)
    assert found.wander is not None
    assert found.wander.swing == pytest.approx(down, rel=0.33)
    assert found.modulation is None
    lines = found.lines[NAME]
    assert lines[3] / lines[1] == pytest.approx(0.04 * np.exp(1j), abs=1e-3)


def test_a_few_periods_say_nothing() -> None:
    time, volts = record(1e-2, 0.0, periods=4.0)
    assert record_lines(time, {NAME: volts}, FREQUENCY, 9, NAME).wander is None
