# SPDX-License-Identifier: GPL-3.0-or-later
"""Crossings and periods, on signals that are known by construction."""

from __future__ import annotations

import numpy as np
import pytest

from heatsim.waves.periods import crossings, per_period
from tests.support.shapes import uneven_time


def test_clean_crossings_are_exact() -> None:
    time = uneven_time(1.0, 3000)
    found = crossings(time, np.sin(2 * np.pi * (7 * time - 0.25)))
    assert found == pytest.approx((np.arange(7) + 0.25) / 7, abs=2e-8)
    falling = crossings(time, np.sin(2 * np.pi * (7 * time - 0.25)), rising=False)
    assert falling == pytest.approx((np.arange(7) + 0.75) / 7, abs=2e-8)


def test_level_touched_and_sample_on_level() -> None:
    time = np.arange(6.0)
    assert crossings(time, np.array([-1.0, 0.0, -1.0, 0.0, 1.0, 2.0])) == pytest.approx([3.0])
    assert crossings(time, np.ones(6)).size == 0


def test_first_passage_and_mean_of_the_passages() -> None:
    """Crossings at 1.5, 2.5 (down), 3.5 within one passage of the band."""
    time, samples = np.arange(6.0), np.array([-9.0, -1.0, 1.0, -1.0, 1.0, 9.0])
    assert crossings(time, samples, hysteresis=5.0) == pytest.approx([2.5])
    assert crossings(time, samples, hysteresis=5.0, first=True) == pytest.approx([1.5])


def test_per_period_table() -> None:
    """Period k of a stepped square wave: mean and swing by construction."""
    time = uneven_time(6.0, 6001, kinks=np.arange(7.0))
    table = per_period(time, np.floor(time) + np.sin(2 * np.pi * time), np.arange(1.0, 6.0))
    assert table.mean == pytest.approx(np.arange(1, 5), abs=2e-3)
    assert table.swing[:3] == pytest.approx(2.0, abs=2e-3)


def test_mean_and_swing_of_each_period_are_exact_for_a_ramp() -> None:
    time = uneven_time(1e-3, 16_000)
    each = per_period(time, 3e3 * time + 1, np.array([1e-4, 2e-4, 4e-4]))
    assert each.mean == pytest.approx([3e3 * 1.5e-4 + 1, 3e3 * 3e-4 + 1], rel=1e-12)
    assert each.swing == pytest.approx([0.3, 0.6], rel=2e-3)  # to one sample at each end


def test_the_first_period_may_begin_with_the_record() -> None:
    time = np.array([1.0, 1.5, 4.0, 5.0])
    found = per_period(time, time, np.array([1.0, 3.0, 5.0]))
    assert found.mean == pytest.approx([2.0, 4.0])
