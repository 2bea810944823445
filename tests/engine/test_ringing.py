# SPDX-License-Identifier: GPL-3.0-or-later
"""Ringing found where it was put, and none where there is none."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.engine.ringing import fastest_ringing
from heatsim.waves import Waveforms


def record(fast: float, frequency: float = 31e6) -> Waveforms:
    """Two microseconds, unevenly sampled, of a slow sine on both signals and a fast one of amplitude `fast` on `gate`;
    `supply` rises by a third, evenly but for rounding.
    """
    rng = np.random.default_rng(5)
    time = np.sort(rng.uniform(0, 2e-6, 4000))
    slow = 10 * np.sin(2 * np.pi * 0.8e6 * time)
    ring = fast * np.sin(2 * np.pi * frequency * time)
    return Waveforms(time, {"supply": 42 + 8e6 * time + 1e-13 * rng.normal(size=time.size), "drain": slow, "gate": slow + ring})


@pytest.mark.parametrize("frequency", [8e6, 31e6, 120e6])
def test_ringing_is_named_with_its_frequency(frequency: float) -> None:
    found = fastest_ringing(record(3.0, frequency), 4000, 5e6)
    assert found is not None
    assert found[0] == "gate"
    assert found[1] == pytest.approx(frequency, abs=0.5e6)  # one line of a 2 us record


def test_weak_ringing_and_slow_swings_are_not_named() -> None:
    assert fastest_ringing(record(0.3), 4000, 5e6) is None
    assert fastest_ringing(record(3.0), 4000, 40e6) is None


def test_too_short_a_record_or_too_coarse_a_grid_says_nothing() -> None:
    assert fastest_ringing(record(3.0), 10, 5e6) is None
    assert fastest_ringing(record(3.0), 4000, 1e12) is None


def test_of_signals_that_ring_alike_the_first_is_named() -> None:
    alike = record(30.0)
    found = fastest_ringing(Waveforms(alike.time, {"first": alike["gate"], "second": 2 * alike["gate"]}), 4000, 5e6)
    assert found is not None
    assert found[0] == "first"
