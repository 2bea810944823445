# SPDX-License-Identifier: GPL-3.0-or-later
"""Turn-on voltage, by construction."""

from __future__ import annotations

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
